"""Insulation resistance of windings: brought to 40 °C, its minimum, polarisation index, voltage of the test.

Knows machines as IEEE 43-2013 has them (read in others' words, not in the standard itself). Resistances in MΩ,
temperatures in °C, rated voltage in kV.
"""

from __future__ import annotations

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal, WordInput
from assistant.statements import calculations as s

OLD, FORM, RANDOM = "old or field winding", "form-wound", "random-wound"
LOW_VOLTAGE = 1.0  # kV
MEANINGLESS_ABOVE = 5_000.0  # MΩ
MIN_INDEX = {"A": 1.5, "B": 2.0, "F": 2.0, "H": 2.0}


def to_40(resistance: float, temperature: float) -> float:
    """Insulation resistance brought to 40 °C, R40 = R 0.5^((40 - T) / 10).

    Source: IEEE 43-2013, via others: it halves for every 10 K.
    """
    return float(resistance * 0.5 ** ((40 - temperature) / 10))


def minimum(winding: str, rated_voltage: float) -> float:
    """Least insulation resistance at 40 °C: kV + 1 (old, and fields), 100 (form-wound), 5 MΩ (random-wound below 1 kV).

    Source: IEEE 43-2013, via others.
    """
    if winding == RANDOM and rated_voltage >= LOW_VOLTAGE:
        raise Refusal("rated_voltage", s.NoMinimumSoHigh(), "Use form-wound")
    return {OLD: rated_voltage + 1, FORM: 100.0, RANDOM: 5.0}[winding]


def polarisation_index(after_1_min: float, after_10_min: float, insulation_class: str) -> float | Noted:
    """Polarisation index, resistance after ten minutes by that after one; at least 2.0, class A 1.5.

    Source: IEEE 43-2013, via others: meaningless above 5000 MΩ after one minute.
    """
    if after_1_min > MEANINGLESS_ABOVE:
        raise Refusal("after_1_min", s.IndexMeaningless(), "Judge by the resistance itself")
    index = after_10_min / after_1_min
    least = MIN_INDEX[insulation_class]
    return index if index >= least else Noted(index, (s.DampOrDirty(least),))


def voltage_of_test(rated_voltage: float) -> float:
    """Direct voltage of the test of a winding below 1 kV: 500 V.

    Source: IEEE 43-2013, via others.
    """
    if rated_voltage >= LOW_VOLTAGE:
        raise Refusal("rated_voltage", s.NoTestSoHigh(), "Take it from the maker")
    return 500.0


_RATED = QuantityInput("rated_voltage", "kV", above=0, high=40)

FORMULAS = (
    Formula(
        "insulation-to-40",
        to_40,
        (QuantityInput("resistance", "MΩ", above=0, high=1e6), QuantityInput("temperature", "°C", low=-10, high=80)),
        "MΩ",
        (Example({"resistance": "80 MΩ", "temperature": "25 °C"}, "28.284 MΩ"),),
        like="resistance",
    ),
    Formula(
        "insulation-minimum",
        minimum,
        (WordInput("winding", (OLD, FORM, RANDOM)), _RATED),
        "MΩ",
        (
            Example({"winding": "random-wound", "rated_voltage": "400 V"}, "5 MΩ"),
            Example({"winding": "old or field winding", "rated_voltage": "0.4 kV"}, "1.4 MΩ"),
        ),
    ),
    Formula(
        "insulation-polarisation-index",
        polarisation_index,
        (
            QuantityInput("after_1_min", "MΩ", above=0, high=1e6),
            QuantityInput("after_10_min", "MΩ", above=0, high=1e6),
            WordInput("insulation_class", tuple(MIN_INDEX), "F"),
        ),
        "",
        (
            Example({"after_1_min": "100 MΩ", "after_10_min": "250 MΩ"}, "2.5"),
            Example({"after_1_min": "100 MΩ", "after_10_min": "160 MΩ"}, "1.6", 1),
        ),
        digits=3,
    ),
    Formula(
        "insulation-test-voltage",
        voltage_of_test,
        (_RATED,),
        "V",
        (Example({"rated_voltage": "400 V"}, "500 V"),),
    ),
)
