"""Inputs: what comes from the world. A closed union of frozen dataclasses, each in an envelope.

The envelope brings identifier and time; nothing in the core ever asks for either. Strings that a person said
have become meanings before they stand here.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from assistant.meanings import Hypothesis


@dataclass(frozen=True, slots=True)
class Instant:
    """A moment.

    wall: ISO 8601, UTC.
    seconds: monotonic, since `boot` began.
    boot: identifier of that run of the clock.

    Durations are differences of `seconds` within one boot; `wall` is for people.
    """

    wall: str
    seconds: float
    boot: str


class Source(StrEnum):
    """How an answer reached us."""

    VOICE = "voice"
    TYPED = "typed"


class AnswerVerdict(StrEnum):
    """What the judgement made of a hearing."""

    ACCEPTED = "accepted"
    DOUBTFUL = "doubtful"


class AudioProblem(StrEnum):
    """What is in the way of hearing."""

    NOISE = "noise"
    FAINT = "faint"
    CLIPPED = "clipped"


@dataclass(frozen=True, slots=True)
class Clip:
    """A sound on disk before the input that cites it.

    sha256: of the file, also its name.
    seconds: its length.
    """

    sha256: str
    seconds: float


@dataclass(frozen=True, slots=True)
class ProcedureCopy:
    """An exact file of procedures in use.

    name: relative to the equipment's folder.
    sha256: of its bytes.
    """

    name: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Order:
    """The work as ordered.

    tasks: identifiers of the procedures, in order.
    demo: true when its data is invented.
    planned: `tasks` are those of the equipment file, the most urgent first, and the assistant plans the visit.
    """

    asset: str
    model: str
    technician: str
    tasks: tuple[str, ...]
    copies: tuple[ProcedureCopy, ...]
    demo: bool
    planned: bool = False


@dataclass(frozen=True, slots=True)
class AtWork:
    """Somebody who is at work on the asset already.

    session: name of its folder.
    since: ISO 8601, when it began.
    """

    technician: str
    session: str
    since: str


@dataclass(frozen=True, slots=True)
class OpeningCheck:
    """What the device found when a session was opened.

    newest: ISO 8601, the latest moment that is known to be over; empty when none is known.
    newest_of: the session of that moment; empty when it is the program's own date.
    beside: who else is at work on the asset.
    loose: sounds in the session's folder that no line cites.
    set_aside: names of all files that were set aside: those sounds, others that no line cites, a torn last line.
    replaced: copies of procedures that did not hold and were replaced by what is installed, with the same hash.
    """

    newest: str = ""
    newest_of: str = ""
    beside: tuple[AtWork, ...] = ()
    loose: int = 0
    set_aside: tuple[str, ...] = ()
    replaced: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class WorkOrdered:
    """A technician takes up the work. The first input of a session. check: None in a rehearsal and in old journals."""

    order: Order
    check: OpeningCheck | None = None
    kind: Literal["work ordered"] = "work ordered"


@dataclass(frozen=True, slots=True)
class WorkResumed:
    """A session that broke off is taken up again.

    technician: the role of who does so.
    check: as in `WorkOrdered`.
    """

    technician: str
    check: OpeningCheck | None = None
    kind: Literal["work resumed"] = "work resumed"


@dataclass(frozen=True, slots=True)
class Heard:
    """An utterance in an exchange.

    hypotheses: distinct meanings, best first, empty when nothing fitted.
    hindrance: what was in the way of a doubtful one.
    """

    exchange: int
    verdict: AnswerVerdict
    hypotheses: tuple[Hypothesis, ...]
    source: Source
    clip: Clip | None
    hindrance: AudioProblem | None = None
    kind: Literal["heard"] = "heard"


@dataclass(frozen=True, slots=True)
class Silence:
    """Nothing was said while an exchange listened. seconds: how long it listened."""

    exchange: int
    seconds: float
    kind: Literal["silence"] = "silence"


@dataclass(frozen=True, slots=True)
class Said:
    """A message that was really played.

    name: the message's kind.
    text: as written.
    whole: false when it was cut off.
    """

    name: str
    text: str
    whole: bool


@dataclass(frozen=True, slots=True)
class PromptPlayed:
    """A prompt ended, or the button or Enter cut it off. said: what was played, in order."""

    exchange: int
    said: tuple[Said, ...]
    kind: Literal["prompt played"] = "prompt played"


@dataclass(frozen=True, slots=True)
class ButtonPressed:
    """The button or Enter was pressed while the assistant listened."""

    exchange: int
    kind: Literal["button pressed"] = "button pressed"


@dataclass(frozen=True, slots=True)
class TimerRanOut:
    """A timer ended.

    timer: its identifier.
    run: which start of it.
    """

    timer: str
    run: int
    kind: Literal["timer ran out"] = "timer ran out"


DEVICES = ("microphone", "loudspeaker", "voice", "recogniser", "keyboard", "button", "screen")
"""What a visit may lose."""


@dataclass(frozen=True, slots=True)
class DeviceVanished:
    """A device is gone.

    device: one of `DEVICES`.
    detail: what the system said.
    """

    device: str
    detail: str
    kind: Literal["device vanished"] = "device vanished"


@dataclass(frozen=True, slots=True)
class HistoryGiven:
    """What was done before sessions were kept, given as a file.

    source: its name.
    sha256: of its bytes, a copy of which lies beside the journal.

    It is the only input of its session.
    """

    asset: str
    source: str
    sha256: str
    kind: Literal["history given"] = "history given"


@dataclass(frozen=True, slots=True)
class SessionSalvaged:
    """What holds of a damaged session was copied into this one, as the decisions after this one. The first input.

    asset: identifier, empty when the line that named it is damaged.
    source: name of the damaged session's folder.
    sha256: of its journal as it was found, of which a copy lies here.
    """

    asset: str
    source: str
    sha256: str
    kind: Literal["session salvaged"] = "session salvaged"


Input = (
    WorkOrdered
    | WorkResumed
    | Heard
    | Silence
    | PromptPlayed
    | ButtonPressed
    | TimerRanOut
    | DeviceVanished
    | HistoryGiven
    | SessionSalvaged
)


@dataclass(frozen=True, slots=True)
class Envelope:
    """An input with its identifier (counted from 1 within a session) and its moment."""

    number: int
    at: Instant
    input: Input
