"""Where a quantity is going: a line through readings over hours or days, and when it meets a limit.

Knows least squares with its prediction interval (95 %) and Theil and Sen's line, which one bad reading does not bend.
Refuses to say anything from fewer than three readings, and says when it speaks of times beyond them. Knows nothing of
which readings belong to one series: that is the caller's. Hours or days and values are floats.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum, sqrt

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal
from assistant.statements import calculations as s

MIN_READINGS = 3
PROBABILITY = 0.95
ALL_PAIRS_UP_TO = 1_000  # readings; half a million pairs


@dataclass(frozen=True, slots=True)
class FittedLine:
    """A line by least squares, value = intercept + slope · time.

    intercept_error, slope_error: standard errors.
    residual: standard deviation about the line, n - 2.
    middle: mean of the times.
    width: sum of their squared distances from it.
    first, last: beyond these it is an extrapolation.
    """

    intercept: float
    slope: float
    intercept_error: float
    slope_error: float
    residual: float
    count: int
    middle: float
    width: float
    first: float
    last: float

    @property
    def reach(self) -> float:
        """Student's t for the prediction interval."""
        from scipy.special import stdtrit  # a tenth of a second; only for trends

        return float(stdtrit(self.count - 2, (1 + PROBABILITY) / 2))

    @property
    def clear(self) -> bool:
        """Whether the slope can be told from none, at 5 % two-sided."""
        return abs(self.slope) > self.reach * self.slope_error

    def at(self, time: float) -> float:
        """The line's value at a time."""
        return self.intercept + self.slope * time

    def margin(self, time: float) -> float:
        """Half the width of the 95 % interval in which a new reading at this time is expected."""
        return self.reach * self.residual * sqrt(1 + 1 / self.count + (time - self.middle) ** 2 / self.width)

    def beyond(self, time: float) -> bool:
        """Whether a time lies outside the readings: an extrapolation."""
        return not self.first <= time <= self.last


@dataclass(frozen=True, slots=True)
class Meeting:
    """When a limit is met: by the line, and the range in which the 95 % interval meets it."""

    at: float
    earliest: float
    latest: float


def least_squares(times: Sequence[float], values: Sequence[float]) -> FittedLine:
    """The line by least squares. times, values: as many of each, at least three, not all at one time.

    Errors: CalculationError where nothing can be said. Source: NIST StRD is the check.
    """
    count = _enough(times, values)
    middle, mean = fsum(times) / count, fsum(values) / count
    width = fsum((t - middle) ** 2 for t in times)
    slope = fsum((t - middle) * (v - mean) for t, v in zip(times, values, strict=True)) / width
    rest = fsum((v - mean - slope * (t - middle)) ** 2 for t, v in zip(times, values, strict=True))
    residual = sqrt(rest / (count - 2))
    return FittedLine(
        intercept=mean - slope * middle,
        slope=slope,
        intercept_error=residual * sqrt(1 / count + middle**2 / width),
        slope_error=residual / sqrt(width),
        residual=residual,
        count=count,
        middle=middle,
        width=width,
        first=min(times),
        last=max(times),
    )


def theil_sen(times: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """(intercept, slope): the median slope of pairs, through the medians of times and values.

    Above 1,000 readings not every pair is taken, but pairs at evenly spaced distances in the order of time (Theil's
    incomplete method), about half a million of them. Errors: as `least_squares`.
    """
    import numpy as np  # not needed to list formulas

    count = _enough(times, values)
    order = np.argsort(np.asarray(times, dtype=float), kind="stable")
    t, v = np.asarray(times, dtype=float)[order], np.asarray(values, dtype=float)[order]
    most = count - 1 if count <= ALL_PAIRS_UP_TO else ALL_PAIRS_UP_TO**2 // (2 * count)
    slopes = []
    for gap in np.unique(np.linspace(1, count - 1, most).astype(int)):
        run = t[gap:] - t[:-gap]
        apart = run > 0
        slopes.append((v[gap:] - v[:-gap])[apart] / run[apart])
    slope = float(np.median(np.concatenate(slopes)))
    return float(np.median(v) - slope * np.median(t)), slope


def meeting(line: FittedLine, limit: float) -> Meeting | None:
    """When the line meets a limit after its last reading, with the range.

    None: the slope cannot be told from none, or the line goes away from the limit or has met it already.
    Source: the prediction interval solved for time (inverse prediction, Fieller).
    """
    if not line.clear or (at := (limit - line.intercept) / line.slope) <= line.last:
        return None
    allowed = (line.reach * line.residual) ** 2
    distance = line.at(line.middle) - limit
    # (distance + slope t)² = allowed (1 + 1/n + t²/width), t counted from the middle of the times
    a, b = line.slope**2 - allowed / line.width, distance * line.slope
    root = sqrt(max(0.0, b * b - a * (distance**2 - allowed * (1 + 1 / line.count))))
    return Meeting(at, max(line.last, line.middle + (-b - root) / a), line.middle + (-b + root) / a)


def prediction(hours: tuple[float, ...], readings: tuple[float, ...], at: float) -> Noted:
    """Reading to expect at some hours, by least squares, with the interval in which it lies with 95 %.

    Source: least squares as in NIST StRD; prediction interval from Student's t.
    """
    line = least_squares(hours, readings)
    margin, expected = line.margin(at), line.at(at)
    notes: list[s.CalculationStatement] = [s.ProbablyBetween(expected - margin, expected + margin)]
    if line.beyond(at):
        notes.append(s.Extrapolated())
    intercept, slope = theil_sen(hours, readings)
    if abs(intercept + slope * at - expected) > max(margin, 1e-9 * abs(expected)):
        notes.append(s.OneReadingBends())
    return Noted(expected, tuple(notes))


def limit_met(hours: tuple[float, ...], readings: tuple[float, ...], limit: float) -> Noted:
    """Hours at which a trend meets a limit, with the range in which it does so with 95 %.

    Source: least squares as in NIST StRD; prediction interval from Student's t, solved for the hours.
    """
    line = least_squares(hours, readings)
    found = meeting(line, limit)
    if found is None:
        why = s.AwayFromLimit() if line.clear else s.NoClearTrend()
        raise Refusal("limit", why, "Go on reading at every visit")
    return Noted(found.at, (s.ProbablyBetweenHours(found.earliest, found.latest), s.Extrapolated()))


def slope_theil_sen(hours: tuple[float, ...], readings: tuple[float, ...]) -> float:
    """Change of a reading in 1000 h by Theil and Sen: the median slope, which one bad reading does not bend.

    Source: Theil 1950, Sen 1968; scipy's theilslopes is the check.
    """
    return theil_sen(hours, readings)[1] * 1000


def slope_least_squares(hours: tuple[float, ...], readings: tuple[float, ...]) -> Noted:
    """Change of a reading in 1000 h by least squares.

    Source: least squares as in NIST StRD.
    """
    line = least_squares(hours, readings)
    return Noted(line.slope * 1000, (s.StandardError(line.slope_error * 1000),))


def _enough(times: Sequence[float], values: Sequence[float]) -> int:
    if len(times) != len(values):
        raise Refusal("readings", s.ReadingsAndTimes(len(values), len(times)), "Give one for each time")
    if len(times) < MIN_READINGS:
        raise Refusal("readings", s.TooFewForTrend(len(times)), "Take at least three")
    if max(times) <= min(times):
        raise Refusal("hours", s.AllAtOneTime(), "Take readings at different times")
    return len(times)


_HOURS = QuantityInput("hours", "h", low=0, high=1e6, many=MIN_READINGS)
_READINGS = QuantityInput("readings", None, many=MIN_READINGS)
_SERIES = (_HOURS, _READINGS)
_SHOWN = {
    "hours": "0 h, 250 h, 500 h, 750 h, 1000 h",
    "readings": "4.2 bar, 4.1 bar, 3.9 bar, 3.8 bar, 3.6 bar",
}

FORMULAS = (
    Formula(
        "trend-prediction",
        prediction,
        (*_SERIES, QuantityInput("at", "h", low=0, high=1e6)),
        None,
        (Example(_SHOWN | {"at": "1500 h"}, "3.32 bar", 2),),
        like="readings",
    ),
    Formula(
        "trend-limit",
        limit_met,
        (*_SERIES, QuantityInput("limit", None)),
        "h",
        (Example(_SHOWN | {"limit": "3.0 bar"}, "2033.3 h", 2),),
    ),
    Formula(
        "trend-slope",
        slope_least_squares,
        _SERIES,
        None,
        (Example(_SHOWN, "-0.6 bar", 1),),
        like="readings",
    ),
    Formula("trend-slope-theil-sen", slope_theil_sen, _SERIES, None, (Example(_SHOWN, "-0.6 bar"),), like="readings"),
)
