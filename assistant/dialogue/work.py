"""The work: what the approved procedures say, laid out as one ordered list of steps. Immutable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.steps import Known, Step
from assistant.session.facts import StepPlace
from assistant.session.history import Facts


@dataclass(frozen=True, slots=True)
class PlacedStep:
    """A step where it stands. part: before, steps or after; number: from 1, over the whole work."""

    place: StepPlace
    step: Step
    part: str
    number: int


@dataclass(frozen=True, slots=True)
class Work:
    """What is to be done. asset: its name in words; earlier: the asset's earlier sessions, of which a trend is told."""

    equipment: Equipment
    asset: str
    procedures: tuple[Procedure, ...]
    steps: tuple[PlacedStep, ...]
    index: Mapping[StepPlace, PlacedStep]
    earlier: Mapping[str, Facts] = field(default_factory=dict)

    @property
    def title(self) -> str:
        """What the work is called aloud and in the record."""
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


def lay_out(equipment: Equipment, asset: str, procedures: tuple[Procedure, ...]) -> Work:
    """The work on an asset. asset: identifier in the equipment file. Errors: KeyError when it has no such asset."""
    steps: list[PlacedStep] = []
    for procedure in procedures:
        for section in procedure.sections:
            for step in section.steps:
                place = StepPlace(procedure.procedure, step.id)
                steps.append(PlacedStep(place, step, section.name, len(steps) + 1))
    return Work(
        equipment, equipment.assets[asset], procedures, tuple(steps), {placed.place: placed for placed in steps}
    )
