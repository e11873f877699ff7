"""Messages of the exchange: how to answer, and that something was not understood."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from assistant.grammar.expectation import Offer
from assistant.meanings import CommandName


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """What was said was not understood."""

    kind: ClassVar[str] = "NotUnderstood"


@dataclass(frozen=True, slots=True)
class NoiseInTheWay:
    """The noise is nearly as loud as the voice: what helps."""

    kind: ClassVar[str] = "NoiseInTheWay"


@dataclass(frozen=True, slots=True)
class VoiceTooFaint:
    """The voice hardly reaches the microphone: what helps."""

    kind: ClassVar[str] = "VoiceTooFaint"


@dataclass(frozen=True, slots=True)
class VoiceTooLoud:
    """The voice is more than the microphone can take: what helps."""

    kind: ClassVar[str] = "VoiceTooLoud"


@dataclass(frozen=True, slots=True)
class Choices:
    """What may be said here. choices: offers and commands; their phrases are the grammar's."""

    kind: ClassVar[str] = "Choices"
    choices: tuple[Offer | CommandName, ...]


@dataclass(frozen=True, slots=True)
class SayNumber:
    """What may be said where a reading is asked for."""

    kind: ClassVar[str] = "SayNumber"
    name: str
    unit: str


@dataclass(frozen=True, slots=True)
class DigitByDigit:
    """A reading is to be said digit by digit."""

    kind: ClassVar[str] = "DigitByDigit"
    name: str


@dataclass(frozen=True, slots=True)
class UseHands:
    """Hearing does not work here: button or keyboard."""

    kind: ClassVar[str] = "UseHands"


@dataclass(frozen=True, slots=True)
class WhichUnit:
    """A word that several units are called by was said. choices: those units."""

    kind: ClassVar[str] = "WhichUnit"
    choices: tuple[Offer | CommandName, ...]


@dataclass(frozen=True, slots=True)
class AnswerNeeded:
    """`next` does not answer a question."""

    kind: ClassVar[str] = "AnswerNeeded"


@dataclass(frozen=True, slots=True)
class NotHere:
    """What was asked for is not possible now."""

    kind: ClassVar[str] = "NotHere"


@dataclass(frozen=True, slots=True)
class NothingToCorrect:
    """There is nothing that `correction` could take back."""

    kind: ClassVar[str] = "NothingToCorrect"


AskingMessage = (
    NotUnderstood
    | NoiseInTheWay
    | VoiceTooFaint
    | VoiceTooLoud
    | Choices
    | SayNumber
    | DigitByDigit
    | UseHands
    | WhichUnit
    | AnswerNeeded
    | NotHere
    | NothingToCorrect
)
