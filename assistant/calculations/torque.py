"""The setting of a torque wrench that carries an extension at its head.

Knows lever arms. Refuses to know extensions on the socket's own axis, which change nothing. Torques in N.m, lengths in
mm, angle in degrees.
"""

from __future__ import annotations

from math import cos, radians

from assistant.calculations.formula import Example, Formula, QuantityInput, Refusal
from assistant.statements import calculations as s


def with_extension(torque: float, wrench_length: float, extension: float, angle: float) -> float:
    """Setting of a torque wrench with an extension at its head, T L / (L + E cos a); at 90° nothing changes.

    Source: TM 9-254, p. 92; the angle from lever arms.
    """
    arm = wrench_length + extension * cos(radians(angle))
    if arm <= 0:
        raise Refusal("extension", s.TurnedBack(), "Use a shorter one")
    return torque * wrench_length / arm


FORMULAS = (
    Formula(
        "torque-with-extension",
        with_extension,
        (
            QuantityInput("torque", "N.m", above=0, high=10_000),
            QuantityInput("wrench_length", "mm", above=0, high=10_000),
            QuantityInput("extension", "mm", low=0, high=10_000),
            QuantityInput("angle", "°", low=0, high=180, default="0 °"),
        ),
        "N.m",
        (
            Example({"torque": "80 N.m", "wrench_length": "40 cm", "extension": "5 cm"}, "71.111 N.m"),
            Example({"torque": "80 N.m", "wrench_length": "40 cm", "extension": "5 cm", "angle": "90 °"}, "80 N.m"),
            Example({"torque": "20 lbf.ft", "wrench_length": "12 in", "extension": "3 in"}, "16 lbf.ft"),
        ),
        like="torque",
    ),
)
