"""What a visit is planned from: tasks, changes of state and precautions, and the procedures that do them.

Knows what the equipment file says of a visit, and whether the steps keep to it. Refuses to plan.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence

from assistant.engine_state import Known
from assistant.procedure.checks.placed import hold_points
from assistant.procedure.checks.state import no_variable
from assistant.procedure.checks.way import in_words, surely, way_through
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path, Problem, Severity
from assistant.quantities import Quantity


def stage(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """The steps of a task or a change leave the engine as a visit is planned on."""
    stages = equipment.stages_of(procedure.procedure)
    planned = {name for stage in (*equipment.tasks, *equipment.changes) for name in equipment.needs_of(stage)}
    planned |= equipment.visit.left.keys()
    way = way_through(procedure, equipment)
    last: dict[str, Path] = {}
    for passed in way:
        for name, left in passed.step.leaves.items():
            last.pop(name, None)
            if left.lasts is None:  # else it ages, and nothing is planned on it
                last[name] = passed.where(name)
    for stage in stages:
        needs, leaves = equipment.needs_of(stage), equipment.leaves_of(stage)
        for name, path in last.items():
            value = leaves.get(name, needs.get(name, equipment.visit.found.get(name, Known.UNKNOWN)))
            if name in planned and value is not Known.UNKNOWN and not surely(way[-1].after, name, value):
                words = in_words(way[-1].after, name)
                yield Problem(
                    path,
                    f"a visit is planned as if {stage!r} left {name}: {value}, but its steps leave it {words}",
                    f"Correct the step, or write `{name}` under `leaves` of {stage!r} in equipment.yaml",
                )
        for name, value in leaves.items():
            if equipment.state[name].rules_out and not any(name in passed.step.leaves for passed in way):
                yield Problem(
                    (),
                    f"a visit is planned as if {stage!r} left {name}: {value}, but no step of it does",
                    f"Let a step leave `{name}: {value}`",
                )


def tasks(equipment: Equipment) -> Iterator[Problem]:
    """What is wrong with the tasks, with the changes of state between them, and with how a visit begins and ends."""
    visit = equipment.visit
    stated: list[tuple[Path, Mapping[str, Known]]] = [
        (("visit", "found"), visit.found),
        (("visit", "left"), visit.left),
    ]
    for place, stages in (("tasks", equipment.tasks), ("changes", equipment.changes)):
        for name, stage in stages.items():
            stated += [((place, name, "needs"), stage.needs), ((place, name, "leaves"), stage.leaves)]
    stated += [(("precautions", name, "needs"), each.needs) for name, each in equipment.precautions.items()]
    coming = {pair for path, state in stated if path[-1] in ("found", "leaves") for pair in state.items()}
    for path, state in stated:
        for name, value in state.items():
            if name not in equipment.state:
                yield no_variable((*path, name), name, equipment)
            elif path[-1] in ("needs", "left") and (name, value) not in coming:
                yield Problem(
                    (*path, name),
                    f"nothing leaves `{name}: {value}`, so it never comes to that",
                    "Add it to what a change or a task leaves, or to how the visit finds the engine",
                )
    for name in equipment.tasks.keys() & equipment.changes.keys():
        yield Problem(("changes", name), f"a task is called {name!r} too", "Give the change another name")
    yield from _precautions(equipment)
    yield from _supplies(equipment)


def _supplies(equipment: Equipment) -> Iterator[Problem]:
    """What tasks use can be added up."""
    units: dict[str, Quantity] = {}
    for name, task in equipment.tasks.items():
        for key, supplies in (("consumables", task.consumables), ("waste", task.waste)):
            for index, supply in enumerate(supplies):
                first = units.setdefault(supply.name, supply.amount)
                if first.kind is not supply.amount.kind:
                    yield Problem(
                        ("tasks", name, key, index, "amount"),
                        f"{supply.name!r} is given as {supply.amount} here and as {first} elsewhere",
                        "Give it in units that can be added",
                    )


def _precautions(equipment: Equipment) -> Iterator[Problem]:
    """Precautions speak of what tasks do, and do not go in a circle."""
    done = {action for task in equipment.tasks.values() for action in task.does}
    earlier: dict[str, set[str]] = {name: set() for name in equipment.tasks}
    for name, precaution in equipment.precautions.items():
        for key, action in (("doing", precaution.doing), ("before", precaution.before)):
            if action is not None and action not in done:
                near = difflib.get_close_matches(action, done, n=1)
                remedy = f"Did you mean {near[0]!r}" if near else "Write it under `does` of a task, or take it out"
                yield Problem(("precautions", name, key), f"no task does {action!r}", remedy, Severity.NOTE)
        for other, task in equipment.tasks.items():
            if precaution.before in task.does:
                earlier[other] |= {first for first, its in equipment.tasks.items() if precaution.doing in its.does}
    for name, task in equipment.tasks.items():
        for precaution in equipment.minded(name):
            for variable, value in precaution.needs.items():
                if task.needs.get(variable, value) is not value:
                    cause = f"{name!r} needs {variable}: {task.needs[variable]}, and a precaution {variable}: {value}"
                    remedy = f"Take it out: {precaution.because}"
                    yield Problem(("tasks", name, "needs", variable), cause, remedy)
    for name, others in earlier.items():
        if name in others:
            cause = f"by the precautions {name!r} comes before itself"
            yield Problem(("tasks", name, "does"), cause, "Take one of the two out of `does`")
            others.discard(name)
    while free := [name for name, others in earlier.items() if not others]:
        earlier = {name: others.difference(free) for name, others in earlier.items() if name not in free}
    if earlier:
        cause = f"by the precautions each of these comes before another: {', '.join(earlier)}"
        yield Problem(("precautions",), cause, "Take out a precaution, or what a task does")


def tasks_by_procedures(equipment: Equipment, procedures: Sequence[Procedure]) -> Iterator[Problem]:
    """The procedures and steps that a visit is made of are there."""
    steps = {procedure.procedure: {step.id for step in procedure.steps()} for procedure in procedures}
    wanted: list[tuple[Path, str]] = [(("tasks", name), equipment.procedure_of(name)) for name in equipment.tasks]
    visit = equipment.visit
    if visit.opening or visit.ending:
        wanted += [(("changes", name), equipment.procedure_of(name)) for name in equipment.changes]
        wanted += [
            (("visit", key), name) for key, name in (("opening", visit.opening), ("ending", visit.ending)) if name
        ]
    for path, name in wanted:
        if name not in steps:
            cause = f"there is no procedure {name!r} for this yet"
            yield Problem(path, cause, f"Write {name}.yaml, or correct the name", Severity.NOTE)
    for name, task in equipment.tasks.items():
        for index, place in enumerate(task.follows):
            procedure, _, step = place.partition("/")
            if step not in steps.get(procedure, ()):
                cause = f"there is no step {step!r} in a procedure {procedure!r}"
                yield Problem(("tasks", name, "follows", index), cause, "Correct it", Severity.NOTE)


def cards_of_a_visit(equipment: Equipment, procedures: Sequence[Procedure]) -> Iterator[Problem]:
    """The cards of a visit are numbered without gaps over all procedures; `structure.card_numbers` says so of one."""
    cards = {card.number for procedure in procedures for _, _, card in hold_points(procedure)}
    missing = sorted(set(range(1, max(cards, default=0))) - cards)
    if missing and equipment.visit.opening is not None:
        cause = f"there is a card {max(cards)}, but none with the number {', '.join(map(str, missing))}"
        yield Problem(("visit", "opening"), cause, "Number the cards without gaps over all procedures", Severity.NOTE)
