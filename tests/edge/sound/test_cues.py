"""The cue sounds: quiet, short, and different in rhythm and in pitch."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.edge.sound.cues import CueName, cue_sound

RATE = 22050


def bursts(sound: NDArray[np.float32]) -> list[NDArray[np.float32]]:
    """The sound cut at its silences of at least 10 ms."""
    loud = np.flatnonzero(np.abs(sound) > 0.05 * np.abs(sound).max())
    return [sound[part[0] : part[-1] + 1] for part in np.split(loud, np.flatnonzero(np.diff(loud) > RATE // 100) + 1)]


def pitch(burst: NDArray[np.float32]) -> float:
    spectrum = np.abs(np.fft.rfft(burst, 1 << 15))
    return float(np.argmax(spectrum) * RATE / (1 << 15))


@pytest.mark.parametrize("cue", CueName)
def test_quiet_short_and_without_a_click(cue: CueName) -> None:
    sound = cue_sound(cue, RATE)
    assert sound.dtype == np.float32
    assert 20 * np.log10(np.abs(sound).max()) == pytest.approx(-24, abs=0.1)
    assert len(sound) / RATE < (0.26 if cue is CueName.UNCLEAR else 0.15)
    for end in (sound[:20], sound[-20:]):
        assert np.abs(end).max() < 0.1 * np.abs(sound).max()


def test_they_differ_in_rhythm() -> None:
    counts = {cue: len(bursts(cue_sound(cue, RATE))) for cue in CueName}
    assert counts == {CueName.LISTENING: 1, CueName.HEARD: 2, CueName.UNCLEAR: 3}
    durations = {cue: max(len(burst) for burst in bursts(cue_sound(cue, RATE))) / RATE for cue in CueName}
    assert durations[CueName.LISTENING] > 1.5 * max(durations[CueName.HEARD], durations[CueName.UNCLEAR])


def test_they_differ_in_pitch() -> None:
    tunes = {cue: [pitch(burst) for burst in bursts(cue_sound(cue, RATE))] for cue in CueName}
    assert tunes[CueName.HEARD] == sorted(tunes[CueName.HEARD])
    assert tunes[CueName.UNCLEAR] == sorted(tunes[CueName.UNCLEAR], reverse=True)
    for one, other in combinations(CueName, 2):  # at least two semitones between any two tones of different cues
        for low in tunes[one]:
            for high in tunes[other]:
                assert abs(np.log2(high / low)) > 1.5 / 12


def test_each_burst_is_one_plain_tone() -> None:
    """A vowel has formants; these have one line."""
    for cue in CueName:
        for burst in bursts(cue_sound(cue, RATE)):
            power = np.abs(np.fft.rfft(burst * np.hanning(len(burst)), 1 << 15)) ** 2
            at = int(np.argmax(power))
            width = round(3 * RATE / len(burst) / (RATE / (1 << 15)))
            assert power[max(0, at - width) : at + width].sum() > 0.99 * power.sum()


def test_any_rate() -> None:
    assert len(cue_sound(CueName.HEARD, 48000)) == pytest.approx(len(cue_sound(CueName.HEARD, 16000)) * 3, abs=6)
