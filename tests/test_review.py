"""The record of a session: what stands, what became of it, and what a supervisor must look at."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import samples

from assistant.edge.files.language import Language, english
from assistant.edge.files.store import read_session
from assistant.errors import RecordError
from assistant.review import ConcernKind, Fate, Record, RecordEntry, StageOutcome, StepStatus, record
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.applying import fold
from assistant.session.journal import Journal, read_lines, read_what_holds
from tests.dialogues.kept import ALL, kept


@pytest.fixture(scope="module")
def eventful() -> Record:
    return record(read_lines(samples.eventful_visit().data))


def concerns(judged: Record) -> list[tuple[ConcernKind, str]]:
    return [(one.kind, "" if one.entry is None else one.entry.title) for one in judged.concerns]


def readings(judged: Record, name: str) -> list[RecordEntry]:
    return [
        entry
        for entry in judged.of(f.ReadingRecorded)
        if isinstance(entry.fact, f.ReadingRecorded) and entry.fact.name == name
    ]


def test_a_visit_without_events_has_nothing_to_judge() -> None:
    judged = record(read_lines(samples.plain_visit().data))
    assert judged.concerns == ()
    assert judged.header.complete
    assert judged.counts.done == judged.counts.steps == len(judged.steps)
    assert judged.counts.left_open == 0
    assert {step.outcome for step in judged.steps} == {StepStatus.DONE}
    assert all(entry.fate is Fate.STANDS for entry in judged.entries)


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


def test_what_a_supervisor_must_look_at_comes_the_gravest_first(eventful: Record) -> None:
    kinds = ConcernKind
    assert concerns(eventful) == [
        (kinds.HELP_CALLED, "Leaks"),
        (kinds.FINDING, "Cold look"),
        (kinds.FINDING, "Close up and count"),
        (kinds.FINDING, "Hand over"),
        (kinds.SUBSTITUTE, "Leaks"),
        (kinds.OUT_OF_LIMITS, "Coolant temperature"),
        (kinds.IN_DOUBT, "Oil in"),
        (kinds.WARNING_CUT_OFF, "Warm run"),
        (kinds.SKIPPED, "Sample"),
        (kinds.PART_REFUSED, "Leaks"),
        (kinds.MEASURED_AGAIN, "Oil temperature"),
        (kinds.MEASURED_AGAIN, "Drain plug"),
        (kinds.CORRECTED, "Run hours"),
        (kinds.TAKEN_BACK, "Proof at the start switches"),
        (kinds.TAKEN_BACK, "Oil in"),
        (kinds.QUESTIONED, "Oil out"),
        (kinds.BADLY_HEARD, "Look and smell"),
        (kinds.STATE_FORGOTTEN, "Fill"),
        (kinds.DEVICE_LOST, "Leaks"),
    ]
    grave = [one.kind for one in eventful.concerns if one.grave]
    assert grave == [kind for kind, _ in concerns(eventful)][: len(grave)]
    assert kinds.SKIPPED in grave
    assert kinds.MEASURED_AGAIN not in grave


def test_a_reading_measured_again_stays_beside_the_later_one(eventful: Record) -> None:
    first, second = readings(eventful, "plug torque")
    assert (first.fate, first.later) == (Fate.REPEATED, second.line)
    assert second.fate is Fate.STANDS
    assert isinstance(second.fact, f.ReadingRecorded)
    assert second.fact.stage is f.ReadingStage.AS_LEFT


def test_a_reading_taken_back_stays_marked(eventful: Record) -> None:
    first, second = readings(eventful, "oil in")
    assert first.fate is Fate.TAKEN_BACK
    assert second.fate is Fate.STANDS
    assert first.later is not None
    assert first.line < first.later < second.line


def test_a_refused_read_back_keeps_the_sound_of_what_was_heard(eventful: Record) -> None:
    (refused,) = eventful.of(f.ReadBackRefused)
    (hours,) = readings(eventful, "run hours")
    assert refused.clip is not None
    assert hours.clip is not None
    assert refused.clip != hours.clip
    assert [type(trouble) for trouble in hours.troubles] == [f.ReadBackRefused]


def test_troubles_belong_to_their_own_question_only(eventful: Record) -> None:
    (coolant,) = readings(eventful, "coolant temperature")
    assert [type(trouble) for trouble in coolant.troubles] == [f.HearingFailed]
    (pressure,) = readings(eventful, "oil pressure")
    assert pressure.troubles == ()


def test_a_finding_is_settled_when_the_same_check_is_in_order(eventful: Record) -> None:
    settled = {entry.title: entry.settled is not None for entry in eventful.of(f.FindingRecorded)}
    assert settled == {
        "Cold look": False,
        "Coolant temperature": False,
        "Close up and count": True,
        "Hand over": False,
    }


def test_a_hold_point_that_was_opened_again_counts_once(eventful: Record) -> None:
    proofs = [entry for entry in eventful.of(f.HoldPointPassed) if entry.title == "Proof at the start switches"]
    assert [entry.fate for entry in proofs] == [Fate.TAKEN_BACK, Fate.STANDS]
    assert eventful.counts.hold_points == 4


def test_the_numbers(eventful: Record) -> None:
    counts = eventful.counts
    assert (counts.done, counts.skipped, counts.left_open) == (51, 1, 0)
    assert (counts.readings, counts.out_of_limits, counts.in_doubt) == (9, 1, 1)
    assert (counts.findings, counts.answers_not_good) == (4, 3)
    assert (counts.not_understood, counts.silences, counts.read_backs_refused) == (3, 1, 1)
    assert (counts.requests_refused, counts.late, counts.prompts_cut_off, counts.taken_back) == (2, 1, 1, 2)
    assert counts.utterances == 88
    assert counts.clips == len(eventful.clips()) == len({clip.sha256 for clip in eventful.clips()})


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


def test_entries_are_in_time_order_and_say_where_they_stand(eventful: Record) -> None:
    assert [entry.line for entry in eventful.entries] == sorted(entry.line for entry in eventful.entries)
    assert {entry.part for entry in eventful.entries} == {"", "before", "steps", "after"}
    for entry in eventful.of(f.ReadingRecorded, f.AnswerRecorded, f.HoldPointPassed, f.StepDone):
        assert entry.title
        assert entry.part


def test_prompts_are_listed_only_when_cut_off() -> None:
    pen = samples.Visit().pen
    whole, cut = i.Said("StepText", "Drain it.", True), i.Said("StepText", "Drain it.", False)
    for said in (whole, cut):
        pen.write(i.PromptPlayed(1, (said,)), f.WorkTakenUp(samples.order(), "Oil", 1), f.Spoken((said,)))
    judged = record(read_lines(pen.data))
    assert [entry.fact for entry in judged.of(f.Spoken)] == [f.Spoken((cut,))]
    assert ConcernKind.WARNING_CUT_OFF not in [one.kind for one in judged.concerns]


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
    assert (ConcernKind.TORN, "") in concerns(judged)
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


def test_nothing_is_left_of_a_reading_taken_back_but_its_mark() -> None:
    """A value that was out of limits and in doubt raises no concern once it is taken back."""
    visit = samples.Visit()
    visit.begin()
    visit.until("run-hours")
    visit.read("1250 h", "1250 hours")
    visit.until("oil-pressure")
    visit.read("120 kPa", "one hundred and twenty", 0.4, doubt="heard with confidence 0.40")
    withdrawn = f.ReadingWithdrawn(visit.place("oil-pressure"), "oil pressure", samples.quantity("120 kPa"))
    visit.pen.write(i.ButtonPressed(visit.pen.exchange), withdrawn, *visit.reopen("oil-pressure", "a correction"))
    visit.read("320 kPa", "three hundred and twenty")
    judged = record(read_lines(visit.pen.data))
    kinds = [one.kind for one in judged.concerns]
    assert ConcernKind.OUT_OF_LIMITS not in kinds
    assert ConcernKind.IN_DOUBT not in kinds
    assert ConcernKind.TAKEN_BACK in kinds
    assert judged.counts.readings == 2


# --- what the technician said and did besides ---------------------------------------------------------------------


def at_leaks(*facts: f.Fact) -> Record:
    """A visit that is in order but for these facts of one line, at its look for leaks."""
    visit = samples.Visit()
    visit.begin()
    place = visit.place("leaks")
    visit.pen.write(i.ButtonPressed(1), f.StepReached(place, "Leaks", "after"), *facts)
    visit.pen.write(i.ButtonPressed(1), f.WorkEnded(True, "every step was done or left out"))
    return record(read_lines(visit.pen.data))


LEAKS = f.StepPlace(samples.TASK, "leaks")
FITTED = f.PartFitted(LEAKS, "oil filter", "OF-2207", "207", "", 0.9, None, i.Source.VOICE)


@pytest.mark.parametrize(
    ("facts", "kind", "grave"),
    [
        ((f.HelpCalled(),), ConcernKind.HELP_CALLED, True),
        ((f.NoteKept(LEAKS, "Leaks", f.Subject.NOTE, "a drop", None),), ConcernKind.NOTE, True),
        ((f.NoteKept(LEAKS, "Leaks", f.Subject.STEP_WRONG, "no cock", None),), ConcernKind.STEP_WRONG, True),
        ((replace(FITTED, number="", spoken="", reason="owner asks for it"),), ConcernKind.SUBSTITUTE, True),
        ((f.PartRefused(LEAKS, "F29", None), FITTED), ConcernKind.PART_REFUSED, False),
        ((f.HoldPointPassed(LEAKS, "Proof", 1.0, None, i.Source.TYPED),), ConcernKind.HOLD_TYPED, False),
    ],
)
def test_it_is_to_be_judged(facts: tuple[f.Fact, ...], kind: ConcernKind, grave: bool) -> None:
    """None of these stood under "To be judged": a supervisor signed a record in which help had been called for."""
    judged = at_leaks(*facts)
    assert [(one.kind, one.grave, one.entry and one.entry.fact) for one in judged.concerns] == [(kind, grave, facts[0])]


def test_what_is_in_order_is_not_to_be_judged() -> None:
    assert at_leaks(FITTED, f.HoldPointPassed(LEAKS, "Proof", 0.9, None, i.Source.VOICE)).concerns == ()


def test_a_hold_point_that_was_taken_back_is_not_to_be_judged_as_typed() -> None:
    passed = f.HoldPointPassed(LEAKS, "Leaks", 1.0, None, i.Source.TYPED)
    judged = at_leaks(passed, f.StepReopened(LEAKS, "Leaks", "a long pause"))
    assert [one.kind for one in judged.concerns] == [ConcernKind.TAKEN_BACK]


@pytest.mark.parametrize(
    ("dialogue", "kinds"),
    [
        ("kind_part_substitute", [ConcernKind.BROKEN_OFF, ConcernKind.SUBSTITUTE]),
        ("finding", [ConcernKind.BROKEN_OFF, ConcernKind.FINDING]),
        ("step_is_wrong", [ConcernKind.BROKEN_OFF, ConcernKind.STEP_WRONG]),
        ("call_for_help", [ConcernKind.HELP_CALLED, ConcernKind.BROKEN_OFF]),
    ],
)
def test_nothing_is_to_be_judged_twice(
    dialogue: str, kinds: list[ConcernKind], judged_dialogue: Callable[[str], Record]
) -> None:
    """A substitute and a spoken finding are each two facts of one line."""
    assert [one.kind for one in judged_dialogue(dialogue).concerns if one.grave] == kinds


def test_a_timer_that_was_over_is_no_answer_that_came_too_late() -> None:
    """It was recorded as one, with an exchange 0 that there never is; journals of that time are still read."""
    over = at_leaks(f.LateAnswerDropped(0))
    assert over.of(f.LateAnswerDropped) == ()
    assert over.counts.late == 0
    late = at_leaks(f.LateAnswerDropped(3))
    assert [entry.fact for entry in late.of(f.LateAnswerDropped)] == [f.LateAnswerDropped(3)]
    assert late.counts.late == 1


# --- of a planned visit --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


@pytest.fixture
def judged_dialogue(tmp_path: Path, language: Language) -> Callable[[str], Record]:
    """The record of a dialogue's session."""
    return lambda name: record(read_session(kept(name, tmp_path, language)))


def became(judged: Record) -> list[tuple[str, StageOutcome, str]]:
    """Name, outcome and reason of each stage."""
    return [(one.stage.name, one.outcome, one.reason) for one in judged.stages]


DONE, NOT_DONE, PUT_OFF = StageOutcome.DONE, StageOutcome.NOT_DONE, StageOutcome.PUT_OFF


def test_a_visit_that_was_not_planned_has_no_stages(eventful: Record) -> None:
    assert eventful.stages == ()
    assert eventful.planned() == {}


def test_a_planned_visit_says_what_became_of_each_stage(judged_dialogue: Callable[[str], Record]) -> None:
    judged = judged_dialogue("visit_put_off")
    names = ("opening", "stop", "isolate", "cool", "coolant", "belt", "restore", "ending")
    assert became(judged) == [*((name, DONE, "") for name in names), ("filter", PUT_OFF, "part is missing")]
    assert all(one.began is not None and one.ended is not None for one in judged.stages)
    (grave,) = (one for one in judged.concerns if one.grave)
    assert grave.kind is ConcernKind.PUT_OFF
    assert grave.entry is not None
    assert isinstance(grave.entry.fact, f.TaskPutOff)
    assert grave.entry.fact.title == "Air filter"


def test_counts_are_of_the_plan_as_it_stood_last(judged_dialogue: Callable[[str], Record]) -> None:
    """12 steps were planned; the two of the filter went with it, and neither counts as done, left out or open."""
    judged = judged_dialogue("visit_put_off")
    plans = [entry.fact.steps for entry in judged.of(f.VisitPlanned) if isinstance(entry.fact, f.VisitPlanned)]
    assert plans == [12, 10]
    counts = judged.counts
    assert (counts.steps, counts.done, counts.skipped, counts.passed_over, counts.left_open) == (10, 10, 0, 0, 0)
    assert judged.header.complete


def test_a_task_that_was_added_says_why_and_what_is_left_is_open(judged_dialogue: Callable[[str], Record]) -> None:
    judged = judged_dialogue("visit_add_task")
    assert became(judged) == [
        *((name, DONE, "") for name in ("opening", "stop", "isolate")),
        ("filter", DONE, "it was found worn"),
        ("cool", DONE, ""),
        *((name, NOT_DONE, "") for name in ("coolant", "restore", "ending")),
    ]
    assert judged.counts.left_open == judged.counts.steps - judged.counts.done > 0


def test_a_stage_of_which_a_step_was_opened_again_ends_when_it_is_done_again(
    judged_dialogue: Callable[[str], Record],
) -> None:
    judged = judged_dialogue("visit_restart")
    ends = {(entry.fact.stage.name, entry.fate) for entry in judged.entries if isinstance(entry.fact, f.StageDone)}
    assert ("isolate", Fate.TAKEN_BACK) in ends
    assert {name for name, fate in ends if fate is Fate.STANDS} == {one.stage.name for one in judged.stages}
    assert {outcome for _, outcome, _ in became(judged)} == {DONE}


def test_a_stage_that_was_opened_again_and_not_done_again_is_not_done() -> None:
    """It counted as done: the supervisor would have taken a task for done of which a step was taken back."""
    pen = samples.planned_anew()
    drain = f.StepPlace("oil", "drain")
    pen.write(
        i.ButtonPressed(1), f.StepReopened(drain, "Drain", "a correction"), f.StepReached(drain, "Drain", "steps")
    )
    judged = record(read_lines(pen.data))
    assert became(judged)[0] == ("oil", NOT_DONE, "")
    (oil,) = (one for one in judged.stages if one.stage.name == "oil")
    assert (oil.began, oil.ended) == (60.0, None)
    (end,) = judged.of(f.StageDone)
    assert end.fate is Fate.TAKEN_BACK


def test_the_same_step_at_a_second_time_is_another_step() -> None:
    """Cooling down is needed twice: each has its own reading, and the later one does not repeat the earlier."""
    first, second = (f.PlannedStage("cool", "cool", "Let it cool", False, time) for time in (1, 2))
    pen = samples.Pen()
    taken = f.WorkTakenUp(samples.order(), "Oil", 2)
    pen.write(i.WorkOrdered(samples.order()), taken, f.VisitPlanned((first, second), "as ordered", 2))
    for stage, value in ((first, "30 °C"), (second, "35 °C")):
        place = f.StepPlace("cool", "warm", stage.time)
        reading = f.ReadingRecorded(
            *(place, "block temperature", samples.quantity(value), f.ReadingStage.AS_FOUND, "at most 40 °C"),
            *(f.ReadingVerdict.WITHIN, 0.9, "", None, i.Source.TYPED),
        )
        pen.wait(60)
        pen.write(i.ButtonPressed(1), f.StepReached(place, "How warm", "between"), reading)
        pen.write(i.ButtonPressed(1), f.StepDone(place, "How warm"), f.StageDone(stage))
    judged = record(read_lines(pen.data))
    assert [entry.fate for entry in judged.of(f.ReadingRecorded)] == [Fate.STANDS, Fate.STANDS]
    assert [step.place.time for step in judged.steps] == [1, 2]
    assert [one.began for one in judged.stages] == [60.0, 120.0]
    assert judged.counts.done == 2


def test_a_task_put_off_and_added_again_is_done() -> None:
    pen = samples.Pen()
    belt = f.PlannedStage("belt", "belt", "Belt", True)
    order = i.WorkOrdered(samples.order())
    pen.write(order, f.WorkTakenUp(samples.order(), "Belt", 1), f.VisitPlanned((belt,), "as ordered", 1))
    pen.write(i.ButtonPressed(1), f.TaskPutOff("belt", "Belt", "no time", None), f.VisitPlanned((), "put off", 0))
    assert became(record(read_lines(pen.data))) == [("belt", PUT_OFF, "no time")]
    pen.write(i.ButtonPressed(1), f.TaskAdded("belt", "Belt", "time after all", None), f.VisitPlanned((belt,), "", 1))
    pen.write(i.ButtonPressed(1), f.StageDone(belt))
    assert became(record(read_lines(pen.data))) == [("belt", DONE, "time after all")]


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
