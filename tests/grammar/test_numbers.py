"""Numbers: what is said comes back, with its resolution, through words, tags, the graph and typed text."""

from __future__ import annotations

from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import GrammarError, QuantityError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import Forms, forms_table, parse_text
from assistant.grammar.graph import WordGraph, compile_expectation, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.grammar.numbers import fold, parse, say_digits, say_number
from assistant.grammar.tagged import UNIT_RULES, digits_offer, meaning, reading_offer, sense
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Reason
from assistant.quantities import UNITS

LANGUAGE = Path(__file__).parents[2] / "grammars" / "en"


def source(name: str) -> str | None:
    path = LANGUAGE / f"{name}.jsgf"
    return path.read_text(encoding="utf-8") if path.is_file() else None


@cache
def forms() -> Forms:
    return forms_table(yaml.safe_load((LANGUAGE / "forms.yaml").read_text(encoding="utf-8")))


@cache
def reading(symbol: str, digits: bool = False) -> WordGraph:
    rule = digits_offer(symbol) if digits else reading_offer(symbol)
    return compile_expectation(Expectation((Offer(rule, Amount, Risk.READING),)), source)


def typed(graph: WordGraph, text: str) -> set[str]:
    """What a typed text means, as text, so that 7.50 differs from 7.5."""
    assert graph.expectation is not None
    offers = graph.expectation.offers
    return {str(meaning(offers[p.saying.offer or 0], p.saying.tags)) for p in parse_text(graph, text, forms())}


sayable = st.builds(
    lambda number, places: Decimal(number).scaleb(-places),
    st.integers(-99_999_999, 99_999_999),
    st.integers(0, 3),
).filter(lambda value: abs(value) < 100_000 and not (value == 0 and value.is_signed()))


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
    assert typed(reading("°C"), "ninety nine thousand degrees") == {str(Amount(Decimal(99000), "°C"))}


@pytest.mark.parametrize("value", ["100000", "1.2345", "-100000", "1E+2", "NaN"])
def test_what_cannot_be_said(value: str) -> None:
    with pytest.raises(QuantityError):
        say_number(Decimal(value))


@pytest.mark.parametrize("words", ["", "and", "twelve point six bar", "point", "minus"])
def test_words_that_are_no_number(words: str) -> None:
    with pytest.raises(QuantityError):
        parse(words)


def test_every_sentence_of_the_number_grammar_has_the_value_of_its_words() -> None:
    grammar = parse_grammar(source("numbers") or "", "numbers.jsgf")
    seen = 0
    for rule in ("number", "digits"):
        for words, tags in compile_grammar(grammar, [rule]).sentences(4000, 5):
            assert str(fold(tags)) == str(parse(" ".join(words))), words
            seen += 1
    assert seen == 8000


def test_every_unit_has_its_rule_and_its_symbol_as_tag() -> None:
    grammar = parse_grammar(source("units") or "", "units.jsgf")
    assert set(grammar.public) == set(UNIT_RULES.values())
    assert set(UNIT_RULES) == set(UNITS) - {""}
    for symbol, rule in UNIT_RULES.items():
        found = list(compile_grammar(grammar, [rule]).sentences(50))
        assert found
        assert {tags for _, tags in found} == {(symbol,)}


@pytest.mark.parametrize("symbol", [symbol for symbol in UNITS if symbol])
def test_every_unit_can_be_typed_as_it_is_written(symbol: str) -> None:
    assert typed(reading(symbol), f"7.5 {symbol}") == {str(Amount(Decimal("7.5"), symbol))}


def test_a_count_has_no_unit() -> None:
    assert reading_offer("") == "<numbers.number>"
    assert typed(reading(""), "twelve") == {str(Amount(Decimal(12), None))}


def test_every_command_has_a_phrase_and_every_phrase_a_command() -> None:
    grammar = parse_grammar(source("commands") or "", "commands.jsgf")
    names = {tags[0] for _, tags in compile_grammar(grammar).sentences(100) if len(tags) == 1}
    assert names == set(CommandName)


def test_no_phrase_stands_for_two_things() -> None:
    phrases: list[str] = []
    for name in ("commands", "reasons"):
        grammar = parse_grammar(source(name) or "", f"{name}.jsgf")
        phrases += [" ".join(words) for words, _ in compile_grammar(grammar).sentences(200)]
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
