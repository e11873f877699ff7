"""What became of the entries of a record later in the visit: repeated, taken back, resolved.

Knows what a fact changes of those before it. Refuses to know how that is said.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from assistant.record.entries import EntryStatus, RecordEntry
from assistant.session import facts as f


def with_statuses(entries: tuple[RecordEntry, ...]) -> tuple[RecordEntry, ...]:
    """The entries, in time order, with what became of each later."""
    result = list(entries)
    for index, entry in enumerate(entries):
        for earlier in _superseded(result, index):
            status = EntryStatus.TAKEN_BACK if _takes_back(entry.fact) else EntryStatus.REPEATED
            result[earlier] = replace(result[earlier], status=status, superseded_by=entry.line)
        for earlier in _resolved(result, index):
            result[earlier] = replace(result[earlier], resolved_by=entry.line)
    return tuple(result)


def _takes_back(fact: f.Fact) -> bool:
    return isinstance(fact, f.ReadingWithdrawn | f.StepReopened)


def _superseded(entries: list[RecordEntry], index: int) -> Iterator[int]:
    """The earlier entries that the one at `index` repeats or takes back."""
    fact = entries[index].fact
    match fact:
        case f.ReadingRecorded() | f.AnswerRecorded() | f.CalculationRecorded():
            for earlier in _same_place(entries, index, type(fact)):
                if entries[earlier].stands and _reading_name(entries[earlier].fact) == _reading_name(fact):
                    yield earlier
        case f.ReadingWithdrawn():
            for earlier in _same_place(entries, index, f.ReadingRecorded):
                if not entries[earlier].taken_back and _reading_name(entries[earlier].fact) == fact.name:
                    yield earlier
        case f.StepReopened():
            answers = (f.AnswerRecorded, f.CalculationRecorded, f.HoldPointPassed)
            endings = (f.StepDone, f.StepSkipped, f.StepPassedOver)
            ends = _ends_of_stage(entries, index, fact.place)
            for earlier in (*_same_place(entries, index, *answers, *endings), *ends):
                if not entries[earlier].taken_back:
                    yield earlier
        case _:
            pass


def _resolved(entries: list[RecordEntry], index: int) -> Iterator[int]:
    """The earlier findings that are in order by the answer at `index`."""
    match entries[index].fact:
        case f.AnswerRecorded(good=True):
            for earlier in _same_place(entries, index, f.FindingRecorded):
                if entries[earlier].resolved_by is None and entries[earlier].line < entries[index].line:
                    yield earlier
        case _:
            pass


def _same_place(entries: list[RecordEntry], index: int, *kinds: type[f.Fact]) -> Iterator[int]:
    for earlier in range(index):
        if entries[earlier].place == entries[index].place and isinstance(entries[earlier].fact, kinds):
            yield earlier


def _ends_of_stage(entries: list[RecordEntry], index: int, place: f.StepPlace) -> Iterator[int]:
    for earlier in range(index):
        match entries[earlier].fact:
            case f.StageDone(stage) if stage.passage == place.passage:
                yield earlier
            case _:
                pass


def _reading_name(fact: f.Fact) -> str:
    """The reading's name, where a step may have several; empty for what is no reading."""
    return fact.name if isinstance(fact, f.ReadingRecorded) else ""
