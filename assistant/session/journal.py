"""The journal: one line a decision, chained by hash. Bytes in, decisions out; files are the edge's business.

A line is one JSON object whose last member is `hash`: SHA-256 over the line's own text without it. `before` repeats
the hash of the line before. The text is verified as written, so an old journal is verified before it is upgraded.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from assistant.errors import JournalError
from assistant.session.encoding import Entry, decode, encode
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope, Instant

START = "0" * 64  # what stands before the first line
_MARK = b',"hash":"'


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal as read. entries: in order; last_hash: what the next line repeats; torn: a last line, incomplete."""

    entries: tuple[Entry, ...]
    last_hash: str
    torn: bytes

    def facts(self) -> Iterator[tuple[Fact, Instant]]:
        """Every fact with its moment, in order: what `visit.fold` takes."""
        for entry in self.entries:
            for fact in entry.facts:
                yield fact, entry.envelope.at


def write_line(envelope: Envelope, facts: tuple[Fact, ...], before: str) -> tuple[bytes, str]:
    """A decision as its line (with line end) and the line's hash."""
    text = encode(Entry(envelope, facts, before))
    digest = hashlib.sha256(text).hexdigest()
    return text[:-1] + _MARK + digest.encode() + b'"}\n', digest


def read_lines(data: bytes, name: str = "journal.jsonl") -> Journal:
    """All decisions of a journal's bytes.

    A last line without its line end was torn by a crash: it is set aside in `torn`, for it was never acknowledged.
    Errors: JournalError naming the line when any other line is damaged, missing or out of order.
    """
    *whole, torn = data.split(b"\n")
    entries: list[Entry] = []
    last = START
    for index, line in enumerate(whole, start=1):
        place = f"{name}, line {index}"
        text, mark, tail = line.rpartition(_MARK)
        digest = tail.removesuffix(b'"}').decode("ascii", "replace")
        text += b"}"
        if not mark or hashlib.sha256(text).hexdigest() != digest:
            raise JournalError(place, "the line is damaged: its hash does not fit its text", "Restore it from a copy")
        entry = decode(text, place)
        if entry.before != last:
            raise JournalError(
                place,
                "a line before it is missing or was exchanged: the chain of hashes breaks",
                "Restore it from a copy",
            )
        entries.append(entry)
        last = digest
    return Journal(tuple(entries), last, torn)
