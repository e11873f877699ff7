"""The visit: the fold of its facts. `applying.apply` is the only way in which it changes.

Knows identifiers of tasks and steps, never their content: an old journal folds after any edit of a procedure.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session.inputs import Clip, Instant, Order, Source

RECENT = 2  # titles of the last steps done that are told after a break


class StepOutcome(StrEnum):
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
    doubt: f.DoubtText


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
    """What is known of a variable: its value, who or what said so, when, and until when (None: until it changes)."""

    value: f.Known
    because: f.WorkText
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
    history_facts: tuple[tuple[f.Fact, Instant], ...] = ()  # what it adds to the asset's history, from its beginning
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
