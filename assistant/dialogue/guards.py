"""Guards: what the engine's state must be before a step begins, and which steps may not be left out.

Reads what steps declare they need and leave. Decides nothing: `decide` asks.
"""

from __future__ import annotations

from assistant.dialogue.work import PlacedStep, Work
from assistant.engine_state import Known
from assistant.procedure.step import ACCOUNTED
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def unmet(placed: PlacedStep, visit: Visit, at: Instant) -> tuple[str, Known] | None:
    """The first need of a step that the engine's state does not meet, or None."""
    for variable, value in placed.step.needs.items():
        if variable == ACCOUNTED:
            met = (visit.missing == 0) is (value is Known.YES)
        else:
            met = visit.known(variable, at) is value
        if not met:
            return variable, value
    return None


def proves(work: Work, visit: Visit, placed: PlacedStep, variable: str, value: Known) -> PlacedStep | None:
    """The nearest step before this one that makes the variable so, where the technician's word is not enough.

    It is not where the equipment wants proof, nor where that step is a timer that still runs.
    """
    for earlier in reversed(work.steps[: placed.number - 1]):
        left = earlier.step.leaves.get(variable)
        if left is not None:
            wanted = work.equipment.state[variable].proved or earlier.step.id in visit.timers
            return earlier if wanted and left.value is value else None
    return None


def relied_on(work: Work, placed: PlacedStep) -> bool:
    """Whether a later step needs what this one leaves, so that it cannot be left out."""
    left = {variable: leaves.value for variable, leaves in placed.step.leaves.items()}
    for later in work.steps[placed.number :]:
        for variable, value in later.step.needs.items():
            if left.get(variable) is value:
                return True
        for variable in later.step.leaves:
            left.pop(variable, None)
    return False
