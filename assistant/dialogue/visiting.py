"""The plan of a visit while it goes on: how it begins, what may be put off, added or done first, and what then follows.

A plan is a tuple of stages, and a new one is a fact. What is done or begun stays where it is; what comes after is put
in order anew by `assistant/planning`. Refuses to know how any of it is asked for (`own_questions.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from assistant.dialogue import messages as m
from assistant.dialogue.turn import Turn
from assistant.dialogue.work import Work
from assistant.engine_state import Known
from assistant.errors import ProcedureError
from assistant.planning.order import order
from assistant.procedure.equipment import Equipment
from assistant.session import facts as f
from assistant.statements import kinds as s


def can_be_planned(equipment: Equipment) -> bool:
    """Whether visits to this equipment are planned, rather than procedures gone through one after another."""
    return equipment.visit.opening is not None


def planned(work: Work, tasks: Sequence[str]) -> tuple[f.PlannedStage, ...]:
    """The plan of a whole visit. tasks: identifiers, the most urgent first. Errors: ProcedureError as of `order`."""
    return _plan(work, (), tasks, work.equipment.visit.found)


def procedures_of(equipment: Equipment, tasks: Sequence[str]) -> tuple[str, ...]:
    """The procedures that a visit may go through: of its beginning and end, of these tasks, and of every change."""
    visit = equipment.visit
    ends = [name for name in (visit.opening, visit.ending) if name is not None]
    return tuple(dict.fromkeys((*ends, *map(equipment.procedure_of, (*equipment.changes, *tasks)))))


# --- while it goes on ----------------------------------------------------------------------------------------


def settle_finished_stages(turn: Turn) -> None:
    """Stages whose every step is done, left out or passed over are done; what a visit is planned on is so then.

    A step proves what has to be proved: that is never learned from a plan.
    """
    for stage in turn.work.plan:
        if stage.passage in turn.visit.stages_done:
            continue
        steps = turn.work.steps_of(stage)
        if not all(placed.place in turn.visit.outcomes for placed in steps):
            continue
        turn.record(f.StageDone(stage))
        own = {variable for placed in steps for variable in placed.step.leaves}
        for variable, value in _leaves(turn.work.equipment, stage).items():
            if variable not in own and not turn.work.equipment.state[variable].proved:
                turn.record(f.StateLearned(variable, value, stage.title, None))


def announced(turn: Turn, stage: f.PlannedStage) -> tuple[m.Message, ...]:
    """What is said when a stage begins: which task it is; what is waited for, and what may be done meanwhile."""
    if stage.is_task:
        return (m.TaskBegins(stage.title),)
    change = turn.work.equipment.changes.get(stage.name)
    if change is None or not change.by_itself:
        return ()
    meanwhile = tuple(turn.work.equipment.tasks[task].title for task in may_come_first(turn))
    waits = tuple(m.WaitsFor(reason) for reason in stage.reasons[:1])
    return (*waits, m.Meanwhile(meanwhile) if meanwhile else m.NothingMeanwhile())


def plan(turn: Turn, stages: tuple[f.PlannedStage, ...], because: f.PlanText) -> None:
    """The visit goes on by this plan."""
    turn.record(f.VisitPlanned(stages, because, len(turn.work.as_planned(stages).steps)))


def may_be_put_off(turn: Turn) -> f.PlannedStage | None:
    """The task that may be put off now: the one at hand, or else the next one; None when there is none.

    Not one that has changed the engine's state: it is finished, or the work is ended.
    """
    ahead = [stage for stage in turn.work.plan if stage.is_task and not _done(turn, stage)]
    here = turn.work.stage_at(turn.placed.place)
    if here is not None and here.is_task and _has_changed(turn, here):
        return None
    return ahead[0] if ahead else None


def may_be_added(turn: Turn) -> tuple[str, ...]:
    """Tasks that the visit does not hold, and whose procedures are at hand; none once its end has begun."""
    equipment = turn.work.equipment
    here = turn.work.stage_at(turn.placed.place)
    if here is None or here.name == equipment.visit.ending:
        return ()
    there = {procedure.procedure for procedure in turn.work.procedures}
    held = {stage.name for stage in turn.work.plan}
    return tuple(task for task in equipment.tasks if task not in held and equipment.procedure_of(task) in there)


def may_come_first(turn: Turn) -> tuple[str, ...]:
    """Tasks that may be done before all others that are left, without waiting for anything."""
    equipment, kept, tasks = turn.work.equipment, _kept(turn), _left(turn)
    found = _state_after(equipment, kept)
    return tuple(task for task in tasks[1:] if _at_once(equipment, task, tasks, found))


def put_off(turn: Turn, task: str, reason: str) -> None:
    """Leave a task out of the visit. Errors: ProcedureError when no order of the others is possible."""
    kept = _kept(turn)
    begun = next((at for at, stage in enumerate(kept) if stage.name == task and not _done(turn, stage)), None)
    stages = _plan_again(turn, kept[:begun], [other for other in _left(turn) if other != task])
    plan(turn, stages, s.TaskLeftOut(turn.work.equipment.tasks[task].title, reason))


def add(turn: Turn, task: str, reason: str) -> None:
    """Take a task into the visit. Errors: ProcedureError when no order with it is possible."""
    stages = _plan_again(turn, _kept(turn), [*_left(turn), task])
    plan(turn, stages, s.TaskTakenIn(turn.work.equipment.tasks[task].title, reason))


def do_first(turn: Turn, task: str) -> None:
    """A task comes before all others that are left. Errors: ProcedureError when it cannot."""
    stages = _plan_again(turn, _kept(turn), _left(turn), task)
    plan(turn, stages, s.TaskMovedFirst(turn.work.equipment.tasks[task].title))


# --- what it is made of --------------------------------------------------------------------------------------


def _plan_again(
    turn: Turn, kept: tuple[f.PlannedStage, ...], tasks: Sequence[str], first: str | None = None
) -> tuple[f.PlannedStage, ...]:
    found = _state_after(turn.work.equipment, kept)
    gone_through = {place.passage for place in turn.visit.outcomes}
    return _plan(turn.work, kept, tasks, found, first, gone_through)


def _plan(
    work: Work,
    kept: tuple[f.PlannedStage, ...],
    tasks: Sequence[str],
    found: Mapping[str, Known],
    first: str | None = None,
    gone_through: Iterable[f.Passage] = (),
) -> tuple[f.PlannedStage, ...]:
    """The stages kept, then the tasks in order with the changes between them, then the end.

    gone_through: procedure and time of what was begun, also where the plan does not hold it any more.
    """
    equipment = work.equipment
    titles = {procedure.procedure: procedure.title for procedure in work.procedures}
    times: dict[str, int] = {}
    for procedure, time in (*gone_through, *(stage.passage for stage in kept)):
        times[procedure] = max(time, times.get(procedure, 0))
    stages = list(kept)

    def place(
        name: str, procedure: str, title: str, is_task: bool = False, reasons: tuple[f.PlanText, ...] = ()
    ) -> None:
        times[procedure] = times.get(procedure, 0) + 1
        stages.append(f.PlannedStage(name, procedure, title, is_task, times[procedure], reasons))

    opening, ending = equipment.visit.opening, equipment.visit.ending
    if opening is not None and not kept:
        place(opening, opening, titles[opening])
    for stage in order(equipment, tasks, found, first=first):
        place(stage.name, equipment.procedure_of(stage.name), stage.title, stage.is_task, stage.reasons)
    if ending is not None:
        place(ending, ending, titles[ending])
    return tuple(stages)


def _kept(turn: Turn) -> tuple[f.PlannedStage, ...]:
    """The stages that a new plan leaves where they are: to the last one that was begun, and the opening."""
    begun = {place.passage for place in turn.visit.outcomes}
    last = max((at for at, stage in enumerate(turn.work.plan) if stage.passage in begun), default=0)
    return turn.work.plan[: last + 1]


def _left(turn: Turn) -> list[str]:
    """The tasks that come after the stages kept, in the order of the plan."""
    return [stage.name for stage in turn.work.plan[len(_kept(turn)) :] if stage.is_task]


def _done(turn: Turn, stage: f.PlannedStage) -> bool:
    return stage.passage in turn.visit.stages_done


def _has_changed(turn: Turn, stage: f.PlannedStage) -> bool:
    """Whether a step done of a stage has left the engine otherwise."""
    return any(placed.step.leaves and placed.place in turn.visit.outcomes for placed in turn.work.steps_of(stage))


def _leaves(equipment: Equipment, stage: f.PlannedStage) -> Mapping[str, Known]:
    return equipment.leaves_of(stage.name) if stage.name in (*equipment.tasks, *equipment.changes) else {}


def _state_after(equipment: Equipment, kept: Sequence[f.PlannedStage]) -> Mapping[str, Known]:
    """What a plan may count on after these stages; whether it is so is seen by the steps."""
    state = dict(equipment.visit.found)
    for stage in kept:
        state |= _leaves(equipment, stage)
    return state


def _at_once(equipment: Equipment, task: str, tasks: Sequence[str], found: Mapping[str, Known]) -> bool:
    """Whether a task may come before all others without waiting for what comes by itself."""
    if any(
        precaution.before in equipment.tasks[task].does
        for other in tasks
        if other != task
        for precaution in equipment.minded(other)
        if precaution.before is not None
    ):
        return False
    try:
        way = order(equipment, (task,), found)
    except ProcedureError:
        return False
    before = [stage.name for stage in way[: next(at for at, stage in enumerate(way) if stage.is_task)]]
    return not any(equipment.changes[name].by_itself for name in before)
