"""What earlier visits left: folded from their facts, put in order, their run hours counted.

Knows what to make of hours and dates that are not believed, and says so. Refuses to know why they are not
(`session/trust.py`), files, and what day it is.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate, pairwise

from assistant.calculations.intervals import months_later
from assistant.procedure.equipment import Equipment
from assistant.quantities import plain
from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.trust import (
    OF_ITS_DAY,
    Distrust,
    Trust,
    VisitClaim,
    claimed,
    goes_on,
    hours_fit_days,
    taken_over,
    trust,
)
from assistant.statements import kinds as s

ENDED_EARLY = "visit/ended"  # the place of the finding that a visit was broken off; the next whole one settles it
MIN_DAYS = 7  # readings closer together say little of how much the set runs


@dataclass(frozen=True, slots=True)
class PastVisit:
    """An earlier visit, as far as a plan needs it; an imported history is made of the same.

    day: None when it is not known.
    hours: as the meter showed them, None when it was not read.
    done: procedures that were completed: of a planned visit those of each task that was, else all when the whole work
        was.
    findings: what was not in order at its end, by place (`procedure/step`).
    done_after: procedures of the tasks done after each of them.
    cleared: places that were in order at its end.
    minutes: of the work itself, by procedure.
    clock_holds: whether the clock was not set during the visit.
    """

    day: date | None
    hours: Decimal | None = None
    done: frozenset[str] = frozenset()
    findings: Mapping[str, f.FindingText] = field(default_factory=dict)
    done_after: Mapping[str, frozenset[str]] = field(default_factory=dict)
    cleared: frozenset[str] = frozenset()
    minutes: Mapping[str, float] = field(default_factory=dict)
    clock_holds: bool = True


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
    done: dict[str, set[str]] = {}
    for fact, _ in facts:
        match fact:
            case f.HistoryTakenOver() if fact.asset != asset:
                return
            case f.DoneBefore():
                done.setdefault(fact.day, set()).update([fact.procedure] if fact.procedure else [])
    for day, hours in taken_over(facts).items():
        yield PastVisit(date.fromisoformat(day), hours, frozenset(done[day]))


def _past_visit(facts: tuple[tuple[f.Fact, Instant], ...], asset: str) -> PastVisit | None:
    tasks: tuple[str, ...] = ()
    done: frozenset[str] = frozenset()
    planned = False
    findings: dict[str, f.FindingText] = {}
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
                if fact.verdict not in (f.ReadingVerdict.WITHIN, f.ReadingVerdict.NO_LIMIT):
                    findings[place] = s.ReadingFoundOut(fact.name, fact.quantity, fact.verdict.value, fact.limits)
                    cleared.discard(place)
                else:
                    findings.pop(place, None)
                    cleared.add(place)
            case f.ReadingWithdrawn():
                place = _place(fact.place)
                findings.pop(place, None)
                cleared.discard(place)
            case f.AnswerRecorded(good=True):
                findings.pop(_place(fact.place), None)
                cleared.add(_place(fact.place))
            case f.FindingRecorded():
                findings[_place(fact.place)] = fact.finding
                cleared.discard(_place(fact.place))
            case f.NoteKept(subject=f.Subject.FINDING):  # an answer in order does not settle it
                findings[f"{_place(fact.place)}, spoken"] = fact.text or s.SpokenAtStep(fact.title)
            case f.VisitPlanned():
                planned = True
            case f.StageDone(stage) if stage.is_task:
                done |= {stage.procedure}
                done_after = {place: done_after.get(place, frozenset()) | {stage.procedure} for place in findings}
            case f.StepReopened():
                done -= {fact.place.task}
            case f.WorkEnded(complete=False):
                findings[ENDED_EARLY] = s.VisitBrokenOff()
            case f.WorkEnded():
                cleared.add(ENDED_EARLY)
                done = done if planned else frozenset(tasks)
    if not tasks:
        return None
    (claim,) = claimed("", facts)
    return PastVisit(
        claim.day,
        claim.hours,
        done,
        findings,
        done_after,
        frozenset(cleared),
        _minutes(facts),
        claim.clock_holds,
    )


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
    """Run hours a day between past visits.

    least, most: over the spans between them.
    usual: over all of them.
    spans: how many there are.
    """

    least: Decimal
    usual: Decimal
    most: Decimal
    spans: int

    @property
    def stated(self) -> s.RunRate:
        """As it is told."""
        if self.least == self.most:
            return s.RunsADay(float(self.usual))
        return s.RunsBetweenADay(float(self.least), float(self.most))


@dataclass(frozen=True, slots=True)
class History:
    """Past visits in order, with what can be counted on.

    visits: a day that is not believed is None.
    run: for each visit, run hours counted since the first reading, over exchanges of the meter.
    counting: index of the visits whose reading it rests on.
    breaks: those of them at which the meter went back: what was run since the reading before is not in `run`.
    remarks: what was not believed, and what was made of it.
    doubts: index of a visit -> why its hours or its date are not believed.
    """

    visits: tuple[PastVisit, ...] = ()
    run: tuple[Decimal, ...] = ()
    counting: tuple[int, ...] = ()
    breaks: tuple[int, ...] = ()
    remarks: tuple[s.TrustStatement, ...] = ()
    doubts: Mapping[int, tuple[Distrust, ...]] = field(default_factory=dict)

    @property
    def hours(self) -> Decimal | None:
        """What the meter showed last; None when it was never read."""
        return self.visits[self.counting[-1]].hours if self.counting else None

    def hidden(self, visit: int, rate: Rate | None) -> Decimal | None:
        """Run hours after a visit that no meter shows, at most, by the rate; None when they cannot be told."""
        hours = Decimal(0)
        for exchange in self.breaks:
            if exchange > visit:
                before = self.visits[self.counting[self.counting.index(exchange) - 1]].day
                after = self.visits[exchange].day
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
            if start is None or any(start < exchange <= here for exchange in self.breaks):
                start = here
                continue
            before = self.visits[start].day
            assert before is not None
            if (day - before).days >= MIN_DAYS:
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
        spans = sorted((later - day).days for day, later in pairwise(days) if (later - day).days >= MIN_DAYS)
        if len(spans) < 2:
            return months_later(today, months)
        return today + min(timedelta(spans[len(spans) // 2]), date.max - today)

    def open_findings(self, equipment: Equipment) -> dict[str, tuple[f.FindingText, date | None]]:
        """What is still not in order: place -> what was found, and the day.

        A task that follows a finding settles it when it is done, and so does the same step, found in order at a later
        visit.
        """
        found: dict[str, tuple[f.FindingText, date | None]] = {}
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

    What is believed is `session/trust.py`'s to say. A visit whose day is not believed is put in by its hours, else
    first. Hours that are not believed are not counted where those before and after them go on without them; else they
    are, for what is due may come too early and not too late. Where the meter went back, counting goes on from the new
    reading.
    """
    given = [*visits, *([] if hours is None else [PastVisit(today, hours)])]
    claims = [VisitClaim(str(number), visit.day, visit.hours, visit.clock_holds) for number, visit in enumerate(given)]
    believed = trust(claims, today)
    certain = frozenset() if hours is None else {claims[-1].name}  # whoever reads the meter today knows the day
    dates = believed.dates | certain
    order = _in_time([_cleared(claim, believed) for claim in claims], dates)
    counting, misread = _counted(order, believed)
    run, breaks = _run(order, counting)
    past = tuple(
        replace(given[int(claim.name)], day=claim.day if claim.name in dates else None, hours=claim.hours)
        for claim in order
    )
    return History(
        past,
        tuple(run),
        tuple(counting),
        tuple(breaks),
        (*_of_claims(claims, believed), *_of_meters(order, counting, misread, believed)),
        {place: believed.doubts[claim.name] for place, claim in enumerate(order) if claim.name in believed.doubts},
    )


def _cleared(claim: VisitClaim, believed: Trust) -> VisitClaim:
    """The claim, cleared of hours that no meter shows, and of a day on which there was no visit."""
    doubts = believed.doubts.get(claim.name, ())
    if Distrust.NO_METER_SHOWS in doubts:
        claim = replace(claim, hours=None)
    return replace(claim, day=None) if OF_ITS_DAY & {*doubts} else claim


def _in_time(claims: Sequence[VisitClaim], dates: Container[str]) -> list[VisitClaim]:
    """Those whose day is believed by their days, as they came where that is the same; the others by their hours."""
    dated = [(claim, claim.day) for claim in claims if claim.day is not None and claim.name in dates]
    ordered = [claim for claim, _ in sorted(dated, key=lambda pair: pair[1])]
    undated = [claim for claim in claims if claim.day is None or claim.name not in dates]
    for claim in sorted(undated, key=lambda claim: claim.hours or Decimal(0)):
        ordered.insert(_place_by_hours(claim, ordered), claim)
    return ordered


def _place_by_hours(claim: VisitClaim, ordered: Sequence[VisitClaim]) -> int:
    """Behind the last of the visits whose hours it does not fall short of."""
    return max((place + 1 for place, other in enumerate(ordered) if goes_on(other, claim)), default=0)


def _counted(order: Sequence[VisitClaim], believed: Trust) -> tuple[list[int], list[int]]:
    """The places of the readings that are counted, and of those that are taken as misread."""
    counting: list[int] = []
    misread: list[int] = []
    certain = [place for place, claim in enumerate(order) if claim.name in believed.hours]
    for place, claim in enumerate(order):
        if claim.hours is None:
            continue
        at = bisect_left(certain, place)
        around = [order[certain[other]] for other in (at - 1, at) if 0 <= other < len(certain)]
        contradicts = claim.name not in believed.hours and len(around) == 2 and goes_on(*around)
        (misread if contradicts else counting).append(place)
    return counting, misread


def _run(order: Sequence[VisitClaim], counting: Sequence[int]) -> tuple[list[Decimal], list[int]]:
    """Run hours counted up to each visit, and the places at which the meter went back."""
    gained: dict[int, Decimal] = {}
    breaks: list[int] = []
    for before, place in pairwise(counting):
        early, late = order[before], order[place]
        if goes_on(early, late):
            gained[place] = (late.hours or Decimal(0)) - (early.hours or Decimal(0))
        else:
            breaks.append(place)
    return list(accumulate(gained.get(place, Decimal(0)) for place in range(len(order)))), breaks


# --- what is said of it ----------------------------------------------------------------------------------------------


def _of_claims(claims: Sequence[VisitClaim], believed: Trust) -> Iterator[s.TrustStatement]:
    """What is not believed of a visit by itself."""
    for claim in claims:
        for doubt in believed.doubts.get(claim.name, ()):
            match doubt:
                case Distrust.NO_METER_SHOWS:
                    yield s.NoMeterShows(_reading(claim))
                case Distrust.STILL_TO_COME if claim.day is not None:
                    yield s.DateToCome(claim.day)
                case Distrust.BEFORE_ALL_VISITS if claim.day is not None:
                    yield s.DateCannotBe(claim.day)
                case Distrust.CLOCK_SET if claim.day is not None:
                    yield s.ClockWasSet(claim.day)
                case _:
                    pass  # it is named beside what it contradicts


def _of_meters(
    order: Sequence[VisitClaim], counting: Sequence[int], misread: Sequence[int], believed: Trust
) -> Iterator[s.TrustStatement]:
    """What is not believed of a visit beside others."""
    for place in misread:
        yield s.TakenAsMisread(_reading(order[place]))
    for early, late in pairwise(order[place] for place in counting):
        if not goes_on(early, late):
            yield s.MeterWentBack(_reading(early), _reading(late))
        elif not hours_fit_days(early, late) and not {early.name, late.name} <= believed.dates:
            yield s.MeterRanAhead(_reading(early), _reading(late))


def _reading(claim: VisitClaim) -> s.MeterReading:
    hours = in_hours(claim.hours or Decimal(0))
    return s.ReadSometime(hours) if claim.day is None else s.ReadOn(hours, claim.day)


def in_hours(hours: Decimal) -> str:
    """At most one place, which is what a meter shows."""
    if not hours.is_finite() or hours.adjusted() > 20:
        return f"{hours:.3g} h"
    return f"{plain(round(hours, 1).normalize() + 0)} h"
