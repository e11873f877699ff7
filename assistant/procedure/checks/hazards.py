"""What can hurt: a step that meets a hazard speaks its warning first.

Knows the hazards of the equipment, and what a step says and leaves. Refuses to know what else is wrong with a step.
"""

from __future__ import annotations

from collections.abc import Iterator

from assistant.procedure.checks.texts import says
from assistant.procedure.checks.way import Passed, maybe, way_through
from assistant.procedure.equipment import Equipment, EquipmentHazard, Procedure
from assistant.procedure.problem import Path, Problem
from assistant.procedure.step import SignalWord, Step


def warnings(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A step that meets a hazard speaks its warning first. Who needs the state comes after the step that left it."""
    for passed in way_through(procedure, equipment):
        for name, hazard in equipment.hazards.items():
            met = meets(passed, hazard)
            if met and not _warns(passed.step, hazard):
                yield _unwarned(passed, name, hazard, met)


def meets(passed: Passed, hazard: EquipmentHazard) -> str:
    """Why a step meets a hazard, in words; empty when it does not."""
    step = passed.step
    if not all(maybe(passed.after, variable, value) for variable, value in hazard.state.items()):
        return ""
    if hazard.words:
        texts = (step.title, step.text, step.details)
        spoken = next((words for words in hazard.words if any(says(text, words) for text in texts)), None)
        return f"speaks of {spoken!r}" if spoken else ""
    left = [variable for variable, value in hazard.state.items() if variable in step.leaves]
    return f"leaves {left[0]}: {hazard.state[left[0]]}" if left else ""


def _warns(step: Step, hazard: EquipmentHazard) -> bool:
    words = list(SignalWord)
    return any(
        words.index(word) <= words.index(hazard.signal) and any(says(text, about) for about in hazard.about)
        for word, text in step.hazards()
    )


def _unwarned(passed: Passed, name: str, hazard: EquipmentHazard, met: str) -> Problem:
    about = " or ".join(repr(words) for words in hazard.about)
    weaker = [word for word, text in passed.step.hazards() if any(says(text, words) for words in hazard.about)]
    if weaker:
        cause = f"its {weaker[0]} is not grave enough for the hazard {name!r}, which wants {hazard.signal}"
        path: Path = (*passed.path, weaker[0].value)
    else:
        cause = f"and no {hazard.signal} of the hazard {name!r} stands before it"
        path = passed.path
    return Problem(
        path,
        f"{passed.step.id!r} {met}, {cause}",
        f"Write a sentence with {about} under `{hazard.signal}` in this step",
    )
