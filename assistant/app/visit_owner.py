"""The owner of a visit: decides, writes the decision down, and only then lets its effects out.

Knows `decide`, the fold and where lines go. Knows no sound, no screen and no thread; exactly one thread calls it.
"""

from __future__ import annotations

from typing import Protocol

from assistant.dialogue.decide import decide, prompt
from assistant.dialogue.effects import Decision, Effect, Listen, Say, StartTimer
from assistant.dialogue.messages import CannotRecord
from assistant.dialogue.work import Work
from assistant.edge.clock import Clock
from assistant.errors import JournalError
from assistant.session.applying import fold
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope, Input, PromptPlayed, Silence, TimerRanOut
from assistant.session.visit import Visit

TRY_AGAIN = 5.0  # seconds after which a timer whose end could not be written down is reported again


class DecisionLog(Protocol):
    """Where decisions are kept. `append` returns when the line is durable, or raises JournalError."""

    number: int

    def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
        """A decision, whole or not at all."""
        ...


class VisitOwner:
    """One visit while it is attended. failed: the last input whose decision could not be written, or None."""

    def __init__(self, work: Work, lines: DecisionLog, clock: Clock, visit: Visit | None = None) -> None:
        self.visit = Visit() if visit is None else visit
        self.work = work.as_planned(self.visit.plan)
        self.failure: JournalError | None = None
        self._lines = lines
        self._clock = clock

    @property
    def exchange(self) -> int:
        """The number of the open exchange, 0 when none is open."""
        return 0 if self.visit.exchange is None else self.visit.exchange.number

    @property
    def over(self) -> bool:
        """Whether the work has ended."""
        return self.visit.ended is not None

    def take(self, given: Input) -> Decision:
        """An input, and what follows from it.

        When the decision cannot be written down nothing of it happens: the visit stays as it was, the failure is
        announced, and the same question stays open, so that the next answer tries again.
        """
        envelope = Envelope(self._lines.number + 1, self._clock.now(), given)
        decision = decide(self.work, self.visit, envelope)
        try:
            self._lines.append(envelope, decision.facts)
        except JournalError as error:
            return Decision((), self._unrecorded(error, envelope))
        self.failure = None
        self.visit = fold(((fact, envelope.at) for fact in decision.facts), self.visit)
        self.work = self.work.as_planned(self.visit.plan)
        return decision

    def announce(self, error: JournalError) -> tuple[Effect, ...]:
        """The effects when something that belongs to an input could not be kept, so that the input cannot be taken."""
        return self._unrecorded(error, Envelope(self._lines.number + 1, self._clock.now(), Silence(self.exchange, 0.0)))

    def _unrecorded(self, error: JournalError, envelope: Envelope) -> tuple[Effect, ...]:
        self.failure = error
        if isinstance(envelope.input, PromptPlayed):
            return ()  # announcing this would be a prompt again
        effects: list[Effect] = [Say(self.exchange, (CannotRecord(),))]
        if isinstance(envelope.input, TimerRanOut):  # nobody else would report it again
            effects.append(StartTimer(envelope.input.timer, envelope.input.run, TRY_AGAIN))
        asked = prompt(self.work, self.visit, envelope)
        return (*effects, *(effect for effect in asked if isinstance(effect, Listen)))
