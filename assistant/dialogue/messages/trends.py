"""Messages about a reading over several visits."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import ClassVar

from assistant.quantities import Limits, Quantity
from assistant.trends import Axis, Movement


@dataclass(frozen=True, slots=True)
class TrendNotYet:
    """Nothing can be said of a reading's trend yet."""

    kind: ClassVar[str] = "TrendNotYet"
    name: str


@dataclass(frozen=True, slots=True)
class TrendOut:
    """The newest reading is out of its limits, so its trend matters no more."""

    kind: ClassVar[str] = "TrendOut"
    name: str
    newest: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class TrendUnclear:
    """The readings show no clear trend. readings: how many."""

    kind: ClassVar[str] = "TrendUnclear"
    name: str
    readings: int


@dataclass(frozen=True, slots=True)
class TrendOfFew:
    """The trend rests on a few of the readings."""

    kind: ClassVar[str] = "TrendOfFew"
    name: str


@dataclass(frozen=True, slots=True)
class TrendWithoutLimit:
    """A reading moves and has no limit. per: on which axis, in whose span it changes so much."""

    kind: ClassVar[str] = "TrendWithoutLimit"
    name: str
    moves: Movement
    change: Quantity
    per: Axis


@dataclass(frozen=True, slots=True)
class TrendAway:
    """A reading moves away from its only limit."""

    kind: ClassVar[str] = "TrendAway"
    name: str
    moves: Movement


@dataclass(frozen=True, slots=True)
class TrendPast:
    """By its trend a reading is at its limit already."""

    kind: ClassVar[str] = "TrendPast"
    name: str
    limit: Quantity


@dataclass(frozen=True, slots=True)
class TrendFar:
    """A reading moves towards a limit that is too far off to say when."""

    kind: ClassVar[str] = "TrendFar"
    name: str
    moves: Movement
    limit: Quantity


@dataclass(frozen=True, slots=True)
class TrendReaches:
    """When a reading reaches its limit: run hours or dates, with the range."""

    kind: ClassVar[str] = "TrendReaches"
    name: str
    limit: Quantity
    at: Quantity | date
    earliest: Quantity | date
    latest: Quantity | date


@dataclass(frozen=True, slots=True)
class TrendReachesNotBefore:
    """As `TrendReaches`, where the end of the range is too far off to say."""

    kind: ClassVar[str] = "TrendReachesNotBefore"
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
