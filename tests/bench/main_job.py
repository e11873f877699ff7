"""The main job, measured on one core: decoding, answering, memory, start, journal, fold.

    python -m tests.bench.main_job [--json FILE] [--seed N]

Prints a table of figures beside their aims. Nothing here asserts: absolute times belong to a machine.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from assistant.app.demo import rehearse, speech_setup
from assistant.app.visits import SpeechSetup
from assistant.app.watching import NoWatcher
from assistant.dialogue.commands import WHILE_ASKING, offers
from assistant.edge.files.store import SessionFolder, read_session
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.units import reading_offer
from assistant.meanings import Amount
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician_voice import VOICES, speak
from assistant.session.applying import fold
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope, Instant

COMMANDS = ("next", "say again", "more details", "where am I", "correction", "stand by", "skip this step")
READINGS = (
    "three hundred and twenty kilopascals",
    "seven decimal five kilopascals",
    "one two zero kilopascals",
    "four hundred and five point five",
)
NOISE_DB = 10.0
WARM_WHILE_SPEAKING = 200
JOURNAL_LINES, FOLDED = 500, 10_000


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure. aim: the number wanted, in the same unit; count: how many it rests on."""

    name: str
    value: float
    unit: str
    aim: float
    count: int


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which this share of the values lies; nearest rank."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


def decoding(means: SpeechSetup, phrases: Sequence[str]) -> list[float]:
    """Milliseconds of decoding for each phrase in each voice, in the state of a reading in kilopascals."""
    state = Expectation((Offer(reading_offer("kPa"), Amount, Risk.READING), *offers(WHILE_ASKING)))
    graph = means.language.graph(state)
    means.recogniser.prepare(graph)
    means.recogniser.warm(graph, WARM_WHILE_SPEAKING)  # as while the question is being spoken
    taken = []
    for number, voice in enumerate(VOICES):
        for phrase in phrases:
            speech = speak(phrase, voice)
            sound = mix(speech, engine_noise(len(speech) / 16_000, number)[: len(speech)], NOISE_DB)
            begun = time.perf_counter()
            means.recogniser.hear(sound, graph)
            taken.append((time.perf_counter() - begun) * 1000)
    return taken


def cold_start() -> float:
    """Seconds from starting a new process to the first rendered word, nothing of it loaded before."""
    program = (
        "from assistant.app.demo import senses, ASSET, TASKS\n"
        "from assistant.edge.files.library import order_visit\n"
        "from assistant.dialogue.messages import WorkBegins\n"
        "work = order_visit(ASSET, TASKS, 'technician').work\n"
        "means = senses()\n"
        "means.voice.render(means.language.wording.aloud(WorkBegins(work.title, work.asset, len(work.steps))))\n"
        "means.voice.close()\n"
    )
    with tempfile.TemporaryDirectory() as cache:
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-c", program], check=True, env={**os.environ, "XDG_CACHE_HOME": cache})
        return time.perf_counter() - begun


def journal(folder: Path, root: Path) -> tuple[list[float], list[tuple[Fact, Instant]]]:
    """Milliseconds a line of a real session takes to disk, repeated; and all facts of that session."""
    read = read_session(folder)
    store = SessionFolder.create(root, "bench", {})
    taken = []
    for number in range(JOURNAL_LINES):
        entry = read.entries[number % len(read.entries)]
        envelope = Envelope(number + 1, entry.envelope.at, entry.envelope.input)
        taken.append(_milliseconds(lambda e=envelope, f=entry.facts: store.append(e, f)))
    store.close()
    return taken, list(read.facts())


def _milliseconds(work: Callable[[], object]) -> float:
    begun = time.perf_counter()
    work()
    return (time.perf_counter() - begun) * 1000


def measure(seed: int) -> list[Figure]:
    """All figures; progress goes to standard error."""

    def doing(what: str) -> None:
        print(f"  {what} ...", file=sys.stderr, flush=True)

    doing("cold start")
    start = [cold_start() for _ in range(3)]
    means = speech_setup()
    doing("decoding commands")
    commands = decoding(means, COMMANDS)
    doing("decoding readings")
    readings = decoding(means, READINGS)
    with tempfile.TemporaryDirectory() as root:
        doing("a whole visit")
        outcome = rehearse(means, NoWatcher(), seed, NOISE_DB, Path(root))
        memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        answers = outcome["answer_seconds"]
        assert isinstance(answers, dict)
        doing("journal")
        lines, facts = journal(Path(str(outcome["session"])), Path(root))
        # A decision has about two facts; the same visit folded again and again until 10,000 decisions are done.
        decisions = len(read_session(Path(str(outcome["session"]))).entries)
        times = -(-FOLDED // decisions)
        folding = _milliseconds(lambda: [fold(facts) for _ in range(times)]) / 1000 * FOLDED / (times * decisions)
    means.voice.close()
    return [
        Figure("decoding of a command, median", statistics.median(commands), "ms", 120, len(commands)),
        Figure("decoding of a command, 95th percentile", percentile(commands, 0.95), "ms", 0, len(commands)),
        Figure("decoding of a reading, median", statistics.median(readings), "ms", 250, len(readings)),
        Figure("decoding of a reading, 95th percentile", percentile(readings, 0.95), "ms", 0, len(readings)),
        Figure("end of speech to answer, median", answers["median"] * 1000, "ms", 500, 1),
        Figure("end of speech to answer, 95th percentile", answers["p95"] * 1000, "ms", 0, 1),
        Figure("resident memory", memory, "MB", 400, 1),
        Figure("cold start to first word", statistics.median(start), "s", 4, len(start)),
        Figure("journal line on disk, 99th percentile", percentile(lines, 0.99), "ms", 20, len(lines)),
        Figure("folding 10,000 decisions", folding, "s", 0.5, 1),
    ]


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--json", type=Path, help="write the figures here too")
    parser.add_argument("--seed", type=int, default=1, help="of the visit")
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {sorted(os.sched_getaffinity(0))[0]})
    figures = measure(options.seed)
    machine = f"{platform.machine()}, one core, Python {platform.python_version()}, numpy {np.__version__}"
    print(f"{datetime.date.today()}, {machine}")
    for figure in figures:
        aim = f"aim {figure.aim:g}" if figure.aim else ""
        print(f"{figure.name:<44}{figure.value:>9.2f} {figure.unit:<3} {aim:<9} n = {figure.count}")
    if options.json:
        rows = [
            {"name": f.name, "value": round(f.value, 3), "unit": f.unit, "aim": f.aim or None, "n": f.count}
            for f in figures
        ]
        report = {"date": str(datetime.date.today()), "machine": machine, "figures": rows}
        options.json.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
