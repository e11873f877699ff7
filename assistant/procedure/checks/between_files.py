"""What is wrong between files: procedures of one visit that get in each other's way, and what nothing makes use of.

Knows the equipment and its procedures together. Refuses to say again what is wrong within one of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from assistant.procedure.checks import hazards, plan
from assistant.procedure.checks.placed import hold_points, placed
from assistant.procedure.checks.texts import says
from assistant.procedure.checks.way import way_through
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path, Problem, Severity
from assistant.procedure.step import ACCOUNTED, Step


def problems_between(
    equipment: Equipment, procedures: Mapping[str, Procedure], together: bool = False
) -> Iterator[tuple[str, Problem]]:
    """What is wrong among files that are gone through at one visit, each with the name of the file where it is.

    procedures: by the names of their files. together: they are ordered together; else they meet only where visits are
    planned, and where none are it is a note. Within one file `problems` says the same.
    """
    meets = together or equipment.visit.opening is not None
    severity = Severity.WRONG if meets else Severity.NOTE
    names: dict[str, str] = {}
    steps: dict[str, str] = {}
    cards: dict[int, tuple[str, Step]] = {}
    for file, procedure in procedures.items():
        other = names.setdefault(procedure.procedure, file)
        if other != file:
            cause = f"{other} is the procedure {procedure.procedure!r} too"
            yield file, Problem(("procedure",), cause, "Keep one of them")
        for path, step in placed(procedure):
            other = steps.setdefault(step.id, file)
            if other != file:  # timers and calculations name a step of a visit by its identifier alone
                cause, remedy = f"{other} has a step {step.id!r} too", "Give one of the two another identifier"
                yield file, Problem(path, cause, remedy, severity)
        for path, hold, card in hold_points(procedure):
            first, its = cards.setdefault(card.number, (file, hold))
            if first != file:
                cause = f"{its.id!r} of {first} and {hold.id!r} have one card, number {card.number}"
                remedy = "Number the cards without gaps over all procedures"
                yield file, Problem((*path, "card"), cause, remedy, severity)
            for other, other_procedure in procedures.items():
                for step in other_procedure.steps() if other != file else ():
                    if card.phrase in step.phrases() or any(says(text, card.phrase) for text in step.prompts()):
                        cause = f"{step.id!r} of {other} has or speaks the phrase {card.phrase!r} of {hold.id!r}"
                        remedy = "Choose a phrase that no other step has, and no prompt speaks"
                        yield file, Problem((*path, "phrase"), cause, remedy, severity)


def unused(
    equipment: Equipment, procedures: Sequence[Procedure], references: Iterable[tuple[str, str]]
) -> Iterator[Problem]:
    """Notes on what no procedure of the equipment makes use of, and on what tasks name that no procedure has.

    references: group and name of the data that procedures name.
    """
    yield from plan.tasks_by_procedures(equipment, procedures)
    yield from plan.cards_of_a_visit(equipment, procedures)
    steps = [step for procedure in procedures for step in procedure.steps()]
    named = {name for step in steps for name in (*step.needs, *step.leaves)}
    named |= {name for task in equipment.tasks.values() for name in task.leaves}
    named |= {name for change in equipment.changes.values() for name in change.leaves}
    referred = set(references)

    def note(path: Path, cause: str) -> Problem:
        return Problem(path, cause, "Take it out, or use it", Severity.NOTE)

    for name in equipment.state:
        if name not in named and name != ACCOUNTED:
            yield note(("state", name), f"no step needs or leaves {name!r}")
    for group, values in equipment.data.items():
        for name in values:
            if (group, name) not in referred:
                yield note(("data", group, name), f"no procedure refers to {{{group}.{name}}}")
    way = [passed for procedure in procedures for passed in way_through(procedure, equipment)]
    for name, hazard in equipment.hazards.items():
        if not any(hazards.meets(passed, hazard) for passed in way):
            yield note(("hazards", name), f"no step meets the hazard {name!r}")
