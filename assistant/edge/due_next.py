"""When tasks are due again after a visit: folded from it and from the sessions before it, never written down.

Knows that sessions lie beside one another. Judges nothing: `assistant/planning` does.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from assistant.edge.histories import earlier
from assistant.edge.store import PROCEDURES
from assistant.errors import EngineBayError
from assistant.planning.due import Due, due
from assistant.planning.past import done_before, in_order
from assistant.procedure.equipment import Equipment
from assistant.procedure.reading import read_equipment
from assistant.session.journal import Journal


def due_next(session: Path, journal: Journal) -> tuple[tuple[str, Due], ...]:
    """Title and time of each task of the equipment, as of the end of this visit, in the order of the file.

    None where the session's copy of the equipment file is not there or knows no tasks. Later sessions do not count.
    """
    equipment = _equipment(session)
    order = next((fact.order for fact, _ in journal.facts() if hasattr(fact, "order")), None)
    if equipment is None or order is None:
        return ()
    begun = journal.entries[0].envelope.at.wall
    beside = earlier(session.resolve().parent, order.asset, journal.last_hash)
    before = [facts for facts in beside.values() if facts[0][1].wall < begun]
    today = date.fromisoformat(journal.entries[-1].envelope.at.wall[:10])
    history = in_order(done_before((*before, tuple(journal.facts())), order.asset), today)
    dues = due(equipment, history, history.hours, today)
    return tuple((equipment.tasks[one.task].title, one) for one in dues)


def _equipment(session: Path) -> Equipment | None:
    file = session / PROCEDURES / "equipment.yaml"
    try:
        return read_equipment(file.read_text(encoding="utf-8"), str(file))
    except (OSError, UnicodeDecodeError, EngineBayError):
        return None
