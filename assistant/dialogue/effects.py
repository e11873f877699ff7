"""Effects: requests to the world, in the order in which they are to be carried out, after the decision is on disk."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.dialogue.messages import Hazard, Message
from assistant.grammar.expectation import Expectation
from assistant.session.facts import Fact

MUST_BE_HEARD: tuple[type[Message], ...] = (Hazard,)
"""Messages that are spoken in full before what they are said with takes an answer: the warnings."""


class CueSound(StrEnum):
    """The cue sounds that a decision can ask for; the one that opens the listening window is the edge's own."""

    HEARD = "heard"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class Cue:
    """Play a cue sound before anything is said."""

    sound: CueSound


@dataclass(frozen=True, slots=True)
class Say:
    """Speak these messages, in order. The answer of the world is `PromptPlayed` with the same exchange.

    exchange: that is open; 0: none is.
    messages: in order.
    """

    exchange: int
    messages: tuple[Message, ...]

    @property
    def warnings(self) -> tuple[Message, ...]:
        """Those of its messages that must be heard in full."""
        return tuple(message for message in self.messages if isinstance(message, MUST_BE_HEARD))


@dataclass(frozen=True, slots=True)
class Listen:
    """Listen for this.

    exchange: that listens.
    expectation: what may be said.
    patience: seconds after which `Silence` is reported; None: as long as it takes.
    """

    exchange: int
    expectation: Expectation
    patience: float | None


@dataclass(frozen=True, slots=True)
class StartTimer:
    """Report `TimerRanOut` after a time.

    timer: its identifier.
    run: which start of it.
    seconds: how long.
    """

    timer: str
    run: int
    seconds: float


@dataclass(frozen=True, slots=True)
class SetVoice:
    """Speak so from now on.

    loudness: steps of 4 dB from the usual.
    pace: steps of a tenth from the usual.
    """

    loudness: int
    pace: int


@dataclass(frozen=True, slots=True)
class Finish:
    """The visit is over: close the session."""


Effect = Cue | Say | Listen | StartTimer | SetVoice | Finish


@dataclass(frozen=True, slots=True)
class Decision:
    """All that follows from one input.

    facts: to be written down first.
    effects: to be carried out then, in order.
    """

    facts: tuple[Fact, ...]
    effects: tuple[Effect, ...]
