"""The decoding on a model made of tables: beams, sums over written forms, bias, bounds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import NO_FORMS, WrittenGraph
from assistant.grammar.graph import WordGraph, compile_expectation, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.hearing.decoding import Bias, Hearing, PieceGraph, decode
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.hearing.pieces import Pieces
from assistant.meanings import Answer

Float32 = NDArray[np.float32]
LETTERS = "abcdefghijklmnopqrstuvwxyz▁.,!?ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-"
PIECES = Pieces([b"<unk>", b"<s>", b"</s>", *(letter.encode() for letter in LETTERS)])


class Table:
    """A model that wants certain texts: each with its probability, shared evenly where several go on alike."""

    def __init__(self, texts: Mapping[str, float], seconds: float = 1.0, loops: bool = False) -> None:
        self.seconds = seconds
        self.steps = 0
        self.widest = 0
        self._texts = {
            (*(PIECES.split("▁" + text.replace(" ", "▁")) or ()), PIECES.end): chance for text, chance in texts.items()
        }
        self._rows: list[tuple[int, ...]] = []
        self._loops = loops

    def row(self, prefix: tuple[int, ...]) -> Float32:
        chances = np.full(len(PIECES), 1e-6)
        if self._loops:
            chances[PIECES.split("a") or ()] += 1
        else:
            for text, chance in self._texts.items():
                if text[: len(prefix)] == prefix and len(text) > len(prefix):
                    chances[text[len(prefix)]] += chance
        return np.log(chances / chances.sum()).astype(np.float32)

    def step(self, parents: Sequence[int], pieces: Sequence[int]) -> Float32:
        self.steps += 1
        self.widest = max(self.widest, len(pieces))
        if self.steps == 1:
            assert (list(parents), list(pieces)) == ([0], [PIECES.start])
            self._rows = [()]
        else:
            self._rows = [(*self._rows[parent], piece) for parent, piece in zip(parents, pieces, strict=True)]
        return np.stack([self.row(prefix) for prefix in self._rows])


class Quiet:
    """The bias as a table, or none at all; counts what it was asked."""

    def __init__(self, texts: Mapping[str, float] | None = None) -> None:
        self._table = Table(texts) if texts else None
        self.asked: list[tuple[int, ...]] = []

    def after(self, prefixes: Sequence[tuple[int, ...]]) -> Float32:
        self.asked.extend(prefixes)
        if self._table is None:
            return np.zeros((len(prefixes), len(PIECES)), dtype=np.float32)
        return np.stack([self._table.row(prefix) for prefix in prefixes])


def grammar(rule: str) -> WordGraph:
    return compile_grammar(parse_grammar(f"#JSGF V1.0;\ngrammar g;\npublic <a> = {rule};\n", "g.jsgf"))


def hear(rule: str | WordGraph, model: Table, bias: Bias | None = None, beam: int = 8) -> Hearing:
    graph = PieceGraph(WrittenGraph(grammar(rule) if isinstance(rule, str) else rule, NO_FORMS), PIECES)
    return decode(model, graph, bias or Bias(Quiet(), PIECES.end), beam)


def words(hearing: Hearing) -> list[str]:
    return [" ".join(path.saying.words) for path in hearing.paths]


def test_the_likeliest_sentence_wins_and_nothing_outside_the_grammar() -> None:
    hearing = hear("open | close", Table({"Open.": 0.3, "Close.": 0.2, "Rose.": 0.5}))
    assert words(hearing)[:2] == ["open", "close"]
    assert hearing.free == "Rose."


def test_written_forms_of_one_meaning_are_summed() -> None:
    # Each way of writing `five` is less likely than `nine`, all together are more likely.
    model = Table({"Five.": 0.2, "five": 0.2, "5": 0.2, "5.": 0.1, "Nine.": 0.3})
    assert words(hear("five | nine", model))[0] == "five"


def test_the_bias_is_taken_away() -> None:
    model = Table({"Yes.": 0.55, "Valve.": 0.45})
    assert words(hear("yes | valve", model))[0] == "yes"
    biased = Bias(Quiet({"Yes.": 0.9, "Valve.": 0.01}), PIECES.end)
    assert words(hear("yes | valve", Table({"Yes.": 0.55, "Valve.": 0.45}), biased))[0] == "valve"


def test_the_grammar_s_weights_count() -> None:
    even = {"Open.": 0.5, "Close.": 0.5}
    assert words(hear("/9/ open | /1/ close", Table(even)))[0] == "open"
    assert words(hear("/1/ open | /9/ close", Table(even)))[0] == "close"


def test_a_text_of_several_sentences_goes_to_the_likelier() -> None:
    hearing = hear("/1/ two thirty {a} | /5/ two hundred and thirty {b}", Table({"230.": 1.0}))
    assert [path.saying.tags for path in hearing.paths[:2]] == [("b",), ("a",)]
    assert hearing.paths[0].written == "230."


def test_the_offer_and_its_tags_are_told() -> None:
    offers = (Offer("all good", Answer, Risk.READING, "good"), Offer("seal is off", Answer, Risk.READING, "off"))
    graph = compile_expectation(Expectation(offers), lambda name: None)
    hearing = hear(graph, Table({"Seal is off.": 1.0}))
    assert hearing.paths[0].saying.offer == 1


def test_whether_more_may_follow() -> None:
    assert hear("twelve [point six]", Table({"Twelve.": 1.0})).paths[0].can_grow
    assert not hear("twelve [point six]", Table({"12.6": 1.0})).paths[0].can_grow


def test_the_beam_bounds_the_rows() -> None:
    model = Table({f"{a}{b}": 1 / 100 for a in "abcdefghij" for b in "abcdefghij"})
    rule = " | ".join(f"{a}{b}" for a in "abcdefghij" for b in "abcdefghij")
    hear(rule, model, beam=3)
    assert model.widest <= 4  # and one for the free writing


@pytest.mark.parametrize("seconds", [0.5, 2.0])
def test_free_writing_that_repeats_itself_is_cut(seconds: float) -> None:
    model = Table({}, seconds, loops=True)
    hearing = hear("aaaa", model)
    assert hearing.evidence.free_cut
    assert hearing.evidence.free_pieces <= 8
    assert model.steps <= 10 * seconds + 24 + 8 * seconds + 8


def test_a_rule_without_end_is_bounded() -> None:
    model = Table({"go " * 200: 1.0}, seconds=1.0)
    hearing = hear("go+", model)
    assert model.steps <= 10 + 24 + 8 + 8
    assert hearing.paths


def test_there_is_always_a_best_path() -> None:
    # The model wants something else entirely, and the sentence is longer than what the time allows to write.
    hearing = hear("the quick brown fox jumps over the lazy dog and then it sleeps {t}", Table({"Zzz.": 1.0}, 0.5))
    assert hearing.paths[0].saying.tags == ("t",)
    assert judge(hearing, Risk.COMMAND).verdict is not HearingVerdict.ACCEPT


def test_the_bias_is_asked_once_for_each_prefix() -> None:
    quiet = Quiet()
    bias = Bias(quiet, PIECES.end)
    graph = grammar("open | close")
    pieces = PieceGraph(WrittenGraph(graph, NO_FORMS), PIECES)
    decode(Table({"Open.": 1.0}), pieces, bias)
    asked = len(quiet.asked)
    assert asked == len(set(quiet.asked)) > 0
    decode(Table({"Open.": 1.0}), pieces, bias)
    assert len(quiet.asked) == asked


def test_warming_goes_ahead_and_ends() -> None:
    quiet = Quiet()
    bias = Bias(quiet, PIECES.end)
    pieces = PieceGraph(WrittenGraph(grammar("open | close"), NO_FORMS), PIECES)
    done = 0
    for _ in range(100):
        new = bias.warm(pieces, 8)
        done += new
        if not new:
            break
    assert new == 0
    assert done == len(quiet.asked) > 0
    decode(Table({"Open.": 0.6, "Close.": 0.4}), pieces, bias)
    assert len(set(quiet.asked)) == len(quiet.asked)


def test_pieces_are_merged_lowest_number_first() -> None:
    pieces = Pieces([b"<unk>", b"<s>", b"</s>", b"a", b"b", b"c", b"bc", b"ab"])
    assert [pieces.texts[n] for n in pieces.split("abc") or ()] == [b"a", b"bc"]
    assert pieces.split("ax") is None
    assert pieces.join((1, 7, 5, 2)) == "abc"
