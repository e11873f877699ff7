"""Near a limit: is a reading within, out, or can it not be said? And what repeated readings say together.

Knows two named rules. *Simple*: the reading counts as it is. *Guarded*: the limit is narrowed by a guard band made
from the instrument's expanded uncertainty (k = 2); within that band, on either side of the limit, it is inconclusive:
measure again or use a better instrument. A doubtful reading is named and kept. Refuses to know what a verdict leads to.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import erf, fsum, inf, sqrt

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal, WordInput
from assistant.quantities import Limits, Quantity
from assistant.statements import calculations as s

COVERAGE = 2.0  # expanded by standard uncertainty
ROUNDING = 1e-12  # what a conversion may change; a reading on the limit stays on it
DOUBT_LEVEL = 0.05  # two-sided


class DecisionRule(StrEnum):
    """How a reading near a limit is judged."""

    SIMPLE = "simple"
    GUARDED = "guarded"


class LimitVerdict(StrEnum):
    """What can be said of a reading."""

    WITHIN = "within"
    OUT = "out"
    INCONCLUSIVE = "inconclusive"


@dataclass(frozen=True, slots=True)
class Samples:
    """Repeated readings of one thing, all of them counted.

    mean: of all of them.
    spread: standard deviation, n - 1.
    doubtful: place of the one farthest out when Grubbs' test doubts it at 5 % two-sided, else None.
    distance: how far out it is in spreads.
    critical: from where on it is doubted.

    Under three readings there is no test: distance and critical are 0.
    """

    count: int
    mean: float
    spread: float
    doubtful: int | None
    distance: float
    critical: float


def judge(
    reading: Quantity,
    limits: Limits,
    rule: DecisionRule = DecisionRule.SIMPLE,
    uncertainty: Quantity | None = None,
    guard_factor: float = 1.0,
) -> LimitVerdict:
    """The verdict on a reading, in whatever unit of its kind it was spoken.

    uncertainty: expanded, k = 2; of a temperature in K or as a width in °C; guard band = guard_factor times it.
    Errors: QuantityError when kinds differ; CalculationError for a guarded rule without uncertainty.
    """
    end = limits.low or limits.high
    assert end is not None
    unit = end.unit
    return _verdict(
        float(reading.exactly(unit)),
        -inf if limits.low is None else float(limits.low.exactly(unit)),
        inf if limits.high is None else float(limits.high.exactly(unit)),
        rule,
        None if uncertainty is None else float(uncertainty.difference_in(unit)),
        guard_factor,
    )


def _verdict(
    reading: float, low: float, high: float, rule: str, uncertainty: float | None, guard_factor: float
) -> LimitVerdict:
    guard = 0.0
    if rule == DecisionRule.GUARDED:
        if uncertainty is None:
            raise Refusal("uncertainty", s.UncertaintyNeeded(), "Give the instrument's, or use simple")
        guard = guard_factor * uncertainty
    slack = ROUNDING * max(1.0, abs(reading))
    inside = min(reading - low, high - reading)  # how far within the nearer limit; negative: beyond it
    if inside >= guard - slack:
        return LimitVerdict.WITHIN
    return LimitVerdict.OUT if inside < -guard - slack or not guard else LimitVerdict.INCONCLUSIVE


def decision(
    reading: float,
    low: float | None,
    high: float | None,
    uncertainty: float | None,
    rule: str,
    guard_factor: float,
) -> Noted:
    """Whether a reading is within its limits: within, out, or inconclusive.

    Source: JCGM 106 and ISO 14253-1 (from memory): acceptance limit = limit less guard band.
    """
    bottom, top = _ends(low, high)
    verdict = _verdict(reading, bottom, top, rule, uncertainty, guard_factor)
    notes: list[s.CalculationStatement] = [s.BetterInstrument()] if verdict is LimitVerdict.INCONCLUSIVE else []
    if rule == DecisionRule.GUARDED and top - bottom < 2 * guard_factor * (uncertainty or 0):
        notes.append(s.TooCoarse())
    return Noted(s.Decided(verdict.value), tuple(notes))


def acceptance_limit(limit: float, uncertainty: float, guard_factor: float, side: str) -> float:
    """Limit narrowed by the guard band, w = guard_factor times the expanded uncertainty.

    Source: JCGM 106, ISO 14253-1 (from memory).
    """
    guard = guard_factor * uncertainty
    return limit - guard if side == "upper" else limit + guard


def probability_within(reading: float, low: float | None, high: float | None, uncertainty: float) -> float:
    """Probability that the true value is within the limits, Φ((T - y) / u), u half the expanded uncertainty.

    Source: JCGM 106 (from memory); normal distribution.
    """
    bottom, top = _ends(low, high)
    u = uncertainty / COVERAGE
    return 100 * (_normal((top - reading) / u) - _normal((bottom - reading) / u))


def describe(values: Sequence[float]) -> Samples:
    """Mean, spread and doubt of repeated readings in one unit. values: at least one. Nothing is thrown out."""
    count = len(values)
    mean = fsum(values) / count
    if count < 2:
        return Samples(count, mean, 0.0, None, 0.0, 0.0)
    spread = sqrt(fsum((value - mean) ** 2 for value in values) / (count - 1))
    if count < 3 or spread <= ROUNDING * max(1.0, abs(mean)):
        return Samples(count, mean, spread, None, 0.0, 0.0)
    farthest = max(range(count), key=lambda place: abs(values[place] - mean))
    distance, critical = abs(values[farthest] - mean) / spread, grubbs(count)
    return Samples(count, mean, spread, farthest if distance > critical else None, distance, critical)


def grubbs(count: int) -> float:
    """Grubbs' critical distance, two-sided 5 %, for at least three readings, from Student's t. Source: Grubbs 1969."""
    from scipy.special import stdtrit  # a tenth of a second; only for repeated readings

    t = float(stdtrit(count - 2, 1 - DOUBT_LEVEL / (2 * count)))
    return (count - 1) / sqrt(count) * sqrt(t * t / (count - 2 + t * t))


def samples(readings: tuple[float, ...]) -> float | Noted:
    """Mean of repeated readings; one that lies far out is doubted (Grubbs, 5 % two-sided) and still counted.

    Source: Grubbs' test, recomputed with scipy; with three readings nothing is thrown out: measure again.
    """
    described = describe(readings)
    notes: list[s.CalculationStatement] = [s.Spread(described.spread, described.count)]
    if described.doubtful is not None:
        notes.append(s.FarOut(described.doubtful + 1, readings[described.doubtful]))
    return Noted(described.mean, tuple(notes))


def samples_spread(readings: tuple[float, ...]) -> float:
    """Spread of repeated readings: standard deviation with n - 1.

    Source: textbook.
    """
    return describe(readings).spread


def _ends(low: float | None, high: float | None) -> tuple[float, float]:
    if low is None and high is None:
        raise Refusal("low", s.NoLimitGiven(), "Give low, high or both")
    bottom, top = -inf if low is None else low, inf if high is None else high
    if bottom > top:
        raise Refusal("low", s.LimitsReversed(), "Swap them")
    return bottom, top


def _normal(x: float) -> float:
    return (1 + erf(x / sqrt(2))) / 2


_READING = QuantityInput("reading", None)
_LOW, _HIGH = QuantityInput("low", None, default=""), QuantityInput("high", None, default="")
_FACTOR = QuantityInput("guard_factor", "", low=0, high=3, default="1")
_READINGS = QuantityInput("readings", None, many=2)

FORMULAS = (
    Formula(
        "decision",
        decision,
        (
            _READING,
            _LOW,
            _HIGH,
            QuantityInput("uncertainty", None, low=0, default="", difference=True),
            WordInput("rule", tuple(DecisionRule), DecisionRule.SIMPLE),
            _FACTOR,
        ),
        None,
        (
            Example({"reading": "103.6 kPa", "high": "105.0 kPa"}, "within"),
            Example(
                {"reading": "103.6 kPa", "high": "105.0 kPa", "uncertainty": "1.6 kPa", "rule": "guarded"},
                "inconclusive",
                1,
            ),
            Example({"reading": "7.2 psi", "low": "50 kPa"}, "out"),
        ),
    ),
    Formula(
        "acceptance-limit",
        acceptance_limit,
        (
            QuantityInput("limit", None),
            QuantityInput("uncertainty", None, low=0, difference=True),
            _FACTOR,
            WordInput("side", ("upper", "lower"), "upper"),
        ),
        None,
        (Example({"limit": "105.0 kPa", "uncertainty": "1.6 kPa"}, "103.4 kPa"),),
        like="limit",
    ),
    Formula(
        "probability-within",
        probability_within,
        (_READING, _LOW, _HIGH, QuantityInput("uncertainty", None, above=0, difference=True)),
        "%",
        (Example({"reading": "103.6 kPa", "high": "105.0 kPa", "uncertainty": "1.6 kPa"}, "95.994 %"),),
    ),
    Formula(
        "samples",
        samples,
        (_READINGS,),
        None,
        (
            Example({"readings": "7.5 mm, 7.6 mm, 7.4 mm"}, "7.5 mm", 1),
            Example({"readings": "7.5 mm, 7.6 mm, 7.4 mm, 7.5 mm, 7.6 mm, 9.9 mm"}, "7.9167 mm", 2),
        ),
        like="readings",
    ),
    Formula(
        "samples-spread",
        samples_spread,
        (_READINGS,),
        None,
        (Example({"readings": "7.5 mm, 7.6 mm, 7.4 mm"}, "0.1 mm"),),
        like="readings",
        digits=3,
    ),
)
