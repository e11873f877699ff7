"""Small equipment for tests of planning, given by what matters: everything else is filled in."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import permutations
from typing import Any

from assistant.engine_state import Known
from assistant.procedure.equipment import Equipment

State = frozenset[tuple[str, Known]]
Cost = tuple[float, int]
"""Minutes of the changes, in the middle of their ranges, and how many there are."""


def equipment(
    tasks: Mapping[str, Mapping[str, Any]],
    changes: Mapping[str, Mapping[str, Any]] | None = None,
    precautions: Mapping[str, Mapping[str, Any]] | None = None,
    visit: Mapping[str, Any] | None = None,
) -> Equipment:
    """An equipment model as its file would give it. A task is monthly and takes 10 to 20 min where nothing is said."""
    given = [*tasks.values(), *(changes or {}).values(), *(precautions or {}).values()]
    names = {name for one in given for key in ("needs", "leaves") for name in one.get(key, {})}
    names |= {name for key in ("found", "left") for name in (visit or {}).get(key, {})}
    usual = {"every": {"months": "1"}, "takes": "10 min to 20 min"}
    return Equipment.model_validate(
        {
            "format": "1",
            "model": "small-set",
            "name": "Small set",
            "assets": {"set-a": "the first set"},
            "state": {name: {"yes": f"{name} is so", "no": f"{name} is not so"} for name in sorted(names)},
            "tasks": {name: {"title": f"Task {name}", **usual, **task} for name, task in tasks.items()},
            "changes": {
                name: {"title": f"Change {name}", "takes": "4 min to 6 min", **change}
                for name, change in (changes or {}).items()
            },
            "precautions": dict(precautions or {}),
            "visit": dict(visit or {}),
        }
    )


def exhaustive(equipment: Equipment, tasks: tuple[str, ...]) -> Cost | None:
    """The least cost of all orders of the tasks, by trying every one; None when none is possible."""
    results = []
    for way in permutations(tasks):
        if any(_forbidden(equipment, way[later], way[first]) for later in range(len(way)) for first in range(later)):
            continue
        states = _changed(equipment, {frozenset(equipment.visit.found.items()): (0.0, 0)})
        for name in way:
            needs = {**equipment.tasks[name].needs}
            for precaution in equipment.minded(name):
                needs.update(precaution.needs)
            after: dict[State, Cost] = {}
            for state, cost in states.items():
                if needs.items() <= state:
                    there = _left(state, equipment.tasks[name].leaves)
                    after[there] = min(cost, after.get(there, cost))
            states = _changed(equipment, after)
        results += [cost for state, cost in states.items() if equipment.visit.left.items() <= state]
    return min(results, default=None)


def _forbidden(equipment: Equipment, later: str, first: str) -> bool:
    """Whether a precaution wants the one that is later to come before the one that is first."""
    return any(one.before in equipment.tasks[first].does for one in equipment.minded(later))


def _left(state: State, leaves: Mapping[str, Known]) -> State:
    return frozenset({**dict(state), **leaves}.items())


def _changed(equipment: Equipment, states: dict[State, Cost]) -> dict[State, Cost]:
    """Every state that changes lead to, at the least cost."""
    known = dict(states)
    again = True
    while again:
        again = False
        for state, (minutes, count) in list(known.items()):
            for change in equipment.changes.values():
                if change.needs.items() <= state:
                    there = _left(state, change.leaves)
                    cost = (minutes + sum(change.minutes) / 2, count + 1)
                    if there not in known or cost < known[there]:
                        known[there] = cost
                        again = True
    return known
