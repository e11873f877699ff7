"""What is due and what is needed, when it is asked for, and what is due next, at the end of a visit.

This visit and the asset's earlier ones are one history, which `assistant/planning` folds; nothing is kept of it.
"""

from __future__ import annotations

from datetime import date

from assistant.dialogue import messages as m
from assistant.dialogue.turn import Turn
from assistant.planning.due import URGENCY, Due, DueStatus, due_after
from assistant.quantities import Quantity


def what_is_due(turn: Turn) -> tuple[m.Message, ...]:
    """Every task that is overdue, due, or due before the next visit, the most urgent first."""
    urgent = [due for due in _dues(turn) if due.standing is not DueStatus.LATER]
    urgent.sort(key=lambda due: URGENCY.index(due.standing))
    return tuple(_due_message(turn, due) for due in urgent) or (m.NothingIsDue(),)


def next_due(turn: Turn) -> tuple[m.Message, ...]:
    """When the tasks of this visit are due again, and what is due still; nothing where no visit was planned."""
    done = {stage.name for stage in turn.work.plan if stage.passage in turn.visit.stages_done}
    now = (DueStatus.OVERDUE, DueStatus.DUE)
    return tuple(_due_message(turn, due) for due in _dues(turn) if due.task in done or due.standing in now)


def what_is_needed(turn: Turn) -> tuple[m.Message, ...]:
    """Parts, consumables and tools of the tasks that are still to be done."""
    equipment = turn.work.equipment
    tasks = [
        equipment.tasks[stage.name]
        for stage in turn.work.plan
        if stage.is_task and stage.passage not in turn.visit.stages_done
    ]
    parts = dict.fromkeys(part.name for task in tasks for part in task.parts)
    used = dict.fromkeys(supply.name for task in tasks for supply in task.consumables)
    tools = dict.fromkeys(tool for task in tasks for tool in task.tools)
    messages = [
        message(tuple(names))
        for message, names in ((m.PartsNeeded, parts), (m.SuppliesNeeded, used), (m.ToolsNeeded, tools))
        if names
    ]
    return tuple(messages) or (m.NothingNeeded(),)


def _dues(turn: Turn) -> tuple[Due, ...]:
    """When each task is due, by this visit's facts and the earlier ones; none where the equipment has no tasks."""
    order, equipment = turn.visit.order, turn.work.equipment
    if order is None or not turn.work.plan:
        return ()
    today = date.fromisoformat(turn.at.wall[:10])
    return due_after(equipment, order.asset, (*turn.work.earlier.values(), turn.visit.history_facts), today)


def _due_message(turn: Turn, due: Due) -> m.Message:
    title = turn.work.equipment.tasks[due.task].title
    hours = None if due.hours is None else Quantity(round(due.hours, 0), "h")
    match due.standing:
        case DueStatus.OVERDUE:
            return m.TaskOverdue(title)
        case DueStatus.DUE:
            return m.TaskDueNow(title)
    if hours is not None and due.day is not None:
        return m.TaskDueAtOrOn(title, hours, due.day)
    if hours is not None:
        return m.TaskDueAt(title, hours)
    return m.TaskDueOn(title, due.day) if due.day is not None else m.TaskDueByCondition(title)
