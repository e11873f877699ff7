"""Sound files: any WAV to 16 kHz mono, clips to FLAC, and long sound to Ogg.

Knows soundfile and soxr. Refuses to know microphones and what is in the sound.
"""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from assistant.edge.files.access import open_regular
from assistant.errors import AudioError
from assistant.quantities import counted

if TYPE_CHECKING:
    import soundfile

RATE = 16_000
MAX_SOUND_SECONDS = 60.0
MIN_RATE, MAX_RATE = 4_000, 400_000
"""Samples a second: below, no speech is left; no microphone has more."""
_BLOCK = 16_384  # samples
_MAX_CHUNKS = 1000  # of a WAV file before its sound
_LOUDEST = 1000.0  # a full scale is 1; what is far above it is no sound


def read_sound(path: Path) -> NDArray[np.float32]:
    """A sound file of any rate and number of channels -> float32 [samples], 16 kHz, mono, -1 to 1.

    Samples that are no number are silent. Errors: AudioError for a file that is not there, no regular file, empty, cut,
    longer than a minute, not a sound, or of a rate that no microphone has.
    """
    import soundfile  # loaded when a file is read
    import soxr

    place = str(path)
    try:
        descriptor = open_regular(path, os.O_RDONLY, follow=True)
    except FileNotFoundError:
        raise AudioError(place, "there is no such file", "Check the name") from None
    except OSError as wrong:
        raise AudioError(place, f"it cannot be read ({wrong.strerror})", "Give a WAV file") from None
    try:
        if os.fstat(descriptor).st_size == 0:
            raise AudioError(place, "the file is empty", "Record it again")
        with soundfile.SoundFile(descriptor, closefd=False) as opened:
            rate = opened.samplerate
            if not MIN_RATE <= rate <= MAX_RATE:
                cause = f"it has {rate:,} samples a second, which no microphone records"
                raise AudioError(place, cause, f"Record it again, with {RATE:,}")
            mono = _mono(opened, place)
    except soundfile.LibsndfileError as wrong:
        raise AudioError(
            place, f"it cannot be read as sound ({wrong.error_string.rstrip('.')})", "Give a WAV file"
        ) from None
    finally:
        os.close(descriptor)
    _refuse_cut(path, place)
    if len(mono) == 0:
        raise AudioError(place, "it holds no sound", "Record it again")
    if rate != RATE:
        mono = soxr.resample(mono, rate, RATE)
    result: NDArray[np.float32] = np.clip(mono, -1, 1).astype(np.float32)
    return result


def _mono(opened: soundfile.SoundFile, place: str) -> NDArray[np.float32]:
    """The channels of a sound, averaged. Errors: AudioError when it is too long, whatever its header announces."""
    most = MAX_SOUND_SECONDS * opened.samplerate
    parts: list[NDArray[np.float32]] = [np.zeros(0, np.float32)]
    length = 0
    if opened.frames <= most:
        while len(block := opened.read(_BLOCK, dtype="float32", always_2d=True)) and length <= most:
            numbers = np.clip(np.nan_to_num(block, nan=0, posinf=0, neginf=0), -_LOUDEST, _LOUDEST)
            parts.append(numbers.mean(axis=1, dtype=np.float32))
            length += len(block)
    if opened.frames > most or length > most:
        raise AudioError(place, f"it lasts longer than {MAX_SOUND_SECONDS:.0f} s", "Give one utterance a file")
    return np.concatenate(parts)


def write_ogg(path: Path, sounds: Sequence[NDArray[Any]], subtype: str, smallness: float) -> None:
    """Sounds one after the other, float32 or int16 [samples] at 16 kHz, as one file.

    subtype: OPUS or VORBIS.
    smallness: libsndfile's 0 to 1, best to smallest.
    """
    import soundfile

    whole = np.concatenate(sounds)
    form = {"format": "OGG", "subtype": subtype, "compression_level": smallness}
    with soundfile.SoundFile(str(path), "w", RATE, 1, **form) as file:
        for start in range(0, len(whole), RATE):  # libsndfile overflows its stack over minutes at once
            file.write(whole[start : start + RATE])


def _refuse_cut(path: Path, place: str) -> None:
    """A WAV whose data chunk announces more bytes than the file holds was cut; libsndfile reads it in silence."""
    with path.open("rb") as file:
        head = file.read(12)
        if head[:4] != b"RIFF" or head[8:12] != b"WAVE":
            return
        size = path.stat().st_size
        for _ in range(_MAX_CHUNKS):
            if len(chunk := file.read(8)) < 8:
                return
            length = int.from_bytes(chunk[4:], "little")
            if chunk[:4] == b"data":
                # Streams write 0 or the largest number, because they do not know their end.
                if length < 0x7FFF_0000 and file.tell() + length > size:
                    missing = file.tell() + length - size
                    cause = f"the file is cut: {counted(missing, 'byte is', 'bytes are')} missing"
                    raise AudioError(place, cause, "Record or copy it again")
                return
            file.seek(length + length % 2, 1)


def flac(sound: NDArray[np.float32], rate: int = RATE) -> bytes:
    """float32 [samples], -1 to 1 -> the bytes of a FLAC file, 16 bit. The same sound gives the same bytes."""
    import soundfile  # loaded when a clip is kept

    buffer = io.BytesIO()
    soundfile.write(buffer, np.clip(sound, -1, 1), rate, format="FLAC", subtype="PCM_16")
    return buffer.getvalue()
