"""The chain of lines: what a crash, a bad disk or a hand does to it is found, named, and never read as a decision."""

from __future__ import annotations

import hashlib
import json

import pytest

from assistant.errors import JournalError
from assistant.meanings import Answer
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import START, Journal, read_lines, read_what_holds, write_line

PLACE = f.StepPlace("service", "look")
CLIP = i.Clip("ab" * 32, 1.25)
GOOD = i.Hypothesis(Answer("good"), "all good", 0.93)
ORDER = i.Order("bench", "set-2", "technician", ("service",), (i.ProcedureCopy("service.yaml", "cd" * 32),), True)

DECISIONS: tuple[tuple[i.Input, tuple[f.Fact, ...]], ...] = (
    (
        i.WorkOrdered(ORDER),
        (f.WorkTakenUp(ORDER, "Öl und Filter — ölig", 3), f.StepReached(PLACE, "Cold look", "before")),
    ),
    (
        i.PromptPlayed(1, (i.Said("StepText", 'Say "all good",\n or not.', True),)),
        (f.ExchangeOpened(1, f.Purpose.STEP),),
    ),
    (i.Heard(1, i.AnswerVerdict.ACCEPTED, (GOOD,), i.Source.VOICE, CLIP), (f.StepDone(PLACE, "Cold look"),)),
    (i.ButtonPressed(1), ()),
)


def written(decisions: tuple[tuple[i.Input, tuple[f.Fact, ...]], ...] = DECISIONS) -> bytes:
    data, last = b"", START
    for number, (given, facts) in enumerate(decisions, start=1):
        at = i.Instant(f"2026-03-02T08:00:0{number}.000+00:00", float(number), "boot")
        line, last = write_line(i.Envelope(number, at, given), facts, last)
        data += line
    return data


def rehashed(row: object) -> bytes:
    """A line whose hash fits whatever it says."""
    text = json.dumps(row).encode()
    return text[:-1] + b',"hash":"' + hashlib.sha256(text).hexdigest().encode() + b'"}\n'


DATA = written()
LINES = DATA.splitlines(keepends=True)
WHOLE = read_lines(DATA)


def test_what_was_written_is_read() -> None:
    assert [(entry.envelope.input, entry.facts) for entry in WHOLE.entries] == list(DECISIONS)
    assert [entry.envelope.number for entry in WHOLE.entries] == [1, 2, 3, 4]
    assert WHOLE.torn == b""
    assert [fact for fact, _ in WHOLE.facts()] == [fact for _, facts in DECISIONS for fact in facts]
    assert [at.seconds for _, at in WHOLE.facts()] == [1.0, 1.0, 2.0, 3.0]


def test_each_line_repeats_the_hash_before_and_bears_its_own() -> None:
    before = START
    for line in LINES:
        row = json.loads(line)
        assert row["before"] == before
        before = row["hash"]
        assert list(row)[-1] == "hash"
        text = line[: line.rindex(b',"hash"')] + b"}"
        assert hashlib.sha256(text).hexdigest() == before
    assert WHOLE.last_hash == before


def test_an_empty_journal() -> None:
    assert read_lines(b"") == Journal((), START, b"")


def test_cut_at_every_byte() -> None:
    """Power can go at any byte. What was acknowledged is read, the torn rest is set aside, nothing is invented."""
    starts = {b"".join(LINES[:count]) for count in range(1, len(LINES) + 1)}
    for cut in range(len(DATA) + 1):
        part = DATA[:cut]
        whole = part + b"\n" if part + b"\n" in starts else part  # only the line end is missing
        count = whole.count(b"\n")
        read = read_lines(part)
        assert read.entries == WHOLE.entries[:count], cut
        assert b"".join(LINES[:count]) + read.torn == whole, cut
        assert read.unended == (whole != part), cut
        assert read.last_hash == (json.loads(LINES[count - 1])["hash"] if count else START), cut


def test_going_on_after_a_cut() -> None:
    """A torn line is set aside; the next one is chained to the last whole one."""
    for cut in range(len(LINES[0]), len(DATA), 7):
        read = read_lines(DATA[:cut])
        envelope = i.Envelope(len(read.entries) + 1, i.Instant("later", 0.5, "next boot"), i.WorkResumed("technician"))
        line, digest = write_line(envelope, (f.WorkTakenUpAgain("technician"),), read.last_hash)
        kept = DATA[: cut - len(read.torn)] + (b"\n" if read.unended else b"")
        after = read_lines(kept + line)
        assert after.entries[:-1] == read.entries
        assert after.entries[-1].envelope == envelope
        assert after.last_hash == digest


def test_every_flipped_bit_is_found_and_its_line_named() -> None:
    for position in range(len(DATA) - 1):  # the last line end: see below
        number = DATA[:position].count(b"\n") + 1
        for bit in range(8):
            damaged = bytearray(DATA)
            damaged[position] ^= 1 << bit
            with pytest.raises(JournalError) as caught:
                read_lines(bytes(damaged))
            assert caught.value.place == f"journal.jsonl, line {number}", (position, bit)


def test_a_last_line_that_lacks_only_its_line_end_is_kept() -> None:
    """It was set aside as torn, although all of it was there: an answer that had been acknowledged was lost."""
    read = read_lines(DATA[:-1])
    assert (read.entries, read.torn, read.unended) == (WHOLE.entries, b"", True)


def test_what_holds_behind_damage_is_still_read() -> None:
    """One damaged line made all later ones unusable."""
    for number in range(1, len(LINES) + 1):
        damaged = [*LINES[: number - 1], LINES[number - 1].replace(b'"format":2', b'"format":7'), *LINES[number:]]
        read = read_what_holds(b"".join(damaged))
        assert read.entries == WHOLE.entries[: number - 1] + WHOLE.entries[number:]
        (gap,) = read.gaps
        assert (gap.line, gap.after, gap.lost) == (number, number - 1, 1 if number < len(LINES) else None)
        assert "does not fit its text" in gap.cause


def test_lines_that_are_missing_are_counted() -> None:
    read = read_what_holds(LINES[0] + b"".join(LINES[3:]))
    assert read.entries == WHOLE.entries[:1] + WHOLE.entries[3:]
    assert [(gap.line, gap.after, gap.lost) for gap in read.gaps] == [(2, 1, 2)]


def test_a_doubled_line_is_read_once() -> None:
    read = read_what_holds(LINES[0] + LINES[1] + LINES[0] + LINES[1] + b"".join(LINES[2:]))
    assert read.entries == WHOLE.entries
    assert [(gap.line, gap.lost) for gap in read.gaps] == [(3, 0)]


def test_a_whole_journal_has_no_gap() -> None:
    assert read_what_holds(DATA) == WHOLE
    assert WHOLE.gaps == ()


def test_a_last_line_whose_end_was_damaged_is_kept_and_told() -> None:
    """It counted as torn: a line that had been acknowledged was cut off, and the page said that it never was."""
    data = DATA[:-1] + b"\x0b"
    read = read_what_holds(data)
    assert (read.entries, read.torn) == (WHOLE.entries, b"")
    assert [(gap.after, gap.lost) for gap in read.gaps] == [(len(LINES), None)]
    with pytest.raises(JournalError, match="the end of the line before is damaged"):
        read_lines(data)


def test_a_last_line_without_its_end_is_kept_behind_damage_too() -> None:
    damaged = LINES[0] + LINES[1].replace(b'"format":2', b'"format":7') + b"".join(LINES[2:])
    read = read_what_holds(damaged[:-1])
    assert read.entries == WHOLE.entries[:1] + WHOLE.entries[2:]
    assert (read.torn, read.unended) == (b"", False)


def test_a_line_of_a_stranger_hides_none_that_belong_together() -> None:
    """One line that held by itself, with a high number, put all later ones out of order."""
    stranger, _ = write_line(i.Envelope(999, i.Instant("later", 0.5, "boot"), i.ButtonPressed(1)), (), "f" * 64)
    for at in range(len(LINES) + 1):
        read = read_what_holds(b"".join((*LINES[:at], stranger, *LINES[at:])))
        assert read.entries[: len(LINES)] == WHOLE.entries
        assert read.gaps


@pytest.mark.parametrize("number", range(1, len(LINES)))
def test_a_missing_line_is_found(number: int) -> None:
    rest = [line for at, line in enumerate(LINES, start=1) if at != number]
    with pytest.raises(JournalError, match=f"line {number}: a line before it is missing") as caught:
        read_lines(b"".join(rest))
    assert caught.value.place == f"journal.jsonl, line {number}"


@pytest.mark.parametrize("number", range(1, len(LINES)))
def test_exchanged_and_doubled_lines_are_found(number: int) -> None:
    lines = list(LINES)
    lines[number - 1], lines[number] = lines[number], lines[number - 1]
    with pytest.raises(JournalError, match=f"line {number}: .*exchanged"):
        read_lines(b"".join(lines))
    doubled = [*LINES[:number], LINES[number - 1], *LINES[number:]]
    with pytest.raises(JournalError, match=f"line {number + 1}: "):
        read_lines(b"".join(doubled))


def test_a_line_of_another_journal_is_found() -> None:
    other = written(DECISIONS[1:]).splitlines(keepends=True)
    with pytest.raises(JournalError, match="line 2: "):
        read_lines(LINES[0] + other[1] + b"".join(LINES[2:]))


def test_an_empty_line_in_the_middle_is_damage() -> None:
    with pytest.raises(JournalError, match="line 2: "):
        read_lines(LINES[0] + b"\n" + b"".join(LINES[1:]))


def test_a_line_of_an_unknown_format_is_told() -> None:
    row = {key: value for key, value in json.loads(LINES[0]).items() if key != "hash"}
    with pytest.raises(JournalError, match="its format is 99") as caught:
        read_lines(rehashed({**row, "format": 99}))
    assert "newer program" in caught.value.remedy


@pytest.mark.parametrize("row", [{"format": 1}, {"facts": []}, {"format": 1, "facts": "none", "before": START}])
def test_a_line_with_a_fitting_hash_that_says_nothing(row: object) -> None:
    with pytest.raises(JournalError, match="line 1: "):
        read_lines(rehashed(row))


def test_the_error_names_the_file_that_it_was_given() -> None:
    with pytest.raises(JournalError, match=r"visit/journal\.jsonl, line 1: "):
        read_lines(b"no json\n", "visit/journal.jsonl")
