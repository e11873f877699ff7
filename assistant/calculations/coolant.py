"""Coolant: how far a mixture of glycol and water protects, and how much to drain and replace.

Knows ethylene and propylene glycol in water by volume, from 0 to 60 %. Refuses to know coolants with other bases, and
never mixes kinds. Temperatures in °C, concentrations in vol%.
"""

from __future__ import annotations

from itertools import pairwise

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal, WordInput
from assistant.statements import calculations as s

MAX_PROTECTING = 60.0

FREEZING: dict[str, tuple[tuple[float, float], ...]] = {
    "ethylene glycol": ((0, 0), (10, -3), (20, -8), (30, -16), (40, -25), (50, -37), (60, -55)),
    "propylene glycol": (
        *((0, 0), (5, -1.1), (10, -2.2), (15, -3.9), (20, -6.7), (25, -8.9), (30, -12.8), (35, -16.1)),
        *((40, -20.6), (45, -26.7), (50, -33.3), (60, -51.1)),
    ),
}
"""Kind -> (vol%, freezing point in °C), between which a straight line is drawn."""


def freezing_point(kind: str, concentration: float) -> float:
    """Temperature at which ice begins to form in a mixture of glycol and water, to about 3 K.

    Source: ethylene glycol by volume, handbook table, 10 to 60 %; propylene glycol by volume to 50 %, Lange's Handbook
    of Chemistry, 15th ed., table 5.13, its point at 60 % from CoolProp (APG). CoolProp agrees within 3 K throughout.
    """
    if concentration > MAX_PROTECTING:
        raise Refusal("concentration", s.TooStrong(), "Thin it with water to 60 vol% or less")
    for (low, warmer), (high, colder) in pairwise(FREEZING[kind]):
        if concentration <= high:
            return warmer + (colder - warmer) * (concentration - low) / (high - low)
    raise AssertionError("the tables reach to 60 vol%")


def drain_and_replace(system_volume: float, present: float, wanted: float, added: float) -> Noted:
    """Amount to drain and to replace, x = V (c2 - c1) / (ca - c1).

    Source: balance of the glycol; above 60 vol% protects less: TM 9-6115-464-12. That kinds are never mixed, and that
    only kinds safe for aluminium go where the cooler is aluminium, is common practice.
    """
    if wanted == present:
        return Noted(0.0, _notes(wanted, 0))
    if not min(present, added) <= wanted <= max(present, added):
        raise Refusal("wanted", s.NotBetweenMixtures(), "Add water to thin, concentrate to strengthen")
    return Noted(system_volume * (wanted - present) / (added - present), _notes(wanted, added))


def _notes(wanted: float, added: float) -> tuple[s.CalculationStatement, ...]:
    weaker = (s.ProtectsLess(),) if wanted > MAX_PROTECTING else ()
    return (*weaker, *((s.SameKindOfCoolant(),) if added > 0 else ()))


FORMULAS = (
    Formula(
        "coolant-freezing-point",
        freezing_point,
        (WordInput("kind", tuple(FREEZING)), QuantityInput("concentration", "vol%", low=0, high=100)),
        "°C",
        (
            Example({"kind": "ethylene glycol", "concentration": "50 vol%"}, "-37 °C"),
            Example({"kind": "propylene glycol", "concentration": "40 vol%"}, "-20.6 °C"),
        ),
        digits=3,
    ),
    Formula(
        "coolant-drain-and-replace",
        drain_and_replace,
        (
            QuantityInput("system_volume", "L", above=0, high=10_000),
            QuantityInput("present", "vol%", low=0, high=100),
            QuantityInput("wanted", "vol%", low=0, high=100),
            QuantityInput("added", "vol%", low=0, high=100),
        ),
        "L",
        (
            Example({"system_volume": "3.6 L", "present": "60 vol%", "wanted": "50 vol%", "added": "0 vol%"}, "0.6 L"),
            Example(
                {"system_volume": "12 L", "present": "35 vol%", "wanted": "50 vol%", "added": "100 vol%"},
                "2.7692 L",
                1,
            ),
        ),
        like="system_volume",
    ),
)
