"""Facts of things: parts fitted and refused, things dropped and found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.session.facts.places import StepPlace
from assistant.session.inputs import Clip, Source


@dataclass(frozen=True, slots=True)
class ObjectDropped:
    """Something fell; nothing is started until it is found or excused."""

    place: StepPlace
    kind: Literal["object dropped"] = "object dropped"


@dataclass(frozen=True, slots=True)
class ObjectAccounted:
    """What had fallen was found, or was excused by the technician."""

    place: StepPlace
    found: bool
    kind: Literal["object accounted"] = "object accounted"


@dataclass(frozen=True, slots=True)
class PartFitted:
    """A part was fitted. number: of the part expected, proved by `spoken`: its last three characters, or all of them
    where it was typed in full; empty for a substitute, which has a reason instead."""

    place: StepPlace
    name: str
    number: str
    spoken: str
    reason: str
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["part fitted"] = "part fitted"


@dataclass(frozen=True, slots=True)
class PartRefused:
    """The characters spelled are those of no part expected. spoken: as heard."""

    place: StepPlace
    spoken: str
    clip: Clip | None
    kind: Literal["part refused"] = "part refused"


PartFact = ObjectDropped | ObjectAccounted | PartFitted | PartRefused
