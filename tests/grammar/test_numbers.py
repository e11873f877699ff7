"""Numbers: what is said comes back, with its resolution, through words, tags, the graph and typed text."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings

from assistant.errors import GrammarError, QuantityError
from assistant.grammar.expectation import Offer, Risk
from assistant.grammar.graph import compile_grammar
from assistant.grammar.numbers import fold, parse, say_digits, say_number
from assistant.grammar.tagged import meaning, sense
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Reason
from tests.grammar.readings import grammar, reading, sayable, typed


@given(sayable)
def test_what_is_said_is_understood(value: Decimal) -> None:
    assert str(parse(say_number(value))) == f"{value:f}"
    assert str(parse(say_digits(value))) == f"{value:f}"


@settings(max_examples=60, deadline=None)
@given(sayable)
def test_what_is_said_is_in_the_grammar_and_means_the_value(value: Decimal) -> None:
    wanted = {str(Amount(Decimal(f"{value:f}"), "kPa"))}
    assert typed(reading("kPa"), f"{say_number(value)} kilopascals") == wanted
    assert typed(reading("kPa"), f"{value:f} kPa") == wanted
    assert typed(reading("kPa"), f"{value:f}kPa") == wanted
    assert typed(reading("kPa", True), f"{say_digits(value)} kilopascals") == wanted


@pytest.mark.parametrize(
    ("words", "value"),
    [
        ("twelve point six", "12.6"),
        ("seven point five zero", "7.50"),
        ("one hundred and twenty", "120"),
        ("a hundred", "100"),
        ("fifteen hundred", "1500"),
        ("two thirty", "230"),
        ("two thirty five", "235"),
        ("twelve fifty", "1250"),
        ("one two zero", "120"),
        ("one two decimal six", "12.6"),
        ("niner oh nought", "900"),
        ("point five", "0.5"),
        ("minus twelve", "-12"),
        ("twelve thousand three hundred and forty five", "12345"),
        ("ninety nine thousand and five", "99005"),
        ("two thousand", "2000"),
        ("three point seventy five", "3.75"),
        ("zero", "0"),
        ("zero point zero five", "0.05"),
        ("one hundred and twenty point oh five", "120.05"),
    ],
)
def test_ways_of_saying_numbers(words: str, value: str) -> None:
    assert str(parse(words)) == value
    assert typed(reading("V"), words) == {str(Amount(Decimal(value), None))}


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("230", "230"), ("7.50", "7.50"), ("1,500", "1500"), ("−12", "-12"), ("- 12", "-12"), ("99,005", "99005"),
        ("1 2 3", "123"), ("120.05", "120.05"), (" 7.5 ", "7.5"), ("0.5", "0.5"), (".5", "0.5"), ("50.", "50"),
    ],
)  # fmt: skip
def test_typed_digits(text: str, value: str) -> None:
    assert typed(reading("V"), text) == {str(Amount(Decimal(value), None))}


@pytest.mark.parametrize("text", ["7,5", "1,50", "", "  ", "abc", "7.5.2", "12 kPa", "--5", "1e3", "½"])
def test_typed_text_that_is_no_reading(text: str) -> None:
    assert typed(reading("V"), text) == set()


def test_the_number_is_not_bounded_by_what_is_believable() -> None:
    assert typed(reading("°C"), "ninety nine thousand degrees celsius") == {str(Amount(Decimal(99000), "°C"))}


@pytest.mark.parametrize("value", ["100000", "1.2345", "-100000", "1E+2", "NaN"])
def test_what_cannot_be_said(value: str) -> None:
    with pytest.raises(QuantityError):
        say_number(Decimal(value))


@pytest.mark.parametrize("words", ["", "and", "twelve point six bar", "point", "minus"])
def test_words_that_are_no_number(words: str) -> None:
    with pytest.raises(QuantityError):
        parse(words)


def test_every_sentence_of_the_number_grammar_has_the_value_of_its_words() -> None:
    seen = 0
    for rule in ("number", "digits"):
        for words, tags in compile_grammar(grammar("numbers"), [rule]).sentences(4000, 5):
            assert str(fold(tags)) == str(parse(" ".join(words))), words
            seen += 1
    assert seen == 8000


def test_every_command_has_a_phrase_and_every_phrase_a_command() -> None:
    names = {tags[0] for _, tags in compile_grammar(grammar("commands")).sentences(100) if len(tags) == 1}
    assert names == set(CommandName)


def test_no_phrase_stands_for_two_things() -> None:
    phrases: list[str] = []
    for name in ("commands", "reasons"):
        phrases += [" ".join(words) for words, _ in compile_grammar(grammar(name)).sentences(200)]
    assert len(phrases) == len(set(phrases)) > 15


@pytest.mark.parametrize(
    ("offer", "tags", "expected"),
    [
        (Offer("x", Command, Risk.COMMAND), ("say again",), Command(CommandName.SAY_AGAIN)),
        (Offer("all good", Answer, Risk.READING, "good"), (), Answer("good")),
        (Offer("<reasons.reason>", Reason, Risk.READING), ("no_part",), Reason("no_part")),
        (Offer("x", Amount, Risk.READING), ("7", ".", "5", "mm"), Amount(Decimal("7.5"), "mm")),
    ],
)
def test_tags_become_meanings(offer: Offer, tags: tuple[str, ...], expected: Meaning) -> None:
    assert meaning(offer, tags) == expected


@pytest.mark.parametrize(
    ("offer", "tags"),
    [
        (Offer("x", Command, Risk.COMMAND), ("dance",)),
        (Offer("x", Answer, Risk.READING), ()),
        (Offer("x", Amount, Risk.READING), ("7", "mm", "kPa")),
        (Offer("x", Amount, Risk.READING), ("7", "parsec")),
    ],
)
def test_tags_that_fit_no_meaning(offer: Offer, tags: tuple[str, ...]) -> None:
    with pytest.raises(GrammarError):
        meaning(offer, tags)


def test_the_same_number_in_other_words_is_the_same_sense() -> None:
    one, other = ("two", "thirty", "volts"), ("two", "three", "zero", "volts")
    assert sense(None, one, ("2", "30", "V")) == sense(None, other, ("2", "3", "0", "V"))
    assert sense(None, ("two", "thirty"), ("2", "30")) != sense(None, ("two", "thirteen"), ("2", "13"))
    assert sense(None, ("yes",), ()) != sense(None, ("no",), ())
