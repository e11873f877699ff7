"""What the facts of steps change of a visit."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import RECENT, RunningTimer, StepOutcome, Visit


def apply_step(visit: Visit, fact: f.StepFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.StepReached():
            elapsed = visit.elapsed - {fact.place.step}
            return replace(visit, focus=fact.place, elapsed=elapsed, half_done=None, rounds=0)
        case f.StepDone():
            outcomes = {**visit.outcomes, fact.place: StepOutcome.DONE}
            recent = (*visit.recent, fact.title)[-RECENT:]
            return replace(visit, outcomes=outcomes, last_done=fact.place, focus=None, recent=recent)
        case f.StepSkipped():
            outcomes = {**visit.outcomes, fact.place: StepOutcome.SKIPPED}
            return replace(visit, outcomes=outcomes, last_done=fact.place, focus=None)
        case f.StepPassedOver():
            outcomes = {**visit.outcomes, fact.place: StepOutcome.PASSED_OVER}
            return replace(visit, outcomes=outcomes, passed_by={**visit.passed_by, fact.place: fact.by})
        case f.StepReopened():
            outcomes = {place: outcome for place, outcome in visit.outcomes.items() if place != fact.place}
            last = None if visit.last_done == fact.place else visit.last_done
            passed_by = {place: by for place, by in visit.passed_by.items() if place != fact.place}
            return replace(
                visit,
                outcomes=outcomes,
                last_done=last,
                focus=None,
                passed_by=passed_by,
                stages_done=visit.stages_done - {fact.place.passage},
                history_facts=(*visit.history_facts, (fact, at)),
            )
        case f.HalfDone():
            return replace(visit, half_done=fact.place)
        case f.AnswerRecorded():
            return replace(visit, rounds=visit.rounds + 1, history_facts=(*visit.history_facts, (fact, at)))
        case f.TimerStarted():
            timers = {**visit.timers, fact.timer: RunningTimer(fact.run, at, fact.seconds)}
            return replace(visit, timers=timers, timer_runs={**visit.timer_runs, fact.timer: fact.run})
        case f.TimerEnded():
            timers = {name: timer for name, timer in visit.timers.items() if name != fact.timer}
            return replace(visit, timers=timers, elapsed=visit.elapsed | {fact.timer})
        case f.HoldPointPassed():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
