"""Messages about the device: its voice, its clock, its files, what it lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class VoiceIsChanged:
    """The assistant speaks louder, softer, slower or faster now."""

    kind: ClassVar[str] = "VoiceIsChanged"


@dataclass(frozen=True, slots=True)
class DeviceGone:
    """A device does not answer any more."""

    kind: ClassVar[str] = "DeviceGone"
    device: str


@dataclass(frozen=True, slots=True)
class ClockBeforeVisit:
    """The clock shows less than an earlier visit did. shown, visit: days of the two."""

    kind: ClassVar[str] = "ClockBeforeVisit"
    shown: date
    visit: date


@dataclass(frozen=True, slots=True)
class ClockBeforeProgram:
    """The clock shows a day on which the program was not made yet."""

    kind: ClassVar[str] = "ClockBeforeProgram"
    shown: date


@dataclass(frozen=True, slots=True)
class ClockHasJumped:
    """The clock was set, or went wrong, during the visit."""

    kind: ClassVar[str] = "ClockHasJumped"


@dataclass(frozen=True, slots=True)
class SomebodyBeside:
    """Somebody else is at work on the asset too. technician: the role."""

    kind: ClassVar[str] = "SomebodyBeside"
    technician: str


@dataclass(frozen=True, slots=True)
class RecordMayLackLines:
    """There are sounds that no line of the journal cites."""

    kind: ClassVar[str] = "RecordMayLackLines"


@dataclass(frozen=True, slots=True)
class CannotRecord:
    """The record cannot be written, so the work stands by."""

    kind: ClassVar[str] = "CannotRecord"


DeviceMessage = (
    VoiceIsChanged
    | DeviceGone
    | ClockBeforeVisit
    | ClockBeforeProgram
    | ClockHasJumped
    | SomebodyBeside
    | RecordMayLackLines
    | CannotRecord
)
