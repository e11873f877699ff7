"""What a step says about itself, as data: the types of the traits that every kind of step declares (`step.py`).

Checks, the paper form, the lists of words and the synthetic technician read these and nothing else of a step's own.
Refuses to know the kinds, and what is done with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assistant.procedure.answers import NamedAnswer, Then
from assistant.procedure.measured import Measured, Taken
from assistant.procedure.problem import Path
from assistant.quantities import Quantity

# --- what may be said to it --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AnswerPhrase:
    """Words of the step's own that the technician may say.

    at: where they stand in the step.
    answer: the key of the answer that they mean; of a hold point its identifier.
    phrase: the words.
    taught: whether they are the words that are taught and printed, and not other words for the same.
    """

    at: Path
    answer: str
    phrase: str
    taught: bool = True


@dataclass(frozen=True, slots=True)
class HoldCard:
    """The printed card without which work does not go on. No prompt speaks its phrase.

    number: of the card.
    phrase: what is said to go on.
    """

    number: int
    phrase: str


# --- what is measured at it --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Measurement:
    """A value that is measured at the step.

    at: where it stands in the step; empty: the step itself is the reading, and later steps name it by its identifier.
    measured: its name, unit and limits.
    taken: as found or as left.
    samples: how often it is measured, for the mean of these.
    until_within: out of limits it is put right and measured again.
    circumstance: it says under what the readings that follow are taken.
    """

    at: Path
    measured: Measured
    taken: Taken
    samples: int
    until_within: bool
    circumstance: bool


# --- where it leads, and when ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Way:
    """A way on from the step.

    at: where it stands in the step; empty where every step of the kind has it.
    then: the next step, this one again, or the end of the work.
    goes_to: the later step that follows instead of the next one, by its identifier.
    """

    at: Path
    then: Then
    goes_to: str | None = None


ON_TO_THE_NEXT = (Way((), Then.GO_ON),)
"""The ways of a step after which only the next one can follow."""


@dataclass(frozen=True, slots=True)
class Wait:
    """Time that passes by itself before the step is done.

    lasts: as the file says it.
    seconds: the same in seconds.
    meanwhile: whether other work goes on.
    """

    lasts: Quantity
    seconds: float
    meanwhile: bool


# --- on paper ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Blank:
    """Something that is written down.

    name: what.
    unit: in which; empty where it has none.
    limits: what stands beside it to be held against.
    """

    name: str
    unit: str = ""
    limits: str = ""


@dataclass(frozen=True, slots=True)
class PaperFields:
    """What is filled in at the step on the paper form, besides the box that says it is done.

    blanks: what is written down.
    boxes: what is ticked, by its words.
    """

    blanks: tuple[Blank, ...] = ()
    boxes: tuple[str, ...] = ()


NOTHING_TO_FILL_IN = PaperFields()


# --- how a careful technician passes it --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SaysNext:
    """Says `next` when it is done. by_hand: whether it is work, which takes longer than a look."""

    by_hand: bool


@dataclass(frozen=True, slots=True)
class LetsTimePass:
    """Says nothing: it ends by itself."""


@dataclass(frozen=True, slots=True)
class SaysHoldPhrase:
    """Says the phrase of the card. phrase: the words."""

    phrase: str


@dataclass(frozen=True, slots=True)
class ChoosesAnswer:
    """Says one of the named answers. answers: by their keys."""

    answers: Mapping[str, NamedAnswer]


@dataclass(frozen=True, slots=True)
class SaysReading:
    """Says the value of the one reading. measured: which."""

    measured: Measured


@dataclass(frozen=True, slots=True)
class SaysReadings:
    """Says the values of a set, as each is asked for. first: the name of the first."""

    first: str


@dataclass(frozen=True, slots=True)
class SpellsPart:
    """Spells the last characters of a part's number. proof: these characters."""

    proof: str


Response = SaysNext | LetsTimePass | SaysHoldPhrase | ChoosesAnswer | SaysReading | SaysReadings | SpellsPart
"""What passes a step. A closed union: the synthetic technician can do all of these."""
