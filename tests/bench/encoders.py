"""Encoders beside each other on the same sound: the shipped one, the adapted one, any mix of their weights.

    python -m tests.bench.encoders --packages FOLDER [--encoder NAME[=FILE] ...] [--json FILE] [--markdown FILE]

Nobody who is heard in the sets "a person" was in the training, nor was the engine flite; espeak-ng was, with other
words. The noises come from `rehearsal.noise` and from here, not from the training's generator. FOLDER keeps the Debian
packages with the recordings; they are fetched when they are missing. Needs ffmpeg, flite, espeak-ng.
Right: the best path means what was said. Accepted: judged at the offer's operating point (for people: a command's).
The last columns count, of the same sounds, those that only this encoder and only the first one understood.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import platform
import random
import shlex
import statistics
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import date
from math import sqrt
from pathlib import Path

import numpy as np
import soundfile
from numpy.typing import NDArray

from assistant.edge import places
from assistant.edge.files.grammars import forms_of
from assistant.edge.sound.hear import graph_of
from assistant.edge.sound.recognisers.bundled import BundledRecogniser
from assistant.edge.sound.sound_files import read_sound
from assistant.grammar.expectation import Risk
from assistant.grammar.graph import WordGraph, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.grammar.numbers import fold
from assistant.hearing.decoding import Hearing
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.rehearsal.adapting.speech import decoded, package_files
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician_voice import VOICES, speak
from tests.bench.hearing_accuracy import command_graph, commands_spoken, graphs, means, readings_spoken, same

SOUND = NDArray[np.float32]
RATE = 16000

NUMBERS = (*range(21), *range(30, 100, 10))
ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
    "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth",
    "twentieth", "thirtieth",
)  # fmt: skip
ALPHABET = (
    "alpha", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliet", "kilo", "lima",
    "mike", "november", "oscar", "papa", "quebec", "romeo", "sierra", "tango", "uniform", "victor", "whiskey",
    "x-ray", "yankee", "zulu",
)  # fmt: skip
DAYS = (
    "sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday",
)  # fmt: skip
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
WIDTHS = (
    ("telephone", "asterisk-core-sounds-en-wav", "wav"),
    ("wide", "asterisk-core-sounds-en-g722", "g722"),
)  # of the band, at 8 and 16 kHz
CARDS = """#JSGF V1.0;
grammar cards;
public <cards> = <rank> <rank> | [<rank>] <card> | <card> <card> | <card> <card> <card>;
<card> = <rank> [of] (clubs | hearts | diamonds | spades);
<rank> = ace | two | three | four | five | six | seven | eight | nine | ten | jack | queen | king | lady;
"""
CARDS_SAID = (
    "ten of clubs", "four queen of clubs", "seven of clubs", "five five",
    "eight of spades four of clubs seven of hearts",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trial:
    """A sound, the graph it is heard in, and whether a hearing of it is right."""

    group: str
    name: str
    sound: SOUND
    graph: WordGraph
    right: Callable[[Hearing], bool]


def _engine(length: int, seed: int) -> SOUND:
    chance = random.Random(seed)
    return engine_noise(length / RATE + 0.1, seed, cylinders=chance.choice((1, 2, 3, 4)), rpm=chance.uniform(900, 3000))


def _babble(length: int, seed: int) -> SOUND:
    """Four voices of flite that say numbers and commands at once."""
    chance = random.Random(seed)
    voices = [voice for voice in VOICES if voice.startswith("flite")][:4]
    total = np.zeros(length, dtype=np.float32)
    for voice in voices:
        texts = [chance.choice(commands_spoken()).text for _ in range(3)]
        said = np.concatenate([speak(text, voice) for text in texts])
        total += np.resize(np.roll(said, chance.randrange(len(said))), length) / np.sqrt(np.mean(said**2))
    return total


def _in_room(sound: SOUND, seed: int) -> SOUND:
    """A small hard-walled room, the mouth a metre or two away: a tail of 0.4 s, 6 dB below the direct sound."""
    chance = np.random.default_rng(seed)
    time_axis = np.arange(int(0.5 * RATE)) / RATE
    tail = chance.standard_normal(len(time_axis)) * np.exp(-6.9 * time_axis / 0.4)
    tail[: RATE // 250] = 0
    tail *= 0.5 / np.sqrt(np.sum(tail**2))
    tail[0] = 1
    size = 1 << (len(sound) + len(tail)).bit_length()
    heard = np.fft.irfft(np.fft.rfft(sound, size) * np.fft.rfft(tail, size), size)[: len(sound)]
    return np.asarray(heard, dtype=np.float32)


CONDITIONS: dict[str, Callable[[SOUND, int], SOUND]] = {
    "clean": lambda sound, seed: sound,
    "engine 10 dB": lambda sound, seed: mix(sound, _engine(len(sound), seed), 10),
    "engine 5 dB": lambda sound, seed: mix(sound, _engine(len(sound), seed), 5),
    "engine 0 dB": lambda sound, seed: mix(sound, _engine(len(sound), seed), 0),
    "room": _in_room,
    "room, engine 5 dB": lambda sound, seed: mix(_in_room(sound, seed), _engine(len(sound), seed), 5),
    "babble 5 dB": lambda sound, seed: mix(sound, _babble(len(sound), seed), 5),
}


def _words_are(text: str) -> Callable[[Hearing], bool]:
    return lambda hearing: bool(hearing.paths) and " ".join(hearing.paths[0].saying.words) == text


def _number_is(number: int) -> Callable[[Hearing], bool]:
    return lambda hearing: bool(hearing.paths) and fold(hearing.paths[0].saying.tags) == number


def _put_together(chance: random.Random) -> tuple[int, list[str]]:
    """A number of two to five words, and the recordings that it is put together from."""
    number, names = 0, []
    size = chance.choice((2, 2, 3, 3, 4))
    if size == 4:
        thousands = chance.randint(1, 12)
        number, names = thousands * 1000, [str(thousands), "thousand"]
    if size >= 3:
        hundreds = chance.randint(1, 9)
        number, names = number + hundreds * 100, [*names, str(hundreds), "hundred"]
    rest = chance.randint(1, 99) if size > 2 else chance.randint(21, 99)
    names += [str(rest)] if rest < 20 or rest % 10 == 0 else [str(rest - rest % 10), str(rest % 10)]
    return number + rest, names


def people(packages: Path) -> Iterator[Trial]:
    """One speaker's numbers and words, telephone and wide, and another's short sentences."""
    numbers = graph_of(places.grammars() / "en" / "numbers.jsgf", "number")
    recordings: list[tuple[str, str | int]] = [(f"digits/{number}", number) for number in NUMBERS]
    recordings += [(f"digits/h-{n}", word) for n, word in zip((*range(1, 21), 30), ORDINALS, strict=True)]
    recordings += [(f"phonetic/{word[0]}_p", word) for word in ALPHABET]
    recordings += [(f"digits/day-{n}", word) for n, word in enumerate(DAYS)]
    recordings += [(f"digits/mon-{n}", word) for n, word in enumerate(MONTHS)]
    choices = " | ".join(dict.fromkeys(str(said) for _, said in recordings if not isinstance(said, int)))
    words = compile_grammar(parse_grammar(f"#JSGF V1.0;\ngrammar words;\npublic <word> = {choices};\n", "words"))
    for width, package, suffix in WIDTHS:
        folder = package_files(package, packages)[0] / "usr/share/asterisk/sounds/en_US_f_Allison"
        for name, said in recordings:
            path = folder / f"{name}.{suffix}"
            sound = read_sound(path) if suffix == "wav" else decoded([path], "g722")
            if isinstance(said, int):
                yield Trial(f"a person, numbers, {width}", name, sound, numbers, _number_is(said))
            else:
                yield Trial(f"a person, words, {width}", name, sound, words, _words_are(said))
    folder = package_files("pocketsphinx-testdata", packages)[0] / "usr/share/pocketsphinx/test/data/cards"
    cards = compile_grammar(parse_grammar(CARDS, "cards"))
    for number, text in enumerate(CARDS_SAID, 1):
        sound, rate = soundfile.read(folder / f"{number:03d}.wav", dtype="float32")
        assert rate == RATE
        for again in range(6):
            yield Trial("a person, sentences, wide", f"{number}.{again}", sound, cards, _words_are(text))


def put_together(packages: Path) -> Iterator[Trial]:
    """Longer numbers of the same speaker: single recordings one after the other, which no one says so."""
    graph = graph_of(places.grammars() / "en" / "numbers.jsgf", "number")
    for width, package, suffix in WIDTHS:
        folder = package_files(package, packages)[0] / "usr/share/asterisk/sounds/en_US_f_Allison/digits"
        chance = random.Random(5)
        for _ in range(60):
            number, names = _put_together(chance)
            paths = [folder / f"{name}.{suffix}" for name in names]
            sounds = [read_sound(path) if suffix == "wav" else decoded([path], "g722") for path in paths]
            group = f"a person, numbers put together, {width}"
            yield Trial(group, " ".join(names), np.concatenate(sounds), graph, _number_is(number))


def synthetic(per_voice: int, seed: int) -> Iterator[Trial]:
    """Commands and readings in the voices of both synthesisers."""
    states = {**graphs(), "command": command_graph()}
    for number, voice in enumerate(VOICES):
        chance = random.Random(seed * 1000 + number)
        spoken = [("commands", said) for said in chance.sample(commands_spoken(), min(per_voice, 20))]
        spoken += [("readings", said) for said in readings_spoken(per_voice, chance)]
        for kind, said in spoken:
            graph = states[said.graph]

            def right(hearing: Hearing, graph: WordGraph = graph, truth: object = said.truth) -> bool:
                return truth is not None and same(means(hearing, graph), truth)  # type: ignore[arg-type]  # a Meaning

            engine = voice.split()[0]
            yield Trial(f"{engine}, {kind}", f"{voice}: {said.text}", speak(said.text, voice), graph, right)


def _accepted(hearing: Hearing, graph: WordGraph) -> bool:
    risk = Risk.COMMAND
    if hearing.paths and graph.expectation is not None and hearing.paths[0].saying.offer is not None:
        risk = graph.expectation.offers[hearing.paths[0].saying.offer].risk
    return judge(hearing, risk).verdict is HearingVerdict.ACCEPT


def interval(right: int, count: int) -> tuple[float, float]:
    """Wilson's interval at 95 %."""
    share, z = right / count, 1.96
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z * sqrt(share * (1 - share) / count + z * z / (4 * count * count)) / (1 + z * z / count)
    return middle - half, middle + half


Outcome = tuple[bool, bool]  # right, accepted


def _part(encoder: str | Path, conditions: list[str], part: int, parts: int) -> dict[tuple[int, str], Outcome]:
    """Every `parts`th of the trials, by number and condition."""
    mine = list(enumerate(_TRIALS))[part::parts]
    recogniser = BundledRecogniser(forms_of(), encoder=encoder)
    for graph in {id(trial.graph): trial.graph for _, trial in mine}.values():
        recogniser.prepare(graph)
        recogniser.warm(graph, 200)
    found = {}
    for at, trial in mine:
        repeated = not trial.name.endswith(".0") and trial.group.startswith("a person, sentences")
        for condition in conditions:
            if condition == "clean" and repeated:
                continue  # the same sound again
            sound = CONDITIONS[condition](np.pad(trial.sound, 4000), 7919 + at)
            hearing = recogniser.hear(sound, trial.graph)
            found[at, condition] = trial.right(hearing), _accepted(hearing, trial.graph)
    return found


_TRIALS: list[Trial] = []  # where forked processes find them


def measured(
    encoders: dict[str, str | Path], conditions: list[str], processes: int
) -> dict[str, dict[tuple[str, str], list[Outcome]]]:
    """The outcomes of each encoder, by group and condition, all in the order of the trials."""
    tasks = [(name, part) for part in range(processes) for name in encoders]
    with ProcessPoolExecutor(processes, mp_context=multiprocessing.get_context("fork")) as pool:
        parts = [pool.submit(_part, encoders[name], conditions, part, processes) for name, part in tasks]
        tables: dict[str, dict[tuple[str, str], list[Outcome]]] = {name: {} for name in encoders}
        every: dict[str, dict[tuple[int, str], Outcome]] = {name: {} for name in encoders}
        for (name, _), future in zip(tasks, parts, strict=True):
            every[name] |= future.result()
    for name, outcomes in every.items():
        for at, condition in sorted(outcomes, key=lambda key: (key[0], conditions.index(key[1]))):
            tables[name].setdefault((_TRIALS[at].group, condition), []).append(outcomes[at, condition])
    return tables


def seconds_of(encoder: str | Path) -> float:
    """Median seconds of encoding two seconds of sound, one thread."""
    from assistant.edge.sound.recognisers.bundled import _Model, encoder_file, model_folder

    model = _Model(model_folder(), encoder_file(encoder, model_folder()))
    sound = engine_noise(2, 1) * np.float32(0.05)
    taken = []
    for _ in range(30):
        begun = time.perf_counter()
        model.encode(sound)
        taken.append(time.perf_counter() - begun)
    return statistics.median(taken)


def report(rows: list[dict[str, object]], head: dict[str, object]) -> str:
    """The rows as a Markdown page."""
    lines = [
        "# Encoders beside each other", "",
        f"{head['date']}, {head['machine']}.", "", f"    {head['command']}", "",
        "Right: understood, with Wilson's 95 % interval. The last two columns: of the same sounds, those that only this"
        " encoder and only the first one understood.", "",
        "| sound | noise | encoder | number | right | 95 % | accepted right | accepted wrong | only this |"
        " only first |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]  # fmt: skip
    for row in rows:
        lines.append(
            f"| {row['group']} | {row['condition']} | {row['encoder']} | {row['count']} | {row['right']:.3f} |"
            f" {row['low']:.2f} to {row['high']:.2f} | {row['accepted_right']:.3f} | {row['accepted_wrong']:.3f} |"
            f" {row['only_this']} | {row['only_first']} |"
        )
    lines += ["", "Encoding two seconds of sound, median, one thread:", ""]
    times = head["encoding_seconds"]
    assert isinstance(times, dict)
    lines += [f"- {name}: {seconds * 1000:.0f} ms" for name, seconds in times.items()]
    return "\n".join(lines) + "\n"


def _without_places(argument: str) -> str:
    """An argument of the command as another machine would give it."""
    if "/" not in argument:
        return shlex.quote(argument)
    return argument.split("=")[0] + "=FILE" if "=" in argument else "FOLDER"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--packages", type=Path, required=True, help="where the packages with recordings are kept")
    parser.add_argument("--encoder", action="append", help="shipped, adapted, or NAME=FILE; the first is compared with")
    parser.add_argument("--condition", action="append", choices=list(CONDITIONS))
    parser.add_argument("--per-voice", type=int, default=10)
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--part", choices=("people", "synthetic", "numbers"), help="only these")
    parser.add_argument("--json", type=Path)
    parser.add_argument("--markdown", type=Path)
    options = parser.parse_args()
    encoders: dict[str, str | Path] = {}
    for given in options.encoder or ["shipped", "adapted"]:
        name, _, path = given.partition("=")
        encoders[name] = Path(path) if path else name
    conditions = options.condition or list(CONDITIONS)
    if options.part in (None, "people"):
        _TRIALS.extend(people(options.packages))
    if options.part in (None, "synthetic"):
        _TRIALS.extend(synthetic(options.per_voice, options.seed))
    if options.part in (None, "numbers"):
        _TRIALS.extend(put_together(options.packages))
    begun = time.perf_counter()
    tables = measured(encoders, conditions, options.processes)
    print(f"{len(_TRIALS)} sounds, {time.perf_counter() - begun:.0f} s", file=sys.stderr, flush=True)
    first = tables[next(iter(tables))]
    rows: list[dict[str, object]] = []
    for group, condition in first:
        for name, table in tables.items():
            outcomes, before = table[group, condition], first[group, condition]
            count, right = len(outcomes), sum(good for good, _ in outcomes)
            low, high = interval(right, count)
            rows.append({
                "group": group, "condition": condition, "encoder": name, "count": count, "right": right / count,
                "low": low, "high": high,
                "accepted_right": sum(good and passed for good, passed in outcomes) / count,
                "accepted_wrong": sum(passed and not good for good, passed in outcomes) / count,
                "only_this": sum(new and not old for (new, _), (old, _) in zip(outcomes, before, strict=True)),
                "only_first": sum(old and not new for (new, _), (old, _) in zip(outcomes, before, strict=True)),
            })  # fmt: skip
    head: dict[str, object] = {
        "date": date.today().isoformat(),
        "machine": f"{platform.machine()}, {options.processes} cores, {platform.system()}",
        "command": "python -m tests.bench.encoders " + " ".join(map(_without_places, sys.argv[1:])),
        "encoding_seconds": {name: seconds_of(encoder) for name, encoder in encoders.items()},
    }  # fmt: skip
    page = report(rows, head)
    print(page)
    if options.json:
        options.json.write_text(json.dumps({**head, "rows": rows}, indent=1), encoding="utf-8")
    if options.markdown:
        options.markdown.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
