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
from assistant.grammar.tagged import (
    ALSO_SAID,
    AMBIGUOUS_RULES,
    UNIT_RULES,
    digits_offer,
    meaning,
    reading_offer,
    sense,
    which_offers,
)
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Reason
from assistant.quantities import AMBIGUOUS, KNOWN_UNITS, UNITS

LANGUAGE = Path(__file__).parents[2] / "grammars" / "en"


def source(name: str) -> str | None:
    path = LANGUAGE / f"{name}.jsgf"
    return path.read_text(encoding="utf-8") if path.is_file() else None


@cache
def forms() -> Forms:
    return forms_table(yaml.safe_load((LANGUAGE / "forms.yaml").read_text(encoding="utf-8")))


@cache
def forms_of_units() -> dict[str, list[str]]:
    """How each unit is said, after 1 and after other numbers."""
    units: dict[str, list[str]] = yaml.safe_load((LANGUAGE / "spoken.yaml").read_text(encoding="utf-8"))["units"]
    return units


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
    grammar = parse_grammar(source("numbers") or "", "numbers.jsgf")
    seen = 0
    for rule in ("number", "digits"):
        for words, tags in compile_grammar(grammar, [rule]).sentences(4000, 5):
            assert str(fold(tags)) == str(parse(" ".join(words))), words
            seen += 1
    assert seen == 8000


def test_every_unit_has_its_rule_and_its_symbol_as_tag() -> None:
    grammar = parse_grammar(source("units") or "", "units.jsgf")
    rules = {**UNIT_RULES, **AMBIGUOUS_RULES}
    assert set(grammar.public) == {*rules.values(), "degrees"}
    assert set(UNIT_RULES) == set(UNITS) - {""}
    assert set(AMBIGUOUS_RULES) <= set(AMBIGUOUS)
    for symbol, rule in rules.items():
        found = list(compile_grammar(grammar, [rule]).sentences(50))
        assert found
        assert {tags for _, tags in found} == {(symbol,)}


def test_what_an_ambiguous_unit_may_mean_can_be_answered() -> None:
    """In full, as it is told, and in short; nothing else."""
    short = parse_grammar(source("which") or "", "which.jsgf")
    choices = {symbol for name in AMBIGUOUS_RULES for symbol in AMBIGUOUS[name]}
    assert set(short.public) == {UNIT_RULES[symbol] for symbol in choices}
    for name in AMBIGUOUS_RULES:
        pairs = which_offers(name)
        answers = compile_expectation(Expectation(tuple(heard for _, heard in pairs)), source)
        assert {str(Answer(symbol)) for symbol in AMBIGUOUS[name]} == {
            str(meaning(pairs[0][1], tags)) for _, tags in answers.sentences(99)
        }
        for told, _ in pairs:
            words, tags = next(compile_expectation(Expectation((told,)), source).sentences(1))
            for said in (" ".join(words), words[0] if words[0] != "U" else "U S"):
                assert typed(answers, said) == {str(Answer(tags[0]))}


def heard_in(symbol: str) -> set[str]:
    """The units, and names of several, that a reading hears which is asked for in this one."""
    return {symbol, *ALSO_SAID.get(symbol, ())} - {"degrees"}


def test_a_reading_hears_units_of_its_own_kind_only() -> None:
    for symbol, others in ALSO_SAID.items():
        assert symbol not in others
        assert len(others) == len(set(others)) <= 6
        for other in heard_in(symbol):
            for unit in AMBIGUOUS.get(other, (other,)):
                assert KNOWN_UNITS[unit].kind is KNOWN_UNITS[symbol].kind, (symbol, other)


@pytest.mark.parametrize(
    ("one", "other"), [("mΩ", "MΩ"), ("mm", "m"), ("mV", "V"), ("mA", "A"), ("mL", "L"), ("kPa", "Pa")]
)
def test_units_that_sound_alike_never_meet(one: str, other: str) -> None:
    """A milliohm for a megohm is wrong by nine places: no reading hears both, spoken or typed."""
    assert not any({one, other} <= heard_in(symbol) for symbol in UNITS)


def test_a_capital_makes_a_megohm() -> None:
    """`5 MΩ` typed where milliohms were asked for was once taken as 5 mΩ, for capitals do not count."""
    assert typed(reading("mΩ"), "5 MΩ") == typed(reading("mΩ"), "5 Mohm") == set()
    assert typed(reading("MΩ"), "5 mΩ") == typed(reading("MΩ"), "5 mohm") == set()
    assert typed(reading("MΩ"), "5 MΩ") == typed(reading("MΩ"), "5 Mohm") == {str(Amount(Decimal(5), "MΩ"))}


@pytest.mark.parametrize("symbol", [symbol for symbol in UNITS if symbol])
def test_every_unit_can_be_typed_as_it_is_written(symbol: str) -> None:
    assert typed(reading(symbol), f"7.5 {symbol}") == {str(Amount(Decimal("7.5"), symbol))}


@pytest.mark.parametrize("symbol", [symbol for symbol in UNITS if symbol])
@settings(max_examples=4, deadline=None)
@given(value=sayable)
def test_a_quantity_that_is_said_is_understood(symbol: str, value: Decimal) -> None:
    """`parse(say(q)) == q`, in its own reading and in each that hears its unit, in full and digit by digit."""
    value = Decimal(f"{value:f}")
    wanted = {str(Amount(value, symbol))}
    for asked in (unit for unit in UNITS if symbol in heard_in(unit)):
        for unit in forms_of_units()[symbol]:
            assert typed(reading(asked), f"{say_number(value)} {unit}") == wanted
            assert typed(reading(asked, True), f"{say_digits(value)} {unit}") == wanted


@pytest.mark.parametrize("name", AMBIGUOUS_RULES)
def test_a_unit_that_may_be_several_is_heard_as_such(name: str) -> None:
    words = {"gallons/h": "gallons an hour"}.get(name, name)
    heard = [symbol for symbol in UNITS if name in heard_in(symbol)]
    assert heard
    for symbol in heard:
        assert typed(reading(symbol), f"five {words}") == {str(Amount(Decimal(5), name))}


@pytest.mark.parametrize(("symbol", "scale"), [("°C", "celsius"), ("°F", "fahrenheit")])
def test_degrees_alone_are_those_asked_for(symbol: str, scale: str) -> None:
    assert typed(reading(symbol), "ninety degrees") == {str(Amount(Decimal(90), None))}
    assert typed(reading(symbol), f"ninety degrees {scale}") == {str(Amount(Decimal(90), symbol))}
    assert typed(reading("°"), "ninety degrees") == {str(Amount(Decimal(90), "°"))}


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
