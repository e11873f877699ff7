"""A history from before sessions were kept: taken over whole or not at all, and counted like any visit."""

from __future__ import annotations

import json
import os
from contextlib import closing
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.edge.clock import MachineClock
from assistant.edge.files.bringing_in import bring_in
from assistant.edge.files.histories import sessions_of
from assistant.edge.files.store import SessionFolder
from assistant.edge.pages.plans import document, in_words, make_plan
from assistant.errors import RecordError
from assistant.planning.due import DueStatus
from assistant.planning.past import done_before
from assistant.session import facts as f
from assistant.session.inputs import Envelope, HistoryGiven

ASSET = "marram-auxiliary"
TEXT = """\
date,hours,task,remark
2025-06-01,1010.5,oil-and-filter,new seal
2025-06-01,1010.5,belt,
2025-09-15,1090,,read only
2025-12-01,,coolant,
"""


def written(folder: Path, text: str = TEXT) -> Path:
    file = folder / "before.csv"
    file.write_text(text, encoding="utf-8")
    return file


def kept_before(sessions: Path, *lines: f.DoneBefore) -> None:
    """A history that was brought in when hours were not looked at."""
    clock = MachineClock()
    given = HistoryGiven(ASSET, "before.csv", "0" * 64)
    with closing(SessionFolder.create(sessions, f"2025-07-02T0800-{ASSET}-history", {})) as folder:
        taken = f.HistoryTakenOver(ASSET, given.source, given.sha256, len(lines))
        folder.append(Envelope(1, clock.now(), given), (taken, *lines))


def test_it_is_as_many_visits_as_it_has_days(tmp_path: Path) -> None:
    session, lines = bring_in(ASSET, written(tmp_path), tmp_path / "sessions")
    assert lines == 4
    assert (session / "procedures" / "history.csv").read_text(encoding="utf-8") == TEXT
    visits = done_before(sessions_of(tmp_path / "sessions", ASSET).facts().values(), ASSET)
    assert [(visit.day, visit.hours, visit.done) for visit in visits] == [
        (date(2025, 6, 1), Decimal("1010.5"), {"oil-and-filter", "belt"}),
        (date(2025, 9, 15), Decimal("1090"), set()),
        (date(2025, 12, 1), None, {"coolant"}),
    ]
    assert done_before(sessions_of(tmp_path / "sessions", "another").facts().values(), "another") == ()


def test_what_is_due_is_known_from_it(tmp_path: Path) -> None:
    """By hand: oil 180 h after 1010.5 h is 1190.5 h; 12 months after 1 June 2025 is 1 June 2026, and 1 March comes
    before both; the belt, 24 months, is due on 1 June 2027."""
    bring_in(ASSET, written(tmp_path), tmp_path)
    dues = {one.task: one for one in make_plan(ASSET, "1100", "2026-03-01", (), tmp_path).dues}
    assert dues["oil-and-filter"].standing is not DueStatus.DUE
    assert (dues["oil-and-filter"].hours, dues["oil-and-filter"].day) == (Decimal("1190.5"), date(2026, 6, 1))
    assert (dues["belt"].hours, dues["belt"].day) == (Decimal("1410.5"), date(2027, 6, 1))
    assert dues["coolant"].day == date(2027, 12, 1)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("date,task\n", "lacks the column hours"),
        ("date,hours,task\n", "tells of nothing"),
        ("date,hours,task\n1 June,1,belt\n", "line 2: '1 June' is no date"),
        ("date,hours,task\n2999-01-01,1,belt\n", "still to come"),
        ("date,hours,task\n2025-06-01,1,belts\n", "no task 'belts'"),
        ("date,hours,task\n2025-06-01,many,belt\n", "'many' are no run hours"),
        ("date,hours,task\n2025-06-01,-3,belt\n", "'-3' are no run hours"),
        ("date,hours,task\n2025-06-01,NaN,belt\n", "'NaN' are no run hours"),
        ("date,hours,task\n2025-06-01,,\n", "neither a task nor hours"),
        ("date,hours,task\n2025-06-01,1e27,belt\n", "'1e27' are no run hours"),
        ("date,hours,task\n2025-06-01,1000000.5,belt\n", "line 2: no hour meter shows 1000000.5 h. .*at most 1000000"),
        (f"date,hours,task\n2025-06-01,{'9' * 100_000},belt\n", "'9{40}' are no run hours"),
        ("date,hours,task\n2025-06-01,1_0,belt\n", "'1_0' are no run hours"),
        (f"date,hours,task\n2025-06-01,1,{'x' * 200_000}\n", "line 2: it does not read as CSV"),
        ("date,hours,task\n2025-06-01,1\0,belt\n", "it holds a NUL"),
        ("date,hours,task\n" + "2025-06-01,1,belt\n" * 10_001, "more than 10,000 lines"),
        ("date,hours,task\n" + "2025-06-01,1,belt\n" * 200_000, "larger than 2,000,000 bytes"),
    ],
)
def test_a_wrong_line_is_named_and_nothing_is_kept(text: str, told: str, tmp_path: Path) -> None:
    """Hours of 1e27 were kept, and from then on no visit to the asset could be planned; a field of 200,000 letters
    ended in a traceback; a file of any size was read."""
    with pytest.raises(RecordError, match=told) as caught:
        bring_in(ASSET, written(tmp_path, text), tmp_path / "sessions")
    assert len(str(caught.value)) < 300
    assert not (tmp_path / "sessions").exists()


def test_the_same_file_is_not_counted_twice(tmp_path: Path) -> None:
    session, _ = bring_in(ASSET, written(tmp_path), tmp_path / "sessions")
    with pytest.raises(RecordError, match=f"brought in before, as {session.name}"):
        bring_in(ASSET, written(tmp_path), tmp_path / "sessions")


def test_what_is_no_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="cannot be read"):
        bring_in(ASSET, tmp_path / "none.csv", tmp_path)
    (tmp_path / "odd.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(RecordError, match="not UTF-8"):
        bring_in(ASSET, tmp_path / "odd.csv", tmp_path)


@pytest.mark.parametrize("ending", ["\r", "\r\n", "\n"])
def test_lines_may_end_as_on_any_system(ending: str, tmp_path: Path) -> None:
    """A file whose lines end in CR ended in a traceback of the CSV reader."""
    file = tmp_path / "before.csv"
    file.write_bytes(TEXT.replace("\n", ending).encode())
    session, lines = bring_in(ASSET, file, tmp_path / "sessions")
    assert lines == 4
    assert (session / "procedures" / "history.csv").read_bytes() == file.read_bytes()
    file.write_bytes(b"date,hours,task\r2025-06-01,x,belt\r")
    with pytest.raises(RecordError, match="line 2"):
        bring_in(ASSET, file, tmp_path / "sessions")


def test_what_is_no_regular_file_is_not_waited_for(tmp_path: Path) -> None:
    """A named pipe was waited for for ever, and `/dev/zero` filled the memory."""
    os.mkfifo(tmp_path / "pipe")
    for file in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(RecordError, match="no regular file"):
            bring_in(ASSET, file, tmp_path / "sessions")


@pytest.mark.parametrize("hours", ["1e27", "1e999999999", "-5", "9" * 5000])
def test_an_asset_is_not_blocked_by_hours_that_were_kept_before(hours: str, tmp_path: Path) -> None:
    """Hours of 1e27 that a session holds made `enginebay plan`, and so every visit, end in a traceback for ever."""
    belt = f.DoneBefore("2025-06-01", Decimal(hours), "belt", "belt", "Belt")
    kept_before(tmp_path, belt, f.DoneBefore("2025-07-01", Decimal(1010), "coolant", "coolant", "Coolant"))
    plan = make_plan(ASSET, None, "2026-03-01", (), tmp_path)
    assert plan.hours == 1010
    (remark,) = [remark for remark in plan.remarks if "nothing that an hour meter shows" in remark]
    assert "2025-06-01" in remark
    assert len(remark) < 200
    assert next(one for one in plan.dues if one.task == "belt").day == date(2027, 6, 1)
    assert json.dumps(document(plan))
    assert in_words(plan)


def test_hours_that_no_meter_shows_beside_others_of_the_day(tmp_path: Path) -> None:
    """The largest hours of a day count, but not what no meter shows."""
    belt = f.DoneBefore("2025-06-01", Decimal(1010), "belt", "belt", "Belt")
    kept_before(tmp_path, belt, f.DoneBefore("2025-06-01", Decimal("1e27"), "coolant", "coolant", "Coolant"))
    assert make_plan(ASSET, None, "2026-03-01", (), tmp_path).hours == 1010


def test_the_command(tmp_path: Path) -> None:
    words = ["bring-in", ASSET, str(written(tmp_path)), "--sessions", str(tmp_path / "sessions"), "--json"]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["lines"] == 4


def test_one_line_is_not_counted_as_several(tmp_path: Path) -> None:
    """It was: "1 lines taken over"."""
    file = written(tmp_path, "date,hours,task\n2025-06-01,1010.5,belt\n")
    done = CliRunner().invoke(app, ["bring-in", ASSET, str(file), "--sessions", str(tmp_path / "sessions")])
    assert done.output.startswith("1 line taken over, kept in "), done.output


def test_a_history_of_many_lines_is_there_afterwards(tmp_path: Path) -> None:
    """9,990 lines were taken over, said so, and were never found again: their journal line was longer than is read."""
    rows = "".join(f"2025-06-01,{1000 + number},oil-and-filter\n" for number in range(9_990))
    _, lines = bring_in(ASSET, written(tmp_path, "date,hours,task\n" + rows), tmp_path / "sessions")
    assert lines == 9_990
    assert len(done_before(sessions_of(tmp_path / "sessions", ASSET).facts().values(), ASSET)) == 1
    with pytest.raises(RecordError, match="brought in before"):
        bring_in(ASSET, tmp_path / "before.csv", tmp_path / "sessions")
