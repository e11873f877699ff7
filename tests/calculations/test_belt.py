"""Belts against published and recomputed values."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_bvp

from assistant.calculations import belt
from tests.worded import cannot_be, compute


def test_span_and_wanted_deflection() -> None:
    # Contitech drive guide p. 13, SDP/SI handbook D790: C = 16, D = 8, d = 4 in
    assert belt.span(16, 8, 4) == pytest.approx(15.8745, abs=5e-5)
    assert belt.wanted_deflection(15.8745).value == pytest.approx(0.24804, abs=5e-6)


def test_tension_from_deflection() -> None:
    # string, T = F L / 4y
    assert belt.tension_from_deflection(30, 320, 5, 0) == pytest.approx(480)
    # string with bending stiffness, recomputed with scipy
    assert belt.deflection(250, 400, 30, 0.05) == pytest.approx(11.151, abs=5e-4)
    assert belt.tension_from_deflection(30, 400, 11.151, 0.05) == pytest.approx(250, abs=0.02)


def test_tension_from_frequency() -> None:
    # string, T = 4 m L² f², and less π² EI / L² with stiffness
    assert belt.tension_from_frequency(0.110, 400, 60, 0) == pytest.approx(253.44, abs=5e-3)
    assert belt.tension_from_frequency(0.110, 400, 60, 0.05) == pytest.approx(250.36, abs=5e-3)
    assert 253.44 - pi**2 * 0.05 / 0.4**2 == pytest.approx(250.36, abs=5e-3)


def test_the_differential_equation_agrees() -> None:
    """EI y'''' = T y'' on the left half, solved numerically: y = y'' = 0 at the end, y' = 0 and EI y''' = F/2 amid."""
    tension, length, force, stiffness = 250.0, 0.4, 30.0, 0.05

    def rates(_: np.ndarray, y: np.ndarray) -> np.ndarray:
        return np.vstack((y[1], y[2], y[3], tension / stiffness * y[2]))

    def ends(a: np.ndarray, b: np.ndarray) -> np.ndarray:
        return np.array([a[0], a[2], b[1], stiffness * b[3] + force / 2])

    x = np.linspace(0, length / 2, 200)
    solved = solve_bvp(rates, ends, x, np.zeros((4, x.size)), tol=1e-8, max_nodes=100_000)
    assert solved.success
    assert abs(solved.y[0, -1]) * 1000 == pytest.approx(belt.deflection(tension, 400, force, stiffness), rel=1e-4)


@given(st.floats(50, 2000), st.floats(100, 800), st.floats(0, 0.5))
def test_deflection_and_tension_are_each_other_s_inverse(tension: float, span: float, stiffness: float) -> None:
    force = tension / 20
    sag = belt.deflection(tension, span, force, stiffness)
    assert belt.tension_from_deflection(force, span, sag, stiffness) == pytest.approx(tension, rel=1e-6)
    assert belt.deflection(tension * 1.1, span, force, stiffness) < sag


@pytest.mark.parametrize(
    ("name", "inputs", "told"),
    [
        ("belt-span", {"centre_distance": "100 mm", "large_diameter": "150 mm", "small_diameter": "90 mm"}, "overlap"),
        ("belt-span", {"centre_distance": "100 mm", "large_diameter": "50 mm", "small_diameter": "90 mm"}, "larger"),
        ("belt-tension-from-deflection", {"force": "30 N", "span": "320 mm", "deflection": "40 mm"}, "tenth"),
        (
            "belt-tension-from-deflection",
            {"force": "1 N", "span": "400 mm", "deflection": "30 mm", "stiffness": "0.5 N.m²"},
            "own stiffness",
        ),
        (
            "belt-tension-from-frequency",
            {"mass_per_length": "110 g/m", "span": "400 mm", "frequency": "1 Hz", "stiffness": "0.05 N.m²"},
            "sound higher",
        ),
        ("belt-tension-from-deflection", {"force": "30 N", "span": "320 mm", "deflection": "0 mm"}, "outside"),
    ],
)
def test_what_no_belt_does(name: str, inputs: dict[str, str], told: str) -> None:
    with cannot_be(told) as caught:
        compute(name, inputs)
    assert caught.value.place.startswith(f"{name}, ")
