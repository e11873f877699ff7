"""Readings as a technician would type them, in the shipped English."""

from __future__ import annotations

from decimal import Decimal
from functools import cache

from hypothesis import strategies as st

from assistant.edge.files.grammars import forms_of, language_source
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import WrittenGraph, parse_written
from assistant.grammar.graph import WordGraph, compile_expectation
from assistant.grammar.jsgf import Grammar, parse_grammar
from assistant.grammar.tagged import meaning
from assistant.grammar.units import digits_offer, reading_offer
from assistant.meanings import Amount

source = language_source("en")
LOADED: dict[str, Grammar] = {}


@cache
def grammar(name: str) -> Grammar:
    return parse_grammar(source(name) or "", f"{name}.jsgf", source)


@cache
def reading(symbol: str, digits: bool = False) -> WordGraph:
    """What may be said to a reading in this unit."""
    rule = digits_offer(symbol) if digits else reading_offer(symbol)
    return compile_expectation(Expectation((Offer(rule, Amount, Risk.READING),)), source, LOADED)


def typed(graph: WordGraph, text: str) -> set[str]:
    """What a typed text means, as text, so that 7.50 differs from 7.5."""
    assert graph.expectation is not None
    offers = graph.expectation.offers
    sayings = [parsed.saying for parsed in parse_written(_written(graph), text)]
    return {str(meaning(offers[saying.offer or 0], saying.tags)) for saying in sayings}


@cache
def _written(graph: WordGraph) -> WrittenGraph:
    return WrittenGraph(graph, forms_of("en"))


sayable = st.builds(
    lambda number, places: Decimal(number).scaleb(-places),
    st.integers(-99_999_999, 99_999_999),
    st.integers(0, 3),
).filter(lambda value: abs(value) < 100_000 and not (value == 0 and value.is_signed()))
