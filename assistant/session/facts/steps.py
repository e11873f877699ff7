"""Facts of steps: reached, answered, timed, done, or left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.session.facts.places import StepPlace
from assistant.session.facts.texts import CalculationText, WorkText
from assistant.session.inputs import Clip, Source


@dataclass(frozen=True, slots=True)
class StepReached:
    """A step came into focus.

    title: as in the procedure.
    part: before, between (a change of state), steps or after.
    """

    place: StepPlace
    title: str
    part: str
    kind: Literal["step reached"] = "step reached"


@dataclass(frozen=True, slots=True)
class StepDone:
    """A step was completed."""

    place: StepPlace
    title: str
    kind: Literal["step done"] = "step done"


@dataclass(frozen=True, slots=True)
class StepSkipped:
    """A step was left out, with a reason.

    reason: the technician's words, or why a calculation had no result.
    clip: the sound of the reason.
    """

    place: StepPlace
    title: str
    reason: CalculationText
    clip: Clip | None
    kind: Literal["step skipped"] = "step skipped"


@dataclass(frozen=True, slots=True)
class StepReopened:
    """A step counts as not done any more."""

    place: StepPlace
    title: str
    because: WorkText
    kind: Literal["step reopened"] = "step reopened"


@dataclass(frozen=True, slots=True)
class AnswerRecorded:
    """A check was answered. good: whether the procedure counts the answer as in order."""

    place: StepPlace
    question: str
    key: str
    phrase: str
    good: bool
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["answer recorded"] = "answer recorded"


@dataclass(frozen=True, slots=True)
class StepPassedOver:
    """A step does not apply after what was answered.

    by: the step that was answered.
    because: the answer's phrase.
    """

    place: StepPlace
    title: str
    by: StepPlace
    because: str
    kind: Literal["step passed over"] = "step passed over"


@dataclass(frozen=True, slots=True)
class HalfDone:
    """The first half of a step was done; its second is asked for."""

    place: StepPlace
    kind: Literal["half done"] = "half done"


@dataclass(frozen=True, slots=True)
class HoldPointPassed:
    """A hold point was acknowledged in its set words."""

    place: StepPlace
    title: str
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["hold point passed"] = "hold point passed"


@dataclass(frozen=True, slots=True)
class TimerStarted:
    """A timer began. run: counted from 1 for each timer; a restart has a number of its own."""

    timer: str
    run: int
    seconds: float
    kind: Literal["timer started"] = "timer started"


@dataclass(frozen=True, slots=True)
class TimerEnded:
    """A timer ran its whole time."""

    timer: str
    run: int
    kind: Literal["timer ended"] = "timer ended"


StepFact = (
    StepReached
    | StepDone
    | StepSkipped
    | StepReopened
    | AnswerRecorded
    | StepPassedOver
    | HalfDone
    | HoldPointPassed
    | TimerStarted
    | TimerEnded
)
