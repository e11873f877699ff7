"""A wrong procedure file is refused with the line, the cause and the remedy; nothing is guessed."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from assistant.engine_state import Known
from assistant.errors import ProcedureError
from assistant.procedure.answers import Then
from assistant.procedure.equipment import Equipment
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.timer import Timer
from assistant.procedure.measured import Taken
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.procedure.step import SignalWord
from assistant.quantities import Quantity

EQUIPMENT = """\
format: 1
model: small-set
name: Small set
assets: {set-a: the first set}
state:
  isolated: {yes: it is isolated, no: it can start}
  running: {yes: it runs, no: it stands}
data:
  oil: {capacity: 2.2 L to 2.8 L, grade: 10W-30}
"""

PROCEDURE = """\
format: 1
procedure: oil
title: Oil
before:
  - hold: isolate
    title: Isolate
    text: Isolate it. Use card one.
    phrase: dead at both
    card: 1
    leaves: {isolated: yes}
steps:
  - instruction: drain
    title: Drain
    text: Drain the {oil.grade} oil.
    warning: ["Hot oil burns."]
    caution: ["It splashes."]
    needs: {isolated: yes}
  - reading: volume
    title: Volume
    text: How much came out?
    name: oil out
    unit: L
    believable: 0.0 L to 6.0 L
    limits: "{oil.capacity}"
    taken: as left
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
"""


@pytest.fixture(scope="module")
def equipment() -> Equipment:
    return read_equipment(EQUIPMENT)


def refused(text: str, equipment: Equipment) -> ProcedureError:
    with pytest.raises(ProcedureError) as caught:
        read_procedure(text, equipment, "oil.yaml")
    assert caught.value.remedy
    return caught.value


def line_of(error: ProcedureError) -> int:
    match = re.fullmatch(r"oil\.yaml, line (\d+), column \d+", error.place)
    assert match, error.place
    return int(match[1])


def test_a_right_file_becomes_data(equipment: Equipment) -> None:
    procedure = read_procedure(PROCEDURE, equipment, "oil.yaml")
    assert [(section.name, [step.id for step in section.steps]) for section in procedure.sections] == [
        ("before", ["isolate"]),
        ("steps", ["drain", "volume", "wait"]),
        ("after", ["level"]),
    ]
    isolate, drain, volume, wait, level = procedure.steps()
    assert isinstance(isolate, HoldPoint)
    assert isolate.leaves["isolated"].value is Known.YES
    assert drain.text == "Drain the 10W-30 oil."
    assert drain.hazards() == ((SignalWord.WARNING, "Hot oil burns."), (SignalWord.CAUTION, "It splashes."))
    assert isinstance(volume, Reading)
    assert volume.limits is not None
    assert volume.limits.low == Quantity(Decimal("2.2"), "L")
    assert volume.taken is Taken.AS_LEFT
    assert isinstance(wait, Timer)
    assert wait.seconds == 120
    assert isinstance(level, Check)
    assert (level.answers["half"].good, level.answers["low"].good) == (True, False)
    assert level.answers["low"].then is Then.AGAIN


WRONG = [  # what, from, to, the line where it is wrong, part of the cause, part of the remedy
    ("indent", "    text: Drain the", "   text: Drain the", 14, "layout is wrong", "indent"),
    ("a tab", "    text: Drain the", "\ttext: Drain the", 14, "layout is wrong", "indent"),
    ("colon in a text", "Drain the {", "Drain: the {", 14, "layout is wrong", "quotes"),
    ("key twice", "    card: 1", "    card: 1\n    card: 2", 10, "second time", "Remove one"),
    ("unknown key", "lasts: 2 min", "lasts: 2 min\n    nedes: {isolated: yes}", 30, "'nedes'", "'needs'"),
    ("misspelt key", "    lasts:", "    last:", 29, "'last' is not known", "'lasts'"),
    ("unknown key in an answer", "reply: Top", "repl: Top", 36, "'repl'", "Did you mean 'reply'"),
    ("unknown key at the top", "\nsteps:", "\nstepps:", 11, "'stepps'", "Did you mean 'steps'"),
    ("unknown key, nothing near", "    card: 1", "    card: 1\n    zzz: 1", 10, "'zzz'", "Known here: card"),
    ("an identifier of its own", "    lasts:", "    id: x\n    lasts:", 29, "'id'", "after `timer:`"),
    ("key missing", "    lasts: 2 min\n", "", 26, "'lasts' is missing", "Add it"),
    ("key missing in an answer", "half: {phrase: at half}", "half: {also: [half]}", 35, "'phrase' is missing", "Add"),
    ("no kind", "instruction: drain", "instruktion: drain", 12, "this one has none", "instruction"),
    ("two kinds", "    lasts: 2 min", "    check: x", 26, "check and timer|timer and check", "one of"),
    ("bad identifier", "timer: wait", "timer: Wait a bit", 26, "no identifier", "hyphens"),
    ("bad phrase", "phrase: dead at both", "phrase: Dead!", 8, "as it is said", "small letters"),
    ("one-word hold phrase", "phrase: dead at both", "phrase: dead", 8, "two words", "Correct"),
    ("hold point skipped", "    card: 1", "    card: 1\n    may_skip: yes", 10, "never skipped", "Correct"),
    ("limit without a unit", '"{oil.capacity}"', "2.2 to 2.8", 24, "no unit", "Write the unit too"),
    ("one end without a unit", '"{oil.capacity}"', "2.2 to 2.8 L", 24, "'2.2' has no unit", "Write the unit too"),
    ("limits reversed", '"{oil.capacity}"', "2.8 L to 2.2 L", 24, "reversed", "lower one first"),
    ("no interval", '"{oil.capacity}"', "2.8 L", 24, "not an interval", "at most"),
    ("limits of another kind", '"{oil.capacity}"', "2 V to 3 V", 24, "voltage, .*volume", "Correct"),
    ("two kinds in limits", '"{oil.capacity}"', "2 L to 3 V", 24, "differ in kind", "one kind"),
    ("reference without quotes", '"{oil.capacity}"', "{oil.capacity}", 24, "stands in quotes", "Correct"),
    ("unknown unit", "unit: L", "unit: gallon", 22, "'gallon'", "Correct"),
    (
        "measure again without limits",
        '    limits: "{oil.capacity}"',
        "    until_within: yes",
        24,
        '"adjust"',
        "Correct",
    ),
    ("limit not believable", "0.0 L to 6.0 L", "0.0 L to 2.5 L", 24, "outside what is believable", "Widen"),
    ("reference to nothing", "{oil.grade}", "{oil.colour}", 14, "refers to nothing", "Add 'colour' under 'oil'"),
    ("a reference that is none", "{oil.grade}", "{grade}", 14, "no reference", "oil.grade"),
    ("no time", "lasts: 2 min", "lasts: 2 L", 29, "no time", "Correct"),
    ("time without a unit", "lasts: 2 min", "lasts: 2", 29, "no unit", "Write the unit too"),
    ("no state", "needs: {isolated: yes}", "needs: {isolated: maybe}", 17, "'yes', 'no'", "Correct"),
    ("no state left", "leaves: {isolated: yes}", "leaves: {isolated: yes for 30}", 10, "no unit", "unit too"),
    (
        "unknown variable",
        "needs: {isolated: yes}",
        "needs: {warm: yes}",
        17,
        "'warm' is no variable",
        "isolated, running",
    ),
    ("needs never provided", "    leaves: {isolated: yes}\n", "", 16, "leave it unknown", "leaves `isolated: yes`"),
    ("needs another value", "needs: {isolated: yes}", "needs: {isolated: no}", 17, "leave it yes", "isolated: no"),
    ("step twice", "instruction: drain", "instruction: isolate", 12, "a second time", "identifier of its own"),
    ("hold phrase spoken", "Isolate it. Use", "Isolate it. Dead, at both? Use", 8, "speaks the phrase", "reword"),
    ("phrase of a hold in a check", "phrase: at half", "phrase: dead at both", 8, "'level' has", "of its own"),
    ("one phrase, two answers", "phrase: at half", "phrase: below low", 36, "'half' already", "of its own"),
    ("an empty text", "text: It settles.", "text:", 28, "empty", "Write a text"),
    ("a warning that is no list", '["Hot oil burns."]', "Hot oil burns.", 15, "must be a list", "brackets"),
    ("one answer only", "      half: {phrase: at half}\n", "", 34, "too few", "two or more"),
    ("an answer not good, no finding", "finding: It was low, ", "", 36, "finding", "Correct"),
    ("again, nothing to do", ", reply: Top it up.", "", 36, "reply", "Correct"),
    ("a newer format", "format: 1", "format: 2", 1, "'format'", "Correct"),
    ("itself inside itself", "\nsteps:", "\nsteps: &all\n  - *all\nx:", 11, "contains itself", "Write it out"),
    ("a section that is no list", "\nafter:\n  -", "\nafter:\n   ", 30, "list of steps", "Begin each step"),
]


@pytest.mark.parametrize(("old", "new", "line", "cause", "remedy"), [w[1:] for w in WRONG], ids=[w[0] for w in WRONG])
def test_what_is_wrong_is_named_with_its_line(
    old: str, new: str, line: int, cause: str, remedy: str, equipment: Equipment
) -> None:
    assert PROCEDURE.count(old) >= 1
    error = refused(PROCEDURE.replace(old, new, 1), equipment)
    assert line_of(error) == line, error
    assert re.search(cause, error.cause), error
    assert remedy in error.remedy, error


@pytest.mark.parametrize("text", ["", "# nothing\n", "- a\n- b\n", "just words\n"])
def test_what_is_no_procedure_at_all(text: str, equipment: Equipment) -> None:
    error = refused(text, equipment)
    assert "`key: value`" in error.cause


def test_no_steps(equipment: Equipment) -> None:
    assert "no steps" in refused("format: 1\nprocedure: oil\ntitle: Oil\n", equipment).cause


def test_a_phrase_that_the_words_for_a_state_speak() -> None:
    equipment = read_equipment(EQUIPMENT.replace("it is isolated", "it is dead at both"))
    error = refused(PROCEDURE, equipment)
    assert line_of(error) == 8
    assert "state 'isolated'" in error.cause


def test_two_hold_points_with_one_card(equipment: Equipment) -> None:
    second = "  - hold: again\n    title: Again\n    text: Again.\n    phrase: still dead\n    card: 1\nsteps:"
    error = refused(PROCEDURE.replace("steps:", second), equipment)
    assert line_of(error) == 15
    assert "card number 1 stands twice" in error.cause


def test_scalars_stay_as_written(equipment: Equipment) -> None:
    """YAML alone would make `no` a false and `2.20` a 2.2."""
    procedure = read_procedure(PROCEDURE.replace('"{oil.capacity}"', "2.20 L to 2.80 L"), equipment, "oil.yaml")
    volume = procedure.steps()[2]
    assert isinstance(volume, Reading)
    assert str(volume.limits) == "2.20 L to 2.80 L"


@pytest.mark.parametrize(
    ("old", "new", "line", "cause", "remedy"),
    [
        ("state:", "stat:", 5, "'stat' is not known", "Did you mean 'state'"),
        ("yes: it runs, no: it stands", "yes: it runs", 7, "'no' is missing", "Add it"),
        ("yes: it runs, no: it stands", "yes: it runs, now: it stands", 7, "'now' is not known", "'no'"),
        ("{set-a: the first set}", "the first set", 4, "`key: value`", "indent"),
        ("format: 1", "format: 9", 1, "'format'", "Correct"),
        ("  isolated:", " isolated:", 7, "layout is wrong", "indent"),
    ],
)
def test_a_wrong_equipment_file(old: str, new: str, line: int, cause: str, remedy: str) -> None:
    with pytest.raises(ProcedureError) as caught:
        read_equipment(EQUIPMENT.replace(old, new, 1))
    assert f"equipment.yaml, line {line}," in caught.value.place, caught.value
    assert cause in caught.value.cause
    assert remedy in caught.value.remedy
