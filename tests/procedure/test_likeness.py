"""What sounds alike comes out near, what does not comes out far, and every sign of the table is a sound."""

from __future__ import annotations

import re
from itertools import combinations, product

import pytest

from assistant.edge.checking.pronouncing import shipped
from assistant.edge.files.language import english
from assistant.errors import GrammarError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.units import UNIT_RULES, rule_of
from assistant.meanings import Answer
from assistant.procedure.checks.sound import NEAR, TOO_NEAR
from assistant.procedure.likeness import Pronunciations, distance, missing, pronunciations, sounds

NEW = pronunciations(
    {
        "no": "n əʊ",
        "text": "t ɛ k s t",
        "marry": "m a ɹ i",
        "buy": "b aɪ",
        "tall": "t ɔː l",
        "sound": "s aʊ n d",
        "make": "m eɪ k",
        "firm": "f ɜː m",
        "at": "a t",
    }
)
"""Words that are not shipped."""


@pytest.fixture(scope="module")
def table() -> Pronunciations:
    return {**NEW, **shipped()}


def apart(one: str, other: str, table: Pronunciations) -> float:
    return distance(sounds(one, table), sounds(other, table))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("note", "no"),
        ("wrong", "one"),
        ("fifteen", "fifty"),
        ("thirteen", "thirty"),
        ("thirteen", "fourteen"),
        ("next", "text"),
        ("carry on", "marry on"),
        ("stand by", "stand buy"),
        ("call for help", "tall for help"),
        ("found it again", "sound it again"),
        ("take a note", "make a note"),
        ("a firm", "affirm"),
    ],
)
def test_what_is_confused_is_too_near(one: str, other: str, table: Pronunciations) -> None:
    assert apart(one, other, table) == apart(other, one, table) < TOO_NEAR


def test_volts_and_hours_are_nearer_than_units_are(table: Pronunciations) -> None:
    """They were confused in noise. By sound alone they are in the nearest tenth or so, not below the limit."""
    language = english()
    units = set()
    for symbol in UNIT_RULES:
        graph = language.graph(Expectation((Offer(rule_of(symbol), Answer, Risk.READING, symbol),)))
        units |= {words[0] for words, _ in graph.sentences(20) if len(words) == 1 and words[0].endswith("s")}
    every = sorted(apart(one, other, table) for one, other in combinations(sorted(units), 2))
    assert len(every) > 200
    assert TOO_NEAR < apart("volts", "hours", table) < every[len(every) // 5]


@pytest.mark.parametrize("phrase", ["quiet and still", "clear to start", "dead at both", "master agrees"])
def test_hold_phrases_are_far_from_commands(phrase: str, table: Pronunciations) -> None:
    commands = ("stand by", "stop", "next", "carry on", "take a note", "louder please", "skip this step")
    assert min(apart(phrase, command, table) for command in commands) > NEAR + 0.05


def test_the_same_is_at_no_distance_and_nothing_is_beyond_one(table: Pronunciations) -> None:
    words = sorted(table)[::7]
    for one, other in product(words, words):
        far = apart(one, other, table)
        assert 0 <= far <= 1
        assert (far == 0) is (table[one] == table[other])


def test_a_voice_a_place_and_a_length_are_less_than_another_sound() -> None:
    signs = ("p", "b", "t", "m", "s", "a", "ə", "iː", "i")
    far = {(one, other): distance((one,), (other,)) for one, other in combinations(signs, 2)}
    assert 0 < far["iː", "i"] < 0.2
    assert max(far["p", "b"], far["p", "t"]) < min(far["p", "m"], far["t", "s"], far["p", "a"])
    assert far["a", "ə"] < far["a", "iː"]


def test_capitals_and_hyphens_are_nothing(table: Pronunciations) -> None:
    assert sounds("Stand-by", table) == sounds("stand by", table)
    assert missing("take a rest", table) == "rest"
    assert missing("take a note", table) is None


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (["next"], "no table"),
        ({"next": ""}, "'next' has no sounds"),
        ({"next": "n e7 k"}, "'next' has the sign 'e7'"),
        ({"stop": "s t ɒp"}, "'stop' has the sign 'ɒp'"),
    ],
)
def test_a_damaged_table_is_refused(data: object, said: str) -> None:
    with pytest.raises(GrammarError, match=re.escape(said)):
        pronunciations(data)
