"""What a record says of what somebody is to know of: for each its sentence, its row, what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.record.concerns import ConcernKind
from assistant.record.entries import Cells, Context, Description, RecordEntry, Sentence
from assistant.record.phrases import capital
from assistant.session import facts as f

SUBJECTS = {
    f.Subject.NOTE: "A note",
    f.Subject.FINDING: "A finding, spoken",
    f.Subject.STEP_WRONG: "What is wrong with this step, for the trainer",
}


def describe_remark(fact: f.RemarkFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.FindingRecorded():
            words = f"{capital(str(fact.finding))}."
            resolved = context.time_of_line(entry.resolved_by)
            after = f" The same check was in order at {resolved}." if resolved else ""
            return Description(
                (Sentence(words, (ConcernKind.FINDING,)),),
                cells={"what": "finding", "text": str(fact.finding)},
                concerns={ConcernKind.FINDING: words + after},
            )
        case f.NoteKept():
            return _note(fact)
        case f.HelpCalled():
            at_step = f" at the step {entry.title!r}" if entry.title else ""
            aloud = "aloud at the engine. Nobody else was reached."
            return Description(
                (Sentence(f"Help was called for, {aloud}", (ConcernKind.HELP_CALLED,)),),
                concerns={ConcernKind.HELP_CALLED: f"Help was called for{at_step}, {aloud}"},
            )
        case _:
            assert_never(fact)


def _note(fact: f.NoteKept) -> Description:
    kept = "kept as sound" if fact.clip is not None else "typed"
    words = f"{SUBJECTS[fact.subject]}, {kept}." + (f" “{fact.text}”" if fact.text else "")
    cells: Cells = {"what": "note", "name": fact.subject.value, "text": fact.text}
    concern = f"{fact.title}: " + (f"“{fact.text}”" if fact.text else "listen to its sound.")
    match fact.subject:
        case f.Subject.NOTE:
            return Description((Sentence(words, (ConcernKind.NOTE,)),), cells, {ConcernKind.NOTE: concern})
        case f.Subject.FINDING:  # there is a finding besides
            return Description((Sentence(words, (ConcernKind.NOTE,)),), cells)
        case f.Subject.STEP_WRONG:
            return Description(
                (Sentence(words, (ConcernKind.STEP_WRONG,)),),
                cells,
                {ConcernKind.STEP_WRONG: f"{concern} It goes to the trainer."},
            )
        case _:
            assert_never(fact.subject)
