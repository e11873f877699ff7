"""Which visits' clocks, dates and hours are believed: one answer, for trends and for the plan.

Knows what visits say of themselves (`VisitClaim`), and compares them. Refuses to know what is made of them. The reasons
are data: the statements of `statements/trust.py` are made of them by those who word them.

**Hours.** What no meter shows is not believed. The others are looked at in the order of their days. A meter goes on,
or it is exchanged, and any of them may be misread: the simplest explanation is the one that believes the most readings,
where each exchange costs one. Readings that every simplest explanation believes are believed: one misread meter is
found among many, of two that contradict each other neither is believed, and a new meter is one from its second reading.

**Clocks and dates.** A clock is not believed when it was set during the visit, and a date not when there can have been
no visit then: before the century, or still to come. Where a meter gained more hours between two visits than passed, one
of the clocks stood still; those in every longest row of visits without such a gap are believed. The hours are: so what
is due comes rather too early than too late.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from itertools import groupby, pairwise

from assistant.quantities import Kind
from assistant.session import facts as f
from assistant.session.clocks import SLACK
from assistant.session.inputs import Instant

FIRST_DAY = date(2000, 1, 1)  # a day before it is a clock that woke without its battery
MAX_HOURS = Decimal(1_000_000)  # no hour meter shows more: a hundred years without a stop
DAY_HOURS = 24


class Distrust(StrEnum):
    """Why hours or a date are not believed."""

    NO_METER_SHOWS = "no meter shows so much"
    HOURS_CONTRADICT = "the hours contradict those of other visits"
    CLOCK_SET = "the clock was set during the visit"
    BEFORE_ALL_VISITS = "no visit can have been then"
    STILL_TO_COME = "the day is still to come"
    MORE_HOURS_THAN_PASSED = "the meter gained more hours than passed"


OF_ITS_DAY = frozenset({Distrust.CLOCK_SET, Distrust.BEFORE_ALL_VISITS, Distrust.STILL_TO_COME})
"""Why a day cannot be the visit's; of the other reasons only one of several visits need be wrong."""


@dataclass(frozen=True, slots=True)
class VisitClaim:
    """What a visit says of its time.

    name: tells it from the others.
    day: of its clock; None where it says none.
    hours: as its meter was read; None where it was not.
    clock_holds: whether the clock was not set during the visit.
    """

    name: str
    day: date | None
    hours: Decimal | None = None
    clock_holds: bool = True


@dataclass(frozen=True, slots=True)
class Trust:
    """What is believed.

    hours: names of the visits whose hours are.
    dates: names of the visits whose day, and so whose clock, is.
    meters: name of a visit whose hours and day are believed -> which meter it was, from 0; each exchange begins one.
    doubts: why the hours or the date of a visit are not believed, by its name, hours first.
    """

    hours: frozenset[str]
    dates: frozenset[str]
    meters: dict[str, int]
    doubts: dict[str, tuple[Distrust, ...]]

    @property
    def main_meter(self) -> frozenset[str]:
        """Visits whose hours stand on one axis: those of the meter with the most readings, and those without a date.

        Where two meters have as many, neither.
        """
        counts = [list(self.meters.values()).count(meter) for meter in range(len(set(self.meters.values())))]
        most = max(counts, default=0)
        main = counts.index(most) if counts.count(most) == 1 else -1
        return frozenset(name for name in self.hours if self.meters.get(name, main) == main)


def trust(claims: Sequence[VisitClaim], today: date | None = None) -> Trust:
    """What is believed of the visits to one asset, in whatever order they are given.

    today: no visit was later; None where nobody knows the day.
    """
    doubts: dict[str, list[Distrust]] = {}
    for claim in claims:
        if claim.hours is not None and not can_be_shown(claim.hours):
            doubts.setdefault(claim.name, []).append(Distrust.NO_METER_SHOWS)
    undated = {claim.name: why for claim in claims if (why := _of_date(claim, today)) is not None}
    metered = [claim for claim in claims if claim.hours is not None and claim.name not in doubts]
    dated = sorted((claim for claim in metered if claim.day and claim.name not in undated), key=_by_day)
    orderly = _in_every_best(dated, _simplest)
    orderly_names = {claim.name for claim in orderly}
    for claim in dated:
        if claim.name not in orderly_names:
            doubts.setdefault(claim.name, []).append(Distrust.HOURS_CONTRADICT)
    meters = _meters(orderly)
    for _, together in groupby(orderly, key=lambda claim: meters[claim.name]):
        meter = list(together)
        timely = {claim.name for claim in _in_every_best(meter, _without_gap)}
        undated |= {claim.name: Distrust.MORE_HOURS_THAN_PASSED for claim in meter if claim.name not in timely}
    hours = frozenset(claim.name for claim in metered if claim.name not in doubts)
    for name, why in undated.items():
        doubts.setdefault(name, []).append(why)
    dates = frozenset(claim.name for claim in claims if claim.day and claim.name not in undated)
    return Trust(hours, dates, meters, {name: tuple(reasons) for name, reasons in doubts.items()})


def can_be_shown(hours: Decimal) -> bool:
    """Whether an hour meter can show that."""
    return hours.is_finite() and 0 <= hours <= MAX_HOURS


def goes_on(early: VisitClaim, late: VisitClaim) -> bool:
    """Whether one meter can have shown both."""
    return early.hours is not None and late.hours is not None and early.hours <= late.hours


def hours_fit_days(early: VisitClaim, late: VisitClaim) -> bool:
    """Whether no more hours were run than passed; days are whole ones."""
    if early.hours is None or late.hours is None or early.day is None or late.day is None:
        return True
    return late.hours - early.hours <= DAY_HOURS * ((late.day - early.day).days + 1)


def _of_date(claim: VisitClaim, today: date | None) -> Distrust | None:
    if not claim.clock_holds:
        return Distrust.CLOCK_SET
    if claim.day is None:
        return None
    if claim.day < FIRST_DAY:
        return Distrust.BEFORE_ALL_VISITS
    return Distrust.STILL_TO_COME if today is not None and claim.day > today else None


def _by_day(claim: VisitClaim) -> tuple[date, Decimal, str]:
    assert claim.day is not None
    assert claim.hours is not None
    return claim.day, claim.hours, claim.name


# --- what a session claims -------------------------------------------------------------------------------------------


def meter_read(facts: Sequence[tuple[f.Fact, Instant]]) -> tuple[f.ReadingRecorded, Instant] | None:
    """The reading of the hour meter that stands at the end of a session, and when it was taken."""
    read: list[tuple[f.ReadingRecorded, Instant]] = []
    for fact, at in facts:
        if isinstance(fact, f.ReadingRecorded) and is_meter(fact):
            read.append((fact, at))
        elif isinstance(fact, f.ReadingWithdrawn):
            read = [(reading, when) for reading, when in read if reading.place != fact.place]
    return read[-1] if read else None


def is_meter(reading: f.ReadingRecorded) -> bool:
    """Whether it is a reading of the hour meter."""
    return reading.name == Kind.RUN_HOURS.value and reading.quantity.kind is Kind.RUN_HOURS


def claimed(name: str, facts: Sequence[tuple[f.Fact, Instant]]) -> tuple[VisitClaim, ...]:
    """What a session claims: one visit; a history that was taken over is as many as it has days; none without facts."""
    if not facts:
        return ()
    if isinstance(facts[0][0], f.HistoryTakenOver):
        return tuple(
            VisitClaim(f"{name} {day}", date.fromisoformat(day), hours) for day, hours in taken_over(facts).items()
        )
    read = meter_read(facts)
    day = date.fromisoformat(facts[-1][1].wall[:10])
    hours = None if read is None else read[0].quantity.exactly("h")
    return (VisitClaim(name, day, hours, clock_holds([at for _, at in facts])),)


def taken_over(facts: Sequence[tuple[f.Fact, Instant]]) -> dict[str, Decimal | None]:
    """Day of a history that was taken over -> the most that the meter showed on it; None where it was not read."""
    days: dict[str, list[Decimal]] = {}
    for fact, _ in facts:
        if isinstance(fact, f.DoneBefore):
            days.setdefault(fact.day, []).extend([] if fact.hours is None else [fact.hours])
    shown = {day: [hours for hours in read if can_be_shown(hours)] or read[:1] for day, read in days.items()}
    return {day: max(read, default=None) for day, read in shown.items()}


def clock_holds(moments: Sequence[Instant]) -> bool:
    """Whether a visit's wall clock went on with its monotonic one."""
    for at, later in pairwise(moments):
        passed = (datetime.fromisoformat(later.wall) - datetime.fromisoformat(at.wall)).total_seconds()
        if at.boot == later.boot and abs(passed - (later.seconds - at.seconds)) > SLACK:
            return False
        if passed < -SLACK:
            return False
    return True


# --- the simplest explanation ----------------------------------------------------------------------------------------

_READING, _EXCHANGE, _GAP = 2, -2, -1
"""What an explanation gains by a reading that it believes, and loses by an exchange of the meter, and by a clock that
stood still. A reading alone does not make an exchange likely; a clock may stand still for one."""

_Step = Callable[[VisitClaim, VisitClaim], int | None]
"""What it costs to believe one claim right after another; None: both together cannot be."""


def _simplest(early: VisitClaim, late: VisitClaim) -> int:
    if not goes_on(early, late):
        return _EXCHANGE
    return 0 if hours_fit_days(early, late) else _GAP


def _without_gap(early: VisitClaim, late: VisitClaim) -> int | None:
    return 0 if hours_fit_days(early, late) else None


def _in_every_best(claims: Sequence[VisitClaim], step: _Step) -> list[VisitClaim]:
    """The claims, in order, that every best explanation believes."""
    if all(step(early, late) == 0 for early, late in pairwise(claims)):
        return list(claims)  # as it should be; the search below goes with the square of their number
    before = _explained(claims, step)
    after = _explained(claims[::-1], lambda late, early: step(early, late))[::-1]
    best = max(score for score, _ in before)
    ways = sum(count for score, count in before if score == best)
    return [
        claim
        for claim, (score, count), (other, others) in zip(claims, before, after, strict=True)
        if score + other - _READING == best and count * others == ways
    ]


def _explained(claims: Sequence[VisitClaim], step: _Step) -> list[tuple[int, int]]:
    """For each claim what the best explanations score that end with it, and how many there are."""
    found: list[tuple[int, int]] = []
    for late in claims:
        score, count = _READING, 1
        for early, (other, others) in zip(claims, found, strict=False):
            cost = step(early, late)
            if cost is None or other + cost + _READING < score:
                continue
            count = others if other + cost + _READING > score else count + others
            score = other + cost + _READING
        found.append((score, count))
    return found


def _meters(orderly: Sequence[VisitClaim]) -> dict[str, int]:
    """Which meter each of the believed readings is of."""
    meters: dict[str, int] = {}
    meter = 0
    for number, claim in enumerate(orderly):
        meter += number > 0 and not goes_on(orderly[number - 1], claim)
        meters[claim.name] = meter
    return meters
