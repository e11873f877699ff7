"""What the facts of things change of a visit."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply_part(visit: Visit, fact: f.PartFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.PartFitted():
            return replace(visit, history_facts=(*visit.history_facts, (fact, at)))
        case f.ObjectDropped():
            return replace(visit, missing=visit.missing + 1)
        case f.ObjectAccounted():
            return replace(visit, missing=max(0, visit.missing - 1))
        case f.PartRefused():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
