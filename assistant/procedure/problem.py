"""A problem of a procedure or an equipment file: where it is, what is wrong, what would be right.

Knows paths inside a file. Refuses to know lines and columns (`reading.py` does) and what is checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

Path = tuple[str | int, ...]
"""Keys and indexes, from the top of the file or of a part of it."""


class Severity(StrEnum):
    """Wrong: the procedure is not to be used like this. Note: look at it; it may be meant."""

    WRONG = "wrong"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Problem:
    """Something that is not as it should be.

    path: from the top of the file; of a step's own problems, from the top of the step.
    cause: what is wrong.
    remedy: what would be right.
    severity: whether it refuses new work.
    """

    path: Path
    cause: str
    remedy: str
    severity: Severity = Severity.WRONG
