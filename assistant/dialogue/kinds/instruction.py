"""An instruction: `next` when it is done."""

from __future__ import annotations

from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Question, QuestionHandler, StepKind
from assistant.dialogue.step_questions import DONE_WITH_NEXT, step_question
from assistant.dialogue.turn import Turn
from assistant.procedure.kinds.instruction import Instruction


def _question(turn: Turn) -> Question:
    return step_question(turn.placed.step, (), DONE_WITH_NEXT)


KIND = StepKind(
    Instruction,
    QuestionHandler(
        question=_question,
        answered=REFUSED,
        arrive=NOTHING,
        next=Turn.complete,
        affirm=REFUSED,
        negative=REFUSED,
        elapsed=NOTHING,
        measures=NOTHING,
        refusal=USUAL_WORDS,
    ),
)
