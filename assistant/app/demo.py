"""The demonstration: oil and filter of the *Marram*'s auxiliary set, by voice, in noise, by a synthetic technician."""

from __future__ import annotations

import random
import time
from pathlib import Path

from assistant.app.attendance import Attendance
from assistant.app.rehearsed import RehearsedWorld
from assistant.app.visits import Senses, report
from assistant.app.watching import Watcher
from assistant.edge import places
from assistant.edge.clock import HandClock
from assistant.edge.ear import Ear, SileroDetector
from assistant.edge.hear import open_recogniser
from assistant.edge.language import english
from assistant.edge.library import order_work
from assistant.edge.player import Player
from assistant.edge.store import SessionFolder
from assistant.edge.voices.adjustable import open_adjustable
from assistant.rehearsal.technician import Technician
from assistant.rehearsal.throat import VOICES
from assistant.session.inputs import WorkOrdered

ASSET, PROCEDURE = "marram-auxiliary", "oil-and-filter"
BEGINS = "2026-03-02T08:00:00+00:00"  # a rehearsed visit has a date of its own


def senses(engine: str = "bundled", model: Path | None = None, voice: str = "pyttsx3") -> Senses:
    """The language, the recogniser and the voice. Errors: RecogniserError, VoiceError, and of the files."""
    return Senses(english(), open_recogniser(engine, model), open_adjustable(voice, places.cache() / "speech"))


def rehearse(
    means: Senses,
    watcher: Watcher,
    seed: int,
    noise_db: float,
    root: Path,
    asset: str = ASSET,
    procedure: str = PROCEDURE,
    muted: int | None = None,
    player: Player | None = None,
) -> dict[str, object]:
    """One rehearsed visit; returns the report of the `--json` line. root: where the session's folder is made.

    muted: number of an utterance that is replaced by silence; player: to hear both voices.
    """
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
        attendance,
        folder,
        clock,
        ear,
        means.voice,
        means.language,
        technician,
        throat,
        noise_db,
        seed,
        watcher,
        muted,
        player,
    )
    world.run(WorkOrdered(ordered.order))
    folder.close()
    return report(attendance.visit, folder.folder, world.tally, time.perf_counter() - begun)
