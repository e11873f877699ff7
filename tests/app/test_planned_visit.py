"""A planned visit: broken off between any two decisions it comes to the same end; changed in any way it stays in order.

The core alone, without sound: what is answered follows from the step that asks. After each number of decisions the
visit is folded anew from what was written down, in another boot.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from in_memory import Memory

from assistant.app.demo import ASSET, WHOLE_VISIT
from assistant.app.visit_owner import VisitOwner
from assistant.dialogue.effects import Finish, Listen, Say, StartTimer
from assistant.dialogue.messages import Message
from assistant.dialogue.turn import Turn
from assistant.dialogue.visiting import may_be_added, may_come_first
from assistant.edge.clock import HandClock
from assistant.edge.files.library import OrderedWork, order_visit
from assistant.meanings import Amount, Answer, Command, CommandName, Hypothesis, Meaning, Passphrase, Reason, Spelled
from assistant.procedure.answers import Then
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.part import FittedPart
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.reading_set import ReadingSet
from assistant.procedure.kinds.timer import Timer
from assistant.procedure.measured import Measured
from assistant.procedure.step import Step
from assistant.quantities import Limits
from assistant.session import facts as f
from assistant.session.inputs import (
    AnswerVerdict,
    Heard,
    Input,
    Instant,
    Source,
    TimerRanOut,
    WorkOrdered,
    WorkResumed,
)
from assistant.session.visit import Visit
from assistant.statements import kinds as s

SMALL = Path(__file__).parents[1] / "dialogues"
ENOUGH = 900


def value(one: Measured) -> Amount:
    """A value in the middle of what is wanted."""
    limits: Limits = one.limits or one.believable
    ends = [end.to(one.unit).value for end in (limits.low, limits.high) if end is not None]
    middle = sum(ends, Decimal(0)) / len(ends)
    return Amount(round(middle, 1) if one.unit else round(middle), one.unit)


def answer(step: Step, visit: Visit) -> Meaning | None:
    """What the technician says at a step; None: it waits for a timer."""
    exchange = visit.exchange
    assert exchange is not None
    if exchange.stage is f.ExchangeStage.CONFIRMING:
        return Command(CommandName.AFFIRM)
    match step:
        case Timer():
            return None
        case HoldPoint():
            return Passphrase(step.id)
        case Check():
            return Answer(next(key for key, one in step.answers.items() if one.good and one.then is Then.GO_ON))
        case Reading():
            return value(step)
        case ReadingSet():
            return value(step.members[len(exchange.collected)])
        case FittedPart():
            return Spelled(step.expected[0].proof)
    return Command(CommandName.NEXT)


def attended(
    ordered: OrderedWork,
    broken_after: int | None = None,
    re_plans: bool = False,
    says: Callable[[VisitOwner], Meaning | None] | None = None,
) -> tuple[Visit, tuple[Message, ...], int]:
    """A visit to its end: what it is then, what is said last, and how many decisions it took."""
    written, clock = Memory(), HandClock("2026-03-02T08:00:00+00:00")
    owner = VisitOwner(ordered.work, written, clock)
    given: Input = WorkOrdered(ordered.order)
    timers: list[StartTimer] = []
    for count in range(ENOUGH):
        if count == broken_after:
            clock = HandClock("2026-03-02T15:00:00+00:00", boot="another")
            owner, timers = VisitOwner(ordered.work, written, clock, written.visit()), []
            given = WorkResumed("supervisor")
        decision = owner.take(given)
        clock.move(5.0)
        timers += [effect for effect in decision.effects if isinstance(effect, StartTimer)]
        if any(isinstance(effect, Finish) for effect in decision.effects):
            (said,) = (effect.messages for effect in decision.effects if isinstance(effect, Say))
            return owner.visit, said, count
        listening = [effect for effect in decision.effects if isinstance(effect, Listen)]
        meaning = said_next(owner, re_plans) if says is None else says(owner)
        if meaning is None:
            timer = timers.pop(0)
            clock.move(timer.seconds)
            given = TimerRanOut(timer.timer, timer.run)
        else:
            assert listening
            given = Heard(
                listening[-1].exchange, AnswerVerdict.ACCEPTED, (Hypothesis(meaning, "so", 1.0),), Source.VOICE, None
            )
    raise AssertionError("the visit came to no end")


def said_next(owner: VisitOwner, re_plans: bool) -> Meaning | None:
    """What the technician says now. re_plans: the second task of the small set is put off, and another one added."""
    visit = owner.visit
    assert visit.exchange is not None
    assert visit.focus is not None
    step, tasks = visit.focus.step, [stage.name for stage in visit.plan if stage.is_task]
    match visit.exchange.purpose:
        case f.Purpose.STEP if re_plans and step == "look-inside":
            return Command(CommandName.PUT_TASK_OFF)
        case f.Purpose.STEP if re_plans and step == "surface" and "belt" not in tasks:
            return Command(CommandName.ADD_TASK)
        case f.Purpose.STEP:
            return answer(owner.work.at(visit.focus).step, visit)
        case f.Purpose.STATE:
            return Command(CommandName.AFFIRM)
        case f.Purpose.TASK_ADDED:
            return Answer("belt")
        case f.Purpose.TASK_PUT_OFF | f.Purpose.TASK_REASON:
            return Reason("no_time")
    raise AssertionError(f"nobody asked for {visit.exchange.purpose}")


def end(visit: Visit) -> tuple[object, ...]:
    """What a visit has come to, whatever happened on the way."""
    readings = {reading.place: (reading.name, reading.quantity) for reading in visit.readings}
    return visit.ended, visit.outcomes, visit.stages_done, visit.plan, readings, visit.findings


@pytest.fixture(scope="module")
def small() -> OrderedWork:
    return order_visit("shed", ("coolant", "filter"), "technician", SMALL)


def test_a_visit_is_planned_anew_on_the_way(small: OrderedWork) -> None:
    visit, _, _ = attended(small, re_plans=True)
    assert [stage.name for stage in visit.plan if stage.is_task] == ["coolant", "belt"]


@pytest.mark.parametrize("re_plans", [False, True])
def test_broken_off_between_any_two_decisions_it_comes_to_the_same_end(re_plans: bool, small: OrderedWork) -> None:
    whole, told, decisions = attended(small, re_plans=re_plans)
    for after in range(1, decisions + 1):
        visit, last, _ = attended(small, after, re_plans)
        assert end(visit) == end(whole), after
        assert last == told, after


WHOLE = order_visit(ASSET, WHOLE_VISIT, "technician")


def test_so_does_a_whole_visit_of_four_tasks() -> None:
    whole, told, decisions = attended(WHOLE)
    assert [stage.name for stage in whole.plan if stage.is_task] == list(WHOLE_VISIT)
    assert {(stage.procedure, stage.time) for stage in whole.plan} == whole.stages_done
    for after in range(1, decisions + 1):
        visit, last, _ = attended(WHOLE, after)
        assert end(visit) == end(whole), after
        assert last == told, after


# --- whatever is put off, added and done first ---------------------------------------------------------------------

CHANGES_THE_PLAN = (CommandName.PUT_TASK_OFF, CommandName.ADD_TASK, CommandName.OTHER_WORK)


def planned_anew(ordered: OrderedWork, seed: int) -> Visit:
    """A visit in which, now and then, a task is put off, added, or done first; refused or not."""
    chance = random.Random(seed)

    def said(owner: VisitOwner) -> Meaning | None:
        visit = owner.visit
        assert visit.exchange is not None
        assert visit.focus is not None
        turn = Turn(owner.work, visit, Instant("2026-03-02T08:00:00+00:00", 0.0, "boot"))
        match visit.exchange.purpose:
            case f.Purpose.STEP if visit.exchange.stage is f.ExchangeStage.ASKING and chance.random() < 0.08:
                return Command(chance.choice(CHANGES_THE_PLAN))
            case f.Purpose.TASK_ADDED:
                return Answer(chance.choice(may_be_added(turn)))
            case f.Purpose.OTHER_WORK:
                return Answer(chance.choice(may_come_first(turn)))
        return said_next(owner, False)

    visit, _, _ = attended(ordered, says=said)
    return visit


CASES = [(set_, seed) for set_ in ("small", "whole") for seed in range(30)]


@pytest.mark.parametrize(("set_", "seed"), CASES)
def test_whatever_is_put_off_added_and_done_first_every_stage_finds_what_it_needs(
    set_: str, seed: int, small: OrderedWork
) -> None:
    ordered = {"small": small, "whole": WHOLE}[set_]
    equipment = ordered.work.equipment
    visit = planned_anew(ordered, seed)
    assert visit.ended is not None
    assert visit.ended.complete
    assert {(stage.procedure, stage.time) for stage in visit.plan} <= visit.stages_done
    state = dict(equipment.visit.found)
    done: list[str] = []
    for stage in visit.plan[1:-1]:
        assert all(state.get(name) is value for name, value in equipment.needs_of(stage.name).items()), stage.name
        state |= equipment.leaves_of(stage.name)
        if stage.is_task:
            done.append(stage.name)
    assert all(state[name] is value for name, value in equipment.visit.left.items())
    assert len(done) == len(set(done))
    if {"coolant", "belt"} <= set(done):  # nothing may drip on a new belt
        assert done.index("coolant") < done.index("belt")


def test_the_plan_is_changed_in_all_these_ways() -> None:
    works = [order_visit("shed", tasks, "technician", SMALL) for tasks in (("coolant", "filter"), ("filter", "belt"))]
    kinds = [type(fact.because) for work in works for seed in range(60) for fact in plans_of(planned_anew(work, seed))]
    for kind in (s.TaskLeftOut, s.TaskTakenIn, s.TaskMovedFirst):
        assert kinds.count(kind) >= 5, kind


def plans_of(visit: Visit) -> list[f.VisitPlanned]:
    return [fact for fact, _ in visit.history_facts if isinstance(fact, f.VisitPlanned)]
