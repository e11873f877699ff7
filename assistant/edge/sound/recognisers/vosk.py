"""Vosk with a model that a person brings, each of its results judged again by our own word graph.

Knows the library's calls. Refuses to believe it: its grammar is a list of phrases made into word pairs, so orders that
nobody allowed can come out, and words that the model lacks are dropped with no more than a line on standard error. Both
are checked here.
"""

from __future__ import annotations

import ctypes
import json
from collections.abc import Sequence
from itertools import islice, pairwise, product
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np

from assistant.errors import RecogniserError
from assistant.grammar.forms import Forms, Parsed, parse_text, spoken_words
from assistant.grammar.graph import WordGraph
from assistant.grammar.tagged import sense
from assistant.hearing.decoding import Evidence, Float32, HeardPath, Hearing

RATE = 16_000
_CHUNK = 4_000
_ALTERNATIVES = 10
_SEED = 1
_UNKNOWN = "[unk]"
_SURE_OF_SECOND = 0.5
"""What remains of the confidence when the engine's first text was no sentence of the graph."""
_SURE_WITHOUT_UNKNOWN = 0.9
"""The most that is believed of a model without `[unk]`. It has to answer with words that are allowed, so it can be as
sure of other speech as of the right one: enough for a command or a reading, too little for a hold point."""


class VoskRecogniser:
    """Hears with the small model in a folder that holds `am/`, `conf/` and `graph/`. Errors: RecogniserError."""

    name = "vosk"

    def __init__(self, folder: Path, forms: Forms) -> None:
        try:
            import vosk  # heavy; loaded when hearing is set up
        except ImportError:
            raise RecogniserError(
                "vosk engine", "the package vosk is not installed", "Install it with `pip install vosk`"
            ) from None
        if not folder.is_dir():
            raise RecogniserError(str(folder), "there is no such folder", "Give the folder of an unpacked Vosk model")
        missing = [part for part in ("am", "conf", "graph") if not (folder / part).is_dir()]
        if missing:
            raise RecogniserError(
                str(folder),
                f"it is no Vosk model: {', '.join(missing)} is missing",
                "Give the folder that holds am, conf and graph",
            )
        if (folder / "graph" / "HCLG.fst").exists():
            # The library would load it, which takes gigabytes, and hear the whole language whatever the grammar.
            raise RecogniserError(
                str(folder), "this model's graph is fixed, so no grammar can steer it", "Use a small model"
            )
        vosk.SetLogLevel(-1)
        try:
            self._model = vosk.Model(str(folder))
        except Exception:  # the library raises nothing more precise
            raise RecogniserError(str(folder), "Vosk cannot load this model", "Unpack the model again") from None
        self._vosk = vosk
        self._forms = forms
        self._has_unknown = self._model.vosk_model_find_word(_UNKNOWN) >= 0
        self._knows: WeakKeyDictionary[WordGraph, frozenset[str]] = WeakKeyDictionary()
        # Any: the library has no types.
        self._ears: WeakKeyDictionary[WordGraph, tuple[Any, Any] | None] = WeakKeyDictionary()

    def prepare(self, graph: WordGraph) -> tuple[str, ...]:
        self._ears_for(graph)
        return tuple(word for word in graph.words if any(part not in self._known(graph) for part in _parts(word)))

    def warm(self, graph: WordGraph, most: int) -> int:
        self._ears_for(graph)
        return 0

    def hear(self, audio: Float32, graph: WordGraph) -> Hearing:
        ears = self._ears_for(graph)
        seconds = len(audio) / RATE
        if ears is None:
            return Hearing((), Evidence(0.0, 0.0, 0.0, 0.0, 0, False, seconds, own=0.0))
        first, others = ears
        samples = (np.clip(np.nan_to_num(audio), -1, 1) * 32767).astype("<i2")
        results = _run(first, samples)
        words = [word for result in results for word in result.get("result", ())]
        free = " ".join(result["text"] for result in results if result.get("text"))
        sure = min((float(word["conf"]) for word in words), default=0.0)
        sure = min(sure, 1.0 if self._has_unknown else _SURE_WITHOUT_UNKNOWN)
        texts = [free]
        if not parse_text(graph, free, self._forms):
            sure *= _SURE_OF_SECOND
            texts = _whole_texts(_run(others, samples))
        paths = _paths(graph, texts, self._forms)
        evidence = Evidence(0.0, 0.0, 0.0, 0.0, len(words), False, seconds, own=sure if paths else 0.0)
        return Hearing(paths, evidence, free)

    def _known(self, graph: WordGraph) -> frozenset[str]:
        """The spoken words of the graph that the model has, in small letters."""
        if graph not in self._knows:
            parts = {part for word in graph.words for part in _parts(word)}
            self._knows[graph] = frozenset(part for part in parts if self._model.vosk_model_find_word(part) >= 0)
        return self._knows[graph]

    def _ears_for(self, graph: WordGraph) -> tuple[Any, Any] | None:
        """The recognisers that give the best text and the other texts; None where the model has no word to hear."""
        if graph not in self._ears:
            known = self._known(graph)
            phrases = [phrase for phrase in _phrases(graph) if all(part in known for part in phrase.split())]
            if not phrases:
                self._ears[graph] = None  # the library ends the process on an empty list
                return None
            if self._has_unknown:
                phrases.append(_UNKNOWN)
            grammar = json.dumps(phrases, ensure_ascii=False)  # escaped letters would count as missing words
            # One pair a graph and never another grammar for it: changing that of a running one can end the process.
            first = self._vosk.KaldiRecognizer(self._model, RATE, grammar)
            first.SetWords(True)
            others = self._vosk.KaldiRecognizer(self._model, RATE, grammar)
            others.SetMaxAlternatives(_ALTERNATIVES)
            self._ears[graph] = (first, others)
        return self._ears[graph]


def _parts(word: str) -> list[str]:
    """A word of a grammar as the words of the model's list that say it."""
    return [part.lower() for part in spoken_words(word)]


def _phrases(graph: WordGraph) -> list[str]:
    """Every word that may begin, and every pair of words that may stand side by side."""
    begins = _begins(graph, graph.start)
    phrases = dict.fromkeys(_parts(word)[0] for word in begins)
    for arc in graph.arcs:
        if arc.word is None:
            continue
        parts = _parts(arc.word)
        phrases |= dict.fromkeys(" ".join(pair) for pair in pairwise(parts))
        phrases |= dict.fromkeys(f"{parts[-1]} {_parts(following)[0]}" for following in _begins(graph, arc.end))
    return list(phrases)


def _begins(graph: WordGraph, node: int) -> list[str]:
    return [arc.word for reached in graph.reached(node) for arc in graph.outgoing[reached.node] if arc.word is not None]


def _run(ear: Any, samples: np.ndarray[Any, np.dtype[np.int16]]) -> list[dict[str, Any]]:  # the library has no types
    """One utterance through a recogniser, which is ready for the next one afterwards."""
    # The library adds faint noise from the C library's random numbers; the same sound must be heard the same.
    ctypes.CDLL(None).srand(_SEED)
    results = []
    for begin in range(0, len(samples), _CHUNK):
        if ear.AcceptWaveform(samples[begin : begin + _CHUNK].tobytes()):
            results.append(json.loads(ear.Result()))
    results.append(json.loads(ear.FinalResult()))
    ear.Reset()
    return results


def _whole_texts(results: Sequence[dict[str, Any]]) -> list[str]:  # the library has no types
    """Texts of the whole utterance, likely ones first: where the engine cut it at a pause, its pieces put together."""
    pieces = [
        [alternative["text"].replace(_UNKNOWN, "").strip() for alternative in result.get("alternatives", ())]
        for result in results
    ]
    together = islice(product(*(piece for piece in pieces if piece)), _ALTERNATIVES**2)
    return list(dict.fromkeys(" ".join(filter(None, texts)) for texts in together))


def _paths(graph: WordGraph, texts: Sequence[str], forms: Forms) -> tuple[HeardPath, ...]:
    """The distinct meanings of these texts, the best first; a text that is no sentence of the graph gives none."""
    expectation = graph.expectation
    found: dict[object, HeardPath] = {}
    for rank, text in enumerate(texts):
        for parsed in parse_text(graph, text, forms):
            offer = None
            if expectation is not None and parsed.saying.offer is not None:
                offer = expectation.offers[parsed.saying.offer]
            key = (parsed.saying.offer, sense(offer, parsed.saying.words, parsed.saying.tags))
            found.setdefault(key, _path(parsed, text, rank))
    return tuple(found.values())


def _path(parsed: Parsed, text: str, rank: int) -> HeardPath:
    return HeardPath(parsed.saying, -float(rank), -float(rank), text, len(text.split()), parsed.can_grow)
