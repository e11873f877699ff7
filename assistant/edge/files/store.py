"""A session's folder: the journal, appended and synced line by line; the clips; the copies of the procedures.

A clip is on disk before the input that cites it is delivered; a line is on disk before any effect of it runs. While a
process has a session open it holds a lock on the journal, which goes with the process, however it ends. Nothing is ever
deleted: what belongs to no line is set aside in a folder of its own. No part of a session may be a link.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import hashlib
import os
import time
from pathlib import Path

from assistant.edge.files.access import make_folder, open_regular, read_file, sync_folder, write_whole
from assistant.errors import JournalError, RecordError
from assistant.session.facts import Fact
from assistant.session.inputs import Clip, Envelope, Heard, Input
from assistant.session.journal import START, Journal, read_lines, write_line

JOURNAL, CLIPS, PROCEDURES, ASIDE = "journal.jsonl", "clips", "procedures", "set-aside"
MAX_JOURNAL_BYTES = 256_000_000  # a hundred times that of the longest visit
MAX_LINE_BYTES = 4_000_000  # bytes of one line: a long history that is brought in is one
LOOKS, LOOK_SECONDS = 5, 0.02  # how often, and after how long, a lock is tried again
MAX_COPY_BYTES = 4_000_000  # bytes of a procedure's copy


class SessionFolder:
    """One session on disk, open for appending. Only one process may hold it. Made by `create` and `reopen`."""

    def __init__(self, folder: Path, file: int, last_hash: str, number: int) -> None:
        """file: the descriptor of the journal, locked; it is this object's from now on."""
        self.folder = folder
        self.number = number
        self.set_aside: tuple[str, ...] = ()  # names of files that no line cites, and of a torn last line's
        self._last_hash = last_hash
        self._size = os.fstat(file).st_size
        self._file = file
        self._torn = False  # whether a part of a line stands at the end that could not be taken back

    @classmethod
    def create(cls, root: Path, name: str, files: dict[str, bytes]) -> SessionFolder:
        """A new session.

        root: made when it is missing.
        name: of the folder, a number is added when it is taken.
        files: the exact procedure files.

        Errors: JournalError when the folder cannot be written.
        """
        try:
            make_folder(root)
            folder, count = root / name, 1
            while os.path.lexists(folder):
                count += 1
                folder = root / f"{name}-{count}"
            for inside in (CLIPS, PROCEDURES):
                make_folder(folder / inside)
            for file, data in files.items():
                write_whole(folder / PROCEDURES / file, data)
            os.close(open_regular(folder / JOURNAL, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            sync_folder(folder)  # last: a folder with a journal is a session that can be taken up
            return cls(folder, _locked(folder), START, 0)
        except OSError as error:
            raise JournalError(
                str(root), f"the session cannot be kept here ({error})", "Free or repair the disk"
            ) from None

    @classmethod
    def reopen(cls, folder: Path) -> tuple[SessionFolder, Journal]:
        """A session that broke off. A torn last line and sounds that no line cites are set aside: see `set_aside`.

        Errors: RecordError when the folder is no session or has a link in it, JournalError when its journal is damaged,
        cannot be written, or is held by another process.
        """
        _see_journal(folder)
        _refuse_links(folder)
        file = _locked(folder)
        try:
            journal = read_session(folder)  # only now: whoever held it may have written
            moved = _tidy(folder, file, journal)
        except OSError as error:
            os.close(file)
            raise JournalError(
                str(folder), f"the session cannot be taken up ({error})", "Free or repair the disk"
            ) from None
        except BaseException:
            os.close(file)
            raise
        number = journal.entries[-1].envelope.number if journal.entries else 0
        session = cls(folder, file, journal.last_hash, number)
        session.set_aside = moved
        return session, journal

    def keep(self, sound: bytes, seconds: float) -> Clip:
        """A clip to disk. sound: a FLAC file's bytes. Errors: JournalError when it cannot be written."""
        digest = hashlib.sha256(sound).hexdigest()
        path = self.folder / CLIPS / f"{digest}.flac"
        try:
            write_whole(path, sound)
        except OSError as error:
            raise JournalError(str(path), f"the clip cannot be written ({error})", "Free or repair the disk") from None
        return Clip(digest, seconds)

    def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
        """A decision to disk, whole or not at all. Errors: JournalError; the journal is then as it was before."""
        line, digest = write_line(envelope, facts, self._last_hash)
        if len(line) > MAX_LINE_BYTES:
            place, cause = str(self.folder / JOURNAL), f"the line would have {len(line):,} bytes"
            raise JournalError(place, cause, f"Give it in parts; a line has at most {MAX_LINE_BYTES:,} bytes")
        try:
            if self._torn:
                os.ftruncate(self._file, self._size)  # a line behind a torn one would be lost with it
                self._torn = False
            written = os.write(self._file, line)
            if written != len(line):
                raise OSError("the disk took only a part of the line")
            os.fsync(self._file)
        except OSError as error:
            self._restore()
            place = str(self.folder / JOURNAL)
            raise JournalError(place, f"the line cannot be written ({error})", "Free or repair the disk") from None
        self._size += len(line)
        self._last_hash, self.number = digest, envelope.number

    def close(self) -> None:
        """Let the folder go; another process may hold it then."""
        os.close(self._file)

    def _restore(self) -> None:
        try:
            os.ftruncate(self._file, self._size)
        except OSError:
            self._torn = True  # tried again before the next line; set aside at reopening


def read_session(folder: Path) -> Journal:
    """The journal of a session's folder. Errors: RecordError when it is none, JournalError when it is damaged."""
    path = _see_journal(folder)
    return read_lines(journal_bytes(path), str(path))


def journal_bytes(path: Path) -> bytes:
    """The bytes of a journal. Errors: RecordError when it cannot be read, is a link or no regular file."""
    try:
        return read_file(path, MAX_JOURNAL_BYTES, follow=False)
    except OSError as error:
        raise RecordError(
            str(path), f"it cannot be read ({error.strerror})", "See that it is a file and that you may read it"
        ) from None


def first_input(journal: Path) -> Input | None:
    """What a session began with, which tells whose it is: most need not be read further. journal: its file; None when
    nothing was written yet. Errors: OSError, and JournalError when the line is damaged."""
    with os.fdopen(open_regular(journal, os.O_RDONLY), "rb") as file:
        line = file.readline(MAX_LINE_BYTES + 1)
    if len(line) > MAX_LINE_BYTES:
        raise JournalError(f"{journal.name}, line 1", "the line has no end", "Restore the session from a copy")
    entries = read_lines(line, journal.name).entries
    return entries[0].envelope.input if entries else None


def is_held_open(folder: Path) -> bool:
    """Whether a process has the session open. Errors: OSError when its journal cannot be read."""
    file = open_regular(folder / JOURNAL, os.O_RDONLY)
    try:
        fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(file)
    return False


def uncited(folder: Path, journal: Journal) -> tuple[str, ...]:
    """Names of the files among a session's sounds that no line cites, also of those that were set aside before.

    A sound that was kept and has no line means that lines may be missing.
    """
    cited = _cited(journal)
    names = [path.name for path in _inside(folder / CLIPS) if path.name not in cited]
    names += [path.name for path in _inside(folder / ASIDE) if path.suffix == ".flac"]
    return tuple(sorted(names))


def read_copy(path: Path, sha256: str) -> bytes | None:
    """A copy of a procedure, or None when it is missing, is a link, or is not what its hash says."""
    try:
        data = read_file(path, MAX_COPY_BYTES, follow=False)
    except OSError:
        return None
    return data if hashlib.sha256(data).hexdigest() == sha256 else None


def replace_copy(folder: Path, name: str, data: bytes) -> None:
    """A copy of a procedure that does not hold is set aside, and these bytes take its place. Errors: OSError."""
    path = folder / PROCEDURES / name
    make_folder(path.parent)
    if os.path.lexists(path):
        _set_aside(folder, path)
    write_whole(path, data)


def _see_journal(folder: Path) -> Path:
    path = folder / JOURNAL
    if not path.is_file():
        raise RecordError(str(folder), "this is no session: it has no journal", "Name a session's folder")
    return path


def _refuse_links(folder: Path) -> None:
    for path in (folder / name for name in (JOURNAL, CLIPS, PROCEDURES, ASIDE)):
        if path.is_symlink():
            raise RecordError(
                str(path),
                "it is a link, so what lies behind it does not belong to the session",
                "Put the real folder or file in its place",
            )


def _locked(folder: Path) -> int:
    """The journal, open for appending and locked. The lock is the descriptor's, and no program started inherits it."""
    path = folder / JOURNAL
    try:
        file = open_regular(path, os.O_RDWR | os.O_APPEND)
    except OSError as error:
        raise JournalError(
            str(path), f"it cannot be written ({error})", "Give yourself the right to write it"
        ) from None
    try:
        _lock(file)
    except BlockingIOError:
        os.close(file)
        raise JournalError(
            str(folder), "another process has this session open", "Go on there, or end that process and try again"
        ) from None
    except OSError as error:
        os.close(file)
        raise JournalError(
            str(path), f"it cannot be locked ({error})", "Keep sessions on a disk of this machine"
        ) from None
    return file


def _lock(file: int) -> None:
    """The lock, also where another process just looks whether it is held. Errors: BlockingIOError when it is held."""
    for _ in range(LOOKS):
        with contextlib.suppress(BlockingIOError):
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        time.sleep(LOOK_SECONDS)
    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _tidy(folder: Path, file: int, journal: Journal) -> tuple[str, ...]:
    """After a break: the torn last line into a file of its own, a missing line end written, and aside what no line
    cites. Names of the files that were set aside. file: the journal, open for appending."""
    torn: Path | None = None
    if journal.torn:
        torn = folder / f"torn-{hashlib.sha256(journal.torn).hexdigest()[:12]}.part"
        write_whole(torn, journal.torn)
        os.ftruncate(file, os.fstat(file).st_size - len(journal.torn))
        os.fsync(file)
    if journal.unended:
        if os.write(file, b"\n") != 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        os.fsync(file)
    make_folder(folder / CLIPS)  # copying tools leave an empty folder out
    cited = _cited(journal)
    loose = [path for path in _inside(folder / CLIPS) if path.name not in cited]
    for path in loose:
        _set_aside(folder, path)
    return (*([torn.name] if torn is not None else []), *(path.name for path in loose))


def _cited(journal: Journal) -> set[str]:
    """The names of the files of all sounds that a line cites."""
    return {
        f"{entry.envelope.input.clip.sha256}.flac"
        for entry in journal.entries
        if isinstance(entry.envelope.input, Heard) and entry.envelope.input.clip is not None
    }


def _inside(folder: Path) -> list[Path]:
    """What lies in a folder, by name; nothing when it is a link or is not there."""
    return sorted(folder.iterdir()) if folder.is_dir() and not folder.is_symlink() else []


def _set_aside(folder: Path, path: Path) -> None:
    """Moves something of a session into a folder of its own. Nothing there is ever replaced. Errors: OSError."""
    make_folder(folder / ASIDE)
    name, count = path.name, 1
    while os.path.lexists(folder / ASIDE / name):
        count += 1
        name = f"{path.stem}-{count}{path.suffix}"
    path.rename(folder / ASIDE / name)
    sync_folder(folder / ASIDE)
    sync_folder(path.parent)
