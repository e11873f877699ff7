"""What the program itself found wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.quantities import Limits, Quantity


@dataclass(frozen=True, slots=True)
class ValueOutOfLimits:
    """A value is not within its limits and was not put right.

    value: as measured, and in the unit of the limits.
    """

    name: str
    value: str
    limits: Limits
    kind: Literal["value out of limits"] = "value out of limits"


@dataclass(frozen=True, slots=True)
class ValueInconclusive:
    """A value lies too near a limit, and was not settled. value: as in `ValueOutOfLimits`."""

    name: str
    value: str
    limits: Limits
    kind: Literal["value inconclusive"] = "value inconclusive"


@dataclass(frozen=True, slots=True)
class AnsweredTooOften:
    """A check was answered so as often as the procedure allows."""

    title: str
    phrase: str
    times: int
    kind: Literal["answered too often"] = "answered too often"


@dataclass(frozen=True, slots=True)
class SubstituteUsed:
    """A substitute was fitted. reason: the technician's."""

    title: str
    reason: str
    kind: Literal["substitute used"] = "substitute used"


@dataclass(frozen=True, slots=True)
class DroppedAndExcused:
    """Something fell and was not found."""

    kind: Literal["dropped and excused"] = "dropped and excused"


@dataclass(frozen=True, slots=True)
class SpokenFinding:
    """A finding of which there is only its sound."""

    kind: Literal["spoken finding"] = "spoken finding"


@dataclass(frozen=True, slots=True)
class SpokenAtStep:
    """A finding of which there is only its sound. title: of the step at which it was spoken."""

    title: str
    kind: Literal["spoken at step"] = "spoken at step"


@dataclass(frozen=True, slots=True)
class ReadingFoundOut:
    """A reading of an earlier visit was not within its limits.

    verdict: a key of the word table `verdict`.
    limits: as recorded.
    """

    name: str
    quantity: Quantity
    verdict: str
    limits: str
    kind: Literal["reading found out"] = "reading found out"


@dataclass(frozen=True, slots=True)
class VisitBrokenOff:
    """A visit was ended before its end."""

    kind: Literal["visit broken off"] = "visit broken off"


FindingStatement = (
    ValueOutOfLimits
    | ValueInconclusive
    | AnsweredTooOften
    | SubstituteUsed
    | DroppedAndExcused
    | SpokenFinding
    | SpokenAtStep
    | ReadingFoundOut
    | VisitBrokenOff
)
