"""The shape of a record's entry: one fact where it happened, and what a record says of it.

Knows what every entry has. Refuses to know any single fact: each is described in the file of its topic.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import TypedDict, assert_never

from assistant.record.concerns import ConcernKind, Label
from assistant.record.phrases import time_of_day
from assistant.session import facts as f
from assistant.session.inputs import Clip, Instant, Source

FailedAttempt = f.HearingFailed | f.ReadingQuestioned | f.ReadBackRefused
"""What can go wrong at a question before its answer is recorded."""


class EntryStatus(StrEnum):
    """What became of an entry later in the visit. The values are published."""

    STANDS = "stands"
    REPEATED = "repeated"  # measured or answered once more; both remain
    TAKEN_BACK = "taken back"  # withdrawn by a correction


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence of the record.

    words: the sentence.
    labels: what marks it, in words of its own.
    """

    words: str
    labels: tuple[ConcernKind | Label, ...] = ()


class Cells(TypedDict, total=False):
    """The cells of the exported table that a fact fills itself; a cell that it leaves out is empty."""

    what: str
    name: str
    text: str
    value: Decimal
    unit: str
    low: Decimal
    high: Decimal
    limits: str
    judged: str
    stage: str
    reason: str
    doubt: str
    circumstances: str
    instrument: str
    spread: Decimal
    confidence: float
    source: str


@dataclass(frozen=True, slots=True)
class Description:
    """What a record says of one fact.

    sentences: what happened; without one, the fact does not stand in the record.
    cells: its row of the exported table; empty: it has none.
    concerns: what it means to a supervisor, kind -> in words.
    question: what was asked, of an answer to a check.
    confidence: of the hearing of an answer, such as "0.97", or "typed"; empty: it is no answer.
    """

    sentences: tuple[Sentence, ...]
    cells: Cells = field(default_factory=Cells)
    concerns: Mapping[ConcernKind, str] = field(default_factory=dict)
    question: str = ""
    confidence: str = ""


NOT_IN_RECORD = Description(())
"""Of a fact that only opens or closes a question."""


@dataclass(frozen=True, slots=True)
class RecordEntry:
    """One fact where it happened.

    line: of the journal, from 1.
    at: the moment.
    elapsed: seconds since the visit began.
    place: the step that it belongs to; None: none was reached.
    title: of that step; empty outside steps.
    part: of the procedure that the step is in; empty outside steps.
    fact: what happened.
    clip: its sound.
    spoken: sound of the words that brought it about, where its own is another one (a confirmation, a refusal).
    failed_attempts: at the same question before it.
    status: what became of it.
    superseded_by: line at which it was repeated or taken back; None: it stands.
    resolved_by: of a finding, line of the answer after which the same check was in order.
    description: what the record says of it.
    """

    line: int
    at: Instant
    elapsed: float
    place: f.StepPlace | None
    title: str
    part: str
    fact: f.Fact
    clip: Clip | None = None
    spoken: Clip | None = None
    failed_attempts: tuple[FailedAttempt, ...] = ()
    status: EntryStatus = EntryStatus.STANDS
    superseded_by: int | None = None
    resolved_by: int | None = None
    description: Description = NOT_IN_RECORD

    @property
    def time(self) -> str:
        """When it happened, as `07:41:08`."""
        return time_of_day(self.at.wall)

    @property
    def stands(self) -> bool:
        """Whether it was neither repeated nor taken back."""
        return self.status is EntryStatus.STANDS

    @property
    def taken_back(self) -> bool:
        """Whether it was taken back."""
        return self.status is EntryStatus.TAKEN_BACK

    @property
    def clips(self) -> tuple[Clip, ...]:
        """Its sounds."""
        return tuple(clip for clip in (self.clip, self.spoken) if clip)


@dataclass(frozen=True, slots=True)
class Context:
    """What the description of an entry may need besides it.

    entries: in time order, with what became of each.
    """

    entries: tuple[RecordEntry, ...]

    def time_of_line(self, line: int | None) -> str:
        """When a line of the journal was written, as `07:41:08`; empty when there is none."""
        return next((entry.time for entry in self.entries if entry.line == line), "")

    def later_status(self, entry: RecordEntry, repeated: str) -> str:
        """What became of an entry, as a sentence; empty while it stands. repeated: how it is said that it was."""
        match entry.status:
            case EntryStatus.STANDS:
                return ""
            case EntryStatus.REPEATED:
                return f"{repeated} at {self.time_of_line(entry.superseded_by)}."
            case EntryStatus.TAKEN_BACK:
                return f"Taken back at {self.time_of_line(entry.superseded_by)}."
            case _:
                assert_never(entry.status)


def only(words: str, *labels: ConcernKind | Label) -> Description:
    """The description of a fact of which there is one sentence, and nothing else."""
    return Description((Sentence(words, labels),))


def concerning(kind: ConcernKind, words: str) -> Description:
    """The description of a fact of which there is one sentence, and which is a concern in the same words."""
    return Description((Sentence(words, (kind,)),), concerns={kind: words})


def sentences(*texts: str) -> tuple[Sentence, ...]:
    """A sentence, without labels, for each text that is not empty."""
    return tuple(Sentence(words) for words in texts if words)


def joined(text: Sequence[Sentence]) -> str:
    """The words of several sentences, one after another."""
    return " ".join(sentence.words for sentence in text)


def heard_or_typed(confidence: float, source: Source) -> str:
    """How an answer came: the confidence of its hearing, 0 to 1, or "typed"."""
    return "typed" if source is Source.TYPED else f"{confidence:.2f}"
