"""What is due next: folded from the sessions that lie there, so that one visit changes it exactly once."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest

from assistant.edge.files.due_next import NextDue, due_next
from assistant.edge.files.language import Language, english
from assistant.edge.files.store import read_session
from assistant.edge.pages.plans import document, make_plan
from tests.dialogues.kept import kept

SMALL = Path(__file__).parents[2] / "dialogues"


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


def by_record(session: Path) -> dict[str, NextDue]:
    return {next_due.due.task: next_due for next_due in due_next(session, read_session(session))}


def planned(sessions: Path) -> dict[str, object]:
    """The plan of a visit the day after, without its remarks: they tell of every file."""
    return document(make_plan("shed", "205", "2026-03-03", [], sessions, SMALL))


def wanted(sessions: Path) -> list[str]:
    return list(make_plan("shed", "205", "2026-03-03", [], sessions, SMALL).tasks)


def test_what_is_due_changes_once_when_the_visit_is_folded_in(tmp_path: Path, language: Language) -> None:
    """Before the visit all is due; after it only what was put off; a copy of it changes nothing any more."""
    sessions = tmp_path / "sessions"
    sessions.mkdir()
    before = planned(sessions)
    assert set(wanted(sessions)) == {"coolant", "filter", "belt"}
    session = kept("visit_put_off", sessions, language)
    after, alone = planned(sessions), by_record(session)
    assert after != before
    assert wanted(sessions) == ["filter"]
    for name in ("a-copy", "visit-and-another-copy"):  # before and after it by name
        shutil.copytree(session, sessions / name)
        assert planned(sessions) == after
        assert by_record(session) == by_record(sessions / name) == alone


def test_copies_are_no_visits_of_their_own_that_tell_how_long_a_task_takes(tmp_path: Path, language: Language) -> None:
    """Three visits tell it better than the equipment file; one visit and two copies of it are one."""
    sessions = tmp_path / "sessions"
    session = kept("visit_put_off", sessions, language)
    for name in ("one", "two"):
        shutil.copytree(session, sessions / name)
    assert make_plan("shed", "205", "2026-03-03", [], sessions, SMALL).minutes["coolant"] == (40.0, 60.0)


def test_the_plan_and_the_record_agree(tmp_path: Path, language: Language) -> None:
    session = kept("visit_put_off", tmp_path / "sessions", language)
    plan = make_plan("shed", "205", "2026-03-02", [], session.parent, SMALL)
    by_plan = {due.task: (due.standing, due.hours, due.day) for due in plan.dues}
    found = by_record(session)
    dues = {task: next_due.due for task, next_due in found.items()}
    assert {task: (due.standing, due.hours, due.day) for task, due in dues.items()} == by_plan
    assert {task for task, next_due in found.items() if next_due.done} == {"coolant", "belt"}


def test_an_earlier_visit_counts_and_a_later_one_does_not(tmp_path: Path, language: Language) -> None:
    sessions = tmp_path / "sessions"
    now = kept("visit_put_off", sessions, language)
    alone = by_record(now)
    kept("visit_first", sessions, language, days=30)  # filter and belt
    assert by_record(now) == alone
    kept("visit_restart", sessions, language, days=-30)  # filter and belt
    assert by_record(now)["filter"].due.hours == 385
    assert not by_record(now)["filter"].done
    assert by_record(now)["coolant"] == alone["coolant"]


def test_without_the_copy_of_the_equipment_file_nothing_is_by_record(tmp_path: Path, language: Language) -> None:
    session = kept("visit_put_off", tmp_path, language)
    assert by_record(session)["belt"].due.day == date(2028, 3, 2)
    (session / "procedures" / "equipment.yaml").unlink()
    assert by_record(session) == {}
