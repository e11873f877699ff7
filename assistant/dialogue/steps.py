"""The table of step kinds: for each, its question, what an answer does, and nothing else.

A new kind of step is a class in `procedure/steps.py` and a row here. `decide` looks rows up, never asks what they are.
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import takewhile
from typing import TypeVar

from assistant.dialogue import judging
from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered, Question, QuestionHandler
from assistant.dialogue.calculating import Calculated, NotCalculated, calculated
from assistant.dialogue.judging import JudgedValue
from assistant.dialogue.turn import Ask, Turn
from assistant.dialogue.work import PlacedStep
from assistant.grammar.expectation import Offer, Risk
from assistant.grammar.numbers import MOST_DECIMALS, can_be_said
from assistant.grammar.tagged import digits_offer, reading_offer, which_offers
from assistant.meanings import Amount, Answer, CommandName, Passphrase, Spelled
from assistant.procedure.steps import (
    Calculation,
    Check,
    Choice,
    Count,
    FittedPart,
    HoldPoint,
    Instruction,
    Judged,
    Keep,
    Measured,
    NamedAnswer,
    Panel,
    Reading,
    ReadingSet,
    Repeat,
    SecondPerson,
    Step,
    Then,
    Timer,
)
from assistant.quantities import AMBIGUOUS, KNOWN_UNITS, Quantity
from assistant.session import facts as f
from assistant.session.visit import Pending, Unitless
from assistant.statements import kinds as s

EVERYWHERE = (
    CommandName.SAY_AGAIN,
    CommandName.WHERE_AM_I,
    CommandName.STAND_BY,
    CommandName.STOP,
    CommandName.WHAT_CAN_I_SAY,
    CommandName.LOUDER,
    CommandName.SOFTER,
    CommandName.SLOWER,
    CommandName.FASTER,
    CommandName.CALL_FOR_HELP,
    CommandName.END_WORK,
)
WHILE_ASKING = (
    CommandName.NEXT,
    CommandName.DETAILS,
    CommandName.CORRECTION,
    CommandName.SKIP,
    CommandName.LAST_READING,
    CommandName.COMPARE_VISITS,
    CommandName.WHAT_IS_LEFT,
    CommandName.NOTE,
    CommandName.FINDING,
    CommandName.DROPPED,
    CommandName.STEP_WRONG,
    CommandName.HAND_OVER,
    *EVERYWHERE,
)
WHILE_COMPLETING = (CommandName.DISREGARD, CommandName.NEGATIVE, CommandName.CORRECTION, *EVERYWHERE)
WHILE_CONFIRMING = (CommandName.AFFIRM, CommandName.NEGATIVE, CommandName.CORRECTION, *EVERYWHERE)

PATIENCE_CONFIRMING = 20.0  # seconds after which a read-back is spoken again
REFUSED_TOO_OFTEN = 4  # read-backs refused, after which it is asked for by hand: the ear hears it wrong each time
DOUBT_BELOW = 0.5  # a reading or its confirmation heard with less confidence than this carries a doubt

_Step = TypeVar("_Step", bound=Step)


def _step(turn: Turn, kind: type[_Step]) -> _Step:
    step = turn.placed.step
    if not isinstance(step, kind):  # the table's key is the step's class, so this is a fault of the table
        raise TypeError(f"the row of {kind.__name__} was given a {type(step).__name__}")
    return step


def opening(step: Step) -> tuple[m.Message, ...]:
    """What is spoken when a step is reached: its warnings, the gravest first, then its text."""
    hazards = (m.Hazard(word, text) for word, text in step.hazards())
    return (*hazards, m.StepText(step.id, step.text))


def _asked(
    step: Step,
    offers: tuple[Offer, ...],
    choices: m.Message,
    digits: tuple[Offer, ...] = (),
    digits_message: tuple[m.Message, ...] = (),
) -> Question:
    return Question(
        full=opening(step),
        short=(m.StepText(step.id, step.text),),
        offers=offers,
        commands=WHILE_ASKING,
        choices=(choices,),
        digits=digits,
        digits_message=digits_message,
    )


# --- instruction ---------------------------------------------------------------------------------------------


def _keep_question(turn: Turn) -> Question:
    step = _step(turn, Keep)
    question = _asked(step, (), m.Choices((CommandName.NEXT, CommandName.DETAILS, CommandName.SKIP)))
    if turn.visit.half_done != turn.placed.place:
        return question
    release = (m.StepText(step.id, step.release),)
    return replace(question, full=release, short=release)


def _keep_next(turn: Turn) -> None:
    if turn.visit.half_done == turn.placed.place:
        turn.complete()
        return
    turn.record(f.HalfDone(turn.placed.place))
    turn.ask = Ask.FULL


def _instruction_question(turn: Turn) -> Question:
    return _asked(_step(turn, Instruction), (), m.Choices((CommandName.NEXT, CommandName.DETAILS, CommandName.SKIP)))


# --- check ---------------------------------------------------------------------------------------------------


def _check_question(turn: Turn) -> Question:
    step = _step(turn, Check)
    offers = tuple(
        Offer(" | ".join((answer.phrase, *answer.also)), Answer, Risk.READING, key)
        for key, answer in step.answers.items()
    )
    return _asked(step, offers, m.Choices(offers))


def _check_answered(turn: Turn, answered: Answered) -> None:
    step, placed = _step(turn, Check), turn.placed
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
    """The steps between this one and the one that the answer goes to do not apply."""
    between = takewhile(lambda later: later.step.id != answer.goes_to, turn.work.steps[placed.number :])
    for later in between:
        turn.record(f.StepPassedOver(later.place, later.step.title, placed.place, answer.phrase))


# --- reading -------------------------------------------------------------------------------------------------


def _read_back(messages: tuple[m.Message, ...], choices: m.Choices) -> Question:
    return Question(
        full=messages,
        short=messages,
        offers=(),
        commands=WHILE_CONFIRMING,
        choices=(*messages, choices),
        patience=PATIENCE_CONFIRMING,
    )


def _in_unit_of(asked: Measured, quantity: Quantity) -> Quantity | None:
    """What was said in another unit than asked for, in that one; None when it was said so, or is beyond words there."""
    if quantity.unit == asked.unit:
        return None
    converted = quantity.restated(asked.unit, MOST_DECIMALS)
    return converted if can_be_said(converted.value) else None


def _which_unit(called: str) -> Question:
    pairs = which_offers(called)
    message = (m.WhichUnit(tuple(messages for messages, _ in pairs)),)
    heard = tuple(heard for _, heard in pairs)
    return Question(message, message, heard, WHILE_COMPLETING, message, patience=PATIENCE_CONFIRMING)


def _reading_question(turn: Turn) -> Question:
    step, exchange = _step(turn, Reading), turn.exchange
    if step.samples > 1:
        return _set_question(turn)
    if exchange.unitless is not None:
        return _which_unit(exchange.unitless.called)
    if exchange.stage is f.ExchangeStage.CONFIRMING and exchange.pending is not None:
        quantity = exchange.pending.quantity
        choices = m.Choices((CommandName.AFFIRM, CommandName.NEGATIVE, CommandName.CORRECTION))
        return _read_back((m.ReadBack(step.name, quantity, _in_unit_of(step, quantity)),), choices)
    return _number_asked(turn, step, step)


def _number_asked(turn: Turn, step: Step, asked: Measured) -> Question:
    question = _asked(
        step,
        offers=(Offer(reading_offer(asked.unit), Amount, Risk.READING),),
        choices=m.SayNumber(asked.name, asked.unit),
        digits=(Offer(digits_offer(asked.unit), Amount, Risk.READING),),
        digits_message=(m.DigitByDigit(asked.name),),
    )
    return replace(question, full=(*judging.warning_of(turn, asked), *question.full))


def teen_or_ten(one: Decimal, other: Decimal) -> bool:
    """Whether two values differ as a teen and a ten do, which the ear confuses: 15 and 50, 113 and 130, 14.5 and 40.5.

    The values are in one unit. Below zero it is the same, when both are.
    """
    if one.is_signed() is not other.is_signed():
        return False
    one, other = abs(one), abs(other)
    if one % 1 != other % 1 or one // 100 != other // 100:
        return False
    low, high = sorted((int(one % 100), int(other % 100)))
    return 13 <= low <= 19 and high == (low - 10) * 10


def _believed(turn: Turn, answered: Answered, asked: Measured) -> Pending | None:
    """A spoken number as a reading, with why it is doubted; None when something has to be asked first."""
    exchange, meaning = turn.exchange, answered.best.meaning
    if exchange.unitless is not None:
        return _with_unit(turn, answered, exchange.unitless, asked)
    if not isinstance(meaning, Amount):
        turn.refuse(answered.best.text, m.NotHere())
        return None
    if exchange.manner is not f.Manner.DIGITS and any(
        isinstance(other.meaning, Amount)
        and (other.meaning.unit or asked.unit) == (meaning.unit or asked.unit)
        and teen_or_ten(meaning.value, other.meaning.value)
        for other in answered.others
    ):
        turn.record(f.HearingFailed(exchange.number, f.Failure.TEEN_OR_TEN, answered.best.text, answered.clip))
        turn.record(f.MannerChanged(exchange.number, f.Manner.DIGITS))
        turn.say(m.DigitByDigit(asked.name))
        return None
    unit, confidence = meaning.unit or asked.unit, answered.best.confidence
    if any(KNOWN_UNITS[choice].kind is not asked.believable.kind for choice in AMBIGUOUS.get(unit, (unit,))):
        turn.refuse(answered.best.text, m.NotHere())
        return None
    if unit in AMBIGUOUS:
        fact = f.UnitAsked(exchange.number, meaning.value, unit, confidence, answered.clip, answered.source)
        turn.record(fact)
        turn.ask = Ask.FULL
        return None
    pending = Pending(Quantity(meaning.value, unit), confidence, answered.clip, answered.source, "")
    return _doubted(turn, answered, pending, asked)


def _with_unit(turn: Turn, answered: Answered, number: Unitless, asked: Measured) -> Pending | None:
    """A number whose unit is told now. What is kept as its sound is that of the number."""
    meaning = answered.best.meaning
    if not isinstance(meaning, Answer) or meaning.key not in AMBIGUOUS[number.called]:
        turn.refuse(answered.best.text, m.NotHere())
        return None
    confidence = min(number.confidence, answered.best.confidence)
    pending = Pending(Quantity(number.value, meaning.key), confidence, number.clip, number.source, "")
    return _doubted(turn, answered, pending, asked)


def _doubted(turn: Turn, answered: Answered, pending: Pending, asked: Measured) -> Pending | None:
    """The reading with why it is doubted; None when it is hard to believe and not said twice."""
    exchange, quantity, believable = turn.exchange, pending.quantity, asked.believable
    doubts: list[s.Doubt] = []
    if believable.side(quantity) != 0:
        if exchange.questioned != quantity:
            turn.record(f.ReadingQuestioned(exchange.number, quantity, str(believable), pending.clip))
            turn.say(m.NotBelievable(asked.name, quantity, believable, _in_unit_of(asked, quantity)))
            return None
        doubts.append(s.OutsideBelievable(believable))
    if pending.confidence < DOUBT_BELOW:
        doubts.append(s.HeardUnsurely(pending.confidence))
    if exchange.refused >= 2:
        doubts.append(s.ReadBackWrong(exchange.refused))
    return replace(pending, doubt=judging.doubted(doubts))


def _unit_taken_back(turn: Turn, number: Unitless, name: str) -> None:
    turn.record(f.UnitTakenBack(turn.exchange.number, number.value, number.called))
    turn.say(m.AskedAnew(name))


def _doubts(pending: Pending, confirmation: Answered) -> tuple[s.Doubt | str, ...]:
    """Why a confirmed reading is not to be trusted; none when it is."""
    before, confidence = judging.doubts_of(pending.doubt), confirmation.best.confidence
    return before if confidence >= DOUBT_BELOW else (*before, s.ConfirmedUnsurely(confidence))


def _record(
    turn: Turn, asked: Measured, stage: f.ReadingStage, samples: tuple[Pending, ...], confirmation: Answered
) -> JudgedValue:
    """A confirmed reading goes into the record, judged by its limits; of several samples their mean."""
    first = samples[0]
    doubts = [doubt for pending in samples for doubt in _doubts(pending, confirmation)]
    quantity, spread, quantities = first.quantity, None, tuple(pending.quantity for pending in samples)
    if len(samples) > 1:
        mean = judging.mean(quantities, asked.unit)
        quantity, spread = mean.value, mean.spread
        turn.say(m.MeanOfSamples(quantity, spread))
        if mean.doubted is not None:
            turn.say(m.SampleDoubted(mean.doubted))
            doubts.append(s.FarFromOthers(mean.doubted))
    instrument = judging.instrument_of(turn, asked)
    doubts += judging.instrument_doubts(turn, instrument)
    standing = judging.standing(turn, asked, quantity)
    turn.record(
        f.ReadingRecorded(
            turn.placed.place,
            asked.name,
            quantity,
            stage,
            "" if standing.limits is None else str(standing.limits),
            standing.verdict,
            min(pending.confidence for pending in samples),
            judging.doubted(doubts),
            first.clip,
            first.source,
            limits_by=standing.by,
            circumstances=judging.circumstances(turn),
            instrument="" if instrument is None else instrument.name,
            samples=quantities if spread is not None else (),
            spread=spread,
        )
    )
    return standing


def _tell(turn: Turn, standing: JudgedValue) -> None:
    for message in standing.messages():
        turn.say(message)


def _found(turn: Turn, asked: Judged, standing: JudgedValue) -> None:
    """A value that is not within its limits and is not put right is a finding."""
    finding = standing.finding(asked.name)
    if finding is not None:
        turn.record(f.FindingRecorded(turn.placed.place, finding))


def _measured_before(turn: Turn) -> tuple[f.ReadingVerdict, ...]:
    """The verdicts on the readings that stand at this step."""
    return tuple(reading.verdict for reading in turn.visit.readings if reading.place == turn.placed.place)


def _once_more(turn: Turn, because: m.Message, ask: Ask) -> None:
    """The same step asks again in a new exchange, without its opening."""
    turn.close()
    turn.open(f.Purpose.STEP)
    turn.say(because)
    turn.ask = ask


def _reading_answered(turn: Turn, answered: Answered) -> None:
    step, exchange = _step(turn, Reading), turn.exchange
    if step.samples > 1:
        _set_answered(turn, answered)
        return
    heard = _believed(turn, answered, step)
    if heard is None:
        return
    turn.record(
        f.ReadingHeard(exchange.number, heard.quantity, heard.confidence, heard.clip, heard.source, heard.doubt)
    )
    turn.ask = Ask.FULL


def _reading_confirmed(turn: Turn, answered: Answered) -> None:
    step, exchange = _step(turn, Reading), turn.exchange
    if exchange.stage is not f.ExchangeStage.CONFIRMING:
        turn.refuse("affirm", m.NotHere())
        return
    before = _measured_before(turn)
    put_right = any(verdict in (f.ReadingVerdict.LOW, f.ReadingVerdict.HIGH) for verdict in before)
    stage = f.ReadingStage.AS_LEFT if put_right else f.ReadingStage(step.taken.value)
    samples = exchange.collected if exchange.pending is None else (exchange.pending,)
    standing = _record(turn, step, stage, samples, answered)
    _tell(turn, standing)
    if standing.limits is None:
        turn.say(m.Recorded())
    inconclusive, ask = f.ReadingVerdict.INCONCLUSIVE, Ask.SHORT if step.samples > 1 else Ask.NOTHING
    if standing.verdict is inconclusive and (step.until_within or inconclusive not in before):
        _once_more(turn, m.MeasureAgain(), ask)
        return
    if step.until_within and not standing.settled:
        words = step.too_low if standing.verdict is f.ReadingVerdict.LOW else step.too_high
        _once_more(turn, m.PutRight(words or step.adjust), ask)
        return
    if not standing.settled:
        _found(turn, step, standing)
        turn.say(m.FindingNoted())
    turn.complete()


def _reading_refused(turn: Turn) -> None:
    step, exchange = _step(turn, Reading), turn.exchange
    if step.samples > 1:
        _set_refused(turn)
        return
    if exchange.unitless is not None:
        _unit_taken_back(turn, exchange.unitless, step.name)
        return
    if exchange.pending is None:
        turn.refuse("negative", m.NotHere())
        return
    turn.record(f.ReadBackRefused(exchange.number, exchange.pending.quantity))
    if turn.exchange.refused >= REFUSED_TOO_OFTEN:
        turn.record(f.MannerChanged(exchange.number, f.Manner.HANDS))
        turn.say(m.UseHands())
    elif turn.exchange.refused >= 2:
        turn.record(f.MannerChanged(exchange.number, f.Manner.DIGITS))
        turn.say(m.DigitByDigit(step.name))
    else:
        turn.say(m.AskedAnew(step.name))


# --- a set of readings, and several readings of one thing ----------------------------------------------------


def _members(step: Step) -> tuple[Measured, ...]:
    """What is collected before it is confirmed."""
    match step:
        case ReadingSet():
            return step.members
        case Reading():
            return (step,) * step.samples
    raise TypeError(f"a {type(step).__name__} collects no readings")


def _measures(turn: Turn) -> str:
    return _members(turn.placed.step)[len(turn.exchange.collected)].name


def _set_question(turn: Turn) -> Question:
    step, exchange = turn.placed.step, turn.exchange
    members = _members(step)
    if exchange.unitless is not None:
        return _which_unit(exchange.unitless.called)
    if exchange.stage is f.ExchangeStage.CONFIRMING:
        pairs = zip(members, exchange.collected, strict=True)
        messages = tuple(
            m.MemberReadBack(member.name, pending.quantity, _in_unit_of(member, pending.quantity))
            for member, pending in pairs
        )
        return _read_back((*messages, m.AllRight()), m.Choices((CommandName.AFFIRM, CommandName.NEGATIVE)))
    number = len(exchange.collected)
    member = members[number]
    question = _number_asked(turn, step, member)
    ask = (
        m.AskMember(member.name) if isinstance(step, ReadingSet) else m.AskSample(member.name, number + 1, len(members))
    )
    full = (*question.full, ask) if not exchange.collected else (*judging.warning_of(turn, member), ask)
    return replace(question, full=full, short=(ask,))


def _set_answered(turn: Turn, answered: Answered) -> None:
    exchange, members = turn.exchange, _members(turn.placed.step)
    member = members[len(exchange.collected)]
    heard = _believed(turn, answered, member)
    if heard is None:
        return
    turn.record(
        f.ReadingCollected(
            exchange.number,
            member.name,
            heard.quantity,
            heard.confidence,
            heard.clip,
            heard.source,
            heard.doubt,
            len(exchange.collected) + 1 == len(members),
        )
    )
    turn.ask = Ask.FULL


def _set_confirmed(turn: Turn, answered: Answered) -> None:
    step, collected = _step(turn, ReadingSet), turn.exchange.collected
    if turn.exchange.stage is not f.ExchangeStage.CONFIRMING:
        turn.refuse("affirm", m.NotHere())
        return
    before, found = _measured_before(turn), []
    for member, pending in zip(step.members, collected, strict=True):
        standing = _record(turn, member, f.ReadingStage(step.taken.value), (pending,), answered)
        if not standing.settled:
            turn.say(m.NamedMember(member.name))
            _tell(turn, standing)
            found.append((member, standing))
    inconclusive = f.ReadingVerdict.INCONCLUSIVE
    if inconclusive not in before and any(standing.verdict is inconclusive for _, standing in found):
        _once_more(turn, m.MeasureAgain(), Ask.SHORT)
        return
    for member, standing in found:
        _found(turn, member, standing)
    turn.say(m.FindingNoted() if found else m.Recorded())
    turn.complete()


def _set_refused(turn: Turn) -> None:
    exchange, members = turn.exchange, _members(turn.placed.step)
    if exchange.unitless is not None:
        _unit_taken_back(turn, exchange.unitless, members[len(exchange.collected)].name)
        return
    if exchange.stage is not f.ExchangeStage.CONFIRMING:
        turn.refuse("negative", m.NotHere())
        return
    turn.record(f.SetRefused(exchange.number))
    turn.say(m.SetAnew())
    turn.ask = Ask.SHORT


# --- calculation -----------------------------------------------------------------------------------------------


def _calculation_question(turn: Turn) -> Question:
    step = _step(turn, Calculation)
    question = _asked(step, (), m.Choices((CommandName.NEXT, CommandName.DETAILS, CommandName.SKIP)))
    messages = _calculation_told(turn, step, calculated(turn, step))
    return replace(question, full=(*question.full, *messages), short=(*question.short, *messages))


def _calculation_told(turn: Turn, step: Calculation, came: Calculated | NotCalculated) -> tuple[m.Message, ...]:
    if isinstance(came, NotCalculated):
        return (m.NotWorkedOut(step.name, came.because),)
    caveats = tuple(m.Caveat(text) for text in came.caveats)
    standing = _standing(turn, step, came)
    if standing is None or standing.limits is None:
        return (m.WorkedOut(step.name, came.result), *caveats)
    finding = () if standing.settled else (m.FindingNoted(),)
    return (m.NamedMember(step.name), *standing.messages(), *finding, *caveats)


def _standing(turn: Turn, step: Calculation, came: Calculated) -> JudgedValue | None:
    return judging.standing(turn, step, came.result) if isinstance(came.result, Quantity) else None


def _calculation_next(turn: Turn) -> None:
    """What was told goes into the record; without a result the step is left out."""
    step, placed = _step(turn, Calculation), turn.placed
    came = calculated(turn, step)
    if isinstance(came, NotCalculated):
        turn.close()
        turn.record(f.StepSkipped(placed.place, step.title, came.because, None))
        return
    standing = _standing(turn, step, came)
    limits = None if standing is None else standing.limits
    turn.record(
        f.CalculationRecorded(
            placed.place,
            step.name,
            step.formula,
            came.inputs,
            came.result,
            "" if limits is None else str(limits),
            "" if standing is None else standing.by,
            f.ReadingVerdict.NO_LIMIT if standing is None else standing.verdict,
            step.row.source,
            came.caveats,
        )
    )
    if standing is not None and not standing.settled:
        _found(turn, step, standing)
    turn.complete()


# --- part ------------------------------------------------------------------------------------------------------

SUBSTITUTE = "substitute"


def _part_question(turn: Turn) -> Question:
    offers = (
        Offer("<spelled.three>", Spelled, Risk.READING),
        Offer("<answers.substitute>", Answer, Risk.READING, SUBSTITUTE),
    )
    question = _asked(_step(turn, FittedPart), offers, m.SpellPart())
    return replace(question, full=(*question.full, m.SpellPart()))


def _part_answered(turn: Turn, answered: Answered) -> None:
    step, placed = _step(turn, FittedPart), turn.placed
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


# --- timer ---------------------------------------------------------------------------------------------------


def _timer_question(turn: Turn) -> Question:
    step = _step(turn, Timer)
    return Question(
        full=(*opening(step), m.TimerRuns(turn.visit.remaining(step.id, turn.at))),
        short=(m.TimerNotOver(turn.visit.remaining(step.id, turn.at)),),
        offers=(),
        commands=WHILE_ASKING,
        choices=(m.Choices((CommandName.WHERE_AM_I, CommandName.STAND_BY, CommandName.END_WORK)),),
    )


def _timer_started(turn: Turn) -> None:
    step = _step(turn, Timer)
    if step.id in turn.visit.elapsed:  # it ran out while the assistant asked something else
        _timer_elapsed(turn)
    elif step.id not in turn.visit.timers:
        turn.record(f.TimerStarted(step.id, turn.visit.timer_runs.get(step.id, 0) + 1, step.seconds))
        if step.meanwhile:
            for message in (*opening(step), m.TimerRuns(step.seconds)):
                turn.say(message)
            turn.complete(leaving=False)


def _timer_elapsed(turn: Turn) -> None:
    turn.say(m.TimeIsUp(_step(turn, Timer).title))
    turn.complete()


def _timer_not_over(turn: Turn) -> m.Message:
    return m.TimerNotOver(turn.visit.remaining(_step(turn, Timer).id, turn.at))


# --- hold point ----------------------------------------------------------------------------------------------


def _hold_question(turn: Turn) -> Question:
    step = _step(turn, HoldPoint)
    return _asked(step, (Offer(step.phrase, Passphrase, Risk.HOLD, step.id),), m.UseCard(step.card))


def _hold_answered(turn: Turn, answered: Answered) -> None:
    step, placed = _step(turn, HoldPoint), turn.placed
    if answered.best.meaning != Passphrase(step.id):
        turn.refuse(answered.best.text, m.HoldStays(step.card))
        return
    turn.record(f.HoldPointPassed(placed.place, step.title, answered.best.confidence, answered.clip, answered.source))
    turn.complete()


def _hold_stays(turn: Turn) -> m.Message:
    return m.HoldStays(_step(turn, HoldPoint).card)


_CHECK = QuestionHandler(question=_check_question, answered=_check_answered)
_READING = QuestionHandler(
    question=_reading_question,
    answered=_reading_answered,
    affirm=_reading_confirmed,
    negative=_reading_refused,
    measures=_measures,
)
_HOLD = QuestionHandler(question=_hold_question, answered=_hold_answered, refusal=_hold_stays)

STEP_KINDS: dict[type[Step], QuestionHandler] = {
    Instruction: QuestionHandler(question=_instruction_question, next=Turn.complete),
    Keep: QuestionHandler(question=_keep_question, next=_keep_next),
    Check: _CHECK,
    Choice: _CHECK,
    Panel: _CHECK,
    Repeat: _CHECK,
    Reading: _READING,
    Count: _READING,
    ReadingSet: QuestionHandler(
        question=_set_question,
        answered=_set_answered,
        affirm=_set_confirmed,
        negative=_set_refused,
        measures=_measures,
    ),
    Calculation: QuestionHandler(question=_calculation_question, next=_calculation_next),
    FittedPart: QuestionHandler(question=_part_question, answered=_part_answered),
    Timer: QuestionHandler(
        question=_timer_question, arrive=_timer_started, elapsed=_timer_elapsed, refusal=_timer_not_over
    ),
    HoldPoint: _HOLD,
    SecondPerson: _HOLD,
}
