"""Speech by pyttsx3 with espeak-ng, in a worker process that is restarted when it hangs or dies.

Knows how to ask the worker and how long to wait. Refuses to play: pyttsx3's own playback cannot be cut off.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import queue
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

from assistant.edge.voices import WAV, VoiceSettings, read_wav
from assistant.errors import VoiceError

WORKER = Path(__file__).with_name("worker.py")
START_SECONDS = 20.0  # importing and opening the driver, on a busy board
RENDER_SECONDS = 10.0  # plus a twentieth of a second a character


class PyttsxRenderer:
    """Renders one text at a time; the worker starts with the first. Not thread-safe: the cache holds the lock."""

    name = "pyttsx3"

    def __init__(self, settings: VoiceSettings, worker: Path = WORKER, patience: float = 1.0) -> None:
        """worker: the script to run; patience: factor on the waiting times (both for tests)."""
        if importlib.util.find_spec("pyttsx3") is None:
            raise VoiceError("voice pyttsx3", "the package pyttsx3 is not installed", "Run `hardware/start run --help`")
        self._settings = settings
        self._worker = worker
        self._patience = patience
        self._process: subprocess.Popen[str] | None = None
        self._answers: queue.Queue[str | None] = queue.Queue()

    def render(self, text: str) -> WAV:
        """One try, and one more in a fresh worker if it hung or died. Errors: VoiceError."""
        try:
            return self._render(text)
        except _WorkerGoneError:
            self.close()
        try:
            return self._render(text)
        except _WorkerGoneError as error:
            self.close()
            raise VoiceError(
                "voice pyttsx3",
                f"its worker {error} twice on {text[:40]!r}",
                "Choose the voice espeak-ng instead",
            ) from None

    def close(self) -> None:
        """Ends the worker. The next text starts a new one."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()  # it holds nothing worth saving
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _render(self, text: str) -> WAV:
        process = self._running()
        with tempfile.TemporaryDirectory(prefix="enginebay-voice-") as folder:
            path = Path(folder) / "speech.wav"
            request = {"text": text, "path": str(path)}
            assert process.stdin is not None
            try:
                process.stdin.write(json.dumps(request) + "\n")
                process.stdin.flush()
            except OSError:
                raise _WorkerGoneError("died") from None
            self._await(RENDER_SECONDS + len(text) / 20, f"on {text[:40]!r}")
            # pyttsx3 swallows what goes wrong while writing, so the file itself is the proof.
            if not path.is_file():
                raise VoiceError("voice pyttsx3", f"it wrote no sound for {text[:40]!r}", _remedy(self._settings))
            return read_wav(path.read_bytes(), "voice pyttsx3")

    def _running(self) -> subprocess.Popen[str]:
        if self._process is not None and self._process.poll() is None:
            return self._process
        self.close()
        self._process = process = subprocess.Popen(
            [sys.executable, "-P", str(self._worker), self._settings.voice, str(self._settings.words_a_minute)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            encoding="utf-8",
        )
        answers: queue.Queue[str | None] = queue.Queue()
        self._answers = answers

        def read() -> None:
            assert process.stdout is not None
            with contextlib.suppress(OSError, ValueError):  # closed under its feet
                for line in process.stdout:
                    answers.put(line)
            answers.put(None)

        threading.Thread(target=read, name="voice-worker-reader", daemon=True).start()
        self._await(START_SECONDS, "at its start")
        return process

    def _await(self, seconds: float, doing: str) -> None:
        try:
            line = self._answers.get(timeout=seconds * self._patience)
        except queue.Empty:
            raise _WorkerGoneError("hung") from None
        if line is None:
            raise _WorkerGoneError("died")
        try:
            error = json.loads(line).get("error")
        except (json.JSONDecodeError, AttributeError):
            raise _WorkerGoneError("answered nonsense") from None
        if error is not None:
            raise VoiceError("voice pyttsx3", f"it failed {doing} ({error})", _remedy(self._settings))


class _WorkerGoneError(Exception):
    """The worker hung, died or lost its mind; a fresh one may do better."""


def _remedy(settings: VoiceSettings) -> str:
    return (
        f"Install libespeak-ng1 and espeak-ng (sudo apt install espeak-ng libespeak-ng1) and see that "
        f"`espeak-ng --voices` lists {settings.voice}"
    )
