"""The way through a procedure: where its steps lead, and what may be known of the engine at each of them.

Knows all ways at once: where several meet, a variable may have several values. Refuses to say what is wrong with that;
the checks of structure, state, hazards, isolation and plan do.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from assistant.engine_state import Known
from assistant.procedure.answers import Then
from assistant.procedure.checks.placed import placed
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path
from assistant.procedure.step import ACCOUNTED, Step

State = Mapping[str, frozenset[Known]]
"""What may be known of the engine where a step begins: more than one value where several ways lead there."""

AT_THE_START: State = {ACCOUNTED: frozenset({Known.YES})}
END = -1  # in place of a step: the end of the work


@dataclass(frozen=True, slots=True)
class Passed:
    """A step on the way through the work.

    path: of the step in the file.
    before: what may be known of the engine's state where it begins.
    after: what may be known where it ends.
    ways: places of the steps that may follow, from 0, or `END`.
    """

    path: Path
    step: Step
    before: State
    after: State
    ways: frozenset[int]

    def where(self, *names: str) -> Path:
        """The line of the step that speaks of one of these variables."""
        for key in ("leaves", "needs"):
            for name in names:
                if name in getattr(self.step, key):
                    return (*self.path, key, name)
        return self.path


def way_through(procedure: Procedure, equipment: Equipment) -> list[Passed]:
    """The steps in order, with what may be known at each. At the first one that is what a stage of a visit needs, where
    the procedure is one.

    A need that is not met counts as met afterwards, so that it is named once; a step that no way leads to, as the next
    of the one before it.
    """
    steps = list(placed(procedure))
    places = {step.id: place for place, (_, step) in enumerate(steps)}
    arriving: dict[int, list[State]] = {0: [{**AT_THE_START, **_at_the_stage(procedure, equipment)}]}
    way: list[Passed] = []
    for place, (path, step) in enumerate(steps):
        before = _either(arriving.get(place) or [way[-1].after])
        sure = {**step.needs, **{name: leaves.value for name, leaves in step.leaves.items()}}
        after = {**before, **{name: frozenset({value}) for name, value in sure.items()}}
        ways = _ways(step, place, place + 1 if place + 1 < len(steps) else END, places)
        way.append(Passed(path, step, before, after, ways))
        for following in ways:
            if following > place:
                arriving.setdefault(following, []).append(after)
    return way


def _at_the_stage(procedure: Procedure, equipment: Equipment) -> State:
    """What is known where a stage begins: all that its tasks and changes need. What has to be proved is proved by the
    stage itself, unless it is an isolation: that the stages before have proved."""
    stages = [equipment.needs_of(stage).items() for stage in equipment.stages_of(procedure.procedure)]
    if not stages:
        return {}
    common = set(stages[0]).intersection(*stages[1:])
    return {
        name: frozenset({value})
        for name, value in common
        if name in equipment.state and (not equipment.state[name].proved or equipment.state[name].rules_out)
    }


def _ways(step: Step, place: int, onward: int, places: Mapping[str, int]) -> frozenset[int]:
    """Where the work may go from a step at a place.

    onward: the next step.
    places: of all steps.
    """
    follows = {Then.GO_ON: onward, Then.AGAIN: place, Then.END: END}
    return frozenset(
        follows[way.then] if way.goes_to is None else places.get(way.goes_to, onward) for way in step.ways()
    )


def _either(states: Sequence[State]) -> State:
    """What may be known where several ways meet."""
    unknown = frozenset({Known.UNKNOWN})
    names = {name for state in states for name in state}
    return {name: frozenset[Known]().union(*(state.get(name, unknown) for state in states)) for name in names}


def surely(state: State, name: str, value: Known) -> bool:
    """Whether a variable has this value, whichever way led here."""
    return state.get(name) == frozenset({value})


def maybe(state: State, name: str, value: Known) -> bool:
    """Whether a variable has this value on some way."""
    return value in state.get(name, ())


def in_words(state: State, name: str) -> str:
    """What may be known of a variable, `yes or unknown`."""
    return " or ".join(sorted(state.get(name, {Known.UNKNOWN}), reverse=True))
