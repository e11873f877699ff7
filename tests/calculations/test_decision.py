"""Decisions near a limit, and repeated readings."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from assistant.calculations import decision
from assistant.calculations.decision import DecisionRule, LimitVerdict, judge
from assistant.errors import QuantityError
from assistant.quantities import KNOWN_UNITS, Kind, Limits, Quantity, parse, parse_limits
from tests.worded import cannot_be, compute

KPA = {"reading": "103.6 kPa", "high": "105.0 kPa", "uncertainty": "1.6 kPa"}


def test_near_a_limit() -> None:
    # JCGM 106 and ISO 14253-1, from memory; recomputed with scipy. T = 105.0, y = 103.6, U = 1.6 (k = 2)
    assert decision.probability_within(103.6, None, 105.0, 1.6) / 100 == pytest.approx(0.95994, abs=5e-6)
    assert stats.norm.cdf((105.0 - 103.6) / 0.8) == pytest.approx(0.95994, abs=5e-6)
    assert decision.acceptance_limit(105.0, 1.6, 1, "upper") == pytest.approx(103.40)  # w = U: not accepted
    assert compute("decision", KPA | {"rule": "guarded"}).value == "inconclusive"
    # w = 1.65 u = 0.825 U: accepted
    assert decision.acceptance_limit(105.0, 1.6, 1.65 / 2, "upper") == pytest.approx(103.68)
    assert compute("decision", KPA | {"rule": "guarded", "guard_factor": "0.825"}).value == "within"


@pytest.mark.parametrize(
    ("reading", "limits", "uncertainty", "simple", "guarded"),
    [
        ("7.5 mm", "6 mm to 10 mm", "0.2 mm", "within", "within"),
        ("6.1 mm", "6 mm to 10 mm", "0.2 mm", "within", "inconclusive"),
        ("6.2 mm", "6 mm to 10 mm", "0.2 mm", "within", "within"),
        ("5.9 mm", "6 mm to 10 mm", "0.2 mm", "out", "inconclusive"),
        ("5.7 mm", "6 mm to 10 mm", "0.2 mm", "out", "out"),
        ("10 mm", "6 mm to 10 mm", "0.2 mm", "within", "inconclusive"),
        ("4.5 bar", "at most 450 kPa", "0 bar", "within", "within"),
        ("12.7 V", "at least 12.8 V", "50 mV", "out", "out"),
        ("12.78 V", "at least 12.8 V", "50 mV", "out", "inconclusive"),
        ("95 °C", "at most 96 °C", "2 K", "within", "inconclusive"),
        ("95 °C", "at most 96 °C", "2 °C", "within", "inconclusive"),
        ("203 °F", "at most 96 °C", "0.9 K", "within", "within"),
        ("203 °F", "at most 96 °C", "1.8 °F", "within", "within"),
    ],
)
def test_two_rules(reading: str, limits: str, uncertainty: str, simple: str, guarded: str) -> None:
    quantity, interval, width = parse(reading), parse_limits(limits), parse(uncertainty)
    assert judge(quantity, interval) == simple
    assert judge(quantity, interval, DecisionRule.GUARDED, width) == guarded


def test_a_guarded_rule_needs_an_uncertainty() -> None:
    with cannot_be("needs it"):
        judge(parse("7.5 mm"), parse_limits("at most 10 mm"), DecisionRule.GUARDED)
    with pytest.raises(QuantityError, match="measures"):
        judge(parse("7.5 mm"), parse_limits("at most 10 kPa"))


def test_an_instrument_too_coarse_is_told() -> None:
    inputs = {"reading": "8 mm", "low": "6 mm", "high": "10 mm", "uncertainty": "3 mm", "rule": "guarded"}
    assert any("too coarse" in warning for warning in compute("decision", inputs).warnings)


COMPARABLE = sorted(
    (one.symbol, other.symbol)
    for one in KNOWN_UNITS.values()
    for other in KNOWN_UNITS.values()
    if one.kind is other.kind and one.kind not in (Kind.COUNT, Kind.SOUND_LEVEL)
)


@given(
    st.sampled_from(COMPARABLE),
    *[st.decimals(-1000, 1000, places=2)] * 3,
    st.decimals(0, 10, places=2),
    st.sampled_from(DecisionRule),
)
def test_a_verdict_never_changes_with_the_unit(
    units: tuple[str, str], reading: Decimal, one: Decimal, other: Decimal, width: Decimal, rule: DecisionRule
) -> None:
    """Also on the limit and on the edge of the guard band: the same reading, exactly converted."""
    spoken, also = units
    low, high = sorted((one, other))
    limits = Limits(Quantity(low, spoken), Quantity(high, spoken))
    quantity = Quantity(reading, spoken)
    same = Quantity(quantity.exactly(also), also)
    uncertainty = Quantity(width, spoken)
    assert judge(quantity, limits, rule, uncertainty) == judge(same, limits, rule, uncertainty)
    assert (judge(quantity, limits) is LimitVerdict.WITHIN) == (limits.side(quantity) == 0)


@given(st.floats(-100, 100), st.floats(0.01, 10), st.floats(0, 5))
def test_far_enough_inside_is_within(limit: float, uncertainty: float, further: float) -> None:
    def verdict(reading: float) -> LimitVerdict:
        limits = Limits(None, Quantity(Decimal(limit), "mm"))
        width = Quantity(Decimal(uncertainty), "mm")
        return judge(Quantity(Decimal(reading), "mm"), limits, DecisionRule.GUARDED, width)

    assert verdict(limit - uncertainty - further) is LimitVerdict.WITHIN
    assert verdict(limit + uncertainty + further + 1e-6) is LimitVerdict.OUT


def test_grubbs_two_sided_5_percent() -> None:
    # Grubbs' critical values for 3 to 10, recomputed with scipy
    expected = [1.154, 1.481, 1.715, 1.887, 2.020, 2.127, 2.215, 2.290]
    assert [decision.grubbs(count) for count in range(3, 11)] == pytest.approx(expected, abs=6e-4)


def test_a_doubtful_reading_is_named_and_kept() -> None:
    readings = (7.5, 7.6, 7.4, 7.5, 7.6, 9.9)
    described = decision.describe(readings)
    assert described.doubtful == 5
    assert described.mean == pytest.approx(sum(readings) / 6)
    result = compute("samples", {"readings": "7.5 mm, 7.6 mm, 7.4 mm, 7.5 mm, 7.6 mm, 9.9 mm"})
    assert "Reading 6 (9.9 mm)" in result.warnings[1]
    assert "still counted" in result.warnings[1]


@pytest.mark.parametrize("readings", [(5.0, 5.0, 5.0, 5.0), (5.0, 5.1), (5.0,), (7.5, 7.6, 7.4)])
def test_nothing_is_doubted_without_reason(readings: tuple[float, ...]) -> None:
    assert decision.describe(readings).doubtful is None


def test_three_readings_are_measured_again() -> None:
    # n = 3: Grubbs' test nearly always passes (at most 2 / sqrt(3) = 1.1547 is possible); then measure again
    described = decision.describe((7.5, 7.5, 9.9))
    assert described.doubtful == 2
    assert described.count == 3
    assert described.mean == pytest.approx(8.3)


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=50))
def test_mean_and_spread_are_those_of_numpy(values: list[float]) -> None:
    described = decision.describe(values)
    assert described.mean == pytest.approx(np.mean(values), abs=1e-6)
    assert described.spread == pytest.approx(np.std(values, ddof=1), rel=1e-9, abs=1e-6)
