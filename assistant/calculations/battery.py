"""Lead-acid starter batteries of 12 V: charge, charging voltage, loss in the cables.

Knows flooded lead-acid cells at rest. Refuses to know other chemistries and batteries under load. Voltages in V,
temperatures in °C unless a name says °F, specific gravity as a plain number.
"""

from __future__ import annotations

from itertools import pairwise

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal
from assistant.statements import calculations as s

BY_VOLTAGE = ((11.7, 0.0), (12.0, 25.0), (12.2, 50.0), (12.4, 75.0), (12.6, 100.0))
BY_GRAVITY = ((1.120, 0.0), (1.180, 25.0), (1.210, 50.0), (1.240, 75.0), (1.270, 100.0))
GRAVITY_PER_DEGREE_FAHRENHEIT = 0.004 / 10
GRAVITY_AT_FAHRENHEIT = 80.0
CHARGE_PER_CELL_AND_KELVIN = -0.003
CHARGE_AT_CELSIUS = 25.0
MAX_LOSS = 0.20  # V per 100 A


def charge_from_voltage(voltage: float) -> float:
    """Charge of a rested 12 V battery from its voltage: 12.6, 12.4, 12.2, 12.0, 11.7 V are 100, 75, 50, 25, 0 %.

    Source: TM 5-3805-262-20; between its points a straight line.
    """
    return _between(BY_VOLTAGE, voltage)


def gravity_at_80_fahrenheit(specific_gravity: float, temperature: float) -> float:
    """Specific gravity brought to 80 °F: 0.004 more for every 10 °F above, less below.

    Source: TM 5-4210-230-14&P-1.
    """
    return specific_gravity + GRAVITY_PER_DEGREE_FAHRENHEIT * (temperature - GRAVITY_AT_FAHRENHEIT)


def charge_from_gravity(specific_gravity: float, temperature: float) -> float:
    """Charge of a cell from specific gravity and temperature of its electrolyte.

    Source: temperature as in TM 5-4210-230-14&P-1; charge from the middle of the ranges that workshop manuals print
    (1.260 to 1.280 full, 1.230 to 1.250 three quarters, 1.200 to 1.220 half, 1.170 to 1.190 a quarter, 1.110 to 1.130
    none); table IV of TM 5-1185 has 1.280, 1.250 and 1.220 for 100, 75 and 50 %.
    """
    return _between(BY_GRAVITY, gravity_at_80_fahrenheit(specific_gravity, temperature))


def charge_voltage(voltage: float, temperature: float, cells: float) -> float:
    """Charging voltage at the battery's temperature: 3 mV less a cell for every kelvin above 25 °C, more below.

    Source: common rule of battery makers, -3 mV per cell and kelvin from 25 °C.
    """
    if cells != int(cells):
        raise Refusal("cells", s.HalfACell(), "Give a whole number; 12 V are 6 cells")
    return voltage + CHARGE_PER_CELL_AND_KELVIN * cells * (temperature - CHARGE_AT_CELSIUS)


def cable_loss(drop: float, current: float) -> float | Noted:
    """Voltage lost in a starter cable while cranking, brought to 100 A; at most 0.20 V.

    Source: TM 10-3930-671-24; crank for at most 30 s, then let the starter cool for 2 min.
    """
    loss = drop / current * 100
    if loss <= MAX_LOSS + 1e-9:
        return loss
    return Noted(loss, (s.LossTooHigh(),))


def _between(points: tuple[tuple[float, float], ...], value: float) -> float:
    """On the straight lines between the points; the ends hold beyond them."""
    if value <= points[0][0]:
        return points[0][1]
    for (low, less), (high, more) in pairwise(points):
        if value <= high:
            return less + (more - less) * (value - low) / (high - low)
    return points[-1][1]


_GRAVITY = QuantityInput("specific_gravity", "", low=1.0, high=1.4)
_TEMPERATURE = QuantityInput("temperature", "°F", low=-40, high=160)

FORMULAS = (
    Formula(
        "battery-charge-from-voltage",
        charge_from_voltage,
        (QuantityInput("voltage", "V", low=10.0, high=13.2),),
        "%",
        (Example({"voltage": "12.4 V"}, "75 %"), Example({"voltage": "11.7 V"}, "0 %")),
        digits=2,
    ),
    Formula(
        "battery-gravity-at-80-fahrenheit",
        gravity_at_80_fahrenheit,
        (_GRAVITY, _TEMPERATURE),
        "",
        (Example({"specific_gravity": "1.250", "temperature": "20 °F"}, "1.226"),),
        digits=4,
    ),
    Formula(
        "battery-charge-from-gravity",
        charge_from_gravity,
        (_GRAVITY, _TEMPERATURE),
        "%",
        (Example({"specific_gravity": "1.264", "temperature": "20 °F"}, "75 %"),),
        digits=2,
    ),
    Formula(
        "battery-charge-voltage",
        charge_voltage,
        (
            QuantityInput("voltage", "V", above=0, high=60),
            QuantityInput("temperature", "°C", low=-20, high=55),
            QuantityInput("cells", "", low=1, high=24, default="6"),
        ),
        "V",
        (Example({"voltage": "13.8 V", "temperature": "40 °C"}, "13.53 V"),),
        digits=4,
    ),
    Formula(
        "battery-cable-loss",
        cable_loss,
        (QuantityInput("drop", "V", low=0, high=12), QuantityInput("current", "A", above=0, high=2_000)),
        "V",
        (
            Example({"drop": "0.45 V", "current": "300 A"}, "0.15 V"),
            Example({"drop": "0.9 V", "current": "300 A"}, "0.3 V", 1),
        ),
        digits=3,
    ),
)
