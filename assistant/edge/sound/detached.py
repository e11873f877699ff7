"""Microphone and loudspeaker, each in a process of its own, which can be ended whatever has happened to the device.

A device that is pulled can leave PortAudio in an endless loop on ALSA, one that no call ends and that fills a core
(its issue 1037; Debian's library of 2016 has it). So the streams run elsewhere, and a process that gives nothing more
is killed. A new one also sees what was plugged in meanwhile. Knows the two processes and what they tell each other;
what runs in them are `microphone.Microphone` and `player.Player`.

    python -m assistant.edge.sound.detached KIND FD DEVICE    # the other end: not for people
"""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from multiprocessing.connection import Connection
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.edge.sound.microphone import STALL_SECONDS, Microphone
from assistant.edge.sound.player import Played, Player
from assistant.errors import AudioError

OPEN_SECONDS = 20.0  # a process that has not opened its device by then has failed
Sound = NDArray[np.float32]


class _Other:
    """A process with a device. Errors: AudioError when the device cannot be opened there."""

    def __init__(self, kind: str, device: str | int | None) -> None:
        self.kind = kind
        try:
            ours, theirs = socket.socketpair()
            with theirs:
                self._process = subprocess.Popen(
                    [sys.executable, "-m", __name__, kind, str(theirs.fileno()), json.dumps(device)],
                    pass_fds=(theirs.fileno(),),
                    stdin=subprocess.DEVNULL,
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,  # ALSA and PortAudio write there what is no news to anybody
                    start_new_session=True,  # Ctrl-C is for the program, which ends it
                )
        except OSError as error:  # no handle, no memory, no process left
            cause = f"its process cannot be started ({error.strerror})"
            raise AudioError(kind, cause, "End other programs, or start this one again") from None
        self._line = Connection(ours.detach())
        self._writing = threading.Lock()

    def tell(self, *message: object) -> None:
        """Errors: AudioError when nobody is there any more."""
        try:
            with self._writing:
                self._line.send(message)
        except (OSError, ValueError):
            raise self._gone() from None

    def receive(self, within: float) -> Any:
        """What it tells next. Errors: AudioError when it tells nothing for so long, or that something failed."""
        try:
            message = self._line.recv() if self._line.poll(within) else None
        except Exception:  # the line is closed, or what came is no message
            message = None
        if message is None:
            raise self._gone()
        if isinstance(message, AudioError):
            raise message
        return message

    def end(self) -> None:
        """It is over with it, whatever it does just now. Whoever waits for it waits no longer."""
        self._process.kill()
        self._process.wait()

    def _gone(self) -> AudioError:
        return AudioError(self.kind, "it gives no sign of life any more", "Connect it again")


class DetachedMicrophone:
    """A microphone in a process of its own; use it as `microphone.Microphone`."""

    def __init__(self, device: str | int | None = None) -> None:
        """device: number or part of a name, None for the system's choice. Errors: AudioError as of `Microphone`."""
        self._wanted = device
        self._lost = self._lost_before = 0
        self._closed = False
        self._changing = threading.Lock()
        self._other: _Other | None = None
        self._open()

    def _open(self) -> None:
        other = _Other("microphone", self._wanted)
        with self._changing:
            self._other = None if self._closed else other
        try:
            if self._other is None:
                raise AudioError("microphone", "it was closed", "Open another one")
            self.name: str = other.receive(OPEN_SECONDS)
        except AudioError:
            self._other = None
            other.end()
            raise
        self._lost_before, self._lost = self._lost_before + self._lost, 0

    @property
    def overruns(self) -> int:
        """How often sound was lost since opening."""
        return self._lost_before + self._lost

    def blocks(self) -> Iterator[Sound]:
        """Blocks as they are heard, float32 [512] at 16 kHz, without gaps; ends when the microphone is closed.

        Errors: AudioError when the device vanishes or falls silent (gives no samples at all, not even zeros).
        """
        while True:
            other = self._other
            if self._closed or other is None:
                return
            try:
                self._lost, block = other.receive(STALL_SECONDS + 1)
            except AudioError as error:
                if self._closed:
                    return
                self._give_back()
                raise AudioError(
                    f"microphone {self.name}", error.cause, "Connect it again, or use the keyboard"
                ) from None
            yield np.frombuffer(block, np.float32)

    def reopen(self) -> None:
        """Looks for the device again and opens it; afterwards `blocks()` begins anew. Errors: AudioError."""
        self._give_back()
        self._open()

    def close(self) -> None:
        """Gives the device back; `blocks` ends."""
        self._closed = True
        self._give_back()

    def _give_back(self) -> None:
        with self._changing:
            other, self._other = self._other, None
        if other is not None:
            other.end()

    def __enter__(self) -> DetachedMicrophone:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


class DetachedPlayer:
    """A loudspeaker in a process of its own; use it as `player.Player`."""

    def __init__(self, device: str | int | None = None) -> None:
        """device: number or part of a name, None for the system's choice. It is opened with the first sound."""
        self._wanted = device
        self._playing = threading.Lock()  # one sound at a time
        self._other: _Other | None = None

    def play(self, samples: Sound, rate: int) -> Played:
        """Plays to the end or until `cut`; returns when the last of it has sounded.

        samples: float32 [samples] mono, -1 to 1 (more is clipped).
        rate: samples a second.

        Errors: AudioError when there is no loudspeaker, or it vanishes while playing. The next call looks for it again.
        """
        with self._playing:
            try:
                other = self._opened()
                other.tell("play", np.ascontiguousarray(samples, np.float32).tobytes(), rate)
                seconds, whole = other.receive(len(samples) / rate + STALL_SECONDS + 1)
            except AudioError:
                self.close()
                raise
        return Played(seconds, whole)

    def cut(self) -> None:
        """Cuts off what is playing, with a fade of 5 ms; `play` returns at once. Nothing happens when it is quiet."""
        other = self._other
        if other is not None and self._playing.locked():
            with contextlib.suppress(AudioError):  # whoever plays is told
                other.tell("cut")

    def look(self) -> None:
        """Looks for the loudspeaker again and opens it. Errors: AudioError when it is not there."""
        with self._playing:
            self.close()
            self._opened()

    def close(self) -> None:
        """Gives the device back. Playing again opens it again."""
        other, self._other = self._other, None
        if other is not None:
            other.end()

    def _opened(self) -> _Other:
        if self._other is None:
            other = _Other("loudspeaker", self._wanted)
            try:
                other.receive(OPEN_SECONDS)
            except AudioError:
                other.end()
                raise
            self._other = other
        return self._other


# --- the other end ---------------------------------------------------------------------------------------


def _hear(line: Connection, device: str | int | None) -> None:
    """Tells the device's name, then pairs of (overruns so far, bytes of a block), until an error."""
    microphone = Microphone(device)
    threading.Thread(target=_leave_with, args=(line,), daemon=True).start()
    line.send(microphone.name)
    for block in microphone.blocks():
        line.send((microphone.overruns, block.tobytes()))


def _leave_with(line: Connection) -> None:
    """The program tells a microphone nothing: what comes is its end, which nothing here may outlast."""
    with contextlib.suppress(EOFError, OSError):
        line.recv()
    os._exit(0)


def _play(line: Connection, device: str | int | None) -> None:
    """Tells that the device is open, then for each sound (seconds played, whether whole), or an error."""
    player = Player(device)
    line.send(True)

    def play(data: bytes, rate: int) -> None:
        try:
            played = player.play(np.frombuffer(data, np.float32), rate)
            line.send((played.seconds, played.whole))
        except AudioError as error:
            line.send(error)

    while True:
        match line.recv():
            case ("play", data, rate):
                threading.Thread(target=play, args=(data, rate), daemon=True).start()
            case ("cut",):
                player.cut()


def main() -> None:
    """One device, until the other end of the line is closed."""
    kind, number, device = sys.argv[1:]
    line = Connection(int(number))
    with contextlib.suppress(EOFError, OSError):  # the program is over
        try:
            {"microphone": _hear, "loudspeaker": _play}[kind](line, json.loads(device))
        except AudioError as error:
            line.send(error)
    os._exit(0)  # closing a device that was pulled may never end


if __name__ == "__main__":
    main()
