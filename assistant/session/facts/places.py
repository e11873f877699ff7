"""Where in a visit something happens: stages, the procedures that they go through, and steps."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.session.facts.texts import PlanText

Passage = tuple[str, int]
"""A procedure, and which time in the visit it is gone through, from 1."""


@dataclass(frozen=True, slots=True)
class StepPlace:
    """Where a step stands: the procedure's and the step's identifiers. time: which time in the visit that procedure is
    gone through, from 1; a change of the engine's state may be needed again."""

    task: str
    step: str
    time: int = 1

    @property
    def passage(self) -> Passage:
        """Which going through of a procedure it belongs to; that of its stage, in a planned visit."""
        return self.task, self.time


@dataclass(frozen=True, slots=True)
class PlannedStage:
    """A part of a visit: a task, a change of the engine's state, or how a visit begins and ends.

    name: of the task or change.
    procedure: that says how.
    time: as in `StepPlace`.
    reasons: why it stands there.
    """

    name: str
    procedure: str
    title: str
    is_task: bool
    time: int = 1
    reasons: tuple[PlanText, ...] = ()

    @property
    def passage(self) -> Passage:
        """Which going through of its procedure it is; that of the places of its steps."""
        return self.procedure, self.time
