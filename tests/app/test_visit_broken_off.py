"""A planned visit that breaks off between any two decisions goes on to the same end.

The core alone, without sound: what is answered follows from the step that asks. After each number of decisions the
visit is folded anew from what was written down, in another boot.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

import pytest

from assistant.app.attendance import Attendance
from assistant.dialogue.effects import Finish, Listen, Say, StartTimer
from assistant.dialogue.messages import Message
from assistant.edge.clock import HandClock
from assistant.edge.library import OrderedWork, order_visit
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Passphrase, Reason, Spelled
from assistant.procedure.steps import (
    Check,
    FittedPart,
    HoldPoint,
    Measured,
    Reading,
    ReadingSet,
    Step,
    Then,
    Timer,
)
from assistant.quantities import Limits
from assistant.session import facts as f
from assistant.session.inputs import (
    Envelope,
    Heard,
    Hypothesis,
    Input,
    Source,
    TimerRanOut,
    Verdict,
    WorkOrdered,
    WorkResumed,
)
from assistant.session.visit import Visit, fold

SMALL = Path(__file__).parents[1] / "dialogues"
ENOUGH = 900


@dataclass
class Written:
    """Lines kept in memory."""

    number: int = 0
    entries: list[tuple[Envelope, tuple[f.Fact, ...]]] = field(default_factory=list)

    def append(self, envelope: Envelope, facts: tuple[f.Fact, ...]) -> None:
        self.number = envelope.number
        self.entries.append((envelope, facts))

    def visit(self) -> Visit:
        return fold((fact, envelope.at) for envelope, facts in self.entries for fact in facts)


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
    if exchange.stage is f.Stage.CONFIRMING:
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
    ordered: OrderedWork, broken_after: int | None = None, re_plans: bool = False
) -> tuple[Visit, tuple[Message, ...], int]:
    """A visit to its end: what it is then, what is said last, and how many decisions it took."""
    written, clock = Written(), HandClock("2026-03-02T08:00:00+00:00")
    attendance = Attendance(ordered.work, written, clock)
    given: Input = WorkOrdered(ordered.order)
    timers: list[StartTimer] = []
    for count in range(ENOUGH):
        if count == broken_after:
            clock = HandClock("2026-03-02T15:00:00+00:00", boot="another")
            attendance, timers = Attendance(ordered.work, written, clock, written.visit()), []
            given = WorkResumed("supervisor")
        decision = attendance.take(given)
        clock.move(5.0)
        timers += [effect for effect in decision.effects if isinstance(effect, StartTimer)]
        if any(isinstance(effect, Finish) for effect in decision.effects):
            (said,) = (effect.messages for effect in decision.effects if isinstance(effect, Say))
            return attendance.visit, said, count
        listening = [effect for effect in decision.effects if isinstance(effect, Listen)]
        meaning = said_next(attendance, re_plans)
        if meaning is None:
            timer = timers.pop(0)
            clock.move(timer.seconds)
            given = TimerRanOut(timer.timer, timer.run)
        else:
            assert listening
            given = Heard(
                listening[-1].exchange, Verdict.ACCEPTED, (Hypothesis(meaning, "so", 1.0),), Source.VOICE, None
            )
    raise AssertionError("the visit came to no end")


def said_next(attendance: Attendance, re_plans: bool) -> Meaning | None:
    """What the technician says now. re_plans: the second task of the small set is put off, and another one added."""
    visit = attendance.visit
    assert visit.exchange is not None
    assert visit.focus is not None
    step, tasks = visit.focus.step, [stage.name for stage in visit.plan if stage.is_task]
    match visit.exchange.purpose:
        case f.Purpose.STEP if re_plans and step == "look-inside":
            return Command(CommandName.PUT_TASK_OFF)
        case f.Purpose.STEP if re_plans and step == "surface" and "belt" not in tasks:
            return Command(CommandName.ADD_TASK)
        case f.Purpose.STEP:
            return answer(attendance.work.at(visit.focus).step, visit)
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
