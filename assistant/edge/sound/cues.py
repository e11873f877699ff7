"""Three quiet sounds that say whose turn it is, told apart by rhythm as well as pitch.

Knows how they sound. Refuses to know when: they are played outside the listening window, so that they neither hide the
first syllable nor are taken for a word.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

PEAK = 10 ** (-24 / 20)  # of full scale
FADE_SECONDS = 0.008


class CueName(StrEnum):
    """LISTENING: now it is your turn. HEARD: got it. UNCLEAR: did not understand."""

    LISTENING = "listening"
    HEARD = "heard"
    UNCLEAR = "unclear"


@dataclass(frozen=True, slots=True)
class _Tone:
    start: float  # seconds
    seconds: float
    hertz: float


# One long tone; two short ones that rise; three that fall, slower. All far above the voice's fundamental and each a
# plain tone, so nothing in them resembles a vowel; below 2 kHz, where ageing ears and small loudspeakers still do well.
_TONES: dict[CueName, tuple[_Tone, ...]] = {
    CueName.LISTENING: (_Tone(0.0, 0.12, 1319.0),),
    CueName.HEARD: (_Tone(0.0, 0.03, 988.0), _Tone(0.05, 0.035, 1760.0)),
    CueName.UNCLEAR: (_Tone(0.0, 0.06, 880.0), _Tone(0.095, 0.06, 740.0), _Tone(0.19, 0.06, 622.0)),
}


def cue_sound(cue: CueName, rate: int = 22050) -> NDArray[np.float32]:
    """The sound, float32 [samples] at `rate` samples a second, peak -24 dB of full scale, ends faded."""
    tones = _TONES[cue]
    sound = np.zeros(round((tones[-1].start + tones[-1].seconds) * rate))
    for tone in tones:
        time = np.arange(round(tone.seconds * rate)) / rate
        fade = np.clip(np.minimum(time, time[::-1]) / FADE_SECONDS, 0, 1)
        start = round(tone.start * rate)
        wave = np.sin(2 * np.pi * tone.hertz * time) * np.sin(fade * np.pi / 2) ** 2
        sound[start : start + len(wave)] = wave[: len(sound) - start]
    return np.asarray(sound * (PEAK / np.abs(sound).max()), dtype=np.float32)
