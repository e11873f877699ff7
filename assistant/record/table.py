"""The record as a table for a spreadsheet: its columns, and a row for each entry that has cells.

Knows what every row has. The cells that a fact fills itself stand in the file of its topic. A column keeps its name and
what it means; one may be added at the end.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from assistant.record.entries import RecordEntry
from assistant.record.summary import Record
from assistant.session import facts as f

COLUMNS = (
    *("line", "time", "elapsed_s", "part", "task", "step", "title", "what", "name", "text"),
    *("value", "unit", "low", "high", "limits", "judged", "stage", "reason", "doubt"),
    *("circumstances", "instrument", "spread"),
    *("confidence", "source", "fate", "sound"),
    *("visit_stage", "visit_time"),
)
"""fate: what became of the entry. visit_stage, visit_time: of a planned visit, the stage's title, and which time its
procedure was gone through."""
NUMBERS = {"line", "elapsed_s", "value", "low", "high", "spread", "confidence", "visit_time"}
"""The columns that hold numbers and nothing else; all others hold text."""


def table_rows(record: Record) -> Iterator[Mapping[str, object]]:
    """A row for each reading, answer, hold point, part, note, finding and step left out, and each task done, put off or
    added, in time order: column -> text or number; a column that is not there is empty."""
    stages = record.planned_stages()
    for entry in record.entries:
        if entry.description.cells:
            stage = _stage(entry, stages)
            yield {
                "line": entry.line,
                "time": entry.at.wall,
                "elapsed_s": round(entry.elapsed, 3),
                "part": entry.part,
                "task": "" if entry.place is None else entry.place.task,
                "step": "" if entry.place is None else entry.place.step,
                "title": entry.title,
                "fate": entry.status.value,
                "sound": "" if entry.clip is None else entry.clip.sha256,
                "visit_stage": "" if stage is None else stage.title,
                "visit_time": "" if stage is None else stage.time,
                **entry.description.cells,
            }


def _stage(entry: RecordEntry, stages: Mapping[f.Passage, f.PlannedStage]) -> f.PlannedStage | None:
    """The stage that an entry belongs to: the one that it ends, else the one of its step."""
    if isinstance(entry.fact, f.StageDone):
        return entry.fact.stage
    return None if entry.place is None else stages.get(entry.place.passage)
