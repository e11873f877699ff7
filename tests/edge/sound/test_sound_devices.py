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
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

PLAY_AND_HEAR = """
import json, sys, threading
import numpy as np
from assistant.edge.sound.detached import DetachedMicrophone as Microphone
from assistant.edge.sound.detached import DetachedPlayer as Player

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


GO_ON_AFTER_A_RESTART = """
import threading, time
import numpy as np
from assistant.edge.sound.detached import DetachedMicrophone as Microphone
from assistant.edge.sound.detached import DetachedPlayer as Player
from assistant.errors import AudioError

rate = 22050
tone = (0.3 * np.sin(2 * np.pi * 700 * np.arange(rate) / rate)).astype(np.float32)
player, heard = Player(), []

def until_it_is_back(find):
    for _ in range(60):
        try:
            return find()
        except AudioError:
            time.sleep(0.5)
    raise SystemExit("it never came back")

def listen():
    try:
        heard.extend(microphone.blocks())
    except AudioError as error:
        print("lost:", error, flush=True)
        until_it_is_back(microphone.reopen)
        print("microphone back", flush=True)
        heard.clear()
        heard.extend(microphone.blocks())

with Microphone() as microphone:
    listening = threading.Thread(target=listen)
    listening.start()
    print("before:", player.play(tone, rate).whole, flush=True)
    input()  # the server is being restarted
    try:
        player.play(tone, rate)
    except AudioError as error:
        print("lost:", error, flush=True)
        until_it_is_back(player.look)
    input()
    while not heard:
        time.sleep(0.05)
    mark = len(heard)
    print("after:", player.play(tone, rate).whole, flush=True)

    def loud():  # seconds of it that came back: a busy machine's server plays it with gaps, and late
        return sum(np.abs(block).max() > 0.1 for block in heard[mark:]) * 512 / 16000

    until = time.monotonic() + 15
    while loud() < 0.1 and time.monotonic() < until:
        player.play(tone, rate)  # on a machine busy enough all of the first was lost
    print("heard:", loud() >= 0.1, flush=True)
listening.join(10)
player.close()
"""


class Server:
    """A PulseAudio server of our own. environment: in which PortAudio finds it."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        (folder / "asound.conf").write_text(
            "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
        )
        self._socket = folder / "native"
        self.environment = os.environ | {
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "PULSE_SERVER": f"unix:{self._socket}",
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
        }
        self.start()

    def start(self) -> None:
        command = ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1"]
        command += ["-L", "module-null-sink sink_name=loudspeaker rate=48000"]
        command += ["-L", f"module-native-protocol-unix auth-anonymous=1 socket={self._socket}"]
        log_path = self._folder / "server.log"
        with log_path.open("wb") as log:
            self._process = subprocess.Popen(
                command, env=self.environment, stdin=subprocess.DEVNULL, stdout=log, stderr=log
            )
        for _ in range(400):
            if self._socket.exists():
                return
            assert self._process.poll() is None, log_path.read_text()
            time.sleep(0.05)
        raise AssertionError("the sound server does not come up")

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait(timeout=30)
        self._socket.unlink(missing_ok=True)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    if shutil.which("pulseaudio") is None:
        pytest.skip("pulseaudio is not installed; `hardware/start test` installs it")
    running = Server(tmp_path)
    yield running
    running.stop()


@pytest.fixture
def sound_server(server: Server) -> dict[str, str]:
    """The environment in which PortAudio finds the server."""
    return server.environment


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


@pytest.mark.timeout(150)
def test_microphone_and_loudspeaker_go_on_after_the_sound_server_was_restarted(server: Server) -> None:
    going = subprocess.Popen(
        [sys.executable, "-u", "-c", GO_ON_AFTER_A_RESTART],
        env=server.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    stop = threading.Timer(120, going.kill)
    stop.start()
    try:
        assert going.stdout is not None
        assert going.stdin is not None
        said: list[str] = []

        def until(line: str) -> None:
            for read in going.stdout or ():
                said.append(read)
                if line in read:
                    return
            raise AssertionError("".join(said))

        until("before: True")
        server.stop()
        going.stdin.write("\n")
        going.stdin.flush()
        until("lost: microphone")
        server.start()
        going.stdin.write("\n")
        going.stdin.flush()
        until("heard:")
        assert going.wait(20) == 0, "".join(said)
    finally:
        stop.cancel()
        going.kill()
        going.wait(10)
    told = "".join(said)
    assert "microphone back" in told
    assert "after: True" in told
    assert said[-1].startswith("heard: True"), told


def test_a_device_that_is_not_there_is_told_by_the_real_library() -> None:
    """With or without sound hardware."""
    script = (
        "from assistant.edge.sound.detached import DetachedMicrophone as Microphone\n"
        "from assistant.errors import AudioError\n"
        "try:\n    Microphone('gramophone')\nexcept AudioError as error:\n    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert "Connect a microphone" in done.stdout or "fits 'gramophone'. Choose one of" in done.stdout
