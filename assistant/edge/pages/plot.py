"""A trend as a picture: one SVG file, for a phone, a desk and paper.

Knows where lines and words stand. Nothing is told by colour alone: every kind of point and line has a shape of its own
and a row in the legend. Refuses to know what a trend says: that is `assistant/trends.py`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape
from math import ceil, floor, log10
from textwrap import wrap

from assistant.session.facts import ReadingStage
from assistant.session.history import Mark, Point, Series
from assistant.trends import Axis, Trend, TrendOutcome, in_words, shown_time, when

WIDTH, LEFT, RIGHT, TOP, HEIGHT = 460, 56, 444, 54, 270  # of the picture; of the field in it
INK, QUIET, RULE, LINE, BAND, ALARM = "#16212b", "#4a5863", "#c9d1d7", "#1f4e79", "#dbe6f0", "#8c1c13"
STYLE = f"""
text {{ font: 13px "Liberation Sans", "Helvetica Neue", Arial, sans-serif; fill: {INK}; }}
.title {{ font-size: 17px; font-weight: 700; }}
.quiet {{ fill: {QUIET}; }}
.limit {{ stroke: {ALARM}; stroke-width: 2; stroke-dasharray: 9 5; fill: none; }}
.limit-name {{ fill: {ALARM}; font-weight: 700; stroke: #fff; stroke-width: 4px; paint-order: stroke; }}
.line {{ stroke: {LINE}; stroke-width: 2; fill: none; }}
.beyond {{ stroke-dasharray: 3 4; }}
.band {{ fill: {BAND}; stroke: {LINE}; stroke-width: .6; }}
.grid {{ stroke: {RULE}; stroke-width: 1; }}
.frame {{ stroke: {INK}; stroke-width: 1.2; fill: none; }}
.anew {{ stroke: {INK}; stroke-width: 1.2; stroke-dasharray: 1 4; }}
.found {{ fill: {INK}; stroke: {INK}; }}
.left {{ fill: #fff; stroke: {INK}; stroke-width: 2; }}
.earlier {{ opacity: .5; }}
.doubt {{ fill: none; stroke: {INK}; stroke-width: 1.2; }}
.reach {{ stroke: {ALARM}; stroke-width: 2; fill: none; }}
"""
TICKS = 5
MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)


@dataclass(frozen=True, slots=True)
class _Field:
    """Where a time and a value stand in the picture."""

    early: float
    late: float
    low: float
    high: float

    def x(self, time: float) -> float:
        return LEFT + (RIGHT - LEFT) * (time - self.early) / (self.late - self.early)

    def y(self, value: float) -> float:
        return TOP + HEIGHT * (self.high - value) / (self.high - self.low)


def svg(asset: str, trend: Trend, earlier: Sequence[Series] = ()) -> str:
    """The picture of a trend. earlier: series of the same reading before this one, shown without a line.

    Readings without a trusted place on the trend's axis, or in a unit of another kind, are not drawn.
    """
    old = [point for series in earlier for point in series.points if _drawn(point, trend)]
    field = _field(trend, old)
    title = f"{trend.series.name[:1].upper()}{trend.series.name[1:]}, {asset}"
    pieces = [*_axes(field, trend), *_line(field, trend)]
    pieces += _new_series(field, trend, [*earlier, trend.series])
    pieces += _limits(field, trend)
    pieces += [_mark(field, trend, point, "earlier") for point in old]
    pieces += [_mark(field, trend, point) for point in trend.series.points if _drawn(point, trend)]
    below, end = _below(trend, bool(old))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {end}" role="img" aria-labelledby="title words"'
        f' style="display: block; width: 100%; max-width: {WIDTH * 1.6:.0f}px; margin: auto; background: #fff">\n'
        f'<title id="title">{escape(title)}</title>\n<desc id="words">{escape(in_words(trend))}</desc>\n'
        f"<style>{STYLE}</style>\n"
        f'<defs><clipPath id="field"><rect x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{HEIGHT}"/></clipPath>'
        f'</defs>\n<rect width="{WIDTH}" height="{end}" fill="#fff"/>\n'
        + "\n".join([_text(LEFT - 44, 24, title, "title"), *pieces, *below])
        + "\n</svg>\n"
    )


def _value(point: Point, trend: Trend) -> float:
    return float(point.reading.quantity.exactly(trend.unit))


def _drawn(point: Point, trend: Trend) -> bool:
    return when(point, trend.axis) is not None and point.reading.quantity.kind is trend.newest.reading.quantity.kind


def _ends(trend: Trend) -> list[float]:
    """The limits as numbers in the trend's unit."""
    if trend.limits is None:
        return []
    return [float(end.exactly(trend.unit)) for end in (trend.limits.low, trend.limits.high) if end is not None]


def _field(trend: Trend, old: Sequence[Point]) -> _Field:
    drawn = [*old, *trend.used]
    times = [time for point in drawn if (time := when(point, trend.axis)) is not None] or [0.0]
    values = [*(_value(point, trend) for point in drawn), *_ends(trend)] or [0.0]
    early, late = min(times), max(times)
    if trend.outcome is TrendOutcome.REACHES and trend.meeting is not None:
        far = trend.meeting.at + (trend.meeting.at - early) / 3
        late = max(late, min(trend.meeting.latest, far))
    room = (late - early) * 0.04 or 1.0
    low, high = min(values), max(values)
    air = (high - low) * 0.14 or abs(high) * 0.1 or 1.0
    return _Field(early - room, late + room, low - air, high + air)


def _axes(field: _Field, trend: Trend) -> Iterator[str]:
    bottom = TOP + HEIGHT
    for value, words in _round_ticks(field.low, field.high):
        y = field.y(value)
        yield f'<line class="grid" x1="{LEFT}" x2="{RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
        yield _text(LEFT - 6, y + 4.5, words, anchor="end")
    ticks: Callable[[float, float], Iterator[tuple[float, str]]]
    ticks = _round_ticks if trend.axis is Axis.HOURS else _month_ticks
    for time, words in ticks(field.early, field.late) if trend.used else ():
        x = field.x(time)
        yield f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{bottom + 4}"/>'
        yield _text(x, bottom + 18, words, anchor="middle")
    yield f'<rect class="frame" x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" height="{HEIGHT}"/>'
    yield _text(LEFT - 44, TOP - 9, trend.unit or "count", "quiet")
    yield _text(RIGHT, bottom + 35, "run hours" if trend.axis is Axis.HOURS else "date", "quiet", "end")


def _round_ticks(low: float, high: float) -> Iterator[tuple[float, str]]:
    """Round numbers, about five, with their words."""
    raw = (high - low) / TICKS
    power = 10.0 ** floor(log10(raw))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw)
    digits = max(0, -floor(log10(step)))
    for count in range(ceil(low / step), floor(high / step) + 1):
        yield count * step, f"{count * step:.{digits}f}".replace("-", "\N{MINUS SIGN}")


def _month_ticks(early: float, late: float) -> Iterator[tuple[float, str]]:
    """First days of months, at most five; without one, the middle day."""
    first, last = date.fromordinal(floor(early)), date.fromordinal(ceil(late))
    begin, end = first.year * 12 + first.month, last.year * 12 + last.month - 1
    step = next((months for months in MONTHS if (end - begin) // months < TICKS), MONTHS[-1])
    months = range(-(-begin // step) * step, end + 1, step)
    for month in months:
        day = date(month // 12, month % 12 + 1, 1)
        yield float(day.toordinal()), f"{day:%b %Y}"
    if not months:
        middle = date.fromordinal(floor((early + late) / 2))
        yield (early + late) / 2, f"{middle.day} {middle:%b %Y}"


def _line(field: _Field, trend: Trend) -> Iterator[str]:
    """The line with its prediction interval; dashed beyond the readings."""
    line = trend.line
    if line is None or trend.outcome in (TrendOutcome.FLAT, TrendOutcome.BENT):
        return
    late = field.late if trend.outcome is TrendOutcome.REACHES else line.last
    times = [line.first + (late - line.first) * step / 40 for step in range(41)]
    edge = [(time, line.at(time) + line.margin(time)) for time in times]
    edge += [(time, line.at(time) - line.margin(time)) for time in reversed(times)]
    outline = " ".join(f"{field.x(time):.1f},{field.y(value):.1f}" for time, value in edge)
    yield f'<polygon class="band" points="{outline}" clip-path="url(#field)"/>'
    for name, begin, end in (("line", line.first, line.last), ("line beyond", line.last, late)):
        yield (
            f'<line class="{name}" x1="{field.x(begin):.1f}" y1="{field.y(line.at(begin)):.1f}"'
            f' x2="{field.x(end):.1f}" y2="{field.y(line.at(end)):.1f}" clip-path="url(#field)"/>'
        )


def _limits(field: _Field, trend: Trend) -> Iterator[str]:
    """The limits by name, and when the line reaches one: a bar as long as the range."""
    if trend.limits is None:
        return
    for end, above in ((trend.limits.high, True), (trend.limits.low, False)):
        if end is not None:
            y = field.y(float(end.exactly(trend.unit)))
            yield f'<line class="limit" x1="{LEFT}" x2="{RIGHT}" y1="{y:.1f}" y2="{y:.1f}"/>'
            words = f"{'high' if above else 'low'} limit {end.to(trend.unit)}"
            yield _text(LEFT + 6, y - 7 if above else y + 17, words, "limit-name")
    if trend.outcome is TrendOutcome.REACHES and trend.meeting is not None and trend.limit is not None:
        found, y = trend.meeting, field.y(float(trend.limit.value))
        at, left = field.x(found.at), field.x(found.earliest)
        right = min(field.x(found.latest), float(RIGHT))
        closed = (
            f"M{right:.1f} {y - 7:.1f}v14" if found.latest <= field.late else f"M{right - 6:.1f} {y - 5:.1f}l6 5l-6 5"
        )
        yield f'<path class="reach" d="M{left:.1f} {y - 7:.1f}v14M{left:.1f} {y:.1f}H{right:.1f}{closed}"/>'
        yield f'<path class="reach" d="M{at:.1f} {y:.1f}V{TOP + HEIGHT}"/>'
        down = trend.limit == (trend.limits.low and trend.limits.low.to(trend.unit))
        words = shown_time(trend.axis, found.at)
        yield _text(min(at, RIGHT - 58), y - 12 if down else y + 22, words, "limit-name", "middle")


def _new_series(field: _Field, trend: Trend, series: Sequence[Series]) -> Iterator[str]:
    """Where a series began anew."""
    for earlier_series in series:
        begun = next((time for point in earlier_series.points if (time := when(point, trend.axis)) is not None), None)
        if earlier_series.begun and begun is not None and field.early <= begun <= field.late:
            x = field.x(begun)
            yield f'<line class="anew" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP}" y2="{TOP + HEIGHT}"/>'


def _mark(field: _Field, trend: Trend, point: Point, name: str = "") -> str:
    time = when(point, trend.axis)
    assert time is not None
    shape = _shape(field.x(time), field.y(_value(point, trend)), point.reading.stage, Mark.IN_DOUBT in point.marks)
    words = f"{shown_time(trend.axis, time)}: {point.reading.quantity}, {point.reading.stage}"
    words += "".join(f", {mark}" for mark in point.marks)
    return f'<g class="{name}"><title>{escape(words)}</title>{shape}</g>'


def _shape(x: float, y: float, stage: ReadingStage, doubt: bool) -> str:
    if stage is ReadingStage.AS_FOUND:
        shape = f'<circle class="found" cx="{x:.1f}" cy="{y:.1f}" r="4.5"/>'
    else:
        shape = f'<path class="left" d="M{x:.1f} {y - 6.5:.1f}l6.5 6.5l-6.5 6.5l-6.5 -6.5z"/>'
    return shape + (f'<circle class="doubt" cx="{x:.1f}" cy="{y:.1f}" r="9.5"/>' if doubt else "")


def _below(trend: Trend, old: bool) -> tuple[list[str], int]:
    """The legend, of what is there, and the trend in words; and where the picture ends."""
    shown = [point for point in trend.series.points if _drawn(point, trend)]
    stages = {point.reading.stage for point in shown}
    fitted = trend.line is not None and trend.outcome not in (TrendOutcome.FLAT, TrendOutcome.BENT)
    reaches, begun = trend.outcome is TrendOutcome.REACHES, trend.series.begun
    doubted = any(Mark.IN_DOUBT in point.marks for point in shown)
    found, left = (_shape(30, 0, stage, False) for stage in ReadingStage)
    ruled = (
        '<rect class="band" x="16" y="-7" width="28" height="14"/><line class="line" x1="16" x2="44" y1="0" y2="0"/>'
    )
    rows = (
        (ReadingStage.AS_FOUND in stages, found, "reading as found"),
        (ReadingStage.AS_LEFT in stages, left, "reading as left"),
        (doubted, _shape(30, 0, ReadingStage.AS_FOUND, True), "ringed: in doubt"),
        (old, f'<g class="earlier">{found}</g>', "pale: an earlier series"),
        (begun != "", '<line class="anew" x1="30" x2="30" y1="-8" y2="8"/>', f"a new series: {begun}"),
        (fitted, ruled, "least squares, 95 % interval of a new reading"),
        (reaches, '<line class="line beyond" x1="16" x2="44" y1="0" y2="0"/>', "dotted: an extrapolation"),
        (reaches, '<path class="reach" d="M16 -6v12M16 0H44M44 -6v12"/>', "range in which the limit is reached"),
    )
    y = TOP + HEIGHT + 54
    pieces = []
    for there, symbol, words in rows:
        if there:
            pieces += [f'<g transform="translate(0 {y})">{symbol}</g>', _text(56, y + 4.5, words)]
            y += 22
    y += 12
    together = re.sub(r"(?<=\d) (?=\w|°)", "\N{NO-BREAK SPACE}", in_words(trend))  # a number and its unit
    for line in wrap(together, 60):
        pieces.append(_text(12, y, line))
        y += 18
    return pieces, y


def _text(x: float, y: float, words: str, name: str = "", anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" class="{name}" text-anchor="{anchor}">{escape(words)}</text>'
