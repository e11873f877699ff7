"""`stop`, `call for help` and `end the work` are understood whatever is asked, and nothing is lost by them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from in_memory import Memory

from assistant.app.visit_owner import VisitOwner
from assistant.dialogue import messages as m
from assistant.dialogue.commands import LONG_PAUSE, rule_of
from assistant.dialogue.effects import Say
from assistant.dialogue.exchange import expectation, question
from assistant.dialogue.kinds import STEP_KINDS
from assistant.dialogue.own_questions import OWN_QUESTIONS
from assistant.dialogue.turn import Turn
from assistant.dialogue.work import PlacedStep, Work
from assistant.edge.clock import HandClock
from assistant.edge.files.library import order_visit, order_work
from assistant.engine_state import Known
from assistant.meanings import Command, CommandName, Hypothesis
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.reading_set import ReadingSet
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session.inputs import AnswerVerdict, Heard, Instant, Source, WorkOrdered
from assistant.session.visit import Exchange, Pending, StateValue, StepOutcome, Unitless, Visit
from assistant.statements import kinds as s

FOLDER = Path(__file__).parent.parent / "dialogues"
PROCEDURES = sorted(path.stem for path in (FOLDER / "set").glob("*.yaml") if path.stem != "equipment")
AT = Instant("2026-03-02T08:00:00.000+00:00", 0.0, "boot")
STOP, HELP, END = CommandName.STOP, CommandName.CALL_FOR_HELP, CommandName.END_WORK
OF_A_VISIT = (f.Purpose.TASK_PUT_OFF, f.Purpose.TASK_ADDED, f.Purpose.TASK_REASON, f.Purpose.OTHER_WORK)


def benches() -> list[Work]:
    return [order_work("bench", (name,), "technician", FOLDER).work for name in PROCEDURES]


def exchanges(placed: PlacedStep) -> Iterator[Exchange]:
    """Every stage in which the question of a step may stand."""
    asking = Exchange(1, f.Purpose.STEP)
    yield asking
    step = placed.step
    asked = (
        step.members if isinstance(step, ReadingSet) else (step,) * step.samples if isinstance(step, Reading) else ()
    )
    if not asked:
        return
    pending = tuple(Pending(Quantity(Decimal(1), measured.unit), 1.0, None, Source.VOICE, "") for measured in asked)
    yield replace(asking, manner=f.Manner.DIGITS)
    yield replace(asking, manner=f.Manner.MANUAL)
    unitless = Unitless(Decimal(1), "gallons", 1.0, None, Source.VOICE)
    yield replace(asking, stage=f.ExchangeStage.COMPLETING, unitless=unitless)
    yield replace(
        asking, stage=f.ExchangeStage.CONFIRMING, pending=pending[0], collected=pending if len(pending) > 1 else ()
    )


def understood(turn: Turn) -> set[CommandName]:
    rules = {offer.rule for offer in expectation(turn).offers}
    return {name for name in (STOP, HELP, END) if rule_of(name) in rules}


def test_every_question_of_every_kind_of_step() -> None:
    kinds, stages = set(), set()
    for work in benches():
        for placed in work.steps:
            for exchange in exchanges(placed):
                turn = Turn(work, Visit(focus=placed.place, exchange=exchange, exchanges=1), AT)
                assert understood(turn) == {STOP, HELP, END}, (placed.place, exchange.stage)
                stages.add(exchange.stage)
            kinds.add(type(placed.step))
    assert kinds == set(STEP_KINDS)
    assert stages == set(f.ExchangeStage)


@pytest.mark.parametrize("purpose", OWN_QUESTIONS)
def test_every_question_of_the_assistants_own(purpose: f.Purpose) -> None:
    """None of the three was understood while a reason, a task or a role was asked for, or a note was taken."""
    work = order_visit("shed", ("coolant", "belt"), "technician", FOLDER).work
    visit = Visit(plan=work.plan, focus=work.steps[0].place, exchange=Exchange(1, purpose), exchanges=1, chosen="belt")
    ends = set() if purpose is f.Purpose.ENDING else {END}
    assert understood(Turn(work, visit, AT)) == {STOP, HELP, *ends}
    assert understood(Turn(work, replace(visit, stood_by=AT), AT)) == {STOP, HELP, END}


# --- what they do there ------------------------------------------------------------------------------------------

STEPS = {
    f.Purpose.SUBSTITUTE: ("kinds", "filter"),
    f.Purpose.STATE: ("service", "proof"),
    f.Purpose.FOUND: ("kinds", "start"),
}


class Visitor:
    """A visit in which the assistant asks something of its own, at a step."""

    def __init__(self, purpose: f.Purpose) -> None:
        if purpose in OF_A_VISIT:
            ordered, at = order_visit("shed", ("coolant", "belt"), "technician", FOLDER), "look"
        else:
            name, at = STEPS.get(purpose, ("service", "look"))
            ordered = order_work("bench", (name,), "technician", FOLDER)
        self.clock = HandClock("2026-03-02T08:00:00+00:00")
        self.owner = VisitOwner(ordered.work, Memory(), self.clock)
        self.owner.take(WorkOrdered(ordered.order))
        visit, work = self.owner.visit, self.owner.work
        place = next(placed.place for placed in work.steps if placed.place.step == at)
        earlier = {placed.place: StepOutcome.DONE for placed in work.steps[: work.at(place).number - 1]}
        self.owner.visit = replace(
            visit,
            focus=place,
            outcomes=earlier,
            exchange=Exchange(visit.exchanges + 1, purpose),
            exchanges=visit.exchanges + 1,
            chosen="filter" if purpose is f.Purpose.TASK_REASON else "",
            missing=int(purpose is f.Purpose.FOUND),
        )

    def command(self, name: CommandName) -> tuple[m.Message, ...]:
        """What is said to it. It must not be refused."""
        heard = (Hypothesis(Command(name), name.value, 1.0),)
        taken = Heard(self.owner.exchange, AnswerVerdict.ACCEPTED, heard, Source.VOICE, None)
        decision = self.owner.take(taken)
        assert not any(isinstance(fact, f.RequestRefused) for fact in decision.facts)
        return tuple(message for effect in decision.effects if isinstance(effect, Say) for message in effect.messages)

    @property
    def asked(self) -> f.Purpose:
        assert self.owner.visit.exchange is not None
        return self.owner.visit.exchange.purpose

    @property
    def question(self) -> tuple[m.Message, ...]:
        turn = Turn(self.owner.work, self.owner.visit, self.clock.now())
        return question(turn).full


@pytest.mark.parametrize("purpose", OWN_QUESTIONS)
def test_after_a_stop_the_question_is_asked_again(purpose: f.Purpose) -> None:
    visitor = Visitor(purpose)
    asked = visitor.question
    assert visitor.command(STOP) == ()
    since = visitor.owner.visit.stood_by
    visitor.clock.move(60)
    assert visitor.command(STOP) == ()
    assert visitor.owner.visit.stood_by == since
    assert visitor.command(CommandName.CARRY_ON) == (m.GoingOn(), *asked)
    assert visitor.asked is purpose


@pytest.mark.parametrize("purpose", OWN_QUESTIONS)
def test_a_call_for_help_leaves_the_question_open(purpose: f.Purpose) -> None:
    visitor = Visitor(purpose)
    for _ in range(2):
        assert visitor.command(HELP) == (m.HelpNeeded(),) * 3
        assert visitor.asked is purpose
        visitor.command(STOP)


@pytest.mark.parametrize("stopped", [False, True])
@pytest.mark.parametrize("purpose", OWN_QUESTIONS)
def test_the_work_that_is_not_ended_after_all_goes_on_at_its_step(purpose: f.Purpose, stopped: bool) -> None:
    visitor = Visitor(purpose)
    place = visitor.owner.visit.focus
    if stopped:
        visitor.command(STOP)
    if stopped or purpose is not f.Purpose.ENDING:
        assert any(isinstance(message, m.AskEnding) for message in visitor.command(END))
    assert visitor.asked is f.Purpose.ENDING
    assert visitor.owner.visit.chosen == ""
    assert visitor.owner.visit.stood_by is None
    said = visitor.command(CommandName.NEGATIVE)
    assert said == (m.GoingOn(), *visitor.question)
    assert visitor.owner.visit.focus == place
    assert visitor.asked is (purpose if purpose in (f.Purpose.STATE, f.Purpose.FOUND) else f.Purpose.STEP)


@pytest.mark.parametrize("purpose", OWN_QUESTIONS)
def test_the_work_can_be_ended_there(purpose: f.Purpose) -> None:
    visitor = Visitor(purpose)
    if purpose is not f.Purpose.ENDING:
        visitor.command(END)
    visitor.command(CommandName.AFFIRM)
    assert visitor.owner.visit.ended == f.WorkEnded(False, s.EndedByTechnician())


@pytest.mark.parametrize("command", [END, CommandName.HAND_OVER])
def test_a_long_pause_forgets_the_engine_however_it_ends(command: CommandName) -> None:
    """After a long pause that ended with another command than `carry on` the engine still counted as isolated."""
    visitor = Visitor(f.Purpose.REASON)
    learned = StateValue(Known.YES, "proof", visitor.clock.now(), None)
    visitor.owner.visit = replace(visitor.owner.visit, state={"isolated": learned})
    visitor.command(STOP)
    visitor.clock.move(LONG_PAUSE + 1)
    assert m.LongPause() in visitor.command(command)
    assert visitor.owner.visit.state == {}


def test_a_task_is_not_added_after_a_long_pause() -> None:
    visitor = Visitor(f.Purpose.TASK_REASON)
    visitor.command(STOP)
    visitor.clock.move(LONG_PAUSE + 1)
    assert m.LongPause() in visitor.command(CommandName.CARRY_ON)
    assert (visitor.owner.visit.chosen, visitor.asked) == ("", f.Purpose.STEP)
