"""What may be said now: a tuple of offers. Only the tables of step kinds and of commands make them.

An expectation compiles to one word graph; everything else (what is heard, what typed text means, what "the
choices" offers, whether what was heard can grow) is a function of that graph.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.meanings import MeaningType


class Risk(StrEnum):
    """What a false hearing of the offer would cost; each has an operating point of its own."""

    COMMAND = "command"
    READING = "reading"
    HOLD = "hold"


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that may be said.

    rule: a JSGF rule expansion; `<commands.next>` refers to the public rule `next` of `commands.jsgf` in the
        language's folder, and plain words are words.
    meaning: the type that its tags become.
    risk: which operating point judges it.
    key: for offers whose rule carries no tag (phrases of a procedure), what its meaning is made of.
    """

    rule: str
    meaning: MeaningType
    risk: Risk
    key: str = ""


@dataclass(frozen=True, slots=True)
class Expectation:
    """All that may be said now, in the order in which the choices are offered."""

    offers: tuple[Offer, ...]
