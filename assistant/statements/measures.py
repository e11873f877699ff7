"""How a day and limits are put; messages and statements hold them as values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.quantities import Quantity


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """A day of the calendar. month: a key of the word table `month`."""

    day: int
    month: str
    year: int
    kind: Literal["day"] = "day"


@dataclass(frozen=True, slots=True)
class AtMost:
    """Limits with a high end."""

    high: Quantity
    kind: Literal["at most"] = "at most"


@dataclass(frozen=True, slots=True)
class AtLeast:
    """Limits with a low end."""

    low: Quantity
    kind: Literal["at least"] = "at least"


@dataclass(frozen=True, slots=True)
class Exactly:
    """Limits of one value."""

    value: Quantity
    kind: Literal["exactly"] = "exactly"


@dataclass(frozen=True, slots=True)
class FromTo:
    """Limits with two ends."""

    low: Quantity
    high: Quantity
    kind: Literal["from to"] = "from to"


MeasureStatement = CalendarDay | AtMost | AtLeast | Exactly | FromTo
