"""The commands that attend a visit: by voice, with the keyboard, or rehearsed by a synthetic technician."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import typer

from assistant.cli import options as o
from assistant.cli.reporting import REFUSED, errors_in_words, show, warn
from assistant.errors import EngineBayError
from assistant.quantities import counted

if TYPE_CHECKING:
    from assistant.app.visits import BrokenOff, Devices, SpeechSetup
    from assistant.app.watching import Watcher

KEYBOARD = "Nothing else was tried in its place. Keyboard and screen are there: the same command with --typed."


@errors_in_words(KEYBOARD)
@o.bundled
def demo(
    seed: o.Seed = 1,
    noise_db: o.NoiseDb = 10.0,
    visit: o.WholeVisit = False,
    live: o.Live = False,
    typed: o.Typed = False,
    aloud: o.Aloud = False,
    interrupt: o.Interrupt = False,
    here: o.VisitOptions = o.AS_USUAL,
    sessions: o.Sessions = None,
) -> None:
    """A visit to the Marram's auxiliary set, by voice in engine noise, by a synthetic technician."""
    if live and typed:
        raise EngineBayError("--live and --typed", "only one of them can be", "Leave one out")
    if interrupt and (live or typed):
        cause = "it is for the synthetic technician"
        raise EngineBayError("--interrupt", cause, "Interrupt yourself, then use enginebay resume")
    from assistant.app.demo import ASSET, TASKS, WHOLE_VISIT, rehearse
    from assistant.app.visits import order, start_by_voice, start_typed

    watcher, root = _screen(here), sessions_folder(sessions)
    tasks = WHOLE_VISIT if visit else TASKS
    if typed:
        outcome = start_typed(order(ASSET, tasks, "technician", root), root, watcher, True, here.beside)
    elif live:
        means = _speech_setup(here)
        ordered = order(ASSET, tasks, "technician", root)
        outcome = start_by_voice(ordered, root, watcher, means, _devices(here), here.beside)
    else:
        from assistant.edge.sound.detached import DetachedPlayer

        player = DetachedPlayer(here.loudspeaker) if aloud else None
        means = _speech_setup(here)
        outcome = rehearse(means, watcher, seed, noise_db, root, tasks=tasks, player=player, interrupt=interrupt)
    _report(outcome, here)


@errors_in_words(KEYBOARD)
@o.bundled
def work(
    asset: o.Asset,
    tasks: o.Tasks = None,
    technician: o.Technician = "technician",
    typed: o.Typed = False,
    here: o.VisitOptions = o.AS_USUAL,
    sessions: o.Sessions = None,
) -> None:
    """A visit to an asset: what is due, or these tasks, in the best order; by voice or with the keyboard."""
    from assistant.app.visits import broken_off, order, others_at_work, start_by_voice, start_typed

    _see_role(technician)
    watcher, root = _screen(here), sessions_folder(sessions)
    names = tuple(tasks or ())
    others_at_work(root, asset, here.beside)  # said before engine and voice are loaded
    again = _offered(*broken_off(root, asset, names), sys.stderr if here.as_json else sys.stdout)
    if again is not None:
        outcome = _go_on(again.folder, technician, typed, watcher, here)
    else:
        ordered = order(asset, names, technician, root)
        _warn_of_left_out(ordered.left_out)
        if typed:
            outcome = start_typed(ordered, root, watcher, False, here.beside)
        else:
            outcome = start_by_voice(ordered, root, watcher, _speech_setup(here), _devices(here), here.beside)
    _report(outcome, here)


@errors_in_words(KEYBOARD)
@o.bundled
def resume(
    session: o.BrokenSession,
    technician: o.NextTechnician = None,
    typed: o.Typed = False,
    here: o.VisitOptions = o.AS_USUAL,
) -> None:
    """Take work that broke off up again. What was known of the engine is not known any more, and is proved anew."""
    from assistant.app.visits import look_up

    _see_role(technician)
    look_up(session)  # what is refused is refused before engine and voice are loaded
    _report(_go_on(session, technician, typed, _screen(here), here), here)


def _go_on(
    session: Path, technician: str | None, typed: bool, watcher: Watcher, here: o.VisitOptions
) -> dict[str, object]:
    from assistant.app.visits import resume_by_voice, resume_typed

    if typed:
        return resume_typed(session, technician, watcher, here.beside)
    return resume_by_voice(session, technician, watcher, _speech_setup(here), _devices(here), here.beside)


def _speech_setup(here: o.VisitOptions) -> SpeechSetup:
    from assistant.app.demo import speech_setup

    return speech_setup(here.engine, here.model, here.voice)


def _devices(here: o.VisitOptions) -> Devices:
    from assistant.app.visits import Devices

    return Devices(here.microphone, here.loudspeaker, here.headset, here.button)


def _screen(here: o.VisitOptions) -> Watcher:
    from assistant.app.watching import Screen

    return Screen(sys.stderr if here.as_json else sys.stdout)


def sessions_folder(sessions: Path | None) -> Path:
    """Where session folders lie. sessions: as named on the command line."""
    from assistant.edge import places

    return places.sessions() if sessions is None else sessions


def _see_role(technician: str | None) -> None:
    if technician is not None and not (technician.strip() and technician.isprintable()):
        raise EngineBayError("--technician", "it is no plain text", "Name the role, such as technician")


def _warn_of_left_out(faults: Iterable[EngineBayError]) -> None:
    """Tasks that cannot be added at this visit, because something is wrong in their procedures."""
    for fault in faults:
        warn(f"a further task cannot be added at this visit. {fault}")


def _offered(found: list[BrokenOff], wrong: list[EngineBayError], out: TextIO) -> BrokenOff | None:
    """Tells of work that broke off; on a terminal asks whether to take the last of it up. None: begin anew."""
    for error in wrong:
        print(f"A session cannot be taken up. {error}", file=out)
    if not found:
        return None
    last, more = found[0], len(found) - 1
    others = f" {more} more of this work broke off before it." if more else ""
    print(
        f"This work broke off on {last.last[:10]} at {last.last[11:16]} UTC, "
        f"{last.done} of {counted(last.steps, 'step')} done, {last.technician}.{others}\n"
        f"To go on there: {last.command}",
        file=out,
        flush=True,
    )
    if not on_a_terminal():
        print("New work begins.", file=out, flush=True)
        return None
    return last if typer.confirm("Go on there now?", default=True, err=True) else None


def on_a_terminal() -> bool:
    """Whether there is somebody to ask."""
    return sys.stdin is not None and sys.stdin.isatty()


def _report(outcome: Mapping[str, object], here: o.VisitOptions) -> None:
    from assistant.app.visits import in_words

    show(lambda: outcome, lambda: in_words(outcome), here.as_json)
    if outcome["not_recorded"] is not None:
        warn(f"the last answer is not in the record. {outcome['not_recorded']}")
        raise typer.Exit(REFUSED)
