"""Messages about parts, and about things that fell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class SpellPart:
    """How a part is proved: the last three characters of its number, spelled."""

    kind: ClassVar[str] = "SpellPart"


@dataclass(frozen=True, slots=True)
class PartProved:
    """The part fitted is one of those expected."""

    kind: ClassVar[str] = "PartProved"
    name: str


@dataclass(frozen=True, slots=True)
class PartDiffers:
    """The part spelled is none of those expected. spoken: the characters heard, one by one."""

    kind: ClassVar[str] = "PartDiffers"
    spoken: str


@dataclass(frozen=True, slots=True)
class AskSubstitute:
    """Why is a substitute fitted?"""

    kind: ClassVar[str] = "AskSubstitute"


@dataclass(frozen=True, slots=True)
class SubstituteFitted:
    """A substitute is fitted, for a reason."""

    kind: ClassVar[str] = "SubstituteFitted"
    reason: str


@dataclass(frozen=True, slots=True)
class SomethingDropped:
    """Nothing is started until what fell is found or excused."""

    kind: ClassVar[str] = "SomethingDropped"


@dataclass(frozen=True, slots=True)
class AskFound:
    """What fell must be found or excused before this goes on."""

    kind: ClassVar[str] = "AskFound"


@dataclass(frozen=True, slots=True)
class Accounted:
    """What fell was found or excused, and nothing is missing any more."""

    kind: ClassVar[str] = "Accounted"


@dataclass(frozen=True, slots=True)
class StillMissing:
    """One thing that fell was found or excused; others are still missing. number: how many."""

    kind: ClassVar[str] = "StillMissing"
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
