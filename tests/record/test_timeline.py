"""The entries of a record: where each stands, its sounds, what failed before it and what became of it."""

from __future__ import annotations

import samples

from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.record.entries import EntryStatus
from assistant.record.summary import Record
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import read_lines
from tests.record.look_up import readings


def test_entries_are_in_time_order_and_say_where_they_stand(eventful: Record) -> None:
    assert [entry.line for entry in eventful.entries] == sorted(entry.line for entry in eventful.entries)
    assert {entry.part for entry in eventful.entries} == {"", "before", "steps", "after"}
    for entry in eventful.of(f.ReadingRecorded, f.AnswerRecorded, f.HoldPointPassed, f.StepDone):
        assert entry.title
        assert entry.part


def test_a_reading_measured_again_stays_beside_the_later_one(eventful: Record) -> None:
    first, second = readings(eventful, "plug torque")
    assert (first.status, first.superseded_by) == (EntryStatus.REPEATED, second.line)
    assert second.status is EntryStatus.STANDS
    assert isinstance(second.fact, f.ReadingRecorded)
    assert second.fact.stage is f.ReadingStage.AS_LEFT


def test_a_reading_taken_back_stays_marked(eventful: Record) -> None:
    first, second = readings(eventful, "oil in")
    assert first.status is EntryStatus.TAKEN_BACK
    assert second.status is EntryStatus.STANDS
    assert first.superseded_by is not None
    assert first.line < first.superseded_by < second.line


def test_a_refused_read_back_keeps_the_sound_of_what_was_heard(eventful: Record) -> None:
    (refused,) = eventful.of(f.ReadBackRefused)
    (hours,) = readings(eventful, "run hours")
    assert refused.clip is not None
    assert hours.clip is not None
    assert refused.clip != hours.clip
    assert [type(attempt) for attempt in hours.failed_attempts] == [f.ReadBackRefused]


def test_failed_attempts_belong_to_their_own_question_only(eventful: Record) -> None:
    (coolant,) = readings(eventful, "coolant temperature")
    assert [type(attempt) for attempt in coolant.failed_attempts] == [f.HearingFailed]
    (pressure,) = readings(eventful, "oil pressure")
    assert pressure.failed_attempts == ()


def test_a_finding_is_resolved_when_the_same_check_is_in_order(eventful: Record) -> None:
    resolved = {entry.title: entry.resolved_by is not None for entry in eventful.of(f.FindingRecorded)}
    assert resolved == {
        "Cold look": False,
        "Coolant temperature": False,
        "Close up and count": True,
        "Hand over": False,
    }


def test_a_hold_point_that_was_opened_again_counts_once(eventful: Record) -> None:
    proofs = [entry for entry in eventful.of(f.HoldPointPassed) if entry.title == "Proof at the start switches"]
    assert [entry.status for entry in proofs] == [EntryStatus.TAKEN_BACK, EntryStatus.STANDS]
    assert eventful.counts.hold_points == 4


def test_every_sound_that_an_input_cites_is_in_the_record(eventful: Record) -> None:
    """The sound of a spoken `next` or of a confirmation stands in no fact; it goes with what came of it."""
    journal = read_lines(samples.eventful_visit().data)
    inputs = [entry.envelope.input for entry in journal.entries]
    cited = {heard.clip.sha256 for heard in inputs if isinstance(heard, i.Heard) and heard.clip}
    assert len(cited) > 70
    assert cited == {clip.sha256 for clip in eventful.clips()}
    (hours,) = readings(eventful, "run hours")
    assert hours.clip is not None
    assert hours.spoken is not None
    assert hours.clip != hours.spoken


def test_prompts_are_listed_only_when_cut_off() -> None:
    pen = samples.Visit().pen
    whole, cut = i.Said("StepText", "Drain it.", True), i.Said("StepText", "Drain it.", False)
    for said in (whole, cut):
        pen.write(i.PromptPlayed(1, (said,)), f.WorkTakenUp(samples.order(), "Oil", 1), f.Spoken((said,)))
    judged = record(read_lines(pen.data))
    assert [entry.fact for entry in judged.of(f.Spoken)] == [f.Spoken((cut,))]
    assert ConcernKind.WARNING_CUT_OFF not in [concern.kind for concern in judged.concerns]
