"""The microphone: blocks of 512 samples at 16 kHz, from a device that runs at its own rate.

Knows the device and the resampling. Refuses to know speech. Many USB microphones refuse 16 kHz, so the stream runs at
the device's rate; PortAudio's thread only puts blocks into a queue.
"""

from __future__ import annotations

import contextlib
import queue
from collections.abc import Iterator
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.edge.sound import portaudio
from assistant.errors import AudioError

RATE = 16000
BLOCK = 512  # samples, 32 ms: what voice detection takes
DEVICE_BLOCK_SECONDS = 0.016
KEPT_SECONDS = 10.0  # waiting for us before sound is dropped
STALL_SECONDS = 3.0  # a device that gives nothing for so long is gone


class Microphone:
    """An open microphone. Use it in a `with` statement and iterate over `blocks()`."""

    def __init__(self, device: str | int | None = None) -> None:
        """device: number or part of a name, None for the system's choice.

        Errors: AudioError when there is no microphone or no PortAudio, or the device refuses.
        """
        self._overruns = 0
        self._closed = False  # by us
        self._device = portaudio.find_device("input", device)
        self._waiting: queue.Queue[NDArray[np.float32] | None] = queue.Queue(
            maxsize=round(KEPT_SECONDS / DEVICE_BLOCK_SECONDS)
        )
        self._stream = self._started()

    def _started(self) -> Any:
        """A stream that runs. Errors: AudioError when the device refuses."""
        sounddevice = portaudio.portaudio()
        refused: Exception | None = None
        for channels in dict.fromkeys((1, min(2, self._device.channels))):  # some devices have only stereo
            stream: Any = None
            try:
                stream = sounddevice.InputStream(
                    samplerate=self._device.rate,
                    device=self._device.index,
                    channels=channels,
                    dtype="float32",
                    blocksize=round(self._device.rate * DEVICE_BLOCK_SECONDS),
                    latency="high",  # what is heard may wait a little; it must not be lost
                    callback=self._take,
                    finished_callback=self._finished,
                )
                stream.start()
                return stream
            except (ValueError, sounddevice.PortAudioError) as error:
                refused = error
                if stream is not None:
                    with contextlib.suppress(Exception):  # it never ran
                        stream.close()
        assert refused is not None
        raise portaudio.refusal("input", self._device, refused)

    @property
    def name(self) -> str:
        """The device's name."""
        return self._device.name

    @property
    def overruns(self) -> int:
        """How often sound was lost since opening: by the device, or because nobody took it for ten seconds."""
        return self._overruns

    def blocks(self) -> Iterator[NDArray[np.float32]]:
        """Blocks as they are heard, float32 [512] at 16 kHz, without gaps; ends when the microphone is closed.

        Errors: AudioError when the device vanishes or falls silent (gives no samples at all, not even zeros).
        """
        import soxr

        resampler = None
        if self._device.rate != RATE:
            resampler = soxr.ResampleStream(self._device.rate, RATE, 1, dtype="float32", quality="HQ")
        kept = np.zeros(0, np.float32)
        while True:
            heard = None
            if not self._closed:
                with contextlib.suppress(queue.Empty):
                    heard = self._waiting.get(timeout=STALL_SECONDS)
            if self._closed:
                return
            if heard is None:
                raise AudioError(
                    f"microphone {self._device.name}", "it gives no more sound", "Connect it again, or use the keyboard"
                )
            kept = np.concatenate([kept, heard if resampler is None else resampler.resample_chunk(heard)])
            whole = len(kept) // BLOCK * BLOCK
            for at in range(0, whole, BLOCK):
                yield kept[at : at + BLOCK].astype(np.float32, copy=True)
            kept = kept[whole:]

    def close(self) -> None:
        """Gives the device back; `blocks` ends."""
        self._closed = True
        with contextlib.suppress(Exception):  # a device that vanished cannot be closed properly
            self._stream.abort()
        with contextlib.suppress(Exception):
            self._stream.close()
        self._finished()

    def __enter__(self) -> Microphone:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _take(self, heard: NDArray[np.float32], _frames: int, _time: object, status: Any) -> None:
        """PortAudio's thread brings samples, float32 [samples, channels]: keep the first channel, do nothing else."""
        if status and status.input_overflow:
            self._overruns += 1
        try:
            self._waiting.put_nowait(heard[:, 0].copy())
        except queue.Full:
            self._overruns += 1

    def _finished(self) -> None:
        """PortAudio's thread has ended the stream: closed by us, or the device is gone."""
        with contextlib.suppress(queue.Full):  # a full queue ends by `_closed` or by the time that runs out
            self._waiting.put_nowait(None)
