"""How moments, spans and beginnings of sentences are written in a record. Times are UTC. Knows no fact."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


def date_and_time(wall: str) -> str:
    """A wall time, ISO 8601, as `13 May 2025, 07:41:08 UTC`."""
    moment = _moment(wall)
    return f"{moment.day} {moment:%B %Y, %H:%M:%S} UTC"


def time_of_day(wall: str, later: float = 0.0) -> str:
    """A wall time, ISO 8601, and so many seconds later, as `07:41:08`."""
    return f"{_moment(wall) + timedelta(seconds=later):%H:%M:%S}"


def span(seconds: float) -> str:
    """A duration, as `1 h 4 min`."""
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole % 3600 // 60, whole % 60
    pieces = ((hours, "h"), (minutes, "min"), (rest, "s"))
    return " ".join(f"{count} {unit}" for count, unit in pieces if count) or "0 s"


def capital(words: str) -> str:
    """The words with a capital at their beginning."""
    return words[:1].upper() + words[1:]


def _moment(wall: str) -> datetime:
    return datetime.fromisoformat(wall).astimezone(UTC)
