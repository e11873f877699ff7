"""The floor's state: all that the machine remembers between two events, and what a world may read of it.

Knows what is being said, what is listened for and what is still to come. Refuses to decide: the machine does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.dialogue.effects import Effect, Listen, Say, StartTimer
from assistant.dialogue.messages import Message
from assistant.floor.events import DeviceAnswers, DeviceFailed, DeviceName, FloorEvent, LineTyped, UtteranceHeard
from assistant.session.inputs import Said


class Phase(StrEnum):
    """Who has the floor.

    DECIDING: the core has an input, and what follows is awaited.
    SPEAKING: the assistant.
    HUSHED: nobody yet: the prompt was cut off, and its end is awaited.
    LISTENING: the technician.
    HELD_BACK: the technician, but for `stop` and `call for help` only: a warning is still to be spoken.
    QUIET: nobody, and nothing is asked.
    OVER: nobody any more.
    """

    DECIDING = "deciding"
    SPEAKING = "speaking"
    HUSHED = "hushed"
    LISTENING = "listening"
    HELD_BACK = "held back"
    QUIET = "quiet"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Prompt:
    """The prompt that is being spoken.

    said: its messages that have ended.
    shown: whether one of them was shown instead of spoken.
    """

    say: Say
    said: tuple[Said, ...] = ()
    shown: bool = False


@dataclass(frozen=True, slots=True)
class Window:
    """The question that waits for its answer.

    ends: when patience does; None: as long as it takes.
    """

    listen: Listen
    ends: float | None = None


@dataclass(frozen=True, slots=True)
class Warnings:
    """The warnings of the open exchange.

    exchange: its number.
    given: those that were spoken in full, or shown because nothing could be spoken.
    due: those that must still be heard, in order.
    rest: the prompts of the exchange from the first of them on, which are spoken again; empty before the first is cut.
    own_stop: whether `stop` was heard over a warning that holds the word itself, and so was not believed.
    """

    exchange: int = 0
    given: frozenset[Message] = frozenset()
    due: tuple[Message, ...] = ()
    rest: tuple[Message, ...] = ()
    own_stop: bool = False

    def begun(self, say: Say) -> Warnings:
        """When this prompt begins."""
        now = self if say.exchange == self.exchange else Warnings(say.exchange)
        new = (message for message in say.warnings if message not in now.given)
        return replace(now, due=tuple(dict.fromkeys((*now.due, *new))))

    def ended(self, message: Message) -> Warnings:
        """When a message was spoken in full, or shown instead."""
        if message not in self.due:
            return self
        due = tuple(other for other in self.due if other != message)
        return replace(self, due=due, given=self.given | {message}, own_stop=False)

    def interrupted(self, say: Say) -> Warnings:
        """When this prompt has ended, whole or not: what of it is to be spoken again."""
        if not self.due:
            return replace(self, rest=())
        missed = next((at for at, message in enumerate(say.messages) if message in self.due), len(say.messages))
        again = dict.fromkeys((*self.rest, *say.messages[missed:]))
        return replace(self, rest=tuple(message for message in again if message not in self.given))


@dataclass(frozen=True, slots=True)
class Press:
    """The talk button is down.

    at: since when.
    cut: whether that cut a prompt off.
    """

    at: float
    cut: bool


EarlyAnswer = LineTyped | UtteranceHeard
"""What came while the assistant spoke, and is taken when its question is open."""


@dataclass(frozen=True, slots=True)
class FloorState:
    """Everything that the machine remembers.

    ears: whether somebody listens at all; without, answers are typed, and silence means nothing.
    headset: the microphone does not hear the loudspeaker.
    phase: who has the floor.
    effects: what the core asked for and is not carried out yet.
    prompt: what is being spoken, while SPEAKING or HUSHED.
    window: the question that is open, while LISTENING or HELD_BACK, and while the core decides about its answer.
    answers: came while the assistant spoke; taken when the question is open.
    waiting: devices that failed or came back while the assistant spoke; taken before the next question is open.
    deferred: came while the core decided.
    warnings: of the open exchange.
    hears: what the ear is open for; None: it is closed.
    voice: whether somebody speaks into it just now.
    press: the talk button, while it is down.
    gone: devices that were told to be gone.
    unspoken: what was only shown of the open exchange, and is spoken when it can be.
    timers: each with the moment at which it runs out.
    ear_again: when an ear that could not be opened is tried again; None: it needs not.
    """

    ears: bool = True
    headset: bool = False
    phase: Phase = Phase.DECIDING
    effects: tuple[Effect, ...] = ()
    prompt: Prompt | None = None
    window: Window | None = None
    answers: tuple[EarlyAnswer, ...] = ()
    waiting: tuple[DeviceFailed | DeviceAnswers, ...] = ()
    deferred: tuple[FloorEvent, ...] = ()
    warnings: Warnings = Warnings()
    hears: Listen | None = None
    voice: bool = False
    press: Press | None = None
    gone: frozenset[DeviceName] = frozenset()
    unspoken: Say | None = None
    timers: tuple[tuple[float, StartTimer], ...] = ()
    ear_again: float | None = None

    @property
    def speaking(self) -> bool:
        """Whether a prompt is being spoken, or its end awaited."""
        return self.phase in (Phase.SPEAKING, Phase.HUSHED)

    @property
    def listening(self) -> bool:
        """Whether a question is open."""
        return self.phase in (Phase.LISTENING, Phase.HELD_BACK)

    @property
    def coming(self) -> Listen | None:
        """The question that is asked when everything is said."""
        return next((effect for effect in self.effects if isinstance(effect, Listen)), None)

    @property
    def question(self) -> Listen | None:
        """The question that is open or coming."""
        return self.coming if self.window is None else self.window.listen

    def lacks(self, device: DeviceName) -> bool:
        """Whether a device is gone, as far as is known: what came while the assistant spoke included."""
        came = [event for event in self.waiting if event.device is device]
        return isinstance(came[-1], DeviceFailed) if came else device in self.gone

    @property
    def can_be_given(self) -> bool:
        """Whether a warning reaches anybody: it is spoken, or at least shown."""
        return DeviceName.SCREEN not in self.gone or not {DeviceName.LOUDSPEAKER, DeviceName.VOICE} & self.gone

    @property
    def next_timer(self) -> tuple[float, StartTimer] | None:
        """The timer that runs out first."""
        return min(self.timers, key=lambda entry: entry[0], default=None)

    @property
    def wakes_at(self) -> float | None:
        """When a world should report `TimePassed`, if nothing else happens before; None: not at all."""
        if self.phase not in (Phase.QUIET, Phase.LISTENING, Phase.HELD_BACK):
            return None
        moments = [due for due, _ in self.timers]
        if self.window is not None and self.window.ends is not None:
            moments.append(self.window.ends)
        if self.ear_again is not None:
            moments.append(self.ear_again)
        return min(moments, default=None)
