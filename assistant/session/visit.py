"""The visit: the fold of its facts. `applying.apply` is the only way in which it changes.

Knows identifiers of tasks and steps, never their content: an old journal folds after any edit of a procedure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from assistant.engine_state import Known
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session.inputs import Clip, Instant, Order, Source

RECENT = 2  # titles of the last steps done that are spoken after a break


class StepOutcome(StrEnum):
    """How a step ended."""

    DONE = "done"
    SKIPPED = "skipped"
    PASSED_OVER = "passed over"


@dataclass(frozen=True, slots=True)
class Pending:
    """A reading that was heard and is not confirmed.

    quantity: as it was said.
    confidence: of the hearing, 0 to 1.
    clip: the sound of it; None where there is none.
    source: voice or keyboard.
    doubt: why it is not to be trusted; empty when it is.
    """

    quantity: Quantity
    confidence: float
    clip: Clip | None
    source: Source
    doubt: f.DoubtText


@dataclass(frozen=True, slots=True)
class Unitless:
    """A number that was heard and whose unit is asked for.

    value: the number.
    called: the word that several units are called by.
    confidence: of the hearing, 0 to 1.
    clip: the sound of it; None where there is none.
    source: voice or keyboard.
    """

    value: Decimal
    called: str
    confidence: float
    clip: Clip | None
    source: Source


@dataclass(frozen=True, slots=True)
class Exchange:
    """The one open exchange.

    number: counted from 1 within a session.
    purpose: what it is for.
    stage: where it stands; the table in `exchange_table.py` alone says what is next.
    manner: the way of asking.
    failures: failed hearings in this way of asking.
    refused: read-backs refused so far.
    pending: the reading that was read back and waits to be confirmed.
    collected: the readings heard so far, where several are confirmed together.
    questioned: the value that was hard to believe and is asked for again.
    unitless: the number whose unit is asked for.
    """

    number: int
    purpose: f.Purpose
    stage: f.ExchangeStage = f.ExchangeStage.ASKING
    manner: f.Manner = f.Manner.PLAIN
    failures: int = 0
    refused: int = 0
    pending: Pending | None = None
    collected: tuple[Pending, ...] = ()
    questioned: Quantity | None = None
    unitless: Unitless | None = None


@dataclass(frozen=True, slots=True)
class StateValue:
    """What is known of a variable of the engine's state.

    value: yes, no or unknown.
    because: who or what said so.
    at: when.
    lasts: seconds after which it is unknown again; None: until it changes.
    """

    value: Known
    because: f.WorkText
    at: Instant
    lasts: float | None


@dataclass(frozen=True, slots=True)
class RunningTimer:
    """A timer that runs.

    run: which start of it, counted from 1.
    started: when.
    seconds: its whole length.
    """

    run: int
    started: Instant
    seconds: float


@dataclass(frozen=True, slots=True)
class Visit:
    """All that has happened, as far as the next decision needs it.

    order: the work as ordered; None before it was.
    focus: the step at hand; None between two steps.
    outcomes: how each step ended that has ended.
    passed_by: steps that do not apply, each with the step whose answer said so.
    last_done: the step that a correction would take back.
    exchange: the open question; None when none is open.
    exchanges: how many were opened so far.
    state: what is known of the engine.
    timers: those that run, by the identifiers of their steps.
    timer_runs: how often each timer was started.
    elapsed: timers that ran out, until their steps are reached anew.
    readings: those that stand, in order.
    history_facts: what this visit adds to the asset's history, from its beginning.
    plan: the stages of the visit; none where the procedures ordered follow one another.
    stages_done: procedure and time of the stages that are done.
    chosen: the task that is to be added, while its reason is asked for; empty else.
    findings: what was found wrong, in order.
    missing: things that fell and are neither found nor excused.
    stood_by: since when the assistant waits; None when it does not.
    half_done: the step whose first half is done.
    rounds: answers given at the step at hand.
    recent: titles of the last steps done.
    technician: the role of who works.
    audio_problems: how often something was in the way of hearing.
    loudness: steps of 4 dB from the usual.
    pace: steps of a tenth from the usual.
    ended: how the work ended; None while it goes on.
    latest: moment of the last fact after which something could be said; the clock is held against it.
    """

    order: Order | None = None
    focus: f.StepPlace | None = None
    outcomes: Mapping[f.StepPlace, StepOutcome] = field(default_factory=dict)
    passed_by: Mapping[f.StepPlace, f.StepPlace] = field(default_factory=dict)
    last_done: f.StepPlace | None = None
    exchange: Exchange | None = None
    exchanges: int = 0
    state: Mapping[str, StateValue] = field(default_factory=dict)
    timers: Mapping[str, RunningTimer] = field(default_factory=dict)
    timer_runs: Mapping[str, int] = field(default_factory=dict)
    elapsed: frozenset[str] = frozenset()
    readings: tuple[f.ReadingRecorded, ...] = ()
    history_facts: tuple[tuple[f.Fact, Instant], ...] = ()
    plan: tuple[f.PlannedStage, ...] = ()
    stages_done: frozenset[f.Passage] = frozenset()
    chosen: str = ""
    findings: tuple[f.FindingRecorded, ...] = ()
    missing: int = 0
    stood_by: Instant | None = None
    half_done: f.StepPlace | None = None
    rounds: int = 0
    recent: tuple[str, ...] = ()
    technician: str = ""
    audio_problems: int = 0
    loudness: int = 0
    pace: int = 0
    ended: f.WorkEnded | None = None
    latest: Instant | None = None

    @property
    def stage(self) -> f.ExchangeStage | None:
        """Where the open exchange stands; None when none is open."""
        return None if self.exchange is None else self.exchange.stage

    def known(self, variable: str, at: Instant) -> Known:
        """What is known of a variable of the engine's state at a moment; past its time or in another boot, unknown."""
        entry = self.state.get(variable)
        if entry is None or entry.at.boot != at.boot:
            return Known.UNKNOWN
        if entry.lasts is not None and at.seconds - entry.at.seconds > entry.lasts:
            return Known.UNKNOWN
        return entry.value

    def remaining(self, timer: str, at: Instant) -> float:
        """Seconds that a running timer still has; its whole length when it crossed a boot; 0 when it does not run."""
        running = self.timers.get(timer)
        if running is None:
            return 0.0
        if running.started.boot != at.boot:
            return running.seconds
        return max(0.0, running.seconds - (at.seconds - running.started.seconds))
