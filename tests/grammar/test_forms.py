"""Written forms: what a speech model may write for words of any grammar, and what it may not."""

from __future__ import annotations

import pytest

from assistant.errors import GrammarError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import Saying, WrittenGraph, forms_table, parse_text
from assistant.grammar.graph import compile_expectation, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.hearing.decoding import PieceGraph
from assistant.hearing.pieces import Pieces
from assistant.meanings import Answer, Passphrase

CHARACTERS = Pieces([b"<unk>", b"<s>", b"</s>", *(bytes([n]) for n in range(256)), *(c.encode() for c in "▁°−")])
FORMS = forms_table(
    {
        "words": {"alfa": ["alpha"], "stand by": ["standby"], "litres": ["liters"]},
        "symbols": {"degrees celsius": ["°C"], "percent": ["%"], "kilopascals": ["kPa"]},
    }
)


def written(rule: str, text: str) -> list[str]:
    """The words that this written text may stand for, the likeliest first; empty when it is no form of them."""
    grammar = parse_grammar(f"#JSGF V1.0;\ngrammar test;\npublic <a> = {rule};\n", "test.jsgf")
    graph = PieceGraph(WrittenGraph(compile_grammar(grammar), FORMS), CHARACTERS)
    pieces = CHARACTERS.split("▁" + text.replace(" ", "▁"))
    assert pieces is not None
    node = graph.start
    for piece in pieces:
        if piece not in graph.at(node).pieces:
            return []
        node, _ = graph.advance(node, piece)
    ways = graph.sayings(pieces)
    assert bool(ways) == (graph.at(node).final is not None)
    return [" ".join(saying.words) for saying, _ in sorted(ways.items(), key=lambda item: -item[1][0])]


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ("say again", "Say again."),
        ("say again", "say again"),
        ("say again", "Say, again!"),
        ("say again", "Say Again?"),
        ("alfa bravo", "Alpha bravo."),
        ("stand by", "Standby."),
        ("stand by", "Stand by."),
        ("stand-by", "Stand-by."),
        ("stand-by", "stand by"),
        ("R P M", "RPM"),
        ("R P M", "R P M."),
        ("twenty five", "Twenty-five."),
        ("twenty five", "25"),
        ("twenty-five", "25."),
        ("25", "Twenty five."),
        ("25", "25"),
        ("one hundred and twenty", "120."),
        ("one hundred twenty", "One hundred 20"),
        ("two hundred", "200"),
        ("two hundred and five", "205"),
        ("nine hundred and ninety nine", "999"),
        ("one thousand", "1,000"),
        ("one thousand and five", "1005"),
        ("one hundred and twenty three thousand four hundred and fifty six", "123,456"),
        ("twelve hundred", "1200"),
        ("a hundred", "100"),
        ("twelve point six", "12.6"),
        ("twelve point six", "Twelve point six."),
        ("twelve point six", "12 point 6"),
        ("point five", "0.5"),
        ("minus twelve", "-12"),
        ("minus twelve", "Minus 12."),
        ("one two three", "123"),
        ("one two three", "1 2 3"),
        ("one two three", "1, 2, 3."),
        ("one two three", "1-2-3."),
        ("one two three", "One two three."),
        ("oh five", "05"),
        ("twelve thirty", "12:30"),
        ("twenty first", "21st"),
        ("third", "3rd."),
        ("eighty two degrees celsius", "82°C."),
        ("eighty two degrees celsius", "82 °C"),
        ("fifty percent", "50%"),
        ("three hundred kilopascals", "300kPa."),
        ("four litres", "4 liters."),
    ],
)
def test_forms_of_words(rule: str, text: str) -> None:
    assert rule in written(rule, text)


@pytest.mark.parametrize(
    ("rule", "text"),
    [
        ("say again", "Sayagain"),
        ("say again", "Say."),
        ("say again", "Say again. Say"),
        ("twenty five", "205"),
        ("twenty five", "20-5"),
        ("two hundred and five", "2005"),
        ("one hundred and twenty", "10020"),
        ("one hundred and twenty", "12"),
        ("twelve point six", "126"),
        ("twelve point six", "12.60"),
        ("one thousand and five", "1000.5"),
        ("minus twelve", "12"),
        ("twelve", "1"),
    ],
)
def test_what_is_no_form_of_the_words(rule: str, text: str) -> None:
    assert written(rule, text) == []


def test_one_text_may_stand_for_several_sentences() -> None:
    found = written("two hundred and thirty | two thirty | two three zero | two thirteen", "230")
    assert set(found) == {"two hundred and thirty", "two thirty", "two three zero"}
    assert found[0] == "two hundred and thirty"


def test_the_tags_and_the_offer_come_with_the_words() -> None:
    clear = Offer("clear to (start {s} | stop {t})", Passphrase, Risk.HOLD)
    offers = (Offer("all good", Answer, Risk.READING, "good"), clear)
    graph = compile_expectation(Expectation(offers), lambda name: None)
    assert parse_text(graph, "Clear to stop.")[0].saying == Saying(1, ("clear", "to", "stop"), ("t",))
    assert parse_text(graph, "ALL GOOD")[0].saying == Saying(0, ("all", "good"), ())
    assert parse_text(graph, "all") == ()


def test_whether_more_may_follow() -> None:
    grammar = parse_grammar("#JSGF V1.0;\ngrammar g;\npublic <a> = twelve [point six] [volts];\n", "g.jsgf")
    graph = compile_grammar(grammar)
    assert parse_text(graph, "twelve")[0].can_grow
    assert not parse_text(graph, "12.6 volts")[0].can_grow


def test_an_expectation_without_offers_is_refused() -> None:
    with pytest.raises(GrammarError, match="nothing may be said"):
        compile_expectation(Expectation(()), lambda name: None)


def test_an_offer_that_names_no_grammar_says_which() -> None:
    with pytest.raises(GrammarError, match=r"offer '<nowhere\.rule>'"):
        compile_expectation(Expectation((Offer("<nowhere.rule>", Answer, Risk.READING),)), lambda name: None)


@pytest.mark.parametrize("data", [None, [], {"word": {}}, {"words": {"a": "b"}}, {"symbols": {"a": [1]}}])
def test_a_misshapen_table_is_refused(data: object) -> None:
    with pytest.raises(GrammarError):
        forms_table(data)
