"""Messages about the visit as a whole."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class WorkBegins:
    """The work is taken up."""

    kind: ClassVar[str] = "WorkBegins"
    title: str
    asset: str
    steps: int


@dataclass(frozen=True, slots=True)
class WorkGoesOn:
    """A visit that broke off goes on."""

    kind: ClassVar[str] = "WorkGoesOn"
    title: str


@dataclass(frozen=True, slots=True)
class DemoData:
    """The values of this equipment are invented."""

    kind: ClassVar[str] = "DemoData"


@dataclass(frozen=True, slots=True)
class WhereYouAre:
    """The place in the work."""

    kind: ClassVar[str] = "WhereYouAre"
    number: int
    total: int
    title: str


@dataclass(frozen=True, slots=True)
class AskEnding:
    """Is the work to end unfinished? open: how many steps are not done."""

    kind: ClassVar[str] = "AskEnding"
    open: int


@dataclass(frozen=True, slots=True)
class GoingOn:
    """A request was taken back, or a pause is over."""

    kind: ClassVar[str] = "GoingOn"


@dataclass(frozen=True, slots=True)
class StandingBy:
    """The assistant waits."""

    kind: ClassVar[str] = "StandingBy"


@dataclass(frozen=True, slots=True)
class LongPause:
    """The pause was long: what was known of the engine is not known any more."""

    kind: ClassVar[str] = "LongPause"


@dataclass(frozen=True, slots=True)
class LastDone:
    """The steps that were done last, before a break. titles: in order."""

    kind: ClassVar[str] = "LastDone"
    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhatIsLeft:
    """How many steps are open and which comes next."""

    kind: ClassVar[str] = "WhatIsLeft"
    open: int
    title: str


@dataclass(frozen=True, slots=True)
class HelpNeeded:
    """An alarm, spoken aloud again and again; it reaches nobody else."""

    kind: ClassVar[str] = "HelpNeeded"


@dataclass(frozen=True, slots=True)
class AskRole:
    """Who goes on with the work?"""

    kind: ClassVar[str] = "AskRole"


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Another person goes on; the engine's state is not known any more."""

    kind: ClassVar[str] = "HandedOver"
    technician: str


@dataclass(frozen=True, slots=True)
class WorkComplete:
    """The last step is done."""

    kind: ClassVar[str] = "WorkComplete"
    readings: int
    skipped: int
    findings: int


@dataclass(frozen=True, slots=True)
class WorkEndedEarly:
    """The work ends unfinished."""

    kind: ClassVar[str] = "WorkEndedEarly"
    open: int


WorkMessage = (
    WorkBegins
    | WorkGoesOn
    | DemoData
    | WhereYouAre
    | AskEnding
    | GoingOn
    | StandingBy
    | LongPause
    | LastDone
    | WhatIsLeft
    | HelpNeeded
    | AskRole
    | HandedOver
    | WorkComplete
    | WorkEndedEarly
)
