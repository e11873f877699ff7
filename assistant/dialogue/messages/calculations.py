"""Messages about values that are worked out."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.quantities import Quantity


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A calculation's result."""

    name: str
    result: Quantity | str


@dataclass(frozen=True, slots=True)
class Caveat:
    """What is to be known of a calculation's result."""

    text: str


@dataclass(frozen=True, slots=True)
class NotWorkedOut:
    """A calculation cannot be done. because: in words."""

    name: str
    because: str


CalculationMessage = WorkedOut | Caveat | NotWorkedOut
