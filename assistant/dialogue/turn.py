"""A turn: one decision while it is being made. Facts are folded in as they are recorded, so that each row of the
tables sees the visit as it has become. A turn never leaves `decide`.
"""

from __future__ import annotations

from assistant.dialogue.effects import CueSound
from assistant.dialogue.messages import LastDone, Message
from assistant.dialogue.work import PlacedStep, Work
from assistant.engine_state import Known
from assistant.session import facts as f
from assistant.session.applying import apply
from assistant.session.exchange_table import Ask, event_of, transition
from assistant.session.inputs import Instant
from assistant.session.visit import Exchange, Visit


class Turn:
    """The making of one decision.

    work: what is to be done, by the plan as it is now.
    visit: the visit with all facts so far.
    at: the moment of the input.
    facts: recorded so far, in order.
    messages: said before the question.
    cue: the sound before all of them.
    ask: how much of the open question is spoken after the messages; the exchange's table says so at each of its events.
    listen: whether the assistant listens then.
    """

    def __init__(self, work: Work, visit: Visit, at: Instant) -> None:
        self.work = work.as_planned(visit.plan)
        self.visit = visit
        self.at = at
        self.facts: list[f.Fact] = []
        self.messages: list[Message] = []
        self.cue: CueSound | None = None
        self.ask = Ask.NOTHING
        self.listen = True

    def record(self, fact: f.Fact) -> None:
        """Record a fact. An event of the exchange says how much is asked then.

        Errors: ExchangeError when the open exchange does not allow it; nothing is changed then.
        """
        event = event_of(fact)
        asked = self.ask if event is None else transition(self.visit.stage, event).ask
        self.visit = apply(self.visit, fact, self.at)
        self.work = self.work.as_planned(self.visit.plan)
        self.facts.append(fact)
        self.ask = asked

    def say(self, message: Message) -> None:
        """Say this before the question."""
        self.messages.append(message)

    @property
    def exchange(self) -> Exchange:
        """The open exchange. Errors: ValueError when none is open."""
        if self.visit.exchange is None:
            raise ValueError("no exchange is open")
        return self.visit.exchange

    @property
    def placed(self) -> PlacedStep:
        """The step in focus. Errors: ValueError when none is."""
        if self.visit.focus is None:
            raise ValueError("no step is in focus")
        return self.work.at(self.visit.focus)

    @property
    def steps_open(self) -> int:
        """How many steps are neither done nor left out nor passed over."""
        return sum(placed.place not in self.visit.outcomes for placed in self.work.steps)

    def recall(self) -> None:
        """After a break: the steps that were done last, if there were any."""
        if self.visit.recent:
            self.say(LastDone(self.visit.recent))

    def open(self, purpose: f.Purpose) -> None:
        """Open an exchange and ask its question in full."""
        self.record(f.ExchangeOpened(self.visit.exchanges + 1, purpose))

    def close(self) -> None:
        """Close the open exchange."""
        self.record(f.ExchangeClosed(self.exchange.number))

    def drop(self) -> None:
        """Close the open exchange without its answer: a task that was chosen is not to be added any more."""
        if self.visit.chosen:
            self.record(f.TaskChosen(""))
        self.close()

    def refuse(self, what: str, message: Message) -> None:
        """Something is not allowed here: nothing changes, and it is said in plain words."""
        self.record(f.RequestRefused(what, message.kind))
        self.say(message)

    def complete(self, leaving: bool = True) -> None:
        """The step in focus is done.

        leaving: whether what it leaves of the engine's state is known now, not only later.
        """
        placed = self.placed
        self.close()
        if leaving:
            self.leave(placed)
        self.record(f.StepDone(placed.place, placed.step.title))

    def leave(self, placed: PlacedStep) -> None:
        """What a step leaves of the engine's state is known from now on."""
        for variable, left in placed.step.leaves.items():
            self.record(f.StateLearned(variable, left.value, placed.step.title, left.lasts))

    def reopen(self, placed: PlacedStep, because: f.WorkText) -> None:
        """A step counts as not done any more: its readings are withdrawn, what it left is unknown."""
        for reading in self.visit.readings:
            if reading.place == placed.place:
                self.record(f.ReadingWithdrawn(reading.place, reading.name, reading.quantity))
        for variable in placed.step.leaves:
            self.record(f.StateLearned(variable, Known.UNKNOWN, because, None))
        for place, by in self.visit.passed_by.items():
            if by == placed.place:
                self.record(f.StepReopened(place, self.work.at(place).step.title, because))
        self.record(f.StepReopened(placed.place, placed.step.title, because))
