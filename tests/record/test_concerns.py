"""What a supervisor must look at, and what not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
import samples

from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.record.summary import Record
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import read_lines
from tests.record.look_up import concerns


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
        (kinds.HARD_TO_BELIEVE, "Oil out"),
        (kinds.BADLY_HEARD, "Look and smell"),
        (kinds.STATE_FORGOTTEN, "Fill"),
        (kinds.DEVICE_LOST, "Leaks"),
    ]
    to_judge = [concern.kind for concern in eventful.concerns if concern.needs_judgement]
    assert to_judge == [kind for kind, _ in concerns(eventful)][: len(to_judge)]
    assert kinds.SKIPPED in to_judge
    assert kinds.MEASURED_AGAIN not in to_judge


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
    kinds = [concern.kind for concern in judged.concerns]
    assert ConcernKind.OUT_OF_LIMITS not in kinds
    assert ConcernKind.IN_DOUBT not in kinds
    assert ConcernKind.TAKEN_BACK in kinds
    assert judged.counts.readings == 2


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
    ("facts", "kind", "to_judge"),
    [
        ((f.HelpCalled(),), ConcernKind.HELP_CALLED, True),
        ((f.NoteKept(LEAKS, "Leaks", f.Subject.NOTE, "a drop", None),), ConcernKind.NOTE, True),
        ((f.NoteKept(LEAKS, "Leaks", f.Subject.STEP_WRONG, "no cock", None),), ConcernKind.STEP_WRONG, True),
        ((replace(FITTED, number="", spoken="", reason="owner asks for it"),), ConcernKind.SUBSTITUTE, True),
        ((f.PartRefused(LEAKS, "F29", None), FITTED), ConcernKind.PART_REFUSED, False),
        ((f.HoldPointPassed(LEAKS, "Proof", 1.0, None, i.Source.TYPED),), ConcernKind.HOLD_TYPED, False),
    ],
)
def test_it_is_to_be_judged(facts: tuple[f.Fact, ...], kind: ConcernKind, to_judge: bool) -> None:
    """None of these stood under "To be judged": a supervisor signed a record in which help had been called for."""
    judged = at_leaks(*facts)
    (concern,) = judged.concerns
    assert (concern.kind, concern.needs_judgement) == (kind, to_judge)
    assert concern.entry is not None
    assert concern.entry.fact == facts[0]


def test_what_is_in_order_is_not_to_be_judged() -> None:
    assert at_leaks(FITTED, f.HoldPointPassed(LEAKS, "Proof", 0.9, None, i.Source.VOICE)).concerns == ()


def test_a_hold_point_that_was_taken_back_is_not_to_be_judged_as_typed() -> None:
    passed = f.HoldPointPassed(LEAKS, "Leaks", 1.0, None, i.Source.TYPED)
    judged = at_leaks(passed, f.StepReopened(LEAKS, "Leaks", "a long pause"))
    assert [concern.kind for concern in judged.concerns] == [ConcernKind.TAKEN_BACK]


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
    concerns_there = judged_dialogue(dialogue).concerns
    assert [concern.kind for concern in concerns_there if concern.needs_judgement] == kinds


def test_a_timer_that_was_over_is_no_answer_that_came_too_late() -> None:
    """It was recorded as one, with an exchange 0 that there never is; journals of that time are still read."""
    over = at_leaks(f.LateAnswerDropped(0))
    assert over.of(f.LateAnswerDropped) == ()
    assert over.counts.late == 0
    late = at_leaks(f.LateAnswerDropped(3))
    assert [entry.fact for entry in late.of(f.LateAnswerDropped)] == [f.LateAnswerDropped(3)]
    assert late.counts.late == 1
