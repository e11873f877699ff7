"""The synthetic technician passes a step by what the step says of itself, whatever kind it is.

A kind that it did not know was met with silence, and a rehearsal with such a step never ended.
"""

from __future__ import annotations

from typing import ClassVar, assert_never

import pytest

from assistant.dialogue import messages as m
from assistant.edge.files.language import english
from assistant.procedure.equipment import Procedure, Section
from assistant.procedure.kinds import KINDS
from assistant.procedure.kinds.instruction import Instruction
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    ChoosesAnswer,
    LetsTimePass,
    Response,
    SaysHoldPhrase,
    SaysNext,
    SaysReading,
    SaysReadings,
    SpellsPart,
)
from assistant.quantities import Quantity
from assistant.rehearsal.technician import Habits, Speaks, Technician, Waits
from tests.procedure.test_kinds import example, example_procedure

SEEDS = range(1, 40)
FORMS = english().wording.forms


def technician(procedure: Procedure, seed: int, habits: Habits | None = None) -> Technician:
    """habits: what it gets wrong; None: nothing."""
    made = Technician((procedure,), FORMS, seed)
    made.habits = habits or Habits()
    return made


def procedure_of(step: Step) -> Procedure:
    return Procedure(format=1, procedure="p", title="P", sections=(Section(name="steps", steps=(step,)),))


def acts(made: Technician, step: Step) -> Speaks | Waits:
    made.hear(m.StepText(step.id, step.text), whole=True)
    act = made.act()
    assert isinstance(act, Speaks | Waits)
    return act


@pytest.fixture(params=list(KINDS))
def kind(request: pytest.FixtureRequest) -> type[Step]:
    return KINDS[request.param]


def test_it_does_what_every_kind_of_step_asks_for(kind: type[Step]) -> None:
    procedure, step = example_procedure(kind), example(kind)
    for seed in SEEDS:
        act = acts(technician(procedure, seed), step)
        if isinstance(step.response(), LetsTimePass):
            assert act == Waits()
            continue
        assert isinstance(act, Speaks)
        match step.response():
            case SaysNext(by_hand):
                assert act.text == "next"
                assert (act.after >= 25) is by_hand
            case SaysHoldPhrase(phrase):
                assert act.text == phrase
            case ChoosesAnswer(answers):
                said = next(answer for answer in answers.values() if answer.phrase == act.text)
                assert said.good
            case SaysReading() | SaysReadings():
                assert act.text.split()
                assert act.text not in step.phrases()
            case SpellsPart(proof):
                assert len(act.text.split()) == len(proof)
            case LetsTimePass():
                pytest.fail("it has waited")
            case response:
                assert_never(response)


def test_every_measured_value_has_a_truth_that_is_right_in_the_end(kind: type[Step]) -> None:
    procedure, step = example_procedure(kind), example(kind)
    for seed in SEEDS:
        made = technician(procedure, seed)
        acts(made, step)
        before = [made.truth(step.id, each.measured.name) for each in step.measurements()]
        made.hear(m.PutRight("Put it right."), whole=True)
        made.act()
        for each, first in zip(step.measurements(), before, strict=True):
            true = made.truth(step.id, each.measured.name)
            assert first is not None
            assert true is not None
            limits = each.measured.limits
            assert limits is None or limits.side(true) == 0
            assert each.until_within or first == true
            assert each.measured.believable.side(first) == 0
        assert step.measurements() or made.truth(step.id) is None


def test_it_misreads_a_gauge_once_and_says_next_at_a_hold_point_once() -> None:
    reading, hold = example(KINDS["reading"]), example(KINDS["hold"])
    (measurement,) = reading.measurements()
    made = technician(procedure_of(reading), 1, Habits(wrong_number={reading.id}))
    acts(made, reading)
    assert made.habits.wrong_number == set()
    truth = made.truth(reading.id)
    assert isinstance(truth, Quantity)
    for heard, answers in ((Quantity(truth.value + 1, truth.unit), ("correction", "negative")), (truth, ("affirm",))):
        made.hear(m.ReadBack(measurement.measured.name, heard, None), whole=True)
        answer = made.act()
        assert isinstance(answer, Speaks)
        assert answer.text in answers
    made = technician(procedure_of(hold), 1, Habits(next_at_hold={hold.id}))
    first, second = acts(made, hold), acts(made, hold)
    assert isinstance(first, Speaks)
    assert isinstance(second, Speaks)
    assert (first.text, second.text) == ("next", hold.phrases()[0])


def test_it_makes_one_mistake_of_each_kind_where_the_steps_have_room_for_it() -> None:
    steps = tuple(example(kind) for kind in KINDS.values())
    procedure = Procedure(format=1, procedure="p", title="P", sections=(Section(name="steps", steps=steps),))
    by_id = {step.id: step for step in steps}
    for seed in SEEDS:
        habits = Technician((procedure,), FORMS, seed).habits
        for wrong, response in (
            (habits.wrong_number, SaysReading),
            (habits.next_at_hold, SaysHoldPhrase),
            (habits.skips, SaysNext),
            (habits.cuts_off, SaysNext),
        ):
            (name,) = wrong
            assert isinstance(by_id[name].response(), response)
        (heard_badly,) = habits.say_again
        assert by_id[heard_badly].wait() is None


class Polish(Instruction):
    """A kind that the technician has never heard of: another step with `next`, and no work of the hands."""

    KEY: ClassVar[str] = "polish"
    EXAMPLE: ClassVar[str] = "polish: bell"

    def response(self) -> Response:
        return SaysNext(by_hand=False)


def test_a_kind_that_is_new_is_passed_by_what_it_says_of_itself() -> None:
    step = Polish(id="bell", title="Bell", text="Look at the bell.")
    act = acts(technician(procedure_of(step), 1), step)
    assert isinstance(act, Speaks)
    assert act.text == "next"
    assert act.after < 25
