"""What the device finds when a visit begins or goes on: what moment is over for sure, and who is at work already.

Knows the sessions that lie in one folder. A session is being worked on while a process holds its journal; that lock
goes with the process, however it ends. Changes nothing.
"""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assistant.edge.clock import MADE
from assistant.edge.files.access import make_folder, open_regular
from assistant.edge.files.store import JOURNAL, MAX_LINE_BYTES, first_input, is_held_open, journal_bytes
from assistant.errors import EngineBayError, JournalError
from assistant.session import facts as f
from assistant.session.clocks import seconds_between
from assistant.session.inputs import AtWork, WorkOrdered
from assistant.session.journal import read_what_holds

WAIT_SECONDS = 5.0  # for another process that is just opening a session
LOOK_SECONDS = 0.05
LAST_LINES = 20  # of a journal, of which one is hoped to hold


def newest_moment(root: Path, apart_from: Path | None = None) -> tuple[str, str]:
    """The latest moment, ISO 8601, at which a session in `root` was written, and its name; the program's own date, and
    no name, when that is later. apart_from: a session that is not looked at, its folder without links."""
    newest, session = MADE, ""
    for path in root.glob(f"*/{JOURNAL}"):
        if apart_from is not None and path.parent.resolve() == apart_from:
            continue
        try:
            wall = _last_moment(path)
            if wall and seconds_between(newest, wall) > 0:
                newest, session = wall, path.parent.name
        except (OSError, EngineBayError):
            continue  # what cannot be read is told of elsewhere
    return newest, session


def at_work(root: Path, asset: str, apart_from: Path | None = None) -> tuple[AtWork, ...]:
    """Who is at work on the asset, in a session in `root`. apart_from: one that is not looked at, as above."""
    return tuple(
        found
        for path in sorted(root.glob(f"*/{JOURNAL}"))
        if apart_from is None or path.parent.resolve() != apart_from
        if (found := _at_work(path, asset)) is not None
    )


@contextmanager
def opening_lock(root: Path) -> Iterator[None]:
    """While one process looks who is at work and opens its session, no other one does. Errors: JournalError."""
    try:
        make_folder(root)
        folder = os.open(root, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    except OSError as error:
        cause = f"the session cannot be kept here ({error.strerror})"
        raise JournalError(str(root), cause, "Free or repair the disk") from None
    try:
        _lock(folder, root)
        yield
    finally:
        os.close(folder)


def _lock(folder: int, root: Path) -> None:
    until = time.monotonic() + WAIT_SECONDS
    while True:
        try:
            fcntl.flock(folder, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError:
            if time.monotonic() > until:
                cause = f"another process has been opening a session here for {WAIT_SECONDS:g} seconds"
                raise JournalError(str(root), cause, "End that process, and try again") from None
            time.sleep(LOOK_SECONDS)
        except OSError:
            return  # a disk without locks: sessions say so themselves


def _at_work(path: Path, asset: str) -> AtWork | None:
    """Who holds this session, if it is of the asset and somebody does."""
    session = path.parent
    try:
        if not is_held_open(session):
            return None
        given = first_input(path)
        if given is None:  # it was opened a moment ago, and nothing stands in it yet
            return AtWork("technician", session.name, "") if f"-{asset}-" in f"{session.name}-" else None
        if not isinstance(given, WorkOrdered) or given.order.asset != asset:
            return None
        journal = read_what_holds(journal_bytes(path))
    except (OSError, EngineBayError):
        return None  # what cannot be read is told of elsewhere
    technician = given.order.technician
    for fact, _ in journal.facts():
        if isinstance(fact, f.WorkTakenUpAgain | f.WorkHandedOver):
            technician = fact.technician
    return AtWork(technician, session.name, journal.entries[0].envelope.at.wall)


def _last_moment(path: Path) -> str | None:
    """The wall time of a journal's last line that holds."""
    with os.fdopen(open_regular(path, os.O_RDONLY), "rb") as file:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - MAX_LINE_BYTES))
        lines = [line for line in file.read(MAX_LINE_BYTES).splitlines() if line]
    for line in reversed(lines[-LAST_LINES:]):
        entries = read_what_holds(line + b"\n", path.name).entries
        if entries:
            return entries[0].envelope.at.wall
    return None
