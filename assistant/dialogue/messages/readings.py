"""Messages about values that are measured."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assistant.quantities import Limits, Quantity


@dataclass(frozen=True, slots=True)
class ReadBack:
    """A reading read back digit by digit, for confirmation. converted: in the step's unit, if said in another."""

    kind: ClassVar[str] = "ReadBack"
    name: str
    quantity: Quantity
    converted: Quantity | None = None


@dataclass(frozen=True, slots=True)
class NotBelievable:
    """A reading outside the believable range is asked for again. converted: as in `ReadBack`."""

    kind: ClassVar[str] = "NotBelievable"
    name: str
    quantity: Quantity
    believable: Limits
    converted: Quantity | None = None


@dataclass(frozen=True, slots=True)
class AskedAnew:
    """A reading is asked for again after its read-back was refused."""

    kind: ClassVar[str] = "AskedAnew"
    name: str


@dataclass(frozen=True, slots=True)
class WithinLimits:
    """A value is within its limits."""

    kind: ClassVar[str] = "WithinLimits"
    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class TooLow:
    """A value is below its limits."""

    kind: ClassVar[str] = "TooLow"
    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class TooHigh:
    """A value is above its limits."""

    kind: ClassVar[str] = "TooHigh"
    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class Inconclusive:
    """A value is too near a limit for the instrument to tell on which side it is."""

    kind: ClassVar[str] = "Inconclusive"
    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class MeasureAgain:
    """An inconclusive reading is taken once more."""

    kind: ClassVar[str] = "MeasureAgain"


@dataclass(frozen=True, slots=True)
class OutOfDate:
    """The calibration of a reading's instrument is out of date; the reading is marked."""

    kind: ClassVar[str] = "OutOfDate"
    instrument: str


@dataclass(frozen=True, slots=True)
class AskSample:
    """The next of several readings of one thing. number: from 1."""

    kind: ClassVar[str] = "AskSample"
    name: str
    number: int
    total: int


@dataclass(frozen=True, slots=True)
class MeanOfSamples:
    """The mean of repeated readings and their spread."""

    kind: ClassVar[str] = "MeanTold"
    mean: Quantity
    spread: Quantity


@dataclass(frozen=True, slots=True)
class SampleDoubted:
    """One of repeated readings lies far from the others; it counts all the same."""

    kind: ClassVar[str] = "SampleDoubted"
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class Recorded:
    """A confirmed reading has no limits."""

    kind: ClassVar[str] = "Recorded"


@dataclass(frozen=True, slots=True)
class PutRight:
    """What to put right before measuring again, or before the question is asked again."""

    kind: ClassVar[str] = "PutRight"
    text: str


@dataclass(frozen=True, slots=True)
class AskMember:
    """The next reading of a set."""

    kind: ClassVar[str] = "AskMember"
    name: str


@dataclass(frozen=True, slots=True)
class MemberReadBack:
    """One reading of a set, read back digit by digit. converted: as in `ReadBack`."""

    kind: ClassVar[str] = "MemberReadBack"
    name: str
    quantity: Quantity
    converted: Quantity | None = None


@dataclass(frozen=True, slots=True)
class AllRight:
    """Is the whole set right?"""

    kind: ClassVar[str] = "AllRight"


@dataclass(frozen=True, slots=True)
class SetAnew:
    """The set is asked for from its beginning."""

    kind: ClassVar[str] = "SetAnew"


@dataclass(frozen=True, slots=True)
class NamedMember:
    """How one reading of a set stands against its limits: the message for the side it is on follows."""

    kind: ClassVar[str] = "MemberTold"
    name: str


@dataclass(frozen=True, slots=True)
class LastReading:
    """The reading that was recorded last."""

    kind: ClassVar[str] = "LastReading"
    name: str
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class NoReading:
    """Nothing was measured yet."""

    kind: ClassVar[str] = "NoReading"


ReadingMessage = (
    ReadBack
    | NotBelievable
    | AskedAnew
    | WithinLimits
    | TooLow
    | TooHigh
    | Inconclusive
    | MeasureAgain
    | OutOfDate
    | AskSample
    | MeanOfSamples
    | SampleDoubted
    | Recorded
    | PutRight
    | AskMember
    | MemberReadBack
    | AllRight
    | SetAnew
    | NamedMember
    | LastReading
    | NoReading
)
