"""An hour of attacks: what power cuts, full disks, hostile files and dying devices can do to the program.

    python -m tests.attacks --minutes 60 --seed 1      # all of them, by turns, with random details
    python -m tests.attacks --only flip --trial 1234   # one trial again

Each trial runs in a process of its own, so that one that hangs or fills the memory is found and ended. It fails when
something that was there is lost, when damage is passed over in silence, when a command hangs, dies or shows a
traceback, or when a visit cannot go on or end. The last line counts; the exit status is 1 when anything was found.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import random
import resource
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from app.quick import quick_speech_setup
from typer.testing import CliRunner

from assistant.app.demo import ASSET, WHOLE_VISIT, rehearse
from assistant.app.watching import NoWatcher
from assistant.cli import DAMAGED, FAULT, app
from assistant.edge.files.store import ASIDE, CLIPS, JOURNAL, PROCEDURES, SessionFolder, read_session
from assistant.errors import EngineBayError, JournalError
from assistant.session.inputs import ButtonPressed, Envelope, Instant
from assistant.session.journal import Journal, read_what_holds

HERE = Path(__file__).resolve().parent
TRIAL_SECONDS = 120.0  # a trial that takes longer hangs
COMMAND_SECONDS = 60.0  # and so does a command of another process
MEMORY = 6 << 30  # bytes that a trial may map
STATUSES = (0, 1, 2)  # exit statuses besides damage: done, told as wrong, refused

Attack = Callable[["Arena", random.Random], None]
ATTACKS: dict[str, Attack] = {}


def attack(function: Attack) -> Attack:
    """Enters the function among the attacks, under its own name."""
    ATTACKS[function.__name__] = function
    return function


class Found(AssertionError):
    """What an attack found."""


def must(holds: object, told: str) -> None:
    """Errors: Found, unless it holds."""
    if not holds:
        raise Found(told)


@dataclass
class Arena:
    """Where the attacks take place. whole, broken: folders of sessions that are copied, ended ones and broken-off ones;
    place: a folder of the trial's own."""

    whole: list[Path]
    broken: list[Path]
    place: Path = field(default_factory=Path)

    def session(self, chance: random.Random, broken: bool = False) -> Path:
        """A copy of some session, in a folder of sessions of its own."""
        source = chance.choice(self.broken if broken else self.whole + self.broken)
        return shutil.copytree(source, self.place / "sessions" / source.name)


# --- what is looked at -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Done:
    """What a command did. status: of its exit."""

    status: int
    said: str
    told: str


def enginebay(*words: str, typed: str | bytes = "") -> Done:
    """A command, in this process. Errors: Found when it raises anything."""
    result = CliRunner().invoke(app, list(words), input=typed)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise Found(f"{' '.join(words)} raised {result.exception!r}") from result.exception
    must(result.exit_code != FAULT, f"{' '.join(words)} was a fault of the program: {result.stderr}")
    must("Traceback" not in result.output, f"{' '.join(words)} showed a traceback: {result.output}")
    must(result.exit_code in (*STATUSES, DAMAGED), f"{' '.join(words)} ended with {result.exit_code}: {result.output}")
    must(result.exit_code == 0 or result.stderr.strip() or result.exit_code == 1, f"{words} ended without a word")
    return Done(result.exit_code, result.stdout, result.stderr)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder that is no link, by its path."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.is_symlink()
    }


def nothing_lost(session: Path, before: dict[str, bytes], changed: tuple[str, ...] = ()) -> None:
    """Everything that was in a session's folder is still there, here or elsewhere in it. changed: files that may be
    written anew. Errors: Found."""
    after = contents(session)
    there = {hashlib.sha256(data).hexdigest() for data in after.values()}
    for name, data in before.items():
        if name == JOURNAL:
            whole, torn = _without_torn(data)
            must(after.get(JOURNAL, b"").startswith(whole), f"the journal of {session.name} lost what it held")
            parts = b"".join(after[path] for path in after if path.endswith(".part"))
            must(not torn or torn in parts or after[JOURNAL].startswith(data), f"{len(torn)} torn bytes are lost")
        elif not name.startswith("record.") and name not in changed:
            must(hashlib.sha256(data).hexdigest() in there, f"{session.name}/{name} is lost")


def _without_torn(data: bytes) -> tuple[bytes, bytes]:
    journal = read_what_holds(data)
    return (data[: len(data) - len(journal.torn)], journal.torn) if journal.torn else (data, b"")


def cited(journal: Journal) -> set[str]:
    """The hashes of the sounds that the lines cite."""
    clips = (getattr(entry.envelope.input, "clip", None) for entry in journal.entries)
    return {clip.sha256 for clip in clips if clip is not None}


def every_command(chance: random.Random, session: Path) -> list[Done]:
    """The commands that read a session, in some order; none of them may fail."""
    root = str(session.parent)
    commands = [
        ("export", str(session), "--to", chance.choice(["html", "json", "csv"])),
        ("trend", ASSET, "--sessions", root),
        ("plan", ASSET, "--sessions", root, "--json"),
        ("resume", str(session), "--typed"),
    ]
    chance.shuffle(commands)
    return [enginebay(*command, typed="where am I\n") for command in commands]


# --- the journal and its files ----------------------------------------------------------------------------------


@attack
def kill(arena: Arena, chance: random.Random) -> None:
    """Power goes at a random instant: every line that was acknowledged is there, and the work can be taken up."""
    ours, theirs = os.pipe()
    program = [sys.executable, str(HERE / "app" / "killed_visit.py"), str(arena.place), str(theirs)]
    visit = subprocess.Popen([*program, str(chance.randint(1, 50)), "quick"], pass_fds=(theirs,), cwd=HERE.parent)
    os.close(theirs)
    with os.fdopen(ours, "rb") as acknowledged:
        must(acknowledged.readline() == b"0\n", "the visit did not begin")
        time.sleep(chance.random() * 1.5)
        visit.kill()
        visit.wait()
        lines = [int(line) for line in acknowledged.read().split()]
    (session,) = [path.parent for path in arena.place.glob(f"*/{JOURNAL}")] or [None]
    if session is None:
        return  # nothing had begun
    before = contents(session)
    journal = read_session(session)
    there = len(journal.entries)
    must(there >= max(lines, default=0), f"{lines[-1:]} lines were acknowledged, {there} are there")
    done = enginebay("resume", str(session), "--typed", typed="where am I\n")
    nothing_lost(session, before)
    must(read_session(session).entries[: len(journal.entries)] == journal.entries, "lines changed by taking it up")
    must(done.status in (0, 2), f"resume ended with {done.status}")


@attack
def cut(arena: Arena, chance: random.Random) -> None:
    """The journal, sounds or copies are cut somewhere: nothing else is lost, and what is missing is said."""
    session = arena.session(chance)
    path = session / JOURNAL
    data = path.read_bytes()
    if chance.random() < 0.8:
        at = chance.randrange(len(data))
        if chance.random() < 0.5:
            at = data.rfind(b"\n", 0, at) + 1  # whole lines are gone
        path.write_bytes(data[:at])
    files = [*(session / CLIPS).iterdir(), *(session / PROCEDURES).iterdir()]
    chosen = chance.sample(files, chance.randint(0, min(3, len(files))))
    for one in chosen:
        one.write_bytes(one.read_bytes()[: chance.randrange(one.stat().st_size + 1)])
    before = contents(session)
    journal = read_what_holds(path.read_bytes())
    loose = [one for one in (session / CLIPS).iterdir() if one.stem not in cited(journal)]
    exported = enginebay("export", str(session), "--to", "json")
    if not journal.entries:
        must(exported.status == 2, "nothing holds, and that was not said")
    elif loose:
        must(exported.status == DAMAGED, f"{len(loose)} sounds belong to no line, and that was not said")
        must("lines may be missing" in exported.told, "it was not said that lines may be missing")
    every_command(chance, session)
    nothing_lost(session, before)


@attack
def flip(arena: Arena, chance: random.Random) -> None:
    """Bytes of the journal flip: the damage is said, what still holds is shown, and a salvage keeps it."""
    session = arena.session(chance)
    path = session / JOURNAL
    data = bytearray(path.read_bytes())
    for _ in range(chance.randint(1, 6)):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    whole = path.read_bytes().splitlines()
    path.write_bytes(bytes(data))
    *found, rest = bytes(data).split(b"\n")
    holding = sum(line in set(whole) for line in (*found, rest if rest in whole else rest[:-1]))
    before = contents(session)
    exported = enginebay("export", str(session), "--to", "json")
    if bytes(data) == b"\n".join(whole) + b"\n":
        return  # two flips of one bit
    if exported.status != 2:
        read = json.loads((session / "record.json").read_text(encoding="utf-8"))
        must(read["chain"]["lines"] == holding, f"{holding} lines hold, {read['chain']['lines']} were shown")
        torn = read["chain"]["torn"] > 0  # only the end can be torn: its line end is damaged, and the line is too
        must(not torn or data[-1:] != b"\n", "damage was taken for a torn line")
        must(torn or read["chain"]["gaps"], "no gap is shown")
        must(torn or exported.status == DAMAGED, f"a damaged journal was exported with {exported.status}")
    every_command(chance, session)
    nothing_lost(session, before)
    damaged = contents(session)
    salvaged = enginebay("salvage", str(session), "--json")
    must(contents(session) == damaged, "the salvage changed what it was made of")
    if salvaged.status == 0:
        made = Path(json.loads(salvaged.said)["session"])
        must(len(read_session(made).entries) == holding + 1, "the salvage does not hold all that holds")
        every_command(chance, made)


@attack
def links(arena: Arena, chance: random.Random) -> None:
    """A part of a session is a link: what it leads to stays as it is."""
    session = arena.session(chance, broken=True)
    outside = arena.place / "outside"
    outside.mkdir()
    for number in range(5):
        (outside / f"{number}.txt").write_text(f"letter {number}")
    parts = [session / JOURNAL, session / CLIPS, session / PROCEDURES, session / ASIDE, session / "record.html"]
    inside = chance.choice([*(session / CLIPS).iterdir(), *(session / PROCEDURES).iterdir()])
    part = chance.choice([*parts, inside])
    folder = part.name in (CLIPS, PROCEDURES, ASIDE)
    if part.is_dir():
        shutil.rmtree(part)
    elif part.exists():
        part.unlink()
    leads_to = outside
    if not folder or chance.random() < 0.3:
        leads_to = chance.choice(
            [outside, outside / "1.txt", outside / "nothing", Path("/dev/zero"), Path("/dev/null")]
        )
    part.symlink_to(leads_to)
    before = contents(outside)
    every_command(chance, session)
    enginebay("salvage", str(session))
    after = contents(outside)
    must(after == before, "what lies behind a link was changed")


@attack
def strangers(arena: Arena, chance: random.Random) -> None:
    """Beside the sessions lie pipes, endless files, folders and rubbish: nothing hangs, and other sessions are read."""
    session = arena.session(chance)
    root = session.parent
    for number in range(chance.randint(1, 4)):
        stranger = root / f"stranger-{number}"
        stranger.mkdir()
        journal = stranger / JOURNAL
        match chance.randrange(7):
            case 0:
                os.mkfifo(journal)
            case 1:
                journal.symlink_to("/dev/zero")
            case 2:
                with journal.open("wb") as file:
                    file.truncate(chance.choice([10**6, 10**9, 10**12]))
            case 3:
                journal.mkdir()
            case 4:
                journal.write_bytes(chance.randbytes(chance.randint(1, 5000)))
            case 5:
                journal.write_bytes(b"[" * 100_000 + b"\n")
            case 6:
                data = (session / JOURNAL).read_bytes()
                journal.write_bytes(data.splitlines(keepends=True)[-1])
    for done in every_command(chance, session):
        must(done.status != 1, "ended with 1")
    begun = enginebay("work", ASSET, "oil-and-filter", "--typed", "--sessions", str(root), typed="where am I\n")
    must(begun.status == 0, f"work did not begin beside strangers: {begun.told}")


# --- the disk ---------------------------------------------------------------------------------------------------


@attack
def full_disk(arena: Arena, chance: random.Random) -> None:
    """The disk takes no more at a random point: what was acknowledged is kept, and what was not leaves no trace."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    folder = SessionFolder.create(arena.place / "sessions", "visit", {"a.yaml": b"x" * 100})
    kept: list[int] = []
    unlimited = resource.getrlimit(resource.RLIMIT_FSIZE)
    number = 0
    for _ in range(40):
        room = chance.choice([unlimited[1], chance.randrange(12_000)])
        resource.setrlimit(resource.RLIMIT_FSIZE, (room, unlimited[1]))
        at = Instant("2026-03-02T08:00:00.000+00:00", float(number), "boot")
        try:
            if chance.random() < 0.3:
                folder.keep(chance.randbytes(chance.randint(1, 9000)), 1.0)
            else:
                folder.append(Envelope(number + 1, at, ButtonPressed(number)), ())
                number += 1
                kept.append(number)
        except JournalError:
            pass
        there = [entry.envelope.number for entry in read_session(folder.folder).entries]
        must(there == kept, "lines are not as acknowledged")
    resource.setrlimit(resource.RLIMIT_FSIZE, unlimited)
    folder.close()
    must(not list((folder.folder / CLIPS).glob(".*")), "a part of a sound was left")
    SessionFolder.reopen(folder.folder)[0].close()


@attack
def full_disk_export(arena: Arena, chance: random.Random) -> None:
    """The disk takes no more while a record is written: the one before stays whole."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    session = arena.session(chance)
    form = chance.choice(["html", "json", "csv"])
    enginebay("export", str(session), "--to", form)
    page = session / f"record.{form}"
    before = page.read_bytes()
    page.write_bytes(before[:-1] + b"?")
    marked = page.read_bytes()
    unlimited = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (chance.randrange(len(before)), unlimited[1]))
    done = enginebay("export", str(session), "--to", form)
    resource.setrlimit(resource.RLIMIT_FSIZE, unlimited)
    must(done.status == 2, f"the export ended with {done.status}")
    must(page.read_bytes() == marked, "the record that was there is damaged")
    must(not list(session.glob("*.part")), "a part of a record was left")


# --- what is typed, and files of others -------------------------------------------------------------------------


@attack
def typed_rubbish(arena: Arena, chance: random.Random) -> None:
    """Rubbish is typed into a visit, by another process and through a real pipe."""
    words = [b"next", b"all good", b"affirm", b"stop", b"call for help", b"5", b"\x00", b"\xff\xfe", b"skip this step"]
    words += ["½ turn".encode(), b"'\"{}[]", b"a" * 100_000, b"end the work", b"-1e999999999", b"take a note", b"\r"]
    lines = [b" ".join(chance.choices(words, k=chance.randint(0, 3))) for _ in range(chance.randint(1, 60))]
    lines = [chance.randbytes(20) if chance.random() < 0.1 else line for line in lines]
    done = command("work", ASSET, "--typed", "--sessions", str(arena.place / "s"), given=b"\n".join(lines))
    if not done.status:
        (session,) = (arena.place / "s").iterdir()
        must(read_session(session).entries, "nothing was written")


def command(*words: str, given: bytes) -> Done:
    """A command in another process. Errors: Found when it hangs, dies or shows a traceback."""
    full = [sys.executable, "-m", "assistant", *words]
    try:
        done = subprocess.run(full, input=given, capture_output=True, timeout=COMMAND_SECONDS, cwd=HERE.parent)
    except subprocess.TimeoutExpired:
        raise Found(f"{' '.join(words)} hangs") from None
    told = done.stderr.decode("utf-8", "replace")
    must("Traceback" not in told, f"{' '.join(words)} showed a traceback: {told[-800:]}")
    must(done.returncode in (*STATUSES, DAMAGED), f"{' '.join(words)} ended with {done.returncode}: {told[-800:]}")
    return Done(done.returncode, done.stdout.decode("utf-8", "replace"), told)


@attack
def yaml_bomb(arena: Arena, chance: random.Random) -> None:
    """A procedure file that multiplies, nests or is just wrong."""
    model = shutil.copytree(HERE.parent / "procedures" / "twin-9", arena.place / "twin-9")
    file = chance.choice(sorted(model.glob("*.yaml")))
    text = file.read_text(encoding="utf-8")
    deep = chance.choice([50, 2_000, 100_000])
    bombs = [
        "a: &a [x, x, x, x, x, x, x, x, x]\n"
        + "".join(f"{chr(98 + n)}: &{chr(98 + n)} [{', '.join([f'*{chr(97 + n)}'] * 9)}]\n" for n in range(12)),
        "[" * deep,
        "{a: " * deep,
        "- " * deep,
        text + f"\nmore: {'x' * chance.choice([10**4, 10**7])}\n",
        text.replace(":", ": !!python/object/apply:os.system", 1),
        "".join(chance.choices(text + "{}[]&*!|>'\"%@`\t", k=3000)),
        text.replace("1", "1e999999999"),
        text.replace("0", "9" * 5_000),
        "\x00" * 100,
    ]
    file.write_text(chance.choice(bombs), encoding="utf-8")
    done = enginebay("check", str(model))
    must(done.status in (0, 1, 2), f"check ended with {done.status}")


@attack
def grammar_bomb(arena: Arena, chance: random.Random) -> None:
    """A grammar that explodes, nests or is just wrong."""
    many = chance.choice([100, 4_000, 30_000])
    weights = ["1e999", "1e-400", "0", "-1", "nan"]
    rules = "".join(f"<r{n}> = <r{n + 1}> <r{n + 1}>;\n" for n in range(40)) + "<r40> = a;\n"
    bodies = [
        "public <a> = " + " ".join("[a]" for _ in range(many)) + ";",
        "public <a> = " + "(" * many + "a" + ")" * many + ";",
        "public <a> = " + "[" * many + "a" + "]" * many + ";",
        "public <a> = " + " ".join("[a {t}]" for _ in range(min(many, 400))) + ";",
        "public <a> = <r0>;\n" + rules,
        "public <a> = " + " ".join("(a | b | <NULL>)" for _ in range(many)) + ";",
        "public <a> = " + "|".join(f"/{chance.choice(weights)}/ w{n}" for n in range(20)) + ";",
        "public <a> = " + "*" * many + ";",
        "public <a> = a" + "*" * many + ";",
        "import </etc/passwd.x>;\npublic <a> = <x>;",
        "import <../../x.y>;\npublic <a> = <y>;",
        "".join(chance.choices('<>()[]{}|*+;= ab"/\\1.\n', k=2000)),
    ]
    coding = chance.choice(["UTF-8", "idna", "undefined", "zlib_codec", "unicode_escape", "utf-7", ""])
    (arena.place / "g.jsgf").write_text(
        f"#JSGF V1.0 {coding} en;\ngrammar g;\n{chance.choice(bodies)}\n", encoding="utf-8"
    )
    import soundfile

    soundfile.write(arena.place / "a.wav", [0.0] * 1600, 16_000)
    done = command("hear", "--grammar", str(arena.place / "g.jsgf"), "--json", str(arena.place / "a.wav"), given=b"")
    must(done.status in (0, 2), f"hear ended with {done.status}")


@attack
def table_bomb(arena: Arena, chance: random.Random) -> None:
    """A history in a file that is hardly one; afterwards visits are planned as before."""
    root = arena.place / "s"
    ends = chance.choice(["\n", "\r\n", "\r"])
    rows = ["date,hours,task"]
    for _ in range(chance.randint(0, 5)):
        day = chance.choice(["2025-06-01", "0001-01-01", "9999-12-31", "2025-13-01", "", "x" * 1000])
        hours = chance.choice(["100", "1e27", "-5", "nan", "1e999999999", "", "١٢", "9" * 400])
        rows.append(f"{day},{hours},{chance.choice(['oil-and-filter', 'belt', '', 'no-task'])}")
    text = ends.join(rows).encode() + chance.choice([b"", b"\x00", b'"', b"\xff", b"," * 10**5])
    (arena.place / "h.csv").write_bytes(text)
    brought = enginebay("bring-in", ASSET, str(arena.place / "h.csv"), "--sessions", str(root))
    must(brought.status in (0, 2), f"bring-in ended with {brought.status}")
    root.mkdir(exist_ok=True)
    more = chance.choice(
        [(), ("--date", "9999-12-31"), ("--date", "0001-01-01"), ("--hours", "1e27"), ("--hours", "9" * 50)]
    )
    planned = enginebay("plan", ASSET, "--sessions", str(root), *more)
    must(planned.status == 0 or more, f"the asset is blocked after {text[:300]!r}: {planned.told}")


# --- devices, voices, clocks, people ------------------------------------------------------------------------------


@attack
def dead_thread(arena: Arena, chance: random.Random) -> None:
    """A device, the voice, the screen or the recogniser raises anything, for a while: the visit ends by voice."""
    from app.room import Room

    room = Room(arena.place)
    errors: list[BaseException] = [OSError(24, "Too many open files"), MemoryError(), RuntimeError("x"), SystemExit(3)]
    errors += [FileNotFoundError("gone"), UnicodeDecodeError("utf-8", b"x", 0, 1, "x"), KeyError("x")]
    places = [
        (room.voice, "render"),
        (room.player, "play"),
        (room.recogniser, "hear"),
        (room.recogniser, "prepare"),
        (room.watcher, "said"),
        (room.watcher, "note"),
        (room.watcher, "heard"),
        (room.folder, "keep"),
        (room.folder, "append"),
    ]
    until = time.monotonic() + 2.0
    share = chance.random()

    def failing(real: Callable[..., object], errors: list[BaseException], spared: int = 0) -> Callable[..., object]:
        calls = 0

        def call(*given: object) -> object:
            nonlocal calls
            calls += 1
            if calls > spared and time.monotonic() < until and chance.random() < share:
                raise chance.choice(errors)
            return real(*given)

        return call

    for thing, name in chance.sample(places, chance.randint(1, 3)):
        real = getattr(thing, name)
        allowed = errors if name == "render" else [one for one in errors if isinstance(one, Exception)]
        if name == "append":
            allowed = [JournalError("journal", "the line cannot be written", "Free the disk")]
            setattr(thing, name, failing(real, allowed, spared=1))  # without its first line no visit begins
            continue
        setattr(thing, name, failing(real, allowed))
    with room.attended():
        while time.monotonic() < until:
            if room.listens() and room.ear.is_open and not room.recogniser.words:
                room.utter(chance.choice(["all good", "say again", "next", "where am I"]))
            time.sleep(0.05)
        room.recogniser.words.clear()
        room.ends()
    read_session(room.folder.folder)


@attack
def stopped_voice(arena: Arena, chance: random.Random) -> None:
    """The process that speaks is stopped or killed in the middle: that is noticed, and the next words are spoken."""
    from assistant.edge.sound.voices import VoiceSettings
    from assistant.edge.sound.voices.pyttsx import PyttsxRenderer

    voice = PyttsxRenderer(VoiceSettings())
    try:
        voice.render("Warm up.")
        children = Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()
        must(children, "there is no worker")
        kill = f"kill -{chance.choice(['STOP', 'KILL'])} {' '.join(children)}"
        helper = subprocess.Popen(["sh", "-c", f"sleep {chance.random() * 0.3}; {kill}"])
        begun = time.monotonic()
        for text in ("Warm oil runs out at once. Keep your arm out of its way.", "Say it again.", "All good."):
            with suppress(EngineBayError):
                voice.render(text)
        took = time.monotonic() - begun
        helper.wait()
        must(took < 40, f"it took {took:.0f} s to speak again")
        must(len(voice.render("That is all.").frames) > 0, "it speaks no more")
    finally:
        voice.close()


@attack
def two_at_once(arena: Arena, chance: random.Random) -> None:
    """Several people take up work on one asset in the same moment: one of them gets it."""
    root = arena.place / "s"
    full = [sys.executable, "-m", "assistant", "work", ASSET, "oil-and-filter", "--typed", "--sessions", str(root)]
    everyone = [
        subprocess.Popen(full, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=HERE.parent)
        for _ in range(chance.randint(2, 4))
    ]
    waiting = list(everyone)
    until = time.monotonic() + COMMAND_SECONDS
    while len(waiting) > 1 and time.monotonic() < until:
        waiting = [one for one in waiting if one.poll() is None]
        time.sleep(0.02)
    time.sleep(0.2)
    working = [one for one in everyone if one.poll() is None]
    refused = [one for one in everyone if one.poll() is not None]
    told = [one.communicate(timeout=COMMAND_SECONDS)[1].decode() for one in refused]
    for one in working:
        one.communicate(b"where am I\n", timeout=COMMAND_SECONDS)
    must(len(working) == 1, f"{len(working)} of {len(everyone)} got the work")
    must(all("is at work on it" in words for words in told), f"it was not said who is at work: {told}")
    must(len(list(root.iterdir())) == 1, "more than one session was begun")


@attack
def clocks(arena: Arena, chance: random.Random) -> None:
    """The clock is set at random while a visit goes on: each jump is recorded, and durations stay true."""
    from datetime import UTC, datetime, timedelta

    from assistant.app.visit_owner import VisitOwner
    from assistant.edge.files.library import order_work
    from assistant.record import record
    from assistant.session import facts as f
    from assistant.session.inputs import WorkOrdered

    ordered = order_work("bench", ("service",), "technician", HERE / "dialogues")
    folder = SessionFolder.create(arena.place, "visit", ordered.files)

    class SetClock:
        seconds, ahead = 0.0, 0.0

        def now(self) -> Instant:
            wall = datetime(2026, 3, 2, 8, tzinfo=UTC) + timedelta(seconds=self.seconds + self.ahead)
            return Instant(wall.isoformat(timespec="milliseconds"), self.seconds, "a")

    clock = SetClock()
    owner = VisitOwner(ordered.work, folder, clock)
    owner.take(WorkOrdered(ordered.order))
    jumps = 0
    for _ in range(30):
        clock.seconds += chance.random() * 100
        moved = chance.choice([0, 0, 0, chance.uniform(-20, 20), chance.choice([-1, 1]) * chance.uniform(200, 1e9)])
        jumps += abs(moved) > 100
        clock.ahead += moved if abs(moved) > 100 else 0
        owner.take(ButtonPressed(owner.exchange))
    folder.close()
    journal = read_session(folder.folder)
    doubts = [fact for fact, _ in journal.facts() if isinstance(fact, f.ClockDoubted)]
    must(len(doubts) == jumps, f"the clock jumped {jumps} times, {len(doubts)} jumps were recorded")
    duration = record(journal).header.duration
    must(abs(duration - clock.seconds) < 0.001, f"{clock.seconds} s passed, the record says {duration} s")
    enginebay("export", str(folder.folder), "--to", "html")


# --- the run -----------------------------------------------------------------------------------------------------


@dataclass
class Count:
    """Of one attack."""

    trials: int = 0
    found: list[tuple[int, str]] = field(default_factory=list)
    seconds: float = 0.0


def prepare(place: Path) -> Arena:
    """Sessions to attack: ended ones, one of them a whole visit, and broken-off ones."""
    whole, broken = [], []
    with quick_speech_setup() as means:
        for seed in (1, 2, 3):
            told = rehearse(means, NoWatcher(), seed=seed, noise_db=10.0, root=place / "whole")
            whole.append(Path(str(told["session"])))
        told = rehearse(means, NoWatcher(), seed=4, noise_db=10.0, root=place / "whole", tasks=WHOLE_VISIT)
        whole.append(Path(str(told["session"])))
    for number, source in enumerate(whole):
        session = shutil.copytree(source, place / "broken" / source.name)
        lines = (session / JOURNAL).read_bytes().splitlines(keepends=True)
        kept = lines[: len(lines) * (number + 1) // 6]
        (session / JOURNAL).write_bytes(b"".join(kept))
        known = cited(read_session(session))
        for clip in (session / CLIPS).iterdir():
            if clip.stem not in known:
                clip.unlink()
        broken.append(session)
    return Arena(whole, broken)


def one_trial(name: str, trial: int, arena: Arena, seconds: float = TRIAL_SECONDS) -> str:
    """One attack in a process of its own. What it found, empty when nothing."""
    with tempfile.TemporaryDirectory(prefix="attack-") as place, _pipe() as (ours, theirs):
        child = os.fork()
        if child == 0:
            os.setsid()
            told = _in_child(name, trial, Arena(arena.whole, arena.broken, Path(place)))
            os.write(theirs, told.encode()[:60_000] or b"\0")
            os._exit(0)
        ready, _, _ = select.select([ours], [], [], seconds)
        told = os.read(ours, 65_536).decode("utf-8", "replace") if ready else f"it hangs: no end within {seconds:.0f} s"
        with suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        if not told:
            told = f"the process died ({status})"
        return told.strip("\0")


def _in_child(name: str, trial: int, arena: Arena) -> str:
    try:
        for part in ("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "TMPDIR"):
            folder = arena.place / part.lower()
            folder.mkdir()
            os.environ[part] = str(folder)
        tempfile.tempdir = None
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
        nowhere = os.open(os.devnull, os.O_RDWR)
        for descriptor in (0, 1, 2):
            os.dup2(nowhere, descriptor)
        ATTACKS[name](arena, random.Random(f"{name} {trial}"))
    except Found as found:
        return str(found)
    except BaseException as error:
        import traceback

        return f"{type(error).__name__}: {error}\n{''.join(traceback.format_exception(error)[-6:])}"
    return ""


@contextmanager
def _pipe() -> Iterator[tuple[int, int]]:
    ours, theirs = os.pipe()
    try:
        yield ours, theirs
    finally:
        os.close(ours)
        os.close(theirs)


def main() -> int:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1, help="of the first trial; the following ones count on")
    parser.add_argument("--only", choices=sorted(ATTACKS), action="append", help="only these attacks")
    parser.add_argument("--trial", type=int, help="this one trial of the attack that --only names")
    parser.add_argument("--json", action="store_true", help="end with one line of JSON")
    options = parser.parse_args()
    names = options.only or list(ATTACKS)
    counts = {name: Count() for name in names}
    until = time.monotonic() + options.minutes * 60
    shown = 0.0
    with tempfile.TemporaryDirectory(prefix="attacks-") as place:
        arena = prepare(Path(place))
        trial = options.seed * 1_000_000 if options.trial is None else options.trial
        while time.monotonic() < until:
            name = names[trial % len(names)] if options.trial is None else names[0]
            begun = time.monotonic()
            found = one_trial(name, trial, arena)
            count = counts[name]
            count.trials += 1
            count.seconds += time.monotonic() - begun
            if found:
                count.found.append((trial, found))
                print(f"\n{name}, trial {trial}: {found}", flush=True)
            if options.trial is not None:
                break
            trial += 1
            if time.monotonic() - shown > 2:
                shown = time.monotonic()
                left = max(0.0, until - shown) / 60
                total = sum(one.trials for one in counts.values())
                print(
                    f"\r{total} trials, {sum(len(one.found) for one in counts.values())} found, {left:.0f} min left ",
                    end="",
                    flush=True,
                )
    print()
    for name, count in counts.items():
        print(f"{name:<18}{count.trials:>6} trials  {count.seconds:>7.0f} s  {len(count.found)} found")
    total, found_all = sum(one.trials for one in counts.values()), sum(len(one.found) for one in counts.values())
    if options.json:
        print(json.dumps({"trials": total, "found": found_all, "attacks": {n: c.trials for n, c in counts.items()}}))
    print(f"{total} trials, {found_all} found")
    return 1 if found_all else 0


if __name__ == "__main__":
    sys.exit(main())
