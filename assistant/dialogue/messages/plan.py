"""Messages about what is due, what it needs, and the order of tasks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from assistant.grammar.expectation import Offer
from assistant.quantities import Quantity


@dataclass(frozen=True, slots=True)
class TaskBegins:
    """A task of the visit begins."""

    title: str


@dataclass(frozen=True, slots=True)
class WaitsFor:
    """What comes about by itself, and is waited for. reason: what it is for, in the planner's words."""

    reason: str


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """Tasks that may be done while it comes about."""

    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NothingMeanwhile:
    """No task may be done while it comes about."""


@dataclass(frozen=True, slots=True)
class NothingIsDue:
    """No task is due before the next visit."""


@dataclass(frozen=True, slots=True)
class TaskOverdue:
    """A task is overdue."""

    title: str


@dataclass(frozen=True, slots=True)
class TaskDueNow:
    """A task is due."""

    title: str


@dataclass(frozen=True, slots=True)
class TaskDueAt:
    """A task is due again at these run hours."""

    title: str
    hours: Quantity


@dataclass(frozen=True, slots=True)
class TaskDueOn:
    """A task is due again on this day."""

    title: str
    day: date


@dataclass(frozen=True, slots=True)
class TaskDueAtOrOn:
    """A task is due again at these run hours or on this day, whichever comes first."""

    title: str
    hours: Quantity
    day: date


@dataclass(frozen=True, slots=True)
class TaskDueByCondition:
    """A task is due again when the engine asks for it."""

    title: str


@dataclass(frozen=True, slots=True)
class PartsNeeded:
    """Parts for the tasks still to be done."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SuppliesNeeded:
    """What is used up by the tasks still to be done."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToolsNeeded:
    """Tools for the tasks still to be done."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NothingNeeded:
    """Nothing is needed for what is still to be done."""


@dataclass(frozen=True, slots=True)
class AskPuttingOff:
    """For what reason is a task left out of the visit?"""

    title: str


@dataclass(frozen=True, slots=True)
class TaskIsPutOff:
    """A task is left out of the visit and stays due."""

    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class CannotPutOff:
    """No task can be put off now: what was begun is finished."""


@dataclass(frozen=True, slots=True)
class AskWhichTask:
    """Which of these tasks is meant? choices: what each is called."""

    choices: tuple[Offer, ...]


@dataclass(frozen=True, slots=True)
class NoOtherTask:
    """There is no task that can be chosen here."""


@dataclass(frozen=True, slots=True)
class AskAdding:
    """For what reason is a task added to the visit?"""

    title: str


@dataclass(frozen=True, slots=True)
class TaskIsAdded:
    """A task is added to the visit."""

    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class TaskComesFirst:
    """A task is done before all others that are left."""

    title: str


@dataclass(frozen=True, slots=True)
class NoSuchOrder:
    """The tasks cannot be brought in such an order."""


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
