"""What a record says of the facts of a whole visit: for each its sentence, its row, what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.quantities import counted
from assistant.record.concerns import ConcernKind
from assistant.record.entries import NOT_IN_RECORD, Context, Description, RecordEntry, Sentence, concerning, only
from assistant.record.phrases import span
from assistant.session import facts as f


def describe_visit(fact: f.VisitFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.WorkTakenUp():
            steps = counted(fact.steps, "step")
            return only(f"Work taken up by the {fact.order.technician}: {fact.title}, {steps}.")
        case f.WorkTakenUpAgain():
            words = f"Taken up again by the {fact.technician}. The engine's state had to be proved again."
            return concerning(ConcernKind.STATE_FORGOTTEN, words)
        case f.VisitPlanned():
            return only(f"The order of the visit: {fact.because}.")
        case f.StageDone():
            words = f"{stage_heading(fact.stage)}: done."
            return Description(
                (Sentence(words if entry.stands else f"{words} Opened again later."),),
                cells={"what": "task done", "name": fact.stage.title} if fact.stage.is_task else {},
            )
        case f.TaskPutOff():
            words = f"{fact.title} is put off, and stays due. Reason: {fact.reason}."
            return Description(
                (Sentence(words, (ConcernKind.PUT_OFF,)),),
                cells={"what": "task put off", "name": fact.title, "reason": fact.reason},
                concerns={ConcernKind.PUT_OFF: f"{fact.title}, and it stays due. Reason: {fact.reason}."},
            )
        case f.TaskChosen():
            return NOT_IN_RECORD
        case f.TaskAdded():
            return Description(
                (Sentence(f"{fact.title} is added to the visit. Reason: {fact.reason}."),),
                cells={"what": "task added", "name": fact.title, "reason": fact.reason},
            )
        case f.WorkHandedOver():
            words = f"Handed over to the {fact.technician}. The engine's state had to be proved again."
            return only(words, ConcernKind.STATE_FORGOTTEN)
        case f.StoodBy():
            return only("Stood by.")
        case f.CarriedOn():
            return only(f"Carried on after {span(fact.seconds)}.")
        case f.WorkEnded(complete=True):
            return only(f"Work ended, complete: {fact.because}.")
        case f.WorkEnded():
            return concerning(ConcernKind.ENDED_EARLY, f"Work ended, before its last step: {fact.because}.")
        case _:
            assert_never(fact)


def stage_heading(stage: f.PlannedStage) -> str:
    """A stage as it heads what was done in it."""
    return f"Task: {stage_name(stage)}" if stage.is_task else stage_name(stage)


def stage_name(stage: f.PlannedStage) -> str:
    """Its title, and which time its procedure is gone through where that is not the first."""
    return f"{stage.title}, time {stage.time}" if stage.time > 1 else stage.title
