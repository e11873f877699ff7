"""A session, ready to be judged: its header, its entries, how its steps and stages ended, and what wants a look.

Knows how concerns of single facts come together. What each fact means to a supervisor stands in the file of its topic.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from assistant.quantities import counted
from assistant.record.concerns import ConcernKind
from assistant.record.counts import Counts
from assistant.record.entries import RecordEntry
from assistant.record.header import Chain, RecordHeader
from assistant.record.parts import is_substitute
from assistant.record.readings import limit_concern
from assistant.record.stages import StageOutcome, StageSummary, StepSummary
from assistant.session import facts as f
from assistant.session.inputs import Clip


@dataclass(frozen=True, slots=True)
class Concern:
    """Something for a supervisor to look at.

    kind: of concern.
    words: a sentence or two.
    entry: where it stands; None: it concerns the journal as a whole.
    """

    kind: ConcernKind
    words: str
    entry: RecordEntry | None

    @property
    def needs_judgement(self) -> bool:
        """Whether the supervisor must come to a judgement of it; the others were settled or only explain."""
        return self.kind.needs_judgement


@dataclass(frozen=True, slots=True)
class Record:
    """A session, ready to be judged.

    header: who, what, when.
    entries: in time order.
    steps: that were reached, in that order.
    stages: of a planned visit, in the order of the work, and behind them tasks that were put off.
    concerns: the gravest first.
    counts: the visit in numbers.
    chain: how far the journal is to be trusted.
    """

    header: RecordHeader
    entries: tuple[RecordEntry, ...]
    steps: tuple[StepSummary, ...]
    stages: tuple[StageSummary, ...]
    concerns: tuple[Concern, ...]
    counts: Counts
    chain: Chain

    def of(self, *kinds: type[f.Fact]) -> tuple[RecordEntry, ...]:
        """The entries whose fact is of one of these kinds, in time order."""
        return tuple(entry for entry in self.entries if isinstance(entry.fact, kinds))

    def planned_stages(self) -> dict[f.Passage, f.PlannedStage]:
        """The stages of every plan, also those given up, by procedure and time; as a later plan says."""
        plans = (entry.fact for entry in self.entries if isinstance(entry.fact, f.VisitPlanned))
        return {stage.passage: stage for plan in plans for stage in plan.stages}

    def clips(self) -> tuple[Clip, ...]:
        """Every sound that is cited, once, in time order."""
        return tuple({clip.sha256: clip for entry in self.entries for clip in entry.clips}.values())

    def result(self) -> str:
        """How the work ended, in a sentence or two."""
        header, counts = self.header, self.counts
        titles = [summary.stage.title for summary in self.stages if summary.outcome is StageOutcome.PUT_OFF]
        put_off = f" Put off: {', '.join(titles)}." if titles else ""
        if header.complete:
            left_out = f", {counts.skipped} of them left out with a reason" if counts.skipped else ""
            every = "all " if counts.steps > 1 else ""
            return f"Complete: {every}{counted(counts.steps, 'step')}{left_out}.{put_off}"
        are = f"{counts.left_open} of {counted(counts.steps, 'step')} {'is' if counts.left_open == 1 else 'are'} open"
        if header.ending is None:
            return f"Broken off and not ended: {are}.{put_off}"
        return f"Ended early ({header.ending}): {are}.{put_off}"


def concerns_of(header: RecordHeader, entries: tuple[RecordEntry, ...], chain: Chain) -> tuple[Concern, ...]:
    """What a supervisor should look at, the gravest first, and those of one kind in time order."""
    order = list(ConcernKind)
    found = (*_of_journal(header, chain), *_of_entries(entries))
    return tuple(sorted(found, key=lambda concern: order.index(concern.kind)))


def _of_journal(header: RecordHeader, chain: Chain) -> Iterator[Concern]:
    if chain.damage:
        yield Concern(ConcernKind.DAMAGED, chain.damage_in_words(), None)
    if chain.torn:
        yield Concern(ConcernKind.LAST_LINE_TORN, chain.torn_in_words(), None)
    if header.ending is None:
        yield Concern(ConcernKind.BROKEN_OFF, "The visit was broken off: nobody ended the work.", None)


def _of_entries(entries: tuple[RecordEntry, ...]) -> Iterator[Concern]:
    """A finding that is only the reading or the part of the same line is not told twice."""
    found_otherwise = {entry.line for entry in entries if limit_concern(entry.fact) or is_substitute(entry.fact)}
    for entry in entries:
        for kind, words in entry.description.concerns.items():
            if kind is not ConcernKind.FINDING or entry.line not in found_otherwise:
                yield Concern(kind, words, entry)
