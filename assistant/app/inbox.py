"""The inbox: the one way in which the world's threads reach the thread that owns the core.

Knows blocks of sound, and reports that it hands on as they are. Refuses to know what a report means. Sound is bounded:
when the core is busy for long, blocks are dropped and counted. A button, a typed line, a timer or a fault is never
dropped.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from dataclasses import dataclass
from typing import Generic, TypeVar

from assistant.hearing.ear import Samples

_Report = TypeVar("_Report")
MAX_BLOCKS = 320  # ten seconds of sound


@dataclass(frozen=True, slots=True)
class Block:
    """A block of sound, float32 [512] at 16 kHz."""

    samples: Samples


class Inbox(Generic[_Report]):
    """Reports in the order in which they came. `post` may come from any thread, `next` from one."""

    def __init__(self, max_blocks: int = MAX_BLOCKS) -> None:
        self.dropped = 0
        self._max = max_blocks
        self._waiting: deque[_Report | Block] = deque()
        self._blocks = 0
        self._changed = threading.Condition()

    def post(self, report: _Report | Block) -> None:
        """Something is reported. A block is dropped, and counted, when too many wait already."""
        with self._changed:
            if isinstance(report, Block):
                if self._blocks >= self._max:
                    self.dropped += 1
                    return
                self._blocks += 1
            self._waiting.append(report)
            self._changed.notify()

    def next(self, until: float | None = None) -> _Report | Block | None:
        """The next report, or None when there is none until this moment. until: seconds of `time.monotonic`."""
        with self._changed:
            while not self._waiting:
                wait = None if until is None else until - time.monotonic()
                if wait is not None and wait <= 0:
                    return None
                self._changed.wait(wait)
            report = self._waiting.popleft()
            if isinstance(report, Block):
                self._blocks -= 1
            return report

    @property
    def empty(self) -> bool:
        """Whether nothing waits."""
        return not self._waiting

    def forget_sound(self) -> None:
        """Drop the blocks that wait: they were heard while nobody was asked anything."""
        with self._changed:
            self._waiting = deque(report for report in self._waiting if not isinstance(report, Block))
            self._blocks = 0
