"""Clocks: the machine's own, and one that is moved by hand for rehearsals."""

from __future__ import annotations

import datetime
import time
import uuid
from pathlib import Path
from typing import Protocol

from assistant.session.inputs import Instant

MADE = "2026-11-27T00:00:00+00:00"
"""When this version of the program was made, set with each release: no clock that is right shows less."""


class Clock(Protocol):
    """Where moments come from."""

    def now(self) -> Instant:
        """This moment."""
        ...


class MachineClock:
    """Monotonic seconds, which stand while the machine sleeps, with the machine's boot identifier; wall time in UTC.

    A sleep of a minute or more is a break like a start: what was known of the engine is not known any more. So the
    identifier tells how many minutes the machine has slept since its start.
    """

    def __init__(self) -> None:
        kernel = Path("/proc/sys/kernel/random/boot_id")
        self._boot = kernel.read_text().strip() if kernel.exists() else str(uuid.uuid4())

    def now(self) -> Instant:
        """This moment."""
        wall = datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
        seconds = time.monotonic()
        slept = int((time.clock_gettime(time.CLOCK_BOOTTIME) - seconds) // 60)
        return Instant(wall, seconds, f"{self._boot} slept {slept} min" if slept > 0 else self._boot)


class HandClock:
    """A clock that stands until it is moved. start: ISO 8601 with its offset."""

    def __init__(self, start: str, boot: str = "rehearsal") -> None:
        self.seconds = 0.0
        self._start = datetime.datetime.fromisoformat(start)
        self._boot = boot

    def move(self, seconds: float) -> None:
        """Let time pass; never backwards."""
        self.seconds += max(0.0, seconds)

    def now(self) -> Instant:
        """This moment."""
        wall = self._start + datetime.timedelta(seconds=self.seconds)
        return Instant(wall.isoformat(timespec="milliseconds"), self.seconds, self._boot)
