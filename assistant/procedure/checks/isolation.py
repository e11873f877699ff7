"""Isolation: what it rules out is not there meanwhile, it is proved, and it is undone before the work is complete.

Knows isolations as variables that rule something out. Refuses to know how a step proves anything: the step says so.
"""

from __future__ import annotations

from collections.abc import Iterator

from assistant.engine_state import Known
from assistant.procedure.checks.way import State, maybe, surely, way_through
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path, Problem


def energy(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What an isolation rules out is not there while the isolation is."""

    def clashes(state: State) -> set[tuple[str, str]]:
        return {
            (isolation, energy)
            for isolation, variable in equipment.state.items()
            for energy, value in variable.rules_out.items()
            if maybe(state, isolation, Known.YES) and maybe(state, energy, value)
        }

    for passed in way_through(procedure, equipment):
        for isolation, energy in sorted(clashes(passed.after) - clashes(passed.before)):
            value = equipment.state[isolation].rules_out[energy]
            yield Problem(
                passed.where(isolation, energy),
                f"at {passed.step.id!r} {energy} is {value} while {isolation} is yes, and the one rules the other out",
                f"Put a step that ends `{energy}: {value}` or `{isolation}: yes` before this one",
            )


def proved_and_undone(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What was isolated was proved, and is put back into service before the work is complete."""
    way = way_through(procedure, equipment)
    for name in (name for name, variable in equipment.state.items() if variable.rules_out):
        made: Path | None = None
        for passed in way:
            step, path = passed.step, (*passed.path, "leaves", name)
            left = step.leaves.get(name)
            if left is None:
                continue
            if left.value is Known.YES:
                made = path
                unproved = step.unproved()
                if unproved:
                    yield Problem(path, f"{name}: yes is never proved: {unproved}", "Let a hold point prove it")
            elif left.value is Known.NO and not (
                surely(passed.before, name, Known.YES) or step.needs.get(name) is Known.YES
            ):
                yield Problem(
                    path,
                    f"{step.id!r} undoes {name}, which not every way to it has proved",
                    f"Put a hold point that leaves `{name}: yes` before it, or take the line out",
                )
        stages = equipment.stages_of(procedure.procedure)  # the visit goes on after one
        if made and not stages and maybe(way[-1].after, name, Known.YES):
            yield Problem(
                made,
                f"{name}: yes is never undone: the work can be complete while it is so",
                f"Put a step that leaves `{name}: no` under `after`",
            )
