"""The rows of a record's page: the visit in time order, and its tables.

Knows what stands in one row. What is said of a fact stands in the file of its topic; how a page is laid out, in its
template.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from assistant.record.concerns import ConcernKind
from assistant.record.entries import Context, RecordEntry, Sentence
from assistant.record.phrases import capital, date_and_time, span
from assistant.record.readings import ReadingRow, limit_concern, reading_row
from assistant.record.stages import StageRow, StepStatus, StepSummary, stage_row
from assistant.record.summary import Concern, Record
from assistant.record.visits import stage_heading
from assistant.session import facts as f
from assistant.session.inputs import Clip
from assistant.session.journal import Gap

PART_HEADINGS = {"before": "Before the work", "steps": "The work", "after": "Putting back into service"}


@dataclass(frozen=True, slots=True)
class TimelineRow:
    """What came of one line of the journal in one step; or a gap in the journal.

    line: of the journal.
    first: whether it is the first row of that line.
    time: of day; empty for a gap.
    heading: before it, where another part of the work begins; else empty.
    title: of the step; empty where it is that of the row before.
    question: what was asked, of an answer to a check.
    sentences: what happened.
    confidence: of the hearing of an answer, or "typed"; else empty.
    clips: its sounds.
    """

    line: int
    first: bool
    time: str
    heading: str
    title: str
    question: str
    sentences: tuple[Sentence, ...]
    confidence: str
    clips: tuple[Clip, ...]


@dataclass(frozen=True, slots=True)
class PlanChange:
    """A plan that took the place of an earlier one.

    time: of day.
    reason: a sentence.
    """

    time: str
    reason: str


@dataclass(frozen=True, slots=True)
class PageRows:
    """A record as a page shows it.

    begun: date and time of the first line.
    ended: the same of the last.
    duration: between them.
    to_judge: concerns that a supervisor must come to a judgement of.
    to_note: the others.
    readings: recorded, in time order.
    hold_points: passed, in time order.
    answers: to checks, in time order.
    engine_state: what was told of it, in time order.
    timeline: everything, in time order.
    stages: of a planned visit.
    plan_changes: in time order.
    left_open: steps that were reached and not done.
    """

    begun: str
    ended: str
    duration: str
    to_judge: tuple[Concern, ...]
    to_note: tuple[Concern, ...]
    readings: tuple[ReadingRow, ...]
    hold_points: tuple[TimelineRow, ...]
    answers: tuple[TimelineRow, ...]
    engine_state: tuple[TimelineRow, ...]
    timeline: tuple[TimelineRow, ...]
    stages: tuple[StageRow, ...]
    plan_changes: tuple[PlanChange, ...]
    left_open: tuple[StepSummary, ...]


def page_rows(record: Record) -> PageRows:
    """The rows of a record's page."""
    header, context = record.header, Context(record.entries)
    return PageRows(
        begun=date_and_time(header.started),
        ended=date_and_time(header.ended),
        duration=span(header.duration),
        to_judge=tuple(concern for concern in record.concerns if concern.needs_judgement),
        to_note=tuple(concern for concern in record.concerns if not concern.needs_judgement),
        readings=tuple(reading_row(entry, context) for entry in record.of(f.ReadingRecorded)),
        hold_points=tuple(_row((entry,)) for entry in record.of(f.HoldPointPassed)),
        answers=tuple(_row((entry,)) for entry in record.of(f.AnswerRecorded)),
        engine_state=tuple(map(_row, _by_line(record.of(f.StateLearned, f.StateForgotten, f.WorkTakenUpAgain)))),
        timeline=tuple(_timeline(record)),
        stages=tuple(stage_row(summary, header.started) for summary in record.stages),
        plan_changes=tuple(_plan_changes(record)),
        left_open=tuple(step for step in record.steps if step.outcome is StepStatus.OPEN),
    )


def _plan_changes(record: Record) -> Iterator[PlanChange]:
    plans = ((entry, entry.fact) for entry in record.entries if isinstance(entry.fact, f.VisitPlanned))
    for entry, plan in list(plans)[1:]:
        yield PlanChange(entry.time, f"{capital(str(plan.because))}.")


def _timeline(record: Record) -> Iterator[TimelineRow]:
    """A row for all that came of one line of the journal in one step, and one for each gap, where lines would stand."""
    title, line, heading = "", 0, ""
    stages_headed: set[str] = set()
    stages = record.planned_stages()
    gaps = list(record.chain.gaps)
    for together in _by_line(record.entries):
        while gaps and gaps[0].after < together[0].line:
            yield _gap_row(gaps.pop(0))
        row = replace(_row(together), first=together[0].line != line)
        line = row.line
        place, part = together[0].place, together[0].part
        stage = None if place is None else stages.get(place.passage)
        begins = PART_HEADINGS.get(part, part) if stage is None else stage_heading(stage)
        if begins and begins != heading:
            heading = begins
            row = replace(row, heading=f"{heading}, continued" if heading in stages_headed else heading)
            stages_headed |= {heading} if stage is not None else set()
        yield replace(row, title="" if row.title == title and not row.heading else row.title)
        title = row.title
    yield from map(_gap_row, gaps)


def _by_line(entries: Iterable[RecordEntry]) -> Iterator[tuple[RecordEntry, ...]]:
    """Neighbours that came of one line in one step."""
    for _, group in groupby(entries, key=lambda entry: (entry.line, entry.title)):
        yield tuple(group)


def _row(entries: Sequence[RecordEntry]) -> TimelineRow:
    first = entries[0]
    clips = {clip.sha256: clip for entry in entries for clip in entry.clips}
    confidences = (entry.description.confidence for entry in entries)
    return TimelineRow(
        line=first.line,
        first=True,
        time=first.time,
        heading="",
        title=first.title,
        question=first.description.question,
        sentences=tuple(_sentences(entries)),
        confidence=next((confidence for confidence in confidences if confidence), ""),
        clips=tuple(clips.values()),
    )


def _sentences(entries: Sequence[RecordEntry]) -> Iterator[Sentence]:
    """What happened at one line. The finding of a value out of its limits repeats the value: a label is enough."""
    found = any(isinstance(entry.fact, f.FindingRecorded) for entry in entries)
    against = {kind for entry in entries if (kind := limit_concern(entry.fact)) is not None}
    of_value = found and bool(against)
    for entry in entries:
        if of_value and isinstance(entry.fact, f.FindingRecorded):
            continue
        for sentence in entry.description.sentences:
            if of_value and against.intersection(sentence.labels):
                yield replace(sentence, labels=(*sentence.labels, ConcernKind.FINDING))
            else:
                yield sentence


def _gap_row(gap: Gap) -> TimelineRow:
    """Where lines are damaged or missing, in the place where they would have stood."""
    lost = {None: "at the end, nobody can tell how many", 0: "none"}.get(gap.lost, str(gap.lost))
    words = f"Here the journal has a gap: {gap.cause} (line {gap.line} of the file). Lines lost: {lost}."
    return TimelineRow(gap.line, True, "", "", "", "", (Sentence(words, (ConcernKind.DAMAGED,)),), "", ())
