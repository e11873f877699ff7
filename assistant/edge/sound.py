"""PortAudio: loading it, finding a device, and looking again after one was plugged in.

Knows sounddevice and what its errors mean to a person. Refuses to know what is played or heard: `player.py` and
`microphone.py` do.
"""

from __future__ import annotations

import contextlib
import threading
from dataclasses import dataclass
from typing import Any, Literal, Protocol

from assistant.errors import AudioError

Direction = Literal["input", "output"]
_NAMES = {"input": "microphone", "output": "loudspeaker"}
_lock = threading.Lock()
changing = threading.RLock()
"""Held while a stream is opened and while PortAudio is started again: one must not happen within the other."""


class Owner(Protocol):
    """Who has a stream open."""

    def give_way(self) -> None:
        """Closes the stream if nothing needs it just now: it would keep PortAudio from looking again."""


_open: list[Owner] = []


@dataclass(frozen=True, slots=True)
class Device:
    """A sound device. index, name: PortAudio's; rate: samples a second it likes best; channels: most it has."""

    index: int
    name: str
    rate: int
    channels: int


def portaudio() -> Any:
    """The module sounddevice. Errors: AudioError when it or the library is not installed."""
    try:
        import sounddevice
    except ImportError:
        raise AudioError(
            "sound", "the package sounddevice is not installed", "Run `hardware/start run --help` to install it"
        ) from None
    except OSError:
        raise AudioError(
            "sound", "the library PortAudio is not installed", "Install it with `sudo apt install libportaudio2`"
        ) from None
    return sounddevice


def find_device(direction: Direction, wanted: str | int | None, afresh: bool = False) -> Device:
    """The device to use. wanted: PortAudio's number, a part of its name, or None for the system's choice; afresh: what
    PortAudio knows of the devices is out of date, so it looks again first if it can.

    PortAudio lists the devices once; so when none fits and no stream of ours is in use, it is started again and asked
    once more. Errors: AudioError that names the devices there are.
    """
    sounddevice = portaudio()
    if afresh:
        rescan()
    try:
        return _device(sounddevice, direction, wanted)
    except (ValueError, sounddevice.PortAudioError):
        rescan()
    try:
        return _device(sounddevice, direction, wanted)
    except (ValueError, sounddevice.PortAudioError):
        there = [d["name"] for d in sounddevice.query_devices() if d[f"max_{direction}_channels"] > 0]
        name = _NAMES[direction]
        cause = f"no {name} is there" if wanted is None or not there else f"no {name} fits {wanted!r}"
        remedy = f"Choose one of: {'; '.join(there)}" if there else f"Connect a {name}, or work with --typed"
        raise AudioError(name, cause, remedy) from None


def rescan() -> bool:
    """Starts PortAudio again so that it sees what was plugged in. False while a stream is open and in use.

    Errors: AudioError when it does not start.
    """
    sounddevice = portaudio()
    with changing:
        with _lock:
            open_now = list(_open)
        for owner in open_now:
            owner.give_way()
        with _lock:
            if _open:
                return False
        with contextlib.suppress(sounddevice.PortAudioError):  # it is looked for again anyhow
            sounddevice._terminate()  # there is no public way; the manual names these two for the purpose
        try:
            sounddevice._initialize()
        except sounddevice.PortAudioError as error:
            remedy = "Look whether the sound server runs, or work with --typed"
            raise AudioError("sound", f"PortAudio does not start ({str(error).strip()})", remedy) from None
        return True


def opened(owner: Owner) -> None:
    """A stream of ours was opened."""
    with _lock:
        _open.append(owner)


def closed(owner: Owner) -> None:
    """A stream of ours was closed."""
    with _lock:
        _open.remove(owner)


def refusal(direction: Direction, device: Device, error: Exception) -> AudioError:
    """What to tell when a device that is there cannot be used."""
    return AudioError(
        f"{_NAMES[direction]} {device.name}",
        f"it cannot be opened ({str(error).strip()})",
        "Close other programs that use it, connect it again, or choose another one",
    )


def _device(sounddevice: Any, direction: Direction, wanted: str | int | None) -> Device:
    found = sounddevice.query_devices(wanted, kind=direction)
    channels = int(found[f"max_{direction}_channels"])
    if channels < 1:
        raise ValueError("it has no channels in this direction")
    return Device(int(found["index"]), str(found["name"]), round(found["default_samplerate"]), channels)
