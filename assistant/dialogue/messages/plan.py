"""Messages about what is due, what it needs, and the order of tasks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from assistant.grammar.expectation import Offer
from assistant.quantities import Quantity
from assistant.session.facts import PlanText


@dataclass(frozen=True, slots=True)
class TaskBegins:
    """A task of the visit begins."""

    kind: ClassVar[str] = "TaskBegins"
    title: str


@dataclass(frozen=True, slots=True)
class WaitsFor:
    """What comes about by itself, and is waited for. reason: what it is for."""

    kind: ClassVar[str] = "WaitsFor"
    reason: PlanText


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """Tasks that may be done while it comes about."""

    kind: ClassVar[str] = "Meanwhile"
    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NothingMeanwhile:
    """No task may be done while it comes about."""

    kind: ClassVar[str] = "NothingMeanwhile"


@dataclass(frozen=True, slots=True)
class NothingIsDue:
    """No task is due before the next visit."""

    kind: ClassVar[str] = "NothingIsDue"


@dataclass(frozen=True, slots=True)
class TaskOverdue:
    """A task is overdue."""

    kind: ClassVar[str] = "TaskOverdue"
    title: str


@dataclass(frozen=True, slots=True)
class TaskDueNow:
    """A task is due."""

    kind: ClassVar[str] = "TaskDueNow"
    title: str


@dataclass(frozen=True, slots=True)
class TaskDueAt:
    """A task is due again at these run hours."""

    kind: ClassVar[str] = "TaskDueAt"
    title: str
    hours: Quantity


@dataclass(frozen=True, slots=True)
class TaskDueOn:
    """A task is due again on this day."""

    kind: ClassVar[str] = "TaskDueOn"
    title: str
    day: date


@dataclass(frozen=True, slots=True)
class TaskDueAtOrOn:
    """A task is due again at these run hours or on this day, whichever comes first."""

    kind: ClassVar[str] = "TaskDueAtOrOn"
    title: str
    hours: Quantity
    day: date


@dataclass(frozen=True, slots=True)
class TaskDueByCondition:
    """A task is due again when the engine asks for it."""

    kind: ClassVar[str] = "TaskDueByCondition"
    title: str


@dataclass(frozen=True, slots=True)
class PartsNeeded:
    """Parts for the tasks still to be done."""

    kind: ClassVar[str] = "PartsNeeded"
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SuppliesNeeded:
    """What is used up by the tasks still to be done."""

    kind: ClassVar[str] = "SuppliesNeeded"
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToolsNeeded:
    """Tools for the tasks still to be done."""

    kind: ClassVar[str] = "ToolsNeeded"
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NothingNeeded:
    """Nothing is needed for what is still to be done."""

    kind: ClassVar[str] = "NothingNeeded"


@dataclass(frozen=True, slots=True)
class AskPuttingOff:
    """For what reason is a task left out of the visit?"""

    kind: ClassVar[str] = "AskPuttingOff"
    title: str


@dataclass(frozen=True, slots=True)
class TaskIsPutOff:
    """A task is left out of the visit and stays due."""

    kind: ClassVar[str] = "TaskIsPutOff"
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class CannotPutOff:
    """No task can be put off now: what was begun is finished."""

    kind: ClassVar[str] = "CannotPutOff"


@dataclass(frozen=True, slots=True)
class AskWhichTask:
    """Which of these tasks is meant? choices: what each is called."""

    kind: ClassVar[str] = "AskWhichTask"
    choices: tuple[Offer, ...]


@dataclass(frozen=True, slots=True)
class NoOtherTask:
    """There is no task that can be chosen here."""

    kind: ClassVar[str] = "NoOtherTask"


@dataclass(frozen=True, slots=True)
class AskAdding:
    """For what reason is a task added to the visit?"""

    kind: ClassVar[str] = "AskAdding"
    title: str


@dataclass(frozen=True, slots=True)
class TaskIsAdded:
    """A task is added to the visit."""

    kind: ClassVar[str] = "TaskIsAdded"
    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class TaskComesFirst:
    """A task is done before all others that are left."""

    kind: ClassVar[str] = "TaskComesFirst"
    title: str


@dataclass(frozen=True, slots=True)
class NoSuchOrder:
    """The tasks cannot be brought in such an order."""

    kind: ClassVar[str] = "NoSuchOrder"


PlanMessage = (
    TaskBegins
    | WaitsFor
    | Meanwhile
    | NothingMeanwhile
    | NothingIsDue
    | TaskOverdue
    | TaskDueNow
    | TaskDueAt
    | TaskDueOn
    | TaskDueAtOrOn
    | TaskDueByCondition
    | PartsNeeded
    | SuppliesNeeded
    | ToolsNeeded
    | NothingNeeded
    | AskPuttingOff
    | TaskIsPutOff
    | CannotPutOff
    | AskWhichTask
    | NoOtherTask
    | AskAdding
    | TaskIsAdded
    | TaskComesFirst
    | NoSuchOrder
)
