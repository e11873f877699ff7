"""Why a task stands as it does: by hours, by the calendar, by its condition, by findings.

Hours are written as a meter shows them, `180 h`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from assistant.statements.findings import FindingStatement


@dataclass(frozen=True, slots=True)
class EveryHours:
    """An interval in run hours."""

    hours: str
    kind: Literal["every hours"] = "every hours"


@dataclass(frozen=True, slots=True)
class EveryMonths:
    """An interval in months."""

    months: int
    kind: Literal["every months"] = "every months"


@dataclass(frozen=True, slots=True)
class EveryHoursOrMonths:
    """An interval of which the first counts."""

    hours: str
    months: int
    kind: Literal["every hours or months"] = "every hours or months"


@dataclass(frozen=True, slots=True)
class NeverDone:
    """No visit did the task."""

    every: Interval
    kind: Literal["never done"] = "never done"


@dataclass(frozen=True, slots=True)
class HoursNotKnown:
    """Nobody knows what the meter shows."""

    every: Interval
    kind: Literal["hours not known"] = "hours not known"


@dataclass(frozen=True, slots=True)
class MeterDoesNotTell:
    """The meter was exchanged, and nobody knows how much the set runs."""

    every: Interval
    kind: Literal["meter does not tell"] = "meter does not tell"


@dataclass(frozen=True, slots=True)
class DayNotKnown:
    """No day before it is known."""

    every: Interval
    kind: Literal["day not known"] = "day not known"


@dataclass(frozen=True, slots=True)
class DoneAgo:
    """How many run hours ago it was done."""

    every: Interval
    hours: str
    kind: Literal["done ago"] = "done ago"


@dataclass(frozen=True, slots=True)
class DoneAboutAgo:
    """How many run hours ago it was done, where that is estimated."""

    every: Interval
    hours: str
    kind: Literal["done about ago"] = "done about ago"


@dataclass(frozen=True, slots=True)
class DoneOn:
    """The day on which it was done."""

    every: Interval
    day: date
    kind: Literal["done on"] = "done on"


@dataclass(frozen=True, slots=True)
class DoneAfter:
    """The last day before it, where its own is not known."""

    every: Interval
    day: date
    kind: Literal["done after"] = "done after"


@dataclass(frozen=True, slots=True)
class OverdueBy:
    """It is overdue by run hours."""

    done: LastTime
    hours: str
    kind: Literal["overdue by"] = "overdue by"


@dataclass(frozen=True, slots=True)
class DueAt:
    """It is due at these run hours."""

    done: LastTime
    hours: str
    kind: Literal["due at"] = "due at"


@dataclass(frozen=True, slots=True)
class ComesBeforeNext:
    """It is due before the next visit, however little the set runs."""

    done: LastTime
    hours: str
    next_visit: date
    rate: RunRate
    kind: Literal["comes before next"] = "comes before next"


@dataclass(frozen=True, slots=True)
class MayComeBeforeNext:
    """It is due before the next visit when the set runs much."""

    done: LastTime
    hours: str
    next_visit: date
    rate: RunRate
    kind: Literal["may come before next"] = "may come before next"


@dataclass(frozen=True, slots=True)
class OverdueSince:
    """It is overdue by the calendar."""

    done: LastTime
    day: date
    kind: Literal["overdue since"] = "overdue since"


@dataclass(frozen=True, slots=True)
class DueOn:
    """It is due on this day."""

    done: LastTime
    day: date
    kind: Literal["due on"] = "due on"


@dataclass(frozen=True, slots=True)
class DueOnBeforeNext:
    """It is due on a day before the next visit."""

    done: LastTime
    day: date
    next_visit: date
    kind: Literal["due on before next"] = "due on before next"


@dataclass(frozen=True, slots=True)
class RunsADay:
    """How much the set runs."""

    hours: float
    kind: Literal["runs a day"] = "runs a day"


@dataclass(frozen=True, slots=True)
class RunsBetweenADay:
    """How much the set runs, at least and at most."""

    least: float
    most: float
    kind: Literal["runs between a day"] = "runs between a day"


@dataclass(frozen=True, slots=True)
class OnCondition:
    """It is due when the engine asks for it. condition: in the equipment file's words."""

    condition: str
    kind: Literal["on condition"] = "on condition"


@dataclass(frozen=True, slots=True)
class AlsoOnCondition:
    """It is due by its interval, and when the engine asks for it."""

    condition: str
    kind: Literal["also on condition"] = "also on condition"


@dataclass(frozen=True, slots=True)
class OpenFinding:
    """A finding that the task settles. words: what was found."""

    words: FindingText
    kind: Literal["open finding"] = "open finding"


@dataclass(frozen=True, slots=True)
class OpenFindingOf:
    """A finding of a known day that the task settles."""

    words: FindingText
    day: date
    kind: Literal["open finding of"] = "open finding of"


@dataclass(frozen=True, slots=True)
class FoundOn:
    """A finding that no task settles. place: procedure and step."""

    words: FindingText
    day: date
    place: str
    kind: Literal["found on"] = "found on"


@dataclass(frozen=True, slots=True)
class FoundSometime:
    """A finding that no task settles, of an unknown day."""

    words: FindingText
    place: str
    kind: Literal["found sometime"] = "found sometime"


Interval = EveryHours | EveryMonths | EveryHoursOrMonths
LastTime = DoneAgo | DoneAboutAgo | DoneOn | DoneAfter
RunRate = RunsADay | RunsBetweenADay
FindingText = FindingStatement | str

DueStatement = (
    EveryHours
    | EveryMonths
    | EveryHoursOrMonths
    | NeverDone
    | HoursNotKnown
    | MeterDoesNotTell
    | DayNotKnown
    | DoneAgo
    | DoneAboutAgo
    | DoneOn
    | DoneAfter
    | OverdueBy
    | DueAt
    | ComesBeforeNext
    | MayComeBeforeNext
    | OverdueSince
    | DueOn
    | DueOnBeforeNext
    | RunsADay
    | RunsBetweenADay
    | OnCondition
    | AlsoOnCondition
    | OpenFinding
    | OpenFindingOf
    | FoundOn
    | FoundSometime
)


@dataclass(frozen=True, slots=True)
class Reasons:
    """Why a task stands as it does, each reason, the most urgent first."""

    reasons: tuple[DueStatement, ...]
    kind: Literal["reasons"] = "reasons"
