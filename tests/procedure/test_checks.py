"""Everything that is wrong in a file is found at once, each with its line; what is right is left in peace."""

from __future__ import annotations

import json
import re
from functools import partial
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.edge.checking.models import Checked, check
from assistant.edge.checking.pronouncing import pronounced
from assistant.edge.places import grammars, procedures
from assistant.errors import ProcedureError
from assistant.procedure.problem import Severity
from assistant.procedure.reading import Fault, examine_equipment, examine_procedure, read_equipment, read_procedure

EQUIPMENT = """\
format: 1
model: small-set
name: Small set
assets: {set-a: the first set}
state:
  isolated: {yes: it is isolated, no: it can start, proved: yes, rules_out: {running: yes}}
  running: {yes: it runs, no: it stands}
  warm: {yes: the oil is warm, no: the oil is cold}
hazards:
  gas: {signal: danger, about: [exhaust], state: {running: yes}}
  starts: {signal: warning, about: [start], state: {isolated: no}}
  battery: {signal: warning, about: [battery], words: [battery negative]}
  scald: {signal: caution, about: [coolant], state: {running: yes}, words: [coolant]}
data:
  oil: {capacity: 2.2 L to 2.8 L, grade: 10W-30}
"""

PROCEDURE = """\
format: 1
procedure: oil
title: Oil
before:
  - instruction: start
    title: Start
    danger: [Exhaust gas kills.]
    text: Start it.
    may_skip: false
    leaves: {running: yes, warm: yes for 10 min}
  - check: look
    title: Look
    caution: [Hot coolant burns.]
    text: Look at the coolant. Is it dry?
    answers:
      dry: {phrase: dry everywhere}
      wet: {phrase: wet below, good: no, finding: It was wet, then: again, reply: Wipe it.}
  - instruction: halt
    title: Halt
    text: Stop it.
    may_skip: false
    leaves: {running: no}
  - instruction: battery
    title: Battery
    warning: [Battery gas explodes.]
    text: Take the battery negative off.
  - hold: isolate
    title: Isolate
    text: Try to start it. Use card one.
    phrase: dead at both
    card: 1
    needs: {running: no}
    leaves: {isolated: yes}
steps:
  - instruction: drain
    title: Drain
    text: Drain the {oil.grade} oil.
    needs: {isolated: yes, warm: yes}
  - reading: volume
    title: Volume
    text: How much came out?
    name: oil out
    unit: L
    believable: 0.0 L to 6.0 L
    limits: "{oil.capacity}"
  - timer: wait
    title: Wait
    text: It settles.
    lasts: 2 min
after:
  - check: level
    title: Level
    text: Where is the oil?
    answers:
      half: {phrase: at half}
      low: {phrase: below low, good: no, finding: It was low, then: again, reply: Top it up.}
  - instruction: restore
    title: Restore
    warning: [It can start now.]
    text: Take the lock off.
    leaves: {isolated: no}
"""

COMMANDS = ("next", "carry on", "stand by", "take a note")
PRONOUNCE = partial(pronounced, "en")
WORDING = ("This is a hold point.", "{title}: time is up.")


def examined(procedure: str = PROCEDURE, equipment: str = EQUIPMENT) -> list[Fault]:
    kept = read_equipment(equipment)
    faults = examine_procedure(procedure, kept, "oil.yaml", COMMANDS, WORDING, PRONOUNCE).tree.faults
    return sorted(faults, key=lambda fault: fault.line)


def line_of(text: str, beginning: str) -> int:
    """The first line that begins so."""
    return next(number for number, line in enumerate(text.splitlines(), start=1) if line.strip().startswith(beginning))


def test_nothing_is_found_in_a_right_file() -> None:
    assert examined() == []


ALL_AGAIN = "dry: {phrase: dry everywhere, then: again, reply: Wait.}"
LEAVE = "    leaves: {isolated: no}\n"
DRAIN = "steps:\n  - instruction: drain\n    title: Drain\n    text: Drain the {oil.grade} oil.\n"

WRONG = [  # what, from, to, beginning of the line where it is wrong (after the change), part of the cause
    # structure
    ("loop without an exit", "dry: {phrase: dry everywhere}", ALL_AGAIN, "answers:", "loop at 'look' has no exit"),
    (
        "no way on",
        "dry: {phrase: dry everywhere}",
        "dry: {phrase: dry everywhere, then: end, reply: Go home.}",
        "answers:",
        "no way on from 'look'",
    ),
    ("unreachable", "dry: {phrase: dry everywhere}", ALL_AGAIN, "- instruction: halt", "'halt' cannot be reached"),
    (
        "unreachable, passed by",
        "dry: {phrase: dry everywhere}\n      wet: {phrase: wet below, good: no, finding: It was wet, then: again,",
        "dry: {phrase: dry everywhere, goes_to: battery}\n"
        "      wet: {phrase: wet below, good: no, finding: It was wet, then: end,",
        "- instruction: halt",
        "'halt' cannot be reached: no answer leads to it$",
    ),
    (
        "an answer that leads nowhere",
        "dry: {phrase: dry everywhere}",
        "dry: {phrase: dry everywhere, goes_to: haalt}",
        "dry:",
        "no step 'haalt'",
    ),
    (
        "an answer that leads back",
        "dry: {phrase: dry everywhere}",
        "dry: {phrase: dry everywhere, goes_to: start}",
        "dry:",
        "'start' does not stand after 'look'",
    ),
    (
        "a state that one of two ways leaves out",
        "dry: {phrase: dry everywhere}",
        "dry: {phrase: dry everywhere, goes_to: battery}",
        "needs: {running: no}",
        "running: no, but the steps before leave it yes or no",
    ),
    ("reference to nothing", "{oil.grade}", "{oil.colour}", "text: Drain", "refers to nothing"),
    ("unknown variable", "warm: yes}", "war: yes}", "needs: {isolated", "'war' is no variable"),
    ("wrong kind of unit", '"{oil.capacity}"', "2 kPa to 3 kPa", "limits:", "pressure, but the reading is in L"),
    ("limits reversed", '"{oil.capacity}"', "2.8 L to 2.2 L", "limits:", "reversed"),
    ("no time", "yes for 10 min", "yes for 10 kPa", "leaves: {running: yes", "'warm'"),
    # what can hurt
    ("no danger", "    danger: [Exhaust gas kills.]\n", "", "- instruction: start", "no danger of the hazard 'gas'"),
    ("a danger of something else", "Exhaust gas kills", "Belts catch sleeves", "- instruction: start", "hazard 'gas'"),
    (
        "not grave enough",
        "danger: [Exh",
        "warning: [Exh",
        "warning: [Exh",
        "warning is not grave enough .* wants danger",
    ),
    ("no warning before isolation ends", "It can start now", "Beware", "- instruction: restore", "hazard 'starts'"),
    (
        "words that want a warning",
        "warning: [Battery gas explodes.]",
        "details: x",
        "- instruction: battery",
        "battery",
    ),
    ("words while a state is so", "caution: [Hot coolant burns.]", "details: x", "- check: look", "hazard 'scald'"),
    (
        "energy where it must be gone",
        "    needs: {isolated: yes, warm: yes}",
        "    danger: [Exhaust gas kills.]\n    leaves: {running: yes}",
        "leaves: {running: yes}",
        "running is yes while isolated is yes",
    ),
    (
        "isolated while it runs",
        "    needs: {running: no}\n    leaves: {isolated: yes}",
        "    danger: [Exhaust gas kills.]\n    leaves: {isolated: yes, running: yes}",
        "leaves: {isolated: yes",
        "at 'isolate' running is yes while isolated is yes",
    ),
    ("isolation never proved", "    leaves: {isolated: yes}\n", "", "needs: {isolated", "leave it unknown"),
    (
        "isolation undone and never proved",
        f"    leaves: {{isolated: yes}}\n{DRAIN}    needs: {{isolated: yes, warm: yes}}\n",
        DRAIN,
        "leaves: {isolated: no}",
        "'restore' undoes isolated, which not every way",
    ),
    (
        "isolation proved by a word",
        "  - hold: isolate\n    title: Isolate\n    text: Try to start it. Use card one.\n"
        "    phrase: dead at both\n    card: 1\n",
        "  - instruction: isolate\n    title: Isolate\n    text: Lock it.\n    may_skip: false\n",
        "leaves: {isolated: yes}",
        "never proved: `next` is enough",
    ),
    (
        "isolation proved by any answer",
        "  - hold: isolate\n    title: Isolate\n    text: Try to start it. Use card one.\n"
        "    phrase: dead at both\n    card: 1\n",
        "  - check: isolate\n    title: Isolate\n    text: Does it move?\n    may_skip: false\n    answers:\n"
        "      dead: {phrase: quite dead}\n      live: {phrase: it moves, good: no, finding: It moved}\n",
        "leaves: {isolated: yes}",
        "never proved: the answer 'live' .* goes on all the same",
    ),
    ("isolation never undone", LEAVE, "", "leaves: {isolated: yes}", "never undone"),
    ("a hold phrase spoken", "Try to start it.", "Dead, at both?", "phrase: dead at both", "prompt .* speaks"),
    ("a hold phrase in the wording", "dead at both", "this is a hold", "phrase: this is", "the program itself speaks"),
    ("a hold phrase like a command", "dead at both", "marry on", "phrase: marry on", "too much like .* 'carry on'"),
    ("a hold phrase rather like one", "dead at both", "marry one", "phrase: marry", "too much like .* 'carry on'"),
    ("an answer like a command", "at half", "make a note", "half:", "too much like the command 'take a note'"),
    ("an answer that is a command", "at half", "next", "half:", r"'next' \(distance 0.00\)"),
    ("answers alike", "at half", "below flow", "low:", "too much like the answer 'below flow'"),
]


@pytest.mark.parametrize(("old", "new", "where", "cause"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_what_is_wrong_is_found_with_its_line(old: str, new: str, where: str, cause: str) -> None:
    assert PROCEDURE.count(old) == 1
    text = PROCEDURE.replace(old, new)
    line = line_of(text, where)
    found = [fault for fault in examined(text) if fault.line == line and fault.severity is Severity.WRONG]
    assert any(re.search(cause, fault.cause) for fault in found), examined(text)
    assert all(fault.remedy and fault.column >= 3 for fault in found)


@pytest.mark.parametrize(
    ("old", "new", "where", "cause"),
    [
        (
            "  - instruction: drain",
            "  - timer: cool\n    title: Cool\n    text: It cools.\n    lasts: 11 min\n  - instruction: drain",
            "needs: {isolated: yes, warm",
            "warm is known for 600 s only, and 660 s",
        ),
        ("text: Stop it.\n    may_skip: false", "text: Stop it.", "leaves: {running: no}", "'halt' is never left out"),
        ("card: 1", "card: 2", "card: 2", "none with the number 1"),
        ("half: {phrase: at half}", "half: {phrase: fellow flow}", "low:", "sounds much like the answer"),
        ("half: {phrase: at half}", "half: {phrase: marry one}", "half:", "sounds much like the command 'carry on'"),
    ],
    ids=["a state that has run out", "left out though needed", "a card is missing", "answers alike", "like a command"],
)
def test_what_is_worth_a_look_is_noted_with_its_line(old: str, new: str, where: str, cause: str) -> None:
    assert PROCEDURE.count(old) == 1
    text = PROCEDURE.replace(old, new)
    (fault,) = examined(text)
    assert (fault.line, fault.severity) == (line_of(text, where), Severity.NOTE)
    assert re.search(cause, fault.cause), fault


def test_a_loop_that_gives_up_has_an_exit_and_no_way_on() -> None:
    """After its third time such a check ends the work; it is no endless loop."""
    text = PROCEDURE.replace("dry: {phrase: dry everywhere}", ALL_AGAIN)
    text = text.replace(
        "    answers:\n      dry", "    at_most: 3\n    give_up: It stays wet.\n    answers:\n      dry"
    )
    causes = [fault.cause for fault in examined(text)]
    assert any("no way on from 'look'" in cause for cause in causes)
    assert not any("has no exit" in cause for cause in causes)


def test_a_limit_that_is_not_believable_in_a_set_of_readings() -> None:
    member = "{name: volts, unit: V, believable: 0 V to 400 V, limits: 219 V to 242 V}"
    wrong = "{name: hertz, unit: Hz, believable: 0 Hz to 50 Hz, limits: 49 Hz to 52.5 Hz}"
    readings = (
        f"  - readings: output\n    title: Output\n    text: Read both.\n    members:\n    - {member}\n    - {wrong}\n"
    )
    text = PROCEDURE.replace("  - timer: wait", f"{readings}  - timer: wait")
    (fault,) = examined(text)
    assert fault.line == line_of(text, "- {name: hertz")
    assert "52.5 Hz lies outside" in fault.cause


@pytest.mark.parametrize(
    ("number", "wrong"), [("XF-1207", True), ("XF-12-07", True), ("207", True), ("XF-1208", False)]
)
def test_two_parts_of_a_step_that_the_same_characters_prove(number: str, wrong: bool) -> None:
    """The first of them was recorded, whichever of the two was fitted."""
    parts = f"""steps:
  - part: filter
    title: Filter
    text: Fit the filter.
    expected:
      - {{name: oil filter, number: OF-2207}}
      - {{name: another, number: {number}}}
"""
    text = PROCEDURE.replace("steps:\n", parts, 1)
    faults = [(fault.line, fault.cause) for fault in examined(text)]
    there = line_of(text, "- {name: another")
    assert faults == ([(there, f"'{number}' ends in 207 as 'OF-2207' does")] if wrong else [])


def test_two_ways_that_meet_with_the_same_state_are_right() -> None:
    """The way past `battery` leaves the engine as the way through it does."""
    assert examined(PROCEDURE.replace("dry: {phrase: dry everywhere}", "dry: {phrase: dry now, goes_to: halt}")) == []


def test_everything_is_found_at_once_and_nothing_twice() -> None:
    text = PROCEDURE
    for old, new in (
        ("    lasts: 2 min", "    last: 2 min"),
        ("{oil.grade}", "{oil.colour}"),
        ("unit: L", "unit: gallon"),
        ("phrase: at half", "phrase: At half!"),
        ("card: 1", "card: 1\n    card: 2\n    nonsense: 3"),
        ("title: Oil\n", ""),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    wrong = [fault for fault in examined(text) if fault.severity is Severity.WRONG]
    assert [(fault.line, re.findall("'([^']*)'", fault.cause)[:1]) for fault in wrong] == [
        (1, ["title"]),
        (line_of(text, "card: 2"), ["card"]),
        (line_of(text, "nonsense:"), ["nonsense"]),
        (line_of(text, "text: Drain"), []),
        (line_of(text, "unit:"), ["unit"]),
        (line_of(text, "last:"), ["last"]),
        (line_of(text, "half:"), ["phrase"]),
    ]


def test_where_a_step_does_not_read_the_rest_is_checked_and_the_way_is_not() -> None:
    """Else the missing step would be blamed on all those after it that need what it leaves."""
    text = PROCEDURE.replace("card: 1", "card: none").replace("half: {phrase: at half}", "half: {phrase: below flow}")
    found = examined(text)
    assert [(fault.line, fault.severity.value) for fault in found] == [
        (1, "note"),
        (line_of(text, "card:"), "wrong"),
        (line_of(text, "low:"), "wrong"),
    ]
    assert "way through the steps was not checked" in found[0].cause


@pytest.mark.parametrize("text", ["", "- a\n", "a: [\n", "x: \x00\n", "steps: &all\n  - *all\n"])
def test_what_has_no_layout_gives_one_fault(text: str) -> None:
    (fault,) = examined(text)
    assert fault.severity is Severity.WRONG
    assert fault.line >= 1


def test_reading_is_as_strict_as_it_was() -> None:
    """What the examination finds besides does not refuse a file that work was ordered with before."""
    text = PROCEDURE.replace("    danger: [Exhaust gas kills.]\n", "").replace(LEAVE, "")
    assert any(fault.severity is Severity.WRONG for fault in examined(text))
    assert len(read_procedure(text, read_equipment(EQUIPMENT), "oil.yaml").steps()) == 10


# --- the equipment -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "where", "cause", "severity"),
    [
        ("rules_out: {running: yes}", "rules_out: {runs: yes}", "isolated:", "'runs' is no variable", "wrong"),
        ("exhaust], state: {running", "exhaust], state: {runs", "gas:", "'runs' is no variable", "wrong"),
        ("2.2 L to 2.8 L", "2.8 L to 2.2 L", "oil:", "reversed", "wrong"),
        ("2.2 L to 2.8 L", "2.2 L to 2.8 kPa", "oil:", "differ in kind", "wrong"),
        (", rules_out: {running: yes}", "", "state:", "isolation is proved", "note"),
        ("signal: danger, ", "", "gas:", "'signal' is missing", "wrong"),
        (", words: [battery negative]", "", "battery:", '"state" or "words"', "wrong"),
        ("about: [exhaust]", "about: []", "gas:", "too few", "wrong"),
    ],
)
def test_what_is_wrong_in_the_equipment(old: str, new: str, where: str, cause: str, severity: str) -> None:
    assert EQUIPMENT.count(old) == 1
    text = EQUIPMENT.replace(old, new)
    (fault,) = examine_equipment(text).tree.faults
    assert (fault.line, fault.severity) == (line_of(text, where), severity)
    assert re.search(cause, fault.cause), fault


def test_hazards_that_are_missing_are_noted() -> None:
    text = re.sub(r"hazards:\n(?:  .*\n)+", "", EQUIPMENT)
    (fault,) = examine_equipment(text).tree.faults
    assert "no `hazards`" in fault.cause
    assert fault.severity is Severity.NOTE


# --- files ---------------------------------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A model's folder with one procedure, both right."""
    there = tmp_path / "small-set"
    there.mkdir()
    (there / "equipment.yaml").write_text(EQUIPMENT, encoding="utf-8")
    (there / "oil.yaml").write_text(PROCEDURE, encoding="utf-8")
    return there


def broken(file: Path, old: str, new: str) -> str:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")
    return text.replace(old, new)


def told(checked: Checked) -> list[tuple[str, int, str]]:
    return [(Path(fault.file).name, fault.line, fault.severity.value) for fault in checked.faults]


def test_nothing_is_wrong_in_what_is_shipped() -> None:
    """Nor in the shipped language."""
    checked = check()
    assert checked.faults == ()
    there = [*procedures().glob("*/*.yaml"), *grammars().glob("*/*.yaml"), *grammars().glob("*/*.jsgf")]
    assert sorted(checked.files) == sorted(there)


@pytest.mark.parametrize("which", ["", "oil.yaml", ".."])
def test_a_folder_a_file_and_a_folder_of_folders_can_be_checked(which: str, folder: Path) -> None:
    checked = check(folder / which)
    assert checked.faults == ()
    assert len(checked.files) == (1 if which == "oil.yaml" else 2)


def test_what_nothing_uses_is_noted_in_the_equipment_file(folder: Path) -> None:
    broken(folder / "oil.yaml", "{oil.grade} ", "")
    broken(folder / "oil.yaml", "Take the battery negative off.", "Take it off.")
    text = broken(folder / "equipment.yaml", "hazards:", "  hot: {yes: it is hot, no: it is cold}\nhazards:")
    assert told(check(folder)) == [
        ("equipment.yaml", line_of(text, "hot:"), "note"),
        ("equipment.yaml", line_of(text, "battery:"), "note"),
        ("equipment.yaml", line_of(text, "oil:"), "note"),
    ]
    assert told(check(folder / "oil.yaml")) == []  # another procedure may use it


def test_nothing_is_called_unused_while_a_procedure_does_not_read(folder: Path) -> None:
    (folder / "oil.yaml").write_text("a: [\n", encoding="utf-8")
    assert told(check(folder)) == [("oil.yaml", 2, "wrong")]


def test_a_procedure_is_not_checked_against_an_equipment_file_that_does_not_read(folder: Path) -> None:
    text = broken(folder / "equipment.yaml", "signal: danger, ", "")
    checked = check(folder)
    assert told(checked) == [("equipment.yaml", line_of(text, "gas:"), "wrong"), ("oil.yaml", 1, "wrong")]
    assert "not checked" in checked.faults[1].cause


def test_names_that_differ_from_those_of_the_files(folder: Path) -> None:
    broken(folder / "oil.yaml", "procedure: oil", "procedure: grease")
    broken(folder / "equipment.yaml", "model: small-set", "model: smallest-set")
    assert told(check(folder)) == [("equipment.yaml", 2, "note"), ("oil.yaml", 2, "wrong")]


def test_a_file_that_is_no_utf8_has_its_place(folder: Path) -> None:
    (folder / "oil.yaml").write_bytes(b"format: 1\ntitle: \xff\n")
    (fault,) = check(folder).faults
    assert (fault.line, fault.column, fault.cause) == (2, 8, "it is not UTF-8 text")


@pytest.mark.parametrize(("there", "cause"), [(True, "holds no equipment"), (False, "not there")])
def test_nothing_to_check(there: bool, cause: str, tmp_path: Path) -> None:
    where = tmp_path if there else tmp_path / "away"
    with pytest.raises(ProcedureError, match=cause):
        check(where)


def test_a_procedure_alone(folder: Path) -> None:
    (folder / "equipment.yaml").unlink()
    with pytest.raises(ProcedureError, match=r"no equipment\.yaml"):
        check(folder / "oil.yaml")


# --- the command ---------------------------------------------------------------------------------------------


def test_the_command_gives_place_cause_and_remedy_and_fails_where_something_is_wrong(folder: Path) -> None:
    text = broken(folder / "oil.yaml", "    danger: [Exhaust gas kills.]\n", "")
    result = CliRunner().invoke(app, ["check", str(folder)])
    line = line_of(text, "- instruction: start")
    first, last = result.output.splitlines()
    assert first.startswith(f"{folder}/oil.yaml:{line}:5: wrong: 'start' leaves running: yes")
    assert "Write a sentence with 'exhaust' under `danger`" in first
    assert last == "1 wrong, 0 notes, in 2 files."
    assert result.exit_code == 1


def test_the_command_refuses_a_new_phrase_too_near_an_old_one(folder: Path) -> None:
    """A trainer who adds `text` beside the command `next` is told where, why, and what would be right."""
    text = broken(folder / "oil.yaml", "half: {phrase: at half}", "half: {phrase: text}")
    result = CliRunner().invoke(app, ["check", str(folder)])
    assert result.exit_code == 1
    assert result.output.splitlines() == [
        f"{folder}/oil.yaml:{line_of(text, 'half:')}:7: wrong: 'text' sounds too much like the command 'next' "
        "(distance 0.23). Choose words further apart in sound; `enginebay words` shows how far.",
        "1 wrong, 0 notes, in 2 files.",
    ]


def test_a_word_whose_sound_is_not_known_is_named(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")  # no espeak-ng
    text = broken(folder / "oil.yaml", "half: {phrase: at half}", "half: {phrase: wholly immersed}")
    faults = [fault for fault in check(folder).faults if "immersed" in fault.cause]
    assert [(fault.line, fault.severity) for fault in faults] == [(line_of(text, "half:"), Severity.WRONG)]
    assert "'wholly' sounds is not known" in faults[0].cause
    assert "pronunciations.yaml" in faults[0].remedy


def test_the_command_succeeds_where_there_are_notes_only(folder: Path) -> None:
    broken(folder / "oil.yaml", "card: 1", "card: 2")
    result = CliRunner().invoke(app, ["check", "--json", str(folder)])
    assert result.exit_code == 0
    said = json.loads(result.output)
    assert (said["wrong"], said["notes"], len(said["files"])) == (0, 1, 2)
    (fault,) = said["faults"]
    assert set(fault) == {"file", "line", "column", "severity", "cause", "remedy"}
    assert (fault["severity"], fault["line"]) == ("note", line_of(PROCEDURE, "card: 1"))


def test_the_command_says_what_it_cannot_find(tmp_path: Path) -> None:
    result = CliRunner().invoke(app, ["check", str(tmp_path / "away")])
    assert result.exit_code == 2
    assert "it is not there" in result.output
