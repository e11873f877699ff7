"""What is stated of the course of the work: why a step is done again, a state is known or forgotten, the work ends."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class TechniciansWord:
    """The technician said so."""

    kind: Literal["technicians word"] = "technicians word"


@dataclass(frozen=True, slots=True)
class TechniciansCorrection:
    """The technician took it back."""

    kind: Literal["technicians correction"] = "technicians correction"


@dataclass(frozen=True, slots=True)
class NeededBy:
    """A step needs a state that is not known.

    title: of the step.
    state: in the equipment file's words.
    """

    title: str
    state: str
    kind: Literal["needed by"] = "needed by"


@dataclass(frozen=True, slots=True)
class DeviceSlept:
    """The device was off or asleep."""

    kind: Literal["device slept"] = "device slept"


@dataclass(frozen=True, slots=True)
class WasLongPause:
    """The assistant stood by for long."""

    kind: Literal["long pause"] = "long pause"


@dataclass(frozen=True, slots=True)
class EndedByTechnician:
    """The technician ended the work before its last step."""

    kind: Literal["ended by technician"] = "ended by technician"


@dataclass(frozen=True, slots=True)
class EveryStepDone:
    """No step is open."""

    kind: Literal["every step done"] = "every step done"


WorkStatement = (
    TechniciansWord | TechniciansCorrection | NeededBy | DeviceSlept | WasLongPause | EndedByTechnician | EveryStepDone
)
