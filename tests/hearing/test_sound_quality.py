"""How well an utterance can be heard, and what is in the way of it.

Outside: the mixture is made by `rehearsal.noise.mix`, whose ratio is that of the bench. The bound was set on voices of
espeak-ng in odd engines' noise; these are flite's, in others.
"""

from __future__ import annotations

import numpy as np
import pytest

from assistant.app.utterances import audio_problem
from assistant.hearing.sound_quality import sound_quality
from assistant.rehearsal.noise import engine_noise, mix, speech_level
from assistant.rehearsal.technician_voice import speak
from assistant.session.inputs import AudioProblem

VOICES = ("flite slt", "flite rms", "flite awb", "flite kal16")
SAID = ("stand by", "the oil is clean", "forty two point five", "where am I")


def said(voice: str, text: str) -> np.ndarray:
    """An utterance as the ear has it: with its pre-roll and the silence after it, -26 dBFS."""
    sound = speak(text, voice)
    return np.pad(sound * np.float32(0.05 / speech_level(sound)), 4800)


def in_noise(decibels: float) -> list[np.ndarray]:
    every = [said(voice, text) for voice in VOICES for text in SAID]
    return [mix(one, engine_noise(len(one) / 16000, at, 4, 1500), decibels) for at, one in enumerate(every)]


def test_noise_is_named_where_it_is_nearly_as_loud_as_the_voice() -> None:
    assert sum(audio_problem(one) is AudioProblem.NOISE for one in in_noise(0.0)) >= 14
    assert sum(audio_problem(one) is AudioProblem.NOISE for one in in_noise(10.0)) == 0


def test_the_ratio_is_near_that_of_the_mixture() -> None:
    for decibels in (0.0, 10.0, 20.0):
        found = np.median([sound_quality(one).ratio for one in in_noise(decibels)])
        assert found == pytest.approx(decibels + 3.5, abs=2.0)  # the quietest frames lie below the mean


def test_nothing_is_in_the_way_of_a_clear_voice() -> None:
    assert [audio_problem(said(voice, text)) for voice in VOICES for text in SAID] == [None] * 16


def test_a_faint_and_a_clipped_voice() -> None:
    clear = said("flite rms", SAID[1])
    assert audio_problem(clear * np.float32(10 ** (-30 / 20))) is AudioProblem.FAINT
    assert audio_problem(np.clip(40 * clear, -1, 1)) is AudioProblem.CLIPPED


def test_what_is_too_short_says_nothing() -> None:
    assert audio_problem(np.full(3000, 0.1, dtype=np.float32)) is None
