"""One decision to text and back. Decimals keep their resolution; unions are told apart by `kind`.

Stored names are plain strings with a format version. `UPGRADES` holds one function a step from an old format to the
next; a journal is verified as written and only then upgraded.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from pydantic import Field, TypeAdapter, ValidationError

from assistant.errors import JournalError
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope, Input, Instant

FORMAT = 2

JSON = dict[str, "JSON"] | list["JSON"] | str | int | float | bool | None


def _from_1(row: dict[str, JSON]) -> dict[str, JSON]:
    """Format 1 kept what the program states as sentences. They are texts now, and stay as they were written.

    It named messages by their classes; those names are the kinds that the messages have kept since.
    """
    return {**row, "format": 2}


UPGRADES: dict[int, Callable[[dict[str, JSON]], dict[str, JSON]]] = {1: _from_1}  # from format -> to the next one


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """One decision.

    envelope: of its input.
    facts: all of them.
    before: hash of the line before.
    """

    envelope: Envelope
    facts: tuple[Fact, ...]
    before: str


@dataclass(frozen=True, slots=True)
class _Row:
    """The layout of a line, without its hash."""

    format: int
    number: int
    at: Instant
    input: Annotated[Input, Field(discriminator="kind")]
    facts: tuple[Annotated[Fact, Field(discriminator="kind")], ...]
    before: str


_ROW: TypeAdapter[_Row] = TypeAdapter(_Row)


def encode(entry: JournalEntry) -> bytes:
    """The entry as one JSON object in UTF-8, without a line end and without its hash."""
    envelope = entry.envelope
    row = _Row(FORMAT, envelope.number, envelope.at, envelope.input, entry.facts, entry.before)
    return _ROW.dump_json(row)


def decode(text: bytes, place: str) -> JournalEntry:
    """The inverse of `encode`; older formats are upgraded first. Errors: JournalError naming the place."""
    try:
        if text.startswith(b'{"format":%d,' % FORMAT):
            row = _ROW.validate_json(text)
        else:
            row = _ROW.validate_python(_upgraded(text, place))
    except (ValidationError, json.JSONDecodeError, UnicodeDecodeError, RecursionError) as error:
        first = str(error).splitlines()[0]
        raise JournalError(
            place, f"the line does not read as a decision ({first})", "Restore the session from a copy"
        ) from error
    return JournalEntry(Envelope(row.number, row.at, row.input), row.facts, row.before)


def _upgraded(text: bytes, place: str) -> dict[str, JSON]:
    row: JSON = json.loads(text)
    if not isinstance(row, dict):
        raise JournalError(place, "the line is no decision", "Restore the session from a copy")
    version = row.get("format")
    while version != FORMAT:
        if not isinstance(version, int) or version not in UPGRADES:
            raise JournalError(
                place,
                f"its format is {version!r}, this program knows 1 to {FORMAT}",
                "Open it with a newer program",
            )
        row = UPGRADES[version](row)
        version = row["format"]
    return row
