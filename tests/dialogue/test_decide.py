"""Whatever happens in whatever order: `decide` never raises, and a hold point passes on its own phrase only.

Visits are made of random inputs over the procedure of the dialogue tests. After each input the laws below are held.
"""

from __future__ import annotations

from copy import deepcopy
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from assistant.dialogue import messages as m
from assistant.dialogue.decide import decide, prompt
from assistant.dialogue.effects import Cue, CueSound, Decision, Finish, Listen, Say, SetVoice, StartTimer
from assistant.dialogue.work import Work
from assistant.edge.files.library import order_work
from assistant.grammar.expectation import Expectation, Offer
from assistant.meanings import Amount, Answer, Command, CommandName, Hypothesis, Meaning, Passphrase, Reason
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.session import facts as f
from assistant.session.applying import fold
from assistant.session.inputs import (
    AnswerVerdict,
    ButtonPressed,
    DeviceVanished,
    Envelope,
    Heard,
    Input,
    Instant,
    PromptPlayed,
    Said,
    Silence,
    Source,
    TimerRanOut,
    WorkOrdered,
    WorkResumed,
)
from assistant.session.visit import StepOutcome, Visit
from assistant.statements import kinds as s

ORDERED = order_work("bench", ("service",), "technician", Path(__file__).parent.parent / "dialogues")
WORK = ORDERED.work
HOLDS = {placed.place: placed.step for placed in WORK.steps if isinstance(placed.step, HoldPoint)}
NUMBERS = tuple(map(Decimal, ("0", "15", "36.5", "50", "320", "12.0", "700", "9999", "-12")))
FOREIGN: tuple[Meaning, ...] = (
    Passphrase("another"),
    Passphrase("look"),
    Answer("no such answer"),
    Answer("good"),
    Reason("no_part"),
    Reason("no such reason"),
    Amount(Decimal(15), None),
    Amount(Decimal(15), "kPa"),
    Amount(Decimal(15), "mm"),
    Amount(Decimal(15), "psi"),
    Amount(Decimal(99999), "bar"),
    Amount(Decimal(15), "gallons"),
    Answer("US gal"),
    *(Command(name) for name in CommandName),
)


START = datetime(2026, 3, 2, 8, tzinfo=UTC)


@dataclass
class World:
    """A visit that is attended, with the laws that hold for every decision."""

    visit: Visit = field(default_factory=Visit)
    number: int = 0
    seconds: float = 0.0
    boot: int = 1
    expectation: Expectation | None = None
    timers: list[StartTimer] = field(default_factory=list)
    facts: list[tuple[f.Fact, Instant]] = field(default_factory=list)

    @property
    def at(self) -> Instant:
        wall = START + timedelta(minutes=self.boot, seconds=self.seconds)
        return Instant(wall.isoformat(), self.seconds, f"boot {self.boot}")

    @property
    def exchange(self) -> int:
        return self.visit.exchange.number if self.visit.exchange else 0

    def take(self, given_input: Input) -> Decision:
        self.number += 1
        envelope = Envelope(self.number, self.at, given_input)
        before, kept = self.visit, deepcopy(self.visit)
        decision = decide(WORK, before, envelope)
        assert before == kept, "the visit was changed in place"
        assert decide(WORK, before, envelope) == decision, "the same arguments gave another decision"
        after = fold(((fact, envelope.at) for fact in decision.facts), before)
        self.facts += [(fact, envelope.at) for fact in decision.facts]
        self.visit = after
        late_answers_change_nothing(before, given_input, decision)
        nothing_follows_the_end(before, decision)
        only_what_was_accepted_moves_an_exchange(before, after, given_input)
        hold_points_pass_on_their_phrase_only(before, given_input, decision)
        nothing_is_left_behind(after)
        effects_belong_to_the_open_exchange(after, decision)
        for effect in decision.effects:
            if isinstance(effect, StartTimer):
                self.timers.append(effect)
            elif isinstance(effect, Listen):
                self.expectation = effect.expectation
        assert prompt(WORK, after, envelope) == prompt(WORK, after, envelope)
        return decision

    def hear(
        self, *meanings: Meaning, verdict: AnswerVerdict = AnswerVerdict.ACCEPTED, confidence: float = 0.9
    ) -> Decision:
        hypotheses = tuple(Hypothesis(meaning, "words", confidence / (1 + at)) for at, meaning in enumerate(meanings))
        return self.take(Heard(self.exchange, verdict, hypotheses, Source.VOICE, None))


def late_answers_change_nothing(before: Visit, given_input: Input, decision: Decision) -> None:
    if not isinstance(given_input, Heard | Silence | ButtonPressed):
        return
    late = before.exchange is None or before.exchange.number != given_input.exchange
    if late:
        assert decision == Decision((f.LateAnswerDropped(given_input.exchange),), ())
    else:
        assert not any(isinstance(fact, f.LateAnswerDropped) for fact in decision.facts)


def nothing_follows_the_end(before: Visit, decision: Decision) -> None:
    if before.ended is not None:
        assert decision.effects == ()
        assert not any(isinstance(fact, f.WorkEnded | f.StepReached | f.ExchangeOpened) for fact in decision.facts)


def only_what_was_accepted_moves_an_exchange(before: Visit, after: Visit, given_input: Input) -> None:
    """Doubt, silence and the button leave the question where it is."""
    exchange = before.exchange
    if exchange is None or not isinstance(given_input, Heard | Silence | ButtonPressed):
        return
    sure = isinstance(given_input, Heard) and given_input.verdict is AnswerVerdict.ACCEPTED and given_input.hypotheses
    if given_input.exchange == exchange.number and not sure:
        assert after.exchange is not None
        assert (after.exchange.number, after.exchange.stage) == (exchange.number, exchange.stage)


def hold_points_pass_on_their_phrase_only(before: Visit, given_input: Input, decision: Decision) -> None:
    for fact in decision.facts:
        if not isinstance(fact, f.StepDone | f.StepSkipped | f.HoldPointPassed) or fact.place not in HOLDS:
            continue
        assert not isinstance(fact, f.StepSkipped)
        assert isinstance(given_input, Heard), f"{given_input} passed a hold point"
        assert given_input.verdict is AnswerVerdict.ACCEPTED
        assert given_input.hypotheses[0].meaning == Passphrase(fact.place.step)
        assert before.focus == fact.place
        assert before.exchange is not None
        assert before.exchange.number == given_input.exchange
        assert before.exchange.purpose is f.Purpose.STEP
        assert before.stood_by is None
        assert any(isinstance(other, f.HoldPointPassed) for other in decision.facts)


def nothing_is_left_behind(visit: Visit) -> None:
    """Work never goes on past a step that is neither done nor left out, and never stops without a question."""
    if visit.focus is not None:
        for placed in WORK.steps[: WORK.at(visit.focus).number - 1]:
            assert placed.place in visit.outcomes, (placed.place, visit.focus)
        assert visit.focus not in visit.outcomes
        assert visit.exchange is not None
    for place, outcome in visit.outcomes.items():
        assert not (place in HOLDS and outcome is StepOutcome.SKIPPED)
    if visit.ended is not None:
        assert visit.exchange is None
        assert not visit.ended.complete or set(visit.outcomes) == {placed.place for placed in WORK.steps}


def effects_belong_to_the_open_exchange(visit: Visit, decision: Decision) -> None:
    number = visit.exchange.number if visit.exchange else 0
    for effect in decision.effects:
        if isinstance(effect, Listen):
            assert effect.exchange == number > 0
            assert effect.expectation.offers
            assert effect.patience is None or effect.patience > 0
        elif isinstance(effect, Say):
            assert effect.exchange == number
            assert effect.messages
    kinds = [type(effect) for effect in decision.effects]
    assert kinds == sorted(kinds, key=[SetVoice, Cue, Say, StartTimer, Listen, Finish].index)
    assert (Finish in kinds) is any(isinstance(fact, f.WorkEnded) for fact in decision.facts)
    started = [fact for fact in decision.facts if isinstance(fact, f.TimerStarted)]
    if visit.ended is None:
        assert [effect.timer for effect in decision.effects if isinstance(effect, StartTimer)] == [
            fact.timer for fact in started
        ]


# --- what can happen --------------------------------------------------------------------------------------------


def meant(offer: Offer, pick: int) -> Meaning:
    """One thing that can be said within an offer."""
    if offer.meaning is Command:
        return Command(next(name for name in CommandName if offer.rule == f"<commands.{name.name.lower()}>"))
    if offer.meaning is Answer:
        return Answer(offer.key)
    if offer.meaning is Passphrase:
        return Passphrase(offer.key)
    if offer.meaning is Reason:
        return Reason(("no_part", "no_tool", "no_access", "not_fitted", "owner_asks", "already_done")[pick % 6])
    unit = None if pick % 2 else ("kPa" if "kilopascal" in offer.rule else "N.m")
    return Amount(NUMBERS[pick % len(NUMBERS)], unit)


def forward(world: World, pick: int) -> None:
    """What a technician who gets on with it would do: what was asked for, else the wait."""
    if world.expectation is None or world.visit.exchange is None or world.visit.focus is None:
        return
    offers = world.expectation.offers
    for name in (CommandName.AFFIRM, CommandName.NEXT, CommandName.CARRY_ON):
        rule = f"<commands.{name.name.lower()}>"
        own = [offer for offer in offers if offer.meaning is not Command]
        if own and name is not CommandName.CARRY_ON:
            offer = own[pick % len(own)]
            value = Decimal("320") if "kilopascal" in offer.rule else Decimal("36.5")
            said = Amount(value, None) if offer.meaning is Amount else meant(offer, pick)
            world.hear(said)
            return
        if any(offer.rule == rule for offer in offers):
            if name is CommandName.NEXT and world.timers:
                run_out(world, pick)
            else:
                world.hear(Command(name))
            return


def run_out(world: World, pick: int) -> None:
    """A timer that was started runs out in its time."""
    if world.timers:
        timer = world.timers.pop(pick % len(world.timers))
        world.seconds += timer.seconds
        world.take(TimerRanOut(timer.timer, timer.run))


def offered(world: World, pick: int) -> None:
    """Something that may be said now."""
    if world.expectation is not None:
        offers = world.expectation.offers
        world.hear(meant(offers[pick % len(offers)], pick // 7), confidence=(pick % 11) / 10)


def two_meanings(world: World, pick: int) -> None:
    """Two numbers that the ear confuses, or any two meanings."""
    if pick % 2:
        world.hear(Amount(Decimal(15), None), Amount(Decimal(50), None))
    elif world.expectation is not None:
        offers = world.expectation.offers
        world.hear(meant(offers[pick % len(offers)], pick), meant(offers[(pick // 3) % len(offers)], pick // 5))


def foreign(world: World, pick: int) -> None:
    """Something that may not be said now: a fault of the world, and still no reason to fall over."""
    world.hear(FOREIGN[pick % len(FOREIGN)])


def phrase(world: World, pick: int) -> None:
    """The phrase of a hold point, whatever is open."""
    world.hear(Passphrase(next(iter(HOLDS)).step))


def doubtful(world: World, pick: int) -> None:
    """Also the phrase of a hold point, heard in doubt."""
    if pick % 3 == 0 or world.expectation is None:
        world.hear(verdict=AnswerVerdict.DOUBTFUL)
    else:
        offers = world.expectation.offers
        world.hear(meant(offers[pick % len(offers)], pick), verdict=AnswerVerdict.DOUBTFUL, confidence=0.3)


def nothing_heard(world: World, pick: int) -> None:
    """Accepted, and yet without any meaning."""
    world.hear()


def silence(world: World, pick: int) -> None:
    """Nobody says anything."""
    world.seconds += 20
    world.take(Silence(world.exchange, 20.0))


def button(world: World, pick: int) -> None:
    """The button is pressed."""
    world.take(ButtonPressed(world.exchange))


def time_passes(world: World, pick: int) -> None:
    """A while, or so long that what was known is unknown."""
    world.seconds += (1.0, 60.0, 601.0, 1e5)[pick % 4]


def late(world: World, pick: int) -> None:
    """An answer to an exchange that is closed, or that never was."""
    number = (world.exchange - 1, 0, world.exchange + 1, -1)[pick % 4]
    if number == world.exchange:
        return
    placed = next(iter(HOLDS))
    answers: tuple[Input, ...] = (
        Heard(number, AnswerVerdict.ACCEPTED, (Hypothesis(Passphrase(placed.step), "words", 1.0),), Source.VOICE, None),
        Heard(number, AnswerVerdict.DOUBTFUL, (), Source.TYPED, None),
        Silence(number, 20.0),
        ButtonPressed(number),
    )
    world.take(answers[pick // 4 % len(answers)])


def wrong_timer(world: World, pick: int) -> None:
    """A timer that does not run, or an older start of it."""
    world.take(TimerRanOut(("settle", "no such timer")[pick % 2], (0, 1, 99)[pick % 3]))


def resumed(world: World, pick: int) -> None:
    """Power gone and back: another boot, another clock; the timers of the world are gone too."""
    world.boot += 1
    world.seconds = 5.0
    world.timers.clear()
    world.expectation = None
    world.take(WorkResumed(("technician", "supervisor")[pick % 2]))


def other_inputs(world: World, pick: int) -> None:
    """What is only noted, or does not fit at all."""
    given_input: Input = (
        PromptPlayed(world.exchange, (Said("StepText", "Wipe the block.", pick % 2 == 0),)),
        DeviceVanished("the microphone", "unplugged"),
        WorkOrdered(ORDERED.order),
    )[pick % 3]
    world.take(given_input)


INPUTS = (
    *(forward,) * 6,
    *(offered,) * 4,
    two_meanings,
    foreign,
    phrase,
    doubtful,
    nothing_heard,
    silence,
    button,
    time_passes,
    run_out,
    late,
    wrong_timer,
    resumed,
    other_inputs,
)


WELL = st.integers(-1, 16)
"""How often all went well before anything else happened; -1: not even the work was ordered."""
GIVEN = st.lists(st.tuples(st.sampled_from(INPUTS), st.integers(0, 10_000)), min_size=1, max_size=60)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(WELL, GIVEN)
def test_any_visit(well: int, inputs: list[tuple[object, int]]) -> None:
    any_visit(well, inputs)


@pytest.mark.long
@settings(max_examples=1_000, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(WELL, GIVEN)
def test_many_visits(well: int, inputs: list[tuple[object, int]]) -> None:
    any_visit(well, inputs)


def any_visit(well: int, inputs: list[tuple[object, int]]) -> None:
    world, work = World(), deepcopy(WORK)
    if well >= 0:
        world.take(WorkOrdered(ORDERED.order))
    for _ in range(well):
        forward(world, 1)
    for give, pick in inputs:
        assert callable(give)
        give(world, pick)
    assert fold(world.facts) == world.visit
    assert work == WORK, "the work was changed"
    event("ended" if world.visit.ended else f"{len(world.visit.outcomes)} steps done")


def test_the_way_forward_ends_the_work() -> None:
    """The random visits above can get to the end: this is how."""
    world = World()
    world.take(WorkOrdered(ORDERED.order))
    for _ in range(20):
        if world.visit.ended is None:
            forward(world, 1)
    assert world.visit.ended == f.WorkEnded(True, s.EveryStepDone())
    assert set(world.visit.outcomes.values()) == {StepOutcome.DONE}


def begun(until: str) -> World:
    """A visit in which everything went well up to a step."""
    world = World()
    world.take(WorkOrdered(ORDERED.order))
    while world.visit.focus is not None and world.visit.focus.step != until:
        forward(world, 1)
    assert world.visit.focus is not None
    return world


def said(decision: Decision) -> tuple[m.Message, ...]:
    return tuple(message for effect in decision.effects if isinstance(effect, Say) for message in effect.messages)


@pytest.mark.parametrize(
    "give",
    [f for f in dict.fromkeys(INPUTS) if f not in (forward, offered, two_meanings, phrase, resumed)],
    ids=lambda f: f.__name__,
)
def test_nothing_else_passes_a_hold_point(give: object) -> None:
    assert callable(give)
    for pick in range(60):
        world = begun("proof")
        give(world, pick)
        assert HOLDS.keys().isdisjoint(world.visit.outcomes)


def test_its_phrase_passes_a_hold_point() -> None:
    world = begun("proof")
    decision = world.hear(Passphrase("proof"))
    assert any(isinstance(fact, f.HoldPointPassed) for fact in decision.facts)


def test_its_phrase_passes_nothing_while_the_assistant_stands_by() -> None:
    world = begun("proof")
    world.hear(Command(CommandName.STAND_BY))
    decision = world.hear(Passphrase("proof"))
    assert [type(fact) for fact in decision.facts] == [f.RequestRefused]


def test_ending_the_work_while_standing_by_can_be_answered() -> None:
    world = begun("proof")
    world.hear(Command(CommandName.STAND_BY))
    world.seconds += 5
    decision = world.hear(Command(CommandName.END_WORK))
    assert f.CarriedOn(5.0) in decision.facts
    assert m.AskEnding(6) in said(decision)
    assert world.expectation is not None
    assert "<commands.affirm>" in {offer.rule for offer in world.expectation.offers}
    assert world.hear(Command(CommandName.AFFIRM)).effects[-1] == Finish()


@pytest.mark.parametrize("name", CommandName)
def test_no_command_passes_a_hold_point(name: CommandName) -> None:
    world = begun("proof")
    place = world.visit.focus
    world.hear(Command(name))
    assert place not in world.visit.outcomes


def test_a_refused_command_is_answered_in_plain_words() -> None:
    world = begun("proof")
    before = replace(world.visit)
    decision = world.hear(Command(CommandName.AFFIRM))
    assert [type(fact) for fact in decision.facts] == [f.RequestRefused]
    assert said(decision)
    assert world.visit == before


def test_fifteen_or_fifty_asks_for_the_digits() -> None:
    world = begun("pressure")
    decision = world.hear(Amount(Decimal(15), None), Amount(Decimal(50), "kPa"))
    failed = [fact for fact in decision.facts if isinstance(fact, f.HearingFailed)]
    assert [fact.failure for fact in failed] == [f.Failure.TEEN_OR_TEN]
    assert any(fact == f.MannerChanged(world.exchange, f.Manner.DIGITS) for fact in decision.facts)
    assert not any(isinstance(fact, f.ReadingHeard) for fact in decision.facts)
    assert m.DigitByDigit("oil pressure") in said(decision)
    (listens,) = (effect for effect in decision.effects if isinstance(effect, Listen))
    rules = [offer.rule for offer in listens.expectation.offers if offer.meaning is Amount]
    assert len(rules) == 1
    assert rules[0].startswith("<numbers.digits>")
    digits = world.hear(Amount(Decimal(15), None), Amount(Decimal(50), None))  # one five: the digits do not confuse
    assert any(isinstance(fact, f.ReadingHeard) for fact in digits.facts)


def test_fifteen_beside_another_meaning_is_taken() -> None:
    for other in (Amount(Decimal(16), None), Command(CommandName.NEXT), Amount(Decimal(150), None)):
        decision = begun("pressure").hear(Amount(Decimal(15), None), other)
        assert any(isinstance(fact, f.ReadingHeard) for fact in decision.facts), other


def test_an_amount_in_a_foreign_unit_is_refused() -> None:
    """It failed with a traceback: no grammar offers the unit, but what comes in is not always what was offered."""
    world = begun("pressure")
    decision = world.hear(Amount(Decimal(15), "mm"))
    assert [type(fact) for fact in decision.facts] == [f.RequestRefused]
    assert said(decision)[0] == m.NotHere()


def test_cues_tell_what_became_of_an_utterance() -> None:
    world = begun("pressure")
    assert world.hear(verdict=AnswerVerdict.DOUBTFUL).effects[0] == Cue(CueSound.UNCLEAR)
    assert world.hear(Amount(Decimal(320), None)).effects[0] == Cue(CueSound.HEARD)


def test_the_way_of_asking_changes_after_two_failures_each() -> None:
    world = begun("pressure")
    ways = [f.Manner.PLAIN]
    for _ in range(10):
        decision = world.hear(verdict=AnswerVerdict.DOUBTFUL)
        ways += [fact.manner for fact in decision.facts if isinstance(fact, f.MannerChanged)]
    assert ways == [f.Manner.PLAIN, f.Manner.CHOICES, f.Manner.DIGITS, f.Manner.MANUAL]


def test_of_a_timer_that_is_over_nothing_is_recorded() -> None:
    """It was recorded as an answer that came too late."""
    world = begun("wipe")
    world.hear(Command(CommandName.NEXT))
    (timer,) = world.timers
    for run in (timer.run - 1, timer.run + 1):
        assert world.take(TimerRanOut(timer.timer, run)) == Decision((), ())
    assert world.take(TimerRanOut(timer.timer, timer.run)).facts
    assert world.take(TimerRanOut(timer.timer, timer.run)) == Decision((), ())


def test_the_work_is_what_it_was() -> None:
    assert isinstance(WORK, Work)
    assert order_work("bench", ("service",), "technician", Path(__file__).parent.parent / "dialogues").work == WORK
