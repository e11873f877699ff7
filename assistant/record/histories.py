"""What a record says of sessions in which nobody speaks: for each fact its sentence, what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.quantities import counted
from assistant.record.concerns import ConcernKind
from assistant.record.entries import Context, Description, RecordEntry, Sentence, joined, only, sentences
from assistant.record.phrases import capital
from assistant.session import facts as f


def describe_history(fact: f.HistoryFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.HistoryTakenOver():
            return only(f"Taken over from {fact.source}: {counted(fact.lines, 'line')} of what was done before.")
        case f.DoneBefore():
            return only(f"{fact.title or 'The meter was read'} on {fact.day}.")
        case f.SalvageMade():
            lines = counted(fact.lines, "line holds", "lines hold")
            words = f"Salvaged from the damaged session {fact.source}: {lines}."
            text = (
                Sentence(words, (ConcernKind.SALVAGED,)),
                *sentences(*(f"{capital(gap)}." for gap in fact.gaps)),
            )
            return Description(text, concerns={ConcernKind.SALVAGED: joined(text)})
        case _:
            assert_never(fact)
