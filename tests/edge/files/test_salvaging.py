"""A damaged session, and what is kept of it. One damaged line made everything behind it unusable."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import samples
from typer.testing import CliRunner

from assistant.app.visits import broken_off, look_up
from assistant.cli import app
from assistant.edge.files.evidence import faults_of, read_evidence
from assistant.edge.files.histories import sessions_of
from assistant.edge.files.salvaging import FOUND, salvage
from assistant.edge.files.store import read_session
from assistant.edge.pages.record_page import export_html
from assistant.errors import RecordError
from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.session.facts import SalvageMade
from assistant.session.inputs import SessionSalvaged

ASSET = "marram-auxiliary"
DAMAGED_LINES = (3, 12)


@pytest.fixture
def session(tmp_path: Path) -> Path:
    pen = samples.eventful_visit()
    lines = pen.data.splitlines(keepends=True)
    for number in DAMAGED_LINES:
        lines[number - 1] = lines[number - 1].replace(b'"number"', b'"numbet"')
    pen.data = b"".join(lines)
    return pen.save(tmp_path / "visit")


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_what_holds_is_kept_and_says_that_it_is_a_salvage(session: Path) -> None:
    before = files(session)
    made = salvage(session)
    assert files(session) == before, "the damaged session is left as it was found"
    assert made.folder == session.parent / "visit-salvaged"
    journal = read_session(made.folder)
    old, _ = read_evidence(session)
    first, *rest = journal.entries
    asset = ASSET
    assert isinstance(first.envelope.input, SessionSalvaged)
    assert (first.envelope.input.asset, first.envelope.input.source) == (asset, "visit")
    assert first.facts == (SalvageMade("visit", old.last_hash, len(old.entries), made.gaps),)
    assert [f"line {number} of" in gap for number, gap in zip(DAMAGED_LINES, made.gaps, strict=True)] == [True, True]
    assert [(entry.envelope.at, entry.envelope.input, entry.facts) for entry in rest] == [
        (entry.envelope.at, entry.envelope.input, entry.facts) for entry in old.entries
    ]
    assert (made.folder / FOUND).read_bytes() == before["journal.jsonl"]
    (loose,) = faults_of(made.folder)  # all sounds and procedures came along, also those of the damaged lines
    assert "lines may be missing" in loose
    assert loose in faults_of(session)


def test_the_record_of_a_salvage_says_so(session: Path) -> None:
    made = salvage(session)
    judged = record(read_session(made.folder))
    assert ConcernKind.SALVAGED in [concern.kind for concern in judged.concerns if concern.needs_judgement]
    page = export_html(made.folder).read_text(encoding="utf-8")
    assert "Salvaged from the damaged session visit" in page


def test_a_salvage_counts_once_beside_its_source_and_alone(session: Path) -> None:
    asset, root = ASSET, session.parent
    made = salvage(session)
    assert list(sessions_of(root, asset).journals) == ["visit"]
    session.rename(root.parent / "elsewhere")
    assert list(sessions_of(root, asset).journals) == [made.folder.name]


def test_work_does_not_go_on_in_a_salvage(tmp_path: Path) -> None:
    pen = samples.broken_off()
    lines = pen.data.splitlines(keepends=True)
    lines[4] = b"damaged\n"
    pen.data = b"".join(lines)
    session = pen.save(tmp_path / "visit")
    with pytest.raises(RecordError, match="salvage"):
        look_up(salvage(session).folder)
    assert broken_off(tmp_path, ASSET, ())[0] == []


def test_a_session_that_holds_needs_none(tmp_path: Path) -> None:
    session = samples.plain_visit().save(tmp_path / "visit")
    with pytest.raises(RecordError, match="not damaged"):
        salvage(session)
    (session / "journal.jsonl").write_bytes(b"nothing\n")
    with pytest.raises(RecordError, match="no line"):
        salvage(session)
    assert list(tmp_path.iterdir()) == [session]


def test_the_command(session: Path) -> None:
    told = CliRunner().invoke(app, ["salvage", str(session), "--json"])
    assert told.exit_code == 0, told.output
    read = json.loads(told.stdout)
    assert Path(read["session"]).name == "visit-salvaged"
    assert len(read["gaps"]) == len(DAMAGED_LINES)
    again = CliRunner().invoke(app, ["salvage", str(session)])
    assert "visit-salvaged-2" in again.stdout.replace("\n", "")
