"""What a record says of any fact: one file a topic, as the facts have. A fact that no file describes does not type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import assert_never

from assistant.record.device import describe_device
from assistant.record.engine import describe_engine
from assistant.record.entries import Description, RecordEntry
from assistant.record.exchanges import badly_heard, describe_exchange
from assistant.record.histories import describe_history
from assistant.record.parts import describe_part
from assistant.record.readings import describe_reading
from assistant.record.remarks import describe_remark
from assistant.record.steps import describe_step
from assistant.record.visits import describe_visit
from assistant.session import facts as f


def describe(entry: RecordEntry, entries: Sequence[RecordEntry]) -> Description:
    """What the record says of an entry. entries: all, in time order, with what became of each."""
    description = _of_topic(entry.fact, entry, entries)
    return replace(description, concerns={**description.concerns, **badly_heard(entry)})


def _of_topic(fact: f.Fact, entry: RecordEntry, entries: Sequence[RecordEntry]) -> Description:
    if isinstance(fact, f.DeviceFact):
        return describe_device(fact, entry, entries)
    if isinstance(fact, f.EngineFact):
        return describe_engine(fact, entry, entries)
    if isinstance(fact, f.ExchangeFact):
        return describe_exchange(fact, entry, entries)
    if isinstance(fact, f.HistoryFact):
        return describe_history(fact, entry, entries)
    if isinstance(fact, f.PartFact):
        return describe_part(fact, entry, entries)
    if isinstance(fact, f.ReadingFact):
        return describe_reading(fact, entry, entries)
    if isinstance(fact, f.RemarkFact):
        return describe_remark(fact, entry, entries)
    if isinstance(fact, f.StepFact):
        return describe_step(fact, entry, entries)
    if isinstance(fact, f.VisitFact):
        return describe_visit(fact, entry, entries)
    assert_never(fact)
