"""The record as a page: one HTML file for screen and paper.

Reads a session's folder, fills `templates/record.html`, writes the file. Knows how a page is laid out. What is said and
what wants a look is decided in `assistant/record/`; when tasks are due, in `assistant/planning/`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from assistant.edge.files.due_next import NextDue, due_next
from assistant.edge.files.evidence import attachments, evidence_in_words, write_record
from assistant.planning.due import DueStatus
from assistant.planning.past import in_hours
from assistant.quantities import UNITS, counted
from assistant.record import record
from assistant.record.concerns import ALARMING
from assistant.record.phrases import capital
from assistant.record.rows import page_rows
from assistant.record.summary import Record

PAGE = "record.html"


@dataclass(frozen=True, slots=True)
class DueRow:
    """When a task is due again, as shown.

    title: of the task.
    outcome: at this visit.
    hours: on the meter; empty: it has no such interval.
    day: of the calendar; empty: it has no such interval.
    standing: of the task, in words.
    later: whether it is due after the next visit only.
    overdue: whether it is overdue.
    reason: why, a sentence.
    """

    title: str
    outcome: str
    hours: str
    day: str
    standing: str
    later: bool
    overdue: bool
    reason: str


def export_html(session: Path) -> Path:
    """Write the record of a session folder into it, with links to its sounds. Returns the file's path.

    Sounds and copies of procedures are held against their hashes; what does not fit is said on the page. Of a damaged
    journal everything is shown that can be verified, and where it has gaps. The page is written whole or not at all.
    Errors: RecordError when the folder is no session, or when nothing of its journal can be read or the page cannot be
    written.
    """
    journal, damage = evidence_in_words(session)
    session_record = record(journal, damage)
    files, faults = attachments(session, session_record, journal)
    return write_record(session / PAGE, html(session_record, files, faults, due_next(session, journal)))


def html(record: Record, files: Mapping[str, str], faults: Sequence[str] = (), dues: Sequence[NextDue] = ()) -> str:
    """The record as one HTML file.

    files: SHA-256 of a sound -> relative path or data URI; a sound that has none is shown by its hash only.
    faults: what is wrong with the session's files, a sentence each.
    dues: when each task is due after the visit; shown of a planned visit.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("assistant.edge.pages", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["unbroken"] = _unbroken
    environment.filters["counted"] = counted
    return environment.get_template(PAGE).render(
        header=record.header,
        counts=record.counts,
        chain=record.chain,
        result=record.result(),
        page=page_rows(record),
        alarming=ALARMING,
        files=files,
        faults=tuple(faults),
        dues=tuple(_due_rows(record, dues)) if record.stages else (),
    )


def _due_rows(record: Record, dues: Sequence[NextDue]) -> Iterator[DueRow]:
    """What was done at this visit stands first."""
    outcomes = {summary.stage.name: summary.outcome.value for summary in record.stages}
    for next_due in sorted(dues, key=lambda next_due: not next_due.done):
        due = next_due.due
        yield DueRow(
            title=next_due.title,
            outcome="done" if next_due.done else outcomes.get(due.task, "not in this visit"),
            hours="" if due.hours is None else in_hours(due.hours),
            day="" if due.day is None else f"{due.day.day} {due.day:%B %Y}",
            standing=due.standing.value,
            later=due.standing is DueStatus.LATER,
            overdue=due.standing is DueStatus.OVERDUE,
            reason=f"{capital(str(due.reason))}.",
        )


def _unbroken(words: str) -> str:
    """No line ends between a number and its unit."""
    units = "|".join(re.escape(unit) for unit in sorted(UNITS, key=len, reverse=True) if unit)
    return re.sub(rf"(?<=\d) (?=(?:{units})(?!\w))", "\N{NO-BREAK SPACE}", words)
