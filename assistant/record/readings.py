"""What a record says of the facts of values: for each its sentence, its rows, what it means to a supervisor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import assert_never

from assistant.errors import QuantityError
from assistant.quantities import Quantity, parse_limits
from assistant.record.concerns import ConcernKind
from assistant.record.entries import (
    Cells,
    Context,
    Description,
    EntryStatus,
    RecordEntry,
    Sentence,
    heard_or_typed,
    joined,
    only,
    sentences,
)
from assistant.record.exchanges import failed_attempt
from assistant.record.phrases import capital
from assistant.session import facts as f

_OUT_OF_LIMITS = {
    f.ReadingVerdict.LOW: ConcernKind.OUT_OF_LIMITS,
    f.ReadingVerdict.HIGH: ConcernKind.OUT_OF_LIMITS,
    f.ReadingVerdict.INCONCLUSIVE: ConcernKind.INCONCLUSIVE,
}


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading in the table of readings.

    entry: that it is of.
    name: of the reading.
    value: as it was said, and in the unit of its limits where that is another.
    stage: as found or as left.
    limits: as they were then, or "none".
    verdict: in words.
    labels: what is not in order about it.
    notes: how it came about and what became of it, a sentence each.
    """

    entry: RecordEntry
    name: str
    value: str
    stage: str
    limits: str
    verdict: str
    labels: tuple[ConcernKind, ...]
    notes: tuple[str, ...]


def describe_reading(fact: f.ReadingFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.ReadingRecorded():
            limits = f" ({fact.limits})" if fact.limits else ""
            words = f"{capital(fact.name)} {_value(fact)}, {fact.stage}: {_verdict(fact.verdict)}{limits}."
            return Description(
                (Sentence(words, _labels(fact, entry)), *sentences(f"In doubt: {fact.doubt}." if fact.doubt else "")),
                cells=_reading_cells(fact),
                concerns={} if entry.taken_back else _reading_concerns(fact, entry, context),
                confidence=heard_or_typed(fact.confidence, fact.source),
            )
        case f.ReadingWithdrawn():
            words = f"{capital(fact.name)} {fact.quantity} taken back by the technician."
            return only(words, ConcernKind.TAKEN_BACK)
        case f.CalculationRecorded():
            return _calculation(fact, entry, context)
        case _:
            assert_never(fact)


def limit_concern(fact: f.Fact) -> ConcernKind | None:
    """What the verdict on a value says against it; None: nothing, or the fact is no value."""
    return _OUT_OF_LIMITS.get(fact.verdict) if isinstance(fact, f.ReadingRecorded | f.CalculationRecorded) else None


def reading_row(entry: RecordEntry, context: Context) -> ReadingRow:
    """The row of an entry whose fact is a reading."""
    reading = entry.fact
    assert isinstance(reading, f.ReadingRecorded)
    notes = (
        f"In doubt: {reading.doubt}." if reading.doubt else "",
        *_how_it_was_taken(reading),
        *map(failed_attempt, entry.failed_attempts),
        context.later_status(entry, "Measured again"),
    )
    return ReadingRow(
        entry=entry,
        name=capital(reading.name),
        value=_value(reading),
        stage=reading.stage.value,
        limits=reading.limits or "none",
        verdict=capital(_verdict(reading.verdict)),
        labels=_labels(reading, entry),
        notes=tuple(note for note in notes if note),
    )


def _verdict(verdict: f.ReadingVerdict) -> str:
    match verdict:
        case f.ReadingVerdict.WITHIN:
            return "within limits"
        case f.ReadingVerdict.LOW:
            return "too low"
        case f.ReadingVerdict.HIGH:
            return "too high"
        case f.ReadingVerdict.INCONCLUSIVE:
            return "inconclusive"
        case f.ReadingVerdict.NO_LIMIT:
            return "no limits given"
        case _:
            assert_never(verdict)


def _value(reading: f.ReadingRecorded) -> str:
    """The value as it was said, and in the unit of its limits where that is another."""
    try:
        return parse_limits(reading.limits).compared(reading.quantity)
    except QuantityError:  # it has no limits, or none that read as such any more
        return str(reading.quantity)


def _labels(reading: f.ReadingRecorded, entry: RecordEntry) -> tuple[ConcernKind, ...]:
    against = limit_concern(reading)
    labels = (
        (ConcernKind.TAKEN_BACK, entry.taken_back),
        (against, against is not None),
        (ConcernKind.IN_DOUBT, bool(reading.doubt)),
        (ConcernKind.CORRECTED, _attempts(entry, f.ReadBackRefused) != ""),
    )
    return tuple(label for label, holds in labels if label is not None and holds)


def _attempts(entry: RecordEntry, kind: type[f.ReadBackRefused | f.ReadingQuestioned]) -> str:
    """The failed attempts of one kind, in words; empty when there were none."""
    return " ".join(failed_attempt(attempt) for attempt in entry.failed_attempts if isinstance(attempt, kind))


def _how_it_was_taken(reading: f.ReadingRecorded) -> tuple[str, ...]:
    """A sentence each; empty for what there was not."""
    circumstances = ", ".join(name.replace("-", " ") for name in reading.circumstances)
    return (
        f"Mean of {', '.join(map(str, reading.samples))}; spread {reading.spread}." if reading.spread else "",
        f"Limits by {reading.limits_by}." if reading.limits_by else "",
        f"With the {reading.instrument}." if reading.instrument else "",
        f"Under: {circumstances}." if reading.circumstances else "",
    )


def _reading_concerns(reading: f.ReadingRecorded, entry: RecordEntry, context: Context) -> dict[ConcernKind, str]:
    value = f"{capital(reading.name)} {_value(reading)}"
    concerns: dict[ConcernKind, str] = {}
    against = limit_concern(reading)
    if against is not None and entry.status is EntryStatus.REPEATED:
        concerns[ConcernKind.MEASURED_AGAIN] = _measured_again(reading, entry, context)
    elif against is not None:
        concerns[against] = f"{value} is {_verdict(reading.verdict)}. Limits: {reading.limits}."
    if reading.doubt:
        concerns[ConcernKind.IN_DOUBT] = f"{value}: {reading.doubt}. Listen to its sound."
    if refused := _attempts(entry, f.ReadBackRefused):
        concerns[ConcernKind.CORRECTED] = f"{value} was confirmed. {refused}"
    if questioned := _attempts(entry, f.ReadingQuestioned):
        concerns[ConcernKind.HARD_TO_BELIEVE] = f"{value} was confirmed. {questioned}"
    return concerns


def _measured_again(reading: f.ReadingRecorded, entry: RecordEntry, context: Context) -> str:
    standing = [
        other.fact
        for other in context.entries
        if other.place == entry.place and other.stands and isinstance(other.fact, f.ReadingRecorded)
    ]
    first = f"{capital(reading.name)} was {_value(reading)}, {_verdict(reading.verdict)} (limits {reading.limits})."
    if not standing:
        return first
    last = standing[-1]
    return f"{first} Measured again: {_value(last)}, {last.stage}, {_verdict(last.verdict)}."


def _reading_cells(reading: f.ReadingRecorded) -> Cells:
    cells: Cells = {
        "what": "reading",
        "name": reading.name,
        "value": reading.quantity.value,
        "unit": reading.quantity.unit,
        "limits": reading.limits,
        "judged": reading.verdict.value,
        "stage": reading.stage.value,
        "doubt": str(reading.doubt),
        "circumstances": ", ".join(reading.circumstances),
        "instrument": reading.instrument,
        "confidence": round(reading.confidence, 4),
        "source": reading.source.value,
    }
    low, high = _limits_as_numbers(reading)
    if low is not None:
        cells["low"] = low.value
    if high is not None:
        cells["high"] = high.value
    if reading.spread is not None:
        cells["spread"] = reading.spread.to(reading.quantity.unit).value
    return cells


def _limits_as_numbers(reading: f.ReadingRecorded) -> tuple[Quantity | None, Quantity | None]:
    """Low and high in the reading's unit; None where there is no such limit, or it does not read as one any more."""
    try:
        limits = parse_limits(reading.limits) if reading.limits else None
    except QuantityError:
        return None, None
    if limits is None or limits.kind is not reading.quantity.kind:
        return None, None
    unit = reading.quantity.unit
    low, high = limits.low, limits.high
    return None if low is None else low.to(unit), None if high is None else high.to(unit)


def _calculation(fact: f.CalculationRecorded, entry: RecordEntry, context: Context) -> Description:
    limits = f": {_verdict(fact.verdict)} ({fact.limits})" if fact.limits else ""
    against = limit_concern(fact)
    inputs = ", ".join(f"{given.name.replace('_', ' ')} {given.value}" for given in fact.inputs)
    text = (
        Sentence(f"{capital(fact.name)} {fact.result}, worked out{limits}.", () if against is None else (against,)),
        *sentences(
            f"By {fact.formula.replace('-', ' ')}, from {inputs}.",
            *(f"{capital(str(warning))}." for warning in fact.warnings),
            context.later_status(entry, "Worked out again"),
        ),
    )
    cells: Cells = {
        "what": "calculation",
        "name": fact.name,
        "limits": fact.limits,
        "judged": fact.verdict.value,
        "doubt": "; ".join(map(str, fact.warnings)),
    }
    if isinstance(fact.result, Quantity):
        cells["value"], cells["unit"] = fact.result.value, fact.result.unit
    else:
        cells["text"] = str(fact.result)
    concerns = {} if against is None or not entry.stands else {against: joined(text)}
    return Description(text, cells, concerns)
