"""Messages about a reading over several visits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from assistant.quantities import Quantity


@dataclass(frozen=True, slots=True)
class TrendNotYet:
    """Nothing can be said of a reading's trend yet."""

    name: str


@dataclass(frozen=True, slots=True)
class TrendOut:
    """The newest reading is out of its limits, so its trend matters no more. limits: as written."""

    name: str
    newest: Quantity
    limits: str


@dataclass(frozen=True, slots=True)
class TrendUnclear:
    """The readings show no clear trend. readings: how many, in words."""

    name: str
    readings: str


@dataclass(frozen=True, slots=True)
class TrendOfFew:
    """The trend rests on a few of the readings."""

    name: str


@dataclass(frozen=True, slots=True)
class TrendWithoutLimit:
    """A reading moves and has no limit. moves: in words; per: the time in which it changes so much, in words."""

    name: str
    moves: str
    change: Quantity
    per: str


@dataclass(frozen=True, slots=True)
class TrendAway:
    """A reading moves away from its only limit."""

    name: str
    moves: str


@dataclass(frozen=True, slots=True)
class TrendPast:
    """By its trend a reading is at its limit already."""

    name: str
    limit: Quantity


@dataclass(frozen=True, slots=True)
class TrendFar:
    """A reading moves towards a limit that is too far off to say when."""

    name: str
    moves: str
    limit: Quantity


@dataclass(frozen=True, slots=True)
class TrendReaches:
    """When a reading reaches its limit: run hours or dates, with the range."""

    name: str
    limit: Quantity
    at: Quantity | date
    earliest: Quantity | date
    latest: Quantity | date


@dataclass(frozen=True, slots=True)
class TrendReachesNotBefore:
    """As `TrendReaches`, where the end of the range is too far off to say."""

    name: str
    limit: Quantity
    at: Quantity | date
    earliest: Quantity | date


TrendMessage = (
    TrendNotYet
    | TrendOut
    | TrendUnclear
    | TrendOfFew
    | TrendWithoutLimit
    | TrendAway
    | TrendPast
    | TrendFar
    | TrendReaches
    | TrendReachesNotBefore
)
