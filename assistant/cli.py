"""The command line. Everything heavy is loaded by the command that needs it."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from assistant.errors import EngineBayError

if TYPE_CHECKING:
    from assistant.app.watching import Watcher

app = typer.Typer(
    name="enginebay",
    help="A voice assistant, offline, for the technician who services small diesel generating sets.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

Engine = Annotated[str, typer.Option(help="Speech engine: bundled, or vosk with --model.")]
Model = Annotated[Path | None, typer.Option(help="Folder of a Vosk model.")]
VoiceName = Annotated[str, typer.Option("--voice", help="Voice: pyttsx3 or espeak-ng.")]
Sessions = Annotated[Path | None, typer.Option(help="Where session folders are made.")]
AsJson = Annotated[bool, typer.Option("--json", help="End with one line of JSON for a program to read.")]
Typed = Annotated[bool, typer.Option("--typed", help="Keyboard and screen instead of microphone and loudspeaker.")]
Device = Annotated[str | None, typer.Option(help="Number or part of the name of the device.")]


@app.command()
def demo(
    seed: Annotated[int, typer.Option(help="Gives the technician's voice, readings and mistakes.")] = 1,
    noise_db: Annotated[float, typer.Option(help="Speech above the engine's noise, in decibels.")] = 10.0,
    live: Annotated[bool, typer.Option("--live", help="You are the technician: microphone, real time.")] = False,
    typed: Typed = False,
    aloud: Annotated[bool, typer.Option("--aloud", help="Play both voices; pauses are left out.")] = False,
    as_json: AsJson = False,
    engine: Engine = "bundled",
    model: Model = None,
    voice: VoiceName = "pyttsx3",
    microphone: Device = None,
    loudspeaker: Device = None,
    sessions: Sessions = None,
) -> None:
    """Oil and filter of the Marram's auxiliary set, by voice in engine noise, by a synthetic technician."""
    with _told():
        if live and typed:
            raise EngineBayError("--live and --typed", "only one of them can be", "Leave one out")
        from assistant.app.demo import ASSET, PROCEDURE, rehearse, senses
        from assistant.app.visits import Devices, attend, attend_typed

        watcher, root = _screen(as_json), _root(sessions)
        if typed:
            outcome = attend_typed(ASSET, PROCEDURE, "technician", root, watcher, waits_pass=True)
        elif live:
            means = senses(engine, model, voice)
            outcome = attend(ASSET, PROCEDURE, "technician", root, watcher, means, Devices(microphone, loudspeaker))
        else:
            from assistant.edge.player import Player

            player = Player(loudspeaker) if aloud else None
            outcome = rehearse(senses(engine, model, voice), watcher, seed, noise_db, root, player=player)
        _report(outcome, as_json)


@app.command()
def work(
    asset: Annotated[str, typer.Argument(help="The asset, such as marram-auxiliary.")],
    procedure: Annotated[str, typer.Argument(help="The procedure, such as oil-and-filter.")],
    technician: Annotated[str, typer.Option(help="The role that does the work.")] = "technician",
    typed: Typed = False,
    as_json: AsJson = False,
    engine: Engine = "bundled",
    model: Model = None,
    voice: VoiceName = "pyttsx3",
    microphone: Device = None,
    loudspeaker: Device = None,
    sessions: Sessions = None,
) -> None:
    """Do a procedure on an asset, with microphone and loudspeaker or with the keyboard."""
    with _told():
        from assistant.app.demo import senses
        from assistant.app.visits import Devices, attend, attend_typed

        watcher, root = _screen(as_json), _root(sessions)
        if typed:
            outcome = attend_typed(asset, procedure, technician, root, watcher, waits_pass=False)
        else:
            means = senses(engine, model, voice)
            outcome = attend(asset, procedure, technician, root, watcher, means, Devices(microphone, loudspeaker))
        _report(outcome, as_json)


@app.command()
def hear(
    wavs: Annotated[list[Path], typer.Argument(metavar="WAV...", help="Sound files, one utterance each.")],
    grammar: Annotated[Path, typer.Option(help="JSGF file; its imports are looked for beside it.")],
    rule: Annotated[str | None, typer.Option(help="One rule; without it every public rule.")] = None,
    engine: Engine = "bundled",
    model: Model = None,
    as_json: Annotated[bool, typer.Option("--json", help="One line of JSON a file.")] = False,
) -> None:
    """What was said in sound files, inside a grammar."""
    with _told():
        from assistant.edge.hear import hear_files

        for answer in hear_files(grammar, rule, engine, model, wavs):
            print(json.dumps(answer, ensure_ascii=False) if as_json else _in_words(answer), flush=True)


@app.command()
def check(
    path: Annotated[
        Path | None,
        typer.Argument(help="A procedure file, or a folder; without it the shipped ones.", show_default=False),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Everything that is wrong in procedure files: structure, the engine's state, warnings, isolation, words."""
    with _told():
        from assistant.edge.checking import check as examine
        from assistant.edge.checking import document, in_words

        checked = examine(path)
        print(json.dumps(document(checked), ensure_ascii=False) if as_json else in_words(checked))
        if checked.wrong:
            raise typer.Exit(1)


@app.command()
def export(
    session: Annotated[Path, typer.Argument(help="A session's folder.")],
    to: Annotated[str, typer.Option(help="The form: html.")] = "html",
) -> None:
    """The record of a session as a page, for the screen and for paper."""
    with _told():
        from assistant.edge.pages import export_html

        if to != "html":
            raise EngineBayError(f"--to {to}", "there is no such form", "Use --to html")
        print(export_html(session))


def main() -> None:
    """The command `enginebay`."""
    app()


@contextmanager
def _told() -> Iterator[None]:
    """Errors meant for people are told as such; nobody sees a traceback of them."""
    try:
        yield
    except EngineBayError as error:
        print(f"enginebay: {error}", file=sys.stderr)
        raise typer.Exit(2) from None
    except KeyboardInterrupt:
        print("\nenginebay: stopped; what was confirmed is in the session's folder.", file=sys.stderr)
        raise typer.Exit(130) from None


def _screen(as_json: bool) -> Watcher:
    from assistant.app.watching import Screen

    return Screen(sys.stderr if as_json else sys.stdout)


def _root(sessions: Path | None) -> Path:
    from assistant.edge import places

    return places.sessions() if sessions is None else sessions


def _report(outcome: Mapping[str, object], as_json: bool) -> None:
    from assistant.app.visits import in_words

    print(json.dumps(outcome, ensure_ascii=False) if as_json else in_words(outcome))


def _in_words(answer: dict[str, object]) -> str:
    if answer.get("error"):
        return f"{answer['error']}"
    mark = "accepted" if answer["accepted"] else "not accepted"
    return f"{answer['file']}: {answer['text']!r} {answer['tags']} {mark}, confidence {answer['confidence']}"
