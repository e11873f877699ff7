"""What an exchange needs from whoever asks: a question, and what its answers do.

Every kind of step has one `QuestionHandler`, in `kinds/`; so has each question of the assistant's own (a reason, ending
the work, the engine's state), in `own_questions.py`. Refuses to know any of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from assistant.dialogue.messages import Message
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer
from assistant.meanings import CommandName, Hypothesis
from assistant.procedure.step import Step
from assistant.session.inputs import Clip, Source


@dataclass(frozen=True, slots=True)
class Question:
    """A question as it stands now.

    full: spoken when it is asked for the first time, warnings before the text.
    short: spoken when it is asked again.
    offers: answers of its own.
    commands: the commands that are allowed.
    choices: spoken when plain asking failed.
    digits: answers digit by digit, where there are any.
    digits_message: spoken when these are asked for.
    patience: seconds of silence after which it is asked again; None: never.
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
    """An accepted answer.

    best: its most likely meaning.
    others: the further ones, best first.
    clip: the sound of it; None where there is none.
    source: voice or keyboard.
    """

    best: Hypothesis
    others: tuple[Hypothesis, ...]
    clip: Clip | None
    source: Source


TurnAction = Callable[[Turn], None]
AnswerAction = Callable[[Turn, Answered], None]

REFUSED: Final = None
"""In a handler: such an answer, or this command, is refused here in plain words."""
NOTHING: Final = None
"""In a handler: nothing of the kind here."""
USUAL_WORDS: Final = None
"""In a handler: what is refused is refused in the usual words."""


@dataclass(frozen=True, slots=True)
class QuestionHandler:
    """Whoever asks. Each one states every field; what it has not is named so, never left out.

    question: from the turn, changing nothing.
    answered: takes an answer of its own, or REFUSED.
    arrive: when the step is reached, before the question, or NOTHING.
    next: what `next` does here, or REFUSED.
    affirm: what `affirm` does here, or REFUSED.
    negative: what `negative` and `disregard` do here, and `correction` of what was read back, or REFUSED.
    elapsed: when the timer that bears the step's identifier ran out, or NOTHING.
    measures: the name of the reading asked for, or NOTHING.
    refusal: what is said to a command that is not allowed here, or USUAL_WORDS.
    """

    question: Callable[[Turn], Question]
    answered: AnswerAction | None
    arrive: TurnAction | None
    next: TurnAction | None
    affirm: AnswerAction | None
    negative: TurnAction | None
    elapsed: TurnAction | None
    measures: Callable[[Turn], str] | None
    refusal: Callable[[Turn], Message] | None


@dataclass(frozen=True, slots=True)
class StepKind:
    """A kind of step in a dialogue: `KIND` of each file in `kinds/`.

    step: its class in `procedure/`.
    handler: its question, and what the answers do.
    """

    step: type[Step]
    handler: QuestionHandler
