"""Whatever a thread of the live world raises, the visit goes on. Anything but our own errors left it mute and deaf for
ever: no file handle left, the temporary folder gone, a full terminal."""

from __future__ import annotations

import errno
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from app.room import HandMicrophone, Room, eventually

from assistant.edge.sound.voices import RenderedSpeech
from assistant.errors import JournalError
from assistant.hearing.ear import Samples
from assistant.session import facts as f

pytestmark = pytest.mark.timeout(60)
NO_HANDLE = OSError(errno.EMFILE, "Too many open files")


def lost(room: Room) -> list[str]:
    return [fact.device for fact in room.facts(f.DeviceLost)]


@pytest.mark.parametrize("error", [NO_HANDLE, FileNotFoundError("the temporary folder"), MemoryError(), SystemExit(1)])
def test_the_voice(error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room(tmp_path)

    def fails(text: str) -> RenderedSpeech:
        raise error

    monkeypatch.setattr(room.voice, "render", fails)
    with room.attended():
        room.waits()
        monkeypatch.undo()
        room.ends()
    assert lost(room) == ["voice"]
    first = room.facts(f.Spoken)[0].said
    assert [said.whole for said in first] == [False, False], "the record says that nothing of it was heard"
    assert [f"shown only: {said.text}" for said in first] == room.watcher.notes[:2], "neither spoken nor shown it was"
    assert room.watcher.spoken, "it is heard again as soon as it can be"


def test_the_loudspeaker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room(tmp_path)
    play = room.player.play

    def fails(samples: Samples, rate: int) -> Any:
        raise NO_HANDLE

    monkeypatch.setattr(room.player, "play", fails)
    with room.attended():
        eventually(lambda: lost(room) == ["loudspeaker"])
        monkeypatch.setattr(room.player, "play", play)
        eventually(lambda: "the loudspeaker is back." in room.watcher.notes)
        room.ends()
    assert lost(room) == ["loudspeaker"]


def test_the_microphone(tmp_path: Path) -> None:
    class Failing(HandMicrophone):
        def blocks(self) -> Iterator[Samples]:
            if not self.reopened:
                raise NO_HANDLE
            yield from super().blocks()

        def reopen(self) -> None:
            if self.gone:
                raise NO_HANDLE
            self.reopened += 1

    microphone = Failing()
    microphone.gone = True
    room = Room(tmp_path, microphone=microphone)
    with room.attended():
        eventually(lambda: lost(room) == ["microphone"])
        microphone.gone = False
        eventually(lambda: "the microphone is back." in room.watcher.notes)
        room.ends()


def test_the_keyboard(tmp_path: Path) -> None:
    class Failing:
        closed = False

        def readline(self) -> str:
            raise MemoryError

    room = Room(tmp_path, keyboard=Failing())
    with room.attended():
        eventually(lambda: lost(room) == ["keyboard"])
        room.ends()
    assert any("the keyboard is gone" in note for note in room.watcher.notes)


def test_a_closed_keyboard(tmp_path: Path) -> None:
    class Closed:
        closed = True

    room = Room(tmp_path, keyboard=Closed())
    with room.attended():
        eventually(lambda: lost(room) == ["keyboard"])
        room.ends()


def test_bytes_that_are_no_text(tmp_path: Path) -> None:
    """One such byte ended the visit."""
    (tmp_path / "typed").write_bytes(b"all \xff good\n" + b"x" * 1_000_000 + b"\nall good\n")
    with (tmp_path / "typed").open(encoding="utf-8") as keyboard:
        room = Room(tmp_path, keyboard=keyboard)
        with room.attended():
            eventually(lambda: bool(room.facts(f.AnswerRecorded)))
            room.ends()
    assert sum("Type it again." in note for note in room.watcher.notes) == 2
    assert [fact.text for fact in room.facts(f.HearingFailed)][:2] == ["", ""]


def test_the_recogniser(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room(tmp_path)

    def fails(*_: object) -> Any:
        room.recogniser.words.clear()
        raise NO_HANDLE

    with room.attended():
        room.waits()
        monkeypatch.setattr(room.recogniser, "hear", fails)
        room.utter("all good")
        eventually(lambda: lost(room) == ["recogniser"])
        monkeypatch.undo()
        room.ends()
    assert "the recogniser is back." in room.watcher.notes


def test_the_screen(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when the disk is full on which its output is kept, or the terminal is gone."""
    room = Room(tmp_path)

    def fails(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    for name in ("said", "heard", "note"):
        monkeypatch.setattr(room.watcher, name, fails)
    with room.attended():
        room.ends()
    (gone,) = room.facts(f.DeviceLost)
    assert (gone.device, gone.detail) == ("screen", "No space left on device")


def test_a_screen_that_works_again_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room(tmp_path)

    def fails(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with room.attended():
        room.waits()
        with monkeypatch.context() as broken:
            for name in ("said", "heard", "note"):
                broken.setattr(room.watcher, name, fails)
            room.utter("say again")
            eventually(lambda: lost(room) == ["screen"])
        room.ends()
    assert lost(room) == ["screen"]
    assert room.watcher.notes.count("the screen is back.") == 1


def test_a_sound_that_cannot_be_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room(tmp_path)

    def fails(samples: Samples) -> bytes:
        raise NO_HANDLE

    with room.attended():
        room.waits()
        with monkeypatch.context() as broken:
            broken.setattr("assistant.app.utterances.flac", fails)
            room.utter("all good")
            eventually(lambda: any("cannot write the record" in text for text, _ in room.watcher.spoken))
        assert room.facts(f.AnswerRecorded) == []
        room.ends()


def test_a_visit_whose_beginning_cannot_be_written_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It waited mute and deaf for ever: nothing had begun, so nothing was asked."""
    room = Room(tmp_path)

    def full(*_: object) -> None:
        raise JournalError("journal.jsonl", "the line cannot be written", "Free or repair the disk")

    monkeypatch.setattr(room.folder, "append", full)
    with pytest.raises(JournalError, match="cannot be written"):
        room.world.run(room.order)


def test_no_thread_to_be_had(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    room = Room(tmp_path)
    monkeypatch.setattr(threading.Thread, "start", lambda self: (_ for _ in ()).throw(RuntimeError("can't start")))
    room.begin()
    room.go_on()
    monkeypatch.undo()
    first = room.facts(f.Spoken)[0].said
    assert [f"shown only: {said.text}" for said in first] == room.watcher.notes[:2]
    room.answer("all good")
    assert lost(room) == ["voice"]
    assert [fact.key for fact in room.facts(f.AnswerRecorded)] == ["good"]


def test_the_button(tmp_path: Path) -> None:
    """A pedal that was pulled said nothing."""
    room = Room(tmp_path)
    told: list[Any] = []
    room.panel.watch = lambda *actions: told.extend(actions)  # type: ignore[method-assign]  # the panel is the test's
    with room.attended():
        room.waits()
        told[2]("No such device")
        eventually(lambda: lost(room) == ["button"])
        room.ends()
