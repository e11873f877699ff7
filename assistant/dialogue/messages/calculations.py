"""Messages about values that are worked out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assistant.quantities import Quantity
from assistant.session.facts import CalculationText


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A calculation's result."""

    kind: ClassVar[str] = "WorkedOut"
    name: str
    result: Quantity | CalculationText


@dataclass(frozen=True, slots=True)
class Caveat:
    """What is to be known of a calculation's result."""

    kind: ClassVar[str] = "Caveat"
    text: CalculationText


@dataclass(frozen=True, slots=True)
class NotWorkedOut:
    """A calculation cannot be done. because: why not."""

    kind: ClassVar[str] = "NotWorkedOut"
    name: str
    because: CalculationText


CalculationMessage = WorkedOut | Caveat | NotWorkedOut
