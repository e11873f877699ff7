"""What lies in a session's folder, as evidence: what holds, what is damaged, what is missing or was changed.

Reads only. Knows where the files lie and their hashes; refuses to know what a page or a table makes of them.
"""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

from assistant.edge.files.access import read_file, remedy, write_whole
from assistant.edge.files.shipped_words import english_words
from assistant.edge.files.store import CLIPS, JOURNAL, PROCEDURES, journal_bytes, uncited
from assistant.errors import RecordError
from assistant.quantities import counted
from assistant.record import record
from assistant.record.summary import Record
from assistant.session.journal import Journal, read_what_holds

MAX_ATTACHED_BYTES = 64_000_000  # bytes of a sound or of a procedure's copy


def read_evidence(session: Path) -> tuple[Journal, str]:
    """The journal as far as it holds, also behind damage, and what is wrong with the rest, empty when nothing is.

    Errors: RecordError when the folder is no session, or nothing of its journal can be verified.
    """
    path = session / JOURNAL
    if not os.path.lexists(path):
        what = f"it has no {JOURNAL}, so it is no session" if session.is_dir() else "there is no such folder"
        raise RecordError(str(session), what, "Name the folder that `enginebay work` or `enginebay demo` printed")
    journal = read_what_holds(journal_bytes(path), JOURNAL)
    damage = "; ".join(f"{JOURNAL}, line {gap.line}: {gap.cause}" for gap in journal.gaps)
    if not journal.entries:
        cause = damage or "the journal holds no whole line"
        raise RecordError(str(path), cause, "Restore the session from a copy")
    return journal, damage


def evidence_in_words(session: Path) -> tuple[Journal, str]:
    """As `read_evidence`, with the statements of all facts in words, for people to read. Errors: as there."""
    journal, damage = read_evidence(session)
    words = english_words()
    entries = tuple(replace(entry, facts=words.worded(entry.facts)) for entry in journal.entries)
    return replace(journal, entries=entries), damage


def faults_of(session: Path) -> tuple[str, ...]:
    """A sentence for each line, sound and copy of a session that does not hold. Errors: RecordError."""
    journal, damage = read_evidence(session)
    gaps = (f"{JOURNAL}, line {gap.line}: {gap.cause}." for gap in journal.gaps)
    return (*gaps, *attachments(session, record(journal, damage), journal)[1])


def write_record(path: Path, text: str) -> Path:
    """A record into its session's folder, whole or not at all. Returns the path.

    Errors: RecordError, also when a link or anything else that is no file stands in its place.
    """
    if os.path.lexists(path) and not (path.is_file() and not path.is_symlink()):
        cause = "something that is no file stands in the record's place, a link perhaps"
        raise RecordError(str(path), cause, "Move it away, and try again")
    try:
        write_whole(path, text.encode("utf-8"))
    except OSError as error:
        cause = f"the record cannot be written ({error.strerror})"
        otherwise = "Make the folder writable, or copy the session elsewhere"
        raise RecordError(str(path), cause, remedy(error, otherwise)) from None
    return path


def attachments(session: Path, session_record: Record, journal: Journal) -> tuple[dict[str, str], list[str]]:
    """The sounds that a record cites, and what is wrong with the session's files. A link is no file of the session.

    Returns hash -> relative path, quoted for a link, of each sound that fits its hash; and a sentence for each file
    that is missing or does not fit, and one for sounds that no line cites.
    """
    files: dict[str, str] = {}
    faults: list[str] = []
    for clip in session_record.clips():
        name = f"{CLIPS}/{clip.sha256}.flac"
        path = session / name
        if not re.fullmatch(r"[0-9a-f]{64}", clip.sha256) or not _is_file(path):
            faults.append(f"The sound {clip.sha256[:12]} is not in the session folder.")
        elif _digest(path) != clip.sha256:
            faults.append(f"The sound {clip.sha256[:12]} was changed: it does not fit its hash. It is not linked.")
        else:
            files[clip.sha256] = quote(name)
    for copy in session_record.header.copies:
        path = session / PROCEDURES / copy.name
        if not path.resolve().is_relative_to(session.resolve()) or not _is_file(path):
            faults.append(f"The copy of the procedure file {copy.name} is not in the session folder.")
        elif _digest(path) != copy.sha256:
            faults.append(f"The copy of the procedure file {copy.name} was changed: it does not fit its hash.")
    loose = [name for name in uncited(session, journal) if name.endswith(".flac")]
    if loose:
        sounds = counted(len(loose), "sound belongs", "sounds belong")
        faults.append(f"{sounds} to no line of the journal: lines may be missing.")
    return files, faults


def _is_file(path: Path) -> bool:
    return path.is_file() and not path.is_symlink() and not path.parent.is_symlink()


def _digest(path: Path) -> str | None:
    """The SHA-256 of a file; None when it cannot be read."""
    try:
        return hashlib.sha256(read_file(path, MAX_ATTACHED_BYTES, follow=False)).hexdigest()
    except OSError:
        return None
