"""What is missing at the start is told, with its remedy and with what there is; nothing else is tried in its place."""

from __future__ import annotations

import builtins
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from edge.sound.test_sound import World
from typer.testing import CliRunner

import assistant.app.demo
import assistant.app.live
from assistant.app.visits import SpeechSetup
from assistant.cli import app
from assistant.edge.files.language import english
from assistant.edge.sound import detached
from assistant.edge.sound.microphone import Microphone
from assistant.edge.sound.player import Player
from assistant.errors import VoiceError

WORK = ("work", "marram-auxiliary", "oil-and-filter", "--sessions")


class Loudspeaker:
    """A loudspeaker that is opened in this process when it is looked for."""

    def __init__(self, device: str | int | None = None) -> None:
        self._device = device
        self._player: Player | None = None

    def look(self) -> None:
        self._player = Player(self._device)

    def close(self) -> None:
        if self._player is not None:
            self._player.close()


@pytest.fixture
def sounding(monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    """Devices that are there: a USB headset and the board's loudspeaker; and no visit that begins."""
    world = World()
    monkeypatch.setitem(sys.modules, "sounddevice", world.module())
    monkeypatch.setattr(detached, "DetachedMicrophone", Microphone)
    monkeypatch.setattr(detached, "DetachedPlayer", Loudspeaker)

    def begins(*_: object, **__: object) -> None:
        raise AssertionError("a visit begins")

    monkeypatch.setattr(assistant.app.live, "LiveWorld", begins)
    yield world
    assert not any(stream.running for stream in world.streams), "what was opened is closed"


@pytest.fixture
def ready(monkeypatch: pytest.MonkeyPatch) -> None:
    """Recogniser and voice are there."""
    means: Any = SpeechSetup(english(), None, None)  # type: ignore[arg-type]  # nobody is heard and nothing is said
    monkeypatch.setattr(assistant.app.demo, "speech_setup", lambda *_: means)


def told(tmp_path: Path, *options: str) -> str:
    """What the command says when it refuses. No session was begun."""
    sessions = tmp_path / "sessions"
    done = CliRunner().invoke(app, [*WORK, str(sessions), *options])
    assert done.exit_code == 2, done.output
    assert not sessions.exists()
    assert "Nothing else was tried in its place. Keyboard and screen are there" in done.output
    assert "Traceback" not in done.output
    return done.output


def test_a_missing_microphone(sounding: World, ready: None, tmp_path: Path) -> None:
    sounding.devices = sounding.devices[1:]
    assert "no microphone is there. Connect a microphone" in told(tmp_path)


def test_a_microphone_of_another_name_is_not_taken(sounding: World, ready: None, tmp_path: Path) -> None:
    assert "no microphone fits 'boom'. Choose one of: USB headset" in told(tmp_path, "--microphone", "boom")


def test_a_missing_loudspeaker_is_told_before_anything_begins(sounding: World, ready: None, tmp_path: Path) -> None:
    for device in sounding.devices:
        device["max_output_channels"] = 0
    assert "no loudspeaker is there. Connect a loudspeaker" in told(tmp_path)


def test_a_loudspeaker_of_another_name_is_not_taken(sounding: World, ready: None, tmp_path: Path) -> None:
    said = told(tmp_path, "--loudspeaker", "horn")
    assert "no loudspeaker fits 'horn'. Choose one of: USB headset; Board" in said


def test_a_missing_recogniser(sounding: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name.partition(".")[0] == "vosk":
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.delitem(sys.modules, "vosk", raising=False)
    monkeypatch.setattr(builtins, "__import__", without)
    said = told(tmp_path, "--engine", "vosk", "--model", str(tmp_path))
    assert "vosk" in said.lower()
    assert "install" in said.lower()


@pytest.mark.parametrize(
    ("options", "remedy"),
    [
        (("--engine", "other"), "Use bundled or vosk"),
        (("--engine", "vosk"), "Give --model FOLDER"),
        (("--engine", "vosk", "--model", "no"), "Give the folder of an unpacked Vosk model"),
    ],
)
def test_an_engine_or_model_that_is_not_there(
    sounding: World, options: tuple[str, ...], remedy: str, tmp_path: Path
) -> None:
    assert remedy in told(tmp_path, *options)


def test_a_missing_voice(sounding: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(engine: str, folder: Path) -> None:
        raise VoiceError(f"voice {engine}", "it is not installed", "Install it")

    monkeypatch.setattr(assistant.app.demo, "open_recogniser", lambda *_: None)
    monkeypatch.setattr(assistant.app.demo, "open_adjustable", missing)
    assert "voice espeak-ng: it is not installed. Install it" in told(tmp_path, "--voice", "espeak-ng")


def test_a_voice_of_another_name_is_not_replaced(
    sounding: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assistant.app.demo, "open_recogniser", lambda *_: None)
    assert "there is no such engine. Choose one of pyttsx3, espeak-ng" in told(tmp_path, "--voice", "alto")


def test_a_program_of_the_voice_that_is_not_installed(
    sounding: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assistant.app.demo, "open_recogniser", lambda *_: None)
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "espeak-ng is not installed. Install it with" in told(tmp_path, "--voice", "espeak-ng")
