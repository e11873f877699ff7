"""A language's folder: grammars, written forms, spoken forms and wording, read once and compiled when needed."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from typing import TypeVar

from assistant.dialogue.wording import Wording, read_wording
from assistant.edge import places
from assistant.edge.files.grammars import forms_of, grammars_in, read_table, spoken_of
from assistant.edge.files.shipped_words import WORDING
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import Forms, WrittenGraph, parse_written
from assistant.grammar.graph import WordGraph, compile_expectation
from assistant.grammar.jsgf import Grammar, GrammarSource
from assistant.grammar.tagged import meaning
from assistant.meanings import Answer, FreeSpeech, Hypothesis, Meaning, Spelled

_Key = TypeVar("_Key")
_Value = TypeVar("_Value")

GRAPHS_KEPT = 16
MAX_PHRASES = 64
MAX_PHRASE_WORDS = 8  # words of a prompt that may be taken for something said


class Language:
    """What the program hears and says in one language.

    name: of a shipped folder, such as `en`, or the path of another one.
    graphs_kept: how many compiled expectations are kept; one visit asks for a few dozen, some again and again.

    Errors: EngineBayError when a file of it cannot be read, or does not hold what it must.
    """

    def __init__(self, name: str, graphs_kept: int = GRAPHS_KEPT) -> None:
        folder = places.grammars() / name
        self.forms: Forms = forms_of(name)
        self.source: GrammarSource = grammars_in(folder)
        self._grammars: dict[str, Grammar] = {}
        self.wording: Wording = read_wording(
            read_table(folder / WORDING), spoken_of(name, self._grammars), self.phrases
        )
        self._graphs_kept = graphs_kept
        self._graphs: dict[Expectation, WordGraph] = {}
        self._written: dict[WordGraph, WrittenGraph] = {}

    def phrases(self, rule: str) -> tuple[str, ...]:
        """One phrase for each thing that a rule can mean: the first that is in it. Rules of phrases, not of numbers."""
        graph = self.graph(Expectation((Offer(rule, Answer, Risk.COMMAND, "any"),)))
        found: dict[tuple[str, ...], str] = {}
        for words, tags in graph.sentences(MAX_PHRASES):
            found.setdefault(tags, " ".join(words))
        return tuple(found.values())

    def graph(self, expectation: Expectation) -> WordGraph:
        """What may be said now, compiled; the same expectation gives the same graph again."""

        def compiled() -> WordGraph:
            spoken = Expectation(tuple(offer for offer in expectation.offers if offer.meaning is not FreeSpeech))
            return compile_expectation(spoken, self.source, self._grammars)

        return _kept(self._graphs, expectation, compiled, self._graphs_kept)

    def answer(self, expectation: Expectation, text: str) -> tuple[Hypothesis, ...]:
        """What a typed line may mean where this is expected: something that may be said; else the number of a part,
        where one is to be spelled; else free speech, where that is wanted."""
        hypotheses = self.typed(self.graph(expectation), text)
        if hypotheses:
            return hypotheses
        wanted = {offer.meaning for offer in expectation.offers}
        if Spelled in wanted and (number := part_number(text)):
            return (Hypothesis(Spelled(number), text.strip(), 1.0),)
        return (Hypothesis(FreeSpeech(), text.strip(), 1.0),) if FreeSpeech in wanted else ()

    def typed(self, graph: WordGraph, text: str) -> tuple[Hypothesis, ...]:
        """What a typed line may mean, distinct meanings only; empty when it is nothing that may be said now."""
        found: dict[object, Hypothesis] = {}
        written = _kept(self._written, graph, lambda: WrittenGraph(graph, self.forms), self._graphs_kept)
        for parsed in parse_written(written, text):
            saying = parsed.saying
            if graph.expectation is None or saying.offer is None:
                continue
            means = meaning(graph.expectation.offers[saying.offer], saying.tags)
            found.setdefault(means, Hypothesis(means, " ".join(saying.words), 1.0))
        return tuple(found.values())

    def meant_in(self, text: str, expectation: Expectation) -> frozenset[Meaning]:
        """What words of a text, one after the other, mean where this is expected: what is heard when it is spoken."""
        graph = self.graph(expectation)
        words = "".join(c if c.isalnum() or c == "'" else " " for c in text.lower()).split()
        known = {word.lower() for word in graph.words}
        return frozenset(
            hypothesis.meaning
            for begin, word in enumerate(words)
            if word in known
            for end in range(begin + 1, min(begin + MAX_PHRASE_WORDS, len(words)) + 1)
            for hypothesis in self.typed(graph, " ".join(words[begin:end]))
        )


def _kept(store: dict[_Key, _Value], key: _Key, make: Callable[[], _Value], most: int) -> _Value:
    """What was made of a key before, or is made now; the oldest makes room. most: how many are kept."""
    found = store.get(key)
    if found is None:
        if len(store) >= most:
            store.pop(next(iter(store)))
        found = store[key] = make()
    return found


def part_number(text: str) -> str:
    """A part's number as it is typed, `f 07` or `OF-2207`, in capitals without blanks and hyphens; empty for what is
    none: it has a digit, for a word of three letters is none."""
    signs = re.sub(r"[\s‐‑–-]", "", text).upper()
    return signs if re.fullmatch(r"(?=.*[0-9])[A-Z0-9]{3,}", signs) else ""


def free_speech(expectation: Expectation) -> bool:
    """Whether anything at all may be said, to be kept as sound."""
    return any(offer.meaning is FreeSpeech for offer in expectation.offers)


def english() -> Language:
    """The shipped English."""
    return Language("en")


@cache
def english_wording() -> Wording:
    """The shipped English words for messages and statements."""
    return english().wording
