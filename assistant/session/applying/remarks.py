"""What findings and notes change of a visit."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply_remark(visit: Visit, fact: f.RemarkFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.NoteKept():
            return replace(visit, history_facts=(*visit.history_facts, (fact, at)))
        case f.FindingRecorded():
            return replace(visit, findings=(*visit.findings, fact), history_facts=(*visit.history_facts, (fact, at)))
        case f.HelpCalled():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
