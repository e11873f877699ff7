"""The history of an asset: the fold of its sessions. Its readings by name, in series, over run hours and dates.

Knows facts and their moments. Refuses to know files, and what a series says: that is for `trends`.

**A new series begins** where values before and after are not of the same thing:

- with a reading as left whose last one before was as found: it was adjusted in between;
- with the first reading after a part whose last word is a word of the reading's name was fitted: an "alternator belt"
  concerns "belt deflection". The same task is not enough: a filter is fitted at every oil change, and the oil pressure
  that is read there would never have two readings in one series;
- with another kind of quantity under the same name.

**Where a reading stands in time.** Its hours are the meter's in the same visit, its date the clock's. Which of them are
believed is decided by `session/trust.py`. After an exchange of the meter the hours are those of the meter with the most
readings: the others stand on no axis of hours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from itertools import pairwise
from math import inf, nan

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.trust import claimed, is_meter, meter_read, trust

Facts = Sequence[tuple[f.Fact, Instant]]


class Mark(StrEnum):
    """What is not in order about a reading in its series."""

    IN_DOUBT = "the reading is in doubt"
    HOURS_IN_DOUBT = "the run hours are in doubt"
    HOURS_WRONG = "the hour meter contradicts other visits"
    DATE_WRONG = "the clock is not to be trusted"


@dataclass(frozen=True, slots=True)
class Point:
    """A reading in time.

    session: its name.
    read: the hour meter as read in that visit, in h.
    date: of the clock.
    marks: what is not in order about it.
    """

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
    """Readings of one thing.

    begun: why a new series began; empty for the first.
    points: in time order, at least one.
    ended: why the next reading begins another; empty while this one goes on.
    """

    name: str
    begun: str
    points: tuple[Point, ...]
    ended: str = ""


@dataclass(frozen=True, slots=True)
class _VisitReadings:
    """What a session tells.

    dated_facts: readings that stand and parts, in order.
    meter: the reading of it that stands.
    hours: as read, not a number without a meter.
    date: when the meter was read, else when the session began.
    """

    session: str
    dated_facts: tuple[tuple[f.ReadingRecorded | f.PartFitted, datetime], ...]
    meter: f.ReadingRecorded | None
    hours: float
    date: datetime


def history(sessions: Mapping[str, Facts], today: date | None = None) -> dict[str, tuple[Series, ...]]:
    """Reading's name -> its series, the oldest first.

    sessions: of one asset, name -> facts with their moments.
    today: no visit was later, None where nobody knows.

    Visits stand in the order of their run hours, those without by their dates among them. A visit with neither stands
    before all others, and its readings have neither hours nor day. Run hours themselves are no series.
    """
    visits = [_visit(session, facts) for session, facts in sorted(sessions.items()) if facts]
    believed = trust([claim for session, facts in sorted(sessions.items()) for claim in claimed(session, facts)], today)
    hours_hold, clock_holds = believed.main_meter, believed.dates
    dated = [visit for visit in visits if visit.session in hours_hold & clock_holds]

    def place(visit: _VisitReadings) -> tuple[float, datetime, str]:
        if visit.session in hours_hold:
            return visit.hours, visit.date, visit.session
        earlier = [other.hours for other in dated if other.date <= visit.date and visit.session in clock_holds]
        return max(earlier, default=-inf), visit.date, visit.session

    found: dict[str, list[tuple[str, list[Point]]]] = {}
    fitted: dict[str, str] = {}  # reading's name -> the part that was fitted since
    for visit in sorted(visits, key=place):
        for fact, when in visit.dated_facts:
            if isinstance(fact, f.PartFitted):
                fitted |= {name: f"{fact.name} fitted" for name in found if _concerns(fact, name)}
                continue
            point = _point(visit, fact, when, visit.session in hours_hold, visit.session in clock_holds)
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


def _visit(session: str, facts: Facts) -> _VisitReadings:
    dated_facts: list[tuple[f.ReadingRecorded | f.PartFitted, datetime]] = []
    for fact, at in facts:
        when = datetime.fromisoformat(at.wall)
        match fact:
            case f.ReadingRecorded() if is_meter(fact):
                pass  # the axis of the others
            case f.ReadingRecorded(stage=f.ReadingStage.AS_LEFT):  # only the last is what was left
                dated_facts = [dated for dated in dated_facts if not _left(dated[0], fact.name)]
                dated_facts.append((fact, when))
            case f.ReadingRecorded() | f.PartFitted():
                dated_facts.append((fact, when))
            case f.ReadingWithdrawn():
                dated_facts = [
                    dated for dated in dated_facts if isinstance(dated[0], f.PartFitted) or dated[0].place != fact.place
                ]
            case _:
                pass
    meter, at = meter_read(facts) or (None, facts[0][1])
    hours = nan if meter is None else float(meter.quantity.exactly("h"))
    return _VisitReadings(session, tuple(dated_facts), meter, hours, datetime.fromisoformat(at.wall))


def _left(fact: f.Fact, name: str) -> bool:
    return isinstance(fact, f.ReadingRecorded) and fact.name == name and fact.stage is f.ReadingStage.AS_LEFT


def _concerns(part: f.PartFitted, name: str) -> bool:
    return bool(set(part.name.casefold().split()[-1:]) & set(name.casefold().split()))


def _begun(last: f.ReadingRecorded, now: f.ReadingRecorded) -> str:
    """Why a new series begins between two readings of one name; empty when none does."""
    if now.quantity.kind is not last.quantity.kind:
        return f"measured as {now.quantity.kind}"
    adjusted = last.stage is f.ReadingStage.AS_FOUND and now.stage is f.ReadingStage.AS_LEFT
    return "adjusted" if adjusted else ""


def _point(
    visit: _VisitReadings, reading: f.ReadingRecorded, date: datetime, hours_hold: bool, clock_holds: bool
) -> Point:
    meter = visit.meter
    marks = (
        (Mark.IN_DOUBT, bool(reading.doubt)),
        (Mark.HOURS_IN_DOUBT, meter is not None and bool(meter.doubt)),
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
