"""The command line. Everything heavy is loaded by the command that needs it."""

from __future__ import annotations

import errno
import json
import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TextIO

import typer

from assistant.errors import AudioError, EngineBayError, RecogniserError, VoiceError
from assistant.quantities import counted

if TYPE_CHECKING:
    from assistant.app.visits import BrokenOff
    from assistant.app.watching import Watcher
    from assistant.statements.kinds import Statement

app = typer.Typer(
    name="enginebay",
    help="A voice assistant, offline, for the technician who services small diesel generating sets.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

bench = typer.Typer(
    help="Measurements, on this machine or from speech that was rendered on another.", no_args_is_help=True
)
app.add_typer(bench, name="bench")

Engine = Annotated[str, typer.Option(help="Speech engine: bundled, or vosk with --model.")]
Model = Annotated[Path | None, typer.Option(help="Folder of a Vosk model.")]
VoiceName = Annotated[str, typer.Option("--voice", help="Voice: pyttsx3 or espeak-ng.")]
Sessions = Annotated[Path | None, typer.Option(help="Where session folders are made.")]
AsJson = Annotated[bool, typer.Option("--json", help="End with one line of JSON for a program to read.")]
Typed = Annotated[bool, typer.Option("--typed", help="Keyboard and screen instead of microphone and loudspeaker.")]
Device = Annotated[str | None, typer.Option(help="Number or part of the name of the device.")]
UNWRITABLE = (errno.EPIPE, errno.ENOSPC, errno.EDQUOT, errno.EIO)
FAULT = 4  # exit status: a fault of the program itself
DAMAGED = 3  # exit status: it was done, but something that it was read from is damaged
KEYBOARD = "Nothing else was tried in its place. Keyboard and screen are there: the same command with --typed."

Headset = Annotated[
    bool, typer.Option("--headset", help="The microphone does not hear the loudspeaker: speak whenever you like.")
]
Beside = Annotated[
    bool, typer.Option("--beside", help="Also when somebody else is at work on the asset; the record says so.")
]
Button = Annotated[str | None, typer.Option(help="Talk button: pin:17, or key:pedal/KEY_F13.")]


@app.command()
def demo(
    seed: Annotated[int, typer.Option(help="Gives the technician's voice, readings and mistakes.")] = 1,
    noise_db: Annotated[float, typer.Option(help="Speech above the engine's noise, in decibels.")] = 10.0,
    visit: Annotated[
        bool, typer.Option("--visit", help="A whole visit of four tasks, rather than oil and filter alone.")
    ] = False,
    live: Annotated[bool, typer.Option("--live", help="You are the technician: microphone, real time.")] = False,
    typed: Typed = False,
    aloud: Annotated[bool, typer.Option("--aloud", help="Play both voices; pauses are left out.")] = False,
    interrupt: Annotated[
        bool, typer.Option("--interrupt", help="The power is cut in the middle; the work is taken up again.")
    ] = False,
    as_json: AsJson = False,
    engine: Engine = "bundled",
    model: Model = None,
    voice: VoiceName = "pyttsx3",
    microphone: Device = None,
    loudspeaker: Device = None,
    headset: Headset = False,
    button: Button = None,
    beside: Beside = False,
    sessions: Sessions = None,
) -> None:
    """A visit to the Marram's auxiliary set, by voice in engine noise, by a synthetic technician."""
    with _told(KEYBOARD):
        if live and typed:
            raise EngineBayError("--live and --typed", "only one of them can be", "Leave one out")
        if interrupt and (live or typed):
            cause = "it is for the synthetic technician"
            raise EngineBayError("--interrupt", cause, "Interrupt yourself, then use enginebay resume")
        from assistant.app.demo import ASSET, TASKS, WHOLE_VISIT, rehearse, senses
        from assistant.app.visits import Devices, attend, attend_typed, order

        watcher, root = _screen(as_json), _root(sessions)
        devices = Devices(microphone, loudspeaker, headset, button)
        tasks = WHOLE_VISIT if visit else TASKS
        if typed:
            outcome = attend_typed(order(ASSET, tasks, "technician", root), root, watcher, True, beside)
        elif live:
            means = senses(engine, model, voice)
            outcome = attend(order(ASSET, tasks, "technician", root), root, watcher, means, devices, beside)
        else:
            from assistant.edge.sound.detached import DetachedPlayer

            player = DetachedPlayer(loudspeaker) if aloud else None
            means = senses(engine, model, voice)
            outcome = rehearse(means, watcher, seed, noise_db, root, tasks=tasks, player=player, interrupt=interrupt)
        _report(outcome, as_json)


@app.command()
def work(
    asset: Annotated[str, typer.Argument(help="The asset, such as marram-auxiliary.")],
    tasks: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[TASK]...",
            help="Tasks, such as oil-and-filter; without them those that are due.",
            show_default=False,
        ),
    ] = None,
    technician: Annotated[str, typer.Option(help="The role that does the work.")] = "technician",
    typed: Typed = False,
    as_json: AsJson = False,
    engine: Engine = "bundled",
    model: Model = None,
    voice: VoiceName = "pyttsx3",
    microphone: Device = None,
    loudspeaker: Device = None,
    headset: Headset = False,
    button: Button = None,
    beside: Beside = False,
    sessions: Sessions = None,
) -> None:
    """A visit to an asset: what is due, or these tasks, in the best order; by voice or with the keyboard."""
    with _told(KEYBOARD):
        from assistant.app.demo import senses
        from assistant.app.visits import Devices, attend, attend_typed, broken_off, order, others_at_work
        from assistant.app.visits import resume as go_on
        from assistant.app.visits import resume_typed as go_on_typed

        _see_role(technician)
        watcher, root = _screen(as_json), _root(sessions)
        devices = Devices(microphone, loudspeaker, headset, button)
        names = tuple(tasks or ())
        others_at_work(root, asset, beside)  # said before engine and voice are loaded
        again = _offered(*broken_off(root, asset, names), sys.stderr if as_json else sys.stdout)
        if again is not None and typed:
            outcome = go_on_typed(again.folder, technician, watcher, beside)
        elif again is not None:
            outcome = go_on(
                again.folder,
                technician,
                watcher,
                senses(engine, model, voice),
                devices,
                beside,
            )
        elif typed:
            ordered = order(asset, names, technician, root)
            _tell_left_out(ordered.left_out)
            outcome = attend_typed(ordered, root, watcher, False, beside)
        else:
            ordered = order(asset, names, technician, root)
            _tell_left_out(ordered.left_out)
            outcome = attend(ordered, root, watcher, senses(engine, model, voice), devices, beside)
        _report(outcome, as_json)


@app.command()
def resume(
    session: Annotated[Path, typer.Argument(help="The folder of a session that broke off.")],
    technician: Annotated[
        str | None, typer.Option(help="The role that goes on; without it the one that worked last.", show_default=False)
    ] = None,
    typed: Typed = False,
    as_json: AsJson = False,
    engine: Engine = "bundled",
    model: Model = None,
    voice: VoiceName = "pyttsx3",
    microphone: Device = None,
    loudspeaker: Device = None,
    headset: Headset = False,
    button: Button = None,
    beside: Beside = False,
) -> None:
    """Take work that broke off up again. What was known of the engine is not known any more, and is proved anew."""
    with _told(KEYBOARD):
        from assistant.app.demo import senses
        from assistant.app.visits import Devices, look_up
        from assistant.app.visits import resume as go_on
        from assistant.app.visits import resume_typed as go_on_typed

        _see_role(technician)
        look_up(session)  # what is refused is refused before engine and voice are loaded
        watcher = _screen(as_json)
        if typed:
            outcome = go_on_typed(session, technician, watcher, beside)
        else:
            means = senses(engine, model, voice)
            devices = Devices(microphone, loudspeaker, headset, button)
            outcome = go_on(session, technician, watcher, means, devices, beside)
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
        from assistant.edge.sound.hear import hear_files

        for answer in hear_files(grammar, rule, engine, model, wavs):
            print(json.dumps(answer, ensure_ascii=False) if as_json else _in_words(answer), flush=True)


@app.command()
def check(
    path: Annotated[
        Path | None,
        typer.Argument(
            help="A procedure file, a model's folder, or a language's; without it all that is shipped.",
            show_default=False,
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """Everything that is wrong in procedures, or in a language's wording and grammars. Work refuses what is wrong."""
    with _told():
        from assistant.edge.checking.models import check as examine
        from assistant.edge.checking.models import document, in_words

        checked = examine(path)
        print(json.dumps(document(checked), ensure_ascii=False) if as_json else in_words(checked))
        if checked.wrong:
            raise typer.Exit(1)


@app.command()
def words(
    asset: Annotated[
        str | None, typer.Argument(help="An asset; without it every shipped one.", show_default=False)
    ] = None,
    procedure: Annotated[
        str | None, typer.Argument(help="A procedure; without it all of the asset.", show_default=False)
    ] = None,
    state: Annotated[
        str | None, typer.Option(metavar="STEP", help="Only what may be said at this step.", show_default=False)
    ] = None,
    measured: Annotated[
        Path | None,
        typer.Option(help="A folder of `bench hearing`: how often one was heard for the other.", show_default=False),
    ] = None,
    top: Annotated[int, typer.Option(min=1, help="How many pairs of each state.")] = 3,
    pronounce: Annotated[
        bool, typer.Option("--pronounce", help="Write the shipped table of pronunciations anew, by espeak-ng.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """What sounds most alike among what may be said at one moment. Fails where two phrases are too near."""
    with _told():
        from assistant.edge.checking.words import confusions, document, every_phrase, in_words, look

        if pronounce:
            from assistant.edge.checking.pronouncing import write_table

            print(write_table("en", every_phrase()))
            return
        heard = None
        if measured is not None:
            from assistant.rehearsal.measuring.engines import OURS
            from assistant.rehearsal.measuring.report import read_rows

            parts = read_rows(measured)
            if not parts:
                raise EngineBayError(f"--measured {measured}", "it holds no rows", "Name a folder of `bench hearing`")
            heard = confusions((row for rows in parts.values() for row in rows), OURS)
        told = look(asset, procedure, state)
        print(json.dumps(document(told, top, heard), ensure_ascii=False) if as_json else in_words(told, top, heard))
        if any(one.too_near for one in told):
            raise typer.Exit(1)


@app.command()
def export(
    session: Annotated[
        Path | None, typer.Argument(help="A session's folder; none for --to schema.", show_default=False)
    ] = None,
    to: Annotated[str, typer.Option(help="The form: html, json, csv, or schema for the JSON Schema of json.")] = "html",
) -> None:
    """The record of a session: a page for screen and paper, a JSON document, a table. Written into its folder."""
    with _told():
        from assistant.edge.files.evidence import faults_of
        from assistant.edge.pages.exports import export_csv, export_json, schema
        from assistant.edge.pages.record_page import export_html

        forms = {"html": export_html, "json": export_json, "csv": export_csv}
        if to == "schema":
            print(schema(), end="")
        elif to not in forms:
            raise EngineBayError(f"--to {to}", "there is no such form", f"Use one of {', '.join(forms)}, schema")
        elif session is None:
            raise EngineBayError(f"--to {to}", "no session is named", "Name the folder of a session")
        else:
            print(forms[to](session))
            _tell_damage(faults_of(session))


@app.command()
def salvage(
    session: Annotated[Path, typer.Argument(help="The folder of a session whose journal is damaged.")],
    as_json: AsJson = False,
) -> None:
    """Keep what still holds of a damaged session, in a new session beside it that says so. Nothing is changed in it."""
    with _told():
        from assistant.edge.files.salvaging import salvage as keep_what_holds

        kept = keep_what_holds(session)
        told = {"session": str(kept.folder), "lines": kept.lines, "gaps": kept.gaps, "left": kept.left}
        print(json.dumps(told, ensure_ascii=False) if as_json else kept.in_words())
        if kept.left:
            raise typer.Exit(DAMAGED)


@app.command()
def calc(
    name: Annotated[
        str | None, typer.Argument(help="The calculation; without it all are listed.", show_default=False)
    ] = None,
    inputs: Annotated[
        list[str] | None,
        typer.Argument(metavar="[KEY=VALUE]...", help='Its inputs, such as force="30 N".', show_default=False),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
) -> None:
    """A calculation of the trade, with its source; alone, every one with its inputs."""
    with _told():
        from assistant.calculations import calculate, document, given, in_words, listing, refused, table
        from assistant.calculations.formula import Refusal

        def words(statement: Statement | str) -> str:
            from assistant.edge.files.shipped_words import english_words  # only where there is something to word

            return english_words().text(statement)

        if name is None:
            print(json.dumps(listing(), ensure_ascii=False) if as_json else table())
            return
        try:
            row, result = calculate(name, given(inputs or []))
        except Refusal as refusal:
            raise refused(refusal, words) from None
        print(json.dumps(document(row, result, words), ensure_ascii=False) if as_json else in_words(row, result, words))


@app.command()
def trend(
    asset: Annotated[str, typer.Argument(help="The asset, such as marram-auxiliary.")],
    reading: Annotated[
        str | None,
        typer.Argument(help="The reading, such as 'oil pressure'; without it all are listed.", show_default=False),
    ] = None,
    sessions: Annotated[Path | None, typer.Option(help="Where session folders lie.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    plot: Annotated[Path | None, typer.Option(help="Draw the trend of the reading into this SVG file.")] = None,
) -> None:
    """Where an asset's readings are going, over all its sessions, and when a limit is reached."""
    with _told():
        from assistant.edge import places
        from assistant.edge.files.histories import Histories

        told = Histories.read(sessions or places.sessions(), asset)
        if plot is not None:
            told.draw(reading, plot)
        print(json.dumps(told.document(reading), ensure_ascii=False) if as_json else told.in_words(reading))
        _tell_damage(told.wrong)


@app.command()
def plan(
    asset: Annotated[str, typer.Argument(help="The asset, such as marram-auxiliary.")],
    hours: Annotated[
        str | None, typer.Option(help="What the hour meter shows; without it an estimate.", show_default=False)
    ] = None,
    date: Annotated[
        str | None, typer.Option(help="Day of the visit, such as 2026-03-02; without it today.", show_default=False)
    ] = None,
    tasks: Annotated[
        list[str] | None,
        typer.Option(help="Only these tasks, with commas between; without it all that are due.", show_default=False),
    ] = None,
    sessions: Annotated[Path | None, typer.Option(help="Folder of earlier sessions.", show_default=False)] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document.")] = False,
    html: Annotated[
        Path | None,
        typer.Option(help="Write a page to print into this file, with forms to fill in.", show_default=False),
    ] = None,
) -> None:
    """A visit: what is due and why, the order with the cheapest changes of state, what to bring, how long it takes."""
    with _told():
        from assistant.edge.pages.plans import document, in_words, make_plan, write_page

        if sessions is not None and not sessions.is_dir():
            raise EngineBayError(f"--sessions {sessions}", "there is no such folder", "Name a folder of sessions")
        planned = make_plan(asset, hours, date, tasks or [], _root(sessions))
        if html is not None:
            write_page(planned, html)
        if as_json:
            print(json.dumps(document(planned), ensure_ascii=False))
            for remark in planned.remarks:
                print(f"enginebay: {remark}.", file=sys.stderr)
        else:
            print(in_words(planned) if html is None else html)
        if planned.damaged:
            raise typer.Exit(DAMAGED)  # the remarks have said what is


@app.command("bring-in")
def bring_in(
    asset: Annotated[str, typer.Argument(help="The asset, such as marram-auxiliary.")],
    file: Annotated[Path, typer.Argument(help="CSV file with the columns date, hours, task; a line for each task.")],
    sessions: Annotated[Path | None, typer.Option(help="Where session folders are made.")] = None,
    as_json: AsJson = False,
) -> None:
    """Take over what was done on an asset before sessions were kept, so that what is due is known."""
    with _told():
        from assistant.edge.files.bringing_in import bring_in as take_over

        folder, lines = take_over(asset, file, _root(sessions))
        told = {"session": str(folder), "lines": lines}
        words = f"{counted(lines, 'line')} taken over, kept in {folder}"
        print(json.dumps(told, ensure_ascii=False) if as_json else words)


@bench.command()
def hearing(
    out: Annotated[Path, typer.Option(help="Where rows, report, JSON and plot go.")] = Path("hearing"),
    short: Annotated[bool, typer.Option("--short", help="Some minutes on one core instead of two core hours.")] = False,
    workers: Annotated[int, typer.Option(min=1, help="Processes, one core each.")] = 1,
    seed: Annotated[int, typer.Option(help="Gives voices, numbers, noise.")] = 1,
    part: Annotated[list[str] | None, typer.Option(help="Only these parts; others stay as they lie in --out.")] = None,
    render: Annotated[
        Path | None, typer.Option(help="Only render the speech into this folder, for a machine without synthesisers.")
    ] = None,
    rendered: Annotated[Path | None, typer.Option(help="Speech that was rendered before.")] = None,
    grammar: Annotated[Path | None, typer.Option(help="JSGF file; its sentences are measured too.")] = None,
    people: Annotated[Path | None, typer.Option(help="Folder for Debian's recordings; fetched when missing.")] = None,
    speech: Annotated[Path | None, typer.Option(help="Folder of WAV files, each with a text of the same name.")] = None,
    noise: Annotated[Path | None, typer.Option(help="WAV file of noise.")] = None,
    hours: Annotated[
        float | None, typer.Option(min=0.01, help="Of each of the four streams; what lies in --out is not heard again.")
    ] = None,
    model: Model = None,
    encoder: Annotated[str, typer.Option(help="shipped, adapted, or a file.")] = "adapted",
    neural: Annotated[Path | None, typer.Option(help="Folder of neural voices, for the tuning side.")] = None,
) -> None:
    """How much is understood, beside other engines on the same sound: voices, noise, false accepts, time, memory."""
    with _told():
        from dataclasses import replace

        from assistant.rehearsal.measuring.command import measure
        from assistant.rehearsal.measuring.run import LONG, PARTS, SHORT, Options

        form = SHORT if short else LONG
        options = Options(
            form=form if hours is None else replace(form, hours=hours),
            seed=seed,
            workers=workers,
            parts=tuple(part or PARTS),
            rendered=rendered,
            grammar=grammar,
            people=people,
            speech=speech,
            noise=noise,
            vosk=model,
            encoder=encoder,
            neural=neural,
        )
        measure(options, out, render, sys.argv[1:])


def main() -> None:
    """The command `enginebay`. What it prints reaches its end, or that is said and the exit status reports it."""
    status: object = 0
    try:
        try:
            app()
        except SystemExit as ended:
            status = ended.code
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:  # whoever read it wants no more
        _drop_output()
        status = status or 1
    except OSError as error:
        _drop_output()
        print(f"enginebay: {_unwritable(error)}", file=sys.stderr)
        status = status or 2
    except ValueError:  # it is closed
        status = status or 2
    sys.exit(status)  # type: ignore[arg-type]  # as typer gave it


def _drop_output() -> None:
    """Python would try once more at its end, and complain."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _unwritable(error: OSError) -> EngineBayError:
    return EngineBayError("output", f"it cannot be written ({error.strerror})", "Make room for it, and try again")


@contextmanager
def _told(instead: str = "") -> Iterator[None]:
    """Errors meant for people are told as such; nobody sees a traceback of them.

    instead: what there still is when an engine, a voice or a device is not.
    """
    try:
        yield
    except EngineBayError as error:
        print(f"enginebay: {error}", file=sys.stderr)
        if instead and isinstance(error, AudioError | RecogniserError | VoiceError):
            print(f"enginebay: {instead}", file=sys.stderr)
        raise typer.Exit(2) from None
    except KeyboardInterrupt:
        print("\nenginebay: stopped; what was confirmed is in the session's folder.", file=sys.stderr)
        raise typer.Exit(130) from None
    except (typer.Exit, typer.Abort):
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno in UNWRITABLE:
            raise  # `main` says so
        print(f"enginebay: {_fault(error)}", file=sys.stderr)
        raise typer.Exit(FAULT) from None


def _fault(error: Exception) -> str:
    """A fault of the program itself, for people; the traceback goes into a file for those who mend it."""
    import traceback

    from assistant.edge import places
    from assistant.edge.files.access import make_folder, write_whole

    kept = ""
    try:
        path = places.cache() / "fault.txt"
        make_folder(path.parent)
        write_whole(path, "".join(traceback.format_exception(error)).encode())
        kept = f" Send {path} to those who maintain the program."
    except (OSError, EngineBayError):
        pass  # what can be said is said
    return f"a fault in the program ({type(error).__name__}: {error}). What was confirmed in a visit is kept.{kept}"


def _see_role(technician: str | None) -> None:
    if technician is not None and not (technician.strip() and technician.isprintable()):
        raise EngineBayError("--technician", "it is no plain text", "Name the role, such as technician")


def _tell_damage(sentences: Iterable[str]) -> None:
    """Damage is said, and the exit status reports it: what was shown is only what holds."""
    found = list(sentences)
    for sentence in found:
        print(f"enginebay: {sentence}", file=sys.stderr)
    if found:
        raise typer.Exit(DAMAGED)


def _screen(as_json: bool) -> Watcher:
    from assistant.app.watching import Screen

    return Screen(sys.stderr if as_json else sys.stdout)


def _root(sessions: Path | None) -> Path:
    from assistant.edge import places

    return places.sessions() if sessions is None else sessions


def _tell_left_out(faults: Iterable[EngineBayError]) -> None:
    """Tasks that cannot be added at this visit, because something is wrong in their procedures."""
    for fault in faults:
        print(f"enginebay: a further task cannot be added at this visit. {fault}", file=sys.stderr)


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
    if not _on_a_terminal():
        print("New work begins.", file=out, flush=True)
        return None
    return last if typer.confirm("Go on there now?", default=True, err=True) else None


def _on_a_terminal() -> bool:
    return sys.stdin is not None and sys.stdin.isatty()


def _report(outcome: Mapping[str, object], as_json: bool) -> None:
    from assistant.app.visits import in_words

    print(json.dumps(outcome, ensure_ascii=False) if as_json else in_words(outcome))
    if outcome["not_recorded"] is not None:
        print(f"enginebay: the last answer is not in the record. {outcome['not_recorded']}", file=sys.stderr)
        raise typer.Exit(2)


def _in_words(answer: dict[str, object]) -> str:
    if answer.get("error"):
        return f"{answer['error']}"
    mark = "accepted" if answer["accepted"] else "not accepted"
    return f"{answer['file']}: {answer['text']!r} {answer['tags']} {mark}, confidence {answer['confidence']}"
