"""What a record says of any fact: one file a topic, as the facts have. A fact that no file describes does not type."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.record.device import describe_device
from assistant.record.engine import describe_engine
from assistant.record.entries import Context, Description, RecordEntry
from assistant.record.exchanges import badly_heard, describe_exchange
from assistant.record.histories import describe_history
from assistant.record.parts import describe_part
from assistant.record.readings import describe_reading
from assistant.record.remarks import describe_remark
from assistant.record.steps import describe_step
from assistant.record.visits import describe_visit
from assistant.session import facts as f


def describe(entry: RecordEntry, context: Context) -> Description:
    """What the record says of an entry."""
    description = _of_topic(entry.fact, entry, context)
    return replace(description, concerns={**description.concerns, **badly_heard(entry)})


def _of_topic(fact: f.Fact, entry: RecordEntry, context: Context) -> Description:
    if isinstance(fact, f.DeviceFact):
        return describe_device(fact, entry, context)
    if isinstance(fact, f.EngineFact):
        return describe_engine(fact, entry, context)
    if isinstance(fact, f.ExchangeFact):
        return describe_exchange(fact, entry, context)
    if isinstance(fact, f.HistoryFact):
        return describe_history(fact, entry, context)
    if isinstance(fact, f.PartFact):
        return describe_part(fact, entry, context)
    if isinstance(fact, f.ReadingFact):
        return describe_reading(fact, entry, context)
    if isinstance(fact, f.RemarkFact):
        return describe_remark(fact, entry, context)
    if isinstance(fact, f.StepFact):
        return describe_step(fact, entry, context)
    if isinstance(fact, f.VisitFact):
        return describe_visit(fact, entry, context)
    assert_never(fact)
