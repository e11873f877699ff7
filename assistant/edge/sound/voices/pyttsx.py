"""Speech by pyttsx3 with espeak-ng, in a worker process that is restarted when it hangs or dies.

Knows how to ask the worker and how long to wait. Refuses to play: pyttsx3's own playback cannot be cut off.

The worker writes into memory that it shares with the program, not into a file: no temporary folder can be full or gone.
"""

from __future__ import annotations

import contextlib
import importlib.util
import json
import os
import queue
import subprocess
import sys
import threading
import time
from pathlib import Path

from assistant.edge.sound.voices import POLL_SECONDS, WAV, VoiceSettings, is_stopped, no_sound_server, read_wav
from assistant.errors import VoiceError

WORKER = Path(__file__).with_name("worker.py")
START_SECONDS = 20.0  # importing and opening the driver, on a busy board
FIRST_SECONDS, FIRST_A_CHARACTER = 2.5, 1 / 200  # many times what rendering takes; whoever listens waits for it
SECOND_SECONDS, SECOND_A_CHARACTER = 10.0, 1 / 20  # on a board so busy that the first time was too short


class PyttsxRenderer:
    """Renders one text at a time; the worker starts with the first. Not thread-safe: the cache holds the lock."""

    name = "pyttsx3"

    def __init__(self, settings: VoiceSettings, worker: Path = WORKER, patience: float = 1.0) -> None:
        """No worker runs yet.

        worker: the script to run.
        patience: factor on the waiting times (both for tests).
        """
        if importlib.util.find_spec("pyttsx3") is None:
            raise VoiceError("voice pyttsx3", "the package pyttsx3 is not installed", "Run `hardware/start run --help`")
        self._settings = settings
        self._worker = worker
        self._patience = patience
        self._process: subprocess.Popen[str] | None = None
        self._answers: queue.Queue[str | None] = queue.Queue()
        self._sound: int | None = None  # a file in memory, open here and in the worker

    def render(self, text: str) -> WAV:
        """One try, and one more in a fresh worker if it hung, was stopped or died. Errors: VoiceError."""
        try:
            return self._render(text, FIRST_SECONDS + FIRST_A_CHARACTER * len(text))
        except _WorkerGoneError:
            self.close()
        try:
            return self._render(text, SECOND_SECONDS + SECOND_A_CHARACTER * len(text))
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
        sound, self._sound = self._sound, None
        if sound is not None:
            os.close(sound)
        if process is None:
            return
        process.kill()  # it holds nothing worth saving; this also ends a stopped one
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _render(self, text: str, seconds: float) -> WAV:
        process, sound = self._running()
        os.ftruncate(sound, 0)
        request = {"text": text, "path": f"/proc/self/fd/{sound}"}
        assert process.stdin is not None
        try:
            process.stdin.write(json.dumps(request) + "\n")
            process.stdin.flush()
        except OSError:
            raise _WorkerGoneError("died") from None
        self._await(process, seconds, f"on {text[:40]!r}")
        # pyttsx3 swallows what goes wrong while writing, so the sound itself is the proof.
        size = os.fstat(sound).st_size
        if size == 0:
            raise VoiceError("voice pyttsx3", f"it wrote no sound for {text[:40]!r}", _remedy(self._settings))
        return read_wav(os.pread(sound, size, 0), "voice pyttsx3")

    def _running(self) -> tuple[subprocess.Popen[str], int]:
        """The worker, ready, and the file it writes to. Errors: VoiceError, _WorkerGoneError."""
        if self._process is not None and self._sound is not None and self._process.poll() is None:
            return self._process, self._sound
        self.close()
        answers: queue.Queue[str | None] = queue.Queue()
        self._answers = answers
        try:
            self._sound = sound = os.memfd_create("enginebay-voice")
            self._process = process = subprocess.Popen(
                [sys.executable, "-P", str(self._worker), self._settings.voice, str(self._settings.words_a_minute)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                pass_fds=(sound,),
                env=no_sound_server(),
                encoding="utf-8",
            )

            def read() -> None:
                assert process.stdout is not None
                with contextlib.suppress(OSError, ValueError):  # closed under its feet
                    for line in process.stdout:
                        answers.put(line)
                answers.put(None)

            threading.Thread(target=read, name="voice-worker-reader", daemon=True).start()
        except (OSError, RuntimeError) as error:  # no file handle, process or thread left
            self.close()
            cause = (error.strerror if isinstance(error, OSError) else None) or str(error)
            raise VoiceError(
                "voice pyttsx3", f"its worker cannot be started ({cause})", "End other programs, then try again"
            ) from None
        self._await(process, START_SECONDS, "at its start")
        return process, sound

    def _await(self, process: subprocess.Popen[str], seconds: float, doing: str) -> None:
        until = time.monotonic() + seconds * self._patience
        while True:
            try:
                line = self._answers.get(timeout=max(0.0, min(POLL_SECONDS, until - time.monotonic())))
                break
            except queue.Empty:
                if is_stopped(process.pid):
                    raise _WorkerGoneError("was stopped") from None
                if time.monotonic() >= until:
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
    """The worker hung, was stopped, died or lost its mind; a fresh one may do better."""


def _remedy(settings: VoiceSettings) -> str:
    return (
        f"Install libespeak-ng1 and espeak-ng (sudo apt install espeak-ng libespeak-ng1) and see that "
        f"`espeak-ng --voices` lists {settings.voice}"
    )
