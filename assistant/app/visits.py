"""Visits by a person: what they need, how they end, and what is reported of any visit."""

from __future__ import annotations

import statistics
import time
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from assistant.app.attendance import Attendance
from assistant.app.watching import Watcher
from assistant.edge.clock import Clock, HandClock, MachineClock
from assistant.edge.language import Language, english
from assistant.edge.library import OrderedWork, order_work
from assistant.edge.store import SessionFolder
from assistant.edge.voices.adjustable import AdjustableVoice
from assistant.hearing.decoding import Recogniser
from assistant.session import facts as f
from assistant.session.inputs import WorkOrdered
from assistant.session.visit import Outcome, Visit

DEMO_BEGINS = "2026-03-02T08:00:00+00:00"  # a visit whose waits pass at once has a date of its own


@dataclass(frozen=True, slots=True)
class Senses:
    """What a visit by voice needs of the machine; made once, used for many visits."""

    language: Language
    recogniser: Recogniser
    voice: AdjustableVoice


@dataclass(frozen=True, slots=True)
class Devices:
    """Number or part of the name of each device; None: the system's choice."""

    microphone: str | None = None
    loudspeaker: str | None = None


@dataclass(slots=True)
class Tally:
    """What an observer counts, who knows what was really said and measured."""

    utterances: int = 0
    accepted_right: int = 0
    accepted_wrong: int = 0
    asked_again: int = 0
    ignored: int = 0
    answer_seconds: list[float] = field(default_factory=list)
    true_values: list[tuple[f.ReadingRecorded, float | None]] = field(default_factory=list)


def attend(
    asset: str,
    procedure: str,
    technician: str,
    root: Path,
    watcher: Watcher,
    means: Senses,
    devices: Devices,
) -> dict[str, object]:
    """A visit with microphone and loudspeaker. Errors: AudioError without them, and of the files."""
    from assistant.app.live import LiveWorld
    from assistant.edge.ear import Ear, SileroDetector
    from assistant.edge.microphone import Microphone
    from assistant.edge.player import Player

    ordered = order_work(asset, (procedure,), technician)
    clock = MachineClock()
    with Microphone(devices.microphone) as microphone, closing(Player(devices.loudspeaker)) as player:
        attendance, folder = _begin(ordered, root, clock)
        ear = Ear(means.recogniser, means.language, SileroDetector())
        world = LiveWorld(attendance, folder, ear, means.voice, means.language, microphone, player, watcher)
        begun = time.perf_counter()
        world.run(WorkOrdered(ordered.order))
        folder.close()
    return report(attendance.visit, folder.folder, world.tally, time.perf_counter() - begun)


def attend_typed(
    asset: str, procedure: str, technician: str, root: Path, watcher: Watcher, waits_pass: bool
) -> dict[str, object]:
    """A visit on the terminal. waits_pass: pressing Enter ends a wait, for demonstrations. Errors: of the files."""
    from assistant.app.live import TypedWorld

    ordered = order_work(asset, (procedure,), technician)
    hand = HandClock(DEMO_BEGINS) if waits_pass else None
    attendance, folder = _begin(ordered, root, hand or MachineClock())
    begun = time.perf_counter()
    world = TypedWorld(attendance, english(), watcher, clock=hand)
    world.run(WorkOrdered(ordered.order))
    folder.close()
    return report(attendance.visit, folder.folder, world.tally, time.perf_counter() - begun)


def _begin(ordered: OrderedWork, root: Path, clock: Clock) -> tuple[Attendance, SessionFolder]:
    stamp = clock.now().wall[:16].replace(":", "")
    name = "-".join((stamp, ordered.order.asset, *ordered.order.tasks))
    folder = SessionFolder.create(root, name, ordered.files)
    return Attendance(ordered.work, folder, clock), folder


def report(visit: Visit, folder: Path, tally: Tally, seconds: float) -> dict[str, object]:
    """What is reported of a visit: the keys of the `--json` line. True values are None where nobody knows them."""
    answers = sorted(tally.answer_seconds)
    trues = {id(fact): true for fact, true in tally.true_values}
    return {
        "session": str(folder),
        "finished": visit.ended is not None and visit.ended.complete,
        "steps_done": sum(outcome is Outcome.DONE for outcome in visit.outcomes.values()),
        "readings": [
            {
                "name": reading.name,
                "unit": reading.quantity.unit,
                "true": trues.get(id(reading)),
                "recorded": float(reading.quantity.value),
                "doubt": reading.doubt,
            }
            for reading in visit.readings
        ],
        "utterances": tally.utterances,
        "accepted_right": tally.accepted_right,
        "accepted_wrong": tally.accepted_wrong,
        "asked_again": tally.asked_again,
        "answer_seconds": {
            "median": round(statistics.median(answers), 3) if answers else None,
            "p95": round(answers[min(len(answers) - 1, int(0.95 * len(answers)))], 3) if answers else None,
        },
        "real_seconds": round(seconds, 1),
    }


def in_words(outcome: Mapping[str, object]) -> str:
    """The report for a person."""
    readings = outcome["readings"]
    assert isinstance(readings, list)
    end = "finished" if outcome["finished"] else "not finished"
    lines = [f"The work is {end}: {outcome['steps_done']} steps done, {len(readings)} readings."]
    for reading in readings:
        true = "" if reading["true"] in (None, reading["recorded"]) else f" (true: {reading['true']:g})"
        doubt = f" in doubt: {reading['doubt']}" if reading["doubt"] else ""
        lines.append(f"  {reading['name']}: {reading['recorded']:g} {reading['unit']}{true}{doubt}")
    lines.append(f"The record: enginebay export {outcome['session']} --to html")
    return "\n".join(lines)
