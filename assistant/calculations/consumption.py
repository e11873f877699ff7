"""Oil and fuel: use per hour and per kilowatt-hour, efficiency.

Knows diesel fuel by its calorific value and density. Refuses to know what an engine should use: that is its maker's
data. Volumes in L, hours in h, energy in kWh.
"""

from __future__ import annotations

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal
from assistant.statements import calculations as s

MIN_FUEL = 0.1  # L/kWh: at 0.84 kg/L and 42.7 MJ/kg this would be an engine without any loss
GOOD_CHART, POOR_CHART = 0.28, 0.30  # L/kWh
MEGAJOULES_PER_KILOWATT_HOUR = 3.6


def per_hour(volume: float, hours: float) -> float:
    """Oil or fuel used in an hour of running.

    Source: volume by hours.
    """
    return volume / hours


def fuel_per_energy(volume: float, energy: float) -> float | Noted:
    """Fuel used for a kilowatt-hour; makers' charts of small sets lie near 0.28 to 0.30 L/kWh.

    Source: volume by energy; makers' fuel charts. Less than 0.1 L/kWh would be an engine without any loss.
    """
    use = volume / energy
    if use < MIN_FUEL:
        raise Refusal("volume", s.TooLittleFuel(), "Look at both numbers again")
    if use > POOR_CHART:
        return Noted(use, (s.MoreThanCharts(),))
    return use


def oil_per_energy(volume: float, energy: float) -> float:
    """Oil used for a kilowatt-hour.

    Source: volume by energy.
    """
    return volume * 1000 / energy


def fuel_mass_per_energy(volume: float, energy: float, density: float) -> float:
    """Fuel by mass for a kilowatt-hour, as makers state it.

    Source: volume, density and energy; 0.84 kg/L is a usual diesel fuel.
    """
    return volume * density * 1000 / energy


def efficiency(fuel_use: float, calorific_value: float) -> float:
    """Share of the fuel's energy that becomes work, 3.6 MJ/kWh by (use times calorific value).

    Source: balance of energy; 42.7 MJ/kg is the calorific value of diesel fuel in ISO 3046-1 (from memory).
    """
    share = MEGAJOULES_PER_KILOWATT_HOUR / (fuel_use / 1000 * calorific_value) * 100
    if share >= 100:
        raise Refusal("fuel_use", s.MoreEnergyOut(), "Look at the numbers again")
    return share


def oil_balance(oil_in: float, oil_out: float) -> float:
    """Oil that went in, less what came out: negative when less went in.

    Source: a difference; how far the two may be apart is data of the equipment.
    """
    return oil_in - oil_out


_VOLUME = QuantityInput("volume", "L", low=0, high=1e6)
_HOURS = QuantityInput("hours", "h", above=0, high=1e6)
_ENERGY = QuantityInput("energy", "kWh", above=0, high=1e9)
_PER_HOUR = (_VOLUME, _HOURS)

FORMULAS = (
    Formula("fuel-per-hour", per_hour, _PER_HOUR, "L/h", (Example({"volume": "22 L", "hours": "8 h"}, "2.75 L/h"),)),
    Formula(
        "oil-per-hour", per_hour, _PER_HOUR, "L/h", (Example({"volume": "300 mL", "hours": "120 h"}, "0.0025 L/h"),)
    ),
    Formula(
        "oil-balance",
        oil_balance,
        (QuantityInput("oil_in", "L", low=0, high=1e6), QuantityInput("oil_out", "L", low=0, high=1e6)),
        "L",
        (Example({"oil_in": "2.5 L", "oil_out": "2.4 L"}, "0.1 L"),),
    ),
    Formula(
        "fuel-per-energy",
        fuel_per_energy,
        (_VOLUME, _ENERGY),
        "L/kWh",
        (
            Example({"volume": "29 L", "energy": "100 kWh"}, "0.29 L/kWh"),
            Example({"volume": "45 L", "energy": "100 kWh"}, "0.45 L/kWh", 1),
        ),
        digits=3,
    ),
    Formula(
        "oil-per-energy",
        oil_per_energy,
        (_VOLUME, _ENERGY),
        "mL/kWh",
        (Example({"volume": "300 mL", "energy": "600 kWh"}, "0.5 mL/kWh"),),
        digits=3,
    ),
    Formula(
        "fuel-mass-per-energy",
        fuel_mass_per_energy,
        (_VOLUME, _ENERGY, QuantityInput("density", "kg/L", low=0.7, high=1.0, default="0.84 kg/L")),
        "g/kWh",
        (Example({"volume": "29 L", "energy": "100 kWh"}, "244 g/kWh"),),
        digits=3,
    ),
    Formula(
        "fuel-efficiency",
        efficiency,
        (
            QuantityInput("fuel_use", "g/kWh", above=0, high=10_000),
            QuantityInput("calorific_value", "MJ/kg", above=0, high=150, default="42.7 MJ/kg"),
        ),
        "%",
        (Example({"fuel_use": "230 g/kWh"}, "36.66 %"),),
        digits=4,
    ),
)
