"""A generating set's electrical side: frequency, voltage, unbalance, the class it reaches, three-phase power.

Knows ISO 8528-5 as others quote it, not the standard itself. Refuses to know transients. Frequencies in Hz, voltages in
V (between lines), currents in A, shares in %.
"""

from __future__ import annotations

from math import fsum, sqrt

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal
from assistant.statements import calculations as s

CLASSES = {"G3": (0.5, 3.0, 1.0, 1.0), "G2": (1.5, 5.0, 2.5, 1.0), "G1": (2.5, 8.0, 5.0, 1.0)}
"""Class -> most frequency band, droop, voltage deviation, voltage unbalance, each in %; the strictest first."""

FIGURES = ("frequency band", "droop", "voltage deviation", "unbalance")
"""Keys of the figures of a class, in the order of `CLASSES`."""

FEW_CYLINDERS, BAND_OF_FEW = 2, 2.5
ROUNDING = 1e-9


def frequency_band(highest: float, lowest: float, rated: float) -> float:
    """Band of the steady frequency, (highest - lowest) / rated.

    Source: ISO 8528-5, via others.
    """
    _in_order("lowest", highest, lowest)
    return (highest - lowest) / rated * 100


def droop(no_load: float, rated: float) -> float:
    """Droop of the frequency from no load to rated load, (no load - rated) / rated.

    Source: ISO 8528-5, via others.
    """
    _in_order("no_load", no_load, rated)
    return (no_load - rated) / rated * 100


def voltage_deviation(highest: float, lowest: float, rated: float) -> float:
    """Steady voltage deviation, ± (highest - lowest) / (2 rated).

    Source: ISO 8528-5, via others.
    """
    _in_order("lowest", highest, lowest)
    return (highest - lowest) / (2 * rated) * 100


def unbalance_factor(voltages: tuple[float, ...]) -> float:
    """Voltage unbalance factor, negative by positive sequence, from the three voltages between lines.

    With b = (a⁴ + b⁴ + c⁴) / (a² + b² + c²)² it is sqrt((1 - sqrt(3 - 6b)) / (1 + sqrt(3 - 6b))).
    Source: method of symmetrical components for line voltages, as in IEC 61000-4-30 (from memory).
    """
    _three(voltages)
    if max(voltages) >= sum(voltages) - max(voltages):
        raise Refusal("voltages", s.VoltagesTooUnequal(), "Measure them again")
    beta = fsum(v**4 for v in voltages) / fsum(v**2 for v in voltages) ** 2
    root = sqrt(max(0.0, 3 - 6 * beta))
    return sqrt(max(0.0, 1 - root) / (1 + root)) * 100


def unbalance_deviation(voltages: tuple[float, ...]) -> float:
    """Voltage unbalance by the deviation method: largest distance from the mean, by the mean.

    Source: NEMA MG 1 (from memory).
    """
    _three(voltages)
    mean = fsum(voltages) / 3
    return max(abs(v - mean) for v in voltages) / mean * 100


def class_reached(
    frequency_band: float, droop: float, voltage_deviation: float, unbalance: float, cylinders: float | None
) -> str | Noted:
    """Strictest class of ISO 8528-5 that the four steady figures reach: G3, G2, G1 or none.

    Source: ISO 8528-5, via others; sets of one or two cylinders may reach a frequency band of 2.5 %.
    """
    few = cylinders is not None and cylinders <= FEW_CYLINDERS
    figures = (frequency_band, droop, voltage_deviation, unbalance)
    for name, limits in CLASSES.items():
        allowed = (BAND_OF_FEW if few else limits[0], *limits[1:])
        if all(figure <= limit + ROUNDING for figure, limit in zip(figures, allowed, strict=True)):
            if few and frequency_band > limits[0] + ROUNDING:
                return Noted(name, (s.WiderBand(),))
            return name
    beyond = tuple(what for what, figure, limit in zip(FIGURES, figures, CLASSES["G1"], strict=True) if figure > limit)
    return Noted(s.NoClass(), (s.BeyondClass(beyond),))


def three_phase_power(voltage: float, current: float, power_factor: float) -> float:
    """Active power of three balanced phases, sqrt(3) V I cos φ.

    Source: textbook; NIST SP 811 for the units.
    """
    return sqrt(3) * voltage * current * power_factor / 1000


def three_phase_apparent_power(voltage: float, current: float) -> float:
    """Apparent power of three balanced phases, sqrt(3) V I.

    Source: textbook; NIST SP 811 for the units.
    """
    return sqrt(3) * voltage * current / 1000


def _in_order(name: str, larger: float, smaller: float) -> None:
    if larger < smaller:
        raise Refusal(name, s.HigherIsLower(), "Swap them or measure again")


def _three(voltages: tuple[float, ...]) -> None:
    if len(voltages) != 3:
        raise Refusal("voltages", s.ThreeNeeded(len(voltages)), "Give the three voltages between lines")


_RATED_FREQUENCY = QuantityInput("rated", "Hz", above=0, high=1_000, default="50 Hz")
_VOLTAGE = QuantityInput("voltage", "V", above=0, high=50_000)
_CURRENT = QuantityInput("current", "A", low=0, high=10_000)
_VOLTAGES = QuantityInput("voltages", "V", above=0, high=50_000, many=3)

FORMULAS = (
    Formula(
        "generator-frequency-band",
        frequency_band,
        (
            QuantityInput("highest", "Hz", above=0, high=1_000),
            QuantityInput("lowest", "Hz", above=0, high=1_000),
            _RATED_FREQUENCY,
        ),
        "%",
        (Example({"highest": "50.1 Hz", "lowest": "49.9 Hz"}, "0.4 %"),),
        digits=3,
    ),
    Formula(
        "generator-droop",
        droop,
        (QuantityInput("no_load", "Hz", above=0, high=1_000), _RATED_FREQUENCY),
        "%",
        (Example({"no_load": "52 Hz", "rated": "50 Hz"}, "4 %"),),
        digits=3,
    ),
    Formula(
        "generator-voltage-deviation",
        voltage_deviation,
        (
            QuantityInput("highest", "V", above=0, high=50_000),
            QuantityInput("lowest", "V", above=0, high=50_000),
            QuantityInput("rated", "V", above=0, high=50_000),
        ),
        "%",
        (Example({"highest": "408 V", "lowest": "396 V", "rated": "400 V"}, "1.5 %"),),
        digits=3,
    ),
    Formula(
        "generator-unbalance-factor",
        unbalance_factor,
        (_VOLTAGES,),
        "%",
        (Example({"voltages": "400 V, 404 V, 396 V"}, "1.1548 %"),),
    ),
    Formula(
        "generator-unbalance-deviation",
        unbalance_deviation,
        (_VOLTAGES,),
        "%",
        (Example({"voltages": "400 V, 404 V, 396 V"}, "1 %"),),
    ),
    Formula(
        "generator-class",
        class_reached,
        (
            QuantityInput("frequency_band", "%", low=0, high=100),
            QuantityInput("droop", "%", low=0, high=100),
            QuantityInput("voltage_deviation", "%", low=0, high=100),
            QuantityInput("unbalance", "%", low=0, high=100, default="0 %"),
            QuantityInput("cylinders", "", low=1, high=64, default=""),
        ),
        None,
        (
            Example({"frequency_band": "0.4 %", "droop": "4 %", "voltage_deviation": "1.5 %"}, "G2"),
            Example({"frequency_band": "2.2 %", "droop": "4 %", "voltage_deviation": "2 %", "cylinders": "2"}, "G2", 1),
            Example({"frequency_band": "2.6 %", "droop": "4 %", "voltage_deviation": "2 %"}, "none", 1),
        ),
    ),
    Formula(
        "three-phase-power",
        three_phase_power,
        (_VOLTAGE, _CURRENT, QuantityInput("power_factor", "", low=0, high=1)),
        "kW",
        (Example({"voltage": "400 V", "current": "36 A", "power_factor": "0.8"}, "19.953 kW"),),
    ),
    Formula(
        "three-phase-apparent-power",
        three_phase_apparent_power,
        (_VOLTAGE, _CURRENT),
        "kVA",
        (Example({"voltage": "400 V", "current": "36 A"}, "24.942 kVA"),),
    ),
)
