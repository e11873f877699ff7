"""The stages of a planned visit, and what became of each."""

from __future__ import annotations

from collections.abc import Callable

import samples

from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.record.entries import EntryStatus
from assistant.record.stages import StageOutcome
from assistant.record.summary import Record
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import read_lines
from tests.record.look_up import stages

DONE, NOT_DONE, PUT_OFF = StageOutcome.DONE, StageOutcome.NOT_DONE, StageOutcome.PUT_OFF


def test_a_visit_that_was_not_planned_has_no_stages(eventful: Record) -> None:
    assert eventful.stages == ()
    assert eventful.planned_stages() == {}


def test_a_planned_visit_says_what_became_of_each_stage(judged_dialogue: Callable[[str], Record]) -> None:
    judged = judged_dialogue("visit_put_off")
    names = ("opening", "stop", "isolate", "cool", "coolant", "belt", "restore", "ending")
    assert stages(judged) == [*((name, DONE, "") for name in names), ("filter", PUT_OFF, "part is missing")]
    assert all(summary.began is not None and summary.ended is not None for summary in judged.stages)
    (to_judge,) = (concern for concern in judged.concerns if concern.needs_judgement)
    assert to_judge.kind is ConcernKind.PUT_OFF
    assert to_judge.entry is not None
    assert isinstance(to_judge.entry.fact, f.TaskPutOff)
    assert to_judge.entry.fact.title == "Air filter"


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
    assert stages(judged) == [
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
    ends = {(entry.fact.stage.name, entry.status) for entry in judged.entries if isinstance(entry.fact, f.StageDone)}
    assert ("isolate", EntryStatus.TAKEN_BACK) in ends
    standing = {name for name, status in ends if status is EntryStatus.STANDS}
    assert standing == {summary.stage.name for summary in judged.stages}
    assert {outcome for _, outcome, _ in stages(judged)} == {DONE}


def test_a_stage_that_was_opened_again_and_not_done_again_is_not_done() -> None:
    """It counted as done: the supervisor would have taken a task for done of which a step was taken back."""
    pen = samples.planned_anew()
    drain = f.StepPlace("oil", "drain")
    pen.write(
        i.ButtonPressed(1), f.StepReopened(drain, "Drain", "a correction"), f.StepReached(drain, "Drain", "steps")
    )
    judged = record(read_lines(pen.data))
    assert stages(judged)[0] == ("oil", NOT_DONE, "")
    (oil,) = (summary for summary in judged.stages if summary.stage.name == "oil")
    assert (oil.began, oil.ended) == (60.0, None)
    (end,) = judged.of(f.StageDone)
    assert end.status is EntryStatus.TAKEN_BACK


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
    assert [entry.status for entry in judged.of(f.ReadingRecorded)] == [EntryStatus.STANDS, EntryStatus.STANDS]
    assert [step.place.time for step in judged.steps] == [1, 2]
    assert [summary.began for summary in judged.stages] == [60.0, 120.0]
    assert judged.counts.done == 2


def test_a_task_put_off_and_added_again_is_done() -> None:
    pen = samples.Pen()
    belt = f.PlannedStage("belt", "belt", "Belt", True)
    order = i.WorkOrdered(samples.order())
    pen.write(order, f.WorkTakenUp(samples.order(), "Belt", 1), f.VisitPlanned((belt,), "as ordered", 1))
    pen.write(i.ButtonPressed(1), f.TaskPutOff("belt", "Belt", "no time", None), f.VisitPlanned((), "put off", 0))
    assert stages(record(read_lines(pen.data))) == [("belt", PUT_OFF, "no time")]
    pen.write(i.ButtonPressed(1), f.TaskAdded("belt", "Belt", "time after all", None), f.VisitPlanned((belt,), "", 1))
    pen.write(i.ButtonPressed(1), f.StageDone(belt))
    assert stages(record(read_lines(pen.data))) == [("belt", DONE, "time after all")]
