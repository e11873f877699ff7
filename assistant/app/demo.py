"""The demonstration: a visit to the *Marram*'s auxiliary set, by voice, in noise, by a synthetic technician.

Knows how a rehearsal is put together, and how its power is cut and comes back. Refuses to know what is said in it.
"""

from __future__ import annotations

import datetime
import random
import time
from pathlib import Path

from assistant.app.rehearsed import PowerCut, RehearsedWorld
from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import SpeechSetup, Tally, order, report, take_up
from assistant.app.watching import Watcher
from assistant.dialogue.work import Work
from assistant.edge import places
from assistant.edge.clock import HandClock
from assistant.edge.files.language import english
from assistant.edge.files.store import SessionFolder
from assistant.edge.sound.detached import DetachedPlayer
from assistant.edge.sound.hear import open_recogniser
from assistant.edge.sound.voice_detector import SileroDetector
from assistant.edge.sound.voices.adjustable import open_adjustable
from assistant.engine_state import Known
from assistant.errors import EngineBayError
from assistant.hearing.ear import Ear
from assistant.rehearsal.technician import Technician
from assistant.rehearsal.technician_voice import VOICES
from assistant.session.inputs import Input, WorkOrdered, WorkResumed

ASSET, TASKS = "marram-auxiliary", ("oil-and-filter",)
WHOLE_VISIT = ("test-run", "oil-and-filter", "coolant", "belt")
BEGINS = "2026-03-02T08:00:00+00:00"  # a rehearsed visit has a date of its own
ISOLATED = "isolated"  # the variable of the engine's state that a rehearsed break shows lost and proved again
AWAY = (20, 180)  # minutes without power
COMES_BACK = "supervisor"  # the role that takes the work up again


class PowerSupply:
    """The power of a rehearsal. It fails once, at an input from the seed, while the open step relies on isolation.

    Such a step takes two inputs at least, so the moment comes before the last of them is done. Errors: EngineBayError
    when no step relies on isolation.
    """

    def __init__(self, work: Work, seed: int) -> None:
        relying = sum(placed.step.needs.get(ISOLATED) is Known.YES for placed in work.steps)
        if not relying:
            cause = f"no step of {work.title} needs the set isolated, so there is no moment to show it"
            raise EngineBayError("an interruption", cause, "Interrupt a procedure in which a step does")
        self.chance = random.Random(f"power {seed}")
        self._left = self.chance.randint(1, 2 * relying)

    def fails(self, owner: VisitOwner, clock: HandClock) -> bool:
        """Whether the power fails now, after a decision was written down."""
        visit = owner.visit
        if visit.focus is None or owner.work.at(visit.focus).step.needs.get(ISOLATED) is not Known.YES:
            return False
        if visit.known(ISOLATED, clock.now()) is Known.YES:
            self._left -= 1
        return self._left <= 0


def speech_setup(engine: str = "bundled", model: Path | None = None, voice: str = "pyttsx3") -> SpeechSetup:
    """The language, the recogniser and the voice. Errors: RecogniserError, VoiceError, and of the files."""
    return SpeechSetup(english(), open_recogniser(engine, model), open_adjustable(voice, places.cache() / "speech"))


def rehearse(
    means: SpeechSetup,
    watcher: Watcher,
    seed: int,
    noise_db: float,
    root: Path,
    asset: str = ASSET,
    tasks: tuple[str, ...] = TASKS,
    muted: int | None = None,
    player: DetachedPlayer | None = None,
    interrupt: bool = False,
) -> dict[str, object]:
    """One rehearsed visit; returns the report of the `--json` line.

    root: where the session's folder is made.
    muted: number of an utterance that is replaced by silence.
    player: to hear both voices.
    interrupt: the power is cut in the middle of the work, and another boot goes on from the session's folder alone.
    """
    begun = time.perf_counter()
    ordered = order(asset, tasks, "technician", root)
    supply = PowerSupply(ordered.work, seed) if interrupt else None
    technician = Technician(ordered.work.procedures, means.language.wording.forms, seed, asks=len(tasks) > 1)
    speaker = random.Random(seed).choice(VOICES)
    watcher.note(0.0, f"seed {seed}, technician's voice {speaker}, engine noise at {noise_db:g} dB")
    tally = Tally()

    def play(
        owner: VisitOwner, folder: SessionFolder, clock: HandClock, given: Input, power: PowerSupply | None
    ) -> None:
        """Until the work ends or the power fails: a world, and an ear, that know nothing of another one."""
        world = RehearsedWorld(
            owner,
            folder,
            clock,
            Ear(means.recogniser, means.language.graph, SileroDetector(), time.perf_counter),
            means.voice,
            means.language,
            technician,
            speaker,
            noise_db,
            seed,
            watcher,
            muted,
            player,
            tally,
            None if power is None else lambda attending: power.fails(attending, clock),
        )
        try:
            world.run(given)
        finally:
            folder.close()

    clock = HandClock(BEGINS)
    folder = SessionFolder.create(root, f"{BEGINS[:10]}-{'-'.join((asset, *tasks))}-seed-{seed}", ordered.files)
    owner = VisitOwner(ordered.work, folder, clock)
    try:
        play(owner, folder, clock, WorkOrdered(ordered.order), supply)
    except PowerCut:
        assert supply is not None
        minutes = supply.chance.randint(*AWAY)
        watcher.note(
            clock.seconds,
            f"the power is cut; {minutes} min later the {COMES_BACK} takes the work up again from {folder.folder.name}",
        )
        clock = HandClock(_later(clock, minutes), boot="after the power cut")
        owner, folder, check = take_up(folder.folder, clock)
        play(owner, folder, clock, WorkResumed(COMES_BACK, check), None)
    return report(owner.visit, folder.folder, tally, time.perf_counter() - begun)


def _later(clock: HandClock, minutes: int) -> str:
    wall = datetime.datetime.fromisoformat(clock.now().wall) + datetime.timedelta(minutes=minutes)
    return wall.isoformat(timespec="milliseconds")
