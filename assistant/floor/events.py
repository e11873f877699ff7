"""Events: what a world reports to the floor. A closed union of frozen dataclasses.

Each brings its moment, `at`: seconds of the world's own clock, which only has to run forward. Knows what happened to
devices and what was said or typed. Refuses to know what follows from it: that is the machine's.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.dialogue.effects import Effect
from assistant.hearing.ear import HeardUtterance
from assistant.meanings import Hypothesis
from assistant.session.inputs import Said


class DeviceName(StrEnum):
    """What can go and come back."""

    MICROPHONE = "microphone"
    LOUDSPEAKER = "loudspeaker"
    VOICE = "voice"
    RECOGNISER = "recogniser"
    KEYBOARD = "keyboard"
    BUTTON = "button"
    SCREEN = "screen"


@dataclass(frozen=True, slots=True)
class CoreDecided:
    """The core took the input that was delivered last.

    effects: in the order in which they are to be carried out; none when nothing follows.
    """

    at: float
    effects: tuple[Effect, ...]


@dataclass(frozen=True, slots=True)
class DeviceFailed:
    """A device does not answer any more.

    detail: what the system said.
    """

    at: float
    device: DeviceName
    detail: str


@dataclass(frozen=True, slots=True)
class DeviceAnswers:
    """A device answers; only one that had failed is back."""

    at: float
    device: DeviceName


@dataclass(frozen=True, slots=True)
class MessageEnded:
    """The next message of the prompt has ended.

    said: what of it was really spoken.
    shown: whether it stood on the screen instead, because voice or loudspeaker failed.
    """

    at: float
    said: Said
    shown: bool = False


@dataclass(frozen=True, slots=True)
class PromptEnded:
    """Nothing more of the prompt comes: it was spoken, cut off, or shown.

    failure: of the voice or the loudspeaker in it.
    """

    at: float
    failure: DeviceFailed | None = None


@dataclass(frozen=True, slots=True)
class VoiceBegan:
    """Somebody speaks into the open ear."""

    at: float


@dataclass(frozen=True, slots=True)
class VoiceEnded:
    """Nobody speaks into the open ear any more, and nothing was made of it yet."""

    at: float


@dataclass(frozen=True, slots=True)
class UtteranceHeard:
    """An utterance ended.

    own_words: whether the prompt that is being spoken holds the same words, so that the loudspeaker may have said it.
    """

    at: float
    utterance: HeardUtterance
    own_words: bool = False


@dataclass(frozen=True, slots=True)
class UtteranceLost:
    """Somebody spoke, and the recogniser failed on it.

    detail: what the system said.
    """

    at: float
    detail: str


@dataclass(frozen=True, slots=True)
class LineTyped:
    """A line that is not empty was typed.

    exchange: the one whose question was open or coming when it was typed, 0 when there was none.
    hypotheses: what it may mean there, the best first; none when it is not understood.
    readable: whether all of it is text.
    """

    at: float
    exchange: int
    hypotheses: tuple[Hypothesis, ...]
    readable: bool = True


@dataclass(frozen=True, slots=True)
class EnterPressed:
    """An empty line was typed: the button of whoever has a keyboard only."""

    at: float


@dataclass(frozen=True, slots=True)
class ButtonDown:
    """The talk button went down."""

    at: float


@dataclass(frozen=True, slots=True)
class ButtonUp:
    """The talk button went up."""

    at: float


@dataclass(frozen=True, slots=True)
class TimePassed:
    """It is so late now: a timer or the patience of a question may have run out."""

    at: float


FloorEvent = (
    CoreDecided
    | MessageEnded
    | PromptEnded
    | VoiceBegan
    | VoiceEnded
    | UtteranceHeard
    | UtteranceLost
    | LineTyped
    | EnterPressed
    | ButtonDown
    | ButtonUp
    | TimePassed
    | DeviceFailed
    | DeviceAnswers
)
