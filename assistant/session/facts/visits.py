"""Facts of the visit as a whole: how it begins, what it is to do, pauses, and its end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.session.facts.places import PlannedStage
from assistant.session.facts.texts import PlanText, WorkText
from assistant.session.inputs import Clip, Order


@dataclass(frozen=True, slots=True)
class WorkTakenUp:
    """The visit began.

    title: of the work.
    steps: how many steps it has.
    """

    order: Order
    title: str
    steps: int
    kind: Literal["work taken up"] = "work taken up"


@dataclass(frozen=True, slots=True)
class WorkTakenUpAgain:
    """A broken-off visit went on; nothing that was known of the engine is known any more."""

    technician: str
    kind: Literal["work taken up again"] = "work taken up again"


@dataclass(frozen=True, slots=True)
class VisitPlanned:
    """The order of the visit, from its beginning to its end; a later one takes its place.

    steps: of all stages.
    """

    stages: tuple[PlannedStage, ...]
    because: PlanText
    steps: int
    kind: Literal["visit planned"] = "visit planned"


@dataclass(frozen=True, slots=True)
class StageDone:
    """Every step of a stage is done, left out or passed over. A task that is done is due anew from now on."""

    stage: PlannedStage
    kind: Literal["stage done"] = "stage done"


@dataclass(frozen=True, slots=True)
class TaskPutOff:
    """A task was left out of the visit, with a reason; it stays due."""

    task: str
    title: str
    reason: str
    clip: Clip | None
    kind: Literal["task put off"] = "task put off"


@dataclass(frozen=True, slots=True)
class TaskChosen:
    """A task is to be added to the visit; the reason is asked for. task: empty when it was taken back."""

    task: str
    kind: Literal["task chosen"] = "task chosen"


@dataclass(frozen=True, slots=True)
class TaskAdded:
    """A task was added to the visit, with a reason."""

    task: str
    title: str
    reason: str
    clip: Clip | None
    kind: Literal["task added"] = "task added"


@dataclass(frozen=True, slots=True)
class WorkHandedOver:
    """Another person goes on with the work; nothing that was known of the engine is known any more."""

    technician: str
    kind: Literal["work handed over"] = "work handed over"


@dataclass(frozen=True, slots=True)
class StoodBy:
    """The technician asked the assistant to wait."""

    kind: Literal["stood by"] = "stood by"


@dataclass(frozen=True, slots=True)
class CarriedOn:
    """The wait was over. seconds: how long it was."""

    seconds: float
    kind: Literal["carried on"] = "carried on"


@dataclass(frozen=True, slots=True)
class WorkEnded:
    """The work ended. complete: false when it was ended before its last step."""

    complete: bool
    because: WorkText
    kind: Literal["work ended"] = "work ended"


VisitFact = (
    WorkTakenUp
    | WorkTakenUpAgain
    | VisitPlanned
    | StageDone
    | TaskPutOff
    | TaskChosen
    | TaskAdded
    | WorkHandedOver
    | StoodBy
    | CarriedOn
    | WorkEnded
)
