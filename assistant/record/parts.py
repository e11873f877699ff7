"""What a record says of the facts of things: for each its sentence, its row, what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.record.concerns import ConcernKind, Label
from assistant.record.entries import Cells, Context, Description, RecordEntry, Sentence, only
from assistant.session import facts as f


def describe_part(fact: f.PartFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.ObjectDropped():
            words = "Something was dropped. Nothing was to be started until it was accounted for."
            return only(words, Label.DROPPED)
        case f.ObjectAccounted():
            excused = "What was dropped was not found, and was excused."
            return only("What had dropped was found." if fact.found else excused)
        case f.PartFitted():
            return _fitted(fact)
        case f.PartRefused():
            refused = f"{entry.title}: {fact.spoken} was given, and is the number of no part expected there."
            return Description(
                (Sentence(f"The part {fact.spoken} was none of those expected.", (Label.REFUSED,)),),
                concerns={ConcernKind.PART_REFUSED: refused},
            )
        case _:
            assert_never(fact)


def is_substitute(fact: f.Fact) -> bool:
    """Whether a part was fitted that is not the one expected."""
    return isinstance(fact, f.PartFitted) and not fact.number


def _fitted(fact: f.PartFitted) -> Description:
    cells: Cells = {
        "what": "part",
        "name": fact.name,
        "text": fact.number or fact.spoken,
        "reason": fact.reason,
        "confidence": round(fact.confidence, 4),
        "source": fact.source.value,
    }
    if is_substitute(fact):
        return Description(
            (Sentence(f"A substitute was fitted. Reason: {fact.reason}.", (ConcernKind.SUBSTITUTE,)),),
            cells,
            {ConcernKind.SUBSTITUTE: f"{fact.name}: a substitute was fitted. Reason: {fact.reason}."},
        )
    return Description((Sentence(f"Fitted: {fact.name}, {fact.number}, proved by {fact.spoken}."),), cells)
