"""What the facts of values change of a visit."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply_reading(visit: Visit, fact: f.ReadingFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.ReadingRecorded():
            return replace(visit, readings=(*visit.readings, fact), history_facts=(*visit.history_facts, (fact, at)))
        case f.ReadingWithdrawn():
            kept = tuple(reading for reading in visit.readings if reading.place != fact.place)
            return replace(visit, readings=kept, history_facts=(*visit.history_facts, (fact, at)))
        case f.CalculationRecorded():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
