"""A dialogue as a session folder, for tests of what is made of sessions."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

from assistant.edge.files.language import Language
from assistant.edge.files.library import folder_of
from assistant.edge.files.store import SessionFolder
from tests.dialogues.playing import HERE, played

ALL = tuple(sorted(path.stem for path in HERE.glob("*.txt")))


def kept(dialogue: str, root: Path, language: Language, days: int = 0) -> Path:
    """The session of a dialogue, in a folder of its name. days: how much later than 2026-03-02 it was."""
    play = played(HERE / f"{dialogue}.txt", language)
    there = folder_of(play.order.asset, HERE)
    files = {copy.name: (there / copy.name).read_bytes() for copy in play.order.copies}
    session = SessionFolder.create(root, dialogue, files)
    for envelope, facts in play.memory.entries:
        at = envelope.at
        wall = (datetime.fromisoformat(at.wall) + timedelta(days=days)).isoformat()
        session.append(replace(envelope, at=replace(at, wall=wall, boot=f"{at.boot} {days}")), facts)
    session.close()
    return session.folder
