"""A grammar of 80 alternatives over 9 slots, sentences of twenty words: time to compile and to hear, one core.

python -m tests.bench.large_grammar
"""

from __future__ import annotations

import os
import random
import time

from assistant.edge.files.grammars import forms_of
from assistant.edge.sound.recognisers.bundled import BundledRecogniser
from assistant.grammar.graph import compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.rehearsal.technician_voice import speak

VERBS = (
    "check", "remove", "fit", "tighten", "loosen", "drain", "fill", "inspect", "clean", "replace", "open", "close",
    "lift", "lower", "turn", "press",
)  # fmt: skip
KINDS = (
    "new", "old", "clean", "dirty", "hot", "cold", "loose", "tight", "broken", "good", "left", "right", "upper",
    "lower", "front", "rear", "inner", "outer",
)  # fmt: skip
THINGS = (
    "oil", "filter", "pump", "valve", "hose", "belt", "engine", "battery", "cable", "panel", "switch", "lamp", "alarm",
    "sensor", "cover", "bolt", "nut", "washer", "gasket", "seal", "drain", "plug", "cap", "tank", "pipe", "clamp",
    "bracket", "shaft", "pulley", "bearing", "piston", "ring", "cylinder", "head", "block", "sump", "tray",
)  # fmt: skip
SLOTS = (
    VERBS, ("the", "that", "this"), KINDS, THINGS, ("on", "under", "behind", "near"), ("the left", "the right"), KINDS,
    THINGS, ("before the start", "after the long run", "with both hands", "and then count the parts again"),
)  # fmt: skip
ENDINGS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def large_grammar(seed: int = 1) -> tuple[str, list[str]]:
    """The JSGF text, tags `a0` to `a79`, and one sentence of about twenty words for each alternative."""
    chance = random.Random(seed)
    rules, sentences = [], []
    for number in range(80):
        slots = [chance.sample(slot, min(len(slot), 12)) for slot in SLOTS]
        ending = f"as job {ENDINGS[number // 10]} {ENDINGS[number % 10]} says on this card"
        groups = " ".join(f"({' | '.join(slot)})" for slot in slots)
        rules.append(f"{groups} {ending} {{a{number}}}")
        sentences.append(" ".join([*(chance.choice(slot) for slot in slots), ending]))
    return "#JSGF V1.0;\ngrammar large;\npublic <all> = " + "\n  | ".join(rules) + ";\n", sentences


def main() -> None:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    text, sentences = large_grammar()
    begun = time.perf_counter()
    graph = compile_grammar(parse_grammar(text, "large.jsgf"))
    compiled = time.perf_counter() - begun
    recogniser = BundledRecogniser(forms_of())
    begun = time.perf_counter()
    recogniser.prepare(graph)
    prepared = time.perf_counter() - begun
    print(
        f"{graph.nodes:,} nodes, {len(graph.arcs):,} arcs; compiled in {compiled:.2f} s, prepared in {prepared:.2f} s"
    )
    for number in (3, 37, 66):
        for voice in ("flite slt slow", "espeak american"):
            sound = speak(sentences[number], voice)
            begun = time.perf_counter()
            hearing = recogniser.hear(sound, graph)
            taken = time.perf_counter() - begun
            best = hearing.paths[0].saying
            words = len(sentences[number].split())
            print(
                f"{len(sound) / 16000:.1f} s of sound, {words} words: {taken:.2f} s,"
                f" alternative {'right' if best.tags == (f'a{number}',) else 'wrong'},"
                f" words {'right' if ' '.join(best.words) == sentences[number] else 'wrong'}"
            )


if __name__ == "__main__":
    main()
