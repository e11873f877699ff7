"""Batteries against the technical manuals."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import FORMULAS, battery
from assistant.errors import CalculationError
from tests.worded import compute


@pytest.mark.parametrize(
    ("voltage", "charge"), [(12.6, 100), (12.4, 75), (12.2, 50), (12.0, 25), (11.7, 0), (12.9, 100), (11.0, 0)]
)
def test_charge_from_rested_voltage(voltage: float, charge: float) -> None:
    assert battery.charge_from_voltage(voltage) == pytest.approx(charge)  # TM 5-3805-262-20


def test_specific_gravity_to_80_fahrenheit() -> None:
    assert battery.gravity_at_80_fahrenheit(1.250, 20) == pytest.approx(1.226)  # TM 5-4210-230-14&P-1
    celsius = compute("battery-gravity-at-80-fahrenheit", {"specific_gravity": "1.250", "temperature": "0 °C"})
    assert float(celsius.value.value) == pytest.approx(1.2308, abs=1e-3)


@pytest.mark.parametrize(("gravity", "charge", "tolerance"), [(1.280, 100, 0), (1.250, 75, 10), (1.220, 50, 10)])
def test_charge_from_specific_gravity(gravity: float, charge: float, tolerance: float) -> None:
    # table IV of TM 5-1185 (cranking power at 80 °F), which reads 0.01 higher than the manuals' ranges do
    assert battery.charge_from_gravity(gravity, 80) == pytest.approx(charge, abs=tolerance)


@pytest.mark.parametrize(
    ("low", "high", "charge"),
    [(1.260, 1.280, 100), (1.230, 1.250, 75), (1.200, 1.220, 50), (1.170, 1.190, 25), (1.110, 1.130, 0)],
)
def test_the_middle_of_printed_ranges(low: float, high: float, charge: float) -> None:
    assert battery.charge_from_gravity((low + high) / 2, 80) == pytest.approx(charge)


def test_charge_voltage_with_temperature() -> None:
    assert battery.charge_voltage(13.8, 40, 6) == pytest.approx(13.53)  # -3 mV per cell and kelvin from 25 °C
    assert battery.charge_voltage(13.8, 25, 6) == pytest.approx(13.8)


def test_cable_loss() -> None:
    # TM 10-3930-671-24: at most 0.20 V per 100 A
    compute = FORMULAS["battery-cable-loss"].compute
    assert compute({"drop": "0.20 V", "current": "100 A"}).warnings == ()
    assert compute({"drop": "600 mV", "current": "300 A"}).warnings == ()
    assert len(compute({"drop": "0.61 V", "current": "300 A"}).warnings) == 1


@given(st.floats(10, 13.1), st.floats(0, 0.1))
def test_more_voltage_is_never_less_charge(voltage: float, more: float) -> None:
    assert battery.charge_from_voltage(voltage + more) >= battery.charge_from_voltage(voltage)


@given(st.floats(1.0, 1.39), st.floats(0, 0.01), st.floats(-40, 160))
def test_heavier_acid_is_never_less_charge(gravity: float, more: float, fahrenheit: float) -> None:
    assert battery.charge_from_gravity(gravity + more, fahrenheit) >= battery.charge_from_gravity(gravity, fahrenheit)


@pytest.mark.parametrize("voltage", ["14.1 V", "6.3 V", "24 V", "12 A"])
def test_what_is_no_rested_battery_of_12_volts(voltage: str) -> None:
    with pytest.raises(CalculationError):
        compute("battery-charge-from-voltage", {"voltage": voltage})
