"""What a typed line means: what may be said, the number of a part where one is asked for, a note where one is taken."""

from __future__ import annotations

import pytest

from assistant.edge.files.language import Language, english, part_number
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.meanings import Answer, Command, CommandName, FreeSpeech, Meaning, Reason, Spelled

NEXT = Offer("<commands.next>", Command, Risk.COMMAND)
STOP = Offer("<commands.stop>", Command, Risk.COMMAND)
PART = Expectation(
    (
        Offer("<spelled.three>", Spelled, Risk.READING),
        Offer("<answers.substitute>", Answer, Risk.READING, "substitute"),
        NEXT,
    )
)
NOTE = Expectation((Offer("", FreeSpeech, Risk.COMMAND), STOP))
REASON = Expectation((Offer("<reasons.reason>", Reason, Risk.READING), NEXT))


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


def meant(language: Language, expectation: Expectation, text: str) -> list[Meaning]:
    return [hypothesis.meaning for hypothesis in language.answer(expectation, text)]


@pytest.mark.parametrize("text", ["F07", "f07", "f 07", "F 0 7", " f-07 ", "foxtrot zero seven"])
def test_the_last_three_characters_of_a_part_may_be_typed(text: str, language: Language) -> None:
    """They had to be spelled out in words, on the keyboard too: `F07` was not understood."""
    assert meant(language, PART, text) == [Spelled("F07")]


@pytest.mark.parametrize("text", ["OF-2207", "of-2207", "OF 2207", "of2207", "OF–2207", "o f 2 2 0 7"])
def test_the_whole_number_of_a_part_may_be_typed(text: str, language: Language) -> None:
    assert meant(language, PART, text) == [Spelled("OF2207")]


@pytest.mark.parametrize("text", ["yes", "the filter", "7", "12.5", "f 0.7", "f_07", "½07", ""])
def test_what_is_no_number_of_a_part_is_none(text: str, language: Language) -> None:
    assert meant(language, PART, text) == []
    assert part_number(text) == ""


def test_a_typed_number_changes_nothing_else(language: Language) -> None:
    """What may be said keeps its meaning where a part is asked for, and a number means a part nowhere else."""
    assert meant(language, PART, "next") == [Command(CommandName.NEXT)]
    assert meant(language, PART, "a substitute") == [Answer("substitute")]
    for text in ("F07", "OF-2207"):
        assert meant(language, REASON, text) == []
        assert meant(language, NOTE, text) == [FreeSpeech()]


def test_only_the_very_phrase_is_a_command_where_a_note_is_taken(language: Language) -> None:
    assert meant(language, NOTE, "stop") == [Command(CommandName.STOP)]
    assert meant(language, NOTE, "Stop.") == [Command(CommandName.STOP)]
    for text in ("stop the engine first", "the stop lever is stiff", "do not stop", "stop stop"):
        assert meant(language, NOTE, text) == [FreeSpeech()]
