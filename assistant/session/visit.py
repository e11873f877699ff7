"""The visit: the fold of its facts. `apply` is the only way in which it changes.

Knows identifiers of tasks and steps, never their content: an old journal folds after any edit of a procedure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from enum import StrEnum
from typing import assert_never

from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session.inputs import Clip, Instant, Order, Source

RECENT = 2  # titles of the last steps done that are told after a break


class Outcome(StrEnum):
    """How a step ended."""

    DONE = "done"
    SKIPPED = "skipped"
    PASSED_OVER = "passed over"


@dataclass(frozen=True, slots=True)
class Pending:
    """A reading that was heard and is not confirmed."""

    quantity: Quantity
    confidence: float
    clip: Clip | None
    source: Source
    doubt: str


@dataclass(frozen=True, slots=True)
class Unitless:
    """A number that was heard and whose unit is asked for. called: the word that several units are called by."""

    value: Decimal
    called: str
    confidence: float
    clip: Clip | None
    source: Source


@dataclass(frozen=True, slots=True)
class Exchange:
    """The one open exchange. failures: failed hearings in this manner; refused: read-backs refused so far."""

    number: int
    purpose: f.Purpose
    stage: f.Stage = f.Stage.ASKING
    manner: f.Manner = f.Manner.PLAIN
    failures: int = 0
    refused: int = 0
    pending: Pending | None = None
    collected: tuple[Pending, ...] = ()
    questioned: Quantity | None = None
    unitless: Unitless | None = None


@dataclass(frozen=True, slots=True)
class StateValue:
    """What is known of a variable: its value, who or what said so, when, and until when (None: until it changes)."""

    value: f.Known
    because: str
    at: Instant
    lasts: float | None


@dataclass(frozen=True, slots=True)
class RunningTimer:
    """A timer that runs. run: which start of it; started: when; seconds: its whole length."""

    run: int
    started: Instant
    seconds: float


@dataclass(frozen=True, slots=True)
class Visit:
    """All that has happened, as far as the next decision needs it."""

    order: Order | None = None
    focus: f.StepPlace | None = None
    outcomes: Mapping[f.StepPlace, Outcome] = field(default_factory=dict)
    passed_by: Mapping[f.StepPlace, f.StepPlace] = field(default_factory=dict)
    last_done: f.StepPlace | None = None
    exchange: Exchange | None = None
    exchanges: int = 0
    state: Mapping[str, StateValue] = field(default_factory=dict)
    timers: Mapping[str, RunningTimer] = field(default_factory=dict)
    timer_runs: Mapping[str, int] = field(default_factory=dict)
    elapsed: frozenset[str] = frozenset()
    readings: tuple[f.ReadingRecorded, ...] = ()
    told: tuple[tuple[f.Fact, Instant], ...] = ()  # what this visit adds to the asset's history, from its beginning
    plan: tuple[f.PlannedStage, ...] = ()  # none where the procedures ordered follow one another
    stages_done: frozenset[f.Passage] = frozenset()
    chosen: str = ""  # the task that is to be added, while its reason is asked for
    findings: tuple[f.FindingRecorded, ...] = ()
    missing: int = 0  # things that fell and are neither found nor excused
    stood_by: Instant | None = None
    half_done: f.StepPlace | None = None
    rounds: int = 0
    recent: tuple[str, ...] = ()
    technician: str = ""
    hindered: int = 0  # how often something was in the way of hearing
    loudness: int = 0
    pace: int = 0
    ended: f.WorkEnded | None = None
    latest: Instant | None = None  # of the last fact after which something could be said; the clock is held against it

    def known(self, variable: str, at: Instant) -> f.Known:
        """What is known of a variable of the engine's state at a moment; past its time or in another boot, unknown."""
        entry = self.state.get(variable)
        if entry is None or entry.at.boot != at.boot:
            return f.Known.UNKNOWN
        if entry.lasts is not None and at.seconds - entry.at.seconds > entry.lasts:
            return f.Known.UNKNOWN
        return entry.value

    def remaining(self, timer: str, at: Instant) -> float:
        """Seconds that a running timer still has; its whole length when it crossed a boot; 0 when it does not run."""
        running = self.timers.get(timer)
        if running is None:
            return 0.0
        if running.started.boot != at.boot:
            return running.seconds
        return max(0.0, running.seconds - (at.seconds - running.started.seconds))


def apply(visit: Visit, fact: f.Fact, at: Instant) -> Visit:
    """The visit after one fact that happened at a moment."""
    after = _applied(visit, fact, at)
    unanswered = isinstance(fact, f.Spoken | f.LateAnswerDropped)  # nothing can be said of the clock then
    return after if unanswered else replace(after, latest=at)


def _applied(visit: Visit, fact: f.Fact, at: Instant) -> Visit:
    match fact:
        case f.WorkTakenUp():
            return replace(visit, order=fact.order, technician=fact.order.technician, told=((fact, at),))
        case f.WorkTakenUpAgain():
            return replace(visit, state={}, exchange=None, stood_by=None, technician=fact.technician)
        case f.WorkHandedOver():
            return replace(visit, state={}, technician=fact.technician)
        case f.VisitPlanned():
            planned = {stage.passage for stage in fact.stages}
            last = visit.last_done if visit.last_done and visit.last_done.passage in planned else None
            return replace(visit, plan=fact.stages, focus=None, last_done=last, told=(*visit.told, (fact, at)))
        case f.StageDone():
            done = visit.stages_done | {fact.stage.passage}
            return replace(visit, stages_done=done, told=(*visit.told, (fact, at)))
        case f.TaskChosen():
            return replace(visit, chosen=fact.task)
        case f.TaskAdded():
            return replace(visit, chosen="")
        case f.StepReached():
            elapsed = visit.elapsed - {fact.place.step}
            return replace(visit, focus=fact.place, elapsed=elapsed, half_done=None, rounds=0)
        case f.StepDone():
            outcomes = {**visit.outcomes, fact.place: Outcome.DONE}
            recent = (*visit.recent, fact.title)[-RECENT:]
            return replace(visit, outcomes=outcomes, last_done=fact.place, focus=None, recent=recent)
        case f.StepSkipped():
            outcomes = {**visit.outcomes, fact.place: Outcome.SKIPPED}
            return replace(visit, outcomes=outcomes, last_done=fact.place, focus=None)
        case f.StepPassedOver():
            outcomes = {**visit.outcomes, fact.place: Outcome.PASSED_OVER}
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
                told=(*visit.told, (fact, at)),
            )
        case f.ExchangeOpened():
            return replace(visit, exchange=Exchange(fact.exchange, fact.purpose), exchanges=fact.exchange)
        case f.ExchangeClosed():
            return replace(visit, exchange=None)
        case f.HearingFailed():
            exchange = _open(visit)
            hindered = visit.hindered + (fact.hindrance is not None)
            return replace(visit, exchange=replace(exchange, failures=exchange.failures + 1), hindered=hindered)
        case f.MannerChanged():
            return replace(visit, exchange=replace(_open(visit), manner=fact.manner, failures=0))
        case f.UnitAsked():
            unitless = Unitless(fact.value, fact.called, fact.confidence, fact.clip, fact.source)
            exchange = replace(
                _open(visit), stage=f.Stage.COMPLETING, unitless=unitless, manner=f.Manner.PLAIN, failures=0
            )
            return replace(visit, exchange=exchange)
        case f.UnitTakenBack():
            exchange = replace(_open(visit), stage=f.Stage.ASKING, unitless=None, manner=f.Manner.PLAIN, failures=0)
            return replace(visit, exchange=exchange)
        case f.ReadingHeard():
            pending = Pending(fact.quantity, fact.confidence, fact.clip, fact.source, fact.doubt)
            exchange = replace(
                _open(visit),
                stage=f.Stage.CONFIRMING,
                pending=pending,
                unitless=None,
                manner=f.Manner.PLAIN,
                failures=0,
            )
            return replace(visit, exchange=exchange)
        case f.ReadingQuestioned():
            exchange = replace(_open(visit), stage=f.Stage.ASKING, questioned=fact.quantity, unitless=None)
            return replace(visit, exchange=exchange)
        case f.ReadBackRefused():
            exchange = _open(visit)
            exchange = replace(exchange, stage=f.Stage.ASKING, pending=None, failures=0, refused=exchange.refused + 1)
            return replace(visit, exchange=exchange)
        case f.ReadingCollected():
            exchange = _open(visit)
            pending = Pending(fact.quantity, fact.confidence, fact.clip, fact.source, fact.doubt)
            stage = f.Stage.CONFIRMING if fact.last else f.Stage.ASKING
            exchange = replace(
                exchange,
                stage=stage,
                collected=(*exchange.collected, pending),
                questioned=None,
                unitless=None,
                manner=f.Manner.PLAIN,
                failures=0,
            )
            return replace(visit, exchange=exchange)
        case f.SetRefused():
            exchange = _open(visit)
            exchange = replace(exchange, stage=f.Stage.ASKING, collected=(), failures=0, refused=exchange.refused + 1)
            return replace(visit, exchange=exchange)
        case f.HalfDone():
            return replace(visit, half_done=fact.place)
        case f.AnswerRecorded():
            return replace(visit, rounds=visit.rounds + 1, told=(*visit.told, (fact, at)))
        case f.ReadingRecorded():
            return replace(visit, readings=(*visit.readings, fact), told=(*visit.told, (fact, at)))
        case f.ReadingWithdrawn():
            kept = tuple(reading for reading in visit.readings if reading.place != fact.place)
            return replace(visit, readings=kept, told=(*visit.told, (fact, at)))
        case f.PartFitted() | f.NoteKept():
            return replace(visit, told=(*visit.told, (fact, at)))
        case f.FindingRecorded():
            return replace(visit, findings=(*visit.findings, fact), told=(*visit.told, (fact, at)))
        case f.ObjectDropped():
            return replace(visit, missing=visit.missing + 1)
        case f.ObjectAccounted():
            return replace(visit, missing=max(0, visit.missing - 1))
        case f.TimerStarted():
            timers = {**visit.timers, fact.timer: RunningTimer(fact.run, at, fact.seconds)}
            return replace(visit, timers=timers, timer_runs={**visit.timer_runs, fact.timer: fact.run})
        case f.TimerEnded():
            timers = {name: timer for name, timer in visit.timers.items() if name != fact.timer}
            return replace(visit, timers=timers, elapsed=visit.elapsed | {fact.timer})
        case f.StateLearned():
            entry = StateValue(fact.value, fact.because, at, fact.lasts)
            return replace(visit, state={**visit.state, fact.variable: entry})
        case f.StateForgotten():
            return replace(visit, state={})
        case f.VoiceChanged():
            return replace(visit, loudness=fact.loudness, pace=fact.pace)
        case f.StoodBy():
            return replace(visit, stood_by=at)
        case f.CarriedOn():
            return replace(visit, stood_by=None)
        case f.WorkEnded():
            told = (*visit.told, (fact, at))
            return replace(visit, ended=fact, exchange=None, focus=None, timers={}, told=told)
        case (
            f.SalvageMade()
            | f.ClockDoubted()
            | f.WorkedBeside()
            | f.FilesSetAside()
            | f.CopyReplaced()
            | f.HoldPointPassed()
            | f.TaskPutOff()
            | f.HistoryTakenOver()
            | f.DoneBefore()
            | f.CalculationRecorded()
            | f.PartRefused()
            | f.HelpCalled()
            | f.RequestRefused()
            | f.LateAnswerDropped()
            | f.Spoken()
            | f.DeviceLost()
        ):
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)


def fold(facts: Iterable[tuple[f.Fact, Instant]], visit: Visit | None = None) -> Visit:
    """The visit after many facts, in order."""
    result = Visit() if visit is None else visit
    for fact, at in facts:
        result = apply(result, fact, at)
    return result


def _open(visit: Visit) -> Exchange:
    if visit.exchange is None:
        raise ValueError("a fact of an exchange came while none was open")
    return visit.exchange
