"""A language's wording, grammars and tables are checked, each fault with its place."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import fields
from decimal import Decimal
from pathlib import Path
from types import UnionType
from typing import Union, get_args, get_origin, get_type_hints

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.dialogue import messages as m
from assistant.dialogue.commands import rule_of
from assistant.dialogue.messages import Message
from assistant.dialogue.wording import MESSAGES
from assistant.edge.checking.languages import samples
from assistant.edge.checking.models import check
from assistant.edge.files.language import Language
from assistant.edge.places import grammars, procedures
from assistant.errors import WordingError
from assistant.meanings import CommandName
from assistant.procedure.problem import Severity
from assistant.quantities import Quantity
from assistant.statements.kinds import STATEMENTS, Statement

EVERY_FILE = {file.name for file in (grammars() / "en").iterdir()}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the shipped English, to be broken."""
    return Path(shutil.copytree(grammars() / "en", tmp_path / "en"))


def found(folder: Path, severity: Severity = Severity.WRONG) -> list[tuple[str, int, str]]:
    """File, line and cause."""
    faults = check(folder).faults
    return [(Path(one.file).name, one.line, one.cause) for one in faults if one.severity is severity]


def changed(file: Path, old: str, new: str) -> int:
    """Changes a file in one place; the line of it."""
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")
    return text[: text.index(old)].count("\n") + 1


def test_nothing_is_wrong_in_the_shipped_language() -> None:
    """`check` did not look at wording and grammars at all."""
    checked = check(grammars() / "en")
    assert checked.faults == ()
    assert {file.name for file in checked.files} == EVERY_FILE
    assert check(grammars()).files == checked.files
    assert set(checked.files) <= set(check().files)


WRONG = [  # file, from, to, part of the cause
    # wording: each of these ended a visit with a traceback, or was spoken as it stood
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: ""', "Recorded says nothing"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: "..."', "it says nothing"),
    ("wording.yaml", 'Recorded: "Noted."', "Recorded: no", "Recorded says nothing"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted}."', "a brace is wrong"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: "{{Noted}}."', "a brace is written twice"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted {it}."', "it uses the arguments ['it']"),
    ("wording.yaml", '"{title}: time is up."', '"{title: time is up."', "a brace is wrong"),
    ("wording.yaml", '"{title}: time is up."', '"{title!r}: time is up."', "`!` after an argument"),
    ("wording.yaml", '"{title}: time is up."', '"{title:x}: time is up."', "no way to say"),
    ("wording.yaml", '"{title}: time is up."', '"{title.name}: time is up."', "it uses the arguments"),
    ("wording.yaml", '"{seconds:duration} from now."', '"{seconds} from now."', "no way to say 0.2"),
    ("wording.yaml", '"{name} {quantity:digits}."', '"{name} {quantity:duration}."', "no way to say"),
    ("wording.yaml", "Recorded:", "Recordet:", "Recordet is no message"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted."\nNotHere: "No."', "'NotHere' stands here a second time"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted\\a."', "U+0007"),
    # statements and words for keys of the program: reasons and caveats were English of the program itself
    ("wording.yaml", '  long pause: "a long pause"', '  long pause: ""', "long pause says nothing"),
    ("wording.yaml", '  long pause: "a long pause"', '  long paus: "x"', "the statement long pause has no wording"),
    ("wording.yaml", '  long pause: "a long pause"', '  long paus: "x"', "long paus is no statement"),
    ("wording.yaml", '"{title} was not read"', '"{name} was not read"', "the statement has ['title']"),
    ("wording.yaml", '"{title} was not read"', '"{title:large} was not read"', "no way to say"),
    ("wording.yaml", '"{title} was not read"', '"next, {title} was not read"', "it speaks 'next', which may be said"),
    ("wording.yaml", "{changes:change|changes}", "{changes:none|one|several}", "no way to say"),
    ("wording.yaml", "statements:\n", "statement:\n", "'statements' is missing or no table"),
    ("wording.yaml", "words:\n  signal:", "words:\n  signals:", "signal is a word table that lacks"),
    ("wording.yaml", "words:\n  signal:", "words:\n  signals:", "signals is no word table"),
    ("wording.yaml", "    screen: screen", "    scren: screen", "screen has no words"),
    ("wording.yaml", "    screen: screen", "    scren: screen", "scren is no key of the program"),
    ("wording.yaml", "    screen: screen", "    screen: []", "screen has no words"),
    ("wording.yaml", 'Recorded: "Noted."', 'Recorded: ["Noted."]', "Recorded says nothing"),
    ("wording.yaml", 'GoingOn: "Going on."', 'GoingOn: "I carry on."', "it speaks 'carry on', which may be said"),
    ("wording.yaml", 'NotHere: "That is', 'NotHere: "Next. That is', "it speaks 'next', which may be said"),
    # grammars: a command that was no command ended the visit when it was said
    ("commands.jsgf", "next {next}", "next {nexxt}", "'nexxt' is no command; it must be {next}"),
    ("commands.jsgf", "next {next}", "next {stop}", "'stop' is another command; it must be {next}"),
    ("commands.jsgf", "next {next}", "next", "a tag is missing: {next}"),
    ("commands.jsgf", "= correction", "= next", "'next' stands in <commands.next> already"),
    ("commands.jsgf", "= next {next}", "= [next {next}]", "<next> can be said with no word at all"),
    ("commands.jsgf", "= next {next}", "= <nixt> {next}", "there is no rule <nixt>"),
    ("commands.jsgf", "= next {next}", "= next) {next}", "does not belong here"),
    ("commands.jsgf", "public <stop>", "<stop>", "there is no public rule <stop>"),
    ("units.jsgf", "newton | newtons) {N}", "newton | newtons) {Nm}", "its tag is 'Nm', and must be {N}"),
    ("units.jsgf", "public <bar> = bar {bar}", "public <bar> = bar", "its tag is '', and must be {bar}"),
    ("units.jsgf", "degree | degrees;", "degree {K} | degrees;", "it means the scale asked for"),
    ("units.jsgf", "public <gallons>", "public <gallon>", "there is no public rule <gallons>"),
    ("which.jsgf", "U S {US gal}", "U S {US qt}", "its tag is 'US qt', and must be {US gal}"),
    ("reasons.jsgf", "cannot reach it {no_access}", "cannot reach it", "it has no tag"),
    ("roles.jsgf", "the trainer {trainer}", "the trainer", "it has no tag"),
    ("roles.jsgf", "the trainer {trainer}", "the trainer {boss}", "{boss} is not known"),
    ("reasons.jsgf", "cannot reach it {no_access}", "cannot reach it {no_acess}", "{no_acess} is not known"),
    ("spelled.jsgf", "bravo {B}", "bravo {beta}", "the tag {beta} is no capital letter"),
    ("spelled.jsgf", "bravo {B}", "bravo {A}", "no word means B"),
    ("spelled.jsgf", "bravo {B}", "bravo", "can be said with 2 of them, not three"),
    ("answers.jsgf", "a substitute;", "a substitute {x};", "it has a tag"),
    ("numbers.jsgf", "seven {7}", "seven {sept}", "the tag {sept} in <number> is no part of a number"),
    ("numbers.jsgf", "seven {7}", "seven", "'seven' of <digits> is a number without a digit"),
    ("numbers.jsgf", "seven {7}", "seven {8}", "'seven' of <number> does not mean 7"),
    ("numbers.jsgf", "twelve {12}", "twelve {20}", "'twelve' of <number> does not mean 12"),
    # tables
    ("units.jsgf", "public <hour>", "public <ours>", "there is no public rule <hour> for the unit 'h'"),
    ("spoken.yaml", "[pascal, pascals]", "[pascal]", "needs 2"),
    ("spoken.yaml", '"{cold} W {hot}"', '"{cold} W {hot} {x}"', "it cannot be used ('x')"),
    ("spoken.yaml", "minus: minus", "minus: [minus", "the layout is wrong here"),
    ("spoken.yaml", "minus: minus", f"minus: {'[' * 30}{']' * 30}", "deep inside one another"),
    ("forms.yaml", "  niner: [nine]", "  niner: nine", "has no list of texts"),
    ("forms.yaml", "words:\n", "words: 7\nw: \n", "it is not a table"),
    ("pronunciations.yaml", '  "psi": p iː ɛ s aɪ', '  "psi": P S I', "'psi' has the sign 'P', no sound"),
    ("pronunciations.yaml", "by hand:", "by hands:", "it has not the two parts"),
]


@pytest.mark.parametrize(("file", "old", "new", "cause"), WRONG, ids=[f"{w[0]} {w[2][:30]!r}" for w in WRONG])
def test_what_is_wrong_is_found_with_its_line(file: str, old: str, new: str, cause: str, folder: Path) -> None:
    """All of these were let pass; most of them ended the visit in which the line was wanted."""
    changed(folder / file, old, new)
    faults = found(folder)
    assert any(name == file and cause in said for name, _, said in faults), faults
    assert {name for name, _, _ in faults} == {file}


def test_the_place_of_a_fault_is_where_it_stands(folder: Path) -> None:
    """An error of the wording named a message, and no line."""
    line = changed(folder / "wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted}."')
    assert [(name, at) for name, at, _ in found(folder)] == [("wording.yaml", line)]
    (folder / "wording.yaml").write_text((grammars() / "en" / "wording.yaml").read_text(encoding="utf-8"), "utf-8")
    line = changed(folder / "commands.jsgf", "next {next}", "next {nexxt}")
    (fault,) = check(folder).faults
    assert (Path(fault.file).name, fault.line, fault.column) == ("commands.jsgf", line, 8)


@pytest.mark.parametrize("name", sorted(EVERY_FILE))
def test_a_file_that_is_missing_empty_or_no_text_is_found(name: str, folder: Path) -> None:
    """The program ended with a traceback, or only when the rule was wanted."""
    for data in (None, b"", b"\xff\xfe\x00", b"- a\n"):
        (folder / name).unlink(missing_ok=True)
        if data is not None:
            (folder / name).write_bytes(data)
        if name == "wording.yaml" and data is None:
            continue  # without it the folder is none of a language
        assert any(file == name for file, _, _ in found(folder)), (name, data)


def test_a_file_that_ends_otherwise_is_found(folder: Path) -> None:
    """A table that was saved as `.yml` was not read, and nobody said so."""
    (folder / "forms.yaml").rename(folder / "forms.yml")
    assert {(name, cause[:20]) for name, _, cause in found(folder)} == {
        ("forms.yml", "its name ends in '.y"),
        ("forms.yaml", "it cannot be read (N"),
    }


def test_a_phrase_that_people_are_told_to_say_may_be_spoken(folder: Path) -> None:
    """The prompts that teach a command would be called wrong with those that speak one by accident."""
    changed(folder / "wording.yaml", 'NotHere: "That is', 'NotHere: "Say next. That is')
    assert found(folder) == []


def test_a_rule_that_nothing_refers_to_is_noted(folder: Path) -> None:
    """A rule whose name was misspelt was missing, and stood there all the same."""
    line = changed(folder / "commands.jsgf", "public <stop>", "public <stopp> = halt now {stop};\npublic <stop>")
    notes = found(folder, Severity.NOTE)
    assert notes == [("commands.jsgf", line, "the program does not refer to <stopp>")]


def test_a_word_whose_sound_is_not_known_is_found(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The check of a procedure raised a KeyError when the table lacked a word of a command."""
    monkeypatch.setenv("PATH", "")  # no espeak-ng
    changed(folder / "pronunciations.yaml", '  "disregard":', '  "disregarded":')
    assert [cause for _, _, cause in found(folder)] == [
        "how 'disregard' sounds is not known, so 'disregard' can be compared with nothing"
    ]
    beside = check(Path(__file__).parents[2] / "dialogues" / "set", str(folder)).faults
    assert all("sounds is not known" in fault.cause for fault in beside if fault.severity is Severity.WRONG)


def test_one_file_of_a_language_can_be_checked(folder: Path) -> None:
    """A trainer who changed one file was told of procedures, or of nothing."""
    changed(folder / "units.jsgf", "public <bar> = bar {bar}", "public <bar> = bar")
    assert len(check(folder / "units.jsgf").faults) == 1
    assert check(folder / "numbers.jsgf").faults == ()
    assert check(folder / "numbers.jsgf").files == (folder / "numbers.jsgf",)


def test_the_command_checks_a_language(folder: Path) -> None:
    """`enginebay check grammars/en` said that it holds no equipment."""
    line = changed(folder / "wording.yaml", 'Recorded: "Noted."', 'Recorded: ""')
    result = CliRunner().invoke(app, ["check", "--json", str(folder)])
    assert result.exit_code == 1
    said = json.loads(result.output)
    assert (said["wrong"], said["notes"], len(said["files"])) == (1, 0, len(EVERY_FILE))
    assert said["faults"][0]["line"] == line


def test_every_message_has_samples_of_every_kind_of_argument() -> None:
    """A message that was never said in a test was said wrong in a visit."""
    kinds: tuple[type[Message | Statement], ...] = (*MESSAGES.values(), *STATEMENTS.values())
    for kind in kinds:
        said = list(samples(kind))
        assert said
        hints = get_type_hints(kind)
        for field in fields(kind):
            values = {type(getattr(message, field.name)) for message in said}
            hint = hints[field.name]
            wanted = len(get_args(hint)) if get_origin(hint) in (Union, UnionType) else 1
            assert len(values) == wanted, (kind, field.name, values)
    assert {message.converted is None for message in samples(m.ReadBack)} == {True, False}  # type: ignore[union-attr]


def test_every_command_s_rule_is_looked_at(folder: Path) -> None:
    """A command without its rule was found out when somebody stood by it."""
    (folder / "commands.jsgf").write_text("#JSGF V1.0;\ngrammar commands;\npublic <x> = y;\n", encoding="utf-8")
    missing = {re.findall("<(.*?)>", cause)[0] for _, _, cause in found(folder) if "no public rule" in cause}
    assert missing == {rule_of(name).partition(".")[2].rstrip(">") for name in CommandName}


def test_a_mean_finer_than_can_be_said_is_said_as_it_is_written() -> None:
    """`last reading` ended the visit after a mean of readings in thousandths, which is finer than can be said."""
    text = Language("en").wording.text(m.LastReading("gap", Quantity(Decimal("1.2345"), "mm")))
    assert text == "Gap 1.2345 mm."


def test_a_wrong_brace_is_told_and_no_traceback(folder: Path) -> None:
    """Reading the wording raised a ValueError that nobody caught."""
    changed(folder / "wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted}."')
    with pytest.raises(WordingError, match="Recorded has a wrong brace"):
        Language(str(folder))


def test_a_fault_of_the_language_hides_nothing_when_procedures_are_checked(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """`check` and `check procedures` ended with the first fault of the language, without a line and without JSON."""
    changed(folder / "wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted}."')
    changed(folder / "roles.jsgf", "the trainer {trainer}", "the trainer {boss}")
    monkeypatch.setattr("assistant.edge.places.grammars", lambda: folder.parent)
    for path in (None, procedures(), procedures() / "twin-9" / "belt.yaml"):
        found = {Path(one.file).name for one in check(path).faults if one.severity is Severity.WRONG}
        assert found == {"wording.yaml", "roles.jsgf"}, path
