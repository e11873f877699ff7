"""The command `enginebay trend`: over session folders, as a person and a program read it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import histories as h
import pytest
from typer.testing import CliRunner

from assistant.cli import DAMAGED, app
from assistant.edge.files.histories import Histories, sessions_of
from assistant.errors import RecordError

ASSET = "marram-auxiliary"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return h.save(tmp_path / "sessions", h.falling() | {"belt": h.visit(150, h.reading("9 mm", "belt deflection", ""))})


def run(*arguments: str | Path) -> tuple[int, str, str]:
    result = CliRunner().invoke(app, ["trend", *map(str, arguments)])
    return result.exit_code, result.stdout, result.stderr


def test_every_reading_is_listed(root: Path) -> None:
    assert run(ASSET, "--sessions", root) == (
        0,
        "Belt deflection: nothing can be said yet, from one reading.\n"
        "Oil pressure reaches 3.0 bar at about 2033 h, between 1716 and 2495 h. Extrapolated.\n",
        "",
    )


@pytest.mark.parametrize("name", ["oil pressure", "Oil-Pressure"])
def test_one_reading_in_words(root: Path, name: str) -> None:
    code, said, _ = run(ASSET, name, "--sessions", root)
    assert code == 0
    assert said.startswith("Oil pressure: 5 readings (0 h to 1000 h), the newest 3.6 bar. It falls by 0.60 bar")


def test_the_document(root: Path) -> None:
    _, said, _ = run(ASSET, "oil pressure", "--json", "--sessions", root)
    document = json.loads(said)
    (series,) = document["series"]
    assert document["asset"] == ASSET
    assert series["at"] == pytest.approx(2033.33, abs=0.01)
    assert (series["limit"], series["unit"], series["extrapolation"]) == (3.0, "bar", True)
    assert [point["value"] for point in series["points"]] == ["4.2", "4.1", "3.9", "3.8", "3.6"]
    assert [point["hours"] for point in series["points"]] == [0, 250, 500, 750, 1000]
    assert len(json.loads(run(ASSET, "--json", "--sessions", root)[1])["series"]) == 2


def test_the_plot(root: Path, tmp_path: Path) -> None:
    code, _, _ = run(ASSET, "oil pressure", "--sessions", root, "--plot", tmp_path / "plot.svg")
    assert code == 0
    assert (tmp_path / "plot.svg").read_text(encoding="utf-8").startswith("<svg")


def test_a_copy_of_a_session_counts_once(root: Path) -> None:
    shutil.copytree(root / "visit-1", root / "copy of visit-1")
    assert "from one reading" in run(ASSET, "--sessions", root)[1]
    assert len(Histories.read(root, ASSET).series["oil pressure"][0].points) == 5


def test_sessions_of_another_asset_do_not_count(root: Path) -> None:
    h.save(root, {"other": h.visit(120, h.meter(600), h.reading("5.9 bar"))}, "pump-set")
    assert len(Histories.read(root, ASSET).series["oil pressure"][0].points) == 5


def test_a_damaged_session_is_told_and_read_as_far_as_it_holds(root: Path) -> None:
    journal = root / "visit-4" / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join((*lines[:2], lines[2].replace(b"3.6", b"5.9"))))
    (root / "empty").mkdir()
    (root / "empty" / "journal.jsonl").touch()
    code, said, told = run(ASSET, "oil pressure", "--sessions", root)
    assert code == DAMAGED, "it exited with 0"
    assert "4 readings" in said
    assert told.startswith("enginebay: visit-4: read as far as it holds. journal.jsonl, line 3")
    assert told.count("\n") == 1


def test_a_session_that_cannot_be_read_is_told(root: Path) -> None:
    (root / "visit-4" / "journal.jsonl").write_bytes(b"nonsense\n")
    history = Histories.read(root, ASSET)
    assert len(history.series["oil pressure"][0].points) == 4
    assert history.wrong[0].startswith("visit-4: left out, it cannot be read.")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("pump-set",), "no session of pump-set lies there. Sessions there are of marram-auxiliary."),
        ((ASSET, "oil colour"), "marram-auxiliary has no such reading. Name one of belt deflection, oil pressure."),
        ((ASSET, "--plot", "x.svg"), "no reading is named. Name one of belt deflection, oil pressure."),
        ((ASSET, "oil pressure", "--plot", "/nowhere/x.svg"), "the plot cannot be written (No such file or directory)"),
    ],
)
def test_what_cannot_be_told_has_one_clear_sentence(root: Path, arguments: tuple[str, ...], told: str) -> None:
    code, said, wrong = run(*arguments, "--sessions", root)
    assert (code, said) == (2, "")
    assert told in wrong
    assert wrong.count("\n") == 1


def test_no_sessions_and_no_readings(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="no session of marram-auxiliary lies there"):
        Histories.read(tmp_path / "nowhere", ASSET)
    h.save(tmp_path, {"hours only": h.visit(0, h.meter(5))})
    with pytest.raises(RecordError, match="no reading was recorded"):
        Histories.read(tmp_path, ASSET)


def test_of_two_copies_the_one_that_holds_counts(root: Path) -> None:
    """A damaged session stood in the way of its own intact copy."""
    shutil.copytree(root / "visit-4", root / "visit-4-restored")
    journal = root / "visit-4" / "journal.jsonl"
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join((lines[0], b"damaged\n", *lines[2:])))
    read = sessions_of(root, ASSET)
    assert "visit-4-restored" in read.journals
    assert "visit-4" not in read.journals
    assert read.wrong, "that the other is damaged is told all the same"
