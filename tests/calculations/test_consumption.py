"""Oil and fuel."""

from __future__ import annotations

import pytest

from assistant.calculations import consumption
from tests.worded import cannot_be, compute


def test_efficiency() -> None:
    assert consumption.efficiency(230, 42.7) == pytest.approx(36.66, abs=5e-3)  # balance of energy


def test_charts_of_small_sets() -> None:
    # makers' charts near 0.28 to 0.30 L/kWh; at 0.84 kg/L and 36.66 % that is about 230 g/kWh
    assert consumption.fuel_per_energy(28, 100) == pytest.approx(0.28)
    assert consumption.fuel_per_energy(30, 100) == pytest.approx(0.30)
    assert consumption.fuel_mass_per_energy(27.4, 100, 0.84) == pytest.approx(230, abs=0.5)


def test_minutes_are_taken_where_hours_are() -> None:
    assert str(compute("fuel-per-hour", {"volume": "2 L", "hours": "30 min"}).value) == "4 L/h"


@pytest.mark.parametrize(
    ("name", "inputs", "told"),
    [
        ("fuel-per-hour", {"volume": "2 L", "hours": "-3 h"}, "outside"),
        ("fuel-per-hour", {"volume": "2 L", "hours": "0 h"}, "outside"),
        ("fuel-per-energy", {"volume": "5 L", "energy": "100 kWh"}, "so little fuel"),
        ("fuel-efficiency", {"fuel_use": "80 g/kWh"}, "more energy"),
        ("fuel-per-hour", {"volume": "2 kg", "hours": "3 h"}, "measures mass, not volume"),
    ],
)
def test_what_no_engine_does(name: str, inputs: dict[str, str], told: str) -> None:
    with cannot_be(told):
        compute(name, inputs)
