"""The whole measurement: speech is rendered once, trials are shared out to processes, rows are kept by part.

Knows how much of what is measured in the long form and in the short one. Refuses to add up (`report`).
"""

from __future__ import annotations

import gzip
import hashlib
import json
import multiprocessing
import os
import random
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TextIO

import numpy as np

from assistant.edge import places
from assistant.edge.files.language import english
from assistant.errors import EngineBayError
from assistant.rehearsal.adapting.speech_sources import Neural
from assistant.rehearsal.measuring import speech
from assistant.rehearsal.measuring.engines import FREE, FREE_SHIPPED, OURS, SPHINX, VOSK, available_engines, open_engine
from assistant.rehearsal.measuring.noises import ENGINES, FOR_TUNING, OTHERS, Noises
from assistant.rehearsal.measuring.report import STREAM_ROWS, machine
from assistant.rehearsal.measuring.speech import HELD_OUT, PEOPLE, TUNING, YOURS, Size, Store, TrialClip
from assistant.rehearsal.measuring.states import states
from assistant.rehearsal.measuring.trials import (
    LADDER,
    PAUSED,
    STREAM_SECONDS,
    STREAMS,
    SURROUNDINGS,
    Condition,
    Row,
    TrialResources,
    false_accepts,
    hear_clip,
    ladder,
    only_noise,
    through_ear,
)

PARTS = (
    "commands", "readings", "hold", "grammar", "peers", "people", "yours", "talk", "surroundings", "ear", "streams",
    "tuning",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class BenchSize:
    """How much is measured.

    size: clips of each role.
    peers: of those, commands and readings that the peers hear too.
    surroundings, ear: the same for these parts.
    hours: of each stream.
    banks: pieces of each noise.
    noise_alone: for the tuning.
    ratios: of speech to noise in decibels, None for clean.
    """

    name: str
    size: Size
    peers: tuple[int, int]
    surroundings: tuple[int, int]
    ear: tuple[int, int]
    hours: float
    banks: int
    noise_alone: int
    ratios: tuple[float | None, ...] = LADDER


LONG = BenchSize("long", speech.LONG, (315, 160), (126, 60), (126, 80), 6.0, 24, 400)
SHORT = BenchSize("short", speech.SHORT, (16, 4), (2, 1), (10, 6), 1 / 120, 2, 0)
PEERS_HEAR = (None, 10.0, 5.0, 0.0)
"""The ratios that the peers hear, those of the targets: PocketSphinx takes a second and a half for a number."""

SECONDS = {OURS: (0.07, 0.17), FREE: (0.05, 0.1), FREE_SHIPPED: (0.05, 0.1), SPHINX: (0.06, 1.5), VOSK: (0.3, 0.3)}
"""About how long one core takes for a command and for a reading, for the estimate that is printed."""
_EAR_SECONDS, _STREAM_SHARE = (0.4, 0.8), 0.06  # of an utterance through the ear; of each second of a stream


@dataclass(frozen=True, slots=True)
class Options:
    """What the command was given.

    rendered: a folder that is there already.
    parts: of `PARTS`.
    neural: the folder VOICES of `adapting.speech_sources`.
    """

    form: BenchSize
    seed: int = 1
    workers: int = 1
    parts: tuple[str, ...] = PARTS
    rendered: Path | None = None
    grammar: Path | None = None
    people: Path | None = None
    speech: Path | None = None
    noise: Path | None = None
    vosk: Path | None = None
    encoder: str | Path = "adapted"
    neural: Path | None = None


Task = tuple[Callable[..., list[Row]], tuple[object, ...], float]
"""A function of this module, its arguments, and about how many seconds it takes."""


# --- rendering ------------------------------------------------------------------------------------------------------


def planned(options: Options) -> dict[str, object]:
    """What decides the rendered speech. Two runs with the same plan hear the same."""
    grammar = "" if options.grammar is None else hashlib.sha256(options.grammar.read_bytes()).hexdigest()[:12]
    return {
        "form": options.form.name, "held out": options.form.size.held_out, "tuning": options.form.size.tuning,
        "seed": options.seed, "grammar": grammar, "people": options.people is not None,
        "speech": "" if options.speech is None else options.speech.name, "neural": options.neural is not None,
    }  # fmt: skip


def render(options: Options, folder: Path, step: Callable[[int, int], None] = lambda done, of: None) -> Store:
    """Renders all that a run needs into the folder; it is there already when its plan is the same.

    Errors: VoiceError for a missing synthesiser, EngineBayError for a folder of recordings without any.
    """
    plan = planned(options)
    if (folder / speech.INDEX).is_file() and Store(folder).plan == plan and options.speech is None:
        return Store(folder)
    language = english()
    every = states(language, options.grammar)
    clips = speech.plan(options.form.size, options.seed, every, language, options.neural is not None)
    neural = None if options.neural is None else Neural(options.neural)

    def all_of_it() -> Iterator[tuple[TrialClip, speech.Sound]]:
        for clip in clips:
            yield clip, speech.rendered(clip.voice, clip.text, neural)
        if options.people is not None:
            yield from speech.recordings(options.people, language)
            yield from speech.foreign_speech(options.people)
        if options.speech is not None:
            yield from speech.own_recordings(options.speech, every, language)

    done = 0

    def stepped() -> None:
        nonlocal done
        done += 1
        step(done, len(clips))

    speech.render(folder, plan, all_of_it(), stepped)
    return Store(folder)


# --- what is to be done ---------------------------------------------------------------------------------------------


Piece = tuple[str, int, int]
"""A piece of a stream: its kind, its number, the seed."""


def tasks(options: Options, world: TrialResources, done: Collection[Piece] = ()) -> dict[str, list[Task]]:
    """The tasks of each part that was asked for. done: pieces of streams that need not be heard again."""
    form, store = options.form, world.store
    engines, conditions = available_engines(options.vosk), ladder("engines", form.ratios)
    commands, readings = store.of(HELD_OUT, "command"), store.of(HELD_OUT, "reading")
    roles = {"commands": commands, "readings": readings, "hold": store.of(HELD_OUT, "hold")}
    roles["grammar"] = store.of(HELD_OUT, "grammar")
    found: dict[str, list[Task]] = {name: _heard(name, clips, conditions, (OURS,)) for name, clips in roles.items()}
    some = [*commands[: form.peers[0]], *readings[: form.peers[1]], *roles["grammar"][: form.peers[1]]]
    both = tuple(condition for condition in conditions if condition.decibels in PEERS_HEAR)
    found["peers"] = _heard("peers", some, both, engines)
    found["people"] = _heard("people", store.of(PEOPLE, "person"), conditions, engines)
    yours = [clip for clip in store.clips if clip.side == YOURS and clip.state]
    found["yours"] = _heard("yours", yours, conditions, engines)
    if options.noise is not None:
        found["yours"] += _heard("your noise", [*commands[: form.peers[0]], *readings[: form.peers[1]]],
                                 ladder("yours", form.ratios[1:]), engines)  # fmt: skip
    chosen = [*commands[: form.surroundings[0]], *readings[: form.surroundings[1]]]
    found["surroundings"] = _heard("surroundings", chosen, SURROUNDINGS, (OURS,))
    found["talk"] = _elsewhere("talk", HELD_OUT, conditions[::2], world)
    live = (*(condition for condition in conditions if condition.decibels in (None, 10.0, 0.0)), *PAUSED)
    found["ear"] = [
        (_through_ear, (clips, live), len(live) * sum(_EAR_SECONDS[clip.role == "reading"] for clip in clips))
        for clips in _batches([*commands[: form.ear[0]], *readings[: form.ear[1]]], 8)
    ]
    found["streams"] = _streams(form.hours, world, done)
    tuning = tuple(replace(condition, noise=condition.noise and "tuning") for condition in conditions)
    clips = store.of(TUNING, "command", "reading", "hold")
    found["tuning"] = _heard("tuning", clips, tuning, (OURS,)) + _elsewhere("tuning", TUNING, tuning[::2], world)
    if clips:
        found["tuning"] += [
            (_only_noise, (range(at, at + 20),), 20 * SECONDS[OURS][0]) for at in range(0, form.noise_alone, 20)
        ]
    return {name: found[name] for name in PARTS if name in options.parts}


def _batches(clips: Sequence[TrialClip], size: int) -> Iterator[list[TrialClip]]:
    """Those of one state together: a process makes a state ready once."""
    ordered = sorted(clips, key=lambda clip: clip.state)
    return (list(ordered[at : at + size]) for at in range(0, len(ordered), size))


def _heard(
    part: str,
    clips: Sequence[TrialClip],
    conditions: tuple[Condition, ...],
    engines: tuple[str, ...],
    elsewhere: str = "",
) -> list[Task]:
    each = [sum(SECONDS[name][slow] for name in engines) * len(conditions) for slow in (False, True)]
    return [
        (_hear, (part, batch, conditions, engines, elsewhere), sum(each[clip.role == "reading"] for clip in batch))
        for batch in _batches(clips, 8)
    ]


def _elsewhere(part: str, side: str, conditions: tuple[Condition, ...], world: TrialResources) -> list[Task]:
    """Talk to others, foreign speech, and what is allowed in another state, each where it means nothing."""
    chance = random.Random(f"{world.seed} {part}")
    units = [state.name for state in world.every.values() if state.kind == "reading"]
    holds = [state.name for state in world.every.values() if state.kind == "hold"]
    talk = world.store.of(side, "talk", "foreign")
    strange = [(clip, chance.choice(["command", chance.choice(units), chance.choice(holds)])) for clip in talk]
    answers = [clip for clip in world.store.of(side, "command") if clip.truth.startswith("Answer")]
    strange += [(clip, chance.choice(units + holds)) for clip in answers[: len(talk) // 3]]
    strange += [
        (clip, chance.choice(["command", *holds])) for clip in world.store.of(side, "reading")[: len(talk) // 3]
    ]
    by_state: dict[str, list[TrialClip]] = {}
    for clip, state in strange:
        by_state.setdefault(state, []).append(clip)
    return [task for state, clips in by_state.items() for task in _heard(part, clips, conditions, (OURS,), state)]


def _streams(hours: float, world: TrialResources, done: Collection[Piece]) -> list[Task]:
    """Two thirds of each stream at a hold point, with the commands that are allowed there, one third at a reading.

    The kinds take turns, so that a run that is broken off has heard as much of each.
    """
    states = {
        kind: [state.name for state in world.every.values() if state.kind == kind] for kind in ("hold", "reading")
    }
    seconds = min(STREAM_SECONDS, hours * 3600)
    found: list[Task] = []
    for number in range(max(1, round(hours * 3600 / seconds))):
        there = states["reading" if number % 3 == 2 else "hold"]
        state = there[number // 3 % len(there)]
        found += [
            (_stream, (kind, number, state, seconds), seconds * _STREAM_SHARE)
            for kind in STREAMS
            if (kind, number, world.seed) not in done
        ]
    return found


def pieces_done(out: Path) -> set[Piece]:
    """The pieces of streams that lie in the folder, from an earlier run or from another machine.

    A line that was torn when a run was ended is taken out of the file.
    """
    path = out / STREAM_ROWS
    if not path.is_file():
        return set()
    text = path.read_text(encoding="utf-8")
    if not text.endswith("\n"):
        text = text[: text.rfind("\n") + 1]
        path.write_text(text, encoding="utf-8")
    rows = [json.loads(line) for line in text.splitlines()]
    return {(row["kind"], row["number"], row["seed"]) for row in rows}


# --- in a process ---------------------------------------------------------------------------------------------------

_WORLDS: list[TrialResources] = []  # where forked processes find it


def _hear(
    part: str, clips: list[TrialClip], conditions: tuple[Condition, ...], engines: tuple[str, ...], elsewhere: str
) -> list[Row]:
    return [row for clip in clips for row in hear_clip(_WORLDS[0], part, clip, conditions, engines, elsewhere)]


def _through_ear(clips: list[TrialClip], conditions: tuple[Condition, ...]) -> list[Row]:
    return [row for clip in clips for row in through_ear(_WORLDS[0], clip, conditions)]


def _stream(kind: str, number: int, state: str, seconds: float) -> list[Row]:
    return [false_accepts(_WORLDS[0], kind, number, _WORLDS[0].every[state], seconds)]


def _only_noise(numbers: Sequence[int]) -> list[Row]:
    every = list(_WORLDS[0].every.values())
    heard = [state for state in every if state.kind in ("command", "reading", "hold")]
    return [only_noise(_WORLDS[0], number, heard[number % len(heard)]) for number in numbers]


def _footprint(name: str, encoder: str | Path, vosk: Path | None) -> float:
    """Most memory in MB of a fresh process that hears with this engine in the command state and two readings."""
    language = english()
    every = states(language)
    engine = open_engine(name, language, encoder, vosk)
    chance = np.random.default_rng(1)
    for state in ("command", "reading V", "reading kPa"):
        engine.ready(every[state])
        for _ in range(5):
            engine.hear((0.05 * chance.standard_normal(32_000)).astype(np.float32), every[state])
    status = Path("/proc/self/status").read_text(encoding="ascii")  # what getrusage says comes down from the parent
    return int(status.partition("VmHWM:")[2].split()[0]) / 1024


# --- running --------------------------------------------------------------------------------------------------------


def world_of(options: Options, store: Store) -> TrialResources:
    """What the trials need. Errors: EngineBayError when the speech was rendered for another grammar."""
    if options.grammar is not None and store.plan["grammar"] != planned(options)["grammar"]:
        raise EngineBayError(str(options.grammar), "the rendered speech has none of its sentences", "Render it again")
    language = english()
    every = states(language, options.grammar) | speech.person_states()
    strange = [clip.state for clip in store.clips if clip.state and clip.state not in every]
    if strange:
        raise EngineBayError(
            str(options.rendered), f"there is no state {strange[0]!r} any more", "Render the speech again"
        )
    talk = {
        "babble": [store.sound(clip) for clip in store.of(HELD_OUT, "talk")],
        "own voice": [store.sound(clip) for clip in store.of(HELD_OUT, "own")],
        "tuning talk": [store.sound(clip) for clip in store.of(TUNING, "talk")],
    }
    noises = Noises(options.form.banks, options.seed, talk, options.noise)
    return TrialResources(store, every, language, noises, options.seed, options.encoder, options.vosk)


def kinds_needed(parts: Sequence[str], store: Store) -> list[str]:
    """The kinds of noise of which banks are made before the processes begin."""
    kinds = list(ENGINES)
    kinds += [kind for kind in OTHERS if "surroundings" in parts]
    return kinds + [kind for kind in FOR_TUNING if "tuning" in parts and store.of(TUNING, "talk")]


def estimate(todo: dict[str, list[Task]]) -> dict[str, float]:
    """About how many minutes of one core each part takes."""
    return {name: sum(seconds for _, _, seconds in part) / 60 for name, part in todo.items()}


def run(
    options: Options,
    world: TrialResources,
    out: Path,
    step: Callable[[str, float, float], None] = lambda part, done, of: None,
) -> dict[str, object]:
    """Measures the parts that were asked for and keeps their rows, as they come, in `out/rows-PART.jsonl.gz`.

    Those of the streams are kept in `out/rows-streams.jsonl`: a run that was ended goes on there, and the lines of
    several machines may be put together, if each had a seed of its own.
    world: as of `world_of`, for the same options.
    step: (part, seconds of work done, seconds of work in all), by the estimate. Returns the facts of the run.
    """
    out.mkdir(parents=True, exist_ok=True)
    for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
        os.environ.setdefault(threads, "1")
    todo = tasks(options, world, pieces_done(out))
    world.noises.fill(kinds_needed(options.parts, world.store))
    _WORLDS[:] = [world]
    begun, whole, done = time.perf_counter(), sum(seconds for part in todo.values() for _, _, seconds in part), 0.0
    for name in todo:
        (out / f"rows-{name}.jsonl.gz").unlink(missing_ok=True)
    with _workers(options.workers) as submit:
        for name, seconds, found in submit([(name, task) for name, part in todo.items() for task in part]):
            done += seconds
            step(name, done, whole)
            if name == "streams":
                found = [row | {"on": machine()} for row in found]
            if found:
                with _added_to(out, name) as file:
                    file.writelines(json.dumps(row, ensure_ascii=False) + "\n" for row in found)
    return {
        "form": options.form.name, "seed": options.seed, "workers": options.workers, "parts": list(todo),
        "seconds": round(time.perf_counter() - begun), "encoder": Path(options.encoder).name,
        "minutes of speech": round(world.store.minutes, 1),
    }  # fmt: skip


def _added_to(out: Path, part: str) -> TextIO:
    """The file of a part's rows, for more of them."""
    if part == "streams":
        return (out / STREAM_ROWS).open("a", encoding="utf-8")
    return gzip.open(out / f"rows-{part}.jsonl.gz", "at", encoding="utf-8")


Outcome = tuple[str, float, list[Row]]


def _on_one_core() -> None:
    """Keeps this process on a core of its own.

    The voice detector starts four threads that wait for each other busily: sixteen processes of them on sixteen cores
    finished no piece of a stream in six minutes; each on a core of its own, all 265 in eight.
    """
    cores = sorted(os.sched_getaffinity(0))
    os.sched_setaffinity(0, {cores[multiprocessing.current_process()._identity[0] % len(cores)]})


@contextmanager
def _workers(count: int) -> Iterator[Callable[[list[tuple[str, Task]]], Iterator[Outcome]]]:
    """Hands tasks to forked processes, which share the sound; with one worker all is done here."""
    if count == 1:
        yield lambda todo: ((name, seconds, do(*args)) for name, (do, args, seconds) in todo)
        return
    with ProcessPoolExecutor(count, mp_context=multiprocessing.get_context("fork"), initializer=_on_one_core) as pool:

        def submit(todo: list[tuple[str, Task]]) -> Iterator[Outcome]:
            # The longest first, so that no process begins a long task when the others are done.
            ordered = sorted(todo, key=lambda item: -item[1][2])
            futures = {pool.submit(do, *args): (name, seconds) for name, (do, args, seconds) in ordered}
            for future in as_completed(futures):
                yield *futures.pop(future), future.result()

        yield submit


def memory(options: Options) -> dict[str, int]:
    """Most memory of each engine in MB, in a process of its own."""
    with ProcessPoolExecutor(1, mp_context=multiprocessing.get_context("spawn"), max_tasks_per_child=1) as fresh:
        return {
            name: round(fresh.submit(_footprint, name, options.encoder, options.vosk).result())
            for name in available_engines(options.vosk)
        }


def default_folder(options: Options) -> Path:
    """Where speech is rendered when no folder is named."""
    mark = hashlib.sha256(json.dumps(planned(options), sort_keys=True).encode()).hexdigest()[:12]
    return places.cache() / "measuring" / mark
