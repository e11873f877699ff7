"""The history of an asset: the fold of its sessions. Its readings by name, in series, over run hours and dates.

Knows facts and their moments. Refuses to know files, and what a series says: that is for `trends`.

**A new series begins** where values before and after are not of the same thing:

- with a reading as left whose last one before was as found: it was adjusted in between;
- with the first reading after a part whose last word is a word of the reading's name was fitted: an "alternator belt"
  concerns "belt deflection". The same task is not enough: a filter is fitted at every oil change, and the oil pressure
  that is read there would never have two readings in one series;
- with another kind of quantity under the same name.

**Where a reading stands in time.** Its hours are the meter's in the same visit, its date the clock's. Neither is
believed blindly. A visit's clock is not trusted when it was set during the visit, when it stands before any visit can
have been, or when the meter gained more hours between two visits than passed. A visit's hours are not trusted when they
contradict the order of the dates. Where visits contradict each other, those in every longest chain without a
contradiction are believed: one misread meter is found among many, of two that contradict each other neither is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import pairwise
from math import inf, nan

from assistant.quantities import Kind
from assistant.session import facts as f
from assistant.session.inputs import Instant

Facts = Sequence[tuple[f.Fact, Instant]]

CLOCK_SLACK = 60.0  # seconds that wall and monotonic clock may part between two lines of a journal
FIRST_YEAR = 2000  # a board without a battery wakes in 1970
METER_FAST = 1.02  # an hour meter may run so much too fast
METER_SLACK = 1.0  # hours; meters are read in whole ones


class Mark(StrEnum):
    """What is not in order about a reading in its series."""

    IN_DOUBT = "the reading is in doubt"
    HOURS_IN_DOUBT = "the run hours are in doubt"
    HOURS_WRONG = "the hour meter contradicts other visits"
    DATE_WRONG = "the clock is not to be trusted"


@dataclass(frozen=True, slots=True)
class Point:
    """A reading in time. session: its name; read: the hour meter as read in that visit, in h; date: of the clock."""

    session: str
    reading: f.ReadingRecorded
    read: float | None
    date: datetime
    marks: tuple[Mark, ...]

    @property
    def hours(self) -> float | None:
        """The run hours; None where there are none to trust."""
        return None if Mark.HOURS_WRONG in self.marks else self.read

    @property
    def day(self) -> float | None:
        """The date as days, counted as `datetime.toordinal` does; None where it is not to be trusted."""
        if Mark.DATE_WRONG in self.marks:
            return None
        return self.date.toordinal() + (self.date.hour + self.date.minute / 60 + self.date.second / 3600) / 24


@dataclass(frozen=True, slots=True)
class Series:
    """Readings of one thing, in time order, at least one. begun: why a new one began; empty for the first. ended: why
    the next reading begins another; empty while this one goes on."""

    name: str
    begun: str
    points: tuple[Point, ...]
    ended: str = ""


@dataclass(frozen=True, slots=True)
class _Visit:
    """What a session tells: readings that stand and parts, in order; the meter, and when it was read. hours: as read,
    not a number without a meter."""

    session: str
    dated_facts: tuple[tuple[f.ReadingRecorded | f.PartFitted, datetime], ...]
    meter: f.ReadingRecorded | None
    hours: float
    date: datetime
    clock_holds: bool


def history(sessions: Mapping[str, Facts]) -> dict[str, tuple[Series, ...]]:
    """Reading's name -> its series, the oldest first. sessions: of one asset, name -> facts with their moments.

    Visits stand in the order of their run hours, those without by their dates among them. A visit with neither stands
    before all others, and its readings have neither hours nor day. Run hours themselves are no series.
    """
    visits = [visit for session, facts in sorted(sessions.items()) if (visit := _visit(session, facts)) is not None]
    hours_hold, clock_holds = _trusted(visits)
    dated = [visit for visit in visits if visit.session in hours_hold & clock_holds]

    def place(visit: _Visit) -> tuple[float, datetime, str]:
        if visit.session in hours_hold:
            return visit.hours, visit.date, visit.session
        earlier = [other.hours for other in dated if other.date <= visit.date and visit.session in clock_holds]
        return max(earlier, default=-inf), visit.date, visit.session

    found: dict[str, list[tuple[str, list[Point]]]] = {}
    fitted: dict[str, str] = {}  # reading's name -> the part that was fitted since
    for visit in sorted(visits, key=place):
        for fact, date in visit.dated_facts:
            if isinstance(fact, f.PartFitted):
                fitted |= {name: f"{fact.name} fitted" for name in found if _concerns(fact, name)}
                continue
            point = _point(visit, fact, date, visit.session in hours_hold, visit.session in clock_holds)
            series = found.setdefault(fact.name, [])
            begun = fitted.pop(fact.name, "") or (_begun(series[-1][1][-1].reading, fact) if series else "")
            if begun or not series:
                series.append((begun, []))
            series[-1][1].append(point)
    return {
        name: tuple(
            Series(name, begun, tuple(points), ended)
            for (begun, points), (ended, _) in pairwise([*series, (fitted.get(name, ""), [])])
        )
        for name, series in sorted(found.items())
    }


def _visit(session: str, facts: Facts) -> _Visit | None:
    """None: nothing happened in it."""
    moments: list[tuple[datetime, Instant]] = []
    dated_facts: list[tuple[f.ReadingRecorded | f.PartFitted, datetime]] = []
    for fact, at in facts:
        date = datetime.fromisoformat(at.wall)
        moments.append((date, at))
        match fact:
            case f.ReadingRecorded(stage=f.ReadingStage.AS_LEFT):  # only the last is what was left
                dated_facts = [dated for dated in dated_facts if not _left(dated[0], fact.name)]
                dated_facts.append((fact, date))
            case f.ReadingRecorded() | f.PartFitted():
                dated_facts.append((fact, date))
            case f.ReadingWithdrawn():
                dated_facts = [
                    dated for dated in dated_facts if isinstance(dated[0], f.PartFitted) or dated[0].place != fact.place
                ]
            case _:
                pass
    if not moments:
        return None
    meters = [(fact, date) for fact, date in dated_facts if isinstance(fact, f.ReadingRecorded) and _is_meter(fact)]
    meter, date = meters[-1] if meters else (None, moments[0][0])
    rest = tuple(dated for dated in dated_facts if isinstance(dated[0], f.PartFitted) or not _is_meter(dated[0]))
    hours = nan if meter is None else float(meter.quantity.exactly("h"))
    return _Visit(session, rest, meter, hours, date, _clock_holds(moments))


def _left(fact: f.Fact, name: str) -> bool:
    return isinstance(fact, f.ReadingRecorded) and fact.name == name and fact.stage is f.ReadingStage.AS_LEFT


def _is_meter(reading: f.ReadingRecorded) -> bool:
    return reading.name == Kind.RUN_HOURS.value and reading.quantity.kind is Kind.RUN_HOURS


def _clock_holds(moments: Sequence[tuple[datetime, Instant]]) -> bool:
    """Whether a visit's wall clock agrees with its monotonic one, and stands in a believable year."""
    for (date, at), (next_date, next_at) in pairwise(moments):
        passed = (next_date - date).total_seconds()
        if at.boot == next_at.boot and abs(passed - (next_at.seconds - at.seconds)) > CLOCK_SLACK:
            return False
        if passed < -CLOCK_SLACK:
            return False
    return moments[0][0].year >= FIRST_YEAR


def _trusted(visits: Sequence[_Visit]) -> tuple[set[str], set[str]]:
    """The sessions whose run hours hold, and those whose clock does."""
    metered = [visit for visit in visits if visit.meter is not None]
    dated = sorted((visit for visit in metered if visit.clock_holds), key=lambda visit: (visit.date, visit.hours))
    orderly = _agreeing(dated, lambda early, late: early.hours <= late.hours)
    timely = _agreeing(sorted(orderly, key=lambda visit: (visit.hours, visit.date)), _in_the_time)
    hours_wrong = _names(dated) - _names(orderly)
    too_early = _names(orderly) - _names(timely)
    return _names(metered) - hours_wrong, {visit.session for visit in visits if visit.clock_holds} - too_early


def _names(visits: Sequence[_Visit]) -> set[str]:
    return {visit.session for visit in visits}


def _in_the_time(early: _Visit, late: _Visit) -> bool:
    passed = (late.date - early.date).total_seconds() / 3600
    return late.hours - early.hours <= METER_FAST * passed + METER_SLACK


def _agreeing(visits: Sequence[_Visit], follows: Callable[[_Visit, _Visit], bool]) -> list[_Visit]:
    """The visits that are in every longest chain, in this order, in which each follows the one before."""
    if all(follows(early, late) for early, late in pairwise(visits)):
        return list(visits)  # as it should be; the search below goes with the square of their number
    before = _lengths(visits, follows)
    after = _lengths(visits[::-1], lambda late, early: follows(early, late))[::-1]
    longest = max(before, default=0)
    whole = [dated + other - 1 == longest for dated, other in zip(before, after, strict=True)]
    rivals = Counter(length for length, on in zip(before, whole, strict=True) if on)
    return [visit for visit, length, on in zip(visits, before, whole, strict=True) if on and rivals[length] == 1]


def _lengths(visits: Sequence[_Visit], follows: Callable[[_Visit, _Visit], bool]) -> list[int]:
    """For each visit, the length of the longest chain that ends with it."""
    lengths: list[int] = []
    for visit in visits:
        chains = (length for other, length in zip(visits, lengths, strict=False) if follows(other, visit))
        lengths.append(1 + max(chains, default=0))
    return lengths


def _concerns(part: f.PartFitted, name: str) -> bool:
    return bool(set(part.name.casefold().split()[-1:]) & set(name.casefold().split()))


def _begun(last: f.ReadingRecorded, now: f.ReadingRecorded) -> str:
    """Why a new series begins between two readings of one name; empty when none does."""
    if now.quantity.kind is not last.quantity.kind:
        return f"measured as {now.quantity.kind}"
    adjusted = last.stage is f.ReadingStage.AS_FOUND and now.stage is f.ReadingStage.AS_LEFT
    return "adjusted" if adjusted else ""


def _point(visit: _Visit, reading: f.ReadingRecorded, date: datetime, hours_hold: bool, clock_holds: bool) -> Point:
    meter = visit.meter
    marks = (
        (Mark.IN_DOUBT, reading.doubt),
        (Mark.HOURS_IN_DOUBT, meter is not None and meter.doubt),
        (Mark.HOURS_WRONG, meter is not None and not hours_hold),
        (Mark.DATE_WRONG, not clock_holds),
    )
    return Point(
        visit.session,
        reading,
        None if meter is None else visit.hours,
        date,
        tuple(mark for mark, so in marks if so),
    )
