"""The record for other programs: a JSON document with a published schema, and a table for a spreadsheet.

Knows the layout of both, and what a spreadsheet takes for a formula. Judges nothing: what wants a look was decided in
`assistant/review.py`. A format keeps its members and what they mean; a member may be added within a format.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from importlib.resources import files
from pathlib import Path

from assistant.edge.files.due_next import NextDue, due_next
from assistant.edge.files.evidence import attachments, evidence_in_words, write_record
from assistant.errors import QuantityError
from assistant.quantities import Quantity, parse_limits, plain
from assistant.review import Record, RecordEntry, record
from assistant.session import facts as f

FORMAT = 1
SCHEMA = "record.schema.json"
DOCUMENT = "record.json"
TABLE = "record.csv"

COLUMNS = (
    *("line", "time", "elapsed_s", "part", "task", "step", "title", "what", "name", "text"),
    *("value", "unit", "low", "high", "limits", "judged", "stage", "reason", "doubt"),
    *("circumstances", "instrument", "spread"),
    *("confidence", "source", "fate", "sound"),
    *("visit_stage", "visit_time"),
)
"""visit_stage, visit_time: of a planned visit, the stage's title, and which time its procedure was gone through."""
NUMBERS = {"line", "elapsed_s", "value", "low", "high", "spread", "confidence", "visit_time"}
"""The columns that hold numbers and nothing else; all others hold text and are quoted."""

_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
_DROPPED = ("\t", "\r", "\n")

Cell = str | int | float | Decimal


def document(
    record: Record,
    clips: Mapping[str, str],
    faults: Sequence[str] = (),
    dues: Sequence[NextDue] = (),
) -> dict[str, object]:
    """The record as plain data, after `record.schema.json`.

    A quantity is its value, a text that keeps the resolution (`"7.50"`), with the unit beside. clips: SHA-256 of a
    sound -> relative path; faults: what is wrong with the session's files, a sentence each; dues: when each task is
    due after the visit.
    """
    places = {id(entry): index for index, entry in enumerate(record.entries)}
    return {
        "format": FORMAT,
        "header": _plain(record.header),
        "counts": _plain(record.counts),
        "chain": _plain(record.chain),
        "faults": list(faults),
        "steps": _plain(record.steps),
        "stages": _plain(record.stages),
        "due": [_due(one) for one in dues],
        "entries": _plain(record.entries),
        "concerns": [
            {
                "kind": concern.kind.value,
                "grave": concern.grave,
                "entry": None if concern.entry is None else places[id(concern.entry)],
            }
            for concern in record.concerns
        ],
        "sounds": [
            {"sha256": clip.sha256, "seconds": clip.seconds, "file": clips.get(clip.sha256)} for clip in record.clips()
        ],
    }


def table(record: Record) -> str:
    """A row for each reading, answer, hold point, part, note, finding and step left out, and each task done, put off or
    added, in time order.

    RFC 4180 with CRLF, under `COLUMNS`. Numbers are bare and only in the columns `NUMBERS`; text is quoted, and made
    harmless where a spreadsheet would take it for a formula.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_NONNUMERIC)
    writer.writerow(COLUMNS)
    stages = record.planned()
    for entry in record.entries:
        row = _row(entry, stages)
        if row:
            writer.writerow([_cell(column, row.get(column, "")) for column in COLUMNS])
    return text.getvalue()


def harmless(text: str) -> str:
    """The text, with an apostrophe before it where a spreadsheet would take it for a formula.

    That is after =, +, - or @, also as wide characters and behind blanks, and after a tab or a line end, which some
    programs drop before they look.
    """
    begins = text.lstrip()[:1]
    return f"'{text}" if text[:1] in _DROPPED or begins in _FORMULA else text


def schema() -> str:
    """The JSON Schema of the document, as it is published with the program."""
    return (files("assistant.edge.pages") / "templates" / SCHEMA).read_text(encoding="utf-8")


def export_json(session: Path) -> Path:
    """Write the record of a session folder into it as JSON. Returns the file's path. Errors: as `pages.export_html`."""
    journal, damage = evidence_in_words(session)
    judged = record(journal, damage)
    found = document(judged, *attachments(session, judged, journal), due_next(session, journal))
    text = json.dumps(found, ensure_ascii=False, indent=1, allow_nan=False)
    return write_record(session / DOCUMENT, f"{text}\n")


def export_csv(session: Path) -> Path:
    """Write the record of a session folder into it as CSV. Returns the file's path. Errors: as `pages.export_html`."""
    return write_record(session / TABLE, table(record(*evidence_in_words(session))))


def _due(one: NextDue) -> dict[str, object]:
    due = one.due
    return {
        "task": due.task,
        "title": one.title,
        "done": one.done,
        "standing": due.standing.value,
        "hours": None if due.hours is None else plain(due.hours),
        "date": None if due.day is None else due.day.isoformat(),
        "reason": str(due.reason),
    }


def _plain(value: object) -> object:
    """Dataclasses, enumerations and decimals as JSON knows them."""
    match value:
        case Quantity():
            return {"value": plain(value.value), "unit": value.unit}
        case Decimal():
            return plain(value)
        case Enum():
            return value.value
        case tuple() | list():
            return [_plain(one) for one in value]
        case _ if is_dataclass(value):
            return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
        case _:
            return value


def _cell(column: str, value: Cell) -> Cell:
    if isinstance(value, str):
        return harmless(value)
    if column not in NUMBERS:
        raise TypeError(f"the column {column} holds text, not {value!r}")
    return Decimal(plain(value)) if isinstance(value, Decimal) else value


def _row(entry: RecordEntry, stages: Mapping[f.Passage, f.PlannedStage]) -> dict[str, Cell]:
    """The cells of an entry, empty when the table does not show it."""
    own = dict(_own_cells(entry.fact))
    if not own:
        return {}
    stage = _stage(entry, stages)
    return {
        "line": entry.line,
        "time": entry.at.wall,
        "elapsed_s": round(entry.elapsed, 3),
        "part": entry.part,
        "task": "" if entry.place is None else entry.place.task,
        "step": "" if entry.place is None else entry.place.step,
        "title": entry.title,
        "fate": entry.fate.value,
        "sound": "" if entry.clip is None else entry.clip.sha256,
        "visit_stage": "" if stage is None else stage.title,
        "visit_time": "" if stage is None else stage.time,
        **own,
    }


def _stage(entry: RecordEntry, stages: Mapping[f.Passage, f.PlannedStage]) -> f.PlannedStage | None:
    """The stage that an entry belongs to: the one that it ends, else the one of its step."""
    if isinstance(entry.fact, f.StageDone):
        return entry.fact.stage
    return None if entry.place is None else stages.get(entry.place.passage)


def _own_cells(fact: f.Fact) -> Iterator[tuple[str, Cell]]:
    """The cells that only this kind of fact fills."""
    match fact:
        case f.ReadingRecorded():
            yield from (("what", "reading"), ("name", fact.name))
            yield from (("value", fact.quantity.value), ("unit", fact.quantity.unit), ("limits", fact.limits))
            yield from _ends(fact)
            yield from (("judged", fact.verdict.value), ("stage", fact.stage.value), ("doubt", str(fact.doubt)))
            yield from (("circumstances", ", ".join(fact.circumstances)), ("instrument", fact.instrument))
            if fact.spread is not None:
                yield "spread", fact.spread.to(fact.quantity.unit).value
        case f.CalculationRecorded():
            yield from (("what", "calculation"), ("name", fact.name), ("limits", fact.limits))
            if isinstance(fact.result, Quantity):
                yield from (("value", fact.result.value), ("unit", fact.result.unit))
            else:
                yield "text", str(fact.result)
            yield from (("judged", fact.verdict.value), ("doubt", "; ".join(map(str, fact.warnings))))
        case f.AnswerRecorded():
            yield from (("what", "answer"), ("name", fact.question), ("text", fact.phrase))
            yield "judged", "in order" if fact.good else "not in order"
        case f.HoldPointPassed():
            yield from (("what", "hold point"), ("name", fact.title))
        case f.PartFitted():
            yield from (("what", "part"), ("name", fact.name), ("text", fact.number or fact.spoken))
            yield "reason", fact.reason
        case f.NoteKept():
            yield from (("what", "note"), ("name", fact.subject.value), ("text", fact.text))
        case f.TaskPutOff() | f.TaskAdded():
            what = "task put off" if isinstance(fact, f.TaskPutOff) else "task added"
            yield from (("what", what), ("name", fact.title), ("reason", fact.reason))
        case f.StageDone(stage) if stage.is_task:
            yield from (("what", "task done"), ("name", stage.title))
        case f.StepSkipped():
            yield from (("what", "left out"), ("name", fact.title), ("reason", str(fact.reason)))
        case f.FindingRecorded():
            yield from (("what", "finding"), ("text", str(fact.finding)))
        case _:
            return
    if isinstance(fact, f.ReadingRecorded | f.AnswerRecorded | f.HoldPointPassed | f.PartFitted):
        yield from (("confidence", round(fact.confidence, 4)), ("source", fact.source.value))


def _ends(fact: f.ReadingRecorded) -> Iterator[tuple[str, Cell]]:
    """The limits as numbers in the reading's unit; none where they do not read as limits any more."""
    try:
        limits = parse_limits(fact.limits) if fact.limits else None
    except QuantityError:
        return
    if limits is None or limits.kind is not fact.quantity.kind:
        return
    for name, end in (("low", limits.low), ("high", limits.high)):
        if end is not None:
            yield name, end.to(fact.quantity.unit).value
