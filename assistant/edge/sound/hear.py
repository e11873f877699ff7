"""The command `hear`: sound files through a grammar, one answer a file; and the shipped language's files.

Knows files and engines. Refuses to know the command line.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from assistant.edge.files.grammars import forms_of, grammars_in, read_grammar_text
from assistant.edge.sound.sound_files import RATE, read_sound
from assistant.errors import AudioError, RecogniserError
from assistant.grammar.expectation import Risk
from assistant.grammar.graph import WordGraph, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.hearing.decoding import Recogniser
from assistant.hearing.judgement import HearingVerdict, judge

ENGINES = ("bundled", "vosk")
KEYS = ("file", "text", "tags", "confidence", "accepted", "seconds_audio", "seconds_compute")


def open_recogniser(engine: str, model: Path | None = None, language: str = "en") -> Recogniser:
    """The engine by name. model: the folder of a Vosk model. Errors: RecogniserError."""
    if engine == "bundled":
        if model is not None:
            raise RecogniserError(
                "--model", "the bundled engine carries its model", "Leave the option out, or use --engine vosk"
            )
        from assistant.edge.sound.recognisers.bundled import BundledRecogniser

        return BundledRecogniser(forms_of(language))
    if engine == "vosk":
        from assistant.edge.sound.recognisers.vosk import VoskRecogniser

        if model is None:
            raise RecogniserError("--model", "Vosk needs the folder of a model", "Give --model FOLDER")
        return VoskRecogniser(model, forms_of(language))
    raise RecogniserError("--engine", f"there is no engine {engine!r}", f"Use {' or '.join(ENGINES)}")


def graph_of(path: Path, rule: str | None = None) -> WordGraph:
    """The word graph of a grammar file; imports resolve beside it. Errors: GrammarError."""
    grammar = parse_grammar(read_grammar_text(path), str(path), grammars_in(path.parent))
    return compile_grammar(grammar, None if rule is None else [rule.strip("<>")])


def hear_files(
    grammar: Path,
    rule: str | None,
    engine: str,
    model: Path | None,
    wavs: Sequence[Path],
    now: Callable[[], float] = time.perf_counter,
) -> Iterator[dict[str, object]]:
    """One answer a file, in order, with the keys `KEYS`; a file that cannot be read has an `error` too.

    rule: a rule of the grammar, None for every public one; seconds_compute: decoding and judging, on one core.
    Errors: GrammarError and RecogniserError, before the first answer.
    """
    graph = graph_of(grammar, rule)
    recogniser = open_recogniser(engine, model)
    missing = recogniser.prepare(graph)
    if missing:
        raise RecogniserError(
            str(grammar),
            f"the {recogniser.name} engine has no word for {', '.join(missing[:10])}",
            "Use other words in the grammar",
        )
    return _answers(recogniser, graph, wavs, now)


def _answers(
    recogniser: Recogniser, graph: WordGraph, wavs: Sequence[Path], now: Callable[[], float]
) -> Iterator[dict[str, object]]:
    for wav in wavs:
        answer: dict[str, object] = dict.fromkeys(KEYS)
        answer |= {"file": str(wav), "text": "", "tags": [], "accepted": False}
        try:
            sound = read_sound(wav)
        except (AudioError, OSError) as wrong:
            yield {**answer, "error": str(wrong)}
            continue
        begun = now()
        hearing = recogniser.hear(sound, graph)
        judgement = judge(hearing, Risk.COMMAND)
        taken = now() - begun
        if hearing.paths:
            answer |= {
                "text": " ".join(hearing.paths[0].saying.words),
                "tags": list(hearing.paths[0].saying.tags),
            }
        answer |= {
            "confidence": round(judgement.confidence, 4),
            "accepted": judgement.verdict is HearingVerdict.ACCEPT,
            "seconds_audio": round(len(sound) / RATE, 3),
            "seconds_compute": round(taken, 4),
        }
        yield answer
