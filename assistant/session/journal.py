"""The journal: one line a decision, chained by hash. Bytes in, decisions out; files are the edge's business.

A line is one JSON object whose last member is `hash`: SHA-256 over the line's own text without it. `before` repeats
the hash of the line before. The text is verified as written, so an old journal is verified before it is upgraded.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assistant.errors import JournalError
from assistant.session.encoding import JournalEntry, decode, encode
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope, Instant

START = "0" * 64  # what stands before the first line
_MARK = b',"hash":"'


RESTORE = "Restore it from a copy, or keep what holds with `enginebay salvage`"


@dataclass(frozen=True, slots=True)
class Gap:
    """Where a journal does not hold.

    line: in the file, from 1, where it begins.
    after: number of the decision before it, 0 when there is none.
    lost: how many decisions are missing, by the number of the next one; None at the end, where nobody can know.
    cause: what is wrong there, in words.
    remedy: what can be done about it.
    """

    line: int
    after: int
    lost: int | None
    cause: str
    remedy: str = RESTORE


@dataclass(frozen=True, slots=True)
class Journal:
    """A journal as read.

    entries: what holds, in order.
    last_hash: what the next line repeats.
    torn: a last line that is not whole; it was never acknowledged.
    gaps: what does not hold, in order; none in what `read_lines` gives.
    unended: whether the last line lacks its line end and nothing else; it is among `entries`.
    """

    entries: tuple[JournalEntry, ...]
    last_hash: str
    torn: bytes
    gaps: tuple[Gap, ...] = ()
    unended: bool = False

    def facts(self) -> Iterator[tuple[Fact, Instant]]:
        """Every fact with its moment, in order: what `visit.fold` takes."""
        for entry in self.entries:
            for fact in entry.facts:
                yield fact, entry.envelope.at


def write_line(envelope: Envelope, facts: tuple[Fact, ...], before: str) -> tuple[bytes, str]:
    """A decision as its line (with line end) and the line's hash."""
    text = encode(JournalEntry(envelope, facts, before))
    digest = hashlib.sha256(text).hexdigest()
    return text[:-1] + _MARK + digest.encode() + b'"}\n', digest


def read_lines(data: bytes, name: str = "journal.jsonl") -> Journal:
    """All decisions of a journal's bytes.

    A last line that lacks only its line end is whole. Any other rest was torn by a crash: it is set aside in `torn`,
    for it was never acknowledged. Errors: JournalError naming the first line that is damaged, missing or out of order.
    """
    journal = read_what_holds(data, name)
    for gap in journal.gaps:
        raise JournalError(f"{name}, line {gap.line}", gap.cause, gap.remedy)
    return journal


def read_what_holds(data: bytes, name: str = "journal.jsonl") -> Journal:
    """The decisions that can be verified, each by its own hash, also behind damage; and where the journal has gaps."""
    *lines, rest = data.split(b"\n")
    read = [_tried(line, f"{name}, line {index}") for index, line in enumerate(lines, start=1)]
    unended = _tried(rest, name)
    if isinstance(unended, _Line):
        read.append(unended)
    elif isinstance(_tried(rest[:-1], name), _Line):  # the line end itself was damaged, after it was acknowledged
        read += [_tried(rest[:-1], name), JournalError(name, "the end of the line before is damaged", RESTORE)]
    whole = len(read) > len(lines)
    reader = _Reader(read)
    torn = b"" if whole else rest
    return Journal(
        tuple(reader.entries), reader.last, torn, tuple(reader.gaps), whole and not reader.gaps and bool(rest)
    )


@dataclass(frozen=True, slots=True)
class _Line:
    """A line that holds by itself. digest: its hash."""

    entry: JournalEntry
    digest: str


def _tried(line: bytes, place: str) -> _Line | JournalError:
    """A line, or why it does not hold by itself."""
    try:
        return _Line(*_verified(line, place))
    except JournalError as error:
        return error


class _Reader:
    """Takes one line after the other and keeps those that belong together.

    A line that does not chain to the one before is taken only where no later line does: else it is a stranger's.
    """

    def __init__(self, read: Sequence[_Line | JournalError]) -> None:
        self.entries: list[JournalEntry] = []
        self.gaps: list[Gap] = []
        self.last = START
        self._number = 0  # of the last decision that holds
        self._damaged: list[tuple[int, str, str]] = []  # lines since then that do not hold; cause, remedy
        self._follows = {line.entry.before: index for index, line in enumerate(read, 1) if isinstance(line, _Line)}
        for index, line in enumerate(read, start=1):
            self._take(index, line)
        if self._damaged:
            self._note(self._damaged[0][0], None)

    def _take(self, index: int, line: _Line | JournalError) -> None:
        """The line that stands at this place in the file, from 1."""
        if isinstance(line, JournalError):
            self._damaged.append((index, line.cause, line.remedy))
            return
        number = line.entry.envelope.number
        if line.entry.before != self.last:
            if number <= self._number or self._follows.get(self.last, 0) > index:
                cause = "the line was exchanged, stands here a second time, or is of another journal"
                self._damaged.append((index, cause, RESTORE))
                return
            self._note(index, number - self._number - 1)
        elif self._damaged:
            self._note(index, number - self._number - 1)
        self.entries.append(line.entry)
        self.last, self._number = line.digest, number

    def _note(self, index: int, lost: int | None) -> None:
        """A gap. index: of the line after it."""
        damaged, self._damaged = self._damaged, []
        if not damaged:
            cause = "a line before it is missing or was exchanged: the chain of hashes breaks"
            self.gaps.append(Gap(index, self._number, lost, cause))
            return
        first, cause, remedy = damaged[0]
        if len(damaged) > 1:
            cause = f"{cause}; the damage goes on to line {damaged[-1][0]}"
        self.gaps.append(Gap(first, self._number, lost, cause, remedy))


def _verified(line: bytes, place: str) -> tuple[JournalEntry, str]:
    """The decision of a line and its hash. Errors: JournalError when the line does not hold by itself."""
    text, mark, tail = line.rpartition(_MARK)
    digest = tail.removesuffix(b'"}').decode("ascii", "replace")
    text += b"}"
    if not mark or not tail.endswith(b'"}') or hashlib.sha256(text).hexdigest() != digest:
        raise JournalError(place, "the line is damaged: its hash does not fit its text", RESTORE)
    return decode(text, place), digest
