"""A session's folder: the journal, appended and synced line by line; the clips; the copies of the procedures.

A clip is on disk before the input that cites it is delivered; a line is on disk before any effect of it runs. While a
process has a session open it holds a lock on the journal, which goes with the process, however it ends.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
from pathlib import Path

from assistant.errors import JournalError, RecordError
from assistant.session.facts import Fact
from assistant.session.inputs import Clip, Envelope, Heard, Input
from assistant.session.journal import START, Journal, read_lines, write_line

JOURNAL, CLIPS, PROCEDURES = "journal.jsonl", "clips", "procedures"


class SessionFolder:
    """One session on disk, open for appending. Only one process may hold it. Made by `create` and `reopen`."""

    def __init__(self, folder: Path, file: int, last_hash: str, number: int) -> None:
        """file: the descriptor of the journal, locked; it is this object's from now on."""
        self.folder = folder
        self.number = number
        self._last_hash = last_hash
        self._size = os.fstat(file).st_size
        self._file = file
        self._torn = False  # whether a part of a line stands at the end that could not be taken back

    @classmethod
    def create(cls, root: Path, name: str, files: dict[str, bytes]) -> SessionFolder:
        """A new session. root: made when it is missing; name: of the folder, a number is added when it is taken;
        files: the exact procedure files. Errors: JournalError when the folder cannot be written."""
        try:
            root.mkdir(parents=True, exist_ok=True)
            folder, count = root / name, 1
            while folder.exists():
                count += 1
                folder = root / f"{name}-{count}"
            (folder / CLIPS).mkdir(parents=True)
            (folder / PROCEDURES).mkdir()
            for file, data in files.items():
                (folder / PROCEDURES / file).write_bytes(data)
            (folder / JOURNAL).touch()
            _sync_folder(folder)
            return cls(folder, _locked(folder), START, 0)
        except OSError as error:
            raise JournalError(
                str(root), f"the session cannot be kept here ({error})", "Free or repair the disk"
            ) from None

    @classmethod
    def reopen(cls, folder: Path) -> tuple[SessionFolder, Journal]:
        """A session that broke off. A torn last line is moved to a file of its own; clips that no line cites go.

        Errors: RecordError when the folder is no session, JournalError when its journal is damaged, cannot be written,
        or is held by another process.
        """
        _see_journal(folder)
        file = _locked(folder)
        try:
            journal = read_session(folder)  # only now: whoever held it may have written
            _tidy(folder, journal)
        except OSError as error:
            os.close(file)
            raise JournalError(
                str(folder), f"the session cannot be taken up ({error})", "Free or repair the disk"
            ) from None
        except BaseException:
            os.close(file)
            raise
        number = journal.entries[-1].envelope.number if journal.entries else 0
        return cls(folder, file, journal.last_hash, number), journal

    def keep(self, sound: bytes, seconds: float) -> Clip:
        """A clip to disk. sound: a FLAC file's bytes. Errors: JournalError when it cannot be written."""
        digest = hashlib.sha256(sound).hexdigest()
        path = self.folder / CLIPS / f"{digest}.flac"
        try:
            with path.open("wb") as file:
                file.write(sound)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise JournalError(str(path), f"the clip cannot be written ({error})", "Free or repair the disk") from None
        return Clip(digest, seconds)

    def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
        """A decision to disk, whole or not at all. Errors: JournalError; the journal is then as it was before."""
        line, digest = write_line(envelope, facts, self._last_hash)
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
    return read_lines(path.read_bytes(), str(path))


def first_input(journal: Path) -> Input | None:
    """What a session began with, which tells whose it is: most need not be read further. journal: its file; None when
    nothing was written yet. Errors: OSError, and JournalError when the line is damaged."""
    with journal.open("rb") as file:
        entries = read_lines(file.readline(), journal.name).entries
    return entries[0].envelope.input if entries else None


def held(folder: Path) -> bool:
    """Whether a process has the session open. Errors: OSError when its journal cannot be read."""
    file = os.open(folder / JOURNAL, os.O_RDONLY)
    try:
        fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return True
    finally:
        os.close(file)
    return False


def _see_journal(folder: Path) -> Path:
    path = folder / JOURNAL
    if not path.is_file():
        raise RecordError(str(folder), "this is no session: it has no journal", "Name a session's folder")
    return path


def _locked(folder: Path) -> int:
    """The journal, open for appending and locked. The lock is the descriptor's, and no program started inherits it."""
    path = folder / JOURNAL
    try:
        file = os.open(path, os.O_WRONLY | os.O_APPEND)
    except OSError as error:
        raise JournalError(
            str(path), f"it cannot be written ({error})", "Give yourself the right to write it"
        ) from None
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
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


def _tidy(folder: Path, journal: Journal) -> None:
    """After a break: the torn last line into a file of its own, and clips away that no line cites."""
    if journal.torn:
        digest = hashlib.sha256(journal.torn).hexdigest()[:12]
        (folder / f"torn-{digest}.part").write_bytes(journal.torn)
        whole = (folder / JOURNAL).stat().st_size - len(journal.torn)
        os.truncate(folder / JOURNAL, whole)
    cited = {
        entry.envelope.input.clip.sha256
        for entry in journal.entries
        if isinstance(entry.envelope.input, Heard) and entry.envelope.input.clip is not None
    }
    (folder / CLIPS).mkdir(exist_ok=True)  # copying tools leave an empty folder out
    for clip in (folder / CLIPS).iterdir():
        if clip.stem not in cited:
            clip.unlink()


def _sync_folder(folder: Path) -> None:
    for path in (folder, folder.parent):
        descriptor = os.open(path, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
