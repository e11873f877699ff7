"""Records that several tests read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import samples
from shipped_english import shipped_english

from assistant.edge.files.language import Language
from assistant.edge.files.store import read_session
from assistant.record import record
from assistant.record.summary import Record
from assistant.session.journal import read_lines
from tests.dialogues.kept import kept


@pytest.fixture(scope="session")
def eventful() -> Record:
    return record(read_lines(samples.eventful_visit().data))


@pytest.fixture(scope="session")
def language() -> Language:
    return shipped_english()


@pytest.fixture
def judged_dialogue(tmp_path: Path, language: Language) -> Callable[[str], Record]:
    """The record of a dialogue's session."""
    return lambda name: record(read_session(kept(name, tmp_path, language)))
