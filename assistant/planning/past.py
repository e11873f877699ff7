"""What earlier visits left: folded from their facts, put in order, their run hours counted.

Knows that meters are exchanged and misread, and that clocks wake wrong, and says what it made of it. Refuses to know
files, and what day it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

from assistant.calculations.intervals import months_later
from assistant.procedure.equipment import Equipment
from assistant.quantities import Kind, plain
from assistant.session import facts as f
from assistant.session.inputs import Instant

FIRST_DAY = date(2000, 1, 1)  # a day before it is a clock that woke without its battery
MOST_HOURS = Decimal(1_000_000)  # no hour meter shows more: a hundred years without a stop
DAY_HOURS = 24
ENDED_EARLY = "visit/ended"  # the place of the finding that a visit was broken off; the next whole one settles it
TELLING_DAYS = 7  # readings closer together say little of how much the set runs


@dataclass(frozen=True, slots=True)
class PastVisit:
    """An earlier visit, as far as a plan needs it; an imported history is made of the same.

    day: None when it is not known. hours: as the meter showed them, None when it was not read. done: procedures that
    were completed: of a planned visit those of each task that was, else all when the whole work was. findings: what was
    not in order at its end, in words, by place (`procedure/step`); done_after: procedures of the tasks done after each
    of them; cleared: places that were in order at its end. minutes: of the work itself, by procedure.
    """

    day: date | None
    hours: Decimal | None = None
    done: frozenset[str] = frozenset()
    findings: Mapping[str, str] = field(default_factory=dict)
    done_after: Mapping[str, frozenset[str]] = field(default_factory=dict)
    cleared: frozenset[str] = frozenset()
    minutes: Mapping[str, float] = field(default_factory=dict)


def done_before(sessions: Iterable[Iterable[tuple[f.Fact, Instant]]], asset: str) -> tuple[PastVisit, ...]:
    """The visits to an asset, each folded from the facts of its session; those to other assets are left out. A history
    that was taken over is as many visits as it has days."""
    visits: list[PastVisit] = []
    for session in sessions:
        facts = tuple(session)
        if facts and isinstance(facts[0][0], f.HistoryTakenOver):
            visits += _taken_over(facts, asset)
        elif (visit := _past_visit(facts, asset)) is not None:
            visits.append(visit)
    return tuple(visits)


def _taken_over(facts: tuple[tuple[f.Fact, Instant], ...], asset: str) -> Iterator[PastVisit]:
    lines: dict[str, list[f.DoneBefore]] = {}
    for fact, _ in facts:
        match fact:
            case f.HistoryTakenOver() if fact.asset != asset:
                return
            case f.DoneBefore():
                lines.setdefault(fact.day, []).append(fact)
    for day, tasks_that_day in lines.items():
        hours = [line.hours for line in tasks_that_day if line.hours is not None]
        hours = [one for one in hours if shown(one)] or hours[:1]  # `in_order` tells of what no meter shows
        done = frozenset(line.procedure for line in tasks_that_day if line.procedure)
        yield PastVisit(date.fromisoformat(day), max(hours, default=None), done)


def _past_visit(facts: tuple[tuple[f.Fact, Instant], ...], asset: str) -> PastVisit | None:
    tasks: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()
    planned = False
    hours: dict[str, Decimal] = {}
    findings: dict[str, str] = {}
    done_after: dict[str, frozenset[str]] = {}
    cleared: set[str] = set()
    for fact, _ in facts:
        match fact:
            case f.WorkTakenUp():
                if fact.order.asset != asset:
                    return None
                tasks = fact.order.tasks
            case f.ReadingRecorded():
                place = _place(fact.place)
                if fact.name == fact.quantity.kind.value == Kind.RUN_HOURS.value:
                    hours[place] = fact.quantity.exactly("h")
                if fact.verdict not in (f.ReadingVerdict.WITHIN, f.ReadingVerdict.NO_LIMIT):
                    findings[place] = f"{fact.name} {fact.quantity}, {fact.verdict} ({fact.limits})"
                    cleared.discard(place)
                else:
                    findings.pop(place, None)
                    cleared.add(place)
            case f.ReadingWithdrawn():
                place = _place(fact.place)
                hours.pop(place, None)
                findings.pop(place, None)
                cleared.discard(place)
            case f.AnswerRecorded(good=True):
                findings.pop(_place(fact.place), None)
                cleared.add(_place(fact.place))
            case f.FindingRecorded():
                findings[_place(fact.place)] = fact.finding
                cleared.discard(_place(fact.place))
            case f.NoteKept(subject=f.Subject.FINDING):  # an answer in order does not settle it
                findings[f"{_place(fact.place)}, spoken"] = fact.text or f"spoken at {fact.title!r}, kept as sound"
            case f.VisitPlanned():
                planned = True
            case f.StageDone(stage) if stage.is_task:
                done |= {stage.procedure}
                done_after = {place: done_after.get(place, frozenset()) | {stage.procedure} for place in findings}
            case f.StepReopened():
                done -= {fact.place.task}
            case f.WorkEnded(complete=False):
                findings[ENDED_EARLY] = "the visit was ended before its end, and the set not put back into service"
            case f.WorkEnded():
                cleared.add(ENDED_EARLY)
                done = done if planned else frozenset(tasks)
    if not tasks:
        return None
    day = date.fromisoformat(facts[-1][1].wall[:10])
    last_hours = next(reversed(hours.values()), None)
    return PastVisit(day, last_hours, done, findings, done_after, frozenset(cleared), _minutes(facts))


def _place(place: f.StepPlace) -> str:
    return f"{place.task}/{place.step}"


def _minutes(facts: Iterable[tuple[f.Fact, Instant]]) -> dict[str, float]:
    """How long the steps of the work itself took, by procedure; nothing for one that crossed a start of the device."""
    seconds: dict[str, float] = {}
    crossed: set[str] = set()
    at: tuple[str, Instant] | None = None
    for fact, moment in facts:
        if at is not None and isinstance(fact, f.CarriedOn):
            seconds[at[0]] = seconds.get(at[0], 0.0) - fact.seconds
        elif isinstance(fact, f.StepReached | f.WorkEnded):
            if at is not None:
                task, begun = at
                seconds[task] = seconds.get(task, 0.0) + moment.seconds - begun.seconds
                if begun.boot != moment.boot:
                    crossed.add(task)
            in_work = isinstance(fact, f.StepReached) and fact.part == "steps"
            at = (fact.place.task, moment) if isinstance(fact, f.StepReached) and in_work else None
    return {task: taken / 60 for task, taken in seconds.items() if task not in crossed}


# --- the hour meter and the calendar ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Rate:
    """Run hours a day between past visits. least, most: over the `spans` between them; usual: over all of them."""

    least: Decimal
    usual: Decimal
    most: Decimal
    spans: int

    def __str__(self) -> str:
        if self.least == self.most:
            return f"{self.usual:.1f} h a day"
        return f"{self.least:.1f} to {self.most:.1f} h a day"


@dataclass(frozen=True, slots=True)
class History:
    """Past visits in order, with what can be counted on.

    visits: a day that is not to be trusted is None. run: for each visit, run hours counted since the first reading,
    over exchanges of the meter; counting: index of the visits whose reading it rests on. breaks: those of them at which
    the meter went back or leapt: what was run since the reading before is not in `run`. remarks: what was not to be
    trusted, and what was made of it, a sentence each.
    """

    visits: tuple[PastVisit, ...] = ()
    run: tuple[Decimal, ...] = ()
    counting: tuple[int, ...] = ()
    breaks: tuple[int, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def hours(self) -> Decimal | None:
        """What the meter showed last; None when it was never read."""
        return self.visits[self.counting[-1]].hours if self.counting else None

    def hidden(self, visit: int, rate: Rate | None) -> Decimal | None:
        """Run hours after a visit that no meter shows, at most, by the rate; None when they cannot be told."""
        hours = Decimal(0)
        for one in self.breaks:
            if one > visit:
                before = self.visits[self.counting[self.counting.index(one) - 1]].day
                after = self.visits[one].day
                if rate is None or before is None or after is None:
                    return None
                hours += rate.most * (after - before).days
        return hours

    def rate(self) -> Rate | None:
        """How much the set runs; None when no two readings on days to be trusted lie a week apart."""
        spans: list[tuple[Decimal, int]] = []
        start: int | None = None
        for here in self.counting:
            day = self.visits[here].day
            if day is None:
                continue
            if start is None or any(start < one <= here for one in self.breaks):
                start = here
                continue
            before = self.visits[start].day
            assert before is not None
            if (day - before).days >= TELLING_DAYS:
                spans.append((self.run[here] - self.run[start], (day - before).days))
                start = here
        if not spans:
            return None
        rates = [hours / days for hours, days in spans]
        usual = sum((hours for hours, _ in spans), Decimal(0)) / sum(days for _, days in spans)
        return Rate(min(rates), usual, max(rates), len(spans))

    def next_visit(self, today: date, months: int) -> date:
        """When the next visit is to be expected: after the median of the spans between past ones, else after months."""
        days = sorted({visit.day for visit in self.visits if visit.day is not None and visit.day < today})
        spans = sorted((later - day).days for day, later in pairwise(days) if (later - day).days >= TELLING_DAYS)
        if len(spans) < 2:
            return months_later(today, months)
        return today + min(timedelta(spans[len(spans) // 2]), date.max - today)

    def open_findings(self, equipment: Equipment) -> dict[str, tuple[str, date | None]]:
        """What is still not in order: place -> words and day. A task that follows a finding settles it when it is done,
        and so does the same step, found in order at a later visit."""
        found: dict[str, tuple[str, date | None]] = {}
        follows: dict[str, set[str]] = {}  # place -> the procedures that settle what was found there
        for name, task in equipment.tasks.items():
            for place in task.follows:
                follows.setdefault(place, set()).add(equipment.procedure_of(name))
        for visit in self.visits:
            settled = [place for place, procedures in follows.items() if procedures & visit.done]
            for place in (*settled, *visit.cleared):
                found.pop(place, None)
            for place, words in visit.findings.items():
                if not follows.get(place, set()) & visit.done_after.get(place, frozenset()):
                    found[place] = (words, visit.day)
        return found


def in_order(visits: Iterable[PastVisit], today: date, hours: Decimal | None = None) -> History:
    """Past visits in order, their run hours counted. hours: what the meter shows today, None when it is not read.

    A day in the future, or from before the century, is not trusted: the visit is put in by its hours, else first. A
    reading that goes back, or forward by more than 24 h a day, was misread when the next one agrees with the one
    before; else the meter was exchanged, or one of them misread, and counting goes on from the new one. What no hour
    meter can show is not counted.
    """
    remarks: list[str] = []
    trusted: list[PastVisit] = []
    doubted: list[PastVisit] = []
    for visit in visits:
        if visit.hours is not None and not shown(visit.hours):
            remarks.append(f"{_reading(visit)} is nothing that an hour meter shows: it is not counted")
            visit = replace(visit, hours=None)
        if visit.day is not None and FIRST_DAY <= visit.day <= today:
            trusted.append(visit)
            continue
        doubted.append(replace(visit, day=None))
        if visit.day is not None:
            why = "is still to come" if visit.day > today else "cannot be"
            remarks.append(f"A visit is dated {visit.day}, which {why}: its date is not counted")
    ordered = sorted(trusted, key=lambda visit: visit.day or FIRST_DAY)
    for visit in sorted(doubted, key=lambda visit: visit.hours or Decimal(0)):
        ordered.insert(_place_by_hours(visit, ordered), visit)
    if hours is not None:
        ordered.append(PastVisit(today, hours))
    read = [index for index, visit in enumerate(ordered) if visit.hours is not None]
    run: list[Decimal] = [Decimal(0)] * len(ordered)
    counting: list[int] = []
    breaks: list[int] = []
    total = Decimal(0)
    for index, visit in enumerate(ordered):
        if visit.hours is not None and counting:
            last = ordered[counting[-1]]
            following = next((ordered[later] for later in read if later > index), None)
            if _agree(last, visit):
                total += visit.hours - (last.hours or 0)
                counting.append(index)
            elif following is not None and _agree(last, following):
                remarks.append(f"{_reading(visit)} does not fit those before and after it: taken as misread")
            else:
                breaks.append(index)
                counting.append(index)
                went = "went back" if visit.hours < (last.hours or 0) else "ran ahead of the clock"
                remarks.append(
                    f"The hour meter {went}, from {_reading(last)} to {_reading(visit)}: exchanged, or one of the two "
                    "or its date is wrong; what it ran between them is estimated"
                )
        elif visit.hours is not None:
            counting.append(index)
        run[index] = total
    return History(tuple(ordered), tuple(run), tuple(counting), tuple(breaks), tuple(remarks))


def _place_by_hours(visit: PastVisit, ordered: Sequence[PastVisit]) -> int:
    """Behind the last of the visits whose hours it does not fall short of."""
    if visit.hours is None:
        return 0
    before = (index + 1 for index, one in enumerate(ordered) if one.hours is not None and one.hours <= visit.hours)
    return max(before, default=0)


def _agree(earlier: PastVisit, later: PastVisit) -> bool:
    """Whether the meter can have run from one reading to the other. Without both days only going back is noticed."""
    if earlier.hours is None or later.hours is None or later.hours < earlier.hours:
        return False
    if earlier.day is None or later.day is None:
        return True
    return later.hours - earlier.hours <= DAY_HOURS * ((later.day - earlier.day).days + 1)


def _reading(visit: PastVisit) -> str:
    return f"{in_hours(visit.hours or Decimal(0))} of {visit.day or 'an unknown day'}"


def shown(hours: Decimal) -> bool:
    """Whether an hour meter can show that."""
    return hours.is_finite() and 0 <= hours <= MOST_HOURS


def in_hours(hours: Decimal) -> str:
    """At most one place, which is what a meter shows."""
    if not hours.is_finite() or hours.adjusted() > 20:
        return f"{hours:.3g} h"
    return f"{plain(round(hours, 1).normalize() + 0)} h"
