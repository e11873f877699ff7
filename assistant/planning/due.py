"""What is due: by hours or months, whichever comes first; by condition; by open findings.

Knows the intervals of an equipment file as data, and the history. Refuses to know what day it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from enum import StrEnum

from assistant.calculations.intervals import months_later
from assistant.planning.past import History, Rate, done_before, in_hours, in_order
from assistant.procedure.equipment import Equipment, Interval
from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.statements import kinds as s

DUE_WITHIN = 10  # the last tenth of an interval is no time to come again: due now (common practice, no source)


class DueStatus(StrEnum):
    """How urgent a task is, the most urgent first."""

    OVERDUE = "overdue"
    DUE = "due"
    BEFORE_NEXT = "due before the next visit"
    LATER = "later"


URGENCY = tuple(DueStatus)


@dataclass(frozen=True, slots=True)
class Due:
    """When a task is due.

    hours: on the meter as it is now.
    hours, day: None where it has no such interval, or where it is not known when it was done.
    reason: why it stands so.
    """

    task: str
    standing: DueStatus
    hours: Decimal | None
    day: date | None
    reason: s.Reasons | str


def due_after(
    equipment: Equipment, asset: str, sessions: Iterable[Iterable[tuple[f.Fact, Instant]]], today: date
) -> tuple[Due, ...]:
    """When each task is due by the facts of an asset's sessions, with the hours that were read last. See `due`."""
    history = in_order(done_before(sessions, asset), today)
    return due(equipment, history, history.hours, today)


@dataclass(frozen=True, slots=True)
class _Side:
    """What one of hours, months, findings, condition says."""

    standing: DueStatus
    reason: s.DueStatement
    hours: Decimal | None = None
    day: date | None = None


def due(
    equipment: Equipment,
    history: History,
    hours: Decimal | None,
    day: date,
    next_visit: date | None = None,
    rate: Rate | None = None,
) -> tuple[Due, ...]:
    """When each task of the equipment is due, in the order of the file: by hours or months, whichever comes first; by
    its condition; by open findings.

    history: see `in_order`.
    hours: what the meter shows, or an estimate.
    day: today.
    next_visit, rate: as expected; None: as the history tells.

    Source of whichever comes first: see `calculations/intervals.py`.
    """
    expected = next_visit or history.next_visit(day, equipment.visit.months)
    running = rate or history.rate()
    findings = history.open_findings(equipment)
    result = []
    for name, task in equipment.tasks.items():
        sides = list(_sides(equipment, name, history, hours, day, expected, running))
        sides += [
            _Side(DueStatus.DUE, s.OpenFinding(finding) if found is None else s.OpenFindingOf(finding, found))
            for place, (finding, found) in findings.items()
            if place in task.follows
        ]
        sides.sort(key=lambda side: URGENCY.index(side.standing))
        result.append(
            Due(
                name,
                sides[0].standing,
                next((side.hours for side in sides if side.hours is not None), None),
                next((side.day for side in sides if side.day is not None), None),
                s.Reasons(tuple(side.reason for side in sides)),
            )
        )
    return tuple(result)


def _sides(
    equipment: Equipment,
    name: str,
    history: History,
    hours: Decimal | None,
    day: date,
    expected: date,
    rate: Rate | None,
) -> Iterator[_Side]:
    task = equipment.tasks[name]
    procedure = equipment.procedure_of(name)
    last = max((at for at, visit in enumerate(history.visits) if procedure in visit.done), default=None)
    if task.every is not None and last is None:
        yield _Side(DueStatus.DUE, s.NeverDone(_every(task.every)))
    elif task.every is not None and last is not None:
        if task.every.hours is not None:
            yield _by_hours(task.every.hours, history, last, hours, (expected - day).days, rate, expected)
        if task.every.months is not None:
            yield _by_months(task.every.months, history, last, day, expected)
    if task.condition:
        yield _Side(DueStatus.LATER, s.AlsoOnCondition(task.condition) if task.every else s.OnCondition(task.condition))


def _every(every: Interval) -> s.Interval:
    if every.hours is None:
        return s.EveryMonths(every.months or 0)
    hours = in_hours(every.hours)
    return s.EveryHours(hours) if every.months is None else s.EveryHoursOrMonths(hours, every.months)


def _by_hours(
    every: Decimal,
    history: History,
    last: int,
    hours: Decimal | None,
    days: int,
    rate: Rate | None,
    expected: date,
) -> _Side:
    shown, interval = history.hours, s.EveryHours(in_hours(every))
    if hours is None or shown is None:
        return _Side(DueStatus.DUE, s.HoursNotKnown(interval))
    hidden = history.hidden(last, rate)
    if hidden is None:
        return _Side(DueStatus.DUE, s.MeterDoesNotTell(interval))
    since = history.run[-1] - history.run[last] + hours - shown + hidden
    estimated = last not in history.counting or bool(hidden)
    done = (s.DoneAboutAgo if estimated else s.DoneAgo)(interval, in_hours(since))
    left = every - since
    at = hours + left
    if left < 0:
        return _Side(DueStatus.OVERDUE, s.OverdueBy(done, in_hours(-left)), at)
    due_at = s.DueAt(done, in_hours(at))
    if left * DUE_WITHIN <= every:
        return _Side(DueStatus.DUE, due_at, at)
    if rate is not None and left <= rate.most * days:
        kind = s.ComesBeforeNext if left <= rate.least * days else s.MayComeBeforeNext
        return _Side(DueStatus.BEFORE_NEXT, kind(done, in_hours(at), expected, rate.stated), at)
    return _Side(DueStatus.LATER, due_at, at)


def _by_months(every: int, history: History, last: int, day: date, expected: date) -> _Side:
    interval = s.EveryMonths(every)
    known = history.visits[last].day
    if known is None:  # not before the visit before it
        before = next((visit.day for visit in history.visits[last::-1] if visit.day is not None), None)
        if before is None:
            return _Side(DueStatus.DUE, s.DayNotKnown(interval))
        done: s.LastTime = s.DoneAfter(interval, before)
        known = before
    else:
        done = s.DoneOn(interval, known)
    on = months_later(known, every)
    if on < day:
        return _Side(DueStatus.OVERDUE, s.OverdueSince(done, on), day=on)
    if (on - day).days * DUE_WITHIN <= (on - known).days:
        return _Side(DueStatus.DUE, s.DueOn(done, on), day=on)
    if on <= expected:
        return _Side(DueStatus.BEFORE_NEXT, s.DueOnBeforeNext(done, on, expected), day=on)
    return _Side(DueStatus.LATER, s.DueOn(done, on), day=on)
