"""Compression: how far a cylinder lies under the others.

Knows readings of one engine, in the order of its cylinders. Refuses to know how high they should be: that is the
maker's data.
"""

from __future__ import annotations

from math import fsum

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput
from assistant.statements import calculations as s

LOOK_INTO = 20.0  # % under the mean


def spread(readings: tuple[float, ...]) -> float | Noted:
    """How far the lowest cylinder lies under the mean; with two cylinders, under the higher one.

    Source: TM 1-1500-204-23-1: 20 % under the mean is looked into; with two cylinders common practice, no source.
    """
    two = len(readings) == 2
    reference = max(readings) if two else fsum(readings) / len(readings)
    lowest = min(readings)
    under = (reference - lowest) / reference * 100
    if under < LOOK_INTO - 1e-9:
        return under
    cylinder = readings.index(lowest) + 1
    return Noted(under, (s.CylinderUnderOther(cylinder) if two else s.CylinderUnderMean(cylinder),))


FORMULAS = (
    Formula(
        "compression-spread",
        spread,
        (QuantityInput("readings", "kPa", above=0, high=20_000, many=2),),
        "%",
        (
            Example({"readings": "28 bar, 27 bar, 22 bar"}, "14.3 %"),
            Example({"readings": "28 bar, 21 bar"}, "25 %", 1),
        ),
        digits=3,
    ),
)
