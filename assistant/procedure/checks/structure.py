"""How a procedure is put together: identifiers, answers that lead somewhere, cards, and texts that say something.

Knows where steps lead. Refuses to know the engine's state (`state.py`) and how words sound (`sound.py`).
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Sequence
from dataclasses import replace

from assistant.procedure.checks.placed import hold_points, placed
from assistant.procedure.checks.texts import says_nothing, speakable
from assistant.procedure.checks.way import END, Passed, way_through
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path, Problem, Severity
from assistant.procedure.step import SignalWord, Step


def identifiers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Every step has an identifier of its own, and there is a step."""
    seen: set[str] = set()
    for path, step in placed(procedure):
        if step.id in seen:
            yield Problem(path, f"the step {step.id!r} stands here a second time", "Give it an identifier of its own")
        seen.add(step.id)
    if not seen:
        yield Problem((), "the procedure has no steps", "Write at least one under `steps`")


def goes_to(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """An answer leads to a later step that there is."""
    places = {step.id: place for place, (_, step) in enumerate(placed(procedure))}
    for place, (path, step) in enumerate(placed(procedure)):
        for way in step.ways():
            where = (*path, *way.at, "goes_to")
            if way.goes_to is None:
                continue
            if way.goes_to not in places:
                near = difflib.get_close_matches(way.goes_to, places, n=1)
                remedy = f"Did you mean {near[0]!r}" if near else "Name the identifier of a later step"
                yield Problem(where, f"there is no step {way.goes_to!r}", remedy)
            elif places[way.goes_to] <= place:
                cause = f"the step {way.goes_to!r} does not stand after {step.id!r}"
                yield Problem(where, cause, "Name a later step; `then: again` asks this one again")


def cards(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """No two hold points have one card."""
    seen: set[int] = set()
    for path, _, card in hold_points(procedure):
        if card.number in seen:
            cause = f"card number {card.number} stands twice"
            yield Problem((*path, "card"), cause, "Number the cards without gaps")
        seen.add(card.number)


def card_numbers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """The cards are numbered without gaps."""
    if equipment.visit.opening is not None:
        return  # the cards are those of a whole visit: see `plan.cards_of_a_visit`
    numbers = sorted({card.number for _, _, card in hold_points(procedure)})
    for path, _, card in hold_points(procedure):
        if card.number > 1 and card.number - 1 not in numbers:
            yield Problem(
                (*path, "card"),
                f"there is a card {card.number}, but none with the number {card.number - 1}",
                "Number the cards without gaps",
                Severity.NOTE,
            )


def within_a_step(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What each kind of step finds wrong in a step by itself."""
    for path, step in placed(procedure):
        for problem in step.own_problems():
            yield replace(problem, path=(*path, *problem.path))


def blank_texts(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Every text that is to be spoken says something."""
    if not speakable(procedure.title):
        yield says_nothing(("title",), "title")
    for path, step in placed(procedure):
        for key, text in (("title", step.title), ("text", step.text)):
            if not speakable(text):
                yield says_nothing((*path, key), key)
        for word in SignalWord:
            for index, text in enumerate(getattr(step, word.value)):
                if not speakable(text):
                    yield says_nothing((*path, word.value, index), word.value)
        for where, name in _value_names(path, step):
            if not speakable(name):
                yield says_nothing((*where, "name"), "name")


def _value_names(path: Path, step: Step) -> Iterator[tuple[Path, str]]:
    """What the values of a step are called."""
    for taken in step.measurements():
        yield (*path, *taken.at), taken.measured.name
    worked_out = step.works_out()
    if worked_out is not None:
        yield path, worked_out.name


def ways_on(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Every step is reached, every loop is left, and every step but the last has a way to a later one."""
    way = way_through(procedure, equipment)
    reached = _from_start(way) if way else set()
    leaving = {place for place, passed in enumerate(way) if END in passed.ways}
    while more := {place for place, passed in enumerate(way) if passed.ways & leaving} - leaving:
        leaving |= more
    for place, passed in enumerate(way):
        step = passed.step
        where = (*passed.path, *step.ways()[0].at[:1])  # the key under which its ways stand
        if place not in leaving and place in passed.ways:
            yield Problem(
                where,
                f"the loop at {step.id!r} has no exit: every answer asks it again",
                "Let one answer go on, or end the work with `then: end`",
            )
        elif place + 1 < len(way) and passed.ways <= {place, END}:
            yield Problem(
                where,
                f"there is no way on from {step.id!r}: every answer asks it again or ends the work",
                "Leave `then` out at the answer after which the work goes on",
            )
    for place, passed in enumerate(way):
        if place not in reached and place - 1 in reached:
            others = next((later for later in range(place, len(way)) if later in reached), len(way)) - place - 1
            more_steps = f", nor to the {others} after it" if others else ""
            yield Problem(
                passed.path,
                f"the step {passed.step.id!r} cannot be reached: no answer leads to it{more_steps}",
                "Let an answer of a step before it go on, or take the step out",
            )


def _from_start(way: Sequence[Passed]) -> set[int]:
    """The places that can be reached from the first step."""
    reached, rest = {0}, [0]
    while rest:
        for place in way[rest.pop()].ways - reached - {END}:
            reached.add(place)
            rest.append(place)
    return reached
