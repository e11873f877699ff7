"""The record for other programs: a JSON document with a published schema, and a table for a spreadsheet.

Reads a session's folder and writes the file. Knows how both are written, and what a spreadsheet takes for a formula.
What stands in them is decided in `assistant/record/`.
"""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from importlib.resources import files
from pathlib import Path

from assistant.edge.files.due_next import NextDue, due_next
from assistant.edge.files.evidence import attachments, evidence_in_words, write_record
from assistant.quantities import plain
from assistant.record import record
from assistant.record.document import document
from assistant.record.summary import Record
from assistant.record.table import COLUMNS, NUMBERS, table_rows

SCHEMA = "record.schema.json"
DOCUMENT = "record.json"
TABLE = "record.csv"

_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_DROPPED = ("\t", "\r", "\n")


def export_json(session: Path) -> Path:
    """Write the record of a session folder into it as JSON. Returns the file's path.

    Errors: as of `record_page.export_html`.
    """
    journal, damage = evidence_in_words(session)
    session_record = record(journal, damage)
    dues = [_due(next_due) for next_due in due_next(session, journal)]
    found = document(session_record, *attachments(session, session_record, journal), dues)
    text = json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False)
    return write_record(session / DOCUMENT, f"{text}\n")


def export_csv(session: Path) -> Path:
    """Write the record of a session folder into it as CSV. Returns the file's path.

    Errors: as of `record_page.export_html`.
    """
    return write_record(session / TABLE, table(record(*evidence_in_words(session))))


def schema() -> str:
    """The JSON Schema of the document, as it is published with the program."""
    return (files("assistant.edge.pages") / "templates" / SCHEMA).read_text(encoding="utf-8")


def table(record: Record) -> str:
    """The table of a record, under its `COLUMNS`.

    RFC 4180 with CRLF. Numbers are bare and only in the columns `NUMBERS`; text is quoted, and made harmless where a
    spreadsheet would take it for a formula.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow(COLUMNS)
    for row in table_rows(record):
        writer.writerow([_cell(column, row.get(column, "")) for column in COLUMNS])
    return text.getvalue()


def harmless(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet would take it for a formula.

    That is after =, +, - or @, also as wide characters and behind blanks, and after a tab or a line end, which some
    programs drop before they look.
    """
    begins = text.lstrip()[:1]
    return f"'{text}" if text[:1] in _DROPPED or begins in _FORMULA else text


def _cell(column: str, value: object) -> object:
    if isinstance(value, str):
        return harmless(value)
    if column not in NUMBERS:
        raise TypeError(f"the column {column} holds text, not {value!r}")
    return Decimal(plain(value)) if isinstance(value, Decimal) else value


def _due(next_due: NextDue) -> dict[str, object]:
    due = next_due.due
    return {
        "task": due.task,
        "title": next_due.title,
        "done": next_due.done,
        "standing": due.standing.value,
        "hours": None if due.hours is None else plain(due.hours),
        "date": None if due.day is None else due.day.isoformat(),
        "reason": str(due.reason),
    }
