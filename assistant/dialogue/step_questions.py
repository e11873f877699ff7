"""What the questions of all kinds of step have in common: warnings first, then the step's text, and the usual commands.

Refuses to know a kind: each file in `kinds/` builds its question on this.
"""

from __future__ import annotations

from typing import TypeVar

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Question
from assistant.dialogue.commands import WHILE_ASKING
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer
from assistant.meanings import CommandName
from assistant.procedure.step import Step

DONE_WITH_NEXT = m.Choices((CommandName.NEXT, CommandName.DETAILS, CommandName.SKIP))
"""The choices at a step that has no answer of its own."""

_Kind = TypeVar("_Kind", bound=Step)


def step_of(turn: Turn, kind: type[_Kind]) -> _Kind:
    """The step in focus, as its kind's file knows it. Errors: TypeError when that file was given another kind's."""
    step = turn.placed.step
    if not isinstance(step, kind):
        raise TypeError(f"the file of {kind.__name__} was given a {type(step).__name__}")
    return step


def opening(step: Step) -> tuple[m.Message, ...]:
    """What is spoken when a step is reached: its warnings, the gravest first, then its text."""
    hazards = (m.Hazard(word, text) for word, text in step.hazards())
    return (*hazards, m.StepText(step.id, step.text))


def step_question(
    step: Step,
    offers: tuple[Offer, ...],
    choices: m.Message,
    digits: tuple[Offer, ...] = (),
    digits_message: tuple[m.Message, ...] = (),
) -> Question:
    """The question of a step. Its arguments are the fields of `Question`."""
    return Question(
        full=opening(step),
        short=(m.StepText(step.id, step.text),),
        offers=offers,
        commands=WHILE_ASKING,
        choices=(choices,),
        digits=digits,
        digits_message=digits_message,
    )
