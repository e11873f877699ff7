"""Messages of a step: its warnings, its text, and what follows from an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assistant.procedure.step import SignalWord


@dataclass(frozen=True, slots=True)
class Hazard:
    """A warning before a step."""

    kind: ClassVar[str] = "Hazard"
    signal: SignalWord
    text: str


@dataclass(frozen=True, slots=True)
class StepText:
    """What a step asks for. step: its identifier, for a listener that is a program."""

    kind: ClassVar[str] = "StepText"
    step: str
    text: str


@dataclass(frozen=True, slots=True)
class Details:
    """The longer explanation of a step."""

    kind: ClassVar[str] = "Details"
    text: str


@dataclass(frozen=True, slots=True)
class NoDetails:
    """There is no longer explanation."""

    kind: ClassVar[str] = "NoDetails"


@dataclass(frozen=True, slots=True)
class UseCard:
    """What may be said at a hold point; its phrase is never spoken by the assistant."""

    kind: ClassVar[str] = "UseCard"
    card: int


@dataclass(frozen=True, slots=True)
class Reply:
    """What the procedure says to an answer."""

    kind: ClassVar[str] = "Reply"
    text: str


@dataclass(frozen=True, slots=True)
class AnswerTaken:
    """A named answer as it was taken, so that a wrong one can be corrected."""

    kind: ClassVar[str] = "AnswerTaken"
    phrase: str


@dataclass(frozen=True, slots=True)
class HoldStays:
    """`next` does not pass a hold point."""

    kind: ClassVar[str] = "HoldStays"
    card: int


@dataclass(frozen=True, slots=True)
class TimerRuns:
    """A wait has begun. seconds: its whole length."""

    kind: ClassVar[str] = "TimerRuns"
    seconds: float


@dataclass(frozen=True, slots=True)
class TimerNotOver:
    """A wait is not over. seconds: what is left."""

    kind: ClassVar[str] = "TimerNotOver"
    seconds: float


@dataclass(frozen=True, slots=True)
class TimeIsUp:
    """A wait is over."""

    kind: ClassVar[str] = "TimeIsUp"
    title: str


@dataclass(frozen=True, slots=True)
class CannotReopen:
    """The last step cannot be opened again, for the engine is not as it needs it."""

    kind: ClassVar[str] = "CannotReopen"
    title: str
    state: str


@dataclass(frozen=True, slots=True)
class Reopened:
    """A step counts as not done any more."""

    kind: ClassVar[str] = "Reopened"
    title: str


@dataclass(frozen=True, slots=True)
class CannotSkip:
    """A step may not be left out."""

    kind: ClassVar[str] = "CannotSkip"
    title: str


@dataclass(frozen=True, slots=True)
class AskReason:
    """Why is the step left out?"""

    kind: ClassVar[str] = "AskReason"
    title: str


@dataclass(frozen=True, slots=True)
class Skipped:
    """The step is left out."""

    kind: ClassVar[str] = "Skipped"
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class ProveAgain:
    """A step needs a state that is not proved; the step that proves it comes first. state: in words."""

    kind: ClassVar[str] = "ProveAgain"
    state: str
    title: str


@dataclass(frozen=True, slots=True)
class AskState:
    """A step needs a state that only the technician's word can tell. state: in words."""

    kind: ClassVar[str] = "AskState"
    state: str


@dataclass(frozen=True, slots=True)
class NotYet:
    """The state that the step needs is not so yet."""

    kind: ClassVar[str] = "NotYet"


StepMessage = (
    Hazard
    | StepText
    | Details
    | NoDetails
    | UseCard
    | Reply
    | AnswerTaken
    | HoldStays
    | TimerRuns
    | TimerNotOver
    | TimeIsUp
    | CannotReopen
    | Reopened
    | CannotSkip
    | AskReason
    | Skipped
    | ProveAgain
    | AskState
    | NotYet
)
