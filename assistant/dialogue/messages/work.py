"""Messages about the visit as a whole."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WorkBegins:
    """The work is taken up."""

    title: str
    asset: str
    steps: int


@dataclass(frozen=True, slots=True)
class WorkGoesOn:
    """A visit that broke off goes on."""

    title: str


@dataclass(frozen=True, slots=True)
class DemoData:
    """The values of this equipment are invented."""


@dataclass(frozen=True, slots=True)
class WhereYouAre:
    """The place in the work."""

    number: int
    total: int
    title: str


@dataclass(frozen=True, slots=True)
class AskEnding:
    """Is the work to end unfinished? open: how many steps are not done."""

    open: int


@dataclass(frozen=True, slots=True)
class GoingOn:
    """A request was taken back, or a pause is over."""


@dataclass(frozen=True, slots=True)
class StandingBy:
    """The assistant waits."""


@dataclass(frozen=True, slots=True)
class LongPause:
    """The pause was long: what was known of the engine is not known any more."""


@dataclass(frozen=True, slots=True)
class LastDone:
    """The steps that were done last, before a break. titles: in order."""

    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WhatIsLeft:
    """How many steps are open and which comes next."""

    open: int
    title: str


@dataclass(frozen=True, slots=True)
class HelpNeeded:
    """An alarm, spoken aloud again and again; it reaches nobody else."""


@dataclass(frozen=True, slots=True)
class AskRole:
    """Who goes on with the work?"""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Another person goes on; the engine's state is not known any more."""

    technician: str


@dataclass(frozen=True, slots=True)
class WorkComplete:
    """The last step is done."""

    readings: int
    skipped: int
    findings: int


@dataclass(frozen=True, slots=True)
class WorkEndedEarly:
    """The work ends unfinished."""

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
