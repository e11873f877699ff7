"""`apply(visit, fact, at) -> visit`: the only way in which a visit changes. One file a topic, as the facts have.

Knows identifiers of tasks and steps, never their content: an old journal folds after any edit of a procedure.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.applying.device import apply_device
from assistant.session.applying.engine import apply_engine
from assistant.session.applying.exchanges import apply_exchange, move_exchange
from assistant.session.applying.histories import apply_history
from assistant.session.applying.parts import apply_part
from assistant.session.applying.readings import apply_reading
from assistant.session.applying.remarks import apply_remark
from assistant.session.applying.steps import apply_step
from assistant.session.applying.visits import apply_visit
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply(visit: Visit, fact: f.Fact, at: Instant) -> Visit:
    """The visit after one fact that happened at a moment.

    Errors: ExchangeError when the open exchange does not allow it; the visit given stays as it was.
    """
    after = _applied(move_exchange(visit, fact), fact, at)
    unanswered = isinstance(fact, f.Spoken | f.LateAnswerDropped)  # nothing can be said of the clock then
    return after if unanswered else replace(after, latest=at)


def _applied(visit: Visit, fact: f.Fact, at: Instant) -> Visit:
    if isinstance(fact, f.DeviceFact):
        return apply_device(visit, fact, at)
    if isinstance(fact, f.EngineFact):
        return apply_engine(visit, fact, at)
    if isinstance(fact, f.ExchangeFact):
        return apply_exchange(visit, fact, at)
    if isinstance(fact, f.HistoryFact):
        return apply_history(visit, fact, at)
    if isinstance(fact, f.PartFact):
        return apply_part(visit, fact, at)
    if isinstance(fact, f.ReadingFact):
        return apply_reading(visit, fact, at)
    if isinstance(fact, f.RemarkFact):
        return apply_remark(visit, fact, at)
    if isinstance(fact, f.StepFact):
        return apply_step(visit, fact, at)
    if isinstance(fact, f.VisitFact):
        return apply_visit(visit, fact, at)
    assert_never(fact)


def fold(facts: Iterable[tuple[f.Fact, Instant]], visit: Visit | None = None) -> Visit:
    """The visit after many facts, in order."""
    result = Visit() if visit is None else visit
    for fact, at in facts:
        result = apply(result, fact, at)
    return result
