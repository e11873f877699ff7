"""Accuracy and time of the bundled engine on synthetic speech in engine noise, one core.

    python -m tests.bench.hearing_accuracy [--beam N] [--per-voice N] [--seed N] [--encoder NAME] [--json FILE]

A command is one of twenty offers; a reading is a number with its unit while ten commands may be said too. Right: the
best path means what was said. Accepted: judged at the offer's operating point.
It stays beside `enginebay bench hearing` because `tests.bench.encoders` compares encoders on these sentences.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import statistics
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.edge.files.grammars import forms_of, language_source
from assistant.edge.sound.recognisers.bundled import ENCODER, BundledRecogniser
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.graph import WordGraph, compile_expectation
from assistant.grammar.numbers import say_digits, say_number
from assistant.grammar.tagged import meaning
from assistant.grammar.units import reading_offer
from assistant.hearing.decoding import Hearing
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician_voice import VOICES, speak

SOUND = NDArray[np.float32]
CONDITIONS: tuple[float | None, ...] = (None, 10.0, 5.0, 0.0)

COMMANDS = {
    "next": CommandName.NEXT,
    "say again": CommandName.SAY_AGAIN,
    "more details": CommandName.DETAILS,
    "where am I": CommandName.WHERE_AM_I,
    "affirm": CommandName.AFFIRM,
    "negative": CommandName.NEGATIVE,
    "correction": CommandName.CORRECTION,
    "stand by": CommandName.STAND_BY,
    "carry on": CommandName.CARRY_ON,
    "skip this step": CommandName.SKIP,
    "end the work": CommandName.END_WORK,
}
RULES = (
    "next", "say_again", "details", "where_am_i", "affirm", "negative", "correction", "stand_by", "carry_on", "skip",
    "end_work",
)  # fmt: skip
ANSWERS = (
    "all good", "report a finding", "seal is off", "still on the engine", "just under full", "below low", "at half",
    "over full", "dead and proved",
)  # fmt: skip
UNITS = {
    "kPa": ("kilopascals", 150, 480, 0),
    "°C": ("degrees", 20, 95, 0),
    "Hz": ("hertz", 49, 53, 1),
    "V": ("volts", 215, 245, 0),
    "mm": ("millimetres", 3, 12, 1),
    "L": ("litres", 1, 6, 2),
    "h": ("hours", 100, 4000, 1),
}
OTHER_SPEECH = (
    "could you pass me the spanner", "the weather is lovely today", "what time is lunch", "mind your head there",
    "I left my gloves in the van", "yes I told him yesterday", "is that the blue one or the red one", "hang on",
    "did you see the match", "turn the radio down please", "she is coming on Friday", "put it over by the door",
    "that is a strange noise", "hello there", "we should order some more", "no not like that",
)  # fmt: skip


def command_graph(also: tuple[Offer, ...] = ()) -> WordGraph:
    """Twenty offers: every command and nine named answers."""
    offers = [Offer(f"<commands.{rule}>", Command, Risk.COMMAND) for rule in RULES]
    offers += [Offer(phrase, Answer, Risk.READING, phrase) for phrase in ANSWERS]
    return compile_expectation(Expectation((*also, *offers)), language_source())


def reading_graph(unit: str) -> WordGraph:
    """A reading in this unit, and the commands but affirm."""
    offers = [Offer(reading_offer(unit), Amount, Risk.READING)]
    offers += [Offer(f"<commands.{rule}>", Command, Risk.COMMAND) for rule in RULES if rule != "affirm"]
    return compile_expectation(Expectation(tuple(offers)), language_source())


@dataclass(frozen=True, slots=True)
class Spoken:
    """What was said in which state, and what it means there; None when it means nothing there."""

    text: str
    graph: str
    truth: Meaning | None


def commands_spoken() -> list[Spoken]:
    said = [Spoken(text, "command", Command(name)) for text, name in COMMANDS.items()]
    return said + [Spoken(phrase, "command", Answer(phrase)) for phrase in ANSWERS]


def readings_spoken(count: int, chance: random.Random) -> list[Spoken]:
    spoken = []
    for number in range(count):
        unit = list(UNITS)[number % len(UNITS)]
        word, low, high, places = UNITS[unit]
        value = Decimal(chance.randint(low * 10**places, high * 10**places)).scaleb(-places)
        say = say_digits if chance.random() < 0.25 else say_number
        with_unit = chance.random() < 0.7
        text = say(value) + (f" {word}" if with_unit else "")
        spoken.append(Spoken(text, unit, Amount(value, unit if with_unit and word != "degrees" else None)))
    return spoken


def in_noise(speech: SOUND, decibels: float | None, seed: int) -> SOUND:
    """Speech with 0.25 s before and after, in engine noise at this ratio; None: clean."""
    padded = np.pad(speech, 4000)
    if decibels is None:
        return padded
    chance = random.Random(seed)
    noise = engine_noise(
        len(padded) / 16000 + 0.1, seed, cylinders=chance.choice((2, 3, 4)), rpm=chance.uniform(1200, 3000)
    )
    return mix(padded, noise, decibels)


def means(hearing: Hearing, graph: WordGraph) -> Meaning | None:
    """What the best path means."""
    if not hearing.paths or graph.expectation is None:
        return None
    saying = hearing.paths[0].saying
    assert saying.offer is not None
    return meaning(graph.expectation.offers[saying.offer], saying.tags)


def same(one: Meaning | None, other: Meaning | None) -> bool:
    """Equal, with the resolution of numbers."""
    return one == other and str(one) == str(other)


def graphs() -> dict[str, WordGraph]:
    return {"command": command_graph(), **{unit: reading_graph(unit) for unit in UNITS}}


def trials(per_voice: int, seed: int) -> Iterator[tuple[str, str, Spoken]]:
    """(kind, voice, what is said): some commands, readings and speech that is for nobody, for each voice."""
    for number, voice in enumerate(VOICES):
        chance = random.Random(seed * 1000 + number)
        for spoken in chance.sample(commands_spoken(), min(per_voice, 20)):
            yield "commands", voice, spoken
        for spoken in readings_spoken(per_voice, chance):
            yield "readings", voice, spoken
        for text in chance.sample(OTHER_SPEECH, max(2, per_voice // 3)):
            yield "other speech", voice, Spoken(text, chance.choice(["command", "kPa"]), None)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--beam", type=int, default=8)
    parser.add_argument("--per-voice", type=int, default=7)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--encoder", default=ENCODER, help="shipped, adapted, or a file")
    parser.add_argument("--json", type=Path, help="one line an utterance")
    parser.add_argument("--warm", type=int, default=200, help="pieces of work ahead for each state")
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    recogniser = BundledRecogniser(forms_of(), beam=options.beam, encoder=options.encoder)
    states = graphs()
    for graph in states.values():
        recogniser.prepare(graph)
        recogniser.warm(graph, options.warm)
    table: dict[tuple[str, float | None], list[tuple[bool, bool, float]]] = {}
    lines = options.json.open("w") if options.json else None
    for at, (kind, voice, spoken) in enumerate(trials(options.per_voice, options.seed)):
        graph = states[spoken.graph]
        for decibels in CONDITIONS:
            sound = in_noise(speak(spoken.text, voice), decibels, options.seed * 100_000 + at)
            begun = time.perf_counter()
            hearing = recogniser.hear(sound, graph)
            taken = time.perf_counter() - begun
            risk = Risk.COMMAND
            if hearing.paths and graph.expectation is not None:
                offer = hearing.paths[0].saying.offer
                assert offer is not None
                risk = graph.expectation.offers[offer].risk
            accepted = judge(hearing, risk).verdict is HearingVerdict.ACCEPT
            right = spoken.truth is not None and same(means(hearing, graph), spoken.truth)
            table.setdefault((kind, decibels), []).append((right, accepted, taken))
            if lines:
                top = hearing.paths[0] if hearing.paths else None
                row = {
                    "kind": kind, "voice": voice, "decibels": decibels, "said": spoken.text, "right": right,
                    "accepted": accepted, "seconds": taken, "heard": " ".join(top.saying.words) if top else "",
                    "written": top.written if top else "", "free": hearing.free,
                }  # fmt: skip
                print(json.dumps(row), file=lines)
    print(f"beam {options.beam}, {len(VOICES)} voices, {options.per_voice} of each kind a voice, seed {options.seed}")
    heads = ("noise", "number", "right", "accepted right", "accepted wrong", "median ms", "p95 ms")
    print(" " * 14 + "".join(f"{head:>{width}}" for head, width in zip(heads, (7, 8, 7, 16, 16, 11, 8), strict=True)))
    for (kind, decibels), rows in table.items():
        count = len(rows)
        times = sorted(taken * 1000 for _, _, taken in rows)
        print(
            f"{kind:14}{'clean' if decibels is None else f'{decibels:.0f} dB':>7}{count:>8}"
            f"{sum(right for right, _, _ in rows) / count:>7.2f}"
            f"{sum(right and accepted for right, accepted, _ in rows) / count:>16.2f}"
            f"{sum(accepted and not right for right, accepted, _ in rows) / count:>16.3f}"
            f"{statistics.median(times):>11.0f}{times[int(0.95 * (count - 1))]:>8.0f}"
        )
    sys.stdout.flush()


if __name__ == "__main__":
    main()
