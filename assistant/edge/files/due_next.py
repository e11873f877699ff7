"""When tasks are due again after a visit: folded from it and from the sessions before it, never written down.

Knows that sessions lie beside one another. Judges nothing: `assistant/planning` does.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from assistant.edge.files.access import read_file
from assistant.edge.files.histories import sessions_of
from assistant.edge.files.shipped_words import english_words
from assistant.edge.files.store import MAX_COPY_BYTES, PROCEDURES
from assistant.errors import EngineBayError
from assistant.planning.due import Due, due_after
from assistant.planning.past import done_before
from assistant.procedure.equipment import Equipment
from assistant.procedure.reading import read_equipment
from assistant.session import facts as f
from assistant.session.journal import Journal


@dataclass(frozen=True, slots=True)
class NextDue:
    """When a task is due again.

    title: of the task.
    due: with its reason in words.
    done: whether it was done at this visit.
    """

    title: str
    due: Due
    done: bool


def due_next(session: Path, journal: Journal) -> tuple[NextDue, ...]:
    """For each task of the equipment, as of the end of this visit, in the order of the file.

    Nothing where the session's copy of the equipment file is not there or knows no tasks. Sessions begun later do not
    count, nor do copies of this one.
    """
    equipment = _equipment(session)
    order = next((fact.order for fact, _ in journal.facts() if isinstance(fact, f.WorkTakenUp)), None)
    if equipment is None or order is None:
        return ()
    begun = journal.entries[0].envelope.at.wall
    beside = sessions_of(session.resolve().parent, order.asset).facts(apart_from=journal.last_hash)
    before = [facts for facts in beside.values() if facts[0][1].wall < begun]
    today = date.fromisoformat(journal.entries[-1].envelope.at.wall[:10])
    now = tuple(journal.facts())
    done = frozenset[str]().union(*(visit.done for visit in done_before((now,), order.asset)))
    words = english_words()
    return tuple(
        NextDue(
            equipment.tasks[task_due.task].title,
            words.worded(task_due),
            equipment.procedure_of(task_due.task) in done,
        )
        for task_due in due_after(equipment, order.asset, (*before, now), today)
    )


def _equipment(session: Path) -> Equipment | None:
    file = session / PROCEDURES / "equipment.yaml"
    try:
        return read_equipment(read_file(file, MAX_COPY_BYTES, follow=False).decode("utf-8"), str(file))
    except (OSError, UnicodeDecodeError, EngineBayError):
        return None
