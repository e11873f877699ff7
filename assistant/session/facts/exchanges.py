"""Facts of the open question: what was heard, what failed, what was refused."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from assistant.quantities import Quantity
from assistant.session.facts.texts import DoubtText
from assistant.session.inputs import AudioProblem, Clip, Source


class Purpose(StrEnum):
    """What an exchange is for."""

    STEP = "step"
    REASON = "reason"
    ENDING = "ending"
    STATE = "state"
    FOUND = "found"
    NOTE = "note"
    FINDING = "finding"
    STEP_WRONG = "step wrong"
    HAND_OVER = "hand over"
    SUBSTITUTE = "substitute"
    TASK_PUT_OFF = "task put off"
    TASK_ADDED = "task added"
    TASK_REASON = "task reason"
    OTHER_WORK = "other work"


class ExchangeStage(StrEnum):
    """Where an exchange stands.

    ASKING: its question is open.
    COMPLETING: a number was heard, and which unit it has is asked.
    CONFIRMING: what was heard was read back, and waits to be confirmed.
    """

    ASKING = "asking"
    COMPLETING = "completing"
    CONFIRMING = "confirming"


class Manner(StrEnum):
    """The way of asking. After two failed hearings the next one that the question allows.

    PLAIN: the question as it is written.
    CHOICES: what may be said is read out.
    DIGITS: a number is asked for digit by digit.
    MANUAL: by button or keyboard.
    """

    PLAIN = "plain"
    CHOICES = "choices"
    DIGITS = "digits"
    MANUAL = "hands"


@dataclass(frozen=True, slots=True)
class ExchangeOpened:
    """An exchange began.

    exchange: its number, counted from 1 within a session.
    purpose: what it is for.
    """

    exchange: int
    purpose: Purpose
    kind: Literal["exchange opened"] = "exchange opened"


@dataclass(frozen=True, slots=True)
class ExchangeClosed:
    """An exchange ended; a later answer to it is dropped."""

    exchange: int
    kind: Literal["exchange closed"] = "exchange closed"


class Failure(StrEnum):
    """Why a hearing failed."""

    DOUBTFUL = "doubtful"
    SILENCE = "silence"
    TEEN_OR_TEN = "teen or ten"


@dataclass(frozen=True, slots=True)
class HearingFailed:
    """What was said, if anything, was not understood.

    failure: why.
    text: the best guess, for the supervisor; not acted on.
    clip: the sound of it; None where there is none.
    hindrance: what was in the way; None where that is unknown.
    """

    exchange: int
    failure: Failure
    text: str
    clip: Clip | None
    hindrance: AudioProblem | None = None
    kind: Literal["hearing failed"] = "hearing failed"


@dataclass(frozen=True, slots=True)
class MannerChanged:
    """The way of asking changed.

    manner: the way from now on.
    """

    exchange: int
    manner: Manner
    kind: Literal["manner changed"] = "manner changed"


@dataclass(frozen=True, slots=True)
class UnitAsked:
    """A number was heard with a word that several units are called by, so it is asked which was meant.

    called: the word, `gallons`.
    clip: the sound of the number.
    """

    exchange: int
    value: Decimal
    called: str
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["unit asked"] = "unit asked"


@dataclass(frozen=True, slots=True)
class UnitTakenBack:
    """The technician took a number back before saying which unit was meant."""

    exchange: int
    value: Decimal
    called: str
    kind: Literal["unit taken back"] = "unit taken back"


@dataclass(frozen=True, slots=True)
class ReadingHeard:
    """A reading was heard and waits for its confirmation.

    doubt: why it is not to be trusted; empty when it is.
    """

    exchange: int
    quantity: Quantity
    confidence: float
    clip: Clip | None
    source: Source
    doubt: DoubtText
    kind: Literal["reading heard"] = "reading heard"


@dataclass(frozen=True, slots=True)
class ReadingQuestioned:
    """A reading outside the believable range was heard; it is asked for again before anything else.

    believable: the range, as written.
    """

    exchange: int
    quantity: Quantity
    believable: str
    clip: Clip | None
    kind: Literal["reading questioned"] = "reading questioned"


@dataclass(frozen=True, slots=True)
class ReadBackRefused:
    """The technician said that the value read back is not the one meant."""

    exchange: int
    quantity: Quantity
    kind: Literal["read-back refused"] = "read-back refused"


@dataclass(frozen=True, slots=True)
class ReadingCollected:
    """One reading of a set was heard; the set is confirmed when it is whole.

    name: of the reading.
    doubt: why it is not to be trusted; empty when it is.
    last: whether the set is whole now.
    """

    exchange: int
    name: str
    quantity: Quantity
    confidence: float
    clip: Clip | None
    source: Source
    doubt: DoubtText
    last: bool
    kind: Literal["reading collected"] = "reading collected"


@dataclass(frozen=True, slots=True)
class SetRefused:
    """The set read back is not right; it is asked for anew."""

    exchange: int
    kind: Literal["set refused"] = "set refused"


@dataclass(frozen=True, slots=True)
class RequestRefused:
    """Something is not allowed here; nothing changed.

    what: was asked for.
    because: the kind of the message that refused it.
    """

    what: str
    because: str
    kind: Literal["request refused"] = "request refused"


@dataclass(frozen=True, slots=True)
class LateAnswerDropped:
    """An answer came to an exchange that is closed."""

    exchange: int
    kind: Literal["late answer dropped"] = "late answer dropped"


ExchangeFact = (
    ExchangeOpened
    | ExchangeClosed
    | HearingFailed
    | MannerChanged
    | UnitAsked
    | UnitTakenBack
    | ReadingHeard
    | ReadingQuestioned
    | ReadBackRefused
    | ReadingCollected
    | SetRefused
    | RequestRefused
    | LateAnswerDropped
)
