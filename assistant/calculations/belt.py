"""Drive belts: span, tension from a pressed or plucked span, the deflection to expect.

Knows a belt as a string with some bending stiffness between two pulleys. Refuses to know what tension is right: that is
data of the equipment. Lengths in mm, forces in N, mass per length in kg/m, bending stiffness in N.m².
"""

from __future__ import annotations

from math import isclose, pi, sqrt, tanh

from assistant.calculations.formula import Example, Formula, Noted, QuantityInput, Refusal
from assistant.statements import calculations as s

SPAN_PER_DEFLECTION = 64
MAX_SLOPE = 10  # deflections above a tenth of the span are no small ones, for which all this holds
SHALLOW = 1e-4  # below this, 1 - tanh u / u is lost in rounding; its series is not


def span(centre_distance: float, large_diameter: float, small_diameter: float) -> float:
    """Free span between two pulleys, L = sqrt(C² - ((D - d) / 2)²).

    Source: Contitech drive guide, p. 13; SDP/SI handbook D790.
    """
    if large_diameter < small_diameter:
        raise Refusal("small_diameter", s.SmallIsLarger(), "Swap them")
    if centre_distance < (large_diameter + small_diameter) / 2:
        raise Refusal("centre_distance", s.PulleysOverlap(), "Measure from shaft to shaft")
    return sqrt(centre_distance**2 - ((large_diameter - small_diameter) / 2) ** 2)


def wanted_deflection(span: float) -> Noted:
    """Deflection at mid-span by rule of thumb, L / 64. The equipment's own data wins.

    Source: Contitech drive guide, p. 13; SDP/SI handbook D790.
    """
    return Noted(span / SPAN_PER_DEFLECTION, (s.RuleOfThumb(),))


def deflection(tension: float, span: float, force: float, stiffness: float) -> float:
    """Deflection at mid-span, y = (F L / 4T) (1 - tanh u / u), u = (L / 2) sqrt(T / EI); without stiffness F L / 4T.

    Source: statics of a string and of a beam under tension; recomputed numerically with scipy.
    """
    sag = _sag(tension, span, force, stiffness)
    _small(sag, span)
    return sag


def tension_from_deflection(force: float, span: float, deflection: float, stiffness: float) -> float:
    """String tension from a force at mid-span, T = F L / 4y; with stiffness the T that gives this deflection.

    Source: statics of a string and of a beam under tension; recomputed numerically with scipy.
    """
    _small(deflection, span)
    string = force * span / (4 * deflection)
    if not stiffness:
        return string
    beam = force * (span / 1000) ** 3 / (48 * stiffness) * 1000  # deflection without any tension
    if deflection >= beam:
        raise Refusal("deflection", s.StifferThanBent(), "Measure again")
    low, high = 0.0, string  # the deflection falls as the tension grows, and stiffness only lessens it
    while not isclose(low, high, rel_tol=1e-12, abs_tol=1e-12):
        middle = (low + high) / 2
        low, high = (middle, high) if _sag(middle, span, force, stiffness) > deflection else (low, middle)
    return (low + high) / 2


def tension_from_frequency(mass_per_length: float, span: float, frequency: float, stiffness: float) -> float:
    """Tension from the frequency of the plucked span, T = 4 m L² f² - π² EI / L².

    Source: vibration of a string, first mode; with the term of a beam on two supports.
    """
    length = span / 1000
    tension = 4 * mass_per_length * length**2 * frequency**2 - pi**2 * stiffness / length**2
    if tension <= 0:
        raise Refusal("frequency", s.StifferThanSounded(), "Pluck it again")
    return tension


def _sag(tension: float, span: float, force: float, stiffness: float) -> float:
    if not stiffness:
        return force * span / (4 * tension)
    u = span / 1000 / 2 * sqrt(tension / stiffness)
    return force * span / (4 * tension) * (u * u / 3 if u < SHALLOW else 1 - tanh(u) / u)


def _small(deflection: float, span: float) -> None:
    if deflection > span / MAX_SLOPE:
        raise Refusal("deflection", s.DeflectionTooLarge(), "Use a smaller force: the formula is for small deflections")


_SPAN = QuantityInput("span", "mm", above=0, high=100_000)
_FORCE = QuantityInput("force", "N", above=0, high=10_000)
_STIFFNESS = QuantityInput("stiffness", "N.m²", low=0, high=1_000, default="0 N.m²")

FORMULAS = (
    Formula(
        "belt-span",
        span,
        (
            QuantityInput("centre_distance", "mm", above=0, high=100_000),
            QuantityInput("large_diameter", "mm", above=0, high=10_000),
            QuantityInput("small_diameter", "mm", above=0, high=10_000),
        ),
        "mm",
        (Example({"centre_distance": "16 in", "large_diameter": "8 in", "small_diameter": "4 in"}, "15.875 in"),),
        like="centre_distance",
    ),
    Formula(
        "belt-wanted-deflection",
        wanted_deflection,
        (_SPAN,),
        "mm",
        (Example({"span": "15.8745 in"}, "0.248039 in", 1),),
        like="span",
    ),
    Formula(
        "belt-deflection",
        deflection,
        (QuantityInput("tension", "N", above=0, high=100_000), _SPAN, _FORCE, _STIFFNESS),
        "mm",
        (
            Example({"tension": "250 N", "span": "400 mm", "force": "30 N", "stiffness": "0.05 N.m²"}, "11.151 mm"),
            Example({"tension": "250 N", "span": "400 mm", "force": "30 N"}, "12 mm"),
        ),
        like="span",
    ),
    Formula(
        "belt-tension-from-deflection",
        tension_from_deflection,
        (_FORCE, _SPAN, QuantityInput("deflection", "mm", above=0, high=10_000), _STIFFNESS),
        "N",
        (
            Example({"force": "30 N", "span": "320 mm", "deflection": "5 mm"}, "480 N"),
            Example(
                {"force": "30 N", "span": "400 mm", "deflection": "11.151 mm", "stiffness": "0.05 N.m²"}, "250.01 N"
            ),
        ),
    ),
    Formula(
        "belt-tension-from-frequency",
        tension_from_frequency,
        (
            QuantityInput("mass_per_length", "kg/m", above=0, high=10),
            _SPAN,
            QuantityInput("frequency", "Hz", above=0, high=10_000),
            _STIFFNESS,
        ),
        "N",
        (
            Example({"mass_per_length": "0.110 kg/m", "span": "0.400 m", "frequency": "60 Hz"}, "253.44 N"),
            Example(
                {"mass_per_length": "0.110 kg/m", "span": "0.400 m", "frequency": "60 Hz", "stiffness": "0.05 N.m²"},
                "250.36 N",
            ),
        ),
    ),
)
