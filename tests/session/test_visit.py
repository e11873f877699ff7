"""The fold: pure, the same at once and one by one, and honest about what is not known any more."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import replace
from decimal import Decimal

import pytest
from every import FACTS, examples

from assistant.engine_state import Known
from assistant.errors import ExchangeError
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session.applying import apply, fold
from assistant.session.exchange_table import TRANSITIONS, event_of
from assistant.session.inputs import Instant, Source
from assistant.session.visit import Exchange, Pending, RunningTimer, StateValue, StepOutcome, Visit

AT = Instant("2026-03-02T08:00:00.000+00:00", 100.0, "boot")
LOOK, PRESSURE = f.StepPlace("service", "look"), f.StepPlace("service", "pressure")
READING = f.ReadingRecorded(
    PRESSURE,
    "oil pressure",
    Quantity(Decimal("320"), "kPa"),
    f.ReadingStage.AS_FOUND,
    "200 kPa to 450 kPa",
    f.ReadingVerdict.WITHIN,
    0.9,
    "",
    None,
    Source.VOICE,
)


def later(seconds: float, boot: str = "boot") -> Instant:
    return replace(AT, seconds=AT.seconds + seconds, boot=boot)


def busy() -> Visit:
    """A visit in the middle of everything."""
    pending = Pending(Quantity(Decimal("91"), "°C"), 0.8, None, Source.VOICE, "")
    return Visit(
        focus=PRESSURE,
        outcomes={LOOK: StepOutcome.DONE},
        last_done=LOOK,
        exchange=Exchange(7, f.Purpose.STEP, f.ExchangeStage.CONFIRMING, f.Manner.CHOICES, 1, 1, pending),
        exchanges=7,
        state={"isolated": StateValue(Known.YES, "proved", AT, None)},
        timers={"settle": RunningTimer(1, AT, 120.0)},
        timer_runs={"settle": 1},
        elapsed=frozenset({"cool-down"}),
        readings=(READING,),
        findings=(f.FindingRecorded(LOOK, "Wet under the pump"),),
        stood_by=AT,
    )


def allowing(fact: f.Fact) -> Visit:
    """The busy visit, its exchange in a stage that allows the fact."""
    visit, event = busy(), event_of(fact)
    stages = [stage for stage, allowed in TRANSITIONS if allowed is event]
    if visit.exchange is None or event is None or visit.exchange.stage in stages:
        return visit
    stage = stages[0]
    return replace(visit, exchange=None if stage is None else replace(visit.exchange, stage=stage))


@pytest.mark.parametrize("kind", FACTS, ids=lambda kind: kind.__name__)
def test_apply_changes_no_visit_and_always_says_the_same(kind: type[f.Fact]) -> None:
    for fact in examples(kind):
        visit = allowing(fact)
        kept = deepcopy(visit)
        after = apply(visit, fact, later(5))
        assert visit == kept
        assert apply(visit, fact, later(5)) == after
        assert after.exchanges >= 0


@pytest.mark.parametrize("count", [1_000, pytest.param(10_000, marks=pytest.mark.long)])
def test_a_fold_of_many_decisions_is_the_same_at_once_and_one_by_one(count: int) -> None:
    facts: list[tuple[f.Fact, Instant]] = []
    for number in range(1, count + 1):
        place, at = f.StepPlace("service", f"step-{number % 200}"), later(number)
        facts += [
            (f.StepReached(place, "A step", "steps"), at),
            (f.ExchangeOpened(number, f.Purpose.STEP), at),
            *([(f.HearingFailed(number, f.Failure.DOUBTFUL, "", None), at)] if number % 3 == 0 else []),
            *([(f.StateLearned(f"v{number % 7}", Known.YES, "seen", 60.0), at)] if number % 5 == 0 else []),
            *([(replace(READING, place=place), at)] if number % 100 == 0 else []),
            (f.ExchangeClosed(number), at),
            (f.StepDone(place, "A step"), at),
        ]
    whole = fold(facts)
    single = Visit()
    for fact, at in facts:
        single = apply(single, fact, at)
    assert whole == single
    assert whole.exchanges == count
    assert len(whole.outcomes) == 200
    assert len(whole.readings) == count // 100
    for cut in (0, 1, 777, len(facts) - 1, len(facts)):
        assert fold(facts[cut:], fold(facts[:cut])) == whole


class TestWhatIsKnown:
    def learn(self, lasts: float | None) -> Visit:
        return apply(Visit(), f.StateLearned("isolated", Known.YES, "proved dead", lasts), AT)

    def test_a_variable_that_nobody_told_of_is_unknown(self) -> None:
        assert Visit().known("isolated", AT) is Known.UNKNOWN
        assert self.learn(None).known("running", AT) is Known.UNKNOWN

    def test_until_it_changes(self) -> None:
        visit = self.learn(None)
        assert visit.known("isolated", later(1e6)) is Known.YES
        changed = apply(visit, f.StateLearned("isolated", Known.NO, "restored", None), later(5))
        assert changed.known("isolated", later(5)) is Known.NO

    def test_until_its_time_is_over(self) -> None:
        visit = self.learn(60.0)
        assert visit.known("isolated", later(60)) is Known.YES
        assert visit.known("isolated", later(60.001)) is Known.UNKNOWN

    @pytest.mark.parametrize("lasts", [None, 60.0])
    def test_not_across_a_boot(self, lasts: float | None) -> None:
        """The monotonic clock began anew: nobody knows how long the machine was off."""
        visit = self.learn(lasts)
        assert visit.known("isolated", replace(AT, boot="another")) is Known.UNKNOWN
        assert visit.known("isolated", later(-99, "another")) is Known.UNKNOWN

    @pytest.mark.parametrize("fact", [f.StateForgotten("a long pause"), f.WorkTakenUpAgain("supervisor")])
    def test_not_after_a_break(self, fact: f.Fact) -> None:
        assert apply(self.learn(None), fact, later(1)).known("isolated", later(1)) is Known.UNKNOWN


class TestTimers:
    visit = apply(Visit(), f.TimerStarted("settle", 1, 120.0), AT)

    def test_what_is_left(self) -> None:
        assert self.visit.remaining("settle", AT) == 120.0
        assert self.visit.remaining("settle", later(30)) == 90.0
        assert self.visit.remaining("settle", later(120)) == 0.0
        assert self.visit.remaining("settle", later(500)) == 0.0

    def test_nothing_is_left_of_one_that_does_not_run(self) -> None:
        assert self.visit.remaining("cool-down", AT) == 0.0
        ended = apply(self.visit, f.TimerEnded("settle", 1), later(120))
        assert ended.remaining("settle", later(120)) == 0.0
        assert ended.elapsed == {"settle"}

    def test_across_a_boot_its_whole_length_is_left(self) -> None:
        assert self.visit.remaining("settle", replace(AT, seconds=119.0, boot="another")) == 120.0

    def test_a_restart_counts(self) -> None:
        again = apply(self.visit, f.TimerStarted("settle", 2, 120.0), later(60))
        assert again.remaining("settle", later(60)) == 120.0
        assert again.timer_runs == {"settle": 2}


class TestTheExchange:
    @pytest.mark.parametrize(
        "fact",
        [
            f.HearingFailed(1, f.Failure.SILENCE, "", None),
            f.MannerChanged(1, f.Manner.DIGITS),
            f.ReadingHeard(1, Quantity(Decimal(1), "bar"), 0.9, None, Source.VOICE, ""),
            f.ReadingQuestioned(1, Quantity(Decimal(1), "bar"), "", None),
            f.ReadBackRefused(1, Quantity(Decimal(1), "bar")),
        ],
        ids=lambda fact: type(fact).__name__,
    )
    def test_its_facts_need_it_open(self, fact: f.Fact) -> None:
        with pytest.raises(ExchangeError):
            apply(Visit(), fact, AT)

    def test_a_new_manner_starts_the_count_anew(self) -> None:
        opened = fold(
            [
                (f.ExchangeOpened(1, f.Purpose.STEP), AT),
                (f.HearingFailed(1, f.Failure.DOUBTFUL, "", None), AT),
                (f.HearingFailed(1, f.Failure.DOUBTFUL, "", None), AT),
            ]
        )
        assert opened.exchange is not None
        assert opened.exchange.failures == 2
        changed = apply(opened, f.MannerChanged(1, f.Manner.CHOICES), AT)
        assert changed.exchange == Exchange(1, f.Purpose.STEP, manner=f.Manner.CHOICES)

    def test_a_late_answer_and_other_remarks_change_nothing(self) -> None:
        visit = busy()
        for fact in (
            f.LateAnswerDropped(3),
            f.RequestRefused("next", "HoldStays"),
            f.Spoken(()),
            f.DeviceLost("the microphone", "unplugged"),
            f.HoldPointPassed(LOOK, "Proof", 0.9, None, Source.VOICE),
        ):
            unanswered = isinstance(fact, f.LateAnswerDropped | f.Spoken)
            latest = visit.latest if unanswered else later(9)  # against which the clock is held
            assert apply(visit, fact, later(9)) == replace(visit, latest=latest)


class TestSteps:
    def test_done_skipped_reopened(self) -> None:
        done = apply(Visit(focus=LOOK), f.StepDone(LOOK, "Look"), AT)
        assert (done.outcomes, done.last_done, done.focus) == ({LOOK: StepOutcome.DONE}, LOOK, None)
        skipped = apply(done, f.StepSkipped(PRESSURE, "Pressure", "owner asks for it", None), AT)
        assert skipped.outcomes == {LOOK: StepOutcome.DONE, PRESSURE: StepOutcome.SKIPPED}
        reopened = apply(skipped, f.StepReopened(PRESSURE, "Pressure", "correction"), AT)
        assert (reopened.outcomes, reopened.last_done) == ({LOOK: StepOutcome.DONE}, None)

    def test_a_withdrawn_reading_counts_no_more(self) -> None:
        other = replace(READING, place=LOOK)
        visit = Visit(readings=(READING, other, READING))
        withdrawn = f.ReadingWithdrawn(PRESSURE, "oil pressure", READING.quantity)
        assert apply(visit, withdrawn, AT).readings == (other,)

    def test_a_step_that_is_reached_anew_waits_anew(self) -> None:
        visit = Visit(elapsed=frozenset({"settle", "cool-down"}))
        assert apply(visit, f.StepReached(f.StepPlace("service", "settle"), "Settle", "steps"), AT).elapsed == {
            "cool-down"
        }

    def test_the_end_closes_everything(self) -> None:
        ended = f.WorkEnded(False, "the technician ended it")
        visit = apply(busy(), ended, AT)
        assert (visit.ended, visit.exchange, visit.focus, visit.timers) == (ended, None, None, {})
