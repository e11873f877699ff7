"""The electrical side against ISO 8528-5, as others quote it, and against sequence components."""

from __future__ import annotations

from cmath import exp, pi
from math import acos

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import generator
from tests.worded import cannot_be, compute, worded


def test_frequency_and_voltage() -> None:
    # ISO 8528-5 via others
    assert generator.frequency_band(50.1, 49.9, 50) == pytest.approx(0.4)
    assert generator.droop(52, 50) == pytest.approx(4)
    assert generator.voltage_deviation(408, 396, 400) == pytest.approx(1.5)


def test_unbalance() -> None:
    # 400, 404, 396 V, recomputed
    assert generator.unbalance_factor((400, 404, 396)) == pytest.approx(1.1548, abs=5e-5)
    assert generator.unbalance_deviation((400, 404, 396)) == pytest.approx(1.00)
    assert generator.unbalance_factor((400, 400, 400)) == pytest.approx(0, abs=1e-5)


@given(st.tuples(*[st.floats(300, 500)] * 3))
def test_the_factor_is_negative_by_positive_sequence(voltages: tuple[float, float, float]) -> None:
    """The three line voltages closed to a triangle of phasors, taken apart with Fortescue's operator."""
    a, b, c = voltages
    corner = acos((a * a + c * c - b * b) / (2 * a * c))
    ab, ca = complex(a), -c * exp(1j * corner)
    bc = -(ab + ca)
    turn = exp(2j * pi / 3)
    one, other = abs(ab + turn * bc + turn**2 * ca), abs(ab + turn**2 * bc + turn * ca)
    expected = min(one, other) / max(one, other) * 100
    assert generator.unbalance_factor(voltages) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("band", "droop", "deviation", "unbalance", "cylinders", "reached"),
    [
        # ISO 8528-5 via others: G1 2.5/8/5, G2 1.5/5/2.5, G3 0.5/3/1 %, unbalance 1 %; few cylinders 2.5 %
        (2.5, 8, 5, 1, None, "G1"),
        (1.5, 5, 2.5, 1, None, "G2"),
        (0.5, 3, 1, 1, None, "G3"),
        (0.51, 3, 1, 1, None, "G2"),
        (0.5, 3.1, 1, 1, None, "G2"),
        (0.5, 3, 1.1, 1, None, "G2"),
        (0.5, 3, 2.6, 1, None, "G1"),
        (0.5, 3, 1, 1.1, None, "none"),
        (2.6, 3, 1, 1, None, "none"),
        (2.5, 5, 2.5, 1, 2, "G2"),
        (2.5, 5, 2.5, 1, 3, "G1"),
        (2.6, 5, 2.5, 1, 1, "none"),
    ],
)
def test_class_reached(
    band: float, droop: float, deviation: float, unbalance: float, cylinders: float | None, reached: str
) -> None:
    answer = worded(generator.class_reached(band, droop, deviation, unbalance, cylinders))
    assert (answer if isinstance(answer, str) else answer.value) == reached


def test_three_phase_power() -> None:
    # textbook, sqrt(3) V I cos φ: 400 V, 36 A, 0.8
    assert generator.three_phase_power(400, 36, 0.8) == pytest.approx(19.953, abs=5e-4)
    assert generator.three_phase_apparent_power(400, 36) == pytest.approx(24.942, abs=5e-4)


@pytest.mark.parametrize(
    ("name", "inputs", "told"),
    [
        ("generator-droop", {"no_load": "49 Hz"}, "lower"),
        ("generator-frequency-band", {"highest": "49.9 Hz", "lowest": "50.1 Hz"}, "lower"),
        ("generator-unbalance-factor", {"voltages": "400 V, 404 V"}, "at least 3"),
        ("generator-unbalance-factor", {"voltages": "400 V, 404 V, 1 V, 2 V"}, "4 were given"),
        ("generator-unbalance-factor", {"voltages": "400 V, 100 V, 100 V"}, "so unequal"),
        ("three-phase-power", {"voltage": "400 V", "current": "36 A", "power_factor": "1.2"}, "outside"),
    ],
)
def test_what_no_generator_does(name: str, inputs: dict[str, str], told: str) -> None:
    with cannot_be(told):
        compute(name, inputs)


def test_power_and_apparent_power_are_two_kinds() -> None:
    value = compute("three-phase-apparent-power", {"voltage": "400 V", "current": "36 A"}).value
    assert not isinstance(value, str)
    assert value.kind == "apparent power"
