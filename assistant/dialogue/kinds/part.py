"""A part that is fitted: proved by the last three characters of its number, or a substitute, which needs a reason."""

from __future__ import annotations

from dataclasses import replace

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Answered, Question, QuestionHandler, StepKind
from assistant.dialogue.step_questions import step_of, step_question
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Answer, Spelled
from assistant.procedure.kinds.part import FittedPart
from assistant.session import facts as f

_OFFERS = (
    Offer("<spelled.three>", Spelled, Risk.READING),
    Offer("<answers.substitute>", Answer, Risk.READING, "substitute"),
)


def _question(turn: Turn) -> Question:
    question = step_question(turn.placed.step, _OFFERS, m.SpellPart())
    return replace(question, full=(*question.full, m.SpellPart()))


def _answered(turn: Turn, answered: Answered) -> None:
    step, placed = step_of(turn, FittedPart), turn.placed
    meaning = answered.best.meaning
    if isinstance(meaning, Answer):
        turn.close()
        turn.open(f.Purpose.SUBSTITUTE)
        return
    if not isinstance(meaning, Spelled):
        turn.refuse(answered.best.text, m.NotHere())
        return
    part = next((part for part in step.expected if meaning.text in (part.proof, part.signs)), None)
    if part is None:
        turn.record(f.PartRefused(placed.place, meaning.text, answered.clip))
        turn.say(m.PartDiffers(" ".join(meaning.text)))
        return
    turn.record(
        f.PartFitted(
            placed.place,
            part.name,
            part.number,
            meaning.text,
            "",
            answered.best.confidence,
            answered.clip,
            answered.source,
        )
    )
    turn.say(m.PartProved(part.name))
    turn.complete()


KIND = StepKind(
    FittedPart,
    QuestionHandler(
        question=_question,
        answered=_answered,
        arrive=NOTHING,
        next=REFUSED,
        affirm=REFUSED,
        negative=REFUSED,
        elapsed=NOTHING,
        measures=NOTHING,
        refusal=USUAL_WORDS,
    ),
)
