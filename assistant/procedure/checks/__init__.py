"""What a procedure must hold: its structure, the engine's state along the way, and what can hurt.

A check is a function from a procedure and its equipment to problems; a problem names the path in the file. One file a
topic; here they are put in the order in which their problems are named.

`problems` are those with which no file is read at all, not even to take old work up again; `more_problems` and
`problems_between` refuse new work too, where they are wrong and not only worth a note; `unused` is what a trainer wants
to know besides.
Knows the steps by their traits (`procedure/step.py`); refuses to know files and lines (`reading.py` does).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from assistant.procedure.checks import hazards, isolation, plan, sound, state, structure, values
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Problem

CheckFunction = Callable[[Procedure, Equipment], Iterator[Problem]]

REFUSED: tuple[CheckFunction, ...] = (
    structure.identifiers,
    state.variables,
    structure.goes_to,
    state.along_the_way,
    values.believable_limits,
    values.judging,
    values.calculations,
    sound.answers,
    sound.hold_phrases,
    structure.cards,
)
"""For which a file is not read."""
NEED_ALL_STEPS: tuple[CheckFunction, ...] = (
    structure.goes_to,
    state.along_the_way,
    values.judging,
    values.calculations,
)
"""Those of `REFUSED` that depend on the order of the steps."""
STEP_BY_STEP: tuple[CheckFunction, ...] = (
    structure.card_numbers,
    structure.within_a_step,
    structure.blank_texts,
    state.durations,
)
"""For which new work is refused."""
ALONG_THE_WAY: tuple[CheckFunction, ...] = (
    structure.ways_on,
    state.runs_out,
    state.never_left_out,
    hazards.warnings,
    isolation.energy,
    isolation.proved_and_undone,
    plan.stage,
)
"""For which new work is refused, where all steps of the file are there."""


def problems(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Everything for which the procedure is not read, in the order of the checks."""
    for check in REFUSED:
        yield from check(procedure, equipment)


def step_by_step(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Those of `problems` that hold even when steps of the file are missing."""
    for check in REFUSED:
        if check not in NEED_ALL_STEPS:
            yield from check(procedure, equipment)


def more_problems(
    procedure: Procedure,
    equipment: Equipment,
    whole: bool = True,
    commands: Iterable[str] = (),
    wording: Iterable[str] = (),
    pronounce: sound.Pronounce | None = None,
    while_asking: Iterable[str] = (),
) -> Iterator[Problem]:
    """Everything that `problems` leaves out.

    whole: whether all steps of the file are there; else what depends on their order is left out.
    commands: phrases that mean a command anywhere.
    wording: texts that the program itself speaks.
    pronounce: how the words of phrases sound, as far as that is known; None: they are not compared.
    while_asking: those of the commands that are not obeyed while a prompt of a step speaks them.
    """
    for check in (*STEP_BY_STEP, *(ALONG_THE_WAY if whole else ())):
        yield from check(procedure, equipment)
    if pronounce is not None:
        yield from sound.too_near(procedure, tuple(commands), pronounce)
    yield from sound.hold_phrases_in_wording(procedure, tuple(wording))
    yield from sound.said_by_prompts(procedure, tuple(while_asking))
