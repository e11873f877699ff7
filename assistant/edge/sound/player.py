"""The loudspeaker: plays rendered sound on a stream of our own, so that it can be cut off at once.

Knows one sound at a time, and how much of it was really played. Refuses to know what was said. The stream stays open
between sounds (opening one takes a tenth of a second) and plays silence.
"""

from __future__ import annotations

import contextlib
import threading
import time
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.edge.sound import portaudio
from assistant.errors import AudioError

BLOCK_SECONDS = 0.02
FADE_SECONDS = 0.005  # at a cut, against the click
STALL_SECONDS = 3.0  # a device that asks for nothing for so long is gone


@dataclass(frozen=True, slots=True)
class Played:
    """How a sound was played.

    seconds: how much of the sound left the loudspeaker.
    whole: False when it was cut off.
    """

    seconds: float
    whole: bool


class Player:
    """Plays on one device. `play` blocks; `cut` may come from any thread."""

    def __init__(self, device: str | int | None = None) -> None:
        """device: number or part of a name, None for the system's choice.

        Errors: AudioError when there is no loudspeaker or no PortAudio, or the device refuses.
        """
        self._playing = threading.Lock()  # one sound at a time
        self._state = threading.Condition()
        self._device = portaudio.find_device("output", device)
        self._rate = self._device.rate
        self._sound: NDArray[np.float32] = np.zeros(0, np.float32)
        self._at = 0
        self._busy = False  # within `play`
        self._cut = False
        self._done = True
        self._lost = False
        self._asked = 0.0  # when the device last asked for samples
        self._stream = self._started()

    def play(self, samples: NDArray[np.float32], rate: int) -> Played:
        """Plays to the end or until `cut`; returns when the last of it has sounded.

        samples: float32 [samples] mono, -1 to 1 (more is clipped).
        rate: samples a second.

        Errors: AudioError when the loudspeaker has vanished, or vanishes while playing.
        """
        with self._playing:
            with self._state:
                self._cut, self._busy = False, True
            try:
                return self._play(samples, rate)
            finally:
                with self._state:
                    self._busy, self._done = False, True

    def _play(self, samples: NDArray[np.float32], rate: int) -> Played:
        prepared = self._prepared(samples, rate)
        if not len(prepared):
            return Played(0.0, True)
        with self._state:
            if self._cut:  # meanwhile
                return Played(0.0, False)
            self._sound, self._at, self._done = prepared, 0, False
            self._asked = time.monotonic()
            while not (self._done or self._lost):
                self._state.wait(0.25)
                if time.monotonic() - self._asked > STALL_SECONDS:
                    self._lost = True
            played, cut, lost = self._at, self._cut, self._lost
        if lost:
            raise AudioError(
                f"loudspeaker {self._device.name}",
                f"it stopped after {played / self._rate:.1f} s",
                "Connect it again; `say again` repeats the message",
            )
        latency = float(self._stream.latency)
        if cut:
            return Played(max(0.0, played / self._rate - latency), False)
        time.sleep(latency)  # the last block is handed over, not yet heard
        return Played(len(prepared) / self._rate, True)

    def cut(self) -> None:
        """Cuts off what is playing, with a fade of 5 ms; `play` returns at once. Nothing happens when it is quiet."""
        with self._state:
            if self._busy:
                self._cut = True

    def close(self) -> None:
        """Gives the device back."""
        with contextlib.suppress(Exception):  # a device that vanished cannot be closed properly
            self._stream.abort()
        with contextlib.suppress(Exception):
            self._stream.close()

    def _started(self) -> Any:
        """A stream that runs. Errors: AudioError when the device refuses."""
        sounddevice = portaudio.portaudio()
        stream: Any = None
        try:
            stream = sounddevice.OutputStream(
                samplerate=self._rate,
                device=self._device.index,
                channels=1,
                dtype="float32",
                blocksize=round(self._rate * BLOCK_SECONDS),
                latency="low",
                callback=self._fill,
                finished_callback=self._finished,
            )
            stream.start()
        except (ValueError, sounddevice.PortAudioError) as error:
            if stream is not None:
                with contextlib.suppress(Exception):  # it never ran
                    stream.close()
            raise portaudio.refusal("output", self._device, error) from None
        return stream

    def _prepared(self, samples: NDArray[np.float32], rate: int) -> NDArray[np.float32]:
        """At the device's rate, within -1 to 1."""
        prepared = np.ascontiguousarray(samples, dtype=np.float32)
        if rate != self._rate and len(prepared):
            import soxr

            prepared = soxr.resample(prepared, rate, self._rate, quality="MQ")
        return np.clip(prepared, -1, 1).astype(np.float32, copy=False)

    def _fill(self, out: NDArray[np.float32], frames: int, _time: object, _status: object) -> None:
        """PortAudio's thread asks for `frames` samples: out float32 [frames, 1]."""
        with self._state:
            self._asked = time.monotonic()
            out.fill(0)
            if self._done:
                return
            part = self._sound[self._at : self._at + frames]
            if self._cut:
                part = part[: round(FADE_SECONDS * self._rate)]
                part = part * np.linspace(1, 0, len(part), dtype=np.float32)
            out[: len(part), 0] = part
            self._at += len(part)
            if self._cut or self._at >= len(self._sound):
                self._done = True
                self._state.notify_all()

    def _finished(self) -> None:
        """PortAudio's thread has ended the stream: closed by us, or the device is gone."""
        with self._state:
            self._lost = True
            self._state.notify_all()
