"""The demonstration: oil and filter of the *Marram*'s auxiliary set, by voice, in noise, by a synthetic technician."""

from __future__ import annotations

import random
import statistics
import time
from dataclasses import dataclass
from pathlib import Path

from assistant.app.attendance import Attendance
from assistant.app.rehearsed import RehearsedWorld, Tally
from assistant.app.watching import Watcher
from assistant.edge import places
from assistant.edge.clock import HandClock
from assistant.edge.ear import Ear, SileroDetector
from assistant.edge.hear import open_recogniser
from assistant.edge.language import Language, english
from assistant.edge.library import order_work
from assistant.edge.store import SessionFolder
from assistant.edge.voices import Voice, open_voice
from assistant.hearing.decoding import Recogniser
from assistant.rehearsal.technician import Technician
from assistant.rehearsal.throat import VOICES
from assistant.session.inputs import WorkOrdered
from assistant.session.visit import Outcome

ASSET, PROCEDURE = "marram-auxiliary", "oil-and-filter"
BEGINS = "2026-03-02T08:00:00+00:00"  # a rehearsed visit has a date of its own


@dataclass(frozen=True, slots=True)
class Senses:
    """What a visit needs of the machine; made once, used for many visits."""

    language: Language
    recogniser: Recogniser
    voice: Voice


def senses(engine: str = "bundled", model: Path | None = None, voice: str = "pyttsx3") -> Senses:
    """The language, the recogniser and the voice. Errors: RecogniserError, VoiceError, and of the files."""
    return Senses(english(), open_recogniser(engine, model), open_voice(voice, places.cache() / "speech"))


def rehearse(
    means: Senses,
    watcher: Watcher,
    seed: int,
    noise_db: float,
    root: Path,
    asset: str = ASSET,
    procedure: str = PROCEDURE,
    muted: int | None = None,
) -> dict[str, object]:
    """One rehearsed visit; returns the report of the `--json` line. root: where the session's folder is made."""
    begun = time.perf_counter()
    ordered = order_work(asset, (procedure,), "technician")
    clock = HandClock(BEGINS)
    folder = SessionFolder.create(root, f"{BEGINS[:10]}-{asset}-{procedure}-seed-{seed}", ordered.files)
    attendance = Attendance(ordered.work, folder, clock)
    technician = Technician(ordered.work.procedures[0], means.language.wording.forms, seed)
    throat = random.Random(seed).choice(VOICES)
    watcher.note(0.0, f"seed {seed}, technician's voice {throat}, engine noise at {noise_db:g} dB")
    ear = Ear(means.recogniser, means.language, SileroDetector())
    world = RehearsedWorld(
        attendance, folder, clock, ear, means.voice, means.language, technician, throat, noise_db, seed, watcher, muted
    )
    world.run(WorkOrdered(ordered.order))
    folder.close()
    return report(attendance, folder.folder, world.tally, time.perf_counter() - begun)


def report(attendance: Attendance, folder: Path, tally: Tally, seconds: float) -> dict[str, object]:
    """What the `--json` line says."""
    visit = attendance.visit
    kept = {id(reading) for reading in visit.readings}
    answers = sorted(tally.answer_seconds)
    return {
        "session": str(folder),
        "finished": visit.ended is not None and visit.ended.complete,
        "steps_done": sum(outcome is Outcome.DONE for outcome in visit.outcomes.values()),
        "readings": [
            {
                "name": fact.name,
                "unit": fact.quantity.unit,
                "true": true.split(" ")[0],
                "recorded": str(fact.quantity).split(" ")[0],
                "doubt": fact.doubt,
            }
            for fact, true in tally.true_values
            if id(fact) in kept
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
