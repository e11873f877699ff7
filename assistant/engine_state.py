"""What may be known of a variable of the engine's state: yes, no, or nothing.

The lowest layer: procedures say what a step needs and leaves in these values, and the visit keeps them. Refuses to know
which variables there are (the equipment file names them) and how long a value holds.
"""

from __future__ import annotations

from enum import StrEnum


class Known(StrEnum):
    """What is known of a variable of the engine's state, as a step needs or leaves it and as a visit holds it."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"
