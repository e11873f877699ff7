"""What makes an utterance hard to hear: noise nearly as loud as the voice, a faint voice, clipped sound.

Knows one utterance as samples. Refuses to know what was said, and what a person is told about it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assistant.session.inputs import AudioProblem

RATE = 16_000
_FRAME = RATE // 20  # longer than the firing of an engine, shorter than a syllable
_QUIETER, _LOUDER = 0.15, 0.9  # quantiles of the frames' levels: what sounds all the time, and that with the voice
_CLIPPED_SHARE, _CEILING = 0.002, 0.985  # of the samples, at so much of full scale
MIN_RATIO = 6.5  # dB, as `levels` finds them: in an engine's noise about 3 dB of speech to noise
FAINT = -50.0  # dBFS of voice


def audio_problem(samples: NDArray[np.float32]) -> AudioProblem | None:
    """What is in the way in this utterance, float32 [samples] at 16 kHz, -1 to 1, the silence around it included.

    None when nothing is, or it is too short to tell.
    """
    if np.mean(np.abs(samples) >= _CEILING) > _CLIPPED_SHARE:
        return AudioProblem.CLIPPED
    loud, ratio = levels(samples)
    if loud < FAINT:
        return AudioProblem.FAINT
    return AudioProblem.NOISE if ratio < MIN_RATIO else None


def levels(samples: NDArray[np.float32]) -> tuple[float, float]:
    """The level of the voice in dBFS, and how much that is over the noise in dB, at least -10."""
    count = len(samples) // _FRAME
    if count < 8:
        return 0.0, np.inf
    frames = samples[: count * _FRAME].reshape(count, _FRAME).astype(np.float64)
    power = np.mean(np.square(frames), axis=1) + 1e-12
    noise, both = np.quantile(power, (_QUIETER, _LOUDER))
    voice = max(both - noise, 0.1 * noise)
    return float(10 * np.log10(voice)), float(10 * np.log10(voice / noise))
