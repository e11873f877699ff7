"""Noise: the share of a day's allowed dose that was taken.

Knows the rules of OSHA and NIOSH for steady levels. Refuses to know impulses and the protection worn. Levels in dB(A),
durations in h.
"""

from __future__ import annotations

from math import fsum

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal
from assistant.statements import calculations as s

HOURS_OF_A_DAY = 24.0
COUNTED_FROM = 80.0  # dB(A)


def dose_osha(levels: tuple[float, ...], durations: tuple[float, ...]) -> float | Noted:
    """Noise dose by OSHA: the day's limit is 90 dB(A) for 8 h, half as long for every 5 dB more.

    Source: 29 CFR 1910.95, T = 8 / 2^((L - 90) / 5); levels under 80 dB(A) are not counted; from 50 % on a hearing
    conservation programme is due.
    """
    return _dose(levels, durations, 90, 5, 50)


def dose_niosh(levels: tuple[float, ...], durations: tuple[float, ...]) -> float | Noted:
    """Noise dose by NIOSH: the day's limit is 85 dB(A) for 8 h, half as long for every 3 dB more.

    Source: NIOSH 98-126, 85 dB(A) and 3 dB; levels under 80 dB(A) are not counted (from memory).
    """
    return _dose(levels, durations, 85, 3, 100)


def _dose(
    levels: tuple[float, ...], durations: tuple[float, ...], limit: float, halving: float, action: float
) -> float | Noted:
    if len(levels) != len(durations):
        raise Refusal("durations", s.LevelsAndDurations(len(durations), len(levels)), "Give one for each level")
    if fsum(durations) > HOURS_OF_A_DAY:
        raise Refusal("durations", s.MoreThanADay(), "Give those of one day")
    dose = 100 * fsum(
        hours * 2 ** ((level - limit) / halving) / 8
        for level, hours in zip(levels, durations, strict=True)
        if level >= COUNTED_FROM
    )
    if dose > 100:
        return Noted(dose, (s.DoseAboveLimit(),))
    return Noted(dose, (s.DoseAtAction(action),)) if dose >= action else dose


_INPUTS = (
    QuantityInput("levels", "dB(A)", low=0, high=130, many=1),
    QuantityInput("durations", "h", low=0, high=HOURS_OF_A_DAY, many=1),
)

FORMULAS = (
    Formula(
        "noise-dose-osha",
        dose_osha,
        _INPUTS,
        "%",
        (Example({"levels": "95 dB(A), 90 dB(A)", "durations": "4 h, 2 h"}, "125 %", 1),),
        digits=3,
    ),
    Formula(
        "noise-dose-niosh",
        dose_niosh,
        _INPUTS,
        "%",
        (Example({"levels": "88 dB(A)", "durations": "4 h"}, "100 %", 1),),
        digits=3,
    ),
)
