"""What becomes of readings that were confirmed: they are judged, recorded, and measured again where they must be.

Knows how a value stands (`judging.py`). Refuses to know how it was asked for, and whether the step is done with it.
"""

from __future__ import annotations

from assistant.dialogue import judging
from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered
from assistant.dialogue.asking_numbers import DOUBT_BELOW
from assistant.dialogue.judging import JudgedValue
from assistant.dialogue.turn import Turn
from assistant.procedure.measured import Measured
from assistant.session import facts as f
from assistant.session.exchange_table import Ask
from assistant.session.visit import Pending
from assistant.statements import kinds as s


def record_reading(
    turn: Turn, asked: Measured, stage: f.ReadingStage, samples: tuple[Pending, ...], confirmation: Answered
) -> JudgedValue:
    """A confirmed reading is recorded, judged by its limits; of several samples their mean."""
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
    standing = judging.reading_standing(turn, asked, quantity)
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


def record_finding(turn: Turn, name: str, standing: JudgedValue) -> None:
    """A value that is not within its limits, and is not put right, is a finding. name: of the value."""
    finding = standing.finding(name)
    if finding is not None:
        turn.record(f.FindingRecorded(turn.placed.place, finding))


def verdicts_before(turn: Turn) -> tuple[f.ReadingVerdict, ...]:
    """The verdicts on the readings that stand at this step."""
    return tuple(reading.verdict for reading in turn.visit.readings if reading.place == turn.placed.place)


def measure_again(turn: Turn, because: m.Message, ask: Ask) -> None:
    """The same step asks again in a new exchange, without its opening. ask: how much of the question is spoken."""
    turn.close()
    turn.open(f.Purpose.STEP)
    turn.say(because)
    turn.ask = ask


def _doubts(pending: Pending, confirmation: Answered) -> tuple[s.Doubt | str, ...]:
    """Why a confirmed reading is not to be trusted; none when it is."""
    before, confidence = judging.doubts_of(pending.doubt), confirmation.best.confidence
    return before if confidence >= DOUBT_BELOW else (*before, s.ConfirmedUnsurely(confidence))
