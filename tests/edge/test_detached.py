"""Microphone and loudspeaker in processes of their own: devices that are pulled, that hang, and that come back.

Wiring: the processes find the stand-in of the folder `stand_in` in place of the module sounddevice.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from assistant.edge.sound import detached
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
from assistant.edge.sound.player import Played
from assistant.errors import AudioError

pytestmark = pytest.mark.timeout(60)
SECOND = np.zeros(48000, np.float32)


@pytest.fixture
def headset(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The file that is there while the headset is."""
    file = tmp_path / "headset"
    file.touch()
    monkeypatch.setenv("STAND_IN", str(file))
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent / "stand_in"))
    monkeypatch.setattr(detached, "STALL_SECONDS", 1.0)  # what hangs is missed after two seconds; a busy machine is not
    return file


@pytest.fixture(autouse=True)
def nothing_left(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Every process that was started has ended."""
    started: list[detached._Other] = []
    start = detached._Other.__init__

    def watched(self: detached._Other, kind: str, device: str | int | None) -> None:
        start(self, kind, device)
        started.append(self)

    monkeypatch.setattr(detached._Other, "__init__", watched)
    yield
    assert all(other._process.poll() is not None for other in started)


def test_the_microphone_hears_and_ends(headset: Path) -> None:
    with DetachedMicrophone("headset") as microphone:
        blocks = microphone.blocks()
        heard = np.concatenate([next(blocks) for _ in range(10)])
        assert microphone.name == "USB headset"
        assert microphone.overruns == 0
    assert heard.dtype == np.float32
    assert np.abs(heard[2000:]).max() == pytest.approx(0.5, abs=0.05)
    assert list(blocks) == []


@pytest.mark.parametrize("way", ["gone", "stuck"])
def test_a_microphone_that_is_pulled_is_an_error_and_comes_back(way: str, headset: Path) -> None:
    with DetachedMicrophone() as microphone:
        blocks = microphone.blocks()
        next(blocks)
        _pull(headset, way)
        with pytest.raises(AudioError, match="microphone USB headset: it gives no"):
            list(blocks)
        if way == "gone":
            with pytest.raises(AudioError, match="no microphone is there"):
                microphone.reopen()
        headset.write_text("")
        microphone.reopen()
        assert next(microphone.blocks()).shape == (512,)


@pytest.mark.parametrize("way", ["gone", "stuck"])
def test_a_loudspeaker_that_is_pulled_is_an_error_and_comes_back(way: str, headset: Path) -> None:
    with closing(DetachedPlayer()) as player:
        assert player.play(SECOND[:4800], 48000) == Played(0.1, True)
        threading.Timer(0.3, _pull, (headset, way)).start()
        with pytest.raises(AudioError, match=r"it stopped after|no sign of life"):
            player.play(SECOND, 48000)
        if way == "gone":
            with pytest.raises(AudioError, match="no loudspeaker is there"):
                player.look()
        headset.write_text("")
        assert player.play(SECOND[:4800], 48000).whole


def test_a_cut_is_a_cut(headset: Path) -> None:
    with closing(DetachedPlayer()) as player:
        player.look()
        player.cut()  # it is quiet: nothing happens
        threading.Timer(0.3, player.cut).start()
        begun = time.monotonic()
        played = player.play(np.tile(SECOND, 20), 48000)
        assert not played.whole
        assert played.seconds < 5
        assert time.monotonic() - begun < 10
        assert player.play(SECOND[:4800], 48000).whole


def test_what_is_missing_is_told_by_name(headset: Path) -> None:
    with pytest.raises(AudioError, match=r"no microphone fits 'boom'. Choose one of: USB headset"):
        DetachedMicrophone("boom")
    headset.unlink()
    with pytest.raises(AudioError, match=r"no microphone is there.*--typed"):
        DetachedMicrophone()
    player = DetachedPlayer()
    with pytest.raises(AudioError, match="no loudspeaker is there"):
        player.play(SECOND, 48000)


def test_closing_while_it_is_looked_for(headset: Path) -> None:
    microphone = DetachedMicrophone()
    microphone.close()
    with pytest.raises(AudioError, match="it was closed"):
        microphone.reopen()


@pytest.mark.parametrize("kind", ["microphone", "loudspeaker"])
def test_no_process_outlasts_the_program(kind: str, headset: Path) -> None:
    """Not even when the device hangs."""
    other = detached._Other(kind, None)
    other.receive(detached.OPEN_SECONDS)
    _pull(headset, "stuck")
    other._line.close()
    assert other._process.wait(20) == 0


def _pull(headset: Path, way: str) -> None:
    if way == "gone":
        headset.unlink()
    else:
        headset.write_text("stuck")
