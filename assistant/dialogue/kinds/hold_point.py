"""A hold point: work does not pass until its own phrase is said. No prompt speaks it; it stands on a card."""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, Answered, Question, QuestionHandler, StepKind
from assistant.dialogue.step_questions import step_of, step_question
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Passphrase
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.session import facts as f


def _question(turn: Turn) -> Question:
    step = step_of(turn, HoldPoint)
    return step_question(step, (Offer(step.phrase, Passphrase, Risk.HOLD, step.id),), m.UseCard(step.card))


def _answered(turn: Turn, answered: Answered) -> None:
    step, placed = step_of(turn, HoldPoint), turn.placed
    if answered.best.meaning != Passphrase(step.id):
        turn.refuse(answered.best.text, m.HoldStays(step.card))
        return
    turn.record(f.HoldPointPassed(placed.place, step.title, answered.best.confidence, answered.clip, answered.source))
    turn.complete()


def _stays(turn: Turn) -> m.Message:
    return m.HoldStays(step_of(turn, HoldPoint).card)


KIND = StepKind(
    HoldPoint,
    QuestionHandler(
        question=_question,
        answered=_answered,
        arrive=NOTHING,
        next=REFUSED,
        affirm=REFUSED,
        negative=REFUSED,
        elapsed=NOTHING,
        measures=NOTHING,
        refusal=_stays,
    ),
)
