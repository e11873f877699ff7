"""The voices of synthetic technicians: flite's and several of espeak-ng's, none of them the assistant's own.

Knows the two programs' command lines. Refuses to know what is said: numbers and units come in words.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.errors import VoiceError

RATE = 16000
SAY_SECONDS = 60.0
ROOM_BYTES = 1_000_000  # that the temporary folder must have left


@dataclass(frozen=True, slots=True)
class _Speaker:
    program: str
    arguments: tuple[str, ...]


def _espeak(voice: str, pitch: int, words_a_minute: int) -> _Speaker:
    return _Speaker("espeak-ng", ("-v", voice, "-p", str(pitch), "-s", str(words_a_minute)))


# The assistant speaks with espeak-ng's gmw/en; no technician has that voice.
_SPEAKERS: dict[str, _Speaker] = {
    "flite slt": _Speaker("flite", ("-voice", "slt")),
    "flite rms": _Speaker("flite", ("-voice", "rms")),
    "flite awb": _Speaker("flite", ("-voice", "awb")),
    "flite kal16": _Speaker("flite", ("-voice", "kal16")),
    "flite slt slow": _Speaker("flite", ("-voice", "slt", "--setf", "duration_stretch=1.2")),
    "flite rms brisk": _Speaker("flite", ("-voice", "rms", "--setf", "duration_stretch=0.9")),
    "espeak american": _espeak("gmw/en-US+m3", 45, 160),
    "espeak american woman": _espeak("gmw/en-US+f3", 55, 150),
    "espeak scottish": _espeak("gmw/en-GB-scotland+m4", 40, 150),
    "espeak northern": _espeak("gmw/en-GB-x-gbclan+m7", 35, 165),
    "espeak southern woman": _espeak("gmw/en-GB-x-rp+f2", 60, 165),
    "espeak caribbean": _espeak("gmw/en-029+m1", 50, 145),
}

VOICES: tuple[str, ...] = tuple(_SPEAKERS)


@lru_cache(maxsize=256)
def speak(text: str, voice: str) -> NDArray[np.float32]:
    """The text in this voice, float32 [samples] mono at 16 kHz, read-only; the last 256 are kept in memory.

    voice: one of `VOICES`. Errors: VoiceError for another voice, an empty text, or a program that is missing or fails.
    """
    speaker = _SPEAKERS.get(voice)
    if speaker is None:
        raise VoiceError(
            f"technician's voice {voice!r}", "there is none of this name", f"Use one of {', '.join(VOICES)}"
        )
    samples = said_by(speaker.program, speaker.arguments, text, f"technician's voice {voice!r}")
    samples.setflags(write=False)
    return samples


def said_by(program: str, arguments: tuple[str, ...], text: str, place: str) -> NDArray[np.float32]:
    """The text as flite or espeak-ng says it with these arguments, float32 [samples] mono at 16 kHz.

    place: names the voice in an error. Errors: VoiceError for an empty text, or a program that is missing or fails.
    """
    if not text.strip():
        raise VoiceError(place, "there is nothing to say", "Give a text with words")
    try:
        with tempfile.TemporaryDirectory(prefix="enginebay-speaker-") as folder:
            sound, rate = _rendered(program, arguments, text, place, Path(folder))
    except OSError as error:
        raise _no_room(place, error.strerror or str(error)) from None
    samples: NDArray[np.float32] = sound.mean(axis=1, dtype=np.float32)
    if not np.any(samples):
        raise VoiceError(place, f"{program} gave no sound for {text[:40]!r}", "Give a text with words")
    if rate != RATE:
        import soxr

        samples = soxr.resample(samples, rate, RATE).astype(np.float32)
    return samples


def _rendered(
    program: str, arguments: tuple[str, ...], text: str, place: str, folder: Path
) -> tuple[NDArray[np.float32], int]:
    """The sound as the program wrote it into the folder, float32 [samples, channels], and its rate."""
    path = folder / "said.wav"
    if program == "flite":
        command = ["flite", *arguments, "-t", text, "-o", str(path)]
    else:
        command = ["espeak-ng", *arguments, "-w", str(path), "--", text.replace("[[", "[ [")]
    try:
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=SAY_SECONDS, check=False)
    except FileNotFoundError:
        raise VoiceError(
            place, f"the program {program} is not installed", f"Install it with `sudo apt install {program}`"
        ) from None
    except subprocess.TimeoutExpired:
        raise VoiceError(place, f"{program} hung on {text[:40]!r}", "Try again") from None
    if shutil.disk_usage(folder).free < ROOM_BYTES:  # what was written may have been cut off
        raise _no_room(place, "No space left on device")
    if done.returncode != 0 or not path.is_file():
        said = done.stderr.decode("utf-8", "replace").strip().replace("\n", " ")
        raise VoiceError(
            place, f"{program} failed ({said or f'status {done.returncode}'})", f"See that `{program}` runs by itself"
        )
    import soundfile

    sound, rate = soundfile.read(str(path), dtype="float32", always_2d=True)
    return sound, rate


def _no_room(place: str, said: str) -> VoiceError:
    return VoiceError(
        place, f"the temporary folder cannot be written ({said})", "Make room in it, or name another one with TMPDIR"
    )
