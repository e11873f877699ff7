"""What was done on an asset before sessions were kept: a CSV file becomes a session of its own.

Columns: `date` (2025-06-01), `hours` (what the meter showed, may be empty), `task` (an identifier of the equipment
file, empty where only the meter was read). A line a task; further columns are kept in the copy and not looked at.
"""

from __future__ import annotations

import csv
import hashlib
import io
import re
from collections.abc import Iterator
from contextlib import closing
from datetime import date
from decimal import Decimal
from pathlib import Path

from assistant.edge.clock import MachineClock
from assistant.edge.files.access import read_file
from assistant.edge.files.library import equipment_of
from assistant.edge.files.store import JOURNAL, SessionFolder, first_input
from assistant.errors import EngineBayError, RecordError
from assistant.procedure.equipment import Equipment
from assistant.quantities import plain
from assistant.session import facts as f
from assistant.session.inputs import Envelope, HistoryGiven
from assistant.session.trust import MAX_HOURS, can_be_shown

COLUMNS = ("date", "hours", "task")
MAX_BYTES = 2_000_000
MAX_LINES = 10_000
"""A task a day for thirty years. All of them become one line of the journal."""
_HOURS = re.compile(r"[0-9]{1,9}(\.[0-9]{0,6})?")
_SHOWN = 40  # characters of what is wrong


def bring_in(asset: str, file: Path, sessions: Path, procedures: Path | None = None) -> tuple[Path, int]:
    """Take a history over.

    sessions: where its session's folder is made.
    procedures: the folder of procedures.

    Returns the session's folder and how many lines it tells of; nothing is written when a line is wrong. Errors:
    RecordError naming file and line, or when the same file was brought in before; ProcedureError for the asset.
    """
    equipment = equipment_of(asset, procedures)
    try:
        data = read_file(file, MAX_BYTES)
        text = data.decode("utf-8-sig")
    except OSError as error:
        cause = f"it cannot be read ({error.strerror})"
        raise RecordError(str(file), cause, "Name a CSV file that is there and that you may read") from None
    except UnicodeDecodeError:
        raise RecordError(str(file), "it is not UTF-8 text", "Save it as CSV in UTF-8") from None
    if "\0" in text:
        raise RecordError(str(file), "it holds a NUL, so it is no text", "Save it as CSV in UTF-8")
    lines = tuple(_lines(text, file.name, equipment))
    digest = hashlib.sha256(data).hexdigest()
    _refuse_again(digest, sessions, file)
    clock = MachineClock()
    name = f"{clock.now().wall[:16].replace(':', '')}-{asset}-history"
    folder = SessionFolder.create(sessions, name, {"history.csv": data})
    with closing(folder):
        taken = f.HistoryTakenOver(asset, file.name, digest, len(lines))
        folder.append(Envelope(1, clock.now(), HistoryGiven(asset, file.name, digest)), (taken, *lines))
    return folder.folder, len(lines)


def _lines(text: str, name: str, equipment: Equipment) -> Iterator[f.DoneBefore]:
    table = csv.DictReader(io.StringIO(text, newline=None))  # lines may end as on any system
    try:
        yield from _read(table, name, equipment)
    except csv.Error as error:
        place = f"{name}, line {table.line_num + 1}"
        raise RecordError(place, f"it does not read as CSV ({error})", "Look at the quotes of this line") from None


def _read(table: csv.DictReader[str], name: str, equipment: Equipment) -> Iterator[f.DoneBefore]:
    missing = [column for column in COLUMNS if column not in (table.fieldnames or ())]
    if missing:
        cause = f"its first line lacks the column {', '.join(missing)}"
        raise RecordError(name, cause, f"Begin it with the line {','.join(COLUMNS)}")
    found = 0
    for row in table:
        found += 1
        if found > MAX_LINES:
            raise RecordError(name, f"it has more than {MAX_LINES:,} lines", "Bring it in as several files")
        yield _line(
            {column: (row[column] or "").strip() for column in COLUMNS}, f"{name}, line {table.line_num}", equipment
        )
    if not found:
        raise RecordError(name, "it tells of nothing", "Write a line for each task that was done, with its day")


def _line(row: dict[str, str], place: str, equipment: Equipment) -> f.DoneBefore:
    try:
        day = date.fromisoformat(row["date"])
    except ValueError:
        raise RecordError(place, f"{row['date'][:_SHOWN]!r} is no date", "Write it as 2025-06-01") from None
    if day > date.today():
        raise RecordError(place, f"{day} is still to come", "Correct the date")
    task = row["task"]
    if task and task not in equipment.tasks:
        choices = ", ".join(equipment.tasks)
        raise RecordError(place, f"there is no task {task[:_SHOWN]!r}", f"Use one of {choices}, or leave it empty")
    hours = _hours(row["hours"], place)
    if not task and hours is None:
        raise RecordError(place, "it names neither a task nor hours", "Give one of them, or take the line out")
    procedure, title = (equipment.procedure_of(task), equipment.tasks[task].title) if task else ("", "")
    return f.DoneBefore(day.isoformat(), hours, task, procedure, title)


def _hours(written: str, place: str) -> Decimal | None:
    if not written:
        return None
    if not _HOURS.fullmatch(written):
        raise RecordError(place, f"{written[:_SHOWN]!r} are no run hours", "Write them as 1250 or 1250.4")
    hours = Decimal(written)
    if not can_be_shown(hours):
        cause = f"no hour meter shows {written} h"
        raise RecordError(place, cause, f"Correct the hours: at most {plain(MAX_HOURS)}")
    return hours


def _refuse_again(digest: str, sessions: Path, file: Path) -> None:
    for path in sorted(sessions.glob(f"*/{JOURNAL}")):
        try:
            given = first_input(path)
        except (EngineBayError, OSError):
            continue  # told of by `enginebay plan`
        if isinstance(given, HistoryGiven) and given.sha256 == digest:
            cause = f"it was brought in before, as {path.parent.name}"
            raise RecordError(str(file), cause, "Nothing more has to be done")
