"""Units as they are said: the rule of each, what a reading may be answered with, and the words that a rule gives.

One naming scheme: a unit whose row in `quantities.py` has a name is heard by the public rule of that name in the
language's `units.jsgf`, whose tag is the unit's symbol. So is a word for several units; a short answer to which of them
is meant is the rule of the unit's name in `which.jsgf`. Knows no words: those are the language's.
"""

from __future__ import annotations

from dataclasses import replace

from assistant.grammar.expectation import Offer, Risk
from assistant.grammar.graph import compile_grammar
from assistant.grammar.jsgf import Grammar
from assistant.meanings import Answer
from assistant.quantities import AMBIGUOUS, SHARED_NAMES, UNITS, unit_named

UNIT_RULES: dict[str, str] = {symbol: unit.name for symbol, unit in UNITS.items() if symbol}
"""Symbol -> its rule in `units.jsgf`; a count has none."""
SHARED_RULES: dict[str, str] = {shared.written[-1]: shared.name for shared in SHARED_NAMES if shared.name}
"""Word for several units -> its rule in `units.jsgf`. Each is a key of `AMBIGUOUS`."""
DEGREES = "degrees"
"""The rule without a tag: the scale that was asked for."""
RULES: dict[str, str] = UNIT_RULES | SHARED_RULES | {DEGREES: DEGREES}
"""Whatever may stand after a number -> its rule in `units.jsgf`."""
SHORT_RULES: dict[str, str] = {
    symbol: UNIT_RULES[symbol] for shared in SHARED_NAMES if shared.name for symbol in shared.units
}
"""Symbol -> its rule in `which.jsgf`, for the units that a word may mean."""

_OWN, _OTHER = 8, 1  # how much likelier the unit that was asked for is than each other one


def rule_of(symbol: str) -> str:
    """The rule by which a unit, or a word for several, is heard: `<units.kilopascal>`."""
    return f"<units.{RULES[symbol]}>"


def reading_offer(symbol: str) -> str:
    """The rule of a reading as people say it, its unit optional, or another of the kind.

    Errors: QuantityError for an unknown unit.
    """
    return _amount("number", symbol)


def digits_offer(symbol: str) -> str:
    """The rule of a reading digit by digit, its unit optional. Errors: QuantityError for an unknown unit."""
    return _amount("digits", symbol)


def _amount(rule: str, symbol: str) -> str:
    """A number, then perhaps a unit: that which is asked for, or one of its kind that people say instead."""
    unit = unit_named(symbol, "offer")
    if symbol not in UNIT_RULES:
        return f"<numbers.{rule}>"
    others = "".join(f" | /{_OTHER}/ {rule_of(other)}" for other in unit.also)
    return f"<numbers.{rule}> [/{_OWN}/ {rule_of(symbol)}{others}]"


def which_offers(ambiguous: str) -> tuple[tuple[Offer, Offer], ...]:
    """For each unit that this word may name, two offers.

    The first is the unit in full, which is spoken; the second is what is heard, which takes a short answer too.
    """
    pairs = []
    for symbol in AMBIGUOUS[ambiguous]:
        offer = Offer(rule_of(symbol), Answer, Risk.READING)
        pairs.append((offer, replace(offer, rule=f"{offer.rule} | <which.{SHORT_RULES[symbol]}>")))
    return tuple(pairs)


def words_of_units(grammar: Grammar) -> dict[str, tuple[str, str]]:
    """How units are said by the rules of a `units.jsgf`: (after the number 1, after any other), for each symbol.

    They are the first two phrases of its rule, or its only one. A unit without a rule is left out.
    Errors: GrammarError when a rule cannot be compiled.
    """
    words = {"": ("", "")}  # a count
    for symbol, rule in UNIT_RULES.items():
        if rule not in grammar.public:
            continue
        phrases = [" ".join(said) for said, _ in compile_grammar(grammar, (rule,)).sentences(2)]
        words[symbol] = (phrases[0], phrases[-1])
    return words
