"""The contract of `Voice`, on every engine, and what happens when an engine is missing, hangs, dies or writes rubbish.

Wiring: Debian's espeak-ng and libespeak-ng1; pyttsx3 in its worker process; a cache in a temporary folder.
"""

from __future__ import annotations

import contextlib
import errno
import os
import resource
import shutil
import signal
import struct
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.edge.sound import voices
from assistant.edge.sound.voices import (
    ENGINES,
    WAV,
    CachedVoice,
    RenderedSpeech,
    Voice,
    VoiceSettings,
    open_voice,
    read_wav,
)
from assistant.edge.sound.voices.espeak import EspeakRenderer
from assistant.edge.sound.voices.pyttsx import PyttsxRenderer
from assistant.errors import VoiceError

TEXT = "Deflection seven decimal five millimetres."


@pytest.fixture(params=ENGINES)
def voice(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Voice]:
    voice = open_voice(request.param, tmp_path / "speech")
    yield voice
    voice.close()


def level(speech: RenderedSpeech) -> float:
    return float(np.sqrt(np.mean(speech.samples**2)))


# the contract


def test_a_text_becomes_sound(voice: Voice) -> None:
    speech = voice.render(TEXT)
    assert speech.samples.dtype == np.float32
    assert speech.samples.ndim == 1
    assert 8000 <= speech.rate <= 48000
    assert 1.0 < speech.seconds < 6.0
    assert np.abs(speech.samples).max() <= 1.0
    assert level(speech) > 0.01


def test_every_text_of_a_row_is_rendered_whole(voice: Voice) -> None:
    """pyttsx3 wrote only the last of several queued texts, and cut some short under load."""
    texts = [f"Turn it {turns} by hand." for turns in ("once", "seven times", "seventy-seven times, slowly,")]
    lengths = [voice.render(text).seconds for text in texts]
    assert lengths == sorted(lengths)
    assert lengths[-1] > 1.3 * lengths[0]


def test_texts_differ_and_the_same_text_is_the_same(voice: Voice) -> None:
    first, other, again = voice.render("Open."), voice.render("Shut the sea cock."), voice.render("Open.")
    assert len(first.samples) != len(other.samples)
    assert np.array_equal(first.samples, again.samples)


@pytest.mark.parametrize("text", ["-v is no option", "[[t'3:n]] it", 'say "again" & <wait>', "−12 °C", "Zwölf"])
def test_no_text_is_taken_for_a_command(voice: Voice, text: str) -> None:
    assert voice.render(text).seconds > 0.3


@pytest.mark.parametrize("text", ["", "  \n"])
def test_nothing_to_say_is_an_error(voice: Voice, text: str) -> None:
    with pytest.raises(VoiceError, match="nothing to say"):
        voice.render(text)


def test_rendered_ahead(voice: Voice, tmp_path: Path) -> None:
    texts = ["Gloves on.", "Close the fuel valve."]
    voice.prefetch(texts)
    assert voice.settle(60)
    assert len(list((tmp_path / "speech").glob("*.wav"))) == len(texts)
    for text in texts:
        assert voice.render(text).seconds > 0.3
    assert len(list((tmp_path / "speech").glob("*.wav"))) == len(texts)


def test_several_threads_may_ask(voice: Voice) -> None:
    texts = [f"Station {name}." for name in ("one", "two", "three", "four")]
    heard: dict[str, RenderedSpeech] = {}
    threads = [threading.Thread(target=lambda t=text: heard.update({t: voice.render(t)})) for text in texts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(heard) == set(texts)
    assert len({len(speech.samples) for speech in heard.values()}) > 1


def test_closed_is_closed(voice: Voice) -> None:
    voice.close()
    with pytest.raises(VoiceError, match="closed"):
        voice.render(TEXT)


def test_an_unknown_voice_is_named(tmp_path: Path) -> None:
    for engine in ENGINES:
        voice = open_voice(engine, tmp_path, VoiceSettings(voice="no/such"))
        with pytest.raises(VoiceError, match="no/such"):
            voice.render(TEXT)
        voice.close()


def test_the_pace_is_kept(tmp_path: Path) -> None:
    """pyttsx3 sometimes spoke at its own 200 words a minute: setting the voice raced with setting the pace."""
    for engine in ENGINES:
        seconds = []
        for pace in (120, 240):
            voice = open_voice(engine, tmp_path, VoiceSettings(words_a_minute=pace))
            seconds.append(voice.render(TEXT).seconds)
            voice.close()
        assert 1.5 < seconds[0] / seconds[1] < 2.5, engine


# the cache


class Counting:
    """A renderer that counts."""

    name = "counting"

    def __init__(self) -> None:
        self.asked: list[str] = []

    def render(self, text: str) -> WAV:
        self.asked.append(text)
        return WAV(np.arange(1, 1000, dtype=np.int16), 22050)

    def close(self) -> None:
        self.asked.append("closed")


def test_the_cache_outlives_the_program(tmp_path: Path) -> None:
    first, second = Counting(), Counting()
    sound = CachedVoice(first, VoiceSettings(), tmp_path).render(TEXT)
    again = CachedVoice(second, VoiceSettings(), tmp_path).render(TEXT)
    assert (first.asked, second.asked) == ([TEXT], [])
    assert np.array_equal(sound.samples, again.samples)
    assert sound.samples[1] == pytest.approx(2 / 32768)


def test_the_cache_tells_voices_and_paces_apart(tmp_path: Path) -> None:
    renderer = Counting()
    for settings in (VoiceSettings(), VoiceSettings(voice="gmw/en-US"), VoiceSettings(words_a_minute=200)):
        CachedVoice(renderer, settings, tmp_path).render(TEXT)
    assert len(renderer.asked) == 3


@pytest.mark.parametrize(
    "damage", [lambda data: data[:-100], lambda data: b"", lambda data: b"x" * len(data), lambda data: data[:20]]
)
def test_a_damaged_file_is_rendered_again(damage: Callable[[bytes], bytes], tmp_path: Path) -> None:
    renderer = Counting()
    voice = CachedVoice(renderer, VoiceSettings(), tmp_path)
    whole = voice.render(TEXT)
    path = voice.path(TEXT)
    path.write_bytes(damage(path.read_bytes()))
    assert np.array_equal(voice.render(TEXT).samples, whole.samples)
    assert renderer.asked == [TEXT, TEXT]


def test_without_a_cache_it_still_speaks(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    (tmp_path / "file").write_text("in the way")
    renderer = Counting()
    voice = CachedVoice(renderer, VoiceSettings(), tmp_path / "file" / "speech")
    assert voice.render(TEXT).seconds > 0
    assert "not kept" in caplog.text


def test_the_cache_stays_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voices, "CACHE_BYTES", 5000)
    for number in range(5):
        CachedVoice(Counting(), VoiceSettings(), tmp_path).render(f"Text {number}.")
    (tmp_path / "torn.part").write_bytes(b"half")
    CachedVoice(Counting(), VoiceSettings(), tmp_path)
    assert sum(file.stat().st_size for file in tmp_path.glob("*.wav")) <= 5000
    assert not list(tmp_path.glob("*.part"))


def test_what_was_said_is_for_its_owner_only(tmp_path: Path) -> None:
    """The folder of the cache could be listed and read by every user of the machine."""
    before = os.umask(0)
    try:
        voice = CachedVoice(Counting(), VoiceSettings(), tmp_path / "of" / "speech")
        voice.render(TEXT)
    finally:
        os.umask(before)
    assert [path.stat().st_mode & 0o777 for path in (tmp_path / "of", tmp_path / "of" / "speech")] == [0o700, 0o700]
    assert voice.path(TEXT).stat().st_mode & 0o777 == 0o600


def test_nothing_that_a_renderer_raises_ends_rendering_ahead(tmp_path: Path) -> None:
    """Anything but a VoiceError ended the thread, and nothing was rendered ahead for the rest of the visit."""

    class Raising(Counting):
        def render(self, text: str) -> WAV:
            if not self.asked:
                self.asked.append(text)
                raise OSError(errno.EMFILE, "Too many open files")
            return super().render(text)

    renderer = Raising()
    voice = CachedVoice(renderer, VoiceSettings(), tmp_path)
    voice.prefetch(["First.", "Second."])
    assert voice.settle(60)
    assert renderer.asked == ["First.", "Second."]
    voice.close()


# what goes wrong


def test_an_unknown_engine_is_never_replaced(tmp_path: Path) -> None:
    with pytest.raises(VoiceError, match=r"pyttsx3, espeak-ng"):
        open_voice("festive", tmp_path)


def test_espeak_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(VoiceError, match="sudo apt install espeak-ng"):
        open_voice("espeak-ng", tmp_path)


def test_pyttsx3_missing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(VoiceError, match="pyttsx3 is not installed"):
        open_voice("pyttsx3", tmp_path)


def test_espeak_failing(tmp_path: Path) -> None:
    for content in ("#!/bin/sh\necho sound card on fire >&2; exit 3", "#!/bin/sh\necho no wav"):
        program = tmp_path / "espeak"
        program.write_text(content)
        program.chmod(0o755)
        with pytest.raises(VoiceError, match=r"on fire|cannot be used"):
            EspeakRenderer(VoiceSettings(), str(program)).render(TEXT)


WORKERS = {
    "hangs": "import time; print('{}', flush=True); time.sleep(600)",
    "dies at once": "",
    "dies later": "import sys; print('{}', flush=True); sys.stdin.readline()",
    "answers nonsense": "print('{}', flush=True); input(); print('Audio saved', flush=True); input()",
    "writes nothing": "print('{}', flush=True); input(); print('{}', flush=True); input()",
    "reports": 'print(\'{"error": "no libespeak"}\', flush=True)',
}


@pytest.mark.parametrize("way", WORKERS)
def test_a_worker_that_fails_is_an_error_not_a_hang(way: str, tmp_path: Path) -> None:
    script = tmp_path / "worker.py"
    script.write_text(WORKERS[way])
    renderer = PyttsxRenderer(VoiceSettings(), script, patience=0.1)
    with pytest.raises(VoiceError, match=r"hung|died|nonsense|no sound|no libespeak"):
        renderer.render(TEXT)
    renderer.close()


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[subprocess.Popen[str]]:
    """The processes that the program starts from now on, in order."""
    processes: list[subprocess.Popen[str]] = []
    start = subprocess.Popen

    def noted(*given: Any, **options: Any) -> subprocess.Popen[str]:
        processes.append(start(*given, **options))
        return processes[-1]

    monkeypatch.setattr(subprocess, "Popen", noted)
    return processes


def test_a_worker_that_was_killed_is_restarted(started: list[subprocess.Popen[str]]) -> None:
    renderer = PyttsxRenderer(VoiceSettings())
    first = renderer.render(TEXT)
    started[0].kill()
    again = renderer.render(TEXT)
    renderer.close()
    assert len(started) == 2
    assert abs(len(first.frames) - len(again.frames)) < 0.1 * first.rate


def test_the_worker_ends_with_its_owner_even_when_the_driver_hangs(tmp_path: Path) -> None:
    (tmp_path / "pyttsx3.py").write_text("import time\ndef init(name): time.sleep(600)\n")
    worker = Path(voices.__file__).with_name("worker.py")
    process = subprocess.Popen(
        [sys.executable, str(worker), "gmw/en", "165"],
        stdin=subprocess.PIPE,
        env={"PYTHONPATH": str(tmp_path), "PYTHONSAFEPATH": "1"},
    )
    process.communicate(b"", timeout=30)
    assert process.returncode == 0


def test_nothing_of_the_worker_reaches_our_output(tmp_path: Path) -> None:
    """pyttsx3 prints "Audio saved to"."""
    script = (
        "import sys; from pathlib import Path; from assistant.edge.sound.voices import open_voice\n"
        "voice = open_voice('pyttsx3', Path(sys.argv[1])); voice.render('Quiet, please.'); voice.close()\n"
    )
    done = subprocess.run([sys.executable, "-c", script, str(tmp_path)], capture_output=True, check=True, timeout=120)
    assert (done.stdout, done.stderr) == (b"", b"")
    assert list(tmp_path.glob("*.wav"))


def test_a_worker_that_was_stopped_is_noticed_within_three_seconds(started: list[subprocess.Popen[str]]) -> None:
    """A stopped worker was waited for 10 s and more, twice, and all that time nothing was said."""
    renderer = PyttsxRenderer(VoiceSettings())
    first = renderer.render(TEXT)
    (stopped,) = started
    os.kill(stopped.pid, signal.SIGSTOP)
    again: list[WAV] = []
    thread = threading.Thread(target=lambda: again.append(renderer.render(TEXT)))
    thread.start()
    assert stopped.wait(timeout=3) == -signal.SIGKILL
    thread.join()
    renderer.close()
    assert np.array_equal(again[0].frames, first.frames)


STOPS = "import os, signal; stop = lambda: os.kill(os.getpid(), signal.SIGSTOP);"


@pytest.mark.parametrize("script", [f"{STOPS} stop()", f"{STOPS} print('{{}}', flush=True); input(); stop()"])
def test_workers_that_are_stopped_again_and_again_are_an_error(
    script: str, started: list[subprocess.Popen[str]], tmp_path: Path
) -> None:
    """A worker that was stopped at its start was waited for 20 s, twice."""
    worker = tmp_path / "worker.py"
    worker.write_text(script)
    renderer = PyttsxRenderer(VoiceSettings(), worker, patience=1000.0)  # without the look at it: hours
    with pytest.raises(VoiceError, match="its worker was stopped twice"):
        renderer.render(TEXT)
    assert [worker.returncode for worker in started] == [-signal.SIGKILL] * 2, "both were ended and waited for"


def test_espeak_that_is_stopped_is_tried_once_more(tmp_path: Path) -> None:
    """A stopped espeak-ng was waited for 20 s, then the text was given up."""
    program = tmp_path / "espeak"
    once = tmp_path / "once"
    program.write_text(f'#!/bin/sh\n[ -e {once} ] || {{ touch {once}; kill -STOP $$; }}\nespeak-ng "$@"\n')
    program.chmod(0o755)
    assert EspeakRenderer(VoiceSettings(), str(program), patience=1000.0).render(TEXT).frames.any()


@pytest.mark.parametrize(("script", "says"), [("kill -STOP $$", "was stopped twice"), ("exec sleep 600", "hung twice")])
def test_espeak_that_gives_no_answer_twice_is_an_error(script: str, says: str, tmp_path: Path) -> None:
    program = tmp_path / "espeak"
    program.write_text(f"#!/bin/sh\n{script}\n")
    program.chmod(0o755)
    patience = 1000.0 if "STOP" in script else 0.05
    with pytest.raises(VoiceError, match=says):
        EspeakRenderer(VoiceSettings(), str(program), patience).render(TEXT)


def test_a_worker_that_hangs_is_given_up_within_three_seconds(
    started: list[subprocess.Popen[str]], tmp_path: Path
) -> None:
    """A hanging worker was waited for 12 s before a fresh one was tried."""
    asked, worker = tmp_path / "asked", tmp_path / "worker.py"
    worker.write_text(
        "import pathlib, sys, time\n"
        f"asked = pathlib.Path({str(asked)!r})\n"
        'if asked.exists(): sys.exit(print(\'{"error": "fresh"}\', flush=True))\n'
        "print('{}', flush=True); sys.stdin.readline(); asked.touch(); time.sleep(600)\n"
    )
    renderer = PyttsxRenderer(VoiceSettings(), worker)
    errors: list[VoiceError] = []

    def render() -> None:
        try:
            renderer.render(TEXT)
        except VoiceError as error:
            errors.append(error)

    thread = threading.Thread(target=render)
    thread.start()
    while not asked.exists():
        time.sleep(0.01)
    assert started[0].wait(timeout=3) == -signal.SIGKILL
    thread.join()
    assert "fresh" in str(errors[0])


@pytest.fixture(params=["full", "gone"])
def poor_folder(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Path]:
    """A folder into which nothing can be written."""
    folder = tmp_path / "temporary"
    if request.param == "gone":
        yield folder
        return
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)]
    if subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("only root can make a small disk here")
    try:
        with contextlib.suppress(OSError), (folder / "filling").open("wb", buffering=0) as file:
            while file.write(b"x" * 1024):
                pass
        with pytest.raises(OSError, match="No space left"), (folder / "more").open("wb") as file:
            file.write(b"x" * 1024)
        yield folder
    finally:
        subprocess.run(["umount", str(folder)], check=True)


@pytest.mark.parametrize("engine", ENGINES)
def test_no_voice_needs_a_temporary_folder(
    engine: str, poor_folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a full temporary folder pyttsx3 hung twice and told people to install what was there; without one, a bare
    OSError ended the thread that speaks."""
    monkeypatch.setenv("TMPDIR", str(poor_folder))
    monkeypatch.setattr(tempfile, "tempdir", str(poor_folder))
    voice = open_voice(engine, tmp_path / "speech")
    assert voice.render(TEXT).seconds > 1.0
    voice.close()


@pytest.mark.parametrize("engine", ENGINES)
def test_without_a_file_handle_left_the_voice_says_so_and_recovers(engine: str, tmp_path: Path) -> None:
    """A bare OSError ended the thread that speaks."""
    voice = open_voice(engine, tmp_path / "speech")
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    most = max(int(name) for name in os.listdir("/proc/self/fd")) + 20
    resource.setrlimit(resource.RLIMIT_NOFILE, (most, hard))
    taken: list[int] = []
    try:
        with contextlib.suppress(OSError):
            while len(taken) < most:
                taken.append(os.dup(0))
        with pytest.raises(VoiceError, match="Too many open files"):
            voice.render(TEXT)
    finally:
        for handle in taken:
            os.close(handle)
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))
    assert voice.render(TEXT).seconds > 1.0
    voice.close()


def test_a_closed_voice_keeps_no_file_open(tmp_path: Path) -> None:
    before = set(os.listdir("/proc/self/fd"))
    voice = open_voice("pyttsx3", tmp_path / "speech")
    voice.render(TEXT)
    voice.close()
    assert set(os.listdir("/proc/self/fd")) <= before


@pytest.mark.parametrize("engine", ENGINES)
def test_no_sound_server_is_looked_for_and_nothing_is_written_into_the_home_folder(
    engine: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """espeak-ng's search for a sound server made the folder `.config/pulse` and a link in it."""
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("HOME", str(home))
    monkeypatch.delenv("XDG_RUNTIME_DIR", raising=False)
    voice = open_voice(engine, tmp_path / "speech")
    assert voice.render(TEXT).seconds > 1.0
    voice.close()
    assert list(home.iterdir()) == []


def test_a_wav_of_another_kind_is_refused() -> None:
    stereo = struct.pack("<4sI4s4sIHHIIHH4sI", b"RIFF", 40, b"WAVE", b"fmt ", 16, 1, 2, 22050, 88200, 4, 16, b"data", 4)
    with pytest.raises(VoiceError, match="2 channels"):
        read_wav(stereo + b"\x01\x00\x01\x00", "there")
    with pytest.raises(VoiceError, match="no WAV"):
        read_wav(b"hello", "there")


def test_the_voices_are_really_installed_here() -> None:
    """Without them the contract above would prove nothing."""
    assert shutil.which("espeak-ng")
