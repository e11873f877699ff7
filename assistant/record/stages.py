"""The steps that were reached and the stages of a planned visit: how each ended, as things stand.

Knows facts and their order. Refuses to know procedures: a step or stage that left no fact does not stand here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import assert_never

from assistant.record.phrases import capital, span, time_of_day
from assistant.record.timeline import elapsed_in_visit
from assistant.record.visits import stage_name
from assistant.session import facts as f
from assistant.session.journal import Journal


class StepStatus(StrEnum):
    """How a step ended, as things stand. The values are published."""

    DONE = "done"
    SKIPPED = "skipped"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class StepSummary:
    """A step that was reached.

    place: where it stands.
    title: as in the procedure.
    part: of the procedure that it is in; empty where the line that says so is damaged.
    outcome: how it ended.
    began: seconds since the visit began.
    ended: the same; None: it is open.
    reopened: how many times.
    """

    place: f.StepPlace
    title: str
    part: str
    outcome: StepStatus
    began: float
    ended: float | None
    reopened: int


class StageOutcome(StrEnum):
    """What became of a stage of a planned visit. The values are published."""

    DONE = "done"
    PUT_OFF = "put off"
    NOT_DONE = "not done"


@dataclass(frozen=True, slots=True)
class StageSummary:
    """A stage of the plan as it stood last, or a task that was put off.

    stage: as planned.
    outcome: what became of it.
    began: seconds since the visit began; None: it did not begin.
    ended: the same; of a task put off, when it was; None: it did not end.
    reason: why a task was put off, or why it was added; else empty.
    """

    stage: f.PlannedStage
    outcome: StageOutcome
    began: float | None
    ended: float | None
    reason: str


@dataclass(frozen=True, slots=True)
class StageRow:
    """A stage in the table of the visit as planned.

    title: of the stage.
    is_task: whether it is a task and no change of the engine's state.
    label: its outcome where it was not done, else empty.
    outcome: the rest of what became of it, in words.
    time: when it began; empty: it did not.
    reasons: why it stands there, a sentence each.
    """

    title: str
    is_task: bool
    label: str
    outcome: str
    time: str
    reasons: tuple[str, ...]


def step_summaries(journal: Journal) -> tuple[StepSummary, ...]:
    """The steps that were reached, in that order."""
    elapsed_at = elapsed_in_visit(journal)
    steps: dict[f.StepPlace, StepSummary] = {}
    for fact, at in journal.facts():
        elapsed = elapsed_at(at)
        if isinstance(fact, f.StepReached | f.StepDone | f.StepSkipped) and fact.place not in steps:
            part = fact.part if isinstance(fact, f.StepReached) else ""  # the line that reached it may be damaged
            steps[fact.place] = StepSummary(fact.place, fact.title, part, StepStatus.OPEN, elapsed, None, 0)
        match fact:
            case f.StepDone():
                steps[fact.place] = replace(steps[fact.place], outcome=StepStatus.DONE, ended=elapsed)
            case f.StepSkipped():
                steps[fact.place] = replace(steps[fact.place], outcome=StepStatus.SKIPPED, ended=elapsed)
            case f.StepReopened() if fact.place in steps:  # one that was passed over may never have been reached
                step = steps[fact.place]
                steps[fact.place] = replace(step, outcome=StepStatus.OPEN, ended=None, reopened=step.reopened + 1)
            case _:
                pass
    return tuple(steps.values())


def passed_over(journal: Journal) -> frozenset[f.StepPlace]:
    """The steps that do not apply, as things stand."""
    places: set[f.StepPlace] = set()
    for fact, _ in journal.facts():
        match fact:
            case f.StepPassedOver():
                places.add(fact.place)
            case f.StepReopened() | f.StepDone() | f.StepSkipped():
                places.discard(fact.place)
            case _:
                pass
    return frozenset(places)


def stage_summaries(journal: Journal) -> tuple[StageSummary, ...]:
    """The stages of the plan as it stood last, in the order of the work, and behind them tasks that were put off."""
    elapsed = elapsed_in_visit(journal)
    plan: tuple[f.PlannedStage, ...] = ()
    planned: dict[str, f.PlannedStage] = {}
    put_off: dict[str, tuple[f.TaskPutOff, float]] = {}
    added: dict[str, str] = {}
    began: dict[f.Passage, float] = {}
    ended: dict[f.Passage, float] = {}
    for fact, at in journal.facts():
        match fact:
            case f.VisitPlanned():
                plan = fact.stages
                planned |= {stage.name: stage for stage in plan}
            case f.TaskPutOff():
                put_off[fact.task] = fact, elapsed(at)
            case f.TaskAdded():
                put_off.pop(fact.task, None)
                added[fact.task] = fact.reason
            case f.StepReached():
                began.setdefault(fact.place.passage, elapsed(at))
            case f.StageDone():
                ended[fact.stage.passage] = elapsed(at)
            case f.StepReopened():
                ended.pop(fact.place.passage, None)
            case _:
                pass

    def summaries() -> Iterator[StageSummary]:
        for stage in plan:
            passage = stage.passage
            outcome = StageOutcome.DONE if passage in ended else StageOutcome.NOT_DONE
            reason = added.get(stage.name, "")
            yield StageSummary(stage, outcome, began.get(passage), ended.get(passage), reason)
        for task, (fact, at) in put_off.items():
            stage = planned.get(task, f.PlannedStage(task, task, fact.title, True))
            yield StageSummary(stage, StageOutcome.PUT_OFF, began.get(stage.passage), at, fact.reason)

    return tuple(summaries())


def stage_row(summary: StageSummary, started: str) -> StageRow:
    """The row of a stage. started: ISO 8601, when the visit began."""
    stage, began = summary.stage, summary.began
    done = summary.outcome is StageOutcome.DONE
    return StageRow(
        title=stage_name(stage),
        is_task=stage.is_task,
        label="" if done else summary.outcome.value,
        outcome=_in_words(summary, started),
        time="" if began is None else time_of_day(started, began),
        reasons=tuple(f"{capital(str(reason))}." for reason in stage.reasons),
    )


def _in_words(summary: StageSummary, started: str) -> str:
    began, ended, reason = summary.began, summary.ended, summary.reason
    match summary.outcome:
        case StageOutcome.PUT_OFF:
            return reason if ended is None else f"at {time_of_day(started, ended)}: {reason}"
        case StageOutcome.DONE:
            words = "Done" if began is None or ended is None else f"Done in {span(ended - began)}"
        case StageOutcome.NOT_DONE:
            words = "" if began is None else "but begun"
        case _:
            assert_never(summary.outcome)
    added = f"Added: {reason}" if reason else ""
    return ". ".join(part for part in (words, added) if part)
