"""What an exchange needs from whoever asks: a question, and what its answers do.

Every kind of step has one `QuestionHandler`; so has each question of the assistant's own (a reason, ending the work,
the engine's state).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from assistant.dialogue.messages import Message
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer
from assistant.meanings import CommandName, Hypothesis
from assistant.session.inputs import Clip, Source


@dataclass(frozen=True, slots=True)
class Question:
    """A question as it stands now.

    full: spoken when it is asked for the first time, warnings before the text; short: when it is asked again;
    offers: answers of its own; commands: commands that are allowed; choices: spoken when plain asking failed;
    digits: answers digit by digit, where there are any; patience: seconds of silence after which it is asked again.
    """

    full: tuple[Message, ...]
    short: tuple[Message, ...]
    offers: tuple[Offer, ...]
    commands: tuple[CommandName, ...]
    choices: tuple[Message, ...]
    digits: tuple[Offer, ...] = ()
    digits_message: tuple[Message, ...] = ()
    patience: float | None = None


@dataclass(frozen=True, slots=True)
class Answered:
    """An accepted answer. best: its most likely reading; others: the further ones, best first."""

    best: Hypothesis
    others: tuple[Hypothesis, ...]
    clip: Clip | None
    source: Source


TurnAction = Callable[[Turn], None]


@dataclass(frozen=True, slots=True)
class QuestionHandler:
    """Whoever asks.

    question: from the turn, changing nothing. answered: takes an answer of its own. arrive: when the step is
    reached, before the question. next, affirm, negative: what these commands do here; None: they are refused.
    elapsed: when the timer that bears the step's identifier ran out. measures: the name of the reading asked for.
    """

    question: Callable[[Turn], Question]
    answered: Callable[[Turn, Answered], None] | None = None
    arrive: TurnAction | None = None
    next: TurnAction | None = None
    affirm: Callable[[Turn, Answered], None] | None = None
    negative: TurnAction | None = None
    elapsed: TurnAction | None = None
    measures: Callable[[Turn], str] | None = None
    refusal: Callable[[Turn], Message] | None = None
