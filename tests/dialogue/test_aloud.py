"""What a voice is given: no word is lost or joined to another, and no symbol is left in."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import pytest

from assistant.dialogue import messages as m
from assistant.dialogue.messages import Message
from assistant.edge.checking.words import works
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import order_work
from assistant.grammar.spoken import spoken
from assistant.procedure.step import Step
from tests.dialogue.test_tables import sample

SET = Path(__file__).parent.parent / "dialogues"
ORDINARY = re.compile(r"[A-Za-z0-9 .,:;?!()'\u2019-]+")
SIGNS = re.compile(r"[0-9°%/±≤≥<>×=→&½¼¾Ω·_]")


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


def plain_words(text: str, language: Language) -> list[str]:
    """The words of a written text that are said as they are written: no units, no numbers, no codes."""
    units = {word for symbol in language.wording.forms.units for word in symbol.split()}
    whole = [written.strip(".,:;?!()'\u2019-") for written in text.split()]
    return [
        word.lower()
        for written in whole
        if not SIGNS.search(written) and written not in units
        for word in re.findall(r"[A-Za-z]+", written)
    ]


def assert_said_whole(text: str, aloud: str, language: Language) -> None:
    assert ORDINARY.fullmatch(aloud), f"{text!r} leaves a symbol in: {aloud!r}"
    assert not re.search(r"\d[A-Za-z]|[A-Za-z]\d", aloud), f"{text!r} joins a number and a word: {aloud!r}"
    left = iter(re.findall(r"[a-z]+", aloud.lower()))
    for word in plain_words(text, language):
        assert word in left, f"{word!r} of {text!r} is lost or joined to another: {aloud!r}"


def every_step() -> list[Step]:
    """Of every shipped procedure and of those of the dialogue tests, their data filled in."""
    names = sorted(path.stem for path in (SET / "set").glob("*.yaml") if path.stem != "equipment")
    own = [order_work("bench", (name,), "technician", SET).work for name in names]
    found = [placed.step for work in (*works(None, None), *own) for placed in work.steps]
    assert len(found) > 100
    return found


def test_every_prompt_of_every_procedure_is_said_whole(language: Language) -> None:
    """`turn it ½ turn` was spoken "turn ithalf turn"."""
    said = 0
    for step in every_step():
        for text in filter(None, step.prompts()):
            assert_said_whole(text, spoken(text, language.wording.forms), language)
            said += 1
    assert said > 300


@pytest.mark.parametrize("kind", get_args(Message), ids=lambda kind: kind.__name__)
def test_every_message_is_said_whole(kind: type[Message], language: Language) -> None:
    message = sample(kind)
    assert_said_whole(language.wording.text(message), language.wording.aloud(message), language)


@pytest.mark.parametrize(
    "text", ["Turn it ½ turn.", "Pour ½ L.", "Hold it at 7.50 mm ± 0.5 mm, by hand.", "Fit OF-2207.", "At −25 °C?"]
)
def test_a_text_within_a_message_is_said_whole(text: str, language: Language) -> None:
    for message in (m.StepText("id", text), m.Details(text), m.Hazard("warning", text), m.Reply(text)):
        assert_said_whole(language.wording.text(message), language.wording.aloud(message), language)


@pytest.mark.parametrize(
    ("text", "aloud"),
    [("it ½ turn", "ithalf turn"), ("a § b", "a § b"), ("press it twice", "press twice"), ("M8", "M8 x")],
)
def test_a_fault_would_be_found(text: str, aloud: str, language: Language) -> None:
    with pytest.raises(AssertionError):
        assert_said_whole(text, aloud, language)


def test_the_words_of_a_message_are_told_from_its_units(language: Language) -> None:
    assert plain_words("Pour 2.5 L of 10W-30, then look.", language) == ["pour", "of", "then", "look"]
    assert plain_words(language.wording.text(m.StepText("id", "Go in.")), language) == ["go"]
