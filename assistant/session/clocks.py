"""How far a clock can be trusted, and how long things took whatever it showed.

Durations are those of the monotonic clock; only a break across a start of the device is taken from the wall clock,
and never as less than nothing. Knows moments. Refuses to know sessions and what is said of a clock.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta

from assistant.session.inputs import Instant

SLACK = 60.0  # seconds by which two clocks may part


def seconds_between(earlier: str, later: str) -> float:
    """From one wall time to another, both ISO 8601; 0 when one of them is no time."""
    try:
        return (_moment(later) - _moment(earlier)).total_seconds()
    except ValueError:
        return 0.0


def _moment(wall: str) -> datetime:
    """Without an offset it is UTC. Errors: ValueError."""
    moment = datetime.fromisoformat(wall)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def is_before(wall: str, other: str) -> bool:
    """Whether a wall time is earlier than another by more than two clocks may part."""
    return seconds_between(wall, other) > SLACK


def without_jump(before: Instant, now: Instant) -> str | None:
    """What the wall clock would show if it had not jumped since; None when it has not. Across a start of the device
    only a clock that went back is seen."""
    if before.boot != now.boot:
        return before.wall if is_before(now.wall, before.wall) else None
    passed = now.seconds - before.seconds
    if abs(seconds_between(before.wall, now.wall) - passed) <= SLACK:
        return None
    try:
        expected = _moment(before.wall) + timedelta(seconds=passed)
    except (ValueError, OverflowError):  # what it showed was no time
        return before.wall
    return expected.isoformat(timespec="milliseconds")


def elapsed_since_first(moments: Iterable[Instant]) -> Callable[[Instant], float]:
    """From any of these moments, in the order in which they were written, to the seconds since the first of them."""
    begun: dict[str, tuple[float, Instant]] = {}  # boot -> seconds before it, its first moment
    last: Instant | None = None
    before = 0.0
    for at in moments:
        if at.boot not in begun:
            if last is not None:
                offset, first = begun[last.boot]
                before = offset + last.seconds - first.seconds + max(0.0, seconds_between(last.wall, at.wall))
            begun[at.boot] = before, at
        last = at

    def elapsed(at: Instant) -> float:
        offset, first = begun.get(at.boot, (0.0, at))
        return offset + at.seconds - first.seconds

    return elapsed
