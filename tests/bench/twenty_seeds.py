"""Whole visits by sound, one for each seed: does each end, and is every reading true or in doubt?

    python -m tests.bench.twenty_seeds [--seeds 20] [--noise-db 10] [--json FILE]

Prints a line for each visit as it ends, then the totals. Leaves with 1 when a visit did not end, or when a reading was
recorded that is not the true one and carries no doubt. The sessions are made in a folder that is removed afterwards,
unless --keep names one. Times are those of this machine; sound is synthetic, so accuracy is too.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from assistant.app.demo import rehearse, speech_setup
from assistant.app.visits import SpeechSetup
from assistant.app.watching import NoWatcher, SpokenUtterance
from assistant.hearing.ear import HeardUtterance
from assistant.hearing.judgement import HearingVerdict


class Counting(NoWatcher):
    """Counts what the report does not tell. voice: of the technician; ignored: utterances that were taken for none."""

    def __init__(self) -> None:
        self.voice = ""
        self.ignored = 0

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        """Somebody spoke and the ear made something of it."""
        self.ignored += found.verdict is HearingVerdict.IGNORE

    def note(self, at: float, text: str) -> None:
        """The first note tells the voice."""
        if not self.voice:
            self.voice = text.partition("voice ")[2].partition(",")[0]


@dataclass(frozen=True)
class Result:
    """One visit. wrong: readings that are not the true ones; silent: those of them without a doubt; in seconds."""

    seed: int
    voice: str
    finished: bool
    steps_done: int
    readings: int
    wrong: int
    silent: int
    utterances: int
    accepted_right: int
    accepted_wrong: int
    asked_again: int
    ignored: int
    answer_median: float
    answer_p95: float
    seconds: float


def visit(means: SpeechSetup, seed: int, noise_db: float, root: Path) -> Result:
    """One rehearsed visit, counted."""
    watcher = Counting()
    told: dict[str, Any] = rehearse(means, watcher, seed=seed, noise_db=noise_db, root=root)
    wrong = [reading for reading in told["readings"] if reading["recorded"] != reading["true"]]
    return Result(
        seed,
        watcher.voice,
        told["finished"],
        told["steps_done"],
        len(told["readings"]),
        len(wrong),
        sum(not reading["doubt"] for reading in wrong),
        told["utterances"],
        told["accepted_right"],
        told["accepted_wrong"],
        told["asked_again"],
        watcher.ignored,
        told["answer_seconds"]["median"],
        told["answer_seconds"]["p95"],
        told["real_seconds"],
    )


HEADINGS = (
    "seed",
    "voice",
    "end",
    "steps",
    "readings",
    "wrong",
    "silent",
    "said",
    "right",
    "false",
    "again",
    "ignored",
)
TIMES = ("median s", "p95 s", "visit s")


def row(result: Result) -> str:
    """A line of the table."""
    counts = (
        *(result.steps_done, result.readings, result.wrong, result.silent, result.utterances),
        *(result.accepted_right, result.accepted_wrong, result.asked_again, result.ignored),
    )
    numbers = " ".join(f"{number:>{len(name)}}" for number, name in zip(counts, HEADINGS[3:], strict=True))
    times = (result.answer_median, result.answer_p95, result.seconds)
    measured = " ".join(f"{time:>{len(name)}.2f}" for time, name in zip(times, TIMES, strict=True))
    return f"{result.seed:>4} {result.voice:<22} {'yes' if result.finished else 'NO':<3} {numbers} {measured}"


def totals(results: list[Result]) -> str:
    """What all visits come to."""

    def sum_of(name: str) -> int:
        return sum(getattr(result, name) for result in results)

    accepted = sum_of("accepted_right") + sum_of("accepted_wrong")
    medians = [result.answer_median for result in results]
    return "\n".join(
        (
            f"visits ended: {sum_of('finished')} of {len(results)}",
            f"readings: {sum_of('readings')}, not the true one: {sum_of('wrong')}, of these without a doubt: "
            f"{sum_of('silent')}",
            f"utterances: {sum_of('utterances')}, accepted: {accepted} (false: {sum_of('accepted_wrong')}), "
            f"asked again: {sum_of('asked_again')}, ignored: {sum_of('ignored')}",
            f"end of speech to answer: {statistics.median(medians):.2f} s (median of medians), "
            f"{max(result.answer_p95 for result in results):.2f} s (worst 95th percentile)",
            f"seconds for a visit: {statistics.mean(result.seconds for result in results):.1f} on average",
        )
    )


def main() -> int:
    """Runs the seeds; returns the exit status."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=20, help="how many, from --first on")
    parser.add_argument("--first", type=int, default=1, help="the first seed")
    parser.add_argument("--noise-db", type=float, default=10.0, help="speech above the noise, in decibels")
    parser.add_argument("--json", type=Path, help="write all figures into this file")
    parser.add_argument("--keep", type=Path, help="make the sessions in this folder and keep them")
    arguments = parser.parse_args()
    means = speech_setup()
    results: list[Result] = []
    print(f"engine noise at {arguments.noise_db:g} dB")
    numbers = " ".join(HEADINGS[3:])
    print(f"seed {'voice':<22} end {numbers} {' '.join(TIMES)}", flush=True)
    with tempfile.TemporaryDirectory() as spare:
        for seed in range(arguments.first, arguments.first + arguments.seeds):
            results.append(visit(means, seed, arguments.noise_db, arguments.keep or Path(spare)))
            print(row(results[-1]), flush=True)
    print(totals(results))
    if arguments.json:
        figures = {"noise_db": arguments.noise_db, "visits": [asdict(result) for result in results]}
        arguments.json.write_text(json.dumps(figures, indent=1) + "\n", encoding="utf-8")
    return int(any(not result.finished or result.silent for result in results))


if __name__ == "__main__":
    sys.exit(main())
