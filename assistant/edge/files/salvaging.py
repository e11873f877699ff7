"""What holds of a damaged session, kept in a new one beside it that says that it is a salvage.

The damaged session is left as it was found. The new one begins with the decision that tells of the salvage; after it
come those that could be verified, each as it was, chained anew, and the files are copied. Work does not go on in it.
"""

from __future__ import annotations

import hashlib
import shlex
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from assistant.edge.clock import MachineClock
from assistant.edge.files.access import make_folder, read_file, write_whole
from assistant.edge.files.evidence import MAX_ATTACHED_BYTES
from assistant.edge.files.store import ASIDE, CLIPS, JOURNAL, PROCEDURES, SessionFolder, journal_bytes
from assistant.errors import JournalError, RecordError
from assistant.session.facts import SalvageMade
from assistant.session.inputs import Envelope, SessionSalvaged, WorkOrdered
from assistant.session.journal import Journal, read_what_holds

FOUND = "journal-as-found.jsonl"


@dataclass(frozen=True, slots=True)
class Salvage:
    """A session that was made of a damaged one.

    folder: the new session's.
    lines: how many hold.
    gaps: where lines are damaged or missing, a sentence each.
    left: files that could not be copied, a sentence each.
    """

    folder: Path
    lines: int
    gaps: tuple[str, ...]
    left: tuple[str, ...]

    def in_words(self) -> str:
        """For a person."""
        lines = (
            f"{self.lines} {'line holds' if self.lines == 1 else 'lines hold'} and {'is' if self.lines == 1 else 'are'}"
        )
        return "\n".join(
            [
                f"{lines} kept in {self.folder}",
                *(f"  {gap}." for gap in (*self.gaps, *self.left)),
                f"The record: enginebay export {shlex.quote(str(self.folder))} --to html",
            ]
        )


def salvage(session: Path) -> Salvage:
    """Keep what holds of a damaged session.

    Errors: RecordError when the folder is no session, nothing of it holds, or all of it does; JournalError when the new
    session cannot be written.
    """
    data = journal_bytes(session / JOURNAL)
    journal = read_what_holds(data, JOURNAL)
    if not journal.gaps:
        raise RecordError(str(session), "its journal is not damaged", "Nothing has to be done")
    if not journal.entries:
        raise RecordError(str(session), "no line of its journal holds", "Restore the session from a copy")
    gaps = tuple(f"line {gap.line} of the journal: {gap.cause}" for gap in journal.gaps)
    clock = MachineClock()
    digest = hashlib.sha256(data).hexdigest()
    name = session.resolve().name
    folder = SessionFolder.create(session.resolve().parent, f"{name}-salvaged", {})
    with closing(folder):
        left = tuple(_copied(session, folder.folder, data))
        made = SalvageMade(name, journal.last_hash, len(journal.entries), gaps)
        folder.append(Envelope(1, clock.now(), SessionSalvaged(_asset(journal), name, digest)), (made,))
        for number, entry in enumerate(journal.entries, start=2):
            folder.append(Envelope(number, entry.envelope.at, entry.envelope.input), entry.facts)
    return Salvage(folder.folder, len(journal.entries), gaps, left)


def _asset(journal: Journal) -> str:
    """The asset, where the line that orders the work holds."""
    given = (entry.envelope.input for entry in journal.entries)
    return next((first_input.order.asset for first_input in given if isinstance(first_input, WorkOrdered)), "")


def _copied(session: Path, folder: Path, journal: bytes) -> list[str]:
    """Copies sounds and procedures, and the journal as it was found. A sentence for each file that could not be."""
    left: list[str] = []
    try:
        write_whole(folder / FOUND, journal)
        for name in (CLIPS, PROCEDURES, ASIDE):
            inside = session / name
            if not inside.is_dir() or inside.is_symlink():
                continue
            make_folder(folder / name)
            for path in sorted(inside.iterdir()):
                try:
                    data = read_file(path, MAX_ATTACHED_BYTES, follow=False)
                except OSError as error:
                    left.append(f"{name}/{path.name} was not copied: {error.strerror}")
                    continue
                write_whole(folder / name / path.name, data)
    except OSError as error:
        cause = f"the salvage cannot be written ({error.strerror})"
        raise JournalError(str(folder), cause, "Free or repair the disk, and try again") from None
    return left
