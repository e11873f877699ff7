"""Where a reading of an asset is going: a series as a line, when it meets its limit, and that as arguments of messages.

Knows what may be said of a series, and how it is written on a page. Refuses to know the words that are spoken
(`grammars/LANG/wording.yaml`), how series are made (`session/history.py`), how a line is fitted
(`calculations/trend.py`), and files. Nothing is said from fewer than three
readings, of a slope that cannot be told from none, or of times more than ten times as long as the readings span; a
limit is the newest reading's own. A reading in doubt is used and named; one that has no trusted place in time is named
and not used.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from math import ceil, floor, sqrt

from assistant.calculations.trend import MIN_READINGS, FittedLine, Meeting, least_squares, meeting, theil_sen
from assistant.errors import QuantityError
from assistant.quantities import Limits, Quantity, parse_limits, plain
from assistant.session.history import Mark, Point, Series

FAR = 10  # times the span of the readings; of later times nothing is said


class Axis(StrEnum):
    """What a trend runs over; days are counted as `datetime.date.toordinal` does."""

    HOURS = "run hours"
    DAYS = "days"


class Movement(StrEnum):
    """Which way a reading goes."""

    RISES = "rises"
    FALLS = "falls"


PER = {Axis.HOURS: (1000.0, "1000 h"), Axis.DAYS: (365.25, "one year")}
"""Axis -> the time for which a slope is given: as a number of the axis, and as a page writes it."""


class TrendOutcome(StrEnum):
    """What can be said of a series."""

    FEW = "nothing yet"
    OUT = "out of limits"
    FLAT = "no clear trend"
    BENT = "rests on a few readings"
    NO_LIMIT = "no limit"
    AWAY = "away from the limit"
    PAST = "at the limit"
    FAR = "far from the limit"
    REACHES = "reaches the limit"


@dataclass(frozen=True, slots=True)
class Trend:
    """A series as a line.

    used: the readings that the line uses.
    times, values: of those, in the axis's unit and in `unit`.
    limits: of the newest reading.
    line, median_slope (Theil and Sen): None where nothing can be said.
    limit: the end of the limits that the line goes to.
    meeting: when it meets it.
    """

    series: Series
    axis: Axis
    unit: str
    used: tuple[Point, ...]
    times: tuple[float, ...]
    values: tuple[float, ...]
    limits: Limits | None
    outcome: TrendOutcome
    line: FittedLine | None = None
    median_slope: float | None = None
    limit: Quantity | None = None
    meeting: Meeting | None = None

    @property
    def newest(self) -> Point:
        """The newest reading used; the newest of all where none can be used."""
        return (self.used or self.series.points)[-1]

    @property
    def left_out(self) -> tuple[Point, ...]:
        """Readings of the series that the line does not use."""
        return tuple(point for point in self.series.points if when(point, self.axis) is None)

    @property
    def horizon(self) -> float:
        """Later than this nothing is said."""
        assert self.line is not None
        return self.line.last + FAR * (self.line.last - self.line.first)


def trend(series: Series) -> Trend:
    """What can be said of a series. Units: all are brought to that of the newest reading."""
    axis = _axis(series.points)
    used = tuple(point for point in series.points if when(point, axis) is not None)
    newest = (used or series.points)[-1].reading
    unit = newest.quantity.unit
    times = tuple(time for point in used if (time := when(point, axis)) is not None)
    values = tuple(float(point.reading.quantity.exactly(unit)) for point in used)
    trend = Trend(series, axis, unit, used, times, values, _limits(newest.limits, newest.quantity), TrendOutcome.FEW)
    return _judged(trend)


def when(point: Point, axis: Axis) -> float | None:
    """Where a reading stands on an axis; None: it has no trusted place there."""
    return point.hours if axis is Axis.HOURS else point.day


def _axis(points: Sequence[Point]) -> Axis:
    """Run hours, as wear goes by them; dates where the newest reading, or two out of three, would be lost."""
    hours = sum(point.hours is not None for point in points)
    days = sum(point.day is not None for point in points)
    newest = next((p for p in reversed(points) if p.hours is not None or p.day is not None), points[-1])
    return Axis.HOURS if newest.hours is not None and hours >= min(MIN_READINGS, days) else Axis.DAYS


def _limits(written: str, quantity: Quantity) -> Limits | None:
    """None: the reading has no limits, or they do not read as its limits any more."""
    try:
        limits = parse_limits(written) if written else None
    except QuantityError:
        return None
    return limits if limits is not None and limits.kind is quantity.kind else None


def _judged(trend: Trend) -> Trend:
    """The trend with its line and what can be said."""
    newest = trend.newest.reading.quantity
    out = trend.limits is not None and trend.limits.side(newest) != 0
    if len(trend.times) < MIN_READINGS or min(trend.times) == max(trend.times):
        return replace(trend, outcome=TrendOutcome.OUT if out else TrendOutcome.FEW)
    line = _line(trend)
    _, median_slope = theil_sen(trend.times, trend.values)
    trend = replace(trend, line=line, median_slope=median_slope)
    if out:
        return replace(trend, outcome=TrendOutcome.OUT)
    if not line.clear:
        return replace(trend, outcome=TrendOutcome.FLAT)
    if line.slope * median_slope <= 0:
        return replace(trend, outcome=TrendOutcome.BENT)
    if trend.limits is None:
        return replace(trend, outcome=TrendOutcome.NO_LIMIT)
    end = trend.limits.high if line.slope > 0 else trend.limits.low
    if end is None:
        return replace(trend, outcome=TrendOutcome.AWAY)
    return _meeting(replace(trend, limit=end.to(trend.unit)), float(end.exactly(trend.unit)))


def _meeting(trend: Trend, limit: float) -> Trend:
    assert trend.line is not None
    assert trend.median_slope is not None
    found = meeting(trend.line, limit)
    if found is None:
        return replace(trend, outcome=TrendOutcome.PAST)
    trend = replace(trend, meeting=found)
    if found.at > trend.horizon:
        return replace(trend, outcome=TrendOutcome.FAR)
    intercept, slope = theil_sen(trend.times, trend.values)
    agrees = found.earliest <= (limit - intercept) / slope <= found.latest
    return replace(trend, outcome=TrendOutcome.REACHES if agrees else TrendOutcome.BENT)


def _line(trend: Trend) -> FittedLine:
    """By least squares. Readings scatter by their own resolution at least, however well they lie on a line."""
    line = least_squares(trend.times, trend.values)
    steps = (Quantity(p.reading.quantity.resolution, p.reading.quantity.unit) for p in trend.used)
    residual = max(line.residual, max(float(step.difference_in(trend.unit)) for step in steps) / sqrt(12))
    return replace(
        line,
        residual=residual,
        slope_error=residual / sqrt(line.width),
        intercept_error=residual * sqrt(1 / line.count + line.middle**2 / line.width),
    )


# --- words ---------------------------------------------------------------------------------------------------

FOR_THE_PAGE = {
    TrendOutcome.FEW: "Nothing can be said of a trend yet: it takes three readings at different times.",
    TrendOutcome.OUT: "It is out of its limits now, {limits}.",
    TrendOutcome.FLAT: "They show no clear trend, so nothing can be said of its limit yet.",
    TrendOutcome.BENT: "Nothing can be said of its limit: the line rests on a few readings, for Theil "
    "and Sen's differs. Look at them.",
    TrendOutcome.NO_LIMIT: "It has no limit to reach.",
    TrendOutcome.AWAY: "It goes away from its limit, {limits}.",
    TrendOutcome.PAST: "By its trend it is at its limit of {limit} now. Measure again.",
    TrendOutcome.FAR: "Its limit of {limit} is far off: later than ten times as long as the readings span.",
    TrendOutcome.REACHES: "It reaches its limit of {limit} at about {at}, with 95 % probability {range}. This is an "
    "extrapolation beyond the last reading, {last}.",
}

LEFT_OUT = {
    Mark.HOURS_WRONG: "the hour meter contradicts the order of the visits",
    Mark.DATE_WRONG: "the clock of the visit is not to be trusted",
}


Argument = str | int | Quantity | Limits | Movement | Axis | date


def trend_arguments(trend: Trend) -> tuple[TrendOutcome, Mapping[str, Argument]]:
    """What a message of a trend needs: which one, and its arguments, typed, for the language to put into words.

    Always name, readings (how many) and newest; where the outcome has them moves, change and per (the axis in whose
    span it changes so much), limit, limits, at, earliest, latest: hours as Quantity in h, days as date. Without latest
    the range is open.
    """
    arguments: dict[str, Argument] = {
        "name": trend.series.name,
        "readings": len(trend.used),
        "newest": trend.newest.reading.quantity,
    }
    if trend.limits is not None:
        arguments["limits"] = trend.limits
    if trend.line is not None:
        by, _ = PER[trend.axis]
        arguments["moves"] = Movement.RISES if trend.line.slope > 0 else Movement.FALLS
        arguments["change"] = Quantity(_rounded(abs(trend.line.slope) * by), _change_unit(trend.unit))
        arguments["per"] = trend.axis
    if trend.limit is not None:
        arguments["limit"] = trend.limit
    if trend.meeting is not None and trend.outcome is TrendOutcome.REACHES:
        arguments["at"] = _time(trend.axis, round(trend.meeting.at))
        arguments["earliest"] = _time(trend.axis, floor(trend.meeting.earliest))
        if trend.meeting.latest <= trend.horizon:
            arguments["latest"] = _time(trend.axis, ceil(trend.meeting.latest))
    return trend.outcome, arguments


def in_words(trend: Trend) -> str:
    """The trend for the page: the readings, the slope, the limit, and what is not in order."""
    words = _worded(trend)
    sentences = []
    if trend.used:
        first, last = words["first"], words["last"]
        span = last if first == last else f"{first} to {last}"
        sentences.append(f"{words['name']}: {words['readings']} ({span}), the newest {words['newest']}.")
    else:
        sentences.append(f"{words['name']}: no reading that can be used.")
    if trend.median_slope is not None and trend.outcome not in (TrendOutcome.FLAT, TrendOutcome.BENT):
        by, _ = PER[trend.axis]
        median = Quantity(_rounded(abs(trend.median_slope) * by), _change_unit(trend.unit))
        sentences.append(f"It {words['moves']} by {words['change']} in {words['per']} (Theil and Sen: {median}).")
    sentences.append(FOR_THE_PAGE[trend.outcome].format_map(words))
    return _capital(" ".join((*sentences, *_notes(trend))))


def _notes(trend: Trend) -> list[str]:
    """What is not in order about the readings, and since when the series runs."""
    notes = []
    if trend.series.begun:
        notes.append(f"This series began anew: {trend.series.begun}, {_day(trend.series.points[0])}.")
    for mark in (Mark.IN_DOUBT, Mark.HOURS_IN_DOUBT):
        doubted = sum(mark in point.marks for point in trend.used)
        if doubted and (mark is Mark.IN_DOUBT or trend.axis is Axis.HOURS):
            notes.append(f"Of these, {_count(doubted, 'reading')} counted although {mark}.")
    mark = Mark.HOURS_WRONG if trend.axis is Axis.HOURS else Mark.DATE_WRONG
    wrong = sum(mark in point.marks for point in trend.left_out)
    if wrong:
        notes.append(f"Left out: {_count(wrong, 'reading')}, as {LEFT_OUT[mark]}.")
    if without := len(trend.left_out) - wrong:
        notes.append(f"Left out: {_count(without, 'reading')}, as no run hours were read in the visit.")
    if trend.axis is Axis.DAYS and any(Mark.HOURS_WRONG in point.marks for point in trend.series.points):
        notes.append(f"By dates, as {LEFT_OUT[Mark.HOURS_WRONG]}.")
    if trend.axis is Axis.HOURS and any(Mark.DATE_WRONG in point.marks for point in trend.used):
        notes.append("Dates are not told of all visits: a clock is not to be trusted.")
    return notes


def document(trend: Trend, brief: str) -> dict[str, object]:
    """The trend as plain data. Times are run hours, or dates by ISO 8601. brief: what is said of it, in words."""
    line, found = trend.line, trend.meeting
    return {
        "reading": trend.series.name,
        "begun": trend.series.begun,
        "outcome": trend.outcome.value,
        "axis": trend.axis.value,
        "unit": trend.unit,
        "limits": None if trend.limits is None else str(trend.limits),
        "limit": None if trend.limit is None else float(trend.limit.value),
        "slope": None if line is None else line.slope,
        "slope_theil_sen": trend.median_slope,
        "slope_per": "h" if trend.axis is Axis.HOURS else "day",
        "at": None if found is None else _plain(trend, found.at),
        "earliest": None if found is None else _plain(trend, found.earliest),
        "latest": None if found is None else _plain(trend, found.latest),
        "extrapolation": found is not None,
        "points": [_point(point, used=when(point, trend.axis) is not None) for point in trend.series.points],
        "brief": brief,
        "words": in_words(trend),
    }


def _point(point: Point, used: bool) -> dict[str, object]:
    reading = point.reading
    return {
        "session": point.session,
        "hours": point.read,
        "date": point.date.isoformat(),
        "value": plain(reading.quantity.value),
        "unit": reading.quantity.unit,
        "stage": reading.stage.value,
        "verdict": reading.verdict.value,
        "doubt": str(reading.doubt),
        "marks": [mark.value for mark in point.marks],
        "used": used,
    }


def _plain(trend: Trend, time: float) -> float | str | None:
    """A time for a program; None past the horizon, of which nothing is said."""
    if time > trend.horizon:
        return None
    return time if trend.axis is Axis.HOURS else date.fromordinal(round(time)).isoformat()


def _worded(trend: Trend) -> dict[str, str]:
    """The arguments as a page writes them."""
    _, typed = trend_arguments(trend)
    words = {name: _written(value) for name, value in typed.items()}
    words["readings"] = _count(len(trend.used), "reading")
    words["per"] = PER[trend.axis][1]
    if trend.used:
        words["first"], words["last"] = (shown_time(trend.axis, trend.times[place]) for place in (0, -1))
    if "at" in typed:
        until = f"between {words['earliest'].removesuffix(' h')} and {words.get('latest')}"
        words["range"] = until if "latest" in words else f"not before {words['earliest']}"
    return words


def _written(value: Argument) -> str:
    return f"{value.day} {value:%B %Y}" if isinstance(value, date) else str(value)


def shown_time(axis: Axis, time: float) -> str:
    """A time of an axis in words: `1000 h`, `3 May 2026`."""
    return _written(_time(axis, round(time) if axis is Axis.HOURS else floor(time)))


def _time(axis: Axis, time: int) -> Quantity | date:
    return Quantity(Decimal(time), "h") if axis is Axis.HOURS else date.fromordinal(time)


def _day(point: Point) -> str:
    """When a series began: by date where it is to be trusted, else by hours."""
    if point.day is not None:
        return shown_time(Axis.DAYS, point.day)
    return "at an unknown time" if point.hours is None else shown_time(Axis.HOURS, point.hours)


def _rounded(value: float) -> Decimal:
    """To two digits, without an exponent."""
    return Decimal(f"{Decimal(f'{value:#.2g}'):f}")


def _change_unit(unit: str) -> str:
    return "K" if unit == "°C" else unit


def _count(number: int, thing: str) -> str:
    return f"{('no', 'one')[number] if number < 2 else number} {thing}{'' if number == 1 else 's'}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
