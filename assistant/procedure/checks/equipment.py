"""What is wrong in an equipment file that reads well: its state, hazards, tasks, words and data.

Knows the equipment file alone. Refuses to know procedures; `between_files.py` holds the two against each other.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from assistant.errors import QuantityError
from assistant.procedure.checks import plan
from assistant.procedure.checks.state import no_variable
from assistant.procedure.checks.texts import says_nothing, speakable
from assistant.procedure.equipment import Equipment
from assistant.procedure.problem import Path, Problem, Severity
from assistant.quantities import parse_limits

MAX_RUN_HOURS = 100_000  # between two times that a task is due

_SAID_ALOUD = re.compile(r"[^\W_][\w' -]*")
_A_RANGE = re.compile(r"\s*[-−+]?\d.* to [-−+]?\d")


def equipment_problems(equipment: Equipment) -> Iterator[Problem]:
    """What is wrong in an equipment file that reads well. Paths are in that file."""
    yield from _checked_at_all(equipment)
    yield from _names_of_state(equipment)
    yield from plan.tasks(equipment)
    yield from _said_of_equipment(equipment)
    yield from _ranges(equipment)


def _checked_at_all(equipment: Equipment) -> Iterator[Problem]:
    """There is something to hold procedures against."""
    if equipment.state and not any(variable.rules_out for variable in equipment.state.values()):
        yield Problem(
            ("state",),
            "no variable rules another out, so it is not checked whether isolation is proved and undone",
            "Write at the isolation what cannot be meanwhile, such as `rules_out: {running: yes}`",
            Severity.NOTE,
        )
    if not equipment.hazards:
        yield Problem(
            (),
            "there are no `hazards`, so it is not checked whether warnings stand where they must",
            "Write down what can hurt, such as `gas: {signal: danger, about: [gas], state: {running: yes}}`",
            Severity.NOTE,
        )


def _names_of_state(equipment: Equipment) -> Iterator[Problem]:
    """Isolations and hazards name variables that there are."""
    for name, variable in equipment.state.items():
        for other in variable.rules_out:
            if other not in equipment.state:
                yield no_variable(("state", name, "rules_out", other), other, equipment)
    for name, hazard in equipment.hazards.items():
        for other in hazard.state:
            if other not in equipment.state:
                yield no_variable(("hazards", name, "state", other), other, equipment)


def _said_of_equipment(equipment: Equipment) -> Iterator[Problem]:
    """What is spoken of the equipment says something, and what a task is called can be said."""
    if not equipment.assets:
        yield Problem(("assets",), "there are no assets, so no work can be ordered", "Write `identifier: its name`")
    for name, words in equipment.assets.items():
        if not speakable(words):
            yield says_nothing(("assets", name), name)
    for name, variable in equipment.state.items():
        for key, words in (("yes", variable.yes), ("no", variable.no)):
            if not speakable(words):
                yield says_nothing(("state", name, key), key)
    called: dict[str, str] = {}
    for name, task in equipment.tasks.items():
        key = "title" if task.called is None else "called"
        if not _SAID_ALOUD.fullmatch(equipment.called(name)):
            cause = f"{equipment.called(name)!r} cannot be said as it is written, to ask for the task"
            yield Problem(("tasks", name, key), cause, "Write beside it `called: ` with plain words in small letters")
        other = called.setdefault(equipment.called(name), name)
        if other != name:
            cause = f"the task {other!r} is called {equipment.called(name)!r} too"
            yield Problem(("tasks", name, key), cause, "Write `called: ` with words of its own")
    for name, task in equipment.tasks.items():
        if task.every is not None and task.every.hours is not None and task.every.hours > MAX_RUN_HOURS:
            cause = f"{task.every.hours} run hours are more than a set is used for"
            yield Problem(("tasks", name, "every", "hours"), cause, f"Write at most {MAX_RUN_HOURS:,}")
    titles: list[tuple[Path, str]] = [(("tasks", name, "title"), task.title) for name, task in equipment.tasks.items()]
    titles += [(("changes", name, "title"), change.title) for name, change in equipment.changes.items()]
    for path, title in titles:
        if not speakable(title):
            yield says_nothing(path, "title")


def _ranges(equipment: Equipment) -> Iterator[Problem]:
    """Data that look like a range are one."""
    for group, values in equipment.data.items():
        for name, value in values.items():
            if not _A_RANGE.match(value):
                continue
            try:
                parse_limits(value, "data")
            except QuantityError as error:
                if error.place == "limits":  # both ends read well, and do not go together
                    yield Problem(("data", group, name), error.cause, error.remedy)
