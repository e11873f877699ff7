"""How a value stands: which limits hold for it now, the verdict, and what is said and recorded of that.

Knows the visit so far: the engine's state and earlier readings choose the limits, the instrument its doubt. Refuses to
know how a value was asked for or worked out, and what follows from a verdict: the kinds of step do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from assistant.calculations.decision import LimitVerdict, describe, judge
from assistant.dialogue import messages as m
from assistant.dialogue.guards import unmet
from assistant.dialogue.turn import Turn
from assistant.engine_state import Known
from assistant.procedure.equipment import Instrument
from assistant.procedure.measured import Judged, Measured
from assistant.quantities import Limits, Quantity, significant
from assistant.session import facts as f
from assistant.statements import kinds as s

_MESSAGES: dict[f.ReadingVerdict, type[m.WithinLimits | m.TooLow | m.TooHigh | m.Inconclusive]] = {
    f.ReadingVerdict.WITHIN: m.WithinLimits,
    f.ReadingVerdict.LOW: m.TooLow,
    f.ReadingVerdict.HIGH: m.TooHigh,
    f.ReadingVerdict.INCONCLUSIVE: m.Inconclusive,
}


@dataclass(frozen=True, slots=True)
class JudgedValue:
    """A value and the limits that it was held against.

    quantity: the value.
    verdict: how it stands.
    limits: what it was held against; None where nothing holds.
    by: what chose the limits; empty when nothing did.
    """

    quantity: Quantity
    verdict: f.ReadingVerdict
    limits: Limits | None
    by: str

    @property
    def settled(self) -> bool:
        """Whether nothing is wrong with it, or there is nothing to hold it against."""
        return self.verdict in (f.ReadingVerdict.WITHIN, f.ReadingVerdict.NO_LIMIT)

    def messages(self) -> tuple[m.Message, ...]:
        """What is said of it; nothing where there are no limits."""
        if self.limits is None:
            return ()
        return (_MESSAGES[self.verdict](self.limits.restate(self.quantity), self.limits),)

    def finding(self, name: str) -> s.FindingStatement | None:
        """What goes into the record when it is not put right; None where there are no limits."""
        if self.limits is None:
            return None
        inconclusive = self.verdict is f.ReadingVerdict.INCONCLUSIVE
        kind = s.ValueInconclusive if inconclusive else s.ValueOutOfLimits
        return kind(name, self.limits.compared(self.quantity), self.limits)


def reading_standing(turn: Turn, asked: Measured, quantity: Quantity) -> JudgedValue:
    """A measured value held against the limits that hold for it now. Relative to a reading that was not taken: none."""
    limits, by = _limits_now(turn, asked)
    if limits is not None and asked.relative_to is not None:
        other = last_reading(turn, asked.relative_to)
        if other is None:
            limits = None
        else:
            limits, by = limits.around(other.quantity), ", ".join(filter(None, (by, f"{other.name} {other.quantity}")))
    instrument = instrument_of(turn, asked)
    uncertainty = asked.uncertainty or (None if instrument is None else instrument.uncertainty)
    return _judged(asked, quantity, limits, by, uncertainty)


def result_standing(turn: Turn, asked: Judged, quantity: Quantity) -> JudgedValue:
    """A value that was worked out, held against the limits that hold for it now."""
    limits, by = _limits_now(turn, asked)
    return _judged(asked, quantity, limits, by, asked.uncertainty)


def _judged(
    asked: Judged, quantity: Quantity, limits: Limits | None, by: str, uncertainty: Quantity | None
) -> JudgedValue:
    if limits is None:
        return JudgedValue(quantity, f.ReadingVerdict.NO_LIMIT, None, "")
    match judge(quantity, limits, asked.decision, uncertainty):
        case LimitVerdict.WITHIN:
            verdict = f.ReadingVerdict.WITHIN
        case LimitVerdict.INCONCLUSIVE:
            verdict = f.ReadingVerdict.INCONCLUSIVE
        case LimitVerdict.OUT:
            verdict = f.ReadingVerdict.LOW if limits.side(quantity) < 0 else f.ReadingVerdict.HIGH
    return JudgedValue(quantity, verdict, limits, by)


def _limits_now(turn: Turn, asked: Judged) -> tuple[Limits | None, str]:
    """The limits that the engine's state chooses, and the variable of it that did; empty when none did."""
    state = next((name for name in asked.limits_when if turn.visit.known(name, turn.at) is Known.YES), "")
    return asked.limits_when.get(state, asked.limits), state


def last_reading(turn: Turn, step: str) -> f.ReadingRecorded | None:
    """The reading that stands at a step of the task in focus; None where there is none (yet, or any more)."""
    place = f.StepPlace(turn.placed.place.task, step)
    return next((reading for reading in reversed(turn.visit.readings) if reading.place == place), None)


def circumstances(turn: Turn) -> tuple[str, ...]:
    """What is known of the engine now, `running`, `not isolated`; and what a reading said of that, `load 60 %`, as long
    as the engine is still as the step of that reading needed it."""
    known = ((name, turn.visit.known(name, turn.at)) for name in turn.work.equipment.state)
    engine = (name if value is Known.YES else f"not {name}" for name, value in known if value is not Known.UNKNOWN)
    measured = {
        reading.name: f"{reading.name} {reading.quantity}"
        for reading in turn.visit.readings
        if reading.place != turn.placed.place
        and turn.work.is_circumstance(reading.place)
        and unmet(turn.work.at(reading.place), turn.visit, turn.at) is None
    }
    return (*engine, *measured.values())


def instrument_of(turn: Turn, asked: Measured) -> Instrument | None:
    """What a reading is taken with, where the procedure says so."""
    return None if asked.instrument is None else turn.work.equipment.instruments[asked.instrument]


def out_of_date(turn: Turn, instrument: Instrument | None) -> date | None:
    """Since when an instrument's calibration is out of date on the day of the visit."""
    return None if instrument is None else instrument.out_of_date(date.fromisoformat(turn.at.wall[:10]))


def instrument_doubts(turn: Turn, instrument: Instrument | None) -> tuple[s.Doubt, ...]:
    """Why a reading with this instrument is not to be trusted; none when it is."""
    since = out_of_date(turn, instrument)
    return () if since is None or instrument is None else (s.OutOfCalibration(instrument.name, since),)


def doubted(doubts: Sequence[s.Doubt | str]) -> f.DoubtText:
    """Several doubts as one, each of them once; empty when there is none."""
    return s.Doubts(tuple(dict.fromkeys(doubts))) if doubts else ""


def doubts_of(doubt: f.DoubtText) -> tuple[s.Doubt | str, ...]:
    """The inverse of `doubted`."""
    if isinstance(doubt, str):
        return (doubt,) if doubt else ()
    return doubt.doubts


def warning_of(turn: Turn, asked: Measured) -> tuple[m.Message, ...]:
    """What is said of an instrument before the first reading with it."""
    instrument = instrument_of(turn, asked)
    if instrument is None or any(reading.instrument == instrument.name for reading in turn.visit.readings):
        return ()
    return () if out_of_date(turn, instrument) is None else (m.OutOfDate(instrument.name),)


@dataclass(frozen=True, slots=True)
class Mean:
    """Repeated readings, all counted.

    value: their mean.
    spread: their standard deviation.
    doubted: the reading that lies far from the others, by Grubbs' test; None where none does.
    """

    value: Quantity
    spread: Quantity
    doubted: Quantity | None


def mean(samples: tuple[Quantity, ...], unit: str) -> Mean:
    """Mean and spread, to one place more than the finest sample.

    unit: of both, where the samples are in several.
    """
    unit = samples[0].unit if len({sample.unit for sample in samples}) == 1 else unit
    values = tuple(sample.exactly(unit) for sample in samples)
    described = describe(tuple(map(float, values)))
    last = min(sample.restated(unit).resolution for sample in samples) / 10
    doubted = None if described.doubtful is None else samples[described.doubtful]
    exact = sum(values, Decimal(0)) / len(values)
    return Mean(Quantity(exact.quantize(last), unit), significant(described.spread, unit, 2), doubted)
