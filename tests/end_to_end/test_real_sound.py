"""A whole task on real sound: PulseAudio, PortAudio, the microphone and the loudspeaker of the program, in real time.

Wiring: a PulseAudio server of our own with two null sinks. The technician is played into `bay`, whose monitor is the
microphone; the assistant speaks into `loudspeaker`, whose monitor is recorded. A loopback leads the assistant's own
voice, 20 dB down, back into the bay.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.edge.store import read_session
from assistant.rehearsal.noise import engine_noise, mix, speech_level
from assistant.rehearsal.throat import speak
from assistant.session import facts as f
from assistant.session.visit import fold

RATE = 16_000
PATIENCE = 15.0  # seconds without an answer after which the technician says it again
HERE = Path(__file__).parent
REPLIES = (  # what is answered to what was really spoken; the text is shown when its sound has ended
    ("Anything wrong?", "all good"),
    ("Try the start switch.", "next"),
    ("It passes only on the phrase", "dead at both"),
    ("What is the pressure?", "three hundred and twenty kilopascals"),
    ("Right?", "affirm"),
    ("Wipe it down.", "next"),
)


@pytest.fixture
def bay(tmp_path: Path) -> Iterator[dict[str, str]]:
    """The environment in which the bay is the microphone and everything is heard."""
    if shutil.which("pulseaudio") is None or shutil.which("paplay") is None:
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
    command += ["-L", "module-null-sink sink_name=bay rate=48000"]
    command += ["-L", "module-loopback source=loudspeaker.monitor sink=bay latency_msec=60"]
    command += ["-L", f"module-native-protocol-unix auth-anonymous=1 socket={socket}"]
    with (tmp_path / "server.log").open("wb") as log:
        server = subprocess.Popen(command, env=surroundings, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
    try:
        for _ in range(400):
            if socket.exists():
                break
            assert server.poll() is None, (tmp_path / "server.log").read_text()
            time.sleep(0.05)
        for control in (
            ["set-default-sink", "loudspeaker"],
            ["set-default-source", "bay.monitor"],
            ["set-sink-input-volume", "0", "-20dB"],  # the loopback is the first stream
        ):
            subprocess.run(["pactl", *control], env=surroundings, check=True, capture_output=True)
        yield surroundings
    finally:
        server.terminate()
        server.wait(10)


class Technician:
    """Answers what was spoken, each time it is asked, through the bay; says it again when nothing follows."""

    def __init__(self, surroundings: dict[str, str], folder: Path) -> None:
        self.left = dict(REPLIES)
        self.spoken: list[str] = []
        self._surroundings = surroundings
        self._folder = folder
        self._once_more = threading.Timer(0, lambda: None)

    def hears(self, line: str) -> None:
        for wanted, reply in REPLIES:
            if wanted in line:
                self.left.pop(wanted, None)
                self.rests()
                self.says(reply)
                return

    def rests(self) -> None:
        """Nothing is said again."""
        self._once_more.cancel()

    def says(self, words: str) -> None:
        self.spoken.append(words)
        time.sleep(0.9)
        speech = np.concatenate([np.zeros(3200, np.float32), speak(words, "flite rms"), np.zeros(24_000, np.float32)])
        noise = engine_noise(len(speech) / RATE, len(self.spoken))[: len(speech)]
        path = self._folder / f"said-{len(self.spoken)}.wav"
        soundfile.write(path, 0.6 * mix(speech, noise, 12.0), RATE)
        subprocess.run(["paplay", "-d", "bay", str(path)], env=self._surroundings, check=True, timeout=60)
        self._once_more = threading.Timer(PATIENCE, self.says, (words,))  # as people do when nothing follows
        self._once_more.daemon = True
        self._once_more.start()


@pytest.mark.timeout(240)
def test_a_whole_task_on_real_sound(bay: dict[str, str], tmp_path: Path) -> None:
    recording = tmp_path / "assistant.wav"
    recorder = subprocess.Popen(
        ["parec", "-d", "loudspeaker.monitor", "--channels=1", f"--rate={RATE}", "--file-format=wav", str(recording)],
        env=bay,
    )
    visit = subprocess.Popen(
        [sys.executable, str(HERE / "short_visit.py"), str(tmp_path / "sessions")],
        env={**bay, "PYTHONUNBUFFERED": "1"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    stop = threading.Timer(200, visit.kill)
    stop.start()
    technician = Technician(bay, tmp_path)
    shown: list[str] = []
    try:
        assert visit.stdout is not None
        for line in visit.stdout:
            shown.append(line)
            if "assistant" in line:
                technician.hears(line)
        assert visit.wait(20) == 0, "".join(shown)
    finally:
        stop.cancel()
        technician.rests()
        visit.kill()
        recorder.terminate()
        recorder.wait(10)
    conversation = "".join(shown)
    journal = read_session(tmp_path / "sessions" / "visit")
    facts = [fact for fact, _ in journal.facts()]
    ended = fold(journal.facts()).ended
    assert ended is not None, conversation
    assert ended.complete, conversation
    readings = [fact for fact in facts if isinstance(fact, f.ReadingRecorded)]
    assert [(str(reading.quantity), reading.verdict) for reading in readings] == [
        ("320 kPa", f.ReadingVerdict.WITHIN)
    ], conversation
    held = [fact for fact in facts if isinstance(fact, f.HoldPointPassed)]
    assert len(held) == 1, conversation
    assert held[0].clip is not None
    assert not technician.left, conversation  # everything that was to be asked was asked aloud
    sound, _ = soundfile.read(recording, dtype="float32")
    assert speech_level(sound) > 0.01, "the assistant was not heard at the loudspeaker"


def speaks(recording: Path) -> bool:
    """Whether the assistant has spoken for half a second at the end of what was recorded so far."""
    bytes_so_far = recording.read_bytes() if recording.exists() else b""
    sound = np.frombuffer(bytes_so_far[: len(bytes_so_far) // 2 * 2], np.int16)[-RATE // 2 :] / 32768
    return len(sound) == RATE // 2 and speech_level(sound.astype(np.float32)) > 0.01


@pytest.mark.timeout(120)
@pytest.mark.parametrize(
    ("options", "says"), [(("--headset",), "all good"), ((), "say again")], ids=["headset", "loudspeaker"]
)
def test_the_first_prompt_is_cut_off(bay: dict[str, str], tmp_path: Path, options: tuple[str, ...], says: str) -> None:
    """With a headset, which does not hear the assistant, by an answer; with the loudspeaker by a command."""
    if options:
        subprocess.run(["pactl", "set-sink-input-mute", "0", "1"], env=bay, check=True, capture_output=True)
    recording = tmp_path / "assistant.wav"
    recorder = subprocess.Popen(
        ["parec", "-d", "loudspeaker.monitor", "--channels=1", f"--rate={RATE}", "--latency-msec=50"],
        env=bay,
        stdout=recording.open("wb"),
    )
    visit = subprocess.Popen(
        [sys.executable, str(HERE / "short_visit.py"), str(tmp_path / "sessions"), *options],
        env={**bay, "PYTHONUNBUFFERED": "1"},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    stop = threading.Timer(90, visit.kill)
    stop.start()
    technician = Technician(bay, tmp_path)
    shown: list[str] = []
    try:
        while not speaks(recording):
            assert visit.poll() is None, "it ended before it spoke"
            time.sleep(0.1)
        time.sleep(1.5)  # it learns meanwhile how loud it hears itself
        technician.says(says)
        assert visit.stdout is not None
        for line in visit.stdout:
            if "assistant  " not in line and "you  " not in line:
                continue  # what the sound system has to say
            shown.append(line)
            if "you" in line and says in line:
                break
    finally:
        stop.cancel()
        technician.rests()
        visit.kill()
        visit.wait(10)
        recorder.terminate()
        recorder.wait(10)
    assert "(cut off)" in shown[0], "".join(shown)
    assert says in shown[-1], "".join(shown)
    assert "understood" in shown[-1], "".join(shown)
    assert len(shown) == 2, "".join(shown)  # nothing else was said or heard before
