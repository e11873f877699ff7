"""What the facts of the engine's state change of a visit."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import StateValue, Visit


def apply_engine(visit: Visit, fact: f.EngineFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.StateLearned():
            entry = StateValue(fact.value, fact.because, at, fact.lasts)
            return replace(visit, state={**visit.state, fact.variable: entry})
        case f.StateForgotten():
            return replace(visit, state={})
        case _:
            assert_never(fact)
