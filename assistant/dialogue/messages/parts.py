"""Messages about parts, and about things that fell."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SpellPart:
    """How a part is proved: the last three characters of its number, spelled."""


@dataclass(frozen=True, slots=True)
class PartProved:
    """The part fitted is one of those expected."""

    name: str


@dataclass(frozen=True, slots=True)
class PartDiffers:
    """The part spelled is none of those expected. spoken: the characters heard, one by one."""

    spoken: str


@dataclass(frozen=True, slots=True)
class AskSubstitute:
    """Why is a substitute fitted?"""


@dataclass(frozen=True, slots=True)
class SubstituteFitted:
    """A substitute is fitted, for a reason."""

    reason: str


@dataclass(frozen=True, slots=True)
class SomethingDropped:
    """Nothing is started until what fell is found or excused."""


@dataclass(frozen=True, slots=True)
class AskFound:
    """What fell must be found or excused before this goes on."""


@dataclass(frozen=True, slots=True)
class Accounted:
    """What fell was found or excused, and nothing is missing any more."""


@dataclass(frozen=True, slots=True)
class StillMissing:
    """One thing that fell was found or excused; others are still missing. number: how many."""

    number: int


PartMessage = (
    SpellPart
    | PartProved
    | PartDiffers
    | AskSubstitute
    | SubstituteFitted
    | SomethingDropped
    | AskFound
    | Accounted
    | StillMissing
)
