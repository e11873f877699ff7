"""What the README says that a journal does not prove, and the one thing that tells it: the hash of the last line.

When one of these fails because a journal proves more, the README's paragraph "What the record proves" is changed too.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import samples

from assistant.quantities import parse
from assistant.session import facts as f
from assistant.session.journal import START, read_lines, write_line

DATA = samples.plain_visit().data
LINES = DATA.splitlines(keepends=True)
NOTED = read_lines(DATA).last_hash


def oil_out(data: bytes) -> list[str]:
    facts = (fact for fact, _ in read_lines(data).facts())
    return [str(fact.quantity) for fact in facts if isinstance(fact, f.ReadingRecorded) and fact.name == "oil out"]


@pytest.mark.parametrize("lost", [1, 2, len(LINES) - 1])
def test_last_lines_that_were_cut_off_are_not_missed(lost: int) -> None:
    cut = read_lines(b"".join(LINES[:-lost]))
    assert (len(cut.entries), cut.torn) == (len(LINES) - lost, b"")
    assert cut.last_hash != NOTED


def test_a_journal_that_was_written_anew_holds() -> None:
    """2.4 L of oil came out; whoever has the program makes 2.7 L of it and chains the lines again."""
    data, last = b"", START
    for entry in read_lines(DATA).entries:
        facts = tuple(
            replace(fact, quantity=parse("2.7 L"))
            if isinstance(fact, f.ReadingRecorded) and fact.name == "oil out"
            else fact
            for fact in entry.facts
        )
        line, last = write_line(entry.envelope, facts, last)
        data += line
    assert (oil_out(DATA), oil_out(data)) == (["2.4 L"], ["2.7 L"])
    assert len(read_lines(data).entries) == len(LINES)
    assert last != NOTED
