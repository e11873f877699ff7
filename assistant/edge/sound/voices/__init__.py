"""The assistant's voice: text in, sound out, rendered once and kept on disk.

Knows the port `Voice`, the cache, and the table of engines, of which one is chosen by name. Refuses to fall back
from one engine to another, and to play (`player.py`). The texts come from `grammar/spoken.py`: units are words.
"""

from __future__ import annotations

import contextlib
import hashlib
import logging
import os
import queue
import struct
import tempfile
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.edge.files.access import make_folder, read_file
from assistant.errors import VoiceError

_LOG = logging.getLogger(__name__)
ENGINES = ("pyttsx3", "espeak-ng")
CACHE_BYTES = 200_000_000
MAX_PROMPT_BYTES = 50_000_000  # a minute has three million
POLL_SECONDS = 0.25  # how often a process that is waited for is looked at


@dataclass(frozen=True, slots=True)
class RenderedSpeech:
    """Rendered speech.

    samples: float32 [samples], mono, -1 to 1.
    rate: samples a second.
    """

    samples: NDArray[np.float32]
    rate: int

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.samples) / self.rate


class Voice(Protocol):
    """The port: speech for a text. Calls may come from several threads."""

    @property
    def name(self) -> str:
        """The engine's name, one of `ENGINES`."""

    def render(self, text: str) -> RenderedSpeech:
        """The text spoken; from the cache when it was rendered before. Errors: VoiceError."""

    def prefetch(self, texts: Iterable[str]) -> None:
        """Renders ahead in the background, in this order; returns at once. Failures are met again in `render`."""

    def settle(self, seconds: float) -> bool:
        """Waits until everything asked of `prefetch` is done, at most so long. True when it is."""

    def close(self) -> None:
        """Ends workers and threads. Rendering again afterwards is an error."""


@dataclass(frozen=True, slots=True)
class VoiceSettings:
    """How a voice speaks.

    voice: a file that `espeak-ng --voices` lists, also with a variant (`gmw/en+f3`).
    words_a_minute: the pace.
    """

    voice: str = "gmw/en"
    words_a_minute: int = 165


@dataclass(frozen=True, slots=True)
class WAV:
    """16-bit mono sound as an engine wrote it.

    frames: int16 [samples].
    rate: samples a second.
    """

    frames: NDArray[np.int16]
    rate: int


class Renderer(Protocol):
    """What an engine must do; one thread at a time."""

    @property
    def name(self) -> str:
        """One of `ENGINES`."""

    def render(self, text: str) -> WAV:
        """Errors: VoiceError."""

    def close(self) -> None:
        """Ends what it started."""


def open_voice(engine: str, folder: Path, settings: VoiceSettings | None = None) -> Voice:
    """The voice of this engine.

    engine: one of `ENGINES`.
    folder: the cache, made when missing.

    Errors: VoiceError for an unknown engine or one that is not installed.
    """
    settings = settings or VoiceSettings()
    if engine == "pyttsx3":
        from assistant.edge.sound.voices.pyttsx import PyttsxRenderer

        return CachedVoice(PyttsxRenderer(settings), settings, folder)
    if engine == "espeak-ng":
        from assistant.edge.sound.voices.espeak import EspeakRenderer

        return CachedVoice(EspeakRenderer(settings), settings, folder)
    raise VoiceError(f"voice {engine!r}", "there is no such engine", f"Choose one of {', '.join(ENGINES)}")


def is_stopped(process: int) -> bool:
    """Whether a child process has been stopped (by a signal, a debugger, a terminal), so that no answer will come."""
    try:
        return os.waitid(os.P_PID, process, os.WSTOPPED | os.WNOHANG | os.WNOWAIT) is not None
    except ChildProcessError:  # it has ended
        return False


def no_sound_server() -> dict[str, str]:
    """The environment for espeak-ng. It looks for a sound server even when it plays nothing.

    The search would write into the home folder, and a server that does not answer would hold up the voice.
    """
    return os.environ | {"PULSE_SERVER": "unix:/dev/null"}


class CachedVoice:
    """A renderer behind a folder of WAV files, named by a hash of engine, voice, pace and text."""

    def __init__(self, renderer: Renderer, settings: VoiceSettings, folder: Path) -> None:
        self._renderer = renderer
        self._settings = settings
        self._folder = folder
        self._lock = threading.Lock()  # one text at a time; also the worker's
        self._ahead: queue.Queue[str | None] = queue.Queue()
        self._fetcher: threading.Thread | None = None
        self._closed = False
        try:
            make_folder(folder)
            _shrink(folder, CACHE_BYTES)
        except OSError as error:
            _LOG.warning("Speech is not kept in %s: %s", folder, error)

    @property
    def name(self) -> str:
        """The engine's name."""
        return self._renderer.name

    def path(self, text: str) -> Path:
        """Where the rendered text is kept."""
        parts = (self._renderer.name, self._settings.voice, str(self._settings.words_a_minute), text)
        return self._folder / f"{hashlib.sha256(chr(0).join(parts).encode()).hexdigest()}.wav"

    def render(self, text: str) -> RenderedSpeech:
        """As the port says. A damaged file in the cache is rendered again."""
        if self._closed:
            raise VoiceError(f"voice {self.name}", "it was closed", "Open it again")
        if not text.strip():
            raise VoiceError(f"voice {self.name}", "there is nothing to say", "Give a text with words")
        path = self.path(text)
        kept = _kept(path)
        if kept is None:
            with self._lock:
                kept = _kept(path)  # another thread may have been here meanwhile
                if kept is None:
                    kept = self._renderer.render(text)
                    _keep(path, kept)
        return RenderedSpeech(kept.frames.astype(np.float32) / np.float32(32768), kept.rate)

    def prefetch(self, texts: Iterable[str]) -> None:
        """As the port says."""
        for text in texts:
            self._ahead.put(text)
        with self._lock:
            if self._fetcher is None and not self._closed:
                self._fetcher = threading.Thread(target=self._fetch, name="voice-prefetch", daemon=True)
                self._fetcher.start()

    def settle(self, seconds: float) -> bool:
        """As the port says."""
        with self._ahead.all_tasks_done:
            return self._ahead.all_tasks_done.wait_for(lambda: self._ahead.unfinished_tasks == 0, seconds)

    def close(self) -> None:
        """As the port says."""
        self._closed = True
        self._ahead.put(None)
        if self._fetcher is not None:
            self._fetcher.join()
        with self._lock:
            self._renderer.close()

    def _fetch(self) -> None:
        while (text := self._ahead.get()) is not None:
            try:
                if not self._closed:
                    self.render(text)
            except Exception as error:  # whatever it was: the next text may do, and `render` meets it again
                _LOG.warning("Could not render ahead: %s", error)
            finally:
                self._ahead.task_done()


def read_wav(data: bytes, place: str) -> WAV:
    """A RIFF WAVE of 16-bit mono PCM. A length too large, as espeak-ng writes it to a pipe, means "all".

    Errors: VoiceError when it is something else or holds no sound.
    """
    cause = "it is no WAV"
    if data[:4] == b"RIFF" and data[8:12] == b"WAVE":
        at, rate = 12, 0
        while at + 8 <= len(data):
            name, size = struct.unpack_from("<4sI", data, at)
            at += 8
            if name == b"fmt " and at + 16 <= len(data):
                coding, channels, rate, _, _, bits = struct.unpack_from("<HHIIHH", data, at)
                if (coding, channels, bits) != (1, 1, 16) or rate == 0:
                    cause = f"coding {coding}, {channels} channels, {bits} bits instead of 16-bit mono"
                    break
            elif name == b"data":
                sound = data[at : at + size]
                frames = np.frombuffer(sound[: len(sound) // 2 * 2], dtype="<i2")
                if rate and frames.size and frames.any():
                    return WAV(frames.astype(np.int16, copy=False), rate)
                cause = "it holds no sound"
                break
            at += size + size % 2
    raise VoiceError(place, f"what it wrote cannot be used: {cause}", "See that espeak-ng speaks: `espeak-ng hello`")


def _kept(path: Path) -> WAV | None:
    """The kept sound, or None when there is none or it is not whole."""
    try:
        data = read_file(path, MAX_PROMPT_BYTES)
    except OSError:
        return None
    if len(data) < 44 or struct.unpack_from("<I", data, 4)[0] + 8 != len(data):
        return None
    try:
        return read_wav(data, str(path))
    except VoiceError:
        return None


def _keep(path: Path, wav: WAV) -> None:
    """Writes whole or not at all. A cache that cannot be written costs time, not speech.

    Not synced: that would hold up the speech, and what a power cut damages is rendered again.
    """
    sound = wav.frames.astype("<i2").tobytes()
    head = struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        *(
            b"RIFF",
            36 + len(sound),
            b"WAVE",
            b"fmt ",
            16,
            1,
            1,
            wav.rate,
            wav.rate * 2,
            2,
            16,
            b"data",
            len(sound),
        ),
    )
    written = None
    try:
        with tempfile.NamedTemporaryFile(dir=path.parent, suffix=".part", delete=False) as file:  # mode 0600
            written = file.name
            file.write(head + sound)
        os.replace(written, path)
    except OSError as error:
        _LOG.warning("Speech is not kept in %s: %s", path, error)
        if written is not None:
            with contextlib.suppress(OSError):
                os.unlink(written)


def _shrink(folder: Path, most: int) -> None:
    """Removes the oldest files until at most `most` bytes are left, and what a crash left half written."""
    files = []
    for entry in os.scandir(folder):
        with contextlib.suppress(OSError):  # another program of ours may tidy up too
            if entry.name.endswith(".part"):
                os.unlink(entry.path)
            elif entry.name.endswith(".wav"):
                files.append((entry.stat().st_mtime, entry.stat().st_size, entry.path))
    total = sum(size for _, size, _ in files)
    for _, size, path in sorted(files):
        if total <= most:
            break
        with contextlib.suppress(OSError):
            os.unlink(path)
            total -= size
