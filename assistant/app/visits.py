"""Visits by a person: what they need, how they begin, how one that broke off is taken up again, how they end, and what
is reported of any visit. Knows the sessions' folders; leaves what happens during a visit to the worlds.
"""

from __future__ import annotations

import os
import shlex
import statistics
import time
from collections.abc import Callable, Mapping
from contextlib import ExitStack, closing
from dataclasses import dataclass, field, replace
from pathlib import Path

from assistant.app.visit_owner import VisitOwner
from assistant.app.watching import Watcher
from assistant.dialogue.work import Work, lay_out
from assistant.edge import places
from assistant.edge.checking.models import EQUIPMENT
from assistant.edge.clock import Clock, HandClock, MachineClock
from assistant.edge.files.arrivals import at_work, newest_moment, opening_lock
from assistant.edge.files.evidence import read_evidence
from assistant.edge.files.histories import sessions_of
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import OrderedWork, order_visit, order_work, plans_visits, read_files
from assistant.edge.files.shipped_words import english_words
from assistant.edge.files.store import (
    JOURNAL,
    PROCEDURES,
    SessionFolder,
    first_input,
    is_held_open,
    read_copy,
    read_session,
    replace_copy,
)
from assistant.edge.keyboard import Keyboard
from assistant.edge.pages.plans import due_now
from assistant.edge.sound.voices.adjustable import AdjustableVoice
from assistant.errors import EngineBayError, JournalError, RecordError
from assistant.hearing.decoding import Recogniser
from assistant.quantities import counted
from assistant.session import facts as f
from assistant.session.applying import fold
from assistant.session.inputs import AtWork, Input, OpeningCheck, Order, WorkOrdered, WorkResumed
from assistant.session.journal import Journal
from assistant.session.visit import StepOutcome, Visit

DEMO_BEGINS = "2026-03-02T08:00:00+00:00"  # a visit whose waits pass at once has a date of its own


@dataclass(frozen=True, slots=True)
class SpeechSetup:
    """What a visit by voice needs of the machine; made once, used for many visits."""

    language: Language
    recogniser: Recogniser
    voice: AdjustableVoice


@dataclass(frozen=True, slots=True)
class Devices:
    """The devices of a visit by voice.

    microphone, loudspeaker: number or part of the name of each; None: the system's choice.
    headset: the microphone does not hear the loudspeaker.
    button: a talk button, `pin:17` or `key:pedal/KEY_F13`; None: there is none.
    """

    microphone: str | None = None
    loudspeaker: str | None = None
    headset: bool = False
    button: str | None = None


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


@dataclass(frozen=True, slots=True)
class BrokenOff:
    """A session whose work has not ended.

    technician: the role that worked last.
    last: wall time of its last line.
    """

    folder: Path
    order: Order
    technician: str
    done: int
    steps: int
    last: str

    @property
    def command(self) -> str:
        """The command that takes it up again."""
        return f"enginebay resume {shlex.quote(str(self.folder))}"


_Opening = Callable[[Clock], tuple[VisitOwner, SessionFolder, Input]]
"""Makes or opens a session: its owner, its folder, and the input with which it goes on."""


def order(asset: str, names: tuple[str, ...], technician: str, root: Path) -> OrderedWork:
    """The work on an asset. names: tasks, of which a visit is planned, or else procedures, done one after another;
    none: the tasks that are due. root: where the asset's earlier sessions lie.

    Errors: ProcedureError for what is not there and for faults in files; EngineBayError when nothing is due.
    """
    if not plans_visits(asset):
        if not names:
            cause = "no visit to it can be planned, so a procedure has to be named"
            raise EngineBayError(f"asset {asset!r}", cause, "Name one: enginebay work ASSET PROCEDURE")
        return order_work(asset, names, technician)
    tasks = names or due_now(asset, root)
    if not tasks:
        raise EngineBayError(
            f"asset {asset!r}",
            "nothing is due on it before the next visit",
            "Name the tasks that you want to do all the same: enginebay work ASSET TASK...",
        )
    return order_visit(asset, tasks, technician)


def start_by_voice(
    ordered: OrderedWork, root: Path, watcher: Watcher, means: SpeechSetup, devices: Devices, beside: bool = False
) -> dict[str, object]:
    """A visit with microphone and loudspeaker. beside: also when somebody else is at work on the asset.

    Errors: AudioError without them, EngineBayError when somebody is at work on the asset, and of the files.
    """
    _tell_damage(ordered.order.asset, root, watcher)
    return _by_voice(lambda clock: _begin(ordered, root, clock, beside), watcher, means, devices)


def start_typed(
    ordered: OrderedWork, root: Path, watcher: Watcher, waits_pass: bool, beside: bool = False
) -> dict[str, object]:
    """A visit on the terminal.

    waits_pass: pressing Enter ends a wait, for demonstrations.
    beside: as of `start_by_voice`.

    Errors: EngineBayError when somebody is at work on the asset, and of the files.
    """
    hand = HandClock(DEMO_BEGINS) if waits_pass else None
    _tell_damage(ordered.order.asset, root, watcher)
    return _on_terminal(lambda clock: _begin(ordered, root, clock, beside), watcher, hand)


def resume_by_voice(
    session: Path, technician: str | None, watcher: Watcher, means: SpeechSetup, devices: Devices, beside: bool = False
) -> dict[str, object]:
    """A visit that broke off, taken up again by voice.

    technician: the role; None: the one that worked last.
    beside: as of `start_by_voice`.

    Errors: as of `take_up`, and AudioError.
    """
    _tell_damage(look_up(session).order.asset, session.resolve().parent, watcher)
    return _by_voice(lambda clock: _go_on(session, technician, clock, beside, watcher), watcher, means, devices)


def resume_typed(session: Path, technician: str | None, watcher: Watcher, beside: bool = False) -> dict[str, object]:
    """A visit that broke off, taken up again on the terminal. Errors: as of `take_up`."""
    _tell_damage(look_up(session).order.asset, session.resolve().parent, watcher)
    return _on_terminal(lambda clock: _go_on(session, technician, clock, beside, watcher), watcher, None)


def look_up(session: Path) -> BrokenOff:
    """A session that can be taken up again; changes nothing.

    Errors: RecordError when it is no session, when nothing was begun in it or its work has ended, and when the
    procedures that it was ordered with are not there any more; JournalError when its journal is damaged;
    ProcedureError when this program cannot read its procedures.
    """
    journal = read_session(session)
    visit, order = _unended(session, journal)
    work = kept_work(session, order).as_planned(visit.plan)
    return _as_broken_off(session, journal, visit, order, len(work.steps))


def take_up(session: Path, clock: Clock, beside: bool = False) -> tuple[VisitOwner, SessionFolder, OpeningCheck]:
    """A session that broke off, open, and what was found then: its next input is `WorkResumed`.

    The work is laid out from the session's own copies, the visit folded from its journal, the asset's earlier sessions
    are those that lie beside it. beside: also when somebody else is at work on the asset. Errors: as of `look_up`,
    JournalError when another process has it open, and EngineBayError when somebody is at work on the asset.
    """
    look_up(session)  # what is refused is left as it is
    session = session.resolve()
    root = session.parent
    with opening_lock(root):
        folder, journal = SessionFolder.reopen(session)
        try:
            visit, order = _unended(session, journal)
            others = others_at_work(root, order.asset, beside, session)
            replaced = _mend_copies(session, order)
            work = replace(kept_work(session, order), earlier=sessions_of(root, order.asset).facts(journal.last_hash))
            loose = sum(name.endswith(".flac") for name in folder.set_aside)
            check = _checked(root, clock, others, session)
            return (
                VisitOwner(work, folder, clock, visit),
                folder,
                replace(check, loose=loose, set_aside=folder.set_aside, replaced=replaced),
            )
        except EngineBayError:
            folder.close()
            raise


def broken_off(root: Path, asset: str, names: tuple[str, ...]) -> tuple[list[BrokenOff], list[EngineBayError]]:
    """The sessions of the same work that broke off and that nobody has open, the last one first, and what is wrong with
    those that cannot be taken up.

    names: of its tasks or procedures; none: any work on the asset.
    root: where session folders lie; it need not be there.
    """
    found: list[BrokenOff] = []
    wrong: list[EngineBayError] = []
    for path in sorted(root.glob(f"*/{JOURNAL}")):
        try:
            order = _first_order(path)
            if order is None or order.asset != asset or names not in ((), order.tasks) or is_held_open(path.parent):
                continue
            journal = read_session(path.parent)
            visit = fold(journal.facts())
            if visit.ended is None:
                work = kept_work(path.parent, order).as_planned(visit.plan)
                found.append(_as_broken_off(path.parent, journal, visit, order, len(work.steps)))
        except EngineBayError as error:
            if not _was_ended(path.parent):
                wrong.append(error)
        except OSError as error:
            cause = f"it cannot be read ({error.strerror})"
            wrong.append(RecordError(str(path), cause, "See that it is a file and that you may read it"))
    return sorted(found, key=lambda entry: entry.last, reverse=True), wrong


def _was_ended(session: Path) -> bool:
    """Whether the work of a session ended, as far as what holds of it tells."""
    try:
        journal, _ = read_evidence(session)
    except EngineBayError:
        return False
    return any(isinstance(fact, f.WorkEnded) for fact, _ in journal.facts())


def kept_work(session: Path, order: Order) -> Work:
    """The work of a session, from its own copies of the procedures, which must be what was ordered.

    Errors: RecordError when a copy is missing or differs, ProcedureError when it cannot be read as a procedure.
    """
    files: dict[str, bytes] = {}
    for copy in order.copies:
        path = session / PROCEDURES / copy.name
        data = read_copy(path, copy.sha256) or read_copy(_installed(order, copy.name), copy.sha256)
        if data is None and not os.path.lexists(path):
            raise RecordError(str(path), "it is missing, and the work goes by it", "Restore it from a copy")
        if data is None:
            cause = "it is not what the work was begun with: its SHA-256 is not the one in the journal"
            raise RecordError(str(path), cause, "Restore it from a copy")
        files[copy.name] = data
    if EQUIPMENT not in files:
        raise RecordError(str(session), f"no {EQUIPMENT} was ordered with its work", "Begin the work anew")
    equipment, procedures = read_files(files, f"{session.name}/{PROCEDURES}")
    return lay_out(equipment, order.asset, procedures)


def _tell_damage(asset: str, root: Path, watcher: Watcher) -> None:
    """Earlier sessions that could not be read whole keep no visit from beginning; they are told of."""
    for sentence in sessions_of(root, asset).wrong:
        watcher.note(0.0, sentence)


def _installed(order: Order, name: str) -> Path:
    """Where a file of these procedures would be if it were installed."""
    return places.procedures() / Path(order.model).name / Path(name).name


def _mend_copies(session: Path, order: Order) -> tuple[str, ...]:
    """Copies of procedures that do not hold are replaced by what is installed, if that has the same hash. Their names.

    Errors: JournalError when they cannot be written.
    """
    mended = []
    for copy in order.copies:
        if read_copy(session / PROCEDURES / copy.name, copy.sha256) is not None:
            continue
        data = read_copy(_installed(order, copy.name), copy.sha256)
        if data is not None:
            try:
                replace_copy(session, copy.name, data)
            except OSError as error:
                place, cause = str(session / PROCEDURES / copy.name), f"it cannot be written ({error.strerror})"
                raise JournalError(place, cause, "Free or repair the disk") from None
            mended.append(copy.name)
    return tuple(mended)


def others_at_work(root: Path, asset: str, beside: bool, session: Path | None = None) -> tuple[AtWork, ...]:
    """Who else is at work on the asset. session: one that does not count.

    Errors: EngineBayError when somebody is, unless `beside`.
    """
    others = at_work(root, asset, session)
    if others and not beside:
        other = others[0]
        since = f" since {other.since[:10]} {other.since[11:16]} UTC" if other.since else ""
        raise EngineBayError(
            f"asset {asset!r}",
            f"the {other.technician} is at work on it{since}, in {other.session}",
            "Let that work end first; where two are to work on it at once, add --beside, and the record says so",
        )
    return others


def _checked(root: Path, clock: Clock, others: tuple[AtWork, ...], session: Path | None = None) -> OpeningCheck:
    """The opening check. The clock of a rehearsal is held against nothing."""
    newest, name = newest_moment(root, session) if isinstance(clock, MachineClock) else ("", "")
    return OpeningCheck(newest, name, others)


def _unended(session: Path, journal: Journal) -> tuple[Visit, Order]:
    if any(isinstance(fact, f.SalvageMade) for fact, _ in journal.facts()):
        cause = "it is the salvage of a damaged session, and lines are missing in it"
        raise RecordError(str(session), cause, "Begin the work anew with enginebay work")
    visit = fold(journal.facts())
    if visit.order is None:
        raise RecordError(str(session), "nothing was begun in this session", "Begin the work with enginebay work")
    if visit.ended is not None:
        how = (
            "it is complete"
            if visit.ended.complete
            else f"it was left incomplete: {english_words().text(visit.ended.because)}"
        )
        place = shlex.quote(str(session))
        raise RecordError(
            str(session),
            f"this work has ended; {how}",
            f"Read its record with enginebay export {place} --to html, or begin new work with enginebay work",
        )
    return visit, visit.order


def _as_broken_off(session: Path, journal: Journal, visit: Visit, order: Order, steps: int) -> BrokenOff:
    last = journal.entries[-1].envelope.at.wall
    return BrokenOff(session, order, visit.technician, len(visit.outcomes), steps, last)


def _first_order(path: Path) -> Order | None:
    """What a session orders; None where it orders nothing, or its first line is damaged."""
    try:
        given = first_input(path)
    except JournalError:
        return None
    return given.order if isinstance(given, WorkOrdered) else None


def _begin(ordered: OrderedWork, root: Path, clock: Clock, beside: bool) -> tuple[VisitOwner, SessionFolder, Input]:
    order = ordered.order
    stamp = clock.now().wall[:16].replace(":", "")
    name = "-".join((stamp, order.asset, *order.tasks))
    work = replace(ordered.work, earlier=sessions_of(root, order.asset).facts())
    with opening_lock(root):
        check = _checked(root, clock, others_at_work(root, order.asset, beside))
        folder = SessionFolder.create(root, name, ordered.files)
    return VisitOwner(work, folder, clock), folder, WorkOrdered(order, check)


def _go_on(
    session: Path, technician: str | None, clock: Clock, beside: bool, watcher: Watcher
) -> tuple[VisitOwner, SessionFolder, Input]:
    owner, folder, check = take_up(session, clock, beside)
    if check.set_aside:
        watcher.note(0.0, f"set aside, because no line cites it: {', '.join(check.set_aside)}")
    return owner, folder, WorkResumed(technician or owner.visit.technician, check)


def _by_voice(opening: _Opening, watcher: Watcher, means: SpeechSetup, devices: Devices) -> dict[str, object]:
    from assistant.app.live import LiveWorld
    from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
    from assistant.edge.sound.voice_detector import SileroDetector
    from assistant.edge.talk_button import open_talk_button
    from assistant.hearing.ear import Ear

    with ExitStack() as opened:
        panel = None if devices.button is None else opened.enter_context(closing(open_talk_button(devices.button)))
        microphone = opened.enter_context(DetachedMicrophone(devices.microphone))
        player = opened.enter_context(closing(DetachedPlayer(devices.loudspeaker)))
        player.look()  # a missing loudspeaker is told before anything begins
        owner, folder, given = opening(MachineClock())
        with closing(folder):
            ear = Ear(means.recogniser, means.language.graph, SileroDetector(), time.perf_counter)
            world = LiveWorld(
                owner,
                folder,
                ear,
                means.voice,
                means.language,
                microphone,
                player,
                watcher,
                headset=devices.headset,
                panel=panel,
            )
            begun = time.perf_counter()
            world.run(given)
    seconds = time.perf_counter() - begun
    return report(owner.visit, folder.folder, world.tally, seconds, owner.failure)


def _on_terminal(opening: _Opening, watcher: Watcher, hand: HandClock | None) -> dict[str, object]:
    from assistant.app.typed import TypedWorld

    keyboard = Keyboard()  # without one nothing is begun
    owner, folder, given = opening(hand or MachineClock())
    with closing(folder):
        begun = time.perf_counter()
        world = TypedWorld(owner, english(), watcher, keyboard, hand)
        world.run(given)
    seconds = time.perf_counter() - begun
    return report(owner.visit, folder.folder, world.tally, seconds, owner.failure)


def report(
    visit: Visit, folder: Path, tally: Tally, seconds: float, failure: JournalError | None = None
) -> dict[str, object]:
    """What is reported of a visit: the keys of the `--json` line. True values are None where nobody knows them.

    failure: why the last answer could not be written down.
    """
    answers = sorted(tally.answer_seconds)
    trues = dict(tally.true_values)  # by what was recorded: after a break the visit's facts come from the disk
    return {
        "session": str(folder),
        "not_recorded": None if failure is None else str(failure),
        "finished": visit.ended is not None and visit.ended.complete,
        "ended": visit.ended is not None,
        "steps_done": sum(outcome is StepOutcome.DONE for outcome in visit.outcomes.values()),
        "readings": [
            {
                "name": reading.name,
                "unit": reading.quantity.unit,
                "true": trues.get(reading),
                "recorded": float(reading.quantity.value),
                "doubt": english_words().text(reading.doubt),
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
    steps = outcome["steps_done"]
    assert isinstance(steps, int)
    lines = [f"The work is {end}: {counted(steps, 'step')} done, {counted(len(readings), 'reading')}."]
    for reading in readings:
        true = "" if reading["true"] in (None, reading["recorded"]) else f" (true: {reading['true']:g})"
        doubt = f" in doubt: {reading['doubt']}" if reading["doubt"] else ""
        lines.append(f"  {reading['name']}: {reading['recorded']:g} {reading['unit']}{true}{doubt}")
    session = shlex.quote(str(outcome["session"]))
    lines.append(f"The record: enginebay export {session} --to html")
    if not outcome["ended"]:
        lines.append(f"To go on: enginebay resume {session}")
    return "\n".join(lines)
