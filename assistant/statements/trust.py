"""What is stated of earlier visits: which hours and dates are not believed, and what was made of it.

Hours are written as a meter shows them; `reading` is such hours with their day.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from assistant.statements.due import RunRate


@dataclass(frozen=True, slots=True)
class ReadOn:
    """Run hours and the day on which they were read."""

    hours: str
    day: date
    kind: Literal["read on"] = "read on"


@dataclass(frozen=True, slots=True)
class ReadSometime:
    """Run hours of which the day is not known."""

    hours: str
    kind: Literal["read sometime"] = "read sometime"


@dataclass(frozen=True, slots=True)
class NoMeterShows:
    """No hour meter shows so much."""

    reading: MeterReading
    kind: Literal["no meter shows"] = "no meter shows"


@dataclass(frozen=True, slots=True)
class DateToCome:
    """A visit is dated in the future."""

    day: date
    kind: Literal["date to come"] = "date to come"


@dataclass(frozen=True, slots=True)
class DateCannotBe:
    """A visit is dated before there can have been one."""

    day: date
    kind: Literal["date cannot be"] = "date cannot be"


@dataclass(frozen=True, slots=True)
class ClockWasSet:
    """The clock jumped during a visit."""

    day: date
    kind: Literal["clock was set"] = "clock was set"


@dataclass(frozen=True, slots=True)
class TakenAsMisread:
    """Run hours fit neither those before nor those after."""

    reading: MeterReading
    kind: Literal["taken as misread"] = "taken as misread"


@dataclass(frozen=True, slots=True)
class MeterWentBack:
    """The meter shows less than before."""

    before: MeterReading
    after: MeterReading
    kind: Literal["meter went back"] = "meter went back"


@dataclass(frozen=True, slots=True)
class MeterRanAhead:
    """The meter gained more hours than passed."""

    before: MeterReading
    after: MeterReading
    kind: Literal["meter ran ahead"] = "meter ran ahead"


@dataclass(frozen=True, slots=True)
class HoursNotReadYet:
    """No visit has read the meter."""

    kind: Literal["hours not read yet"] = "hours not read yet"


@dataclass(frozen=True, slots=True)
class HoursAsReadLast:
    """Nobody knows how much the set runs."""

    hours: str
    kind: Literal["hours as read last"] = "hours as read last"


@dataclass(frozen=True, slots=True)
class HoursEstimated:
    """The hours of today, from the last reading and the rate."""

    hours: str
    day: date
    rate: RunRate
    kind: Literal["hours estimated"] = "hours estimated"


MeterReading = ReadOn | ReadSometime

TrustStatement = (
    ReadOn
    | ReadSometime
    | NoMeterShows
    | DateToCome
    | DateCannotBe
    | ClockWasSet
    | TakenAsMisread
    | MeterWentBack
    | MeterRanAhead
    | HoursNotReadYet
    | HoursAsReadLast
    | HoursEstimated
)
