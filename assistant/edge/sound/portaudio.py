"""PortAudio: loading it, and finding a device.

Knows sounddevice and what its errors mean to a person. Refuses to know what is played or heard: `player.py` and
`microphone.py` do. PortAudio lists the devices once, at its start; `detached.py` starts it anew for each device.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from assistant.errors import AudioError

Direction = Literal["input", "output"]
_NAMES = {"input": "microphone", "output": "loudspeaker"}


@dataclass(frozen=True, slots=True)
class SoundDevice:
    """A sound device.

    index, name: PortAudio's.
    rate: samples a second it likes best.
    channels: most it has.
    """

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


def find_device(direction: Direction, wanted: str | int | None) -> SoundDevice:
    """The device to use. wanted: PortAudio's number, a part of its name, or None for the system's choice.

    Errors: AudioError that names the devices there are.
    """
    sounddevice = portaudio()
    try:
        found = sounddevice.query_devices(wanted, kind=direction)
        channels = int(found[f"max_{direction}_channels"])
        if channels < 1:
            raise ValueError("it has no channels in this direction")
    except (ValueError, sounddevice.PortAudioError):
        there = [d["name"] for d in sounddevice.query_devices() if d[f"max_{direction}_channels"] > 0]
        name = _NAMES[direction]
        cause = f"no {name} is there" if wanted is None or not there else f"no {name} fits {wanted!r}"
        remedy = f"Choose one of: {'; '.join(there)}" if there else f"Connect a {name}, or work with --typed"
        raise AudioError(name, cause, remedy) from None
    return SoundDevice(int(found["index"]), str(found["name"]), round(found["default_samplerate"]), channels)


def refusal(direction: Direction, device: SoundDevice, error: Exception) -> AudioError:
    """What to tell when a device that is there cannot be used."""
    return AudioError(
        f"{_NAMES[direction]} {device.name}",
        f"it cannot be opened ({str(error).strip()})",
        "Close other programs that use it, connect it again, or choose another one",
    )
