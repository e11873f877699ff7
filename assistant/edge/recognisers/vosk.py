"""Vosk with a model that a person brings, each of its results judged again by our own word graph.

Knows the library's calls. Refuses to believe it: its grammar is a list of phrases made into word pairs, so orders that
nobody allowed can come out, and words that the model lacks are dropped in silence. Both are checked here.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import pairwise
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
_UNKNOWN = "[unk]"
_SURE_OF_SECOND = 0.5
"""What remains of the confidence when the engine's first text was no sentence of the graph."""


class VoskRecogniser:
    """Hears with the model in a folder that holds `am/`, `conf/` and `graph/`. Errors: RecogniserError."""

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
        vosk.SetLogLevel(-1)
        try:
            self._model = vosk.Model(str(folder))
        except Exception:  # the library raises nothing more precise
            raise RecogniserError(str(folder), "Vosk cannot load this model", "Unpack the model again") from None
        self._vosk = vosk
        self._forms = forms
        self._has_unknown = self._model.vosk_model_find_word(_UNKNOWN) >= 0
        self._ears: WeakKeyDictionary[WordGraph, tuple[Any, Any]] = WeakKeyDictionary()  # the library has no types

    def prepare(self, graph: WordGraph) -> tuple[str, ...]:
        missing = tuple(
            word
            for word in graph.words
            if any(self._model.vosk_model_find_word(part) < 0 for part in map(str.lower, spoken_words(word)))
        )
        if graph not in self._ears:
            phrases = _phrases(graph) + ([_UNKNOWN] if self._has_unknown else [])
            grammar = json.dumps(phrases, ensure_ascii=False)  # escaped letters would count as missing words
            # One recogniser a graph: changing the grammar of a running one can end the process.
            first = self._vosk.KaldiRecognizer(self._model, RATE, grammar)
            first.SetWords(True)
            others = self._vosk.KaldiRecognizer(self._model, RATE, grammar)
            others.SetMaxAlternatives(_ALTERNATIVES)
            self._ears[graph] = (first, others)
        return missing

    def warm(self, graph: WordGraph, most: int) -> int:
        self.prepare(graph)
        return 0

    def hear(self, audio: Float32, graph: WordGraph) -> Hearing:
        self.prepare(graph)
        first, others = self._ears[graph]
        samples = (np.clip(np.nan_to_num(audio), -1, 1) * 32767).astype("<i2")
        seconds = len(samples) / RATE
        results = _run(first, samples)
        words = [word for result in results for word in result.get("result", ())]
        free = " ".join(result["text"] for result in results if result.get("text"))
        unknown = any(word["word"] == _UNKNOWN for word in words)
        sure = min((float(word["conf"]) for word in words), default=0.0)
        parsed = () if unknown else parse_text(graph, free, self._forms)
        texts = [free]
        if not parsed:
            sure *= _SURE_OF_SECOND
            alternatives = [a for result in _run(others, samples) for a in result.get("alternatives", ())]
            texts = [a["text"].replace(_UNKNOWN, "").strip() for a in alternatives]
        paths = _paths(graph, texts, self._forms)
        evidence = Evidence(0.0, 0.0, 0.0, 0.0, len(words), False, seconds, own=min(sure, 1.0) if paths else 0.0)
        return Hearing(paths, evidence, free)


def _phrases(graph: WordGraph) -> list[str]:
    """Every word that may begin, and every pair of words that may stand side by side."""
    begins = _begins(graph, graph.start)
    phrases = dict.fromkeys(spoken_words(arc)[0].lower() for arc in begins)
    for arc in graph.arcs:
        if arc.word is None:
            continue
        parts = [part.lower() for part in spoken_words(arc.word)]
        phrases |= dict.fromkeys(" ".join(pair) for pair in pairwise(parts))
        phrases |= dict.fromkeys(
            f"{parts[-1]} {spoken_words(following)[0].lower()}" for following in _begins(graph, arc.end)
        )
    return list(phrases)


def _begins(graph: WordGraph, node: int) -> list[str]:
    return [arc.word for reached in graph.reached(node) for arc in graph.outgoing[reached.node] if arc.word is not None]


def _run(ear: Any, samples: np.ndarray[Any, np.dtype[np.int16]]) -> list[dict[str, Any]]:  # the library has no types
    """One utterance through a recogniser, which is ready for the next one afterwards."""
    results = []
    for begin in range(0, len(samples), _CHUNK):
        if ear.AcceptWaveform(samples[begin : begin + _CHUNK].tobytes()):
            results.append(json.loads(ear.Result()))
    results.append(json.loads(ear.FinalResult()))
    ear.Reset()
    return results


def _paths(graph: WordGraph, texts: Sequence[str], forms: Forms) -> tuple[HeardPath, ...]:
    """The distinct meanings of these texts, the best first; a text that is no sentence of the graph gives none."""
    expectation = graph.expectation
    found: dict[object, HeardPath] = {}
    for rank, text in enumerate(texts):
        for one in parse_text(graph, text, forms):
            offer = None
            if expectation is not None and one.saying.offer is not None:
                offer = expectation.offers[one.saying.offer]
            key = (one.saying.offer, sense(offer, one.saying.words, one.saying.tags))
            found.setdefault(key, _path(one, text, rank))
    return tuple(found.values())


def _path(one: Parsed, text: str, rank: int) -> HeardPath:
    return HeardPath(one.saying, -float(rank), -float(rank), text, len(text.split()), one.can_grow)
