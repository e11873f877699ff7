"""Facts of the device: its voice, what it spoke, what it lost, its clock and its files."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from assistant.session.inputs import Said


@dataclass(frozen=True, slots=True)
class VoiceChanged:
    """The assistant speaks otherwise.

    loudness: steps of 4 dB from the usual.
    pace: steps of a tenth.
    """

    loudness: int
    pace: int
    kind: Literal["voice changed"] = "voice changed"


@dataclass(frozen=True, slots=True)
class Spoken:
    """A prompt was played, whole or cut off."""

    said: tuple[Said, ...]
    kind: Literal["spoken"] = "spoken"


@dataclass(frozen=True, slots=True)
class DeviceLost:
    """The assistant lost a device."""

    device: str
    detail: str
    kind: Literal["device lost"] = "device lost"


class ClockDoubt(StrEnum):
    """Why a clock is not to be trusted."""

    BEFORE_SESSION = "before session"
    BEFORE_PROGRAM = "before program"
    JUMPED = "jumped"


@dataclass(frozen=True, slots=True)
class ClockDoubted:
    """The clock showed what cannot be.

    why: against what it was held.
    shown: ISO 8601, what it showed.
    against: ISO 8601, what it should have shown at least; after a jump, what it would have shown without.
    session: that `against` is of; empty when it is of no other session.
    """

    why: ClockDoubt
    shown: str
    against: str
    session: str
    kind: Literal["clock doubted"] = "clock doubted"


@dataclass(frozen=True, slots=True)
class WorkedBeside:
    """Somebody else was at work on the asset when the work was taken up, and it was taken up all the same."""

    technician: str
    session: str
    since: str
    kind: Literal["worked beside"] = "worked beside"


@dataclass(frozen=True, slots=True)
class FilesSetAside:
    """What no line cites lay in the session's folder, and was set aside.

    names: of the files, as they were called.
    sounds: how many of them are sounds; where there are any, lines may be missing.
    """

    names: tuple[str, ...]
    sounds: int
    kind: Literal["files set aside"] = "files set aside"


@dataclass(frozen=True, slots=True)
class CopyReplaced:
    """A copy of a procedure did not hold; the installed file with the same hash took its place. name: of the copy."""

    name: str
    kind: Literal["copy replaced"] = "copy replaced"


DeviceFact = VoiceChanged | Spoken | DeviceLost | ClockDoubted | WorkedBeside | FilesSetAside | CopyReplaced
