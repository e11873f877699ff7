"""What a record says of the facts of the engine's state: for each its sentence, and what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.record.concerns import ConcernKind
from assistant.record.entries import Context, Description, RecordEntry, concerning, only
from assistant.record.phrases import span
from assistant.session import facts as f


def describe_engine(fact: f.EngineFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.StateLearned():
            lasts = "" if fact.lasts is None else f" for {span(fact.lasts)}"
            return only(f"State: {fact.variable.replace('-', ' ')}, {fact.value}{lasts}.")
        case f.StateForgotten():
            words = f"The engine's state had to be proved again: {fact.because}."
            return concerning(ConcernKind.STATE_FORGOTTEN, words)
        case _:
            assert_never(fact)
