"""A check: a question with named answers. An answer leads on, asks again, passes over steps, or ends the work."""

from __future__ import annotations

from itertools import takewhile

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Answered, Question, QuestionHandler, StepKind
from assistant.dialogue.step_questions import step_of, step_question
from assistant.dialogue.turn import Turn
from assistant.dialogue.work import PlacedStep
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Answer
from assistant.procedure.answers import NamedAnswer, Then
from assistant.procedure.kinds.check import Check
from assistant.session import facts as f
from assistant.session.exchange_table import Ask
from assistant.statements import kinds as s


def _question(turn: Turn) -> Question:
    step = step_of(turn, Check)
    offers = tuple(
        Offer(" | ".join((answer.phrase, *answer.also)), Answer, Risk.READING, key)
        for key, answer in step.answers.items()
    )
    return step_question(step, offers, m.Choices(offers))


def _answered(turn: Turn, answered: Answered) -> None:
    step, placed = step_of(turn, Check), turn.placed
    meaning = answered.best.meaning
    if not isinstance(meaning, Answer) or meaning.key not in step.answers:
        turn.refuse(answered.best.text, m.NotHere())
        return
    answer = step.answers[meaning.key]
    turn.record(
        f.AnswerRecorded(
            placed.place,
            step.text,
            meaning.key,
            answer.phrase,
            answer.good,
            answered.best.confidence,
            answered.clip,
            answered.source,
        )
    )
    turn.say(m.AnswerTaken(answer.phrase))
    if answer.finding:
        turn.record(f.FindingRecorded(placed.place, answer.finding))
    if answer.then is Then.AGAIN and step.at_most is not None and turn.visit.rounds > step.at_most:
        turn.say(m.Reply(step.give_up))
        turn.record(f.FindingRecorded(placed.place, s.AnsweredTooOften(step.title, answer.phrase, turn.visit.rounds)))
        turn.close()
        turn.open(f.Purpose.ENDING)
        return
    if answer.reply:
        turn.say(m.Reply(answer.reply))
    match answer.then:
        case Then.GO_ON:
            turn.complete()
            if answer.goes_to is not None:
                _pass_over(turn, placed, answer)
        case Then.AGAIN:
            turn.close()  # the same step asks again in a new exchange, but without its opening
            turn.open(f.Purpose.STEP)
            turn.ask = Ask.NOTHING
        case Then.END:
            turn.close()
            turn.open(f.Purpose.ENDING)


def _pass_over(turn: Turn, placed: PlacedStep, answer: NamedAnswer) -> None:
    """The steps between this one and the one that the answer leads to do not apply."""
    between = takewhile(lambda later: later.step.id != answer.goes_to, turn.work.steps[placed.number :])
    for later in between:
        turn.record(f.StepPassedOver(later.place, later.step.title, placed.place, answer.phrase))


KIND = StepKind(
    Check,
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
