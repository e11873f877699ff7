"""What tests of records look up in one."""

from __future__ import annotations

from assistant.record.concerns import ConcernKind
from assistant.record.entries import RecordEntry
from assistant.record.stages import StageOutcome
from assistant.record.summary import Record
from assistant.session import facts as f


def concerns(judged: Record) -> list[tuple[ConcernKind, str]]:
    """Kind, and title of the step, of each concern."""
    return [(concern.kind, "" if concern.entry is None else concern.entry.title) for concern in judged.concerns]


def readings(judged: Record, name: str) -> list[RecordEntry]:
    """The entries of a reading, in time order."""
    return [
        entry
        for entry in judged.of(f.ReadingRecorded)
        if isinstance(entry.fact, f.ReadingRecorded) and entry.fact.name == name
    ]


def stages(judged: Record) -> list[tuple[str, StageOutcome, str]]:
    """Name, outcome and reason of each stage."""
    return [(summary.stage.name, summary.outcome, summary.reason) for summary in judged.stages]
