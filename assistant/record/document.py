"""The record as plain data for other programs, after a published schema.

Knows the names of its members. A format keeps its members and what they mean, whatever the program calls them inside; a
member may be added within a format.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum

from assistant.quantities import Quantity, plain
from assistant.record.entries import RecordEntry
from assistant.record.summary import Record

FORMAT = 1
PUBLISHED_NAMES = {
    "failed_attempts": "troubles",
    "status": "fate",
    "superseded_by": "later",
    "resolved_by": "settled",
}
"""Fields of an entry that are published under another name."""
UNPUBLISHED = {"description"}
"""Fields of an entry that a page and a table show, each in its way."""


def document(
    record: Record, files: Mapping[str, str], faults: Sequence[str] = (), dues: Sequence[Mapping[str, object]] = ()
) -> dict[str, object]:
    """The record as plain data, after `record.schema.json`.

    A quantity is its value, a text that keeps the resolution (`"7.50"`), with the unit beside.
    files: SHA-256 of a sound -> relative path.
    faults: what is wrong with the session's files, a sentence each.
    dues: when each task is due after the visit, as the schema says.
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
        "due": list(dues),
        "entries": [_entry(entry) for entry in record.entries],
        "concerns": [
            {
                "kind": concern.kind.value,
                "grave": concern.needs_judgement,
                "entry": None if concern.entry is None else places[id(concern.entry)],
            }
            for concern in record.concerns
        ],
        "sounds": [
            {"sha256": clip.sha256, "seconds": clip.seconds, "file": files.get(clip.sha256)} for clip in record.clips()
        ],
    }


def members_of_entry() -> dict[str, str]:
    """Field of an entry -> the name that it is published under."""
    names = (field.name for field in fields(RecordEntry) if field.name not in UNPUBLISHED)
    return {name: PUBLISHED_NAMES.get(name, name) for name in names}


def _entry(entry: RecordEntry) -> dict[str, object]:
    return {member: _plain(getattr(entry, name)) for name, member in members_of_entry().items()}


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
            return [_plain(member) for member in value]
        case _ if is_dataclass(value):
            return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
        case _:
            return value
