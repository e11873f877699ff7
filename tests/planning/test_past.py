"""Earlier visits, folded from the facts of their sessions."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

from assistant.edge.files.shipped_words import english_words
from assistant.planning.past import ENDED_EARLY, PastVisit, done_before
from assistant.session import facts as f
from assistant.session.inputs import Instant, Order, Source
from tests.histories import Told, meter, reading, withdrawn

LOOK, LEAK = f.StepPlace("service", "look"), f.StepPlace("service", "leaks")


def told(*facts: f.Fact | tuple[f.Fact, float], boots: tuple[str, ...] = ()) -> Told:
    """Facts a minute apart on a day in March; a number beside a fact: so many minutes after the one before."""
    result: Told = []
    seconds = 0.0
    for number, one in enumerate((begun("set-a"), *facts)):
        fact, minutes = one if isinstance(one, tuple) else (one, 1)
        seconds += 60.0 * minutes
        boot = boots[number] if number < len(boots) else "boot"
        result.append((fact, Instant(f"2026-03-02T08:{int(seconds // 60) % 60:02}:00.000+00:00", seconds, boot)))
    return result


def begun(asset: str) -> f.WorkTakenUp:
    return f.WorkTakenUp(Order(asset, "small-set", "technician", ("service", "belt"), (), True), "Service, belt", 9)


def answer(place: f.StepPlace, good: bool) -> f.AnswerRecorded:
    return f.AnswerRecorded(place, "?", "key", "words", good, 0.9, None, Source.VOICE)


def reached(task: str, step: str, part: str) -> f.StepReached:
    return f.StepReached(f.StepPlace(task, step), step, part)


ENDED = f.WorkEnded(True, "done")


def one(*facts: f.Fact | tuple[f.Fact, float], boots: tuple[str, ...] = ()) -> PastVisit:
    (visit,) = done_before([told(*facts, boots=boots)], "set-a")
    return replace(visit, findings={place: english_words().text(found) for place, found in visit.findings.items()})


def test_whole_work_is_done_and_dated() -> None:
    visit = one(meter(1250.4), ENDED)
    assert (visit.day, visit.hours, visit.done) == (date(2026, 3, 2), Decimal("1250.4"), {"service", "belt"})


def test_work_that_was_ended_early_or_broke_off_is_not_done_but_its_hours_count() -> None:
    for facts in ((meter(1250.4), f.WorkEnded(False, "rain")), (meter(1250.4),)):
        visit = one(*facts)
        assert (visit.hours, visit.done) == (Decimal("1250.4"), frozenset())


def test_other_assets_and_empty_sessions_are_left_out() -> None:
    assert done_before([told(ENDED), []], "set-b") == ()


def test_hours_that_were_taken_back_do_not_count() -> None:
    assert one(meter(1250.4), withdrawn(meter(1250.4)), ENDED).hours is None


def test_the_hours_read_last_count() -> None:
    again = f.ReadingRecorded(
        f.StepPlace("belt", "run hours"), *[getattr(meter(1251.0), name) for name in f.ReadingRecorded.__slots__[1:-1]]
    )
    assert one(meter(1250.4), again, ENDED).hours == Decimal("1251.0")


def done(task: str) -> f.StageDone:
    return f.StageDone(f.PlannedStage(task, task, task.capitalize(), True))


PLANNED = f.VisitPlanned((done("service").stage, done("belt").stage), "as ordered", 9)


def test_of_a_planned_visit_each_task_counts_that_was_done() -> None:
    assert one(PLANNED, done("service"), f.WorkEnded(False, "rain")).done == {"service"}
    assert one(PLANNED, ENDED).done == frozenset()
    change = f.StageDone(f.PlannedStage("stop", "stop", "Stop it", False))
    assert one(PLANNED, change, done("belt"), ENDED).done == {"belt"}


def test_a_task_of_which_a_step_was_opened_again_is_not_done_until_it_is_done_again() -> None:
    again = f.StepReopened(LOOK, "Look", "correction")
    assert one(PLANNED, done("service"), again).done == frozenset()
    assert one(PLANNED, done("service"), again, done("service")).done == {"service"}


def test_what_was_found_before_a_task_is_told_from_what_was_found_after_it() -> None:
    before, after = f.FindingRecorded(LOOK, "Dusty"), f.FindingRecorded(LEAK, "Weeping")
    visit = one(PLANNED, before, done("service"), after, ENDED)
    assert visit.done_after == {"service/look": {"service"}}
    assert set(visit.findings) == {"service/look", "service/leaks"}


def test_a_visit_ended_early_is_a_finding_that_the_next_whole_one_settles() -> None:
    assert ENDED_EARLY in one(f.WorkEnded(False, "rain")).findings
    assert ENDED_EARLY in one(ENDED).cleared


def test_what_was_not_in_order_at_the_end_is_a_finding() -> None:
    low = reading("2.4 bar")
    leak, trouble = f.FindingRecorded(LEAK, "Oil wept"), f.FindingRecorded(LOOK, "Trouble was seen")
    visit = one(low, answer(LOOK, False), trouble, answer(LEAK, False), leak, answer(LEAK, True), ENDED)
    assert visit.findings == {
        "service/oil pressure": "oil pressure 2.4 bar, low (3.0 bar to 6.0 bar)",
        "service/look": "Trouble was seen",
    }
    assert visit.cleared == {"service/leaks", ENDED_EARLY}


def test_a_reading_that_came_within_its_limits_settles_the_one_before() -> None:
    visit = one(reading("2.4 bar"), reading("3.4 bar"), ENDED)
    assert (visit.findings, visit.cleared) == ({}, {"service/oil pressure", ENDED_EARLY})


def test_a_spoken_finding_is_not_settled_by_the_answer_to_its_step() -> None:
    spoken = f.NoteKept(LOOK, "Look", f.Subject.FINDING, "a cracked hose", None)
    assert one(spoken, answer(LOOK, True), ENDED).findings == {"service/look, spoken": "a cracked hose"}


def test_minutes_are_those_of_the_work_itself_without_standing_by() -> None:
    """Service: 5 + 12 - 4 (stood by) minutes of steps; isolation before, and the run after it, are not counted."""
    visit = one(
        reached("service", "isolate", "before"),
        (reached("service", "drain", "steps"), 15),
        (reached("service", "fill", "steps"), 5),
        (f.CarriedOn(240.0), 10),
        (reached("service", "run", "after"), 2),
        (reached("belt", "tension", "steps"), 9),
        (ENDED, 7),
    )
    assert visit.minutes == {"service": 13.0, "belt": 7.0}


def test_minutes_over_a_start_of_the_device_are_not_known() -> None:
    facts = (reached("service", "drain", "steps"), (reached("service", "fill", "steps"), 5), ENDED)
    assert one(*facts, boots=("one", "one", "two", "two")).minutes == {}
