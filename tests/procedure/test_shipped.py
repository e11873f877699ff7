"""The shipped procedures load, pass every check, and keep the rules for words that are heard and spoken."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from itertools import combinations
from pathlib import Path

import pytest

from assistant.calculations.coolant import freezing_point
from assistant.edge.checking.languages import spoken_texts
from assistant.edge.checking.pronouncing import pronounced
from assistant.edge.files.library import order_visit
from assistant.edge.places import grammars, procedures
from assistant.engine_state import Known
from assistant.meanings import CommandName
from assistant.procedure.checks import problems
from assistant.procedure.checks.sound import NEAR
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.timer import Timer
from assistant.procedure.likeness import distance, sounds
from assistant.procedure.reading import examine_procedure, read_equipment, read_procedure
from assistant.procedure.step import Step
from assistant.quantities import Quantity, parse, parse_limits

FILES = sorted(path for path in procedures().glob("*/*.yaml") if path.name != "equipment.yaml")
SENTENCE_END = re.compile(r"(?<=[.?!])\s+")
MAX_WORDS_OF_AN_INSTRUCTION = 20  # simplified technical English; 25 of a description
MAX_WORDS_OF_A_DESCRIPTION = 25


@cache
def load(path: Path) -> tuple[Procedure, Equipment]:
    equipment = read_equipment((path.parent / "equipment.yaml").read_text(encoding="utf-8"))
    return read_procedure(path.read_text(encoding="utf-8"), equipment, path.name), equipment


def test_there_is_one_for_every_stage_of_a_visit() -> None:
    equipment = load(procedures() / "twin-9" / "oil-and-filter.yaml")[1]
    visit = equipment.visit
    wanted = {visit.opening, visit.ending, *map(equipment.procedure_of, (*equipment.tasks, *equipment.changes))}
    assert {path.stem for path in FILES if path.parent.name == "twin-9"} == wanted


def test_no_two_steps_are_called_the_same() -> None:
    """Timers, and what is spoken of, name a step alone."""
    for folder in {path.parent for path in FILES}:
        named = [step.id for path in FILES if path.parent == folder for step in load(path)[0].steps()]
        assert len(named) == len(set(named)) > 50


def test_every_variable_is_used() -> None:
    """By a procedure, or between the tasks of a visit."""
    equipment = load(FILES[0])[1]
    used = {name for path in FILES for step in load(path)[0].steps() for name in (*step.needs, *step.leaves)}
    planned = {name for task in equipment.tasks.values() for name in (*task.needs, *task.leaves)}
    planned |= {name for change in equipment.changes.values() for name in (*change.needs, *change.leaves)}
    assert used | planned == set(equipment.state)


def holds() -> list[HoldPoint]:
    return [step for path in FILES for step in load(path)[0].steps() if isinstance(step, HoldPoint)]


def test_cards_are_numbered_without_gaps() -> None:
    assert sorted(hold.card for hold in holds()) == list(range(1, len(holds()) + 1))


def test_phrases_of_hold_points_share_no_telling_word() -> None:
    weak = {"at", "to", "and", "the", "is"}
    words = [set(hold.phrase.split()) - weak for hold in holds()]
    assert sum(map(len, words)) == len(set().union(*words))


def test_phrases_of_hold_points_are_apart_in_sound() -> None:
    """Over all procedures: `enginebay check` holds them apart within each."""
    phrases = [hold.phrase for hold in holds()]
    known = pronounced("en", phrases)
    apart = {pair: distance(*(sounds(phrase, known) for phrase in pair)) for pair in combinations(phrases, 2)}
    assert len(apart) >= 6
    assert min(apart.values()) >= NEAR, apart


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
class TestEveryShippedProcedure:
    def test_nothing_is_wrong(self, path: Path) -> None:
        procedure, equipment = load(path)
        assert procedure.procedure == path.stem
        assert equipment.model == path.parent.name
        assert list(problems(procedure, equipment)) == []

    def test_invented_values_are_marked(self, path: Path) -> None:
        assert load(path)[1].demo

    def test_a_step_that_another_needs_is_not_skipped(self, path: Path) -> None:
        """Its skipping would leave the engine's state unknown and the later step closed for ever."""
        steps = load(path)[0].steps()
        needed = {(name, value) for step in steps for name, value in step.needs.items()}
        for step in steps:
            if any((name, left.value) in needed for name, left in step.leaves.items()):
                assert not step.may_skip, step.id

    def test_sentences_are_short(self, path: Path) -> None:
        for step in load(path)[0].steps():
            for text in step.prompts():
                most = MAX_WORDS_OF_A_DESCRIPTION if text == step.details else MAX_WORDS_OF_AN_INSTRUCTION
                for sentence in SENTENCE_END.split(text):
                    assert len(sentence.split()) <= most, (step.id, sentence)
            assert len(step.text.split()) <= MAX_WORDS_OF_AN_INSTRUCTION + 5, step.id

    def test_every_step_has_something_to_say_in_few_words(self, path: Path) -> None:
        for step in load(path)[0].steps():
            assert len(step.title.split()) <= 5, step.id
            if isinstance(step, Reading):
                assert len(step.name.split()) <= 3, step.id
                assert step.text.endswith("?"), step.id

    def test_no_phrase_is_a_command_or_a_number(self, path: Path) -> None:
        import yaml

        numbers = yaml.safe_load((grammars() / "en" / "spoken.yaml").read_text(encoding="utf-8"))
        avoided = {*numbers["ones"], *numbers["tens"], "hundred", "point", "decimal", "back", "hold"}
        commands = {name.value for name in CommandName} | {"skip this step"}
        for step in load(path)[0].steps():
            for phrase in step.phrases():
                assert not any(f" {command} " in f" {phrase} " for command in commands), (step.id, phrase)
                assert phrase.split()[0][:4] not in {command[:4] for command in commands}, (step.id, phrase)
                assert not avoided & set(phrase.split()), (step.id, phrase)
                assert len(phrase.split()) >= 2, (step.id, phrase)
                assert not ({"full", "fuel"} <= {word for other in step.phrases() for word in other.split()}), step.id

    def test_the_programs_own_wording_speaks_no_hold_phrase(self, path: Path) -> None:
        import yaml

        wording = yaml.safe_load((grammars() / "en" / "wording.yaml").read_text(encoding="utf-8"))
        said = [" ".join(re.findall(r"[a-z']+", text.lower())) for text in spoken_texts(wording)]
        assert said
        for step in load(path)[0].steps():
            if isinstance(step, HoldPoint):
                assert not any(step.phrase in text for text in said), step.phrase


@pytest.fixture(scope="module")
def oil_and_filter() -> dict[str, Step]:
    """The steps of a visit for oil and filter alone, in the planner's order."""
    work = order_visit("marram-auxiliary", ("oil-and-filter",), "technician").work
    return {placed.step.id: placed.step for placed in work.steps}


def test_the_order_of_a_careful_technician(oil_and_filter: dict[str, Step]) -> None:
    order = list(oil_and_filter)
    wanted = [
        "permission",
        "cold-look",
        "run-hours",
        "fit-to-start",
        "guard",
        "start",
        "first-seconds",
        "oil-pressure",
        "coolant-temperature",
        "cool-down",
        "stop",
        "lock-selector",
        "power-away",
        "valves",
        "prove-tester",
        "test-terminals",
        "prove-dead",
        "oil-temperature",
        "drain",
        "oil-out",
        "look-and-smell",
        "plug-torque",
        "old-filter",
        "new-filter",
        "seal-contact",
        "filter-turns",
        "fill",
        "run-down",
        "dip",
        "oil-in",
        "cap-home",
        "count",
        "restore",
        "clear",
        "start-again",
        "pressure-again",
        "stop-again",
        "isolate-again",
        "prove-again",
        "settle",
        "level",
        "leaks",
        "leave",
        "left-as",
        "hand-over",
    ]
    assert [step for step in order if step in wanted] == wanted


def test_hands_are_in_the_engine_only_while_it_is_isolated(oil_and_filter: dict[str, Step]) -> None:
    hands_in = "oil-temperature drain sample plug-torque old-filter seal-contact filter-turns level leaks"
    for name in hands_in.split():
        assert oil_and_filter[name].needs["isolated"] is Known.YES, name


def test_it_starts_only_with_oil_closed_guarded_and_clear(oil_and_filter: dict[str, Step]) -> None:
    needs = oil_and_filter["start-again"].needs
    assert {name for name, value in needs.items() if value is Known.YES} == {
        "closed-up",
        "oil-in",
        "guard-on",
        "people-clear",
    }


@pytest.mark.parametrize(
    ("step", "limits"),
    [
        ("oil-pressure", "200 kPa to 450 kPa"),
        ("coolant-temperature", "70 °C to 88 °C"),
        ("oil-temperature", "40 °C to 60 °C"),
        ("oil-out", "2.2 L to 2.8 L"),
        ("oil-in", "2.2 L to 2.8 L"),
    ],
)
def test_values_of_the_twin_9(step: str, limits: str, oil_and_filter: dict[str, Step]) -> None:
    reading = oil_and_filter[step]
    assert isinstance(reading, Reading)
    assert str(reading.limits) == limits


def test_waiting_is_a_small_part_of_the_hour(oil_and_filter: dict[str, Step]) -> None:
    timers = [step.seconds for step in oil_and_filter.values() if isinstance(step, Timer)]
    assert len(timers) == 3
    assert sum(timers) <= 15 * 60


def test_what_may_be_left_out_is_never_a_matter_of_safety(oil_and_filter: dict[str, Step]) -> None:
    optional = {name for name, step in oil_and_filter.items() if step.may_skip}
    assert {"sample", "mark-plug", "waste"} <= optional
    for name in optional:
        assert not oil_and_filter[name].leaves, name
        assert not isinstance(oil_and_filter[name], HoldPoint | Timer), name


@pytest.mark.parametrize(
    ("file", "step", "limits"),
    [
        ("coolant", "cap-temperature", "at most 40 °C"),
        ("cool", "surface-temperature", "at most 40 °C"),
        ("coolant", "coolant-in", "4.2 L to 4.8 L"),
        ("coolant", "freezing-point-left", "-37 °C to -25 °C"),
        ("belt", "alignment", "at most 1.0 mm"),
        ("belt", "deflection", "4.0 mm to 5.0 mm"),
        ("belt", "deflection-again", "4.0 mm to 5.0 mm"),
        ("belt", "adjuster-torque", "22 N.m to 26 N.m"),
        ("belt", "pivot-torque", "22 N.m to 26 N.m"),
        ("make-safe-and-test-run", "load-away", "at most 5 %"),
    ],
)
def test_values_of_the_other_tasks(file: str, step: str, limits: str) -> None:
    """Against the invented values that were set down for the Twin 9."""
    steps = {one.id: one for one in load(procedures() / "twin-9" / f"{file}.yaml")[0].steps()}
    reading = steps[step]
    assert isinstance(reading, Reading)
    assert str(reading.limits) == limits


def test_the_coolant_is_opened_only_cold_and_the_belt_is_touched_only_unguarded_and_isolated() -> None:
    coolant = {step.id: step for step in load(procedures() / "twin-9" / "coolant.yaml")[0].steps()}
    for name in ("open-cap", "drain-coolant", "fill-coolant"):
        assert coolant[name].needs == {"isolated": Known.YES, "cold": Known.YES}, name
        assert not coolant[name].may_skip, name
    belt = load(procedures() / "twin-9" / "belt.yaml")[0].steps()
    hands = [step for step in belt if step.id not in ("new-belt", "mark-bolts")]
    assert len(hands) >= 8
    for step in hands:
        assert step.needs == {"isolated": Known.YES, "guard-on": Known.NO}, step.id


def test_the_belts_pivot_bolt_is_tightened_after_measuring() -> None:
    """Tightened before, it moves the tension that was measured; common practice."""
    belt = [step.id for step in load(procedures() / "twin-9" / "belt.yaml")[0].steps()]
    wanted = ["deflection", "adjuster-torque", "turn-over", "deflection-again", "pivot-torque", "mark-bolts"]
    assert [step for step in belt if step in wanted] == wanted


TASKS = ("test-run", "oil-and-filter", "coolant", "belt")
ALONE_AND_ALL = (*combinations(TASKS, 1), TASKS)
SOME = (*combinations(TASKS, 2), *combinations(TASKS, 3))


@pytest.mark.parametrize(
    "tasks",
    [*ALONE_AND_ALL, *(pytest.param(tasks, marks=pytest.mark.long) for tasks in SOME)],
    ids=lambda tasks: " ".join(tasks),
)
def test_every_visit_has_a_way_through(tasks: tuple[str, ...]) -> None:
    """No step comes where its needs are not met by the steps and stages before it, nor is a change made twice; what has
    to be proved is proved by a step."""
    work = order_visit("marram-auxiliary", tasks, "technician").work
    equipment = work.equipment
    assert len({stage.name for stage in work.plan}) == len(work.plan)
    assert {stage.name for stage in work.plan if stage.is_task} == set(tasks)
    state = {name: value for name, value in equipment.visit.found.items() if not equipment.state[name].proved}
    for stage in work.plan:
        for placed in work.steps_of(stage):
            for name, value in placed.step.needs.items():
                assert state.get(name) is value, (stage.name, placed.step.id, name)
            state |= {name: left.value for name, left in placed.step.leaves.items()}
        if stage.name in equipment.tasks or stage.name in equipment.changes:
            for name, value in equipment.leaves_of(stage.name).items():
                if not equipment.state[name].proved:
                    state[name] = value
    isolated = "isolate" in {stage.name for stage in work.plan}
    assert isolated is (tasks != ("test-run",))
    for name, value in equipment.visit.left.items():
        assert state.get(name) is (None if name == "isolated" and not isolated else value), name


@pytest.mark.parametrize(
    ("file", "warning", "hazard"),
    [
        ("stop", "The exhaust and the block stay hot. Do not lean on them.", "hot-surfaces"),
        ("run", "Hearing protection hides alarms and shouts. Watch the panel.", "noise"),
        ("make-safe-and-test-run", "Live terminals kill. Read the panel only.", "live-terminals"),
        ("make-safe-and-test-run", "Fuel under pressure enters the skin. Never feel for a leak.", "fuel-jet"),
        ("coolant", "Pressure may be left in it. Turn your face away.", "coolant-under-pressure"),
        ("coolant", "Coolant is poisonous. Gloves and goggles.", "coolant-chemicals"),
        ("belt", "Pulleys pinch fingers. Turn them by the rim.", "pinched-fingers"),
        ("guard-away", "Sharp edges. Gloves on.", "sharp-edges"),
        ("oil-and-filter", "Hot oil burns. Gloves and eye protection.", "hot-oil"),
        ("try-out", "Exhaust gas kills. Hatches open, blower running.", "exhaust-gas"),
    ],
)
def test_a_warning_that_is_taken_out_is_missed(file: str, warning: str, hazard: str) -> None:
    """The table of hazards holds each of these warnings in its place, not the writer's care alone."""
    equipment = load(FILES[0])[1]
    text = (procedures() / "twin-9" / f"{file}.yaml").read_text(encoding="utf-8")
    assert warning in text
    assert not examine_procedure(text, equipment, file).tree.faults
    faults = examine_procedure(text.replace(warning, "Take care."), equipment, file).tree.faults
    assert faults
    assert all(f"of the hazard {hazard!r}" in fault.cause for fault in faults)


def test_the_coolant_that_is_mixed_protects_as_it_should() -> None:
    """By the handbook's table of ethylene glycol, and as much as the set holds."""
    data = load(FILES[0])[1].data["coolant"]
    concentrate, water = (parse(data[name], name).exactly("L") for name in ("concentrate", "water"))
    assert parse_limits(data["capacity"], "capacity").side(Quantity(concentrate + water, "L")) == 0
    point = freezing_point("ethylene glycol", float(100 * concentrate / (concentrate + water)))
    assert parse_limits(data["protection"], "protection").side(Quantity(Decimal(round(point)), "°C")) == 0
