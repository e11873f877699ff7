"""What a record says of the facts of steps: for each its sentence, its row, what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.record.concerns import ConcernKind, Label
from assistant.record.entries import (
    NOT_IN_RECORD,
    Context,
    Description,
    RecordEntry,
    Sentence,
    heard_or_typed,
    only,
    sentences,
)
from assistant.record.phrases import span
from assistant.session import facts as f
from assistant.session.inputs import Source


def describe_step(fact: f.StepFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.StepReached():
            return NOT_IN_RECORD
        case f.StepDone():
            return only("Done. Opened again later." if entry.taken_back else "Done.")
        case f.StepSkipped():
            words = f"{fact.title}. Reason: {fact.reason}."
            return Description(
                (Sentence(f"Left out. Reason: {fact.reason}.", (ConcernKind.SKIPPED,)),),
                cells={"what": "left out", "name": fact.title, "reason": str(fact.reason)},
                concerns={} if entry.taken_back else {ConcernKind.SKIPPED: words},
            )
        case f.StepReopened():
            return Description(
                (Sentence(f"Opened again: {fact.because}.", (ConcernKind.TAKEN_BACK,)),),
                concerns={ConcernKind.TAKEN_BACK: f"{fact.title} was opened again: {fact.because}."},
            )
        case f.AnswerRecorded():
            return _answer(fact, entry, context)
        case f.StepPassedOver():
            words = f"{fact.title} did not apply: {fact.because}."
            return only(f"{words} Opened again later." if entry.taken_back else words)
        case f.HalfDone():
            return only("Its first half was done.")
        case f.HoldPointPassed():
            return _hold_point(fact, entry, context)
        case f.TimerStarted():
            again = f", start {fact.run}" if fact.run > 1 else ""
            return only(f"Timer began: {span(fact.seconds)}{again}.")
        case f.TimerEnded():
            return only("Timer ran its whole time.")
        case _:
            assert_never(fact)


def _answer(fact: f.AnswerRecorded, entry: RecordEntry, context: Context) -> Description:
    words = Sentence(f"Answer: “{fact.phrase}”.", () if fact.good else (Label.NOT_IN_ORDER,))
    return Description(
        (words, *sentences(context.later_status(entry, "Answered again"))),
        cells={
            "what": "answer",
            "name": fact.question,
            "text": fact.phrase,
            "judged": "in order" if fact.good else "not in order",
            "confidence": round(fact.confidence, 4),
            "source": fact.source.value,
        },
        question=fact.question,
        confidence=heard_or_typed(fact.confidence, fact.source),
    )


def _hold_point(fact: f.HoldPointPassed, entry: RecordEntry, context: Context) -> Description:
    typed = fact.source is Source.TYPED
    words = Sentence(
        "Hold point passed in its set words" + (", typed." if typed else "."),
        (ConcernKind.HOLD_TYPED,) if typed else (),
    )
    concern = f"{fact.title}: its words were typed, not spoken. There is no sound of it."
    return Description(
        (words, *sentences(context.later_status(entry, "Passed again"))),
        cells={
            "what": "hold point",
            "name": fact.title,
            "confidence": round(fact.confidence, 4),
            "source": fact.source.value,
        },
        concerns={ConcernKind.HOLD_TYPED: concern} if typed and not entry.taken_back else {},
        confidence=heard_or_typed(fact.confidence, fact.source),
    )
