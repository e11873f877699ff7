"""Messages about the device: its voice, its clock, its files, what it lost."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class VoiceIsChanged:
    """The assistant speaks louder, softer, slower or faster now."""


@dataclass(frozen=True, slots=True)
class DeviceGone:
    """A device does not answer any more."""

    device: str


@dataclass(frozen=True, slots=True)
class ClockBeforeVisit:
    """The clock shows less than an earlier visit did. shown, visit: days of the two."""

    shown: date
    visit: date


@dataclass(frozen=True, slots=True)
class ClockBeforeProgram:
    """The clock shows a day on which the program was not made yet."""

    shown: date


@dataclass(frozen=True, slots=True)
class ClockHasJumped:
    """The clock was set, or went wrong, during the visit."""


@dataclass(frozen=True, slots=True)
class SomebodyBeside:
    """Somebody else is at work on the asset too. technician: the role."""

    technician: str


@dataclass(frozen=True, slots=True)
class RecordMayLackLines:
    """There are sounds that no line of the journal cites."""


@dataclass(frozen=True, slots=True)
class CannotRecord:
    """The record cannot be written, so the work stands by."""


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
