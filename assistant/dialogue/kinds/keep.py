"""Something is kept so while something else is done: the first `next` asks for its release, the second ends it."""

from __future__ import annotations

from dataclasses import replace

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Question, QuestionHandler, StepKind
from assistant.dialogue.step_questions import DONE_WITH_NEXT, step_of, step_question
from assistant.dialogue.turn import Turn
from assistant.procedure.kinds.keep import Keep
from assistant.session import facts as f
from assistant.session.exchange_table import Ask


def _question(turn: Turn) -> Question:
    step = step_of(turn, Keep)
    question = step_question(step, (), DONE_WITH_NEXT)
    if turn.visit.half_done != turn.placed.place:
        return question
    release = (m.StepText(step.id, step.release),)
    return replace(question, full=release, short=release)


def _next(turn: Turn) -> None:
    if turn.visit.half_done == turn.placed.place:
        turn.complete()
        return
    turn.record(f.HalfDone(turn.placed.place))
    turn.ask = Ask.FULL


KIND = StepKind(
    Keep,
    QuestionHandler(
        question=_question,
        answered=REFUSED,
        arrive=NOTHING,
        next=_next,
        affirm=REFUSED,
        negative=REFUSED,
        elapsed=NOTHING,
        measures=NOTHING,
        refusal=USUAL_WORDS,
    ),
)
