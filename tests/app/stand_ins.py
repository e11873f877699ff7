"""What stands in for voice and screen, in rehearsals without sound and in the live world alike."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from assistant.app.watching import SpokenUtterance
from assistant.edge.sound.voices import RenderedSpeech
from assistant.errors import VoiceError
from assistant.hearing.ear import HeardUtterance
from assistant.hearing.endpoint import RATE


class ShortVoice:
    """A voice that says everything in a tenth of a second. broken: why it fails."""

    name = "short"
    broken = ""

    def render(self, text: str) -> RenderedSpeech:
        if self.broken:
            raise VoiceError("voice", self.broken, "Mend it")
        return RenderedSpeech(np.zeros(RATE // 10, np.float32), RATE)

    def prefetch(self, texts: Iterable[str]) -> None:
        pass

    def settle(self, seconds: float) -> bool:
        return True

    def close(self) -> None:
        pass

    def speak(self, loudness: int, pace: int) -> None:
        pass


class Notes:
    """A watcher that keeps what it is shown.

    spoken: each message, and whether it was spoken to its end.
    utterances: the words of each, as the best hypothesis has them.
    notes: what was noted beside the conversation.
    """

    def __init__(self) -> None:
        self.spoken: list[tuple[str, bool]] = []
        self.utterances: list[str] = []
        self.notes: list[str] = []

    def said(self, at: float, text: str, whole: bool) -> None:
        self.spoken.append((text, whole))

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        self.utterances.append(found.hypotheses[0].text if found.hypotheses else "")

    def note(self, at: float, text: str) -> None:
        self.notes.append(text)
