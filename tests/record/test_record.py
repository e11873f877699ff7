"""A record as a whole: who, what and when, its numbers, and a journal that is damaged."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

import pytest
import samples

from assistant.errors import RecordError
from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.record.entries import EntryStatus
from assistant.record.stages import StepStatus
from assistant.record.summary import Record
from assistant.session.applying import fold
from assistant.session.journal import Journal, read_lines, read_what_holds
from tests.dialogues.kept import ALL
from tests.record.look_up import concerns


def test_a_visit_without_events_has_nothing_to_judge() -> None:
    judged = record(read_lines(samples.plain_visit().data))
    assert judged.concerns == ()
    assert judged.header.complete
    assert judged.counts.done == judged.counts.steps == len(judged.steps)
    assert judged.counts.left_open == 0
    assert {step.outcome for step in judged.steps} == {StepStatus.DONE}
    assert all(entry.status is EntryStatus.STANDS for entry in judged.entries)


def test_the_header_is_who_what_and_when(eventful: Record) -> None:
    header = eventful.header
    assert (header.asset, header.model, header.technicians) == (
        "marram-auxiliary",
        "twin-9",
        ("technician", "supervisor"),
    )
    assert header.title == "Oil and filter"
    assert header.demo
    assert header.started.startswith("2025-05-13T07:41:08")
    assert header.ended == eventful.entries[-1].at.wall
    assert header.duration == eventful.entries[-1].elapsed > 0
    assert [copy.name for copy in header.copies] == ["equipment.yaml", "oil-and-filter.yaml"]


def test_the_numbers(eventful: Record) -> None:
    counts = eventful.counts
    assert (counts.done, counts.skipped, counts.left_open) == (51, 1, 0)
    assert (counts.readings, counts.out_of_limits, counts.in_doubt) == (9, 1, 1)
    assert (counts.findings, counts.answers_not_good) == (4, 3)
    assert (counts.not_understood, counts.silences, counts.read_backs_refused) == (3, 1, 1)
    assert (counts.requests_refused, counts.late, counts.prompts_cut_off, counts.taken_back) == (2, 1, 1, 2)
    assert counts.utterances == 88
    assert counts.clips == len(eventful.clips()) == len({clip.sha256 for clip in eventful.clips()})


def test_a_visit_ended_early_says_what_is_open() -> None:
    judged = record(read_lines(samples.ended_early().data))
    assert not judged.header.complete
    assert judged.header.ending == "the technician ended it"
    assert judged.counts.left_open == judged.counts.steps - judged.counts.done
    assert concerns(judged) == [(ConcernKind.ENDED_EARLY, "Fit to start"), (ConcernKind.FINDING, "Fit to start")]
    assert [step.title for step in judged.steps if step.outcome is StepStatus.OPEN] == ["Fit to start"]


def test_a_visit_broken_off_crosses_a_boot() -> None:
    """The monotonic clock begins anew at a boot: the elapsed time must not run backwards."""
    judged = record(read_lines(samples.broken_off().data))
    assert judged.header.technicians == ("technician", "trainer")
    assert judged.header.boots == 2
    assert judged.header.ending is None
    elapsed = [entry.elapsed for entry in judged.entries]
    assert elapsed == sorted(elapsed)
    assert judged.header.duration > 1800
    assert concerns(judged) == [(ConcernKind.BROKEN_OFF, ""), (ConcernKind.STATE_FORGOTTEN, "Run hours")]


def test_a_torn_last_line_and_damage_are_told() -> None:
    data = samples.plain_visit().data
    judged = record(read_lines(data[:-20]))
    assert judged.chain.torn > 0
    assert (ConcernKind.LAST_LINE_TORN, "") in concerns(judged)
    whole = record(read_lines(data))
    assert whole.chain.lines == judged.chain.lines + 1
    assert (whole.chain.torn, whole.chain.damage) == (0, "")
    damaged = record(read_lines(data), "line 7: damaged")
    assert concerns(damaged)[0] == (ConcernKind.DAMAGED, "")


@pytest.mark.parametrize("seed", range(40))
def test_any_lines_may_be_damaged(seed: int) -> None:
    """A step whose beginning was in a damaged line ended the making of the record with a traceback."""
    lines = samples.eventful_visit().data.splitlines(keepends=True)
    chosen = random.Random(seed).sample(range(len(lines)), 1 + seed % 7) if seed else [0]
    for number in chosen:
        lines[number] = lines[number].replace(b'"format"', b'"formal"')
    judged = record(read_what_holds(b"".join(lines)), "damaged")
    assert judged.chain.lines == len(lines) - len(chosen)
    assert judged.chain.gaps
    assert {entry.line for entry in judged.entries}.isdisjoint(number + 1 for number in chosen)
    assert concerns(judged)[0] == (ConcernKind.DAMAGED, "")
    assert (judged.header.asset == "not known") == (0 in chosen)


@pytest.mark.parametrize("name", ALL)
def test_every_dialogue_has_a_record(name: str, judged_dialogue: Callable[[str], Record]) -> None:
    """A step that did not apply, and was opened again when its answer was taken back, was never reached: no record
    could be made of that session (KeyError)."""
    judged = judged_dialogue(name)
    counts = judged.counts
    assert counts.steps == counts.done + counts.skipped + counts.passed_over + counts.left_open
    assert min(counts.done, counts.skipped, counts.passed_over, counts.left_open) >= 0
    assert counts.left_open == 0 or not judged.header.complete


def test_no_work_no_record() -> None:
    with pytest.raises(RecordError, match="enginebay work"):
        record(Journal((), "0" * 64, b""))


@pytest.mark.parametrize("name", ["plain_visit", "eventful_visit", "ended_early", "broken_off"])
def test_the_samples_are_sessions_that_fold(name: str) -> None:
    journal = read_lines(getattr(samples, name)().data)
    visit = fold(journal.facts())
    assert visit.order == samples.order()
    judged = record(journal)
    left = {step.place for step in judged.steps if step.outcome is not StepStatus.OPEN}
    assert left == set(visit.outcomes)
    assert replace(judged, entries=()) != judged
