"""A reading: a number that is read back and confirmed; taken several times, all of them are, and their mean counts.

Out of its limits it is a finding, or it is measured again until it is within; an inconclusive one is measured twice.
"""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Answered, Question, QuestionHandler, StepKind
from assistant.dialogue.asking_numbers import number_heard, number_question, take_number_back, which_unit_question
from assistant.dialogue.collecting import Members, collect, collecting_question, refuse_collected
from assistant.dialogue.confirmed_readings import measure_again, record_finding, record_reading, verdicts_before
from assistant.dialogue.read_back import read_back_question, refuse_read_back
from assistant.dialogue.step_questions import step_of
from assistant.dialogue.turn import Turn
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.measured import Measured
from assistant.session import facts as f
from assistant.session.exchange_table import Ask

_OUT = (f.ReadingVerdict.LOW, f.ReadingVerdict.HIGH)


def _samples(step: Reading) -> Members:
    return (step,) * step.samples


def _question(turn: Turn) -> Question:
    step, exchange = step_of(turn, Reading), turn.exchange
    if step.samples > 1:

        def ask(sample: Measured, number: int) -> m.Message:
            return m.AskSample(sample.name, number, step.samples)

        return collecting_question(turn, _samples(step), ask)
    if exchange.unitless is not None:
        return which_unit_question(exchange.unitless.called)
    if exchange.stage is f.ExchangeStage.CONFIRMING and exchange.pending is not None:
        return read_back_question(step, exchange.pending)
    return number_question(turn, step, step)


def _answered(turn: Turn, answered: Answered) -> None:
    step, exchange = step_of(turn, Reading), turn.exchange
    if step.samples > 1:
        collect(turn, answered, _samples(step))
        return
    heard = number_heard(turn, answered, step)
    if heard is not None:
        turn.record(
            f.ReadingHeard(exchange.number, heard.quantity, heard.confidence, heard.clip, heard.source, heard.doubt)
        )


def _affirm(turn: Turn, answered: Answered) -> None:
    step, exchange = step_of(turn, Reading), turn.exchange
    if exchange.stage is not f.ExchangeStage.CONFIRMING:
        turn.refuse("affirm", m.NotHere())
        return
    before = verdicts_before(turn)
    put_right = any(verdict in _OUT for verdict in before)
    stage = f.ReadingStage.AS_LEFT if put_right else f.ReadingStage(step.taken.value)
    samples = exchange.collected if exchange.pending is None else (exchange.pending,)
    standing = record_reading(turn, step, stage, samples, answered)
    for message in standing.messages():
        turn.say(message)
    if standing.limits is None:
        turn.say(m.Recorded())
    inconclusive, ask = f.ReadingVerdict.INCONCLUSIVE, Ask.SHORT if step.samples > 1 else Ask.NOTHING
    if standing.verdict is inconclusive and (step.until_within or inconclusive not in before):
        measure_again(turn, m.MeasureAgain(), ask)
        return
    if step.until_within and not standing.settled:
        words = step.too_low if standing.verdict is f.ReadingVerdict.LOW else step.too_high
        measure_again(turn, m.PutRight(words or step.adjust), ask)
        return
    if not standing.settled:
        record_finding(turn, step.name, standing)
        turn.say(m.FindingNoted())
    turn.complete()


def _negative(turn: Turn) -> None:
    step, exchange = step_of(turn, Reading), turn.exchange
    if step.samples > 1:
        refuse_collected(turn, _samples(step))
    elif exchange.unitless is not None:
        take_number_back(turn, exchange.unitless, step)
    elif exchange.pending is not None:
        refuse_read_back(turn, step, exchange.pending)
    else:
        turn.refuse("negative", m.NotHere())


def _measures(turn: Turn) -> str:
    return step_of(turn, Reading).name


KIND = StepKind(
    Reading,
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
