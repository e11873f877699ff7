"""What the facts of the visit as a whole change of it."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply_visit(visit: Visit, fact: f.VisitFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.WorkTakenUp():
            return replace(visit, order=fact.order, technician=fact.order.technician, history_facts=((fact, at),))
        case f.WorkTakenUpAgain():
            return replace(visit, state={}, stood_by=None, technician=fact.technician)
        case f.WorkHandedOver():
            return replace(visit, state={}, technician=fact.technician)
        case f.VisitPlanned():
            planned = {stage.passage for stage in fact.stages}
            last = visit.last_done if visit.last_done and visit.last_done.passage in planned else None
            history_facts = (*visit.history_facts, (fact, at))
            return replace(visit, plan=fact.stages, focus=None, last_done=last, history_facts=history_facts)
        case f.StageDone():
            done = visit.stages_done | {fact.stage.passage}
            return replace(visit, stages_done=done, history_facts=(*visit.history_facts, (fact, at)))
        case f.TaskChosen():
            return replace(visit, chosen=fact.task)
        case f.TaskAdded():
            return replace(visit, chosen="")
        case f.StoodBy():
            return replace(visit, stood_by=at)
        case f.CarriedOn():
            return replace(visit, stood_by=None)
        case f.WorkEnded():
            history_facts = (*visit.history_facts, (fact, at))
            return replace(visit, ended=fact, focus=None, timers={}, history_facts=history_facts)
        case f.TaskPutOff():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
