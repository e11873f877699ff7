"""The pieces that a speech model writes: a text to piece numbers and back.

Knows byte-pair merging over a list of pieces whose order is the order of merging. Refuses to know where the
list comes from, and what the pieces mean. Words are separated by `▁` (U+2581) in front of each.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import pairwise

GAP = "▁"


class Pieces:
    """A model's pieces. start and end: the numbers of the pieces that open and close every utterance."""

    def __init__(self, pieces: Sequence[bytes], start: int = 1, end: int = 2) -> None:
        self.texts = tuple(pieces)
        self.start = start
        self.end = end
        self._numbers = {piece: number for number, piece in enumerate(self.texts)}
        self._split = lru_cache(maxsize=100_000)(self._merge)

    def __len__(self) -> int:
        return len(self.texts)

    def split(self, text: str) -> tuple[int, ...] | None:
        """The model's own segmentation of one written word with what is attached to it, or of a part of one.

        Merges, again and again, the neighbours whose joined piece has the lowest number. None when the model
        cannot write the text.
        """
        return self._split(text)

    def _merge(self, text: str) -> tuple[int, ...] | None:
        parts: list[bytes] = []
        for character in text:
            whole = character.encode()
            # A character that is no piece of its own is written byte by byte.
            parts.extend([whole] if whole in self._numbers else [bytes([byte]) for byte in whole])
        while True:
            joined = [(self._numbers[a + b], at) for at, (a, b) in enumerate(pairwise(parts)) if a + b in self._numbers]
            if not joined:
                break
            at = min(joined)[1]
            parts[at : at + 2] = [parts[at] + parts[at + 1]]
        if any(part not in self._numbers for part in parts):
            return None
        return tuple(self._numbers[part] for part in parts)

    def join(self, numbers: Sequence[int]) -> str:
        """The text of these pieces, with ordinary spaces."""
        written = b"".join(self.texts[number] for number in numbers if number not in (self.start, self.end))
        return written.decode(errors="replace").replace(GAP, " ").strip()
