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

from assistant.edge.files.store import read_session
from assistant.rehearsal.noise import engine_noise, mix, speech_level
from assistant.rehearsal.technician_voice import speak
from assistant.session import facts as f
from assistant.session.applying import fold

RATE = 16_000
PATIENCE = 25.0  # seconds without an answer after which the technician says it again
HERE = Path(__file__).parent
REPLIES = (  # what is answered to what was really spoken; the text is shown when its sound has ended
    ("Anything wrong?", "all good"),
    ("Try the start switch.", "next"),
    ("It passes only on the phrase", "dead at both"),
    ("What is the pressure?", "three hundred and twenty kilopascals"),
    ("Right?", "affirm"),
    ("Wipe it down.", "next"),
)


class Bay:
    """A sound server of our own. surroundings: the environment in which the bay is the microphone and all is heard."""

    def __init__(self, folder: Path) -> None:
        self._folder, self._socket = folder, folder / "native"
        (folder / "asound.conf").write_text(
            "</usr/share/alsa/alsa.conf>\npcm.!default { type pulse }\nctl.!default { type pulse }\n"
        )
        self.surroundings = os.environ | {
            "HOME": str(folder),
            "XDG_RUNTIME_DIR": str(folder),
            "PULSE_SERVER": f"unix:{self._socket}",
            "ALSA_CONFIG_PATH": str(folder / "asound.conf"),
            "PYTHONUNBUFFERED": "1",
        }
        self._server: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """The server runs, with bay, loudspeaker and the loopback between them."""
        command = ["pulseaudio", "-n", "--daemonize=no", "--use-pid-file=no", "--exit-idle-time=-1"]
        command += ["-L", "module-null-sink sink_name=loudspeaker rate=48000"]
        command += ["-L", "module-null-sink sink_name=bay rate=48000"]
        command += ["-L", "module-loopback source=loudspeaker.monitor sink=bay latency_msec=60"]
        command += ["-L", f"module-native-protocol-unix auth-anonymous=1 socket={self._socket}"]
        with (self._folder / "server.log").open("ab") as log:
            server = subprocess.Popen(command, env=self.surroundings, stdin=subprocess.DEVNULL, stdout=log, stderr=log)
        self._server = server
        for _ in range(400):
            if self._socket.exists():
                break
            assert server.poll() is None, (self._folder / "server.log").read_text()
            time.sleep(0.05)
        self.control("set-default-sink", "loudspeaker")
        self.control("set-default-source", "bay.monitor")
        self.control("set-sink-input-volume", "0", "-20dB")  # the loopback is the first stream

    def stop(self) -> None:
        """The server ends, and with it every device."""
        if self._server is not None:
            self._server.terminate()
            self._server.wait(10)
            self._server = None

    def mute_loopback(self) -> None:
        """As with a headset: the bay does not hear the assistant."""
        self.control("set-sink-input-mute", "0", "1")

    def control(self, *arguments: str) -> None:
        subprocess.run(["pactl", *arguments], env=self.surroundings, check=True, capture_output=True, timeout=30)


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Bay]:
    if shutil.which("pulseaudio") is None or shutil.which("paplay") is None:
        pytest.skip("pulseaudio is not installed; `hardware/start test` installs it")
    server = Bay(tmp_path)
    server.start()
    yield server
    server.stop()


@pytest.fixture
def bay(server: Bay) -> dict[str, str]:
    """The environment in which the bay is the microphone and everything is heard."""
    return server.surroundings


class Technician:
    """Answers what was spoken, each time it is asked, through the bay; says it again when nothing follows."""

    def __init__(self, surroundings: dict[str, str], folder: Path) -> None:
        self.left = dict(REPLIES)
        self.spoken: list[str] = []
        self._surroundings = surroundings
        self._folder = folder
        self._once_more = threading.Timer(0, lambda: None)
        self._answered = 0  # how many questions; what was said to an earlier one is not said again

    def hears(self, line: str) -> None:
        for wanted, reply in REPLIES:
            if wanted in line:
                self.left.pop(wanted, None)
                self.rests()
                self.says(reply)
                return

    def rests(self) -> None:
        """Nothing is said again, not even what is being said just now."""
        self._answered += 1
        self._once_more.cancel()

    def says(self, words: str) -> None:
        answered = self._answered
        self.spoken.append(words)
        time.sleep(0.9)
        speech = np.concatenate([np.zeros(3200, np.float32), speak(words, "flite rms"), np.zeros(24_000, np.float32)])
        noise = engine_noise(len(speech) / RATE, len(self.spoken))[: len(speech)]
        path = self._folder / f"said-{len(self.spoken)}.wav"
        soundfile.write(path, 0.6 * mix(speech, noise, 12.0), RATE)
        subprocess.run(["paplay", "-d", "bay", str(path)], env=self._surroundings, check=True, timeout=60)
        if answered != self._answered:
            return  # what followed came while it was said again
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
        env=bay,
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
def test_the_first_prompt_is_cut_off(server: Bay, tmp_path: Path, options: tuple[str, ...], says: str) -> None:
    """With a headset, which does not hear the assistant, by an answer; with the loudspeaker by a command."""
    bay = server.surroundings
    if options:
        server.mute_loopback()
    recording = tmp_path / "assistant.wav"
    recorder = subprocess.Popen(
        ["parec", "-d", "loudspeaker.monitor", "--channels=1", f"--rate={RATE}", "--latency-msec=50"],
        env=bay,
        stdout=recording.open("wb"),
    )
    visit = subprocess.Popen(
        [sys.executable, str(HERE / "short_visit.py"), str(tmp_path / "sessions"), *options],
        env=bay,
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


class Watched:
    """A visit with a headset whose screen is read: `until` gives its lines one by one."""

    def __init__(self, bay: dict[str, str], folder: Path) -> None:
        self.sessions = folder / "sessions"
        self.lines: list[str] = []
        self._process = subprocess.Popen(
            [sys.executable, str(HERE / "short_visit.py"), str(self.sessions), "--headset"],
            env=bay,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def until(self, *wanted: str) -> None:
        """Reads on until each of these was shown, in whatever order."""
        left = set(wanted)
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.lines.append(line)
            print(line, end="", flush=True)
            left -= {words for words in left if words in line}
            if not left:
                return
        raise AssertionError(f"the visit ended without {left}: {''.join(self.lines)}")

    def ended(self) -> bool:
        return self._process.wait(20) == 0

    def kill(self) -> None:
        self._process.kill()
        self._process.wait(10)


@pytest.fixture
def watched(server: Bay, tmp_path: Path) -> Iterator[Watched]:
    server.mute_loopback()
    visit = Watched(server.surroundings, tmp_path)
    yield visit
    visit.kill()


REST = (  # from the second question of the short visit on: what is answered, and what is said then
    ("dead at both", "What is the pressure?"),
    ("three hundred and twenty kilopascals", "Right?"),
    ("affirm", "Wipe it down."),
    ("next", "All done."),
)


def finish(visit: Watched, technician: Technician) -> None:
    """From the second question to the end."""
    for answer, following in REST:
        technician.says(answer)
        visit.until(following)
        technician.rests()


@pytest.mark.timeout(600)
@pytest.mark.parametrize("times", [2, pytest.param(50, marks=pytest.mark.long)])
def test_the_sound_server_restarts_in_mid_visit(server: Bay, watched: Watched, tmp_path: Path, times: int) -> None:
    """Every device is gone, and back, as with a headset that is pulled and plugged in again."""
    technician = Technician(server.surroundings, tmp_path)
    watched.until("Anything wrong?")
    technician.says("all good")
    watched.until("Try the start switch.")
    technician.rests()
    for _ in range(times):
        server.stop()
        watched.until("the microphone is gone", "the loudspeaker is gone")
        server.start()
        server.mute_loopback()
        watched.until("the microphone is back", "the loudspeaker is back")
    finish(watched, technician)
    assert watched.ended()
    facts = [fact for fact, _ in read_session(watched.sessions / "visit").facts()]
    lost = [fact.device for fact in facts if isinstance(fact, f.DeviceLost)]
    assert sorted(lost) == ["loudspeaker"] * times + ["microphone"] * times
    assert [str(fact.quantity) for fact in facts if isinstance(fact, f.ReadingRecorded)] == ["320 kPa"]
