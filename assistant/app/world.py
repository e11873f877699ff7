"""What every world is: it posts events to the floor, and carries its actions out.

Knows how a visit's owner, the floor and a world turn one another. Refuses to decide: what follows from an input is the
core's, who may speak is the floor's.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections import deque

from assistant.app.utterances import heard_input
from assistant.app.visit_owner import VisitOwner
from assistant.dialogue.effects import Effect
from assistant.edge.files.language import Language
from assistant.edge.files.store import SessionFolder
from assistant.edge.keyboard import TypedLine
from assistant.errors import EngineBayError, JournalError
from assistant.floor.actions import Deliver, DeviceAction, TakeUtterance
from assistant.floor.events import CoreDecided, EnterPressed, FloorEvent, LineTyped
from assistant.floor.machine import floor
from assistant.floor.state import FloorState
from assistant.hearing.ear import HeardUtterance
from assistant.session.inputs import Input

UNREADABLE = "That line was not plain text, or too long. Type it again."
TOO_SOON = "That came before its question, or before a warning was spoken in full. Type it again."


class VisitWorld(ABC):
    """A visit in one surroundings.

    state: who has the floor. Only `take` changes it.
    folder: where sound is kept; None where nobody is heard.
    """

    def __init__(
        self, owner: VisitOwner, language: Language, state: FloorState, folder: SessionFolder | None = None
    ) -> None:
        self.state = state
        self._owner = owner
        self._language = language
        self._folder = folder
        self._events: deque[FloorEvent] = deque()

    def begin(self, given: Input) -> None:
        """The visit begins, or goes on, with this input. Errors: JournalError when it cannot be written down."""
        effects = self._decide(given)
        if self._owner.failure is not None:
            raise self._owner.failure  # nothing has begun, so there is nothing to go on with
        self.take(CoreDecided(self._now(), effects))

    def take(self, event: FloorEvent) -> None:
        """An event, and all that follows from it at once."""
        self._events.append(event)
        while self._events:
            self.state, actions = floor(self.state, self._events.popleft())
            for action in actions:
                match action:
                    case Deliver(given):
                        effects = self._decide(given)
                        self._events.append(CoreDecided(self._now(), effects))
                    case TakeUtterance(utterance):
                        effects = self._decide_on(utterance)
                        self._events.append(CoreDecided(self._now(), effects))
                    case _:
                        self._carry_out(action)

    def typed(self, line: TypedLine) -> FloorEvent:
        """The event that a line from the keyboard is, at this moment."""
        if line.readable and not line.text.strip():
            return EnterPressed(self._now())
        question = self.state.question
        if question is None:
            return LineTyped(self._now(), 0, (), line.readable)
        hypotheses = self._language.answer(question.expectation, line.text) if line.readable else ()
        return LineTyped(self._now(), question.exchange, hypotheses, line.readable)

    def _decide(self, given: Input) -> tuple[Effect, ...]:
        """What the core wants done after an input."""
        return self._owner.take(given).effects

    def _decide_on(self, utterance: HeardUtterance) -> tuple[Effect, ...]:
        """What the core wants done after an utterance; without its sound on disk it is not taken."""
        assert self._folder is not None, "sound has nowhere to be kept"
        try:
            given = heard_input(utterance, self._folder)
        except Exception as error:
            kept = error if isinstance(error, JournalError) else JournalError("sound", cause_of(error), "Say it again")
            return self._owner.announce(kept)
        return self._decide(given)

    @abstractmethod
    def _carry_out(self, action: DeviceAction) -> None:
        """Do what the floor asks for; what fails is reported with `self._events.append`."""

    @abstractmethod
    def _now(self) -> float:
        """The moment, in seconds of the world's own clock."""


def cause_of(error: BaseException) -> str:
    """What went wrong, for people: our own errors as they are, others with their kind."""
    return str(error) if isinstance(error, EngineBayError) else f"{type(error).__name__}: {error}"
