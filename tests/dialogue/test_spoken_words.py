"""Everything spoken is in `wording.yaml`: what is left of a text without it is a file's, a person's, or a number.

Every dialogue is played, planned visits among them, and what was said is said again by a wording whose every text is a
mark. The letters that are then left must be those of the procedures, of the grammar, or of what was heard.
"""

from __future__ import annotations

import re
import string
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from assistant.dialogue import messages as m
from assistant.dialogue.commands import COMMANDS, rule_of
from assistant.dialogue.effects import Effect, Say
from assistant.dialogue.messages import Message
from assistant.dialogue.wording import MESSAGES, TABLES, Wording, read_wording
from assistant.edge.files.grammars import read_table
from assistant.edge.files.language import Language, english
from assistant.edge.places import grammars
from assistant.grammar.expectation import Offer
from assistant.grammar.numbers import TAGS
from assistant.quantities import UNITS
from assistant.statements.kinds import STATEMENTS
from assistant.statements.wording import STATEMENTS_KEY, WORDS_KEY
from assistant.yaml_text import load
from tests.dialogues.playing import HERE, Play, played

MARK = "¤"
EACH = ("small", *TABLES)
FORMS = re.compile(r"duration|iso|bare|(\.\d+)?[gf]|")
SYMBOLS = {word for symbol in UNITS for word in symbol.lower().split()}
GRAMMAR = ("<reasons.reason>", "<roles.role>", "<answers.substitute>")
DIALOGUES = sorted(HERE.glob("*.txt"))


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


@pytest.fixture(scope="module")
def marked(language: Language) -> Wording:
    """The wording in which every text is a mark."""
    table: Any = read_table(grammars() / "en" / "wording.yaml")
    return read_wording(
        {kind: bare(table[kind]) for kind in MESSAGES}
        | {STATEMENTS_KEY: {kind: bare(table[STATEMENTS_KEY][kind]) for kind in STATEMENTS}}
        | {WORDS_KEY: {name: dict.fromkeys(words, MARK) for name, words in table[WORDS_KEY].items()}},
        language.wording.forms,
        language.phrases,
    )


def bare(template: str) -> str:
    """A template without any words, also in the forms of its arguments."""
    pieces = string.Formatter().parse(template)
    return MARK + MARK.join(f"{{{name}:{bare_form(form or '')}}}" for _, name, form, _ in pieces if name is not None)


def bare_form(form: str) -> str:
    if FORMS.fullmatch(form) or form in EACH:
        return form
    if form.endswith("digits"):
        return f"{MARK}digits"
    each = next((name for name in EACH if form.startswith(name)), "")
    joints = form.removeprefix(each).count("|")
    return each + (MARK, f"{MARK}|{MARK}", f"{MARK}|{MARK}|{MARK}#")[joints]


def texts_of(value: object) -> set[str]:
    """Every text in a file of procedures, in small letters."""
    if isinstance(value, dict):
        return set().union(*map(texts_of, value.values()), map(str.lower, map(str, value)))
    if isinstance(value, list):
        return set().union(*map(texts_of, value))
    return {" ".join(str(value).lower().split())}


@pytest.fixture(scope="module")
def given(language: Language) -> set[str]:
    """What may be said without being worded: texts of procedures, and phrases of the grammar."""
    files = [*HERE.glob("set/*.yaml"), *HERE.glob("visits/*.yaml")]
    texts = set().union(*(texts_of(load(file.read_text(encoding="utf-8"))) for file in files))
    rules = (*GRAMMAR, *map(rule_of, COMMANDS))
    return texts | {phrase.lower() for rule in rules for phrase in language.phrases(rule)}


def is_number(piece: str) -> bool:
    """Whether it is a number, in digits or in words, with or without a unit, or single characters read back."""
    words = [word.strip(",.:;?") for word in piece.split()]
    return all(re.fullmatch(r"[\W\d]*|\w", word) or word in TAGS or word in SYMBOLS for word in words)


def not_worded(message: Message, marked: Wording, given: set[str]) -> list[str]:
    """What a message says that no table, file or person said."""
    words = {word for pair in marked.forms.units.values() for word in pair if word}
    units = "|".join(map(re.escape, sorted(words, key=len, reverse=True)))
    pieces = re.split(rf"{MARK}|, |; ", marked.text(message).lower())
    bare_pieces = (re.sub(rf"\b({units})\b", "", piece, flags=re.IGNORECASE).strip(" .;:") for piece in pieces)
    whole = (piece.strip(" .;:") for piece in pieces)
    return [
        piece
        for piece, rest in zip(whole, bare_pieces, strict=True)
        if not is_number(rest) and not any(piece in text for text in given)
    ]


def offers_of(message: Message) -> Iterator[Offer]:
    """What a message names as choices."""
    for field in fields(message):
        value = getattr(message, field.name)
        yield from (choice for choice in value if isinstance(choice, Offer)) if isinstance(value, tuple) else ()


@pytest.mark.parametrize("path", DIALOGUES, ids=lambda path: path.stem)
def test_nothing_is_said_that_is_not_worded(
    path: Path, language: Language, marked: Wording, given: set[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[Message] = []
    carry_out = Play.carry_out

    def overheard(play: Play, effect: Effect) -> None:
        if isinstance(effect, Say):
            said.extend(effect.messages)
        carry_out(play, effect)

    monkeypatch.setattr(Play, "carry_out", overheard)
    played(path, language)
    heard = {line[2:].lower() for line in path.read_text(encoding="utf-8").splitlines() if line[:1] in ">*%"}
    assert said
    for message in said:
        offered = {phrase.lower() for offer in offers_of(message) for phrase in language.phrases(offer.rule)}
        assert not_worded(message, marked, given | heard | offered) == [], message


def test_words_of_the_program_s_own_are_found(marked: Wording, given: set[str]) -> None:
    """The check can fail: a reason, a caveat and a device that were worded in Python."""
    assert not_worded(m.WaitsFor("the engine has cooled down"), marked, given) == ["the engine has cooled down"]
    assert not_worded(m.Caveat("deflection is in doubt"), marked, given) == ["deflection is in doubt"]
    assert not_worded(m.TimerRuns(90.0), marked, given) == []


def test_the_marks_are_all_that_is_left_of_a_template() -> None:
    assert bare("Before {title:small}: {steps:step|steps} of {names:small, | and }, {range:, that is digits}.") == (
        "¤{title:small}¤{steps:¤|¤}¤{names:small¤|¤}¤{range:¤digits}"
    )
    assert bare("Noted.") == MARK
