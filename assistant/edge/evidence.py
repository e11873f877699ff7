"""What lies in a session's folder, as evidence: what holds, what is damaged, what is missing or was changed.

Reads only. Knows where the files lie and their hashes; refuses to know what a page or a table makes of them.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path
from urllib.parse import quote

from assistant.edge.store import CLIPS, JOURNAL, PROCEDURES
from assistant.errors import JournalError, RecordError
from assistant.review import Record
from assistant.session.journal import Journal, read_lines


def read_evidence(session: Path) -> tuple[Journal, str]:
    """The journal as far as it holds, and what is wrong with the rest, empty when nothing is.

    Errors: RecordError when the folder is no session, or nothing of its journal can be verified.
    """
    path = session / JOURNAL
    if not path.is_file():
        what = f"it has no {JOURNAL}, so it is no session" if session.is_dir() else "there is no such folder"
        raise RecordError(str(session), what, "Name the folder that `enginebay work` or `enginebay demo` printed")
    try:
        data = path.read_bytes()
    except OSError as error:
        raise RecordError(str(path), f"it cannot be read ({error.strerror})", "Look at its permissions") from None
    damage = ""
    try:
        journal = read_lines(data, JOURNAL)
    except JournalError as error:
        damage = f"{error.place}: {error.cause}"
        journal = _sound_beginning(data)
    if not journal.entries:
        cause = damage or "the journal holds no whole line"
        raise RecordError(str(path), cause, "Restore the session from a copy")
    return journal, damage


def _sound_beginning(data: bytes) -> Journal:
    """The longest beginning of a damaged journal that can be verified."""
    lines = data.splitlines(keepends=True)
    holds, breaks = 0, len(lines)  # the beginning of `holds` lines can be read, that of `breaks` cannot
    while breaks - holds > 1:
        middle = (holds + breaks) // 2
        try:
            read_lines(b"".join(lines[:middle]), JOURNAL)
        except JournalError:
            breaks = middle
        else:
            holds = middle
    return read_lines(b"".join(lines[:holds]), JOURNAL)


def attachments(session: Path, judged: Record) -> tuple[dict[str, str], list[str]]:
    """Paths of the sounds that fit their hashes, by hash; a sentence for each file that is missing or does not fit."""
    clips: dict[str, str] = {}
    faults: list[str] = []
    for clip in judged.clips():
        name = f"{CLIPS}/{clip.sha256}.flac"
        if not re.fullmatch(r"[0-9a-f]{64}", clip.sha256) or not (session / name).is_file():
            faults.append(f"The sound {clip.sha256[:12]} is not in the session folder.")
        elif _digest(session / name) != clip.sha256:
            faults.append(f"The sound {clip.sha256[:12]} was changed: it does not fit its hash. It is not linked.")
        else:
            clips[clip.sha256] = quote(name)
    for copy in judged.header.copies:
        path = session / PROCEDURES / copy.name
        if not path.resolve().is_relative_to(session.resolve()) or not path.is_file():
            faults.append(f"The copy of the procedure file {copy.name} is not in the session folder.")
        elif _digest(path) != copy.sha256:
            faults.append(f"The copy of the procedure file {copy.name} was changed: it does not fit its hash.")
    return clips, faults


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
