"""The sound of a small diesel generating set, and mixing speech into it at a stated ratio.

Knows engines only as far as an ear needs it: firing harmonics over a drifting speed, broadband clatter that pulses with
the firing, a rumbling exhaust. Everything comes from the seed. Refuses to know rooms and recordings.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

ACTIVE_FRAME_SECONDS = 0.02
ACTIVE_BELOW_LOUDEST = 10 ** (-35 / 20)  # a frame counts as speech down to this share of the loudest frame's level


def engine_noise(
    seconds: float, seed: int, rate: int = 16000, cylinders: int = 2, rpm: float = 1500
) -> NDArray[np.float32]:
    """A four-stroke diesel, float32 [seconds * rate], root mean square exactly 1 (so peaks exceed 1).

    cylinders / 2 firings a turn; the speed drifts by about a percent as a governor lets it. Errors: ValueError for less
    than a sample, cylinder or turn.
    """
    count = round(seconds * rate)
    if count < 1 or cylinders < 1 or rpm <= 0:
        raise ValueError(f"{seconds} s, {cylinders} cylinders, {rpm} rpm: each must be more than nothing")
    random = np.random.default_rng(seed)

    # Speed: a slow hunt of the governor and a wander, about a percent together.
    time = np.arange(count) / rate
    knots = np.cumsum(random.normal(0, 0.003, int(seconds * 4) + 3))
    wander = np.interp(time, np.arange(len(knots)) / 4, knots - knots.mean())
    hunt = 0.006 * np.sin(2 * np.pi * random.uniform(0.4, 0.9) * time + random.uniform(0, 2 * np.pi))
    turns = np.cumsum(rpm / 60 * (1 + np.clip(wander, -0.02, 0.02) + hunt)) / rate

    # Harmonics of half the shaft speed; those of the firing order stand out, others come from unequal cylinders.
    nyquist = rate / 2
    harmonics = np.zeros(count)
    for order in range(1, 81):
        hertz = order / 2 * rpm / 60
        if hertz > 0.9 * nyquist:
            break
        strength = (1.0 if order % cylinders == 0 else 0.3) * random.uniform(0.5, 1.5)
        strength /= 1 + (hertz / 150) ** 1.1
        harmonics += strength * np.sin(2 * np.pi * order / 2 * turns + random.uniform(0, 2 * np.pi))

    # Clatter: broadband, loudest just after each firing, no two firings alike.
    firing = turns * cylinders / 2
    since, number = np.modf(firing)
    loudness = random.uniform(0.6, 1.4, int(number[-1]) + 2)[number.astype(int)]
    clatter = _coloured(count, rate, random, low=400, high=6000, slope=-0.5)
    clatter *= 0.35 + loudness * np.exp(-6 * since)

    # Exhaust: a rumble that breathes.
    exhaust = _coloured(count, rate, random, low=25, high=350, slope=-0.8) * (1 + 0.5 * np.cos(2 * np.pi * firing))

    sound = _unit(harmonics) + 0.6 * _unit(clatter) + 0.7 * _unit(exhaust)
    return _unit(sound).astype(np.float32)


def speech_level(speech: NDArray[np.float32], rate: int = 16000) -> float:
    """Root mean square over the frames of 20 ms that hold speech: those within 35 dB of the loudest frame.

    speech: [samples], without noise. 0 for silence. Pauses and padding so do not count.
    """
    size = max(1, round(ACTIVE_FRAME_SECONDS * rate))
    padded = np.pad(np.asarray(speech, dtype=np.float64), (0, -len(speech) % size))
    power = np.mean(padded.reshape(-1, size) ** 2, axis=1)
    if power.size == 0 or power.max() == 0:
        return 0.0
    return float(np.sqrt(np.mean(power[power >= power.max() * ACTIVE_BELOW_LOUDEST**2])))


def mix(
    speech: NDArray[np.float32], noise: NDArray[np.float32], snr_db: float, rate: int = 16000
) -> NDArray[np.float32]:
    """Speech in noise, float32 [len(speech)].

    The ratio is 20 log10(`speech_level(speech)` / root mean square of the noise over the whole mixture): the level of
    the speech while it sounds against the level of the noise, both unweighted, over the full band. The speech keeps its
    level, the noise is scaled and, when shorter, repeated; a mixture that would exceed full scale is scaled down as a
    whole. Silent speech leaves the noise as it is.
    Errors: ValueError for noise that is empty or silent.
    """
    if len(noise) == 0 or not np.any(noise):
        raise ValueError("the noise is empty or silent")
    background = np.resize(noise, len(speech)).astype(np.float64)
    present = speech_level(speech, rate)
    level = float(np.sqrt(np.mean(background**2))) if len(speech) else 0.0
    if present > 0 and level > 0:
        background *= present / level * 10 ** (-snr_db / 20)
    mixture = speech + background
    peak = float(np.abs(mixture).max()) if len(mixture) else 0.0
    return np.asarray(mixture / peak if peak > 1 else mixture, dtype=np.float32)


def _coloured(
    count: int, rate: int, random: np.random.Generator, low: float, high: float, slope: float
) -> NDArray[np.float64]:
    """Noise between two frequencies in hertz, its amplitude falling with frequency to the power `slope`."""
    size = 1 << max(1, count - 1).bit_length()  # a power of two: the transform of an awkward length is slow
    spectrum = np.fft.rfft(random.normal(size=size))
    hertz = np.fft.rfftfreq(size, 1 / rate)
    edges = 1 / (1 + (low / np.maximum(hertz, 1e-3)) ** 8) / (1 + (hertz / high) ** 8)
    shaped = np.fft.irfft(spectrum * np.maximum(hertz, low) ** slope * edges, size)[:count]
    return np.asarray(shaped, dtype=np.float64)


def _unit(sound: NDArray[np.float64]) -> NDArray[np.float64]:
    """Scaled to root mean square 1."""
    return sound / max(float(np.sqrt(np.mean(sound**2))), 1e-12)
