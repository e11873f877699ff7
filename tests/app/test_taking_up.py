"""Work that broke off: what is offered, what is refused with which remedy, and how it goes on at the keyboard.

On real folders, through the command line. Nothing here speaks; the procedures are the shipped ones.
"""

from __future__ import annotations

import json
import os
import pty
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import histories as h
import pytest
from typer.testing import CliRunner, Result

from assistant.app.demo import ASSET, TASKS
from assistant.app.visits import broken_off, look_up, take_up
from assistant.cli import app
from assistant.edge.clock import MADE, HandClock, MachineClock
from assistant.edge.files.arrivals import at_work, opening_lock
from assistant.edge.files.store import ASIDE, CLIPS, JOURNAL, PROCEDURES, SessionFolder, is_held_open, read_session
from assistant.errors import JournalError, ProcedureError, RecordError
from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.session import facts as f
from assistant.session.applying import fold
from assistant.session.inputs import ButtonPressed, Envelope, Instant, WorkResumed

LATER = HandClock("2027-01-01T08:00:00+00:00", boot="another")


def enginebay(*words: str, typed: str = "") -> Result:
    return CliRunner().invoke(app, list(words), input=typed)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "sessions with a space"


@pytest.fixture(scope="module")
def broken_off_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A session whose first hold point was passed before the keyboard went away."""
    root = tmp_path_factory.mktemp("broken off")
    done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root), typed=permission())
    assert done.exit_code == 0, done.output
    (folder,) = (path.parent for path in root.glob(f"*/{JOURNAL}"))
    assert len(fold(read_session(folder).facts()).outcomes) == 1
    return folder


@pytest.fixture
def session(root: Path, broken_off_once: Path) -> Path:
    """A copy of it, as the only session of its root."""
    return shutil.copytree(broken_off_once, root / broken_off_once.name)


def permission() -> str:
    """What passes the first step of the shipped procedure."""
    from assistant.edge.files.library import order_visit

    (phrase,) = order_visit(ASSET, TASKS, "technician").work.steps[0].step.phrases()
    return f"{phrase}\n"


class TestResume:
    def test_it_goes_on_where_it_was(self, session: Path) -> None:
        before = read_session(session).entries
        done = enginebay("resume", str(session), "--typed", typed="where am i\n")
        assert done.exit_code == 0, done.output
        assert "goes on after a break" in done.stdout
        journal = read_session(session)
        assert journal.entries[: len(before)] == before
        taken_up = journal.entries[len(before)].envelope.input
        assert isinstance(taken_up, WorkResumed)
        assert taken_up.technician == "technician", "the role that worked last"
        visit = fold(journal.facts())
        assert len(visit.outcomes) == 1
        assert visit.focus is not None
        assert not is_held_open(session)

    def test_another_role_goes_on(self, session: Path) -> None:
        done = enginebay("resume", str(session), "--typed", "--technician", "supervisor", "--json")
        told = json.loads(done.stdout)
        assert told["session"] == str(session)
        assert (told["finished"], told["ended"], told["steps_done"]) == (False, False, 1)
        assert fold(read_session(session).facts()).technician == "supervisor"

    def test_the_end_of_a_visit_tells_the_command(self, session: Path) -> None:
        done = enginebay("resume", str(session), "--typed")
        told = f"To go on: enginebay resume {shlex.quote(str(session))}"
        assert done.stdout.splitlines()[-1] == told

    def test_the_work_goes_by_the_copies_of_the_session(self, session: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """The shipped procedures may have changed, or be gone."""
        monkeypatch.setattr("assistant.edge.places.procedures", lambda: session / "nowhere")
        owner, folder, _ = take_up(session, LATER)
        assert owner.take(WorkResumed("technician")).effects
        folder.close()

    def refused(self, session: Path) -> str:
        """What the command line says of a session that it refuses, having touched nothing."""
        before = snapshot(session)
        done = enginebay("resume", str(session), "--typed", typed="next\n")
        assert (done.exit_code, done.stdout) == (2, "")
        assert done.stderr.startswith("enginebay: ")
        assert "Traceback" not in done.stderr
        assert snapshot(session) == before
        return done.stderr

    def test_one_that_has_ended_is_refused(self, session: Path) -> None:
        enginebay("resume", str(session), "--typed", typed="end the work\naffirm\n")
        assert fold(read_session(session).facts()).ended is not None
        told = self.refused(session)
        assert "this work has ended; it was left incomplete" in told
        assert f"enginebay export {shlex.quote(str(session))} --to html" in told
        done = enginebay("resume", str(session), "--typed", "--json")
        assert done.exit_code == 2

    def test_no_session_is_refused(self, tmp_path: Path) -> None:
        for folder in (tmp_path / "nothing", tmp_path):
            assert "this is no session" in self.refused(folder)

    def test_one_in_which_nothing_was_begun_is_refused(self, tmp_path: Path) -> None:
        SessionFolder.create(tmp_path, "visit", {}).close()
        assert "nothing was begun" in self.refused(tmp_path / "visit")

    def test_a_damaged_one_is_refused(self, session: Path) -> None:
        path = session / JOURNAL
        path.write_bytes(path.read_bytes().replace(b'"number":2', b'"number":3'))
        told = self.refused(session)
        assert f"{JOURNAL}, line 2: the line is damaged" in told
        assert "Restore it from a copy" in told

    @pytest.mark.parametrize("damage", ["emptied", "changed", "missing"])
    def test_a_copy_that_does_not_hold_is_replaced_by_the_same_file_installed(self, session: Path, damage: str) -> None:
        """After a power cut in the first seconds every copy was empty, and no such session could be taken up."""
        copy = session / PROCEDURES / f"{TASKS[0]}.yaml"
        whole = copy.read_bytes()
        if damage == "missing":
            copy.unlink()
        else:
            copy.write_bytes(b"" if damage == "emptied" else whole + b"\n")
        assert look_up(session).done == 1
        assert (copy.read_bytes() if copy.exists() else b"") != whole, "looking changes nothing"
        owner, folder, check = take_up(session, LATER)
        assert check.replaced == (copy.name,)
        owner.take(WorkResumed("technician", check))
        folder.close()
        assert copy.read_bytes() == whole
        aside = session / ASIDE / copy.name
        assert aside.exists() == (damage != "missing"), "nothing is deleted"
        facts = [fact for fact, _ in read_session(session).facts()]
        assert f.CopyReplaced(copy.name) in facts

    def test_copies_that_differ_or_are_missing_are_refused(
        self, session: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        """Where the installed files are others by now."""
        monkeypatch.setattr("assistant.app.visits.places.procedures", lambda: tmp_path / "others")
        copy = session / PROCEDURES / f"{TASKS[0]}.yaml"
        whole = copy.read_bytes()
        copy.write_bytes(whole + b"\n")
        told = self.refused(session)
        assert str(copy) in told
        assert "SHA-256" in told
        copy.unlink()
        assert "it is missing" in self.refused(session)
        copy.write_bytes(whole)
        assert look_up(session).done == 1

    def test_copies_that_this_program_cannot_read_are_refused(
        self, session: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """As when a later program wants another layout."""

        def refuse(files: object, where: str) -> None:
            raise ProcedureError(where, "its format is another", "Use the program that began the work")

        monkeypatch.setattr("assistant.app.visits.read_files", refuse)
        assert "Use the program that began the work" in self.refused(session)

    def test_one_that_another_process_has_open_is_refused(self, session: Path) -> None:
        owner, folder, _ = take_up(session, LATER)
        told = self.refused(session)
        assert "another process has this session open" in told
        folder.close()
        assert owner.visit.ended is None

    def test_a_refused_one_is_let_go(self, session: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """Its copies were changed between the look and the opening."""
        monkeypatch.setattr("assistant.app.visits.places.procedures", lambda: session)
        calls = iter([look_up, None])
        monkeypatch.setattr("assistant.app.visits.look_up", lambda session: next(calls))
        (session / PROCEDURES / "equipment.yaml").unlink()
        with pytest.raises(RecordError):
            take_up(session, LATER)
        assert not is_held_open(session)


class TestSoundsWithoutLines:
    def test_they_are_set_aside_told_and_recorded(self, session: Path) -> None:
        """They were deleted without a word: 55 of 73 sounds, after lines had been cut off the journal."""
        (session / CLIPS / f"{'a' * 64}.flac").write_bytes(b"sound")
        (session / CLIPS / "letter.txt").write_bytes(b"mine")
        done = enginebay("resume", str(session), "--typed", typed="where am i\n")
        assert "Part of this record may be missing." in done.stdout
        assert {path.name for path in (session / ASIDE).iterdir()} == {f"{'a' * 64}.flac", "letter.txt"}
        judged = record(read_session(session))
        assert [c.kind for c in judged.concerns if c.needs_judgement].count(ConcernKind.LINES_MISSING) == 1
        names = (f"{'a' * 64}.flac", "letter.txt")
        assert f.FilesSetAside(names, 1) in [entry.fact for entry in judged.entries]
        assert "set aside, because no line cites it:" in done.stdout

    def test_a_torn_line_and_a_letter_are_told_too(self, session: Path) -> None:
        """They were moved without a word."""
        (session / CLIPS / "letter.txt").write_bytes(b"mine")
        with (session / JOURNAL).open("ab") as file:
            file.write(b'{"format":1,"num')
        done = enginebay("resume", str(session), "--typed", typed="where am i\n")
        (torn,) = session.glob("torn-*.part")
        assert torn.name in " ".join(done.stdout.split())
        judged = record(read_session(session))
        (aside,) = [entry.fact for entry in judged.entries if isinstance(entry.fact, f.FilesSetAside)]
        assert aside == f.FilesSetAside((torn.name, "letter.txt"), 0)
        assert ConcernKind.LINES_MISSING not in [concern.kind for concern in judged.concerns]


class TestWhoIsAtWork:
    """Two people could take up work on one asset, and neither record said so."""

    def test_a_second_visit_is_refused_and_says_who_is_at_work(self, root: Path, session: Path) -> None:
        owner, folder, check = take_up(session, MachineClock())
        owner.take(WorkResumed("supervisor", check))
        for command in (("work", ASSET, TASKS[0], "--sessions", str(root)), ("work", ASSET, "--sessions", str(root))):
            done = enginebay(*command, "--typed", typed=permission())
            assert done.exit_code == 2
            assert "the supervisor is at work on it since" in done.stderr
            assert session.name in done.stderr
            assert "--beside" in done.stderr
            assert "New work begins." not in done.stdout
        assert len(list(root.iterdir())) == 1, "no session was begun"
        folder.close()
        assert enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root)).exit_code == 0

    def test_a_second_one_that_is_to_be_is_said_and_recorded(self, root: Path, session: Path) -> None:
        _, folder, _ = take_up(session, MachineClock())
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root), "--beside")
        folder.close()
        assert done.exit_code == 0, done.output
        assert "The technician is already at work on this set. Agree who does what." in done.stdout
        (other,) = set(root.iterdir()) - {session}
        judged = record(read_session(other))
        beside = [concern for concern in judged.concerns if concern.kind is ConcernKind.TWO_AT_WORK]
        assert len(beside) == 1
        assert beside[0].needs_judgement
        assert beside[0].entry is not None
        assert isinstance(beside[0].entry.fact, f.WorkedBeside)
        assert beside[0].entry.fact.session == session.name

    def test_work_that_broke_off_is_not_taken_up_beside_other_work_on_the_asset(
        self, root: Path, session: Path
    ) -> None:
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root))
        assert done.exit_code == 0, done.output
        (other,) = set(root.iterdir()) - {session}
        _, folder, _ = take_up(other, MachineClock())
        assert "is at work on it" in enginebay("resume", str(session), "--typed").stderr
        assert enginebay("resume", str(session), "--typed", "--beside").exit_code == 0
        folder.close()

    def test_the_lock_goes_with_its_process(self, root: Path, session: Path) -> None:
        program = (
            "import sys, time; from pathlib import Path\n"
            "from assistant.app.visits import take_up; from assistant.edge.clock import MachineClock\n"
            "held = take_up(Path(sys.argv[1]), MachineClock()); print('held', flush=True); time.sleep(60)"
        )
        with subprocess.Popen([sys.executable, "-c", program, session], stdout=subprocess.PIPE, text=True) as holder:
            assert holder.stdout is not None
            assert holder.stdout.readline() == "held\n"
            assert at_work(root, ASSET) != ()
            holder.kill()
        assert at_work(root, ASSET) == ()
        assert enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root)).exit_code == 0

    def test_a_link_beside_is_nobody_at_work(self, root: Path, session: Path) -> None:
        """A link to the latest session made `resume` say that somebody was at work on it: that was itself."""
        (root / "latest").symlink_to(session)
        for name in (session, root / "latest"):
            done = enginebay("resume", str(name), "--typed", typed="where am i\n")
            assert done.exit_code == 0, done.output

    def test_a_session_that_was_just_made_counts(self, root: Path) -> None:
        folder = SessionFolder.create(root, f"2026-03-02T0800-{ASSET}-belt", {})
        assert [other.session for other in at_work(root, ASSET)] == [folder.folder.name]
        assert at_work(root, "pump-set") == ()
        folder.close()

    def test_another_process_that_is_opening_one_is_waited_for(
        self, root: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("assistant.edge.files.arrivals.WAIT_SECONDS", 0.1)
        with (
            opening_lock(root),
            pytest.raises(JournalError, match="another process has been opening"),
            opening_lock(root),
        ):
            pass
        with opening_lock(root):
            pass


class TestDamageBeside:
    def test_one_whose_work_had_ended_is_not_offered(self, root: Path, session: Path) -> None:
        """It was told at each beginning as one that cannot be taken up."""
        enginebay("resume", str(session), "--typed", typed="end the work\naffirm\n")
        path = session / JOURNAL
        path.write_bytes(path.read_bytes().replace(b'"number":2,', b'"number":7,', 1))
        assert broken_off(root, ASSET, TASKS) == ([], [])

    def test_an_earlier_session_that_is_damaged_is_told_when_work_begins(self, root: Path) -> None:
        """Nothing was said: what it held was missing from trends and from what is due."""
        h.save(root, h.falling())
        path = next(root.glob(f"*/{JOURNAL}"))
        path.write_bytes(path.read_bytes().replace(b'"number":1,', b'"number":9,', 1))
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root))
        assert done.exit_code == 0, done.output
        assert path.parent.name in done.stdout
        assert "its hash does not fit its text" in " ".join(done.stdout.split())


class TestTheClock:
    """A board without a battery wakes with a wrong date, and nothing was said of it."""

    def begin(self, root: Path) -> tuple[str, list[f.ClockDoubted]]:
        before = set(root.iterdir()) if root.exists() else set()
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root))
        assert done.exit_code == 0, done.output
        (session,) = set(root.iterdir()) - before
        doubts = [fact for fact, _ in read_session(session).facts() if isinstance(fact, f.ClockDoubted)]
        kinds = [concern.kind for concern in record(read_session(session)).concerns if concern.needs_judgement]
        assert kinds.count(ConcernKind.CLOCK_IN_DOUBT) == len(doubts)
        return done.stdout, doubts

    def test_one_that_is_right_is_not_spoken_of(self, root: Path) -> None:
        said, doubts = self.begin(root)
        assert ("clock" in said, doubts) == (False, [])

    def test_earlier_than_the_newest_session(self, root: Path) -> None:
        h.save(root, h.falling())
        newest = max(entry.envelope.at.wall for path in root.iterdir() for entry in read_session(path).entries)
        assert newest < MADE
        later = SessionFolder.create(root, "of-another-asset", {})
        later.append(Envelope(1, Instant("2031-05-05T10:00:00.000+00:00", 1.0, "x"), ButtonPressed(0)), ())
        later.close()
        said, doubts = self.begin(root)
        assert "An earlier visit was on 5 May 2031." in said
        assert [(doubt.why, doubt.session) for doubt in doubts] == [(f.ClockDoubt.BEFORE_SESSION, "of-another-asset")]

    def test_earlier_than_the_program(self, root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("assistant.edge.files.arrivals.MADE", "2032-01-01T00:00:00+00:00")
        said, doubts = self.begin(root)
        assert "which can't be right. Dates in this record are in doubt." in said
        assert [doubt.why for doubt in doubts] == [f.ClockDoubt.BEFORE_PROGRAM]

    def test_the_program_is_not_of_the_future(self) -> None:
        assert MachineClock().now().wall >= MADE


class TestEarlierVisits:
    TYPED = "all good\none two five zero\naffirm\nin good order\nnext\nnext\npressure and water\nnext\ncompare visits\n"
    TOLD = "Oil pressure reaches 3.0 bar at about 2033 h, between 1716 h and 2495 h. Extrapolated."

    def test_work_begins_with_them(self, root: Path) -> None:
        h.save(root, h.falling())
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root), typed=permission() + self.TYPED)
        assert self.TOLD in done.stdout

    def test_work_goes_on_with_them_and_without_its_own(self, root: Path, session: Path) -> None:
        h.save(root, h.falling())
        shutil.copytree(session, root / "a copy of it")
        owner, folder, _ = take_up(session, LATER)
        folder.close()
        assert set(owner.work.earlier) == set(h.falling())

    def test_by_another_name_of_its_folder(self, root: Path, session: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        h.save(root, h.falling())
        monkeypatch.chdir(session)
        owner, folder, _ = take_up(Path(), LATER)
        folder.close()
        assert set(owner.work.earlier) == set(h.falling())

    def test_what_is_damaged_keeps_no_work_from_beginning(self, root: Path) -> None:
        h.save(root, h.falling() | {"odd": h.visit(260, h.meter(1300)), "torn": h.visit(270, h.meter(1350))})
        (root / "odd" / JOURNAL).write_bytes(b"odd\n")
        (root / "torn" / JOURNAL).write_bytes(b"")
        (root / "no file").mkdir()
        (root / "no file" / JOURNAL).mkdir()
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--sessions", str(root), typed=permission() + self.TYPED)
        assert done.exit_code == 0
        assert self.TOLD in done.stdout


def snapshot(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


class TestWorkOffers:
    def work(self, root: Path, typed: str = "", task: str = TASKS[0]) -> Result:
        return enginebay("work", ASSET, task, "--typed", "--sessions", str(root), typed=typed)

    def test_nothing_is_told_when_nothing_broke_off(self, root: Path) -> None:
        done = self.work(root)
        assert "broke off" not in done.stdout + done.stderr

    def test_without_a_terminal_it_tells_and_begins_anew(self, root: Path, session: Path) -> None:
        done = self.work(root)
        assert done.exit_code == 0
        assert "This work broke off on " in done.stdout
        assert f"1 of {look_up(session).steps} steps done, technician." in done.stdout
        assert f"To go on there: enginebay resume {shlex.quote(str(session))}\nNew work begins." in done.stdout
        folders = set(root.iterdir())
        assert len(folders) == 2
        (new,) = folders - {session}
        assert not [entry for entry in read_session(session).entries if isinstance(entry.envelope.input, WorkResumed)]
        assert fold(read_session(new).facts()).outcomes == {}

    def test_the_one_line_of_json_stays_the_one_line(self, root: Path, session: Path) -> None:
        done = enginebay("work", ASSET, TASKS[0], "--typed", "--json", "--sessions", str(root))
        assert "broke off" in done.stderr
        assert json.loads(done.stdout)["session"] != str(session)

    @pytest.mark.parametrize(("answer", "folders"), [("y\n", 1), ("\n", 1), ("n\n", 2)])
    def test_on_a_terminal_it_asks(
        self, answer: str, folders: int, root: Path, session: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("assistant.cli.visits.on_a_terminal", lambda: True)
        done = self.work(root, typed=answer)
        assert done.exit_code == 0, done.output
        assert "Go on there now?" in done.stderr
        assert len(list(root.iterdir())) == folders
        resumed = any(isinstance(entry.envelope.input, WorkResumed) for entry in read_session(session).entries)
        assert resumed is (folders == 1)

    def test_what_a_terminal_is(self, root: Path, session: Path) -> None:
        """A real one, of the system's."""
        ours, its = pty.openpty()
        words = ["work", ASSET, TASKS[0], "--typed", "--sessions", str(root)]
        with subprocess.Popen(
            [sys.executable, "-m", "assistant", *words], stdin=its, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
        ) as process:
            os.close(its)
            os.write(ours, b"y\nend the work\naffirm\n")
            said = process.communicate(timeout=120)[0].decode()
            os.close(ours)
        assert "Go on there now?" in said
        visit = fold(read_session(session).facts())
        assert isinstance(visit.ended, f.WorkEnded)
        assert len(list(root.iterdir())) == 1

    def test_the_last_of_several_is_offered(self, root: Path, session: Path) -> None:
        first, folder, _ = take_up(session, LATER)
        first.take(WorkResumed("supervisor"))
        folder.close()
        for _ in range(2):
            self.work(root)
        found, wrong = broken_off(root, ASSET, TASKS)
        assert found[0].folder == session, "its last line is the latest, by its clock"
        assert found[0].technician == "supervisor"
        assert len(found) == 3
        assert wrong == []
        assert "2 more of this work broke off before it." in self.work(root).stdout

    def test_work_that_ended_is_open_or_is_other_work_is_not_offered(self, root: Path, session: Path) -> None:
        assert broken_off(root, ASSET, ("another",)) == ([], [])
        assert broken_off(root, "another", TASKS) == ([], [])
        assert broken_off(root / "nowhere", ASSET, TASKS) == ([], [])
        _, folder, _ = take_up(session, LATER)
        assert broken_off(root, ASSET, TASKS) == ([], [])
        folder.close()
        assert [entry.folder for entry in broken_off(root, ASSET, TASKS)[0]] == [session]
        enginebay("resume", str(session), "--typed", typed="end the work\naffirm\n")
        assert broken_off(root, ASSET, TASKS) == ([], [])

    def test_a_damaged_one_is_told_and_does_not_stop_the_work(self, root: Path, session: Path) -> None:
        path = session / JOURNAL
        path.write_bytes(path.read_bytes().replace(b'"number":2', b'"number":3'))
        done = self.work(root)
        assert done.exit_code == 0
        assert "A session cannot be taken up." in done.stdout
        assert "line 2: the line is damaged" in done.stdout
        assert len(list(root.iterdir())) == 2

    def test_folders_that_are_no_sessions_are_passed_over(self, root: Path, session: Path) -> None:
        (root / "empty").mkdir()
        (root / "odd").mkdir()
        (root / "odd" / JOURNAL).write_bytes(b"odd\n")
        assert [entry.folder for entry in broken_off(root, ASSET, TASKS)[0]] == [session]
