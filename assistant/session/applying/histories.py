"""What the facts of sessions in which nobody speaks change: nothing."""

from __future__ import annotations

from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply_history(visit: Visit, fact: f.HistoryFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.SalvageMade() | f.HistoryTakenOver() | f.DoneBefore():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
