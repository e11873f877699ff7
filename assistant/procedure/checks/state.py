"""The engine's state along the way: what steps need is left by steps before them, and still known by then.

Knows variables and how long they are known. Refuses to know what can hurt (`hazards.py`) and what an isolation is
(`isolation.py`).
"""

from __future__ import annotations

from collections.abc import Iterator

from assistant.procedure.checks.placed import placed
from assistant.procedure.checks.way import in_words, surely, way_through
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path, Problem, Severity

MAX_WAIT = 24 * 3600.0  # seconds


def no_variable(path: Path, name: str, equipment: Equipment) -> Problem:
    """The problem of a name that is no variable of the engine's state."""
    return Problem(
        path,
        f"{name!r} is no variable of the engine's state",
        f"Use one of {', '.join(equipment.state)}, or add it under `state` in equipment.yaml",
    )


def variables(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What steps need and leave are variables of the equipment."""
    for path, step in placed(procedure):
        for key, names in (("needs", step.needs), ("leaves", step.leaves)):
            for name in names:
                if name not in equipment.state:
                    yield no_variable((*path, key, name), name, equipment)


def along_the_way(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What a step needs is so, whichever way led to it."""
    for passed in way_through(procedure, equipment):
        for name, value in passed.step.needs.items():
            if not surely(passed.before, name, value):
                before = in_words(passed.before, name)
                yield Problem(
                    (*passed.path, "needs", name),
                    f"{passed.step.id!r} needs {name}: {value}, but the steps before leave it {before}",
                    f"Put a step that leaves `{name}: {value}` before this one",
                )


def runs_out(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A state that is known only for a while, and needed after waits that are longer than that."""
    since: dict[str, float] = {}
    lasts: dict[str, float] = {}
    for path, step in placed(procedure):
        for name in step.needs:
            if name in lasts and since[name] > lasts[name]:
                yield Problem(
                    (*path, "needs", name),
                    f"{name} is known for {lasts[name]:g} s only, and {since[name]:g} s of waiting stand before here",
                    "Find it out after the wait, or give it longer in `leaves`",
                    Severity.NOTE,
                )
        wait = step.wait()
        if wait is not None and not wait.meanwhile:
            since = {name: passed + wait.seconds for name, passed in since.items()}
        for name, left in step.leaves.items():
            since[name] = 0.0
            lasts.pop(name, None)
            if left.lasts is not None:
                lasts[name] = left.lasts


def never_left_out(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A step that others rely on is never left out; its file should say so."""
    way = way_through(procedure, equipment)
    for place, passed in enumerate(way):
        left = {name: leaves.value for name, leaves in passed.step.leaves.items()}
        for later in way[place + 1 :]:
            needed = [name for name, value in later.step.needs.items() if left.get(name) is value]
            if needed and passed.step.may_skip:
                yield Problem(
                    passed.where(needed[0]),
                    f"{passed.step.id!r} is never left out, because {later.step.id!r} needs {needed[0]}, "
                    "but may be by its text",
                    "Write `may_skip: false` in it",
                    Severity.NOTE,
                )
                break
            for name in later.step.leaves:
                left.pop(name, None)


def durations(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Waits that end within a day, and states that last for some time."""
    for path, step in placed(procedure):
        wait = step.wait()
        if wait is not None and not 1 <= wait.seconds <= MAX_WAIT:
            remedy = "Write a time from 1 s to 24 h; what takes longer is another visit"
            yield Problem((*path, "lasts"), f"a wait of {wait.lasts} is none", remedy)
        for name, left in step.leaves.items():
            if left.lasts is not None and left.lasts < 1:
                yield Problem((*path, "leaves", name), f"{name} is known for no time", "Give it longer")
