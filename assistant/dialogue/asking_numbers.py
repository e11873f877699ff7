"""Asking for a number with its unit: the question, which unit was meant, and whether what was heard can be believed.

A teen beside a ten is asked for digit by digit; a word for several units is asked about; what lies outside the
believable range has to be said twice. Refuses to know what becomes of the number: the kinds of step do.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from assistant.dialogue import judging
from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered, Question
from assistant.dialogue.commands import WHILE_COMPLETING
from assistant.dialogue.step_questions import step_question
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer, Risk
from assistant.grammar.numbers import MAX_DECIMALS, can_be_said
from assistant.grammar.units import digits_offer, reading_offer, which_offers
from assistant.meanings import Amount, Answer
from assistant.procedure.measured import Measured
from assistant.procedure.step import Step
from assistant.quantities import AMBIGUOUS, KNOWN_UNITS, Quantity
from assistant.session import facts as f
from assistant.session.visit import Pending, Unitless
from assistant.statements import kinds as s

PATIENCE = 20.0  # seconds after which a question about what was heard is asked again
DOUBT_BELOW = 0.5  # a reading or its confirmation heard with less confidence than this carries a doubt
REFUSALS_BEFORE_DIGITS = 2  # read-backs refused, after which the number is asked for digit by digit


def number_question(turn: Turn, step: Step, asked: Measured) -> Question:
    """The question for a value. asked: what is measured at the step."""
    question = step_question(
        step,
        offers=(Offer(reading_offer(asked.unit), Amount, Risk.READING),),
        choices=m.SayNumber(asked.name, asked.unit),
        digits=(Offer(digits_offer(asked.unit), Amount, Risk.READING),),
        digits_message=(m.DigitByDigit(asked.name),),
    )
    return replace(question, full=(*judging.warning_of(turn, asked), *question.full))


def which_unit_question(called: str) -> Question:
    """The question which unit was meant. called: the word that several units are called by."""
    pairs = which_offers(called)
    message = (m.WhichUnit(tuple(choice for choice, _ in pairs)),)
    heard = tuple(offer for _, offer in pairs)
    return Question(message, message, heard, WHILE_COMPLETING, message, patience=PATIENCE)


def in_unit_asked_for(asked: Measured, quantity: Quantity) -> Quantity | None:
    """What was said in another unit than asked for, in that one; None when it was said so, or is beyond words there."""
    if quantity.unit == asked.unit:
        return None
    converted = quantity.restated(asked.unit, MAX_DECIMALS)
    return converted if can_be_said(converted.value) else None


def teen_or_ten(first: Decimal, second: Decimal) -> bool:
    """Whether two values differ as a teen and a ten do, which the ear confuses: 15 and 50, 113 and 130, 14.5 and 40.5.

    The values are in one unit. Below zero it is the same, when both are.
    """
    if first.is_signed() is not second.is_signed():
        return False
    first, second = abs(first), abs(second)
    if first % 1 != second % 1 or first // 100 != second // 100:
        return False
    low, high = sorted((int(first % 100), int(second % 100)))
    return 13 <= low <= 19 and high == (low - 10) * 10


def number_heard(turn: Turn, answered: Answered, asked: Measured) -> Pending | None:
    """A spoken number as a reading, with why it is doubted; None when something has to be asked first."""
    exchange, meaning = turn.exchange, answered.best.meaning
    if exchange.unitless is not None:
        return _with_unit(turn, answered, exchange.unitless, asked)
    if not isinstance(meaning, Amount):
        turn.refuse(answered.best.text, m.NotHere())
        return None
    if exchange.manner is not f.Manner.DIGITS and _confused(meaning, answered, asked):
        turn.record(f.HearingFailed(exchange.number, f.Failure.TEEN_OR_TEN, answered.best.text, answered.clip))
        turn.record(f.MannerChanged(exchange.number, f.Manner.DIGITS))
        return None
    unit, confidence = meaning.unit or asked.unit, answered.best.confidence
    if any(KNOWN_UNITS[choice].kind is not asked.believable.kind for choice in AMBIGUOUS.get(unit, (unit,))):
        turn.refuse(answered.best.text, m.NotHere())
        return None
    if unit in AMBIGUOUS:
        turn.record(f.UnitAsked(exchange.number, meaning.value, unit, confidence, answered.clip, answered.source))
        return None
    pending = Pending(Quantity(meaning.value, unit), confidence, answered.clip, answered.source, "")
    return _believed(turn, pending, asked)


def take_number_back(turn: Turn, number: Unitless, asked: Measured) -> None:
    """The technician takes a number back whose unit is asked for."""
    turn.record(f.UnitTakenBack(turn.exchange.number, number.value, number.called))
    turn.say(m.AskedAnew(asked.name))


def _confused(meaning: Amount, answered: Answered, asked: Measured) -> bool:
    """Whether something else was perhaps heard that the ear confuses with this number."""
    return any(
        isinstance(other.meaning, Amount)
        and (other.meaning.unit or asked.unit) == (meaning.unit or asked.unit)
        and teen_or_ten(meaning.value, other.meaning.value)
        for other in answered.others
    )


def _with_unit(turn: Turn, answered: Answered, number: Unitless, asked: Measured) -> Pending | None:
    """A number whose unit is named now. What is kept as its sound is that of the number."""
    meaning = answered.best.meaning
    if not isinstance(meaning, Answer) or meaning.key not in AMBIGUOUS[number.called]:
        turn.refuse(answered.best.text, m.NotHere())
        return None
    confidence = min(number.confidence, answered.best.confidence)
    pending = Pending(Quantity(number.value, meaning.key), confidence, number.clip, number.source, "")
    return _believed(turn, pending, asked)


def _believed(turn: Turn, pending: Pending, asked: Measured) -> Pending | None:
    """The reading with why it is doubted; None when it is hard to believe and not said twice."""
    exchange, quantity, believable = turn.exchange, pending.quantity, asked.believable
    doubts: list[s.Doubt] = []
    if believable.side(quantity) != 0:
        if exchange.questioned != quantity:
            turn.record(f.ReadingQuestioned(exchange.number, quantity, str(believable), pending.clip))
            turn.say(m.NotBelievable(asked.name, quantity, believable, in_unit_asked_for(asked, quantity)))
            return None
        doubts.append(s.OutsideBelievable(believable))
    if pending.confidence < DOUBT_BELOW:
        doubts.append(s.HeardUnsurely(pending.confidence))
    if exchange.refused >= REFUSALS_BEFORE_DIGITS:
        doubts.append(s.ReadBackWrong(exchange.refused))
    return replace(pending, doubt=judging.doubted(doubts))
