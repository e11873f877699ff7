"""A voice that can be asked to speak louder, softer, slower or faster.

Knows steps from the usual. Pace is the engine's own, one voice a pace; loudness is a gain that bends before it clips.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from assistant.edge.sound.voices import RenderedSpeech, Voice, VoiceSettings, open_voice

DECIBELS_A_STEP = 4.0
PACE_A_STEP = 0.1
BEND = 0.7  # of full scale; louder than this is compressed, not cut


class AdjustableVoice:
    """A voice for each pace, opened when it is first wanted. Errors: VoiceError, as from `open_voice`."""

    def __init__(self, make: Callable[[int], Voice]) -> None:
        """make: the voice at so many words a minute."""
        self._make = make
        self._usual = VoiceSettings().words_a_minute
        self._voices: dict[int, Voice] = {}
        self._gain = 1.0
        self._voice = self._at(0)

    @property
    def name(self) -> str:
        """The engine's name."""
        return self._voice.name

    def speak(self, loudness: int, pace: int) -> None:
        """Speak so from now on.

        loudness: steps of 4 dB from the usual.
        pace: steps of a tenth, up is faster.
        """
        self._gain = 10 ** (DECIBELS_A_STEP * loudness / 20)
        self._voice = self._at(pace)

    def render(self, text: str) -> RenderedSpeech:
        """As the port says, at the present loudness and pace."""
        speech = self._voice.render(text)
        if self._gain == 1.0:
            return speech
        samples = speech.samples * np.float32(self._gain)
        over = np.abs(samples) > BEND
        bent = BEND + (1 - BEND) * np.tanh((np.abs(samples[over]) - BEND) / (1 - BEND))
        samples[over] = np.sign(samples[over]) * bent
        return replace(speech, samples=samples.astype(np.float32))

    def prefetch(self, texts: Iterable[str]) -> None:
        """As the port says, at the present pace."""
        self._voice.prefetch(texts)

    def settle(self, seconds: float) -> bool:
        """As the port says."""
        return self._voice.settle(seconds)

    def close(self) -> None:
        """As the port says, for every pace."""
        for voice in self._voices.values():
            voice.close()

    def _at(self, pace: int) -> Voice:
        words = round(self._usual * (1 + PACE_A_STEP * pace))
        if words not in self._voices:
            self._voices[words] = self._make(words)
        return self._voices[words]


def open_adjustable(engine: str, folder: Path) -> AdjustableVoice:
    """The voice of this engine, adjustable. folder: the cache. Errors: VoiceError."""
    return AdjustableVoice(lambda words: open_voice(engine, folder, VoiceSettings(words_a_minute=words)))
