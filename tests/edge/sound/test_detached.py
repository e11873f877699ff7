"""Microphone and loudspeaker in processes of their own: devices that are pulled, that hang, and that come back.

Wiring: the processes find the stand-in of the folder `stand_in` in place of the module sounddevice.
"""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

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
    started: list[subprocess.Popen[bytes]] = []
    start = subprocess.Popen

    def noted(*given: Any, **options: Any) -> subprocess.Popen[bytes]:
        started.append(start(*given, **options))
        return started[-1]

    monkeypatch.setattr(subprocess, "Popen", noted)
    yield
    assert started
    assert all(process.poll() is not None for process in started)


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


PROGRAM = """
import subprocess
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer

class Told(subprocess.Popen):
    def __init__(self, *given, **options):
        super().__init__(*given, **options)
        print(self.pid, flush=True)

subprocess.Popen = Told
device = DEVICE
print("open", flush=True)
input()
"""


@pytest.mark.parametrize("device", ["DetachedMicrophone()", "DetachedPlayer(); device.look()"])
def test_no_process_outlasts_the_program(device: str, headset: Path) -> None:
    """Not even when the device hangs, and the program is killed."""
    pipe = subprocess.PIPE
    with subprocess.Popen(
        [sys.executable, "-c", PROGRAM.replace("DEVICE", device)], stdin=pipe, stdout=pipe
    ) as program:
        assert program.stdout is not None
        number, opened = (program.stdout.readline().decode().strip() for _ in range(2))
        assert opened == "open"
        _pull(headset, "stuck")
        program.kill()
    while _runs(int(number)):  # ended by the time limit of these tests
        time.sleep(0.05)


def _runs(number: int) -> bool:
    """Whether there is such a process, other than one that has ended and that nobody waits for."""
    try:
        state = Path(f"/proc/{number}/stat").read_text(encoding="utf-8")
    except OSError:
        return False
    return state.rpartition(")")[2].split()[0] != "Z"


def _pull(headset: Path, way: str) -> None:
    if way == "gone":
        headset.unlink()
    else:
        headset.write_text("stuck")
