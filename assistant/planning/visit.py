"""The plan of one visit: which tasks, in which order, with which parts, tools and people, and how long it takes.

Puts together what `past`, `due` and `order` say. Refuses to know files, and what day it is.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from assistant.errors import ProcedureError
from assistant.planning.due import URGENCY, Due, DueStatus, due
from assistant.planning.order import OrderedStage, order
from assistant.planning.past import History, PastVisit, Rate, in_hours, in_order
from assistant.procedure.equipment import Equipment, NeededPart, Supply
from assistant.quantities import Quantity
from assistant.statements import kinds as s

MIN_TIMES = 3  # so many past visits say better than the equipment file how long a task takes
MAX_TIMES = 5  # more than these are of another time


@dataclass(frozen=True, slots=True)
class Person:
    """Who else is wanted.

    what: a second person, or a licence.
    why: in the equipment file's words.
    tasks: titles.
    """

    what: str
    why: str
    tasks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """A visit as planned.

    asset: identifier.
    hours: read today, or estimated; None when they are not known.
    dues: every task of the equipment, the most urgent first.
    minutes: of each of them.
    stages: the tasks of this visit with the changes of state between them.
    findings: those that no task follows.
    remarks: what was not believed.
    damaged: those of the remarks about sessions that could not be read whole.
    """

    asset: str
    equipment: Equipment
    hours: Decimal | None
    estimated: bool
    day: date
    next_visit: date
    rate: Rate | None
    dues: tuple[Due, ...]
    minutes: dict[str, tuple[float, float]]
    stages: tuple[OrderedStage, ...]
    findings: tuple[s.DueStatement | str, ...]
    remarks: tuple[s.TrustStatement | str, ...]
    damaged: tuple[str, ...] = ()

    @property
    def tasks(self) -> tuple[str, ...]:
        """The tasks of this visit, in the order of the work."""
        return tuple(stage.name for stage in self.stages if stage.is_task)

    @property
    def takes(self) -> tuple[float, float]:
        """The minutes of the whole visit, from the shortest to the longest."""
        low, high = (sum(times) for times in zip((0.0, 0.0), *(stage.minutes for stage in self.stages), strict=True))
        return low, high

    @property
    def parts(self) -> tuple[NeededPart, ...]:
        """Parts by number, their pieces added."""
        found: dict[str, NeededPart] = {}
        for task in self.tasks:
            for part in self.equipment.tasks[task].parts:
                pieces = part.quantity + (found[part.number].quantity if part.number in found else 0)
                found[part.number] = NeededPart(name=part.name, number=part.number, quantity=pieces)
        return tuple(found.values())

    @property
    def consumables(self) -> tuple[Supply, ...]:
        """What is used up, by name, in the unit that comes first. Errors: QuantityError when kinds differ."""
        return _added(supply for task in self.tasks for supply in self.equipment.tasks[task].consumables)

    @property
    def waste(self) -> tuple[Supply, ...]:
        """What is carried away, by name, in the unit that comes first. Errors: QuantityError when kinds differ."""
        return _added(supply for task in self.tasks for supply in self.equipment.tasks[task].waste)

    @property
    def tools(self) -> tuple[str, ...]:
        """Each tool once."""
        return tuple(dict.fromkeys(tool for task in self.tasks for tool in self.equipment.tasks[task].tools))

    @property
    def people(self) -> tuple[Person, ...]:
        """Who else is wanted, each for all tasks that give the same reason."""
        found: dict[tuple[str, str], list[str]] = {}
        for name in self.tasks:
            task = self.equipment.tasks[name]
            for what, why in (("second person", task.second_person), ("licence", task.licence)):
                if why:
                    found.setdefault((what, why), []).append(task.title)
        return tuple(Person(what, why, tuple(titles)) for (what, why), titles in found.items())


def plan(
    equipment: Equipment,
    asset: str,
    past: Iterable[PastVisit],
    day: date,
    hours: Decimal | None = None,
    tasks: Sequence[str] | None = None,
) -> Plan:
    """The plan of a visit on a day.

    asset: identifier.
    past: its visits.
    hours: as the meter shows them; None: they are estimated from the past.
    tasks: identifiers; None: all that are due before the next visit.

    Errors: ProcedureError for a task that is not there, and when no order of the tasks is possible.
    """
    for name in tasks or ():
        if name not in equipment.tasks:
            near = difflib.get_close_matches(name, equipment.tasks, n=1)
            choices = f"Did you mean {near[0]!r}" if near else f"Use one of {', '.join(equipment.tasks)}"
            raise ProcedureError(f"task {name!r}", f"there is none for {asset}", choices)
    if not equipment.tasks:
        cause = "its equipment file holds no tasks, so nothing can be planned"
        raise ProcedureError(f"asset {asset!r}", cause, "Write them under `tasks` in equipment.yaml")
    history = in_order(past, day, hours)
    rate = history.rate()
    next_visit = history.next_visit(day, equipment.visit.months)
    remarks: list[s.TrustStatement] = list(history.remarks)
    now = hours
    if hours is None:
        now, remark = _estimated(history, day, rate)
        remarks.append(remark)
    dues = sorted(
        due(equipment, history, now, day, next_visit, rate), key=lambda task_due: URGENCY.index(task_due.standing)
    )
    wanted = [task_due.task for task_due in dues if task_due.standing is not DueStatus.LATER]
    chosen = wanted if tasks is None else [task_due.task for task_due in dues if task_due.task in tasks]
    minutes = {name: _minutes(equipment, name, history) for name in equipment.tasks}
    followed = {place for task in equipment.tasks.values() for place in task.follows}
    open_findings = history.open_findings(equipment)
    return Plan(
        asset,
        equipment,
        now,
        hours is None and now is not None,
        day,
        next_visit,
        rate,
        tuple(dues),
        minutes,
        order(equipment, chosen, takes=minutes) if chosen else (),
        tuple(
            s.FoundSometime(finding, place) if found is None else s.FoundOn(finding, found, place)
            for place, (finding, found) in open_findings.items()
            if place not in followed
        ),
        tuple(remarks),
    )


def _estimated(history: History, day: date, rate: Rate | None) -> tuple[Decimal | None, s.TrustStatement]:
    """The run hours of today by the last reading and the rate, and how they came about."""
    if history.hours is None:
        return None, s.HoursNotReadYet()
    last = history.visits[history.counting[-1]].day
    if last is None or rate is None:
        return history.hours, s.HoursAsReadLast(in_hours(history.hours))
    hours = history.hours + rate.usual * (day - last).days
    return hours, s.HoursEstimated(in_hours(history.hours), last, rate.stated)


def _minutes(equipment: Equipment, task: str, history: History) -> tuple[float, float]:
    """How long a task takes: as long as it took at the latest visits, where there are enough of them."""
    procedure = equipment.procedure_of(task)
    taken = [visit.minutes[procedure] for visit in history.visits if procedure in visit.done & visit.minutes.keys()]
    latest = taken[-MAX_TIMES:]
    return (min(latest), max(latest)) if len(latest) >= MIN_TIMES else equipment.tasks[task].minutes


def _added(supplies: Iterable[Supply]) -> tuple[Supply, ...]:
    found: dict[str, Quantity] = {}
    for supply in supplies:
        before = found.get(supply.name)
        more = supply.amount
        found[supply.name] = (
            more if before is None else Quantity(before.value + more.to(before.unit).value, before.unit)
        )
    return tuple(Supply(name=name, amount=amount) for name, amount in found.items())
