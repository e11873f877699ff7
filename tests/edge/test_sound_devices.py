"""Loudspeaker and microphone on a real PortAudio: what goes into a null sink is heard from its monitor.

Wiring: a PulseAudio server of our own (Debian's pulseaudio and libasound2-plugins) with one null sink, its socket in a
temporary folder; PortAudio reaches it through ALSA. PortAudio reads its surroundings once, so the sound is played and
heard in a process of its own.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

PLAY_AND_HEAR = """
import json, sys, threading
import numpy as np
from assistant.edge.microphone import Microphone
from assistant.edge.player import Player

rate = 22050
tone = (0.3 * np.sin(2 * np.pi * 700 * np.arange(rate) / rate)).astype(np.float32)
player, heard = Player(), []
with Microphone() as microphone:
    listening = threading.Thread(target=lambda: heard.extend(microphone.blocks()))
    listening.start()
    whole = player.play(tone, rate)
    between = len(heard)
    threading.Timer(0.5, player.cut).start()
    cut = player.play(np.tile(tone, 10), rate)
    threading.Event().wait(0.5)
    overruns = microphone.overruns
listening.join()
player.close()
spectrum = np.abs(np.fft.rfft(np.concatenate(heard[:between])))
loud = [bool(np.abs(block).max() > 0.1) for block in heard]
json.dump({
    "whole": [whole.seconds, whole.whole], "cut": [cut.seconds, cut.whole], "overruns": overruns,
    "hertz": float(np.argmax(spectrum) * 16000 / (2 * len(spectrum) - 2)),
    "first": sum(loud[:between]) * 512 / 16000, "second": sum(loud[between:]) * 512 / 16000, "quiet_end": not loud[-1],
}, sys.stdout)
"""


@pytest.fixture
def sound_server(tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment in which PortAudio finds the server."""
    if shutil.which("pulseaudio") is None:
        pytest.skip("pulseaudio is not installed; `hardware/start test` installs it")
    (tmp_path / "asound.conf").write_text(
        "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
    )
    socket = tmp_path / "native"
    surroundings = os.environ | {
        "HOME": str(tmp_path),
        "XDG_RUNTIME_DIR": str(tmp_path),
        "PULSE_SERVER": f"unix:{socket}",
        "ALSA_CONFIG_PATH": str(tmp_path / "asound.conf"),
    }
    command = ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1"]
    command += ["-L", "module-null-sink sink_name=loudspeaker rate=48000"]
    command += ["-L", f"module-native-protocol-unix auth-anonymous=1 socket={socket}"]
    with (tmp_path / "server.log").open("wb") as log:
        server = subprocess.Popen(command, env=surroundings, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
    try:
        waited = 0
        while not socket.exists():
            assert server.poll() is None, (tmp_path / "server.log").read_text()
            assert waited < 400, "the sound server does not come up"
            time.sleep(0.05)
            waited += 1
        yield surroundings
    finally:
        server.terminate()
        server.wait(timeout=30)


def test_what_is_played_is_heard_and_a_cut_is_a_cut(sound_server: dict[str, str]) -> None:
    done = subprocess.run(
        [sys.executable, "-c", PLAY_AND_HEAR], env=sound_server, capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    heard = json.loads(done.stdout)
    assert heard["whole"] == [pytest.approx(1.0, abs=0.01), True]
    assert heard["hertz"] == pytest.approx(700, abs=5)
    assert heard["first"] == pytest.approx(1.0, abs=0.2)
    assert heard["cut"][1] is False
    assert heard["cut"][0] < 5  # of ten seconds
    assert heard["second"] < heard["cut"][0] + 0.5
    assert heard["quiet_end"]
    assert heard["overruns"] == 0


def test_a_device_that_is_not_there_is_told_by_the_real_library() -> None:
    """With or without sound hardware; PortAudio is started a second time on the way."""
    script = (
        "from assistant.edge.microphone import Microphone\n"
        "from assistant.errors import AudioError\n"
        "try:\n    Microphone('gramophone')\nexcept AudioError as error:\n    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "Connect a microphone" in done.stdout or "fits 'gramophone'. Choose one of" in done.stdout
