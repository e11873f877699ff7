"""Sound files: any WAV to 16 kHz mono, clips to FLAC, and long sound to Ogg.

Knows soundfile and soxr. Refuses to know microphones and what is in the sound.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.errors import AudioError
from assistant.quantities import counted

RATE = 16_000
LONGEST_SECONDS = 60.0


def read_sound(path: Path) -> NDArray[np.float32]:
    """A sound file of any rate and number of channels -> float32 [samples], 16 kHz, mono, -1 to 1.

    Errors: AudioError for a file that is not there, empty, cut, longer than a minute, or not a sound.
    """
    import soundfile  # loaded when a file is read
    import soxr

    place = str(path)
    if not path.is_file():
        raise AudioError(place, "there is no such file", "Check the name")
    if path.stat().st_size == 0:
        raise AudioError(place, "the file is empty", "Record it again")
    try:
        with soundfile.SoundFile(path) as opened:
            rate, announced = opened.samplerate, opened.frames
            if announced > LONGEST_SECONDS * rate:
                raise AudioError(place, f"it lasts longer than {LONGEST_SECONDS:.0f} s", "Give one utterance a file")
            sound = opened.read(dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as wrong:
        raise AudioError(
            place, f"it cannot be read as sound ({wrong.error_string.rstrip('.')})", "Give a WAV file"
        ) from None
    _refuse_cut(path, place)
    if len(sound) == 0:
        raise AudioError(place, "it holds no sound", "Record it again")
    mono = np.nan_to_num(sound.mean(axis=1, dtype=np.float32))
    if rate != RATE:
        mono = soxr.resample(mono, rate, RATE)
    result: NDArray[np.float32] = np.clip(mono, -1, 1).astype(np.float32)
    return result


def write_ogg(path: Path, sounds: Sequence[NDArray[Any]], subtype: str, smallness: float) -> None:
    """Sounds one after the other, float32 or int16 [samples] at 16 kHz, as one file.

    subtype: OPUS or VORBIS; smallness: libsndfile's 0 to 1, best to smallest.
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
        while len(chunk := file.read(8)) == 8:
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
