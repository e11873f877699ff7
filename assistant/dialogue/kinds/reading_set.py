"""A set of readings: announced together, taken away from the engine, collected one by one, confirmed as a set."""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Answered, Question, QuestionHandler, StepKind
from assistant.dialogue.collecting import collect, collecting_question, member_asked, refuse_collected
from assistant.dialogue.confirmed_readings import measure_again, record_finding, record_reading, verdicts_before
from assistant.dialogue.step_questions import step_of
from assistant.dialogue.turn import Turn
from assistant.procedure.kinds.reading_set import ReadingSet
from assistant.procedure.measured import Measured
from assistant.session import facts as f
from assistant.session.exchange_table import Ask


def _ask(member: Measured, number: int) -> m.Message:
    return m.AskMember(member.name)


def _question(turn: Turn) -> Question:
    return collecting_question(turn, step_of(turn, ReadingSet).members, _ask)


def _answered(turn: Turn, answered: Answered) -> None:
    collect(turn, answered, step_of(turn, ReadingSet).members)


def _affirm(turn: Turn, answered: Answered) -> None:
    step, collected = step_of(turn, ReadingSet), turn.exchange.collected
    if turn.exchange.stage is not f.ExchangeStage.CONFIRMING:
        turn.refuse("affirm", m.NotHere())
        return
    before, found = verdicts_before(turn), []
    for member, pending in zip(step.members, collected, strict=True):
        standing = record_reading(turn, member, f.ReadingStage(step.taken.value), (pending,), answered)
        if not standing.settled:
            turn.say(m.NamedMember(member.name))
            for message in standing.messages():
                turn.say(message)
            found.append((member, standing))
    inconclusive = f.ReadingVerdict.INCONCLUSIVE
    if inconclusive not in before and any(standing.verdict is inconclusive for _, standing in found):
        measure_again(turn, m.MeasureAgain(), Ask.SHORT)
        return
    for member, standing in found:
        record_finding(turn, member.name, standing)
    turn.say(m.FindingNoted() if found else m.Recorded())
    turn.complete()


def _negative(turn: Turn) -> None:
    refuse_collected(turn, step_of(turn, ReadingSet).members)


def _measures(turn: Turn) -> str:
    return member_asked(turn, step_of(turn, ReadingSet).members).name


KIND = StepKind(
    ReadingSet,
    QuestionHandler(
        question=_question,
        answered=_answered,
        arrive=NOTHING,
        next=REFUSED,
        affirm=_affirm,
        negative=_negative,
        elapsed=NOTHING,
        measures=_measures,
        refusal=USUAL_WORDS,
    ),
)
