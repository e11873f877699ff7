"""A session's folder, and what a crash, a full disk or a hand can do to it."""

from __future__ import annotations

import errno
import hashlib
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.edge.files import store
from assistant.edge.files.store import ASIDE, CLIPS, JOURNAL, PROCEDURES, SessionFolder, is_held_open, read_session
from assistant.errors import JournalError, RecordError
from assistant.meanings import Answer, Hypothesis
from assistant.session.facts import ExchangeOpened, Purpose, StoodBy
from assistant.session.inputs import (
    AnswerVerdict,
    ButtonPressed,
    Clip,
    Envelope,
    Heard,
    Instant,
    Source,
)

FILES = {"equipment.yaml": b"format: 1\n", "service.yaml": "title: Öl\n".encode()}
AT = Instant("2026-03-02T08:00:00.000+00:00", 1.0, "boot")


def button(number: int) -> Envelope:
    return Envelope(number, AT, ButtonPressed(number))


def heard(number: int, clip: Clip | None) -> Envelope:
    hypotheses = (Hypothesis(Answer("good"), "all good", 0.9),)
    return Envelope(number, AT, Heard(1, AnswerVerdict.ACCEPTED, hypotheses, Source.VOICE, clip))


@pytest.fixture
def session(tmp_path: Path) -> SessionFolder:
    return SessionFolder.create(tmp_path / "deep" / "sessions", "visit", FILES)


def clips(session: SessionFolder) -> set[str]:
    return {path.name for path in (session.folder / CLIPS).iterdir()}


class TestCreate:
    def test_the_exact_procedure_files_are_kept(self, session: SessionFolder) -> None:
        kept = {path.name: path.read_bytes() for path in (session.folder / PROCEDURES).iterdir()}
        assert kept == FILES
        assert (session.folder / JOURNAL).read_bytes() == b""
        assert session.number == 0

    def test_sessions_of_one_name_get_folders_of_their_own(self, tmp_path: Path) -> None:
        made = [SessionFolder.create(tmp_path, "visit", FILES) for _ in range(3)]
        assert [session.folder.name for session in made] == ["visit", "visit-2", "visit-3"]
        for number, session in enumerate(made, start=1):
            for line in range(1, number + 1):
                session.append(button(line), ())
        assert [len(read_session(session.folder).entries) for session in made] == [1, 2, 3]

    def test_a_place_that_cannot_be_written_is_told(self, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("in the way")
        with pytest.raises(JournalError) as caught:
            SessionFolder.create(tmp_path / "file", "visit", FILES)
        assert caught.value.place == str(tmp_path / "file")
        assert caught.value.remedy


class TestReopen:
    def test_a_session_goes_on_where_it_was(self, session: SessionFolder) -> None:
        session.append(button(1), (StoodBy(),))
        session.append(button(2), ())
        session.close()
        again, journal = SessionFolder.reopen(session.folder)
        assert again.number == 2
        assert [entry.envelope for entry in journal.entries] == [button(1), button(2)]
        again.append(button(3), (StoodBy(),))
        again.close()
        assert [entry.envelope.number for entry in read_session(session.folder).entries] == [1, 2, 3]

    def test_an_empty_session_goes_on_too(self, session: SessionFolder) -> None:
        session.close()
        again, journal = SessionFolder.reopen(session.folder)
        assert (again.number, journal.entries) == (0, ())
        again.append(button(1), ())
        assert len(read_session(session.folder).entries) == 1

    def test_cut_at_every_byte_of_the_last_line(self, session: SessionFolder) -> None:
        """Power went while a line was written: the rest is set aside, and work goes on after what is whole."""
        session.append(button(1), ())
        first = (session.folder / JOURNAL).read_bytes()
        session.append(button(2), (ExchangeOpened(1, Purpose.STEP),))
        session.close()
        whole = (session.folder / JOURNAL).read_bytes()
        for cut in range(len(first), len(whole)):
            (session.folder / JOURNAL).write_bytes(whole[:cut])
            again, journal = SessionFolder.reopen(session.folder)
            kept = cut == len(whole) - 1  # only the line end is missing: the line is there
            torn = b"" if kept else whole[len(first) : cut]
            assert (again.number, len(journal.entries), journal.torn) == (1 + kept, 1 + kept, torn)
            assert (session.folder / JOURNAL).read_bytes() == (whole if kept else first)
            aside = list(session.folder.glob("torn-*.part"))
            assert [path.read_bytes() for path in aside] == ([torn] if torn else [])
            again.append(button(2 + kept), ())
            again.close()
            assert len(read_session(session.folder).entries) == 2 + kept
            for path in aside:
                path.unlink()

    def test_damage_in_the_middle_is_told_and_touches_nothing(self, session: SessionFolder) -> None:
        for number in (1, 2, 3):
            session.append(button(number), ())
        clip = session.keep(b"sound", 1.0)
        session.close()
        path = session.folder / JOURNAL
        damaged = path.read_bytes().replace(b'"number":2', b'"number":7')
        path.write_bytes(damaged + b"torn")
        with pytest.raises(JournalError, match="line 2"):
            SessionFolder.reopen(session.folder)
        assert path.read_bytes() == damaged + b"torn"
        assert clips(session) == {f"{clip.sha256}.flac"}
        assert list(session.folder.glob("torn-*")) == []

    def test_what_is_no_session_is_told(self, tmp_path: Path) -> None:
        for folder in (tmp_path, tmp_path / "nothing"):
            with pytest.raises(RecordError) as caught:
                SessionFolder.reopen(folder)
            assert caught.value.place == str(folder)
            assert caught.value.remedy


class TestOnlyOneHoldsIt:
    def test_a_second_one_is_refused_and_touches_nothing(self, session: SessionFolder) -> None:
        session.append(button(1), ())
        spare = session.keep(b"not yet cited", 1.0)
        before = (session.folder / JOURNAL).read_bytes()
        assert is_held_open(session.folder)
        with pytest.raises(JournalError, match="another process has this session open") as caught:
            SessionFolder.reopen(session.folder)
        assert caught.value.place == str(session.folder)
        assert caught.value.remedy
        assert clips(session) == {f"{spare.sha256}.flac"}
        assert (session.folder / JOURNAL).read_bytes() == before
        session.append(button(2), ())
        assert len(read_session(session.folder).entries) == 2, "it can be read meanwhile"

    def test_it_is_free_when_it_is_closed(self, session: SessionFolder) -> None:
        session.close()
        assert not is_held_open(session.folder)
        again, _ = SessionFolder.reopen(session.folder)
        assert is_held_open(session.folder)
        again.close()

    def test_it_is_free_when_its_holder_is_killed(self, session: SessionFolder) -> None:
        """Also when a program that the holder had started lives on, as the voice's process does for a moment."""
        session.close()
        program = (
            "import subprocess, sys, time; from pathlib import Path\n"
            "from assistant.edge.files.store import SessionFolder\n"
            "folder, _ = SessionFolder.reopen(Path(sys.argv[1]))\n"
            "other = subprocess.Popen(['sleep', '60'])\n"
            "print(other.pid, flush=True); time.sleep(60)"
        )
        with subprocess.Popen([sys.executable, "-c", program, session.folder], stdout=subprocess.PIPE) as holder:
            assert holder.stdout is not None
            other = int(holder.stdout.readline())
            try:
                assert is_held_open(session.folder)
                holder.kill()
                holder.wait()
                assert not is_held_open(session.folder)
                SessionFolder.reopen(session.folder)[0].close()
            finally:
                os.kill(other, signal.SIGKILL)

    def test_a_damaged_one_is_let_go(self, session: SessionFolder) -> None:
        session.append(button(1), ())
        session.close()
        (session.folder / JOURNAL).write_bytes(b"damaged\n")
        with pytest.raises(JournalError, match="line 1"):
            SessionFolder.reopen(session.folder)
        assert not is_held_open(session.folder)


class TestClips:
    def test_a_clip_is_named_by_its_hash(self, session: SessionFolder) -> None:
        clip = session.keep(b"fLaC sound", 1.25)
        assert clip == Clip(hashlib.sha256(b"fLaC sound").hexdigest(), 1.25)
        assert (session.folder / CLIPS / f"{clip.sha256}.flac").read_bytes() == b"fLaC sound"
        assert session.keep(b"fLaC sound", 1.25) == clip
        assert len(clips(session)) == 1

    def test_clips_that_no_line_cites_are_set_aside_at_reopening(self, session: SessionFolder) -> None:
        """They were deleted. After lines had been cut off the journal, 55 of 73 sounds were lost by taking it up."""
        cited, uncited = session.keep(b"one", 1.0), session.keep(b"two", 1.0)
        session.append(heard(1, cited), ())
        session.append(heard(2, None), ())
        session.close()
        assert clips(session) == {f"{cited.sha256}.flac", f"{uncited.sha256}.flac"}
        again, journal = SessionFolder.reopen(session.folder)
        assert clips(again) == {f"{cited.sha256}.flac"}
        assert again.set_aside == (f"{uncited.sha256}.flac",)
        assert (again.folder / ASIDE / f"{uncited.sha256}.flac").read_bytes() == b"two"
        assert store.uncited(again.folder, journal) == (f"{uncited.sha256}.flac",), "also told later"

    def test_what_belongs_to_nobody_is_set_aside_and_never_replaced(self, session: SessionFolder) -> None:
        """A file that somebody had put among the sounds was deleted."""
        for text in (b"first", b"second"):
            (session.folder / CLIPS / "shopping.txt").write_bytes(text)
            session.close()
            session, _ = SessionFolder.reopen(session.folder)
            assert session.set_aside == ("shopping.txt",)
        aside = {path.read_bytes() for path in (session.folder / ASIDE).iterdir()}
        assert aside == {b"first", b"second"}
        assert store.uncited(session.folder, read_session(session.folder)) == ()  # no sound, so no line is missing

    @pytest.mark.parametrize("name", [CLIPS, PROCEDURES, JOURNAL, ASIDE])
    def test_links_are_refused(self, session: SessionFolder, name: str, tmp_path: Path) -> None:
        """Where `clips` was a link, every file of the folder behind it was deleted."""
        session.append(button(1), ())
        session.close()
        elsewhere = tmp_path / "elsewhere"
        if (session.folder / name).exists():
            (session.folder / name).rename(elsewhere)
        else:
            elsewhere.mkdir()
        if elsewhere.is_dir():
            (elsewhere / "letter.txt").write_text("mine")
        (session.folder / name).symlink_to(elsewhere)
        with pytest.raises(RecordError, match="link"):
            SessionFolder.reopen(session.folder)
        assert elsewhere.is_file() or (elsewhere / "letter.txt").read_text() == "mine"

    def test_a_session_whose_folder_of_clips_was_lost_opens(self, session: SessionFolder) -> None:
        """It failed with a traceback: tools that copy files leave empty folders out."""
        session.append(button(1), ())
        session.close()
        (session.folder / CLIPS).rmdir()
        again, _ = SessionFolder.reopen(session.folder)
        clip = again.keep(b"sound", 1.0)
        assert clips(again) == {f"{clip.sha256}.flac"}

    def test_a_clip_that_cannot_be_written_is_told(self, session: SessionFolder) -> None:
        (session.folder / CLIPS).rmdir()
        with pytest.raises(JournalError, match="clip"):
            session.keep(b"sound", 1.0)


class TestAFullDisk:
    """Writing is made to fail at every place where the system can refuse it."""

    def whole(self, session: SessionFolder) -> bytes:
        return (session.folder / JOURNAL).read_bytes()

    def refuse(self, monkeypatch: pytest.MonkeyPatch, call: str, share: float = 0.0) -> None:
        real = os.write

        def refused(file: int, *rest: object) -> int:
            if call == "write" and share:
                assert isinstance(rest[0], bytes)
                return real(file, rest[0][: int(share * len(rest[0]))])  # the system took a part and says so
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(f"assistant.edge.files.store.os.{call}", refused)

    @pytest.mark.parametrize(("call", "share"), [("write", 0.0), ("write", 0.01), ("write", 0.99), ("fsync", 0.0)])
    def test_the_journal_is_as_it_was(
        self, call: str, share: float, session: SessionFolder, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        session.append(button(1), ())
        before = self.whole(session)
        self.refuse(monkeypatch, call, share)
        with pytest.raises(JournalError, match="cannot be written") as caught:
            session.append(button(2), (StoodBy(),))
        assert caught.value.place == str(session.folder / JOURNAL)
        assert self.whole(session) == before
        assert session.number == 1
        monkeypatch.undo()
        session.append(button(2), ())
        assert [entry.envelope.number for entry in read_session(session.folder).entries] == [1, 2]

    def test_a_part_that_cannot_be_taken_back_never_becomes_a_line(
        self, session: SessionFolder, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The next line was written right behind the torn part, and the journal was damaged for good."""
        session.append(button(1), ())
        before = self.whole(session)
        self.refuse(monkeypatch, "write", 0.5)
        self.refuse(monkeypatch, "ftruncate")
        with pytest.raises(JournalError):
            session.append(button(2), ())
        torn = self.whole(session)
        assert torn.startswith(before)
        assert len(torn) > len(before)
        monkeypatch.undo()
        self.refuse(monkeypatch, "ftruncate")
        with pytest.raises(JournalError):  # nothing may follow while the part is there
            session.append(button(2), ())
        assert self.whole(session) == torn
        monkeypatch.undo()
        session.append(button(2), ())
        assert [entry.envelope.number for entry in read_session(session.folder).entries] == [1, 2]


class TestModesAndSyncing:
    def test_a_session_is_its_owners_alone(self, session: SessionFolder) -> None:
        """Everybody on the machine could read, and the umask decided what they could write."""
        session.keep(b"sound", 1.0)
        modes = {path: stat.S_IMODE(path.stat().st_mode) for path in session.folder.parent.parent.rglob("*")}
        assert {mode for path, mode in modes.items() if path.is_dir()} == {0o700}
        assert {mode for path, mode in modes.items() if path.is_file()} == {0o600}
        assert len(modes) == 8  # the folder of sessions, the session, its two folders, journal, two copies, a sound

    def test_every_file_and_folder_is_synced_before_the_session_counts(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The copies of procedures were not: after a power cut in the first seconds, 19 of 19 were empty."""
        synced: list[str] = []
        real = os.fsync

        def noted(file: int) -> None:
            synced.append(os.path.realpath(f"/proc/self/fd/{file}"))
            real(file)

        monkeypatch.setattr(os, "fsync", noted)
        session = SessionFolder.create(tmp_path / "sessions", "visit", FILES)
        folder = str(session.folder)
        parts = [name for name in synced if name.endswith(".part")]
        assert len(parts) == len(FILES), "each copy, before it gets its name"
        for place in (f"{folder}/{PROCEDURES}", folder, str(tmp_path / "sessions"), str(tmp_path)):
            assert place in synced
        assert synced[-1] == folder, "the journal comes last"
        clip = session.keep(b"sound", 1.0)
        assert clip.sha256[:8] in synced[-2]
        assert synced[-1] == f"{folder}/{CLIPS}"

    def test_a_copy_that_does_not_hold_is_set_aside_and_replaced(self, session: SessionFolder) -> None:
        path = session.folder / PROCEDURES / "service.yaml"
        path.write_bytes(b"")
        digest = hashlib.sha256(FILES["service.yaml"]).hexdigest()
        assert store.read_copy(path, digest) is None
        store.replace_copy(session.folder, "service.yaml", FILES["service.yaml"])
        assert store.read_copy(path, digest) == FILES["service.yaml"]
        assert (session.folder / ASIDE / "service.yaml").read_bytes() == b""


class TestPipesAndDevices:
    """Another session's journal that was a pipe or endless hung `work`, `plan` and `trend` for ever."""

    def test_a_pipe_is_told(self, tmp_path: Path) -> None:
        os.mkfifo(tmp_path / JOURNAL)
        for look in (store.first_input, store.journal_bytes):
            with pytest.raises((OSError, RecordError), match="no regular file"):
                look(tmp_path / JOURNAL)
        with pytest.raises(OSError, match="no regular file"):
            is_held_open(tmp_path)

    def test_a_first_line_without_end_is_read_no_further(self, tmp_path: Path) -> None:
        with (tmp_path / JOURNAL).open("wb") as file:
            file.truncate(4_000_000_000)  # sparse
        with pytest.raises(JournalError, match="no end"):
            store.first_input(tmp_path / JOURNAL)
        with pytest.raises(RecordError, match="larger than"):
            store.journal_bytes(tmp_path / JOURNAL)
