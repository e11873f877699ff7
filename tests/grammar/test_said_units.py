"""Units: each row that has a name can be heard, told, written and understood, and what is missing is named."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings

from assistant.edge.checking.pronouncing import shipped
from assistant.edge.files.grammars import spoken_of
from assistant.grammar.expectation import Expectation
from assistant.grammar.forms import forms_table
from assistant.grammar.graph import compile_expectation, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.grammar.numbers import say_digits, say_number
from assistant.grammar.tagged import meaning
from assistant.grammar.units import (
    DEGREES,
    RULES,
    SHARED_RULES,
    SHORT_RULES,
    UNIT_RULES,
    reading_offer,
    rule_of,
    which_offers,
    words_of_units,
)
from assistant.meanings import Amount, Answer
from assistant.procedure.likeness import missing
from assistant.quantities import AMBIGUOUS, KNOWN_UNITS, UNITS
from tests.grammar.readings import LOADED, grammar, reading, sayable, source, typed

SYMBOLS = sorted(UNIT_RULES)
WORDS = spoken_of("en").units


# --- every row has what it needs: what follows names the place that lacks it -----------------------------------------


def test_every_unit_has_its_rule() -> None:
    """A row with a name, in `quantities.py`, is heard by the rule of that name."""
    public = grammar("units").public
    lacking = [
        f"grammars/en/units.jsgf has no `public <{rule}> = ... {{{symbol}}};` for the unit {symbol!r}"
        for symbol, rule in RULES.items()
        if rule not in public
    ]
    assert lacking == []
    assert set(public) == set(RULES.values())


@pytest.mark.parametrize("symbol", [*UNIT_RULES, *SHARED_RULES])
def test_the_tag_of_a_rule_is_the_symbol(symbol: str) -> None:
    found = list(compile_grammar(grammar("units"), [RULES[symbol]]).sentences(50))
    assert found
    assert {tags for _, tags in found} == {(symbol,)}


def test_no_two_rows_share_a_rule() -> None:
    assert len(set(RULES.values())) == len(RULES)


def test_every_word_for_several_units_has_its_short_answers() -> None:
    public = grammar("which").public
    lacking = [
        f"grammars/en/which.jsgf has no `public <{rule}> = ... {{{symbol}}};` for the unit {symbol!r}"
        for symbol, rule in SHORT_RULES.items()
        if rule not in public
    ]
    assert lacking == []
    assert set(public) == set(SHORT_RULES.values())


def test_the_sound_of_every_unit_is_known() -> None:
    table, lacking = shipped("en"), set[str]()
    for rule in grammar("units").public:
        for words, _ in compile_grammar(grammar("units"), (rule,)).sentences(50):
            if word := missing(" ".join(words), table):
                lacking.add(f"grammars/en/pronunciations.yaml has no {word!r}: run `enginebay words --pronounce`")
    assert lacking == set()


# --- what is derived -------------------------------------------------------------------------------------------------


def test_a_unit_is_told_as_its_rule_says_it() -> None:
    rules = "public <millimetre> = (millimetre | millimetres | mil) {mm};\npublic <kelvin> = kelvin {K};\n"
    words = words_of_units(parse_grammar(f"#JSGF V1.0;\ngrammar units;\n{rules}", "units.jsgf"))
    assert words == {"": ("", ""), "mm": ("millimetre", "millimetres"), "K": ("kelvin", "kelvin")}


def test_a_row_of_the_spoken_forms_counts_before_the_rule() -> None:
    assert words_of_units(grammar("units"))["psi"] == ("psi", "pounds per square inch")
    assert WORDS["psi"] == ("P S I", "P S I")
    assert WORDS["kPa"] == ("kilopascal", "kilopascals")


def test_every_unit_has_words() -> None:
    assert set(UNITS) <= set(WORDS)


def test_a_unit_is_written_as_its_symbol_unless_a_row_says_how() -> None:
    units = {"kW": ("kilowatt", "kilowatts"), "bar": ("bar", "bar"), "mm": ("millimetre", "millimetres")}
    forms = forms_table({"symbols": {"millimetre": ["mm", "mil"]}}, units=units)
    assert forms.symbols == {("millimetre",): ("mm", "mil"), ("kilowatt",): ("kW",), ("kilowatts",): ("kW",)}


def test_a_reading_hears_its_unit_likelier_than_another() -> None:
    assert (
        reading_offer("kPa")
        == "<numbers.number> [/8/ <units.kilopascal> | /1/ <units.bar> | /1/ <units.pound_per_square_inch>]"
    )
    assert reading_offer("mL") == "<numbers.number> [/8/ <units.millilitre>]"
    assert reading_offer("") == reading_offer("dB(A)") == "<numbers.number>"
    assert rule_of("gallons/h") == "<units.gallons_per_hour>"


# --- what is heard, typed and asked ----------------------------------------------------------------------------------


def test_what_an_ambiguous_unit_may_mean_can_be_answered() -> None:
    """In full, as it is spoken, and in short; nothing else."""
    for word in SHARED_RULES:
        pairs = which_offers(word)
        answers = compile_expectation(Expectation(tuple(heard for _, heard in pairs)), source, LOADED)
        assert {str(Answer(symbol)) for symbol in AMBIGUOUS[word]} == {
            str(meaning(pairs[0][1], tags)) for _, tags in answers.sentences(99)
        }
        for spoken, _ in pairs:
            words, tags = next(compile_expectation(Expectation((spoken,)), source, LOADED).sentences(1))
            for said in (" ".join(words), words[0] if words[0] != "U" else "U S"):
                assert typed(answers, said) == {str(Answer(tags[0]))}


def heard_in(symbol: str) -> set[str]:
    """The units, and words for several, that a reading hears which is asked for in this one."""
    return {symbol, *UNITS[symbol].also} - {DEGREES}


def test_a_reading_hears_units_of_its_own_kind_only() -> None:
    for symbol, unit in KNOWN_UNITS.items():
        assert symbol not in unit.also
        assert len(unit.also) == len(set(unit.also)) <= 6
        for other in set(unit.also) - {DEGREES}:
            assert other in RULES, f"quantities.py: {symbol!r} also hears {other!r}, which has no name"
            for meant in AMBIGUOUS.get(other, (other,)):
                assert KNOWN_UNITS[meant].kind is unit.kind, (symbol, other)


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


@pytest.mark.parametrize("symbol", SYMBOLS)
def test_every_unit_can_be_typed_as_it_is_written(symbol: str) -> None:
    assert typed(reading(symbol), f"7.5 {symbol}") == {str(Amount(Decimal("7.5"), symbol))}


@pytest.mark.parametrize("symbol", SYMBOLS)
@settings(max_examples=2, deadline=None)
@given(value=sayable)
def test_a_quantity_that_is_said_is_understood(symbol: str, value: Decimal) -> None:
    is_understood_when_said(symbol, value)


@pytest.mark.long
@pytest.mark.parametrize("symbol", SYMBOLS)
@settings(max_examples=20, deadline=None)
@given(value=sayable)
def test_many_quantities_that_are_said_are_understood(symbol: str, value: Decimal) -> None:
    is_understood_when_said(symbol, value)


def is_understood_when_said(symbol: str, value: Decimal) -> None:
    """`parse(say(q)) == q`, in its own reading and in each that hears its unit, in full and digit by digit."""
    value = Decimal(f"{value:f}")
    wanted = {str(Amount(value, symbol))}
    for asked in (unit for unit in UNITS if symbol in heard_in(unit)):
        for unit in WORDS[symbol]:
            assert typed(reading(asked), f"{say_number(value)} {unit}") == wanted
            assert typed(reading(asked, True), f"{say_digits(value)} {unit}") == wanted


@pytest.mark.parametrize("word", SHARED_RULES)
def test_a_word_for_several_units_is_heard_as_such(word: str) -> None:
    said = {"gallons/h": "gallons an hour"}.get(word, word)
    heard = [symbol for symbol in UNITS if word in heard_in(symbol)]
    assert heard
    for symbol in heard:
        assert typed(reading(symbol), f"five {said}") == {str(Amount(Decimal(5), word))}


@pytest.mark.parametrize(("symbol", "scale"), [("°C", "celsius"), ("°F", "fahrenheit")])
def test_degrees_alone_are_those_asked_for(symbol: str, scale: str) -> None:
    assert typed(reading(symbol), "ninety degrees") == {str(Amount(Decimal(90), None))}
    assert typed(reading(symbol), f"ninety degrees {scale}") == {str(Amount(Decimal(90), symbol))}
    assert typed(reading("°"), "ninety degrees") == {str(Amount(Decimal(90), "°"))}


def test_a_count_has_no_unit() -> None:
    assert typed(reading(""), "twelve") == {str(Amount(Decimal(12), None))}
