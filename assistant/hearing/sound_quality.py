"""How well an utterance can be heard: how loud the voice is, how far above the noise, how much of it is clipped.

Knows one utterance as samples. Refuses to know what was said, and what a person is told about it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from assistant.hearing.endpoint import RATE

_FRAME = RATE // 20  # longer than the firing of an engine, shorter than a syllable
_MIN_FRAMES = 8
_QUIETER, _LOUDER = 0.15, 0.9  # quantiles of the frames' levels: what sounds all the time, and that with the voice
_CEILING = 0.985  # of full scale; a sample beyond it is clipped
MAX_CLIPPED = 0.002  # share of the samples
MIN_RATIO = 6.5  # dB, as they are found here: in an engine's noise about 3 dB of speech to noise
MIN_VOICE = -50.0  # dBFS


@dataclass(frozen=True, slots=True)
class SoundQuality:
    """How well one utterance can be heard.

    voice: level of the voice in dBFS; 0 where the sound is too short to tell.
    ratio: how much that is over the noise in dB, at least -10; infinite where the sound is too short to tell.
    clipped: share of the samples at full scale.
    """

    voice: float
    ratio: float
    clipped: float

    @property
    def is_clipped(self) -> bool:
        """Whether the voice was too loud for the microphone."""
        return self.clipped > MAX_CLIPPED

    @property
    def is_faint(self) -> bool:
        """Whether the voice is too quiet."""
        return self.voice < MIN_VOICE

    @property
    def is_noisy(self) -> bool:
        """Whether the noise is nearly as loud as the voice."""
        return self.ratio < MIN_RATIO


def sound_quality(samples: NDArray[np.float32]) -> SoundQuality:
    """Of an utterance, float32 [samples] at 16 kHz, -1 to 1, the silence around it included."""
    clipped = float(np.mean(np.abs(samples) >= _CEILING)) if len(samples) else 0.0
    count = len(samples) // _FRAME
    if count < _MIN_FRAMES:
        return SoundQuality(0.0, np.inf, clipped)
    frames = samples[: count * _FRAME].reshape(count, _FRAME).astype(np.float64)
    power = np.mean(np.square(frames), axis=1) + 1e-12
    noise, both = np.quantile(power, (_QUIETER, _LOUDER))
    voice = max(both - noise, 0.1 * noise)
    return SoundQuality(float(10 * np.log10(voice)), float(10 * np.log10(voice / noise)), clipped)
