"""Trends against NIST StRD, statsmodels and scipy."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import scipy.stats
import statsmodels.api
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import FORMULAS, trend
from assistant.statements import kinds as s
from tests.worded import cannot_be, compute

SMALL = ((0.0, 250.0, 500.0, 750.0, 1000.0), (4.2, 4.1, 3.9, 3.8, 3.6))

# NIST StRD, NoInt1 and NoInt2, with their certified values: slope, its standard error, residual standard deviation
NO_INTERCEPT = [
    ([60, 61, 62, 63, 64, 65, 66, 67, 68, 69, 70], [130, 131, 132, 133, 134, 135, 136, 137, 138, 139, 140],
     2.07438016528926, 0.165289256198347e-01, 3.56753034006338),
    ([4, 5, 6], [3, 4, 4], 0.727272727272727, 0.420827318078432e-01, 0.369274472937998),
]  # fmt: skip


def norris() -> tuple[list[float], list[float]]:
    """NIST StRD, Norris.dat, as scipy ships it for its own tests: times, values."""
    path = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_linregress" / "Norris.dat"
    rows = [line.split() for line in path.read_text(encoding="ascii").splitlines()[60:96]]
    return [float(x) for _, x in rows], [float(y) for y, _ in rows]


def test_norris() -> None:
    times, values = norris()
    assert len(times) == 36
    line = trend.least_squares(times, values)
    # certified, NIST StRD
    assert line.intercept == pytest.approx(-0.262323073774029, rel=1e-11)
    assert line.intercept_error == pytest.approx(0.232818234301152, rel=1e-11)
    assert line.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert line.slope_error == pytest.approx(0.429796848199937e-03, rel=1e-11)
    assert line.residual == pytest.approx(0.884796396144373, rel=1e-11)
    # recomputed with statsmodels and scipy
    assert line.at(500) == pytest.approx(500.796086, abs=5e-7)
    assert line.margin(500) == pytest.approx(1.824292, abs=5e-7)
    assert trend.theil_sen(times, values)[1] == pytest.approx(1.0021968366, abs=5e-11)


@pytest.mark.parametrize(("times", "values", "slope", "error", "residual"), NO_INTERCEPT)
def test_lines_through_the_origin(
    times: list[float], values: list[float], slope: float, error: float, residual: float
) -> None:
    """NoInt1 and NoInt2 have no intercept. Mirrored at the origin, the line with one must go through it.

    Twice the squares on twice the readings: the same slope and residual deviation, the error smaller by sqrt(2).
    """
    line = trend.least_squares([*times, *(-t for t in times)], [*values, *(-v for v in values)])
    assert line.intercept == pytest.approx(0, abs=1e-12)
    assert line.slope == pytest.approx(slope, rel=1e-13)
    assert line.residual == pytest.approx(residual, rel=1e-12)
    assert line.slope_error * 2**0.5 == pytest.approx(error, rel=1e-12)


def test_a_small_series() -> None:
    # recomputed with statsmodels
    line = trend.least_squares(*SMALL)
    assert line.slope == pytest.approx(-0.0006)
    assert line.at(1500) == pytest.approx(3.320)
    assert line.margin(1500) == pytest.approx(0.1684, abs=5e-5)
    assert line.beyond(1500)
    assert not line.beyond(1000)
    found = trend.meeting(line, 3.0)
    assert found is not None
    assert found.at == pytest.approx(2033.3, abs=0.05)
    for edge, sign in ((found.earliest, -1), (found.latest, 1)):
        assert line.at(edge) + sign * line.margin(edge) == pytest.approx(3.0)


@given(st.lists(st.tuples(st.floats(0, 1000), st.floats(-100, 100)), min_size=4, max_size=30), st.floats(0, 2000))
def test_statsmodels_agrees(points: list[tuple[float, float]], at: float) -> None:
    times, values = zip(*points, strict=True)
    if np.ptp(times) < 1 or np.ptp(values) < 1e-3:
        return
    line = trend.least_squares(times, values)
    fit = statsmodels.api.OLS(values, np.column_stack((np.ones(len(times)), times))).fit()
    low, high = fit.get_prediction([[1.0, at]]).conf_int(obs=True)[0]
    assert line.at(at) == pytest.approx((low + high) / 2, rel=1e-6, abs=1e-6)
    assert line.margin(at) == pytest.approx((high - low) / 2, rel=1e-6, abs=1e-6)


@given(st.lists(st.tuples(st.floats(0, 1000), st.floats(-100, 100)), min_size=3, max_size=40))
def test_theil_sen_is_that_of_scipy(points: list[tuple[float, float]]) -> None:
    times, values = zip(*points, strict=True)
    if np.ptp(times) < 1e-3:
        return
    expected = scipy.stats.theilslopes(values, times)
    intercept, slope = trend.theil_sen(times, values)
    assert slope == pytest.approx(expected.slope, rel=1e-9, abs=1e-12)
    assert intercept == pytest.approx(expected.intercept, rel=1e-9, abs=1e-9)


def test_many_readings_are_thinned_and_still_right() -> None:
    chance = np.random.default_rng(1)
    times = np.sort(chance.uniform(0, 1e4, 3000))
    values = 4 - 0.0003 * times + chance.normal(0, 0.1, 3000)
    values[::10] += 5  # a tenth of them is wrong, and all upwards
    exact = scipy.stats.theilslopes(values, times).slope
    assert trend.theil_sen(times.tolist(), values.tolist())[1] == pytest.approx(exact, rel=0.02)
    assert exact == pytest.approx(-0.0003, rel=0.05)


def test_one_bad_reading_does_not_bend_theil_and_sen() -> None:
    times, values = SMALL
    bad = (*values[:-1], 9.0)
    assert trend.theil_sen(times, bad)[1] < 0 < trend.least_squares(times, bad).slope


@pytest.mark.parametrize(
    ("hours", "readings", "limit", "told"),
    [
        ("0 h, 250 h", "4.2 bar, 4.1 bar", "3 bar", "at least 3"),
        ("0 h, 250 h, 500 h", "4.2 bar, 4.1 bar, 4.2 bar, 4 bar", "3 bar", "4 for 3 times"),
        ("5 h, 5 h, 5 h", "4.2 bar, 4.1 bar, 4 bar", "3 bar", "all are taken at one time"),
        ("0 h, 250 h, 500 h, 750 h", "4.2 bar, 4.1 bar, 4.2 bar, 4.1 bar", "3 bar", "no clear trend"),
        ("0 h, 250 h, 500 h, 750 h", "4.2 bar, 4.2 bar, 4.2 bar, 4.2 bar", "3 bar", "no clear trend"),
        ("0 h, 250 h, 500 h, 750 h", "4.2 bar, 4.1 bar, 4.0 bar, 3.9 bar", "5 bar", "goes away"),
    ],
)
def test_nothing_can_be_said(hours: str, readings: str, limit: str, told: str) -> None:
    with cannot_be(told):
        compute("trend-limit", {"hours": hours, "readings": readings, "limit": limit})


def test_an_extrapolation_is_told_and_a_limit_may_be_in_another_unit() -> None:
    shown = {"hours": "0 h, 250 h, 500 h, 750 h, 1000 h", "readings": "4.2 bar, 4.1 bar, 3.9 bar, 3.8 bar, 3.6 bar"}
    assert s.Extrapolated() in FORMULAS["trend-prediction"].compute(shown | {"at": "1500 h"}).warnings
    assert s.Extrapolated() not in FORMULAS["trend-prediction"].compute(shown | {"at": "900 h"}).warnings
    assert str(compute("trend-limit", shown | {"limit": "300 kPa"}).value) == "2033.3 h"
