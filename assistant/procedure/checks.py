"""What a procedure must hold: its structure, the engine's state along the way, and what can hurt.

Each check is a function from a procedure and its equipment to problems; a problem names the path in the file.
`problems` are those with which no file is read at all, not even to take old work up again; `more_problems` and `across`
refuse new work too, where they are wrong and not only worth a note; `unused` is what a trainer wants to know besides.
Knows the steps as data; refuses to know files and lines (`reading.py` does) and the commands of a language, which it is
told.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from assistant.calculations.decision import DecisionRule
from assistant.calculations.formula import Given
from assistant.errors import CalculationError, QuantityError
from assistant.procedure.equipment import Equipment, EquipmentHazard, Procedure
from assistant.procedure.likeness import Pronunciations, distance, missing, sounds
from assistant.procedure.steps import (
    ACCOUNTED,
    Calculation,
    Check,
    FittedPart,
    HoldPoint,
    Instruction,
    Judged,
    Known,
    Measured,
    Reading,
    ReadingSet,
    SignalWord,
    Step,
    Then,
    Timer,
)
from assistant.quantities import Quantity, parse_limits

Path = tuple[str | int, ...]
State = Mapping[str, frozenset[Known]]
"""What may be known of the engine where a step begins: more than one value where several ways lead there."""

TOO_NEAR = 0.25  # two phrases of different meaning nearer than this are wrong: they differ in about one sound
NEAR = 0.35  # an answer nearer than this to a command or to another answer is worth a note; a hold phrase is wrong
LONGEST_WAIT = 24 * 3600.0  # seconds
MOST_RUN_HOURS = 100_000  # between two times that a task is due
AT_THE_START: State = {ACCOUNTED: frozenset({Known.YES})}
END = -1  # in place of a step: the end of the work


class Severity(StrEnum):
    """Wrong: the procedure is not to be used like this. Note: look at it; it may be meant."""

    WRONG = "wrong"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong and what would be right. path: keys and indexes from the top of the file."""

    path: Path
    cause: str
    remedy: str
    severity: Severity = Severity.WRONG


Pronounce = Callable[[Iterable[str]], Pronunciations]
_CheckFunction = Callable[[Procedure, Equipment], Iterator[Problem]]


def problems(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Everything for which the procedure is not read, in the order of the checks."""
    for check in REFUSED:
        yield from check(procedure, equipment)


def more_problems(
    procedure: Procedure,
    equipment: Equipment,
    whole: bool = True,
    commands: Iterable[str] = (),
    wording: Iterable[str] = (),
    pronounce: Pronounce | None = None,
    while_asking: Iterable[str] = (),
) -> Iterator[Problem]:
    """Everything that `problems` leaves out.

    whole: whether all steps of the file are there; else what depends on their order is left out. commands: phrases that
    mean a command anywhere; wording: texts that the program itself speaks; pronounce: how the words of phrases sound,
    as far as that is known; None: they are not compared. while_asking: those of the commands that are not obeyed
    while a prompt of a step speaks them.
    """
    for check in (*STEP_BY_STEP, *(ALONG_THE_WAY if whole else ())):
        yield from check(procedure, equipment)
    if pronounce is not None:
        yield from _too_near(procedure, tuple(commands), pronounce)
    yield from _hold_phrases_in_wording(procedure, tuple(wording))
    yield from _said_by_prompts(procedure, tuple(while_asking))


def step_by_step(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Those of `problems` that hold even when steps of the file are missing."""
    for check in REFUSED:
        if check not in (_state_along_the_way, _goes_to, _judging, _calculations):
            yield from check(procedure, equipment)


def _placed(procedure: Procedure) -> Iterator[tuple[Path, Step]]:
    for section in procedure.sections:
        for index, step in enumerate(section.steps):
            yield (section.name, index), step


@dataclass(frozen=True, slots=True)
class _Passed:
    """A step on the way through the work.

    before, after: what may be known of the engine's state. ways: places of the steps that may follow, from 0, or `END`.
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


def _way(procedure: Procedure, equipment: Equipment) -> list[_Passed]:
    """The steps in order, with what may be known at each. At the first one that is what a stage of a visit needs, where
    the procedure is one.

    A need that is not met counts as met afterwards, so that it is named once; a step that no way leads to, as the next
    of the one before it.
    """
    placed = list(_placed(procedure))
    places = {step.id: place for place, (_, step) in enumerate(placed)}
    arriving: dict[int, list[State]] = {0: [{**AT_THE_START, **_at_the_stage(procedure, equipment)}]}
    passed: list[_Passed] = []
    for place, (path, step) in enumerate(placed):
        before = _either(arriving.get(place) or [passed[-1].after])
        sure = {**step.needs, **{name: leaves.value for name, leaves in step.leaves.items()}}
        after = {**before, **{name: frozenset({value}) for name, value in sure.items()}}
        ways = _ways(step, place, place + 1 if place + 1 < len(placed) else END, places)
        passed.append(_Passed(path, step, before, after, ways))
        for following in ways:
            if following > place:
                arriving.setdefault(following, []).append(after)
    return passed


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
    """Where the work may go from a step at a place. onward: the next step; places: of all steps."""
    if not isinstance(step, Check):
        return frozenset({onward})
    follows = {Then.GO_ON: onward, Then.AGAIN: place, Then.END: END}
    ways = {
        follows[answer.then] if answer.goes_to is None else places.get(answer.goes_to, onward)
        for answer in step.answers.values()
    }
    return frozenset(ways if step.at_most is None else {*ways, END})


def _either(states: Sequence[State]) -> State:
    """What may be known where several ways meet."""
    unknown = frozenset({Known.UNKNOWN})
    names = {name for state in states for name in state}
    return {name: frozenset[Known]().union(*(state.get(name, unknown) for state in states)) for name in names}


def _surely(state: State, name: str, value: Known) -> bool:
    return state.get(name) == frozenset({value})


def _maybe(state: State, name: str, value: Known) -> bool:
    return value in state.get(name, ())


# --- for which a file is refused -----------------------------------------------------------------------------


def _identifiers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    seen: set[str] = set()
    for path, step in _placed(procedure):
        if step.id in seen:
            yield Problem(path, f"the step {step.id!r} stands here a second time", "Give it an identifier of its own")
        seen.add(step.id)
    if not seen:
        yield Problem((), "the procedure has no steps", "Write at least one under `steps`")


def _variables(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for path, step in _placed(procedure):
        for key, names in (("needs", step.needs), ("leaves", step.leaves)):
            for name in names:
                if name not in equipment.state:
                    yield _no_variable((*path, key, name), name, equipment)


def _no_variable(path: Path, name: str, equipment: Equipment) -> Problem:
    return Problem(
        path,
        f"{name!r} is no variable of the engine's state",
        f"Use one of {', '.join(equipment.state)}, or add it under `state` in equipment.yaml",
    )


def _state_along_the_way(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for passed in _way(procedure, equipment):
        for name, value in passed.step.needs.items():
            if not _surely(passed.before, name, value):
                before = " or ".join(sorted(passed.before.get(name, {Known.UNKNOWN}), reverse=True))
                yield Problem(
                    (*passed.path, "needs", name),
                    f"{passed.step.id!r} needs {name}: {value}, but the steps before leave it {before}",
                    f"Put a step that leaves `{name}: {value}` before this one",
                )


def _goes_to(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """An answer leads to a later step that there is."""
    places = {step.id: place for place, (_, step) in enumerate(_placed(procedure))}
    for place, (path, step) in enumerate(_placed(procedure)):
        if not isinstance(step, Check):
            continue
        for key, answer in step.answers.items():
            where = (*path, "answers", key, "goes_to")
            if answer.goes_to is None:
                continue
            if answer.goes_to not in places:
                near = difflib.get_close_matches(answer.goes_to, places, n=1)
                remedy = f"Did you mean {near[0]!r}" if near else "Name the identifier of a later step"
                yield Problem(where, f"there is no step {answer.goes_to!r}", remedy)
            elif places[answer.goes_to] <= place:
                cause = f"the step {answer.goes_to!r} does not stand after {step.id!r}"
                yield Problem(where, cause, "Name a later step; `then: again` asks this one again")


def _limits_believable(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for path, step in _placed(procedure):
        for where, reading in _readings(path, step):
            if reading.relative_to is not None:
                continue  # of a difference
            for key, end in ((key, end) for key, one in reading.every_limits() for end in (one.low, one.high)):
                if end is not None and reading.believable.side(end) != 0:
                    yield Problem(
                        (*where, key),
                        f"the limit {end} lies outside what is believable ({reading.believable})",
                        "Widen `believable` or correct `limits`",
                    )


def _readings(path: Path, step: Step) -> Iterator[tuple[Path, Measured]]:
    if isinstance(step, Reading):
        yield path, step
    elif isinstance(step, ReadingSet):
        for index, member in enumerate(step.members):
            yield (*path, "members", index), member


def _judged(path: Path, step: Step) -> Iterator[tuple[Path, Judged]]:
    yield from _readings(path, step)
    if isinstance(step, Calculation):
        yield path, step


def _judging(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What limits, rules and instruments refer to is there."""
    earlier: dict[str, Reading] = {}
    for path, step in _placed(procedure):
        for where, one in _judged(path, step):
            for name in one.limits_when:
                if name not in equipment.state:
                    yield _no_variable((*where, "limits_when", name), name, equipment)
            width = one.uncertainty
            if isinstance(one, Measured):
                yield from _relative(where, one, earlier)
                yield from _with_instrument(where, one, equipment)
                instrument = equipment.instruments.get(one.instrument or "")
                width = width or (instrument.uncertainty if instrument else None)
            if one.decision is DecisionRule.GUARDED and width is None:
                cause = f"the guarded rule of {one.name!r} needs an uncertainty"
                yield Problem((*where, "decision"), cause, "Give `uncertainty`, or an `instrument` that has one")
        if isinstance(step, Reading):
            earlier[step.id] = step


def _relative(path: Path, one: Measured, earlier: Mapping[str, Reading]) -> Iterator[Problem]:
    if one.relative_to is None:
        return
    other = earlier.get(one.relative_to)
    where = (*path, "relative_to")
    if other is None:
        yield _no_reading(where, one.relative_to, earlier)
    elif other.believable.kind is not one.believable.kind:
        cause = f"{one.name!r} is {one.believable.kind}, {other.name!r} is {other.believable.kind}"
        yield Problem(where, cause, "Compare readings of one kind")


def _no_reading(path: Path, step: str, earlier: Mapping[str, Reading]) -> Problem:
    near = difflib.get_close_matches(step, earlier, n=1)
    remedy = f"Did you mean {near[0]!r}" if near else "Name the step of a reading that comes before"
    return Problem(path, f"no step {step!r} takes a reading before this one", remedy)


def _with_instrument(path: Path, one: Measured, equipment: Equipment) -> Iterator[Problem]:
    if one.instrument is None:
        return
    instrument, where = equipment.instruments.get(one.instrument), (*path, "instrument")
    if instrument is None:
        near = difflib.get_close_matches(one.instrument, equipment.instruments, n=1)
        remedy = f"Did you mean {near[0]!r}" if near else "Add it under `instruments` in equipment.yaml"
        yield Problem(where, f"there is no instrument {one.instrument!r}", remedy)
    elif instrument.uncertainty is not None and not _is_width(instrument.uncertainty, one.unit):
        cause = f"the uncertainty of {one.instrument!r}, {instrument.uncertainty}, is none of a reading in {one.unit}"
        yield Problem(where, cause, "Name the instrument that reads this")


def _is_width(width: Quantity, unit: str) -> bool:
    try:
        return width.difference_in(unit) >= 0
    except QuantityError:
        return False


def _calculations(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A calculation takes readings that come before it, of the kinds that its formula wants, and gives what is judged.

    What is worked out is tried with readings from the middle of what is believable.
    """
    earlier: dict[str, Reading] = {}
    for path, step in _placed(procedure):
        if isinstance(step, Reading):
            earlier[step.id] = step
        if not isinstance(step, Calculation):
            continue
        missing = [(name, one) for name, steps in step.readings.items() for one in steps if one not in earlier]
        yield from (_no_reading((*path, "inputs", name), one, earlier) for name, one in missing)
        if missing:
            continue
        given: dict[str, Given] = {**step.inputs}
        for name, steps in step.readings.items():
            given[name] = tuple(Quantity(_middle(earlier[one]), earlier[one].unit) for one in steps)
        try:
            value = step.row.compute(given).value
        except CalculationError as error:
            if "measures" in error.cause:  # another kind; a value out of range says nothing of other values
                yield Problem((*path, "inputs"), f"{error.place}: {error.cause}", error.remedy)
            continue
        if not isinstance(value, Quantity):
            if step.unit or step.every_limits():
                cause = f"the result of {step.formula} is text, which has no unit and no limits"
                yield Problem((*path, "formula"), cause, "Take unit and limits out, or name another formula")
            continue
        try:
            step.one_kind(value.unit if not step.unit else value.to(step.unit).unit)
        except (QuantityError, ValueError) as error:
            cause = error.cause if isinstance(error, QuantityError) else str(error).replace('"', "`")
            yield Problem((*path, "unit"), cause, "Give unit and limits in what the formula gives")


def _middle(reading: Reading) -> Decimal:
    low, high = (
        None if end is None else end.exactly(reading.unit) for end in (reading.believable.low, reading.believable.high)
    )
    return (low + high) / 2 if low is not None and high is not None else low or high or Decimal(0)


def _answers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for path, step in _placed(procedure):
        if not isinstance(step, Check):
            continue
        seen: dict[str, str] = {}
        for key, answer in step.answers.items():
            for phrase in (answer.phrase, *answer.also):
                if phrase in seen:
                    yield Problem(
                        (*path, "answers", key),
                        f"{phrase!r} stands for the answer {seen[phrase]!r} already",
                        "Give each answer words of its own",
                    )
                seen[phrase] = key


def _hold_points(procedure: Procedure) -> Iterator[tuple[Path, HoldPoint]]:
    for path, step in _placed(procedure):
        if isinstance(step, HoldPoint):
            yield path, step


def _hold_phrases(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A prompt that speaks a hold phrase would pass the hold point through the loudspeaker."""
    for path, hold in _hold_points(procedure):
        for variable, words in equipment.state.items():
            if any(_says(text, hold.phrase) for text in (words.yes, words.no)):
                yield Problem(
                    (*path, "phrase"),
                    f"the words for the state {variable!r} in equipment.yaml speak the phrase {hold.phrase!r}",
                    "Choose a phrase that no prompt speaks, or reword the state",
                )
        for _, step in _placed(procedure):
            for text in step.prompts():
                if _says(text, hold.phrase):
                    yield Problem(
                        (*path, "phrase"),
                        f"a prompt of the step {step.id!r} speaks the phrase {hold.phrase!r}",
                        "Choose a phrase that no prompt speaks, or reword the prompt",
                    )
            if step is not hold and hold.phrase in step.phrases():
                yield Problem(
                    (*path, "phrase"),
                    f"the step {step.id!r} has the phrase {hold.phrase!r} too",
                    "Give each hold point a phrase of its own",
                )


def _cards(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    seen: set[int] = set()
    for path, step in _hold_points(procedure):
        if step.card in seen:
            yield Problem((*path, "card"), f"card number {step.card} stands twice", "Number the cards without gaps")
        seen.add(step.card)


def _parts(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """The last three characters of a number prove one part only."""
    for path, step in _placed(procedure):
        seen: dict[str, str] = {}
        for index, part in enumerate(step.expected if isinstance(step, FittedPart) else ()):
            if part.proof in seen:
                cause = f"{part.number!r} ends in {part.proof} as {seen[part.proof]!r} does"
                remedy = "Take one of them out; it can still be fitted as a substitute"
                yield Problem((*path, "expected", index), cause, remedy)
            seen.setdefault(part.proof, part.number)


REFUSED: tuple[_CheckFunction, ...] = (
    _identifiers,
    _variables,
    _goes_to,
    _state_along_the_way,
    _limits_believable,
    _judging,
    _calculations,
    _answers,
    _hold_phrases,
    _cards,
)


# --- structure -----------------------------------------------------------------------------------------------


def _ways_on(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Every step is reached, every loop is left, and every step but the last has a way to a later one."""
    way = _way(procedure, equipment)
    reached = _from_start(way) if way else set()
    leaving = {place for place, passed in enumerate(way) if END in passed.ways}
    while more := {place for place, passed in enumerate(way) if passed.ways & leaving} - leaving:
        leaving |= more
    for place, passed in enumerate(way):
        step = passed.step
        where = (*passed.path, "answers") if isinstance(step, Check) else passed.path
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


def _from_start(way: Sequence[_Passed]) -> set[int]:
    """The places that can be reached from the first step."""
    reached, rest = {0}, [0]
    while rest:
        for place in way[rest.pop()].ways - reached - {END}:
            reached.add(place)
            rest.append(place)
    return reached


def _state_runs_out(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A state that is known only for a while, and needed after waits that are longer than that."""
    since: dict[str, float] = {}
    lasts: dict[str, float] = {}
    for path, step in _placed(procedure):
        for name in step.needs:
            if name in lasts and since[name] > lasts[name]:
                yield Problem(
                    (*path, "needs", name),
                    f"{name} is known for {lasts[name]:g} s only, and {since[name]:g} s of waiting stand before here",
                    "Find it out after the wait, or give it longer in `leaves`",
                    Severity.NOTE,
                )
        if isinstance(step, Timer) and not step.meanwhile:
            since = {name: passed + step.seconds for name, passed in since.items()}
        for name, left in step.leaves.items():
            since[name] = 0.0
            lasts.pop(name, None)
            if left.lasts is not None:
                lasts[name] = left.lasts


def _never_left_out(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A step that others rely on is never left out; its file should say so."""
    way = list(_way(procedure, equipment))
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


def _blank(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Every text that is to be spoken says something."""
    if not _speakable(procedure.title):
        yield _says_nothing(("title",), "title")
    for path, step in _placed(procedure):
        for key, text in (("title", step.title), ("text", step.text)):
            if not _speakable(text):
                yield _says_nothing((*path, key), key)
        for word in SignalWord:
            for index, text in enumerate(getattr(step, word.value)):
                if not _speakable(text):
                    yield _says_nothing((*path, word.value, index), word.value)
        for where, one in _judged(path, step):
            if not _speakable(one.name):
                yield _says_nothing((*where, "name"), "name")


def _speakable(text: str) -> bool:
    return any(sign.isalnum() for sign in text)


def _says_nothing(path: Path, key: str) -> Problem:
    return Problem(path, f"{key!r} says nothing", "Write a text with words in it")


def _durations(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Waits that end within a day, and states that last for some time."""
    for path, step in _placed(procedure):
        if isinstance(step, Timer) and not 1 <= step.seconds <= LONGEST_WAIT:
            remedy = "Write a time from 1 s to 24 h; what takes longer is another visit"
            yield Problem((*path, "lasts"), f"a wait of {step.lasts} is none", remedy)
        for name, left in step.leaves.items():
            if left.lasts is not None and left.lasts < 1:
                yield Problem((*path, "leaves", name), f"{name} is known for no time", "Give it longer")


def _card_numbers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    if equipment.visit.opening is not None:
        return  # the cards are those of a whole visit: see `unused`
    cards = sorted({hold.card for _, hold in _hold_points(procedure)})
    for path, hold in _hold_points(procedure):
        if hold.card > 1 and hold.card - 1 not in cards:
            yield Problem(
                (*path, "card"),
                f"there is a card {hold.card}, but none with the number {hold.card - 1}",
                "Number the cards without gaps",
                Severity.NOTE,
            )


# --- what can hurt -------------------------------------------------------------------------------------------


def _hazards(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A step that meets a hazard speaks its warning first. Who needs the state comes after the step that left it."""
    for passed in _way(procedure, equipment):
        for name, hazard in equipment.hazards.items():
            met = _meets(passed, hazard)
            if met and not _warns(passed.step, hazard):
                yield _unwarned(passed, name, hazard, met)


def _meets(passed: _Passed, hazard: EquipmentHazard) -> str:
    """Why a step meets a hazard, in words; empty when it does not."""
    step = passed.step
    if not all(_maybe(passed.after, variable, value) for variable, value in hazard.state.items()):
        return ""
    if hazard.words:
        spoken = next((words for words in hazard.words if any(_says(text, words) for text in _told(step))), None)
        return f"speaks of {spoken!r}" if spoken else ""
    left = [variable for variable, value in hazard.state.items() if variable in step.leaves]
    return f"leaves {left[0]}: {hazard.state[left[0]]}" if left else ""


def _told(step: Step) -> tuple[str, ...]:
    return step.title, step.text, step.details


def _warns(step: Step, hazard: EquipmentHazard) -> bool:
    words = list(SignalWord)
    return any(
        words.index(word) <= words.index(hazard.signal) and any(_says(text, about) for about in hazard.about)
        for word, text in step.hazards()
    )


def _unwarned(passed: _Passed, name: str, hazard: EquipmentHazard, met: str) -> Problem:
    about = " or ".join(repr(words) for words in hazard.about)
    weaker = [word for word, text in passed.step.hazards() if any(_says(text, words) for words in hazard.about)]
    if weaker:
        cause = f"its {weaker[0]} is not grave enough for the hazard {name!r}, which wants {hazard.signal}"
        path: Path = (*passed.path, weaker[0].value)
    else:
        cause = f"and no {hazard.signal} of the hazard {name!r} stands before it"
        path = passed.path
    return Problem(
        path,
        f"{passed.step.id!r} {met}, {cause}",
        f"Write a sentence with {about} under `{hazard.signal}` in this step",
    )


def _energy(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What an isolation rules out is not there while the isolation is."""

    def clashes(state: State) -> set[tuple[str, str]]:
        return {
            (isolation, energy)
            for isolation, variable in equipment.state.items()
            for energy, value in variable.rules_out.items()
            if _maybe(state, isolation, Known.YES) and _maybe(state, energy, value)
        }

    for passed in _way(procedure, equipment):
        for isolation, energy in sorted(clashes(passed.after) - clashes(passed.before)):
            value = equipment.state[isolation].rules_out[energy]
            yield Problem(
                passed.where(isolation, energy),
                f"at {passed.step.id!r} {energy} is {value} while {isolation} is yes, and the one rules the other out",
                f"Put a step that ends `{energy}: {value}` or `{isolation}: yes` before this one",
            )


def _isolation(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What was isolated was proved, and is put back into service before the work is complete."""
    way = _way(procedure, equipment)
    for name in (name for name, variable in equipment.state.items() if variable.rules_out):
        made: Path | None = None
        for passed in way:
            step, path = passed.step, (*passed.path, "leaves", name)
            left = step.leaves.get(name)
            if left is None:
                continue
            if left.value is Known.YES:
                made = path
                unproved = _unproved(step)
                if unproved:
                    yield Problem(path, f"{name}: yes is never proved: {unproved}", "Let a hold point prove it")
            elif left.value is Known.NO and not (
                _surely(passed.before, name, Known.YES) or step.needs.get(name) is Known.YES
            ):
                yield Problem(
                    path,
                    f"{step.id!r} undoes {name}, which not every way to it has proved",
                    f"Put a hold point that leaves `{name}: yes` before it, or take the line out",
                )
        stages = equipment.stages_of(procedure.procedure)  # the visit goes on after one
        if made and not stages and _maybe(way[-1].after, name, Known.YES):
            yield Problem(
                made,
                f"{name}: yes is never undone: the work can be complete while it is so",
                f"Put a step that leaves `{name}: no` under `after`",
            )


def _stage(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """The steps of a task or a change leave the engine as a visit is planned on."""
    stages = equipment.stages_of(procedure.procedure)
    planned = {name for stage in (*equipment.tasks, *equipment.changes) for name in equipment.needs_of(stage)}
    planned |= equipment.visit.left.keys()
    way = _way(procedure, equipment)
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
            if name in planned and value is not Known.UNKNOWN and not _surely(way[-1].after, name, value):
                words = " or ".join(sorted(way[-1].after.get(name, {Known.UNKNOWN}), reverse=True))
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


def _unproved(step: Step) -> str:
    """Why what a step leaves is not proved by it, in words; empty when it is."""
    match step:
        case HoldPoint():
            return ""
        case Instruction():
            return f"`next` is enough to pass the instruction {step.id!r}"
        case Timer():
            return f"the timer {step.id!r} ends by itself"
        case Reading() if step.until_within and step.every_limits():
            return ""
        case Check():
            bad = [key for key, answer in step.answers.items() if not answer.good and answer.then is Then.GO_ON]
            return f"the answer {bad[0]!r} of {step.id!r} is not good and goes on all the same" if bad else ""
        case _:
            return f"{step.id!r} goes on with any value"


# --- words that are heard ------------------------------------------------------------------------------------


def _too_near(procedure: Procedure, commands: tuple[str, ...], pronounce: Pronounce) -> Iterator[Problem]:
    """Phrases are apart in sound that may be said in one place, and those of all hold points.

    A hold phrase is not to be passed by a command misheard, nor an answer given by one.
    """
    phrases = [phrase for step in procedure.steps() for phrase in step.phrases()]
    pronounced = pronounce([*commands, *phrases])
    commands = tuple(phrase for phrase in commands if missing(phrase, pronounced) is None)  # else the language is wrong
    holds: list[_OwnPhrase] = []
    for path, step in _placed(procedure):
        others = holds if isinstance(step, HoldPoint) else []
        for own in _own_phrases(path, step):
            unknown = missing(own.phrase, pronounced)
            if unknown is not None:
                yield Problem(
                    own.path,
                    f"how {unknown!r} sounds is not known, so {own.phrase!r} was compared with no other phrase",
                    "Install espeak-ng, or add the word to pronunciations.yaml of the language",
                )
                continue
            apart = tuple(o.phrase for o in others if o.path != own.path and o.phrase != own.phrase)
            yield from _nearest(own, "the command", commands, pronounced)
            yield from _nearest(own, own.kind, apart, pronounced)
            others.append(own)


@dataclass(frozen=True, slots=True)
class _OwnPhrase:
    """A phrase that a step brings along. kind: what it is called beside another one."""

    path: Path
    phrase: str
    kind: str


def _own_phrases(path: Path, step: Step) -> Iterator[_OwnPhrase]:
    if isinstance(step, Check):
        for key, answer in step.answers.items():
            for phrase in (answer.phrase, *answer.also):
                yield _OwnPhrase((*path, "answers", key), phrase, "the answer")
    elif isinstance(step, HoldPoint):
        yield _OwnPhrase((*path, "phrase"), step.phrase, "the phrase of another hold point,")


def _nearest(own: _OwnPhrase, kind: str, others: tuple[str, ...], pronounced: Pronunciations) -> Iterator[Problem]:
    """The phrase of these that sounds most like it, when that is too much."""
    said = sounds(own.phrase, pronounced)
    far = {other: distance(said, sounds(other, pronounced)) for other in others}
    nearest = min(far, key=far.__getitem__, default=None)
    if nearest is None or far[nearest] >= NEAR:
        return
    wrong = far[nearest] < TOO_NEAR or own.path[-1] == "phrase"
    yield Problem(
        own.path,
        f"{own.phrase!r} sounds {'too much' if wrong else 'much'} like {kind} {nearest!r} "
        f"(distance {far[nearest]:.2f})",
        "Choose words further apart in sound; `enginebay words` shows how far",
        Severity.WRONG if wrong else Severity.NOTE,
    )


def _hold_phrases_in_wording(procedure: Procedure, wording: tuple[str, ...]) -> Iterator[Problem]:
    for path, hold in _hold_points(procedure):
        for text in wording:
            if _says(text, hold.phrase):
                yield Problem(
                    (*path, "phrase"),
                    f"the program itself speaks the phrase {hold.phrase!r}: {text!r}",
                    "Choose a phrase that no prompt speaks",
                )


def _said_by_prompts(procedure: Procedure, while_asking: tuple[str, ...]) -> Iterator[Problem]:
    """A command in a prompt costs hearing: without a headset it is not obeyed while the prompt is spoken, since the
    loudspeaker may have said it. That is no danger, so it is a note. Answers cost nothing: without a headset none is
    listened for meanwhile."""
    for path, step in _placed(procedure):
        texts = step.prompts()
        named = [phrase for phrase in while_asking if any(_says(text, phrase.lower()) for text in texts)]
        if named:
            words = ", ".join(map(repr, named))
            keys = ("title", "text", "details")
            where = next((key for key in keys if _says(getattr(step, key), named[0].lower())), "text")
            cause = f"a prompt of {step.id!r} speaks the command {words}, which is not obeyed meanwhile"
            yield Problem((*path, where), cause, "Put it in other words, where there are any", Severity.NOTE)


STEP_BY_STEP: tuple[_CheckFunction, ...] = (_card_numbers, _parts, _blank, _durations)
ALONG_THE_WAY: tuple[_CheckFunction, ...] = (
    _ways_on,
    _state_runs_out,
    _never_left_out,
    _hazards,
    _energy,
    _isolation,
    _stage,
)


# --- the equipment -------------------------------------------------------------------------------------------


def equipment_problems(equipment: Equipment) -> Iterator[Problem]:
    """What is wrong in an equipment file that reads well. Paths are in that file."""
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
    for name, variable in equipment.state.items():
        for other in variable.rules_out:
            if other not in equipment.state:
                yield _no_variable(("state", name, "rules_out", other), other, equipment)
    for name, hazard in equipment.hazards.items():
        for other in hazard.state:
            if other not in equipment.state:
                yield _no_variable(("hazards", name, "state", other), other, equipment)
    yield from _task_problems(equipment)
    yield from _said_of_equipment(equipment)
    for group, values in equipment.data.items():
        for name, value in values.items():
            if not re.match(r"\s*[-−+]?\d.* to [-−+]?\d", value):
                continue
            try:
                parse_limits(value, "data")
            except QuantityError as error:
                if error.place == "limits":  # both ends read well, and do not go together
                    yield Problem(("data", group, name), error.cause, error.remedy)


_SAID_ALOUD = re.compile(r"[^\W_][\w' -]*")


def _said_of_equipment(equipment: Equipment) -> Iterator[Problem]:
    """What is spoken of the equipment says something, and what a task is called can be said."""
    if not equipment.assets:
        yield Problem(("assets",), "there are no assets, so no work can be ordered", "Write `identifier: its name`")
    for name, words in equipment.assets.items():
        if not _speakable(words):
            yield _says_nothing(("assets", name), name)
    for name, variable in equipment.state.items():
        for key, words in (("yes", variable.yes), ("no", variable.no)):
            if not _speakable(words):
                yield _says_nothing(("state", name, key), key)
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
        if task.every is not None and task.every.hours is not None and task.every.hours > MOST_RUN_HOURS:
            cause = f"{task.every.hours} run hours are more than a set is used for"
            yield Problem(("tasks", name, "every", "hours"), cause, f"Write at most {MOST_RUN_HOURS:,}")
    titles = [(("tasks", name, "title"), task.title) for name, task in equipment.tasks.items()]
    titles += [(("changes", name, "title"), change.title) for name, change in equipment.changes.items()]
    for path, title in titles:
        if not _speakable(title):
            yield _says_nothing(path, "title")


def _task_problems(equipment: Equipment) -> Iterator[Problem]:
    """What is wrong with the tasks, with the changes of state between them, and with how a visit begins and ends."""
    visit = equipment.visit
    stated: list[tuple[Path, Mapping[str, Known]]] = [
        (("visit", "found"), visit.found),
        (("visit", "left"), visit.left),
    ]
    for place, stateful in (("tasks", equipment.tasks), ("changes", equipment.changes)):
        for name, one in stateful.items():
            stated += [((place, name, "needs"), one.needs), ((place, name, "leaves"), one.leaves)]
    stated += [(("precautions", name, "needs"), one.needs) for name, one in equipment.precautions.items()]
    coming = {pair for path, state in stated if path[-1] in ("found", "leaves") for pair in state.items()}
    for path, state in stated:
        for name, value in state.items():
            if name not in equipment.state:
                yield _no_variable((*path, name), name, equipment)
            elif path[-1] in ("needs", "left") and (name, value) not in coming:
                yield Problem(
                    (*path, name),
                    f"nothing leaves `{name}: {value}`, so it never comes to that",
                    "Add it to what a change or a task leaves, or to how the visit finds the engine",
                )
    for name in equipment.tasks.keys() & equipment.changes.keys():
        yield Problem(("changes", name), f"a task is called {name!r} too", "Give the change another name")
    yield from _precaution_problems(equipment)
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


def _precaution_problems(equipment: Equipment) -> Iterator[Problem]:
    """Precautions speak of what tasks do, and do not go in a circle."""
    done = {deed for task in equipment.tasks.values() for deed in task.does}
    earlier: dict[str, set[str]] = {name: set() for name in equipment.tasks}
    for name, one in equipment.precautions.items():
        for key, deed in (("doing", one.doing), ("before", one.before)):
            if deed is not None and deed not in done:
                near = difflib.get_close_matches(deed, done, n=1)
                remedy = f"Did you mean {near[0]!r}" if near else "Write it under `does` of a task, or take it out"
                yield Problem(("precautions", name, key), f"no task does {deed!r}", remedy, Severity.NOTE)
        for other, task in equipment.tasks.items():
            if one.before in task.does:
                earlier[other] |= {first for first, its in equipment.tasks.items() if one.doing in its.does}
    for name, task in equipment.tasks.items():
        for one in equipment.minded(name):
            for variable, value in one.needs.items():
                if task.needs.get(variable, value) is not value:
                    cause = f"{name!r} needs {variable}: {task.needs[variable]}, and a precaution {variable}: {value}"
                    yield Problem(("tasks", name, "needs", variable), cause, f"Take it out: {one.because}")
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


def _tasks_by_procedures(equipment: Equipment, procedures: Sequence[Procedure]) -> Iterator[Problem]:
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


def _cards_of_a_visit(equipment: Equipment, procedures: Sequence[Procedure]) -> Iterator[Problem]:
    """The cards of a visit are numbered without gaps over all procedures; within one `_card_numbers` says so."""
    cards = {hold.card for procedure in procedures for _, hold in _hold_points(procedure)}
    missing = sorted(set(range(1, max(cards, default=0))) - cards)
    if missing and equipment.visit.opening is not None:
        cause = f"there is a card {max(cards)}, but none with the number {', '.join(map(str, missing))}"
        yield Problem(("visit", "opening"), cause, "Number the cards without gaps over all procedures", Severity.NOTE)


def across(
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
    cards: dict[int, tuple[str, HoldPoint]] = {}
    for file, procedure in procedures.items():
        other = names.setdefault(procedure.procedure, file)
        if other != file:
            yield (
                file,
                Problem(("procedure",), f"{other} is the procedure {procedure.procedure!r} too", "Keep one of them"),
            )
        for path, step in _placed(procedure):
            other = steps.setdefault(step.id, file)
            if other != file:  # timers and calculations name a step of a visit by its identifier alone
                cause, remedy = f"{other} has a step {step.id!r} too", "Give one of the two another identifier"
                yield file, Problem(path, cause, remedy, severity)
        for path, hold in _hold_points(procedure):
            first, its = cards.setdefault(hold.card, (file, hold))
            if first != file:
                cause = f"{its.id!r} of {first} and {hold.id!r} have one card, number {hold.card}"
                remedy = "Number the cards without gaps over all procedures"
                yield file, Problem((*path, "card"), cause, remedy, severity)
            for other, procedure_ in procedures.items():
                for step in procedure_.steps() if other != file else ():
                    if hold.phrase in step.phrases() or any(_says(text, hold.phrase) for text in step.prompts()):
                        cause = f"{step.id!r} of {other} has or speaks the phrase {hold.phrase!r} of {hold.id!r}"
                        remedy = "Choose a phrase that no other step has, and no prompt speaks"
                        yield file, Problem((*path, "phrase"), cause, remedy, severity)


def unused(
    equipment: Equipment, procedures: Sequence[Procedure], references: Iterable[tuple[str, str]]
) -> Iterator[Problem]:
    """Notes on what no procedure of the equipment makes use of, and on what tasks name that no procedure has.

    references: group and name of the data that procedures name.
    """
    yield from _tasks_by_procedures(equipment, procedures)
    yield from _cards_of_a_visit(equipment, procedures)
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
    passed = [one for procedure in procedures for one in _way(procedure, equipment)]
    for name, hazard in equipment.hazards.items():
        if not any(_meets(one, hazard) for one in passed):
            yield note(("hazards", name), f"no step meets the hazard {name!r}")


def _says(text: str, words: str) -> bool:
    """Whether a text, spoken, contains these words one after the other."""
    return f" {words} " in f" {_spoken_words(text)} "


def _spoken_words(text: str) -> str:
    return " ".join(re.findall(r"[a-z']+", text.lower()))
