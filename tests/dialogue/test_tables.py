"""The tables of the dialogue are complete, and `decide` knows no kind of step."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable
from dataclasses import MISSING, fields, replace
from datetime import date
from pathlib import Path
from typing import Any, get_args, get_type_hints

import pytest

import assistant
from assistant.dialogue import messages as m
from assistant.dialogue.asking import QuestionHandler, StepKind
from assistant.dialogue.commands import (
    COMMANDS,
    EVERYWHERE,
    WHILE_ASKING,
    WHILE_COMPLETING,
    WHILE_CONFIRMING,
    offers,
    rule_of,
)
from assistant.dialogue.kinds import KIND_FILES, STEP_KINDS, handlers, kind_in
from assistant.dialogue.messages import Message
from assistant.dialogue.own_questions import OWN_QUESTIONS
from assistant.dialogue.wording import MESSAGES, read_wording
from assistant.edge.checking.languages import samples
from assistant.edge.files.grammars import read_table
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import order_work
from assistant.edge.places import grammars
from assistant.errors import WordingError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.jsgf import parse_grammar
from assistant.meanings import Answer, Command, CommandName, Reason
from assistant.procedure.kinds import KINDS
from assistant.procedure.kinds.instruction import Instruction
from assistant.procedure.step import Step
from assistant.quantities import Limits, Quantity, parse, parse_limits
from assistant.session.facts import Purpose
from assistant.statements.kinds import STATEMENTS, Statement

PACKAGE = Path(assistant.__file__).parent
SET = Path(__file__).parent.parent / "dialogues"


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


class TestStepKinds:
    def test_each_has_a_file(self) -> None:
        assert set(STEP_KINDS) == set(KINDS.values())
        assert len(KIND_FILES) == len(KINDS)

    @pytest.mark.parametrize("name", KIND_FILES)
    def test_without_its_file_the_import_fails_and_names_it(self, name: str) -> None:
        """A new kind was silently missing."""
        others = {file: kind for file, kind in KIND_FILES.items() if file != name}
        with pytest.raises(ImportError, match=KIND_FILES[name].step.__name__):
            handlers(others, KINDS)

    def test_a_file_without_a_kind_of_the_procedure_files_fails(self) -> None:
        class Juggling(Instruction):
            """No key of procedure files."""

            KEY = "juggling"
            EXAMPLE = Instruction.EXAMPLE

        files = {**KIND_FILES, "juggling": StepKind(Juggling, KIND_FILES["check"].handler)}
        with pytest.raises(ImportError, match="juggling"):
            handlers(files, KINDS)

    def test_two_files_of_one_kind_fail(self) -> None:
        with pytest.raises(ImportError, match="another"):
            handlers({**KIND_FILES, "another": KIND_FILES["check"]}, KINDS)

    def test_a_file_that_states_no_kind_fails(self) -> None:
        for stated in (None, "check", STEP_KINDS):
            with pytest.raises(ImportError, match="juggling"):
                kind_in("juggling", stated)

    def test_a_handler_leaves_no_field_out(self) -> None:
        for field in fields(QuestionHandler):
            assert field.default is MISSING, field.name
            assert field.default_factory is MISSING, field.name

    def test_no_file_imports_what_another_keeps_to_itself(self) -> None:
        for path in (PACKAGE / "dialogue" / "kinds").glob("*.py"):
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ImportFrom):
                    assert not [alias.name for alias in node.names if alias.name.startswith("_")], path.name

    def test_each_has_an_example_that_the_dialogue_tests_play(self) -> None:
        played = "\n".join(path.read_text(encoding="utf-8") for path in SET.glob("*.txt"))
        shown: set[type[Step]] = set()
        for name in ("service", "kinds", "judged"):
            for placed in order_work("bench", (name,), "technician", SET).work.steps:
                shown.add(type(placed.step))
                assert f"< {placed.step.text}" in played, placed.step.id
        assert shown == set(KINDS.values())

    def test_each_can_be_passed_in_some_way(self) -> None:
        for kind, handler in STEP_KINDS.items():
            assert handler.answered or handler.next or handler.elapsed, kind

    def test_the_assistants_own_questions_have_a_row_each(self) -> None:
        assert set(OWN_QUESTIONS) == set(Purpose) - {Purpose.STEP}


class TestCommands:
    def test_each_has_a_row(self) -> None:
        lacking = [
            f"assistant/dialogue/commands.py has no row for {name.name}" for name in CommandName if name not in COMMANDS
        ]
        assert lacking == []

    def test_each_has_a_rule_and_each_rule_a_command(self, language: Language) -> None:
        public = parse_grammar(language.source("commands"), "commands.jsgf", language.source).public
        rules = {rule_of(name).removeprefix("<commands.").removesuffix(">"): name for name in CommandName}
        lacking = [
            f"grammars/en/commands.jsgf has no `public <{rule}> = ... {{{name}}};` for {name.name}"
            for rule, name in rules.items()
            if rule not in public
        ]
        lacking += [f"assistant/meanings.py has no {rule.upper()} for <{rule}>" for rule in public if rule not in rules]
        assert lacking == []

    @pytest.mark.parametrize("name", CommandName)
    def test_every_phrase_means_its_command(self, name: CommandName, language: Language) -> None:
        graph = language.graph(Expectation(offers((name,))))
        sentences = list(graph.sentences(100))
        assert 0 < len(sentences) < 100
        for words, tags in sentences:
            assert tags == (name.value,)
            assert [typed.meaning for typed in language.typed(graph, " ".join(words))] == [Command(name)]

    def test_no_phrase_stands_for_two_commands(self, language: Language) -> None:
        graph = language.graph(Expectation(offers(tuple(CommandName))))
        phrases = [words for words, _ in graph.sentences(1000)]
        assert len(phrases) == len(set(phrases)) >= len(CommandName)

    @pytest.mark.parametrize("name", CommandName)
    def test_each_is_allowed_some_time(self, name: CommandName) -> None:
        assert COMMANDS[name].when, f"assistant/dialogue/commands.py: {name.name} is never allowed"

    def test_what_is_allowed_everywhere_is_allowed_in_each_stage_of_a_step(self) -> None:
        for names in (WHILE_ASKING, WHILE_COMPLETING, WHILE_CONFIRMING):
            assert names[-len(EVERYWHERE) :] == EVERYWHERE
            assert len(set(names)) == len(names)

    def test_a_confirmation_is_no_cheap_command(self) -> None:
        assert COMMANDS[CommandName.AFFIRM].risk is Risk.READING


def test_every_reason_can_be_said_and_is_told_as_a_choice(language: Language) -> None:
    graph = language.graph(Expectation((Offer("<reasons.reason>", Reason, Risk.READING),)))
    assert parse_grammar(language.source("reasons"), "reasons.jsgf", language.source).public == ("reason",)
    sentences = [(" ".join(words), tags) for words, tags in graph.sentences(100)]
    assert len({tags for _, tags in sentences}) == len(sentences) >= 6
    for phrase, (key,) in sentences:
        assert [typed.meaning for typed in language.typed(graph, phrase)] == [Reason(key)]
    assert set(language.phrases("<reasons.reason>")) == {phrase for phrase, _ in sentences}


# --- messages and their wording ---------------------------------------------------------------------------------

SAMPLES: dict[object, Any] = {
    str: "something",
    int: 3,
    float: 90.0,
    tuple[Offer | CommandName, ...]: (Offer("all good | fine", Answer, Risk.READING, "good"), CommandName.DETAILS),
    tuple[Offer, ...]: (Offer("belt", Answer, Risk.READING, "belt"),),
    tuple[str, ...]: ("Drain", "Sample"),
    date: date(2026, 3, 2),
    Limits: parse_limits("200 kPa to 450 kPa"),
    Quantity: parse("7.50 mm"),
    Quantity | None: parse("7.50 mm"),
    Quantity | str: parse("7.50 mm"),
    Quantity | date: date(2026, 3, 2),
}


WRONG_WITH_ONE = re.compile(r"\b1 \w+s\b(?! is)|\b1 \w+ are\b")
WRONG_WITH_MORE = re.compile(r"\b[02] (?!of\b|still\b)\w*[^s\W](?= is\b|,|\.| left|$)|\b[02] \w+ is\b")


def sample(kind: type[Message]) -> Message:
    hints = get_type_hints(kind)
    own = {field.name: SAMPLES[hints[field.name]] for field in fields(kind) if hints[field.name] in SAMPLES}
    return replace(next(samples(kind)), **own)


def names_in(paths: Iterable[Path]) -> set[str]:
    """Every name in the code of these modules."""
    nodes = [node for path in paths for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))]
    return {node.attr for node in nodes if isinstance(node, ast.Attribute)} | {
        node.id for node in nodes if isinstance(node, ast.Name)
    }


class TestWording:
    def templates(self) -> dict[str, Any]:
        content = read_table(grammars() / "en" / "wording.yaml")
        assert isinstance(content, dict)
        return dict(content)

    @pytest.mark.parametrize("kind", get_args(Message), ids=lambda kind: kind.__name__)
    def test_every_message_has_words(self, kind: type[Message], language: Language) -> None:
        text = language.wording.text(sample(kind))
        assert text
        assert "{" not in text
        assert text[0].upper() == text[0]
        aloud = language.wording.aloud(sample(kind))
        assert re.search(r"[a-z]", aloud)
        assert "kPa" not in aloud
        assert "mm" not in aloud.split()

    def test_a_quantity_is_read_back_digit_by_digit(self, language: Language) -> None:
        said = language.wording.text(m.ReadBack("gap", parse("7.50 mm")))
        assert said == "Gap seven decimal five zero millimetres. Right?"

    def test_choices_are_told_in_the_grammar_s_own_phrases(self, language: Language) -> None:
        said = language.wording.text(m.Choices((CommandName.DETAILS, CommandName.SKIP)))
        assert said == "The choices are: more details; skip this step."

    @pytest.mark.parametrize("number", [0, 1, 2])
    @pytest.mark.parametrize("kind", get_args(Message), ids=lambda kind: kind.__name__)
    def test_no_message_counts_wrongly(self, kind: type[Message], number: int, language: Language) -> None:
        """It did: "1 steps."""
        hints = get_type_hints(kind)
        counts = {field.name: number for field in fields(kind) if hints[field.name] is int}
        text = language.wording.text(replace(sample(kind), **counts))
        assert not counts or str(number) in text
        wrong = WRONG_WITH_ONE if number == 1 else WRONG_WITH_MORE
        assert not wrong.search(text), text

    def test_a_wrong_count_would_be_found(self) -> None:
        for text in ("1 steps", "1 things are missing", "There are 1 readings."):
            assert WRONG_WITH_ONE.search(text)
        for text in ("2 step is open", "0 reading", "2 findings is"):
            assert WRONG_WITH_MORE.search(text)
        for text in ("1 step is open, 2 findings", "2 step", "11 steps are open", "Step 1 of 3: Drain."):
            assert not WRONG_WITH_ONE.search(text)
        assert not WRONG_WITH_MORE.search("2 steps are open, 0 readings")

    @pytest.mark.parametrize("template", ["{open:step}", "{open:step|steps|more}", "{title:step|steps}"])
    def test_a_count_is_written_for_one_and_for_more(self, template: str, language: Language) -> None:
        templates = {**self.templates(), "WhatIsLeft": f"{template} {{open}} {{title}}"}
        wording = read_wording(templates, language.wording.forms, language.phrases)
        with pytest.raises(WordingError, match="no way to say"):
            wording.text(m.WhatIsLeft(2, "Drain"))

    def test_a_missing_one_is_found(self, language: Language) -> None:
        for name in ("Recorded", "HoldStays"):
            templates = self.templates()
            del templates[name]
            with pytest.raises(WordingError, match=f"{name} has no wording"):
                read_wording(templates, language.wording.forms, language.phrases)

    def test_a_superfluous_one_is_found(self, language: Language) -> None:
        with pytest.raises(WordingError, match="Farewell is no message"):
            read_wording({**self.templates(), "Farewell": "Bye."}, language.wording.forms, language.phrases)

    @pytest.mark.parametrize(
        "template", ["{quantity} is low.", "{quantity} {limits} {more}", "Low.", "{quantity} is low. Limit {limit}."]
    )
    def test_differing_arguments_are_found(self, template: str, language: Language) -> None:
        with pytest.raises(WordingError, match="TooLow uses the arguments"):
            read_wording({**self.templates(), "TooLow": template}, language.wording.forms, language.phrases)

    def test_a_file_that_is_no_table_is_told(self, language: Language) -> None:
        for content in (None, 3, "text", {"Recorded": None}):
            with pytest.raises(WordingError):
                read_wording(content, language.wording.forms, language.phrases)

    def test_every_message_is_said_somewhere(self) -> None:
        """Wording that nobody uses is found: each class is named in some module besides its own."""
        paths = [path for folder in ("dialogue", "app") for path in (PACKAGE / folder).rglob("*.py")]
        named = names_in(path for path in paths if path.parent.name != "messages")
        assert {kind.__name__ for kind in get_args(Message)} - named == set()

    def test_every_statement_is_made_somewhere(self) -> None:
        named = names_in(path for path in PACKAGE.rglob("*.py") if path.parent.name != "statements")
        assert {kind.__name__ for kind in STATEMENTS.values()} - named == set()

    def test_no_two_have_one_kind(self) -> None:
        assert set(MESSAGES.values()) == set(get_args(Message))
        assert set(STATEMENTS.values()) == set(get_args(Statement))
        assert not set(MESSAGES) & set(STATEMENTS)


# --- no branch on a step's class --------------------------------------------------------------------------------


def subclasses(kind: type[object]) -> set[str]:
    names: set[str] = set()
    for inner in kind.__subclasses__():
        names |= {inner.__name__} | subclasses(inner)
    return names


def kinds_named(source: str) -> set[str]:
    """The kinds of step that a module names: by name, by attribute, or in an import."""
    kinds = subclasses(Step)
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Name):
            found.add(node.id)
        elif isinstance(node, ast.Attribute):
            found.add(node.attr)
        elif isinstance(node, ast.alias):
            found |= {node.name.rpartition(".")[2]}
    return found & kinds


DIALOGUE = PACKAGE / "dialogue"
OUTSIDE = sorted(path for path in DIALOGUE.rglob("*.py") if "kinds" not in path.relative_to(DIALOGUE).parts)


@pytest.mark.parametrize("path", OUTSIDE, ids=lambda path: path.stem)
def test_no_branch_on_the_class_of_a_step(path: Path) -> None:
    """Only the files of the kinds know them."""
    assert kinds_named(path.read_text(encoding="utf-8")) == set()


def test_a_branch_on_the_class_of_a_step_would_be_found() -> None:
    assert {"Instruction", "Check", "Reading", "Timer", "HoldPoint"} <= subclasses(Step)
    for source, found in (
        ("if isinstance(step, Reading): pass", {"Reading"}),
        ("from assistant.procedure.kinds.hold_point import HoldPoint", {"HoldPoint"}),
        ("from assistant.procedure.kinds.timer import Timer as Wait", {"Timer"}),
        ("match step:\n    case steps.Check(): pass", {"Check"}),
        ("row = question_handler(turn)", set()),
    ):
        assert kinds_named(source) == found, source
    files = (DIALOGUE / "kinds").glob("*.py")
    named = [kinds_named(path.read_text(encoding="utf-8")) for path in files]
    assert set().union(*named) == {kind.__name__ for kind in KINDS.values()}
