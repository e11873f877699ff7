"""The work: what the approved procedures say, laid out as one ordered list of steps. Immutable.

A visit that is planned is made of stages: a task, a change of the engine's state, its opening and its ending, each gone
through by a procedure. Another plan is another work.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from assistant.engine_state import Known
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.step import Step
from assistant.session.facts import PlannedStage, StepPlace
from assistant.session.history import Facts

BETWEEN = "between"  # the part that a change of the engine's state is


@dataclass(frozen=True, slots=True)
class PlacedStep:
    """A step where it stands.

    place: its task, its identifier, and which time the task is gone through.
    step: what it says.
    part: before, between, steps or after.
    number: from 1, over the whole work.
    """

    place: StepPlace
    step: Step
    part: str
    number: int


@dataclass(frozen=True, slots=True)
class Work:
    """What is to be done.

    equipment: the model, its assets, state and tasks.
    asset: the asset's name in words.
    procedures: all that may be gone through.
    steps: in the order in which they are done.
    index: each step by its place, also those that a later plan does not hold.
    plan: the stages of the visit; none where the procedures follow one another.
    earlier: the asset's earlier sessions, of which trends are made.
    """

    equipment: Equipment
    asset: str
    procedures: tuple[Procedure, ...]
    steps: tuple[PlacedStep, ...]
    index: Mapping[StepPlace, PlacedStep]
    plan: tuple[PlannedStage, ...] = ()
    earlier: Mapping[str, Facts] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """What the work is called aloud and in the record."""
        if self.plan:
            return ", ".join(stage.title for stage in self.plan if stage.is_task)
        return ", ".join(procedure.title for procedure in self.procedures)

    def at(self, place: StepPlace) -> PlacedStep:
        """The step at a place. Errors: KeyError when the work has none there."""
        return self.index[place]

    def is_circumstance(self, place: StepPlace) -> bool:
        """Whether a reading at this place says under what the later ones were taken."""
        return place in self.index and self.index[place].step.is_circumstance()

    def state_words(self, variable: str, value: Known) -> str:
        """A value of a variable of the engine's state in words."""
        entry = self.equipment.state[variable]
        return entry.yes if value is Known.YES else entry.no

    def steps_of(self, stage: PlannedStage) -> tuple[PlacedStep, ...]:
        """The steps of a stage of the plan."""
        return tuple(placed for placed in self.steps if placed.place.passage == stage.passage)

    def stage_at(self, place: StepPlace) -> PlannedStage | None:
        """The stage of the plan that a place belongs to; None where nothing was planned."""
        return next((stage for stage in self.plan if stage.passage == place.passage), None)

    def as_planned(self, plan: tuple[PlannedStage, ...]) -> Work:
        """The same work in the order of a plan; none: this one. What was done of stages that the plan does not hold
        any more stays in the index."""
        if plan == self.plan or not plan:
            return self
        by_name = {procedure.procedure: procedure for procedure in self.procedures}
        ends = {self.equipment.visit.opening: "before", self.equipment.visit.ending: "after"}
        steps = _numbered(
            (StepPlace(stage.procedure, step.id, stage.time), step, part)
            for stage in plan
            for section in by_name[stage.procedure].sections
            for part in (section.name if stage.is_task else ends.get(stage.name, BETWEEN),)
            for step in section.steps
        )
        return replace(self, plan=plan, steps=steps, index={**self.index, **{placed.place: placed for placed in steps}})


def lay_out(equipment: Equipment, asset: str, procedures: tuple[Procedure, ...]) -> Work:
    """The work on an asset, its procedures one after another. asset: identifier in the equipment file.

    Errors: KeyError when it has no such asset.
    """
    steps = _numbered(
        (StepPlace(procedure.procedure, step.id), step, section.name)
        for procedure in procedures
        for section in procedure.sections
        for step in section.steps
    )
    return Work(equipment, equipment.assets[asset], procedures, steps, {placed.place: placed for placed in steps})


def _numbered(steps: Iterable[tuple[StepPlace, Step, str]]) -> tuple[PlacedStep, ...]:
    return tuple(PlacedStep(place, step, part, number) for number, (place, step, part) in enumerate(steps, 1))
