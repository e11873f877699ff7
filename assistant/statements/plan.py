"""What is stated of a plan: why it was made, and why each stage stands where it does.

Titles are those of the equipment file, and `state` is its words for a state of the engine.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class AsOrdered:
    """The tasks that were ordered, in the cheapest order."""

    kind: Literal["as ordered"] = "as ordered"


@dataclass(frozen=True, slots=True)
class TaskLeftOut:
    """A task was put off. reason: the technician's."""

    title: str
    reason: str
    kind: Literal["task left out"] = "task left out"


@dataclass(frozen=True, slots=True)
class TaskTakenIn:
    """A task was added. reason: the technician's."""

    title: str
    reason: str
    kind: Literal["task taken in"] = "task taken in"


@dataclass(frozen=True, slots=True)
class TaskMovedFirst:
    """The technician wanted a task first."""

    title: str
    kind: Literal["task moved first"] = "task moved first"


@dataclass(frozen=True, slots=True)
class AfterTasks:
    """A precaution wants it after these tasks. because: in the equipment file's words."""

    titles: tuple[str, ...]
    because: str
    kind: Literal["after tasks"] = "after tasks"


@dataclass(frozen=True, slots=True)
class OnlyThisWayRound:
    """The next task cannot come before it."""

    title: str
    kind: Literal["only this way round"] = "only this way round"


@dataclass(frozen=True, slots=True)
class FewerMinutes:
    """The next task before it would take longer."""

    title: str
    minutes: float
    kind: Literal["fewer minutes"] = "fewer minutes"


@dataclass(frozen=True, slots=True)
class FewerChanges:
    """The next task before it would take more changes of state."""

    title: str
    changes: int
    kind: Literal["fewer changes"] = "fewer changes"


@dataclass(frozen=True, slots=True)
class LeftSo:
    """The set is left in this state."""

    state: str
    kind: Literal["left so"] = "left so"


@dataclass(frozen=True, slots=True)
class NeededFor:
    """Tasks, or a change, need this state."""

    state: str
    titles: tuple[str, ...]
    kind: Literal["needed for"] = "needed for"


@dataclass(frozen=True, slots=True)
class MindedFor:
    """A precaution wants this state for these tasks. because: as in `AfterTasks`."""

    state: str
    titles: tuple[str, ...]
    because: str
    kind: Literal["minded for"] = "minded for"


PlanStatement = (
    AsOrdered
    | TaskLeftOut
    | TaskTakenIn
    | TaskMovedFirst
    | AfterTasks
    | OnlyThisWayRound
    | FewerMinutes
    | FewerChanges
    | LeftSo
    | NeededFor
    | MindedFor
)
