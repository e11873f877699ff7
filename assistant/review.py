"""A session as what a supervisor needs to judge it: the visit's facts in time order, what stands, what wants a look.

Knows facts and their order. Refuses to know procedures (an old record reads without them), files, and wording:
how anything is written on a page is the edge's business.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import assert_never

from assistant.errors import RecordError
from assistant.session import facts as f
from assistant.session.clocks import elapsed_since_first
from assistant.session.encoding import JournalEntry as Decided
from assistant.session.inputs import Clip, Heard, Instant, Order, ProcedureCopy, SessionSalvaged, Silence, Source
from assistant.session.journal import Gap, Journal

HAZARD = "Hazard"  # name of the message that speaks a warning, as facts keep it
NOT_KNOWN = "not known"
UNKNOWN_WORK = f.WorkTakenUp(Order(NOT_KNOWN, NOT_KNOWN, NOT_KNOWN, (), (), demo=False), NOT_KNOWN, 0)
"""In place of the line that began the visit, where that is damaged."""
REPEATED = 2  # failed hearings of one question from which on a supervisor is told


class Fate(StrEnum):
    """What became of an entry later in the visit."""

    STANDS = "stands"
    REPEATED = "repeated"  # measured or answered once more; both remain
    TAKEN_BACK = "taken back"  # withdrawn by a correction


@dataclass(frozen=True, slots=True)
class RecordEntry:
    """One fact where it happened.

    line: of the journal, from 1. elapsed: seconds since the visit began. title, part: of the step it belongs to, empty
    outside steps. troubles: failed hearings, questioned values and refused read-backs of the same question before it.
    clip: its sound. spoken: the sound of the words that brought it about, where its own is another one (a confirmation,
    a refusal). fate, later: what became of it, and at which line. settled: of a finding, the line of the answer
    after which the same check was in order.
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
    troubles: tuple[f.Fact, ...] = ()
    fate: Fate = Fate.STANDS
    later: int | None = None
    settled: int | None = None


class StepStatus(StrEnum):
    """How a step ended, as things stand."""

    DONE = "done"
    SKIPPED = "skipped"
    OPEN = "open"


@dataclass(frozen=True, slots=True)
class StepSummary:
    """A step that was reached. began, ended: seconds since the visit began; reopened: how many times."""

    place: f.StepPlace
    title: str
    part: str
    outcome: StepStatus
    began: float
    ended: float | None
    reopened: int


class StageOutcome(StrEnum):
    """What became of a stage of a planned visit."""

    DONE = "done"
    PUT_OFF = "put off"
    NOT_DONE = "not done"


@dataclass(frozen=True, slots=True)
class StageSummary:
    """A stage of the plan as it stood last, or a task that was put off. began, ended: seconds since the visit began,
    None where it did not; a task put off ended then. reason: why a task was put off, or why it was added."""

    stage: f.PlannedStage
    outcome: StageOutcome
    began: float | None
    ended: float | None
    reason: str


class ConcernKind(StrEnum):
    """What a supervisor should look at. The order is that in which it is shown."""

    DAMAGED = "journal damaged"
    SALVAGED = "salvaged"
    LINES_MISSING = "lines may be missing"
    HELP_CALLED = "help called"
    CLOCK = "clock in doubt"
    BESIDE = "two at work"
    ENDED_EARLY = "ended early"
    BROKEN_OFF = "broken off"
    FINDING = "finding"
    SUBSTITUTE = "substitute"
    STEP_WRONG = "step wrong"
    NOTE = "note"
    OUT_OF_LIMITS = "out of limits"
    INCONCLUSIVE = "inconclusive"
    IN_DOUBT = "in doubt"
    WARNING_CUT_OFF = "warning cut off"
    PUT_OFF = "put off"
    SKIPPED = "left out"
    HOLD_TYPED = "hold point typed"
    PART_REFUSED = "part refused"
    MEASURED_AGAIN = "measured again"
    CORRECTED = "corrected"
    TAKEN_BACK = "taken back"
    QUESTIONED = "hard to believe"
    BADLY_HEARD = "badly heard"
    STATE_FORGOTTEN = "state forgotten"
    DEVICE_LOST = "device lost"
    COPY_REPLACED = "copy replaced"
    TORN = "last line torn"


_GRAVE = (
    ConcernKind.DAMAGED,
    ConcernKind.SALVAGED,
    ConcernKind.LINES_MISSING,
    ConcernKind.HELP_CALLED,
    ConcernKind.CLOCK,
    ConcernKind.BESIDE,
    ConcernKind.ENDED_EARLY,
    ConcernKind.BROKEN_OFF,
    ConcernKind.FINDING,
    ConcernKind.SUBSTITUTE,
    ConcernKind.STEP_WRONG,  # the trainer corrects the step; whether the work by it stands, the supervisor judges
    ConcernKind.NOTE,
    ConcernKind.OUT_OF_LIMITS,
    ConcernKind.INCONCLUSIVE,
    ConcernKind.IN_DOUBT,
    ConcernKind.WARNING_CUT_OFF,
    ConcernKind.PUT_OFF,
    ConcernKind.SKIPPED,
)


@dataclass(frozen=True, slots=True)
class Concern:
    """Something to look at. entry: where it stands; None when it concerns the journal as a whole."""

    kind: ConcernKind
    entry: RecordEntry | None

    @property
    def grave(self) -> bool:
        """Whether the supervisor must come to a judgement of it; the others were settled or only explain."""
        return self.kind in _GRAVE


@dataclass(frozen=True, slots=True)
class RecordHeader:
    """Who, what, when. asset, model, technician, tasks: as ordered; technicians: everyone who took the work up, in
    order; started, ended: ISO 8601 in UTC, `ended` of the last line; duration: seconds; boots: runs of the device's
    clock that the visit crossed."""

    asset: str
    model: str
    title: str
    tasks: tuple[str, ...]
    technicians: tuple[str, ...]
    copies: tuple[ProcedureCopy, ...]
    demo: bool
    started: str
    ended: str
    duration: float
    boots: int
    complete: bool
    ending: str | None


@dataclass(frozen=True, slots=True)
class Counts:
    """The visit in numbers. steps: of the whole work, by the plan as it stood last; of those done, skipped (left out
    with a reason), passed_over (they did not apply) and left_open. readings and answers: those not taken back."""

    steps: int
    done: int
    skipped: int
    passed_over: int
    left_open: int
    readings: int
    out_of_limits: int
    in_doubt: int
    answers: int
    answers_not_good: int
    hold_points: int
    findings: int
    utterances: int
    typed: int
    not_understood: int
    silences: int
    read_backs_refused: int
    taken_back: int
    requests_refused: int
    late: int
    prompts_cut_off: int
    clips: int


@dataclass(frozen=True, slots=True)
class Chain:
    """How far the journal is to be trusted.

    lines: verified, each by its hash.
    last_hash: of the last of them.
    torn: bytes of a last line that was never completed.
    damage: what is wrong in the file, empty when nothing is.
    gaps: where lines are damaged or missing, in order; those behind them are shown all the same.
    """

    lines: int
    last_hash: str
    torn: int
    damage: str
    gaps: tuple[Gap, ...] = ()


@dataclass(frozen=True, slots=True)
class Record:
    """A session, ready to be judged. entries: in time order; stages: of a planned visit, in the order of the work, and
    behind them tasks that were put off; concerns: the gravest first."""

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

    def planned(self) -> dict[f.Passage, f.PlannedStage]:
        """The stages of every plan, also those given up, by procedure and time; as a later plan says."""
        plans = (entry.fact for entry in self.entries if isinstance(entry.fact, f.VisitPlanned))
        return {stage.passage: stage for plan in plans for stage in plan.stages}

    def clips(self) -> tuple[Clip, ...]:
        """Every sound that is cited, once, in time order."""
        sounds = (clip for entry in self.entries for clip in (entry.clip, entry.spoken) if clip)
        return tuple({clip.sha256: clip for clip in sounds}.values())


def record(journal: Journal, damage: str = "") -> Record:
    """The record of a journal: of its lines that were verified.

    damage: what is wrong in the file, in words. Errors: RecordError when no work was ever taken up in it.
    """
    begun = next((fact for fact, _ in journal.facts() if isinstance(fact, f.WorkTakenUp)), None)
    if begun is None and (journal.gaps or any(isinstance(fact, f.SalvageMade) for fact, _ in journal.facts())):
        begun = UNKNOWN_WORK
    if begun is None:
        raise RecordError("journal", "no work was taken up in it", "Begin one with `enginebay work`")
    entries = _with_fates(tuple(_entries(journal)))
    steps = _steps(journal)
    chain = Chain(len(journal.entries), journal.last_hash, len(journal.torn), damage, journal.gaps)
    header = _header(journal, begun, entries)
    counts = _counts(journal, begun, entries, steps)
    return Record(header, entries, steps, _stages(journal), _concerns(header, entries, chain), counts, chain)


_JUDGED = {
    f.ReadingVerdict.LOW: ConcernKind.OUT_OF_LIMITS,
    f.ReadingVerdict.HIGH: ConcernKind.OUT_OF_LIMITS,
    f.ReadingVerdict.INCONCLUSIVE: ConcernKind.INCONCLUSIVE,
}


def fault_of(entry: RecordEntry) -> ConcernKind | None:
    """What the verdict on a value says against it; None: nothing, or the entry is no value."""
    fact = entry.fact
    return _JUDGED.get(fact.verdict) if isinstance(fact, f.ReadingRecorded | f.CalculationRecorded) else None


def out_of_limits(entry: RecordEntry) -> bool:
    """Whether the entry is a reading outside its limits."""
    return isinstance(entry.fact, f.ReadingRecorded) and fault_of(entry) is ConcernKind.OUT_OF_LIMITS


def _elapsed(journal: Journal) -> Callable[[Instant], float]:
    """From a moment of the visit to the seconds since it began."""
    return elapsed_since_first(entry.envelope.at for entry in _of_visit(journal))


def _of_visit(journal: Journal) -> Sequence[Decided]:
    """The decisions of the visit itself: a salvage begins with one that was made later."""
    return [
        entry for entry in journal.entries if not isinstance(entry.envelope.input, SessionSalvaged)
    ] or journal.entries


def _entries(journal: Journal) -> Iterator[RecordEntry]:
    """Every fact that a reader needs; what only opens and closes questions is left out."""
    elapsed = _elapsed(journal)
    focus: f.StepReached | None = None
    known: dict[f.StepPlace, f.StepReached] = {}
    heard: Clip | None = None
    troubles: list[f.Fact] = []
    for decision in journal.entries:
        line, at, given = decision.envelope.number, decision.envelope.at, decision.envelope.input
        # the sound of a command stands in no fact; it goes with the first thing that came of it
        loose = given.clip if isinstance(given, Heard) and given.clip not in map(_clip, decision.facts) else None
        for fact in decision.facts:
            clip = _clip(fact)
            shown = True
            match fact:
                case f.StepReached():
                    if focus is None or focus.place != fact.place:
                        troubles = []
                    focus = known[fact.place] = fact
                    shown = False
                case f.ReadingHeard():
                    heard = fact.clip
                    shown = False
                case f.ReadBackRefused():
                    clip = heard
                case f.Spoken():
                    shown = not all(said.whole for said in fact.said)
                case f.ExchangeOpened() | f.ExchangeClosed() | f.TaskChosen():
                    shown = False
                case f.LateAnswerDropped():
                    shown = fact.exchange > 0  # older journals have a timer that was over as exchange 0: no answer
                case (
                    f.SalvageMade()
                    | f.ClockDoubted()
                    | f.WorkedBeside()
                    | f.FilesSetAside()
                    | f.CopyReplaced()
                    | f.WorkTakenUp()
                    | f.WorkTakenUpAgain()
                    | f.VisitPlanned()
                    | f.StageDone()
                    | f.TaskPutOff()
                    | f.TaskAdded()
                    | f.HistoryTakenOver()
                    | f.DoneBefore()
                    | f.StepDone()
                    | f.StepSkipped()
                    | f.StepReopened()
                    | f.HearingFailed()
                    | f.MannerChanged()
                    | f.UnitAsked()
                    | f.UnitTakenBack()
                    | f.ReadingQuestioned()
                    | f.ReadingRecorded()
                    | f.ReadingWithdrawn()
                    | f.CalculationRecorded()
                    | f.AnswerRecorded()
                    | f.FindingRecorded()
                    | f.HoldPointPassed()
                    | f.TimerStarted()
                    | f.TimerEnded()
                    | f.StateLearned()
                    | f.StateForgotten()
                    | f.StoodBy()
                    | f.CarriedOn()
                    | f.RequestRefused()
                    | f.DeviceLost()
                    | f.NoteKept()
                    | f.ObjectDropped()
                    | f.ObjectAccounted()
                    | f.StepPassedOver()
                    | f.HalfDone()
                    | f.PartFitted()
                    | f.PartRefused()
                    | f.ReadingCollected()
                    | f.SetRefused()
                    | f.WorkHandedOver()
                    | f.HelpCalled()
                    | f.VoiceChanged()
                    | f.WorkEnded()
                ):
                    pass
                case _:
                    assert_never(fact)
            if shown:
                clip, spoken, loose = clip or loose, loose if clip else None, None
                step = focus if (place := _place(fact)) is None else known.get(place)
                takes = isinstance(fact, f.ReadingRecorded | f.AnswerRecorded | f.HoldPointPassed)
                yield RecordEntry(
                    line,
                    at,
                    elapsed(at),
                    place or (None if focus is None else focus.place),
                    "" if step is None else step.title,
                    "" if step is None else step.part,
                    fact,
                    clip,
                    spoken,
                    tuple(troubles) if takes else (),
                )
                if takes:
                    troubles = []
            if isinstance(fact, f.HearingFailed | f.ReadingQuestioned | f.ReadBackRefused):
                troubles.append(fact)
            if isinstance(fact, f.StepDone | f.StepSkipped | f.StepReopened):
                focus, troubles = None, []


def _place(fact: f.Fact) -> f.StepPlace | None:
    place = getattr(fact, "place", None)
    return place if isinstance(place, f.StepPlace) else None


def _clip(fact: f.Fact) -> Clip | None:
    clip = getattr(fact, "clip", None)
    return clip if isinstance(clip, Clip) else None


def _with_fates(entries: tuple[RecordEntry, ...]) -> tuple[RecordEntry, ...]:
    """The entries with what became of each later."""
    result = list(entries)

    def same_place(index: int, *kinds: type[f.Fact]) -> Iterator[int]:
        for earlier in range(index):
            entry = result[earlier]
            if entry.place == result[index].place and isinstance(entry.fact, kinds):
                yield earlier

    def ends_of_stage(index: int, place: f.StepPlace) -> Iterator[int]:
        for earlier in range(index):
            match result[earlier].fact:
                case f.StageDone(stage) if stage.passage == place.passage:
                    yield earlier
                case _:
                    pass

    for index, entry in enumerate(entries):
        match entry.fact:
            case f.ReadingRecorded() | f.AnswerRecorded() | f.CalculationRecorded():
                for earlier in same_place(index, type(entry.fact)):
                    if result[earlier].fate is Fate.STANDS and _name(result[earlier].fact) == _name(entry.fact):
                        result[earlier] = replace(result[earlier], fate=Fate.REPEATED, later=entry.line)
                if isinstance(entry.fact, f.AnswerRecorded) and entry.fact.good:
                    for earlier in same_place(index, f.FindingRecorded):
                        if result[earlier].settled is None and result[earlier].line < entry.line:
                            result[earlier] = replace(result[earlier], settled=entry.line)
            case f.ReadingWithdrawn():
                for earlier in same_place(index, f.ReadingRecorded):
                    if result[earlier].fate is not Fate.TAKEN_BACK and _name(result[earlier].fact) == entry.fact.name:
                        result[earlier] = replace(result[earlier], fate=Fate.TAKEN_BACK, later=entry.line)
            case f.StepReopened():
                kinds = (f.AnswerRecorded, f.CalculationRecorded, f.HoldPointPassed)
                ways = (f.StepDone, f.StepSkipped, f.StepPassedOver)
                for earlier in (*same_place(index, *kinds, *ways), *ends_of_stage(index, entry.fact.place)):
                    if result[earlier].fate is not Fate.TAKEN_BACK:
                        result[earlier] = replace(result[earlier], fate=Fate.TAKEN_BACK, later=entry.line)
            case _:
                pass
    return tuple(result)


def _name(fact: f.Fact) -> str:
    """The reading's name, where a step may have several; empty for what is no reading."""
    return fact.name if isinstance(fact, f.ReadingRecorded) else ""


def _steps(journal: Journal) -> tuple[StepSummary, ...]:
    since_begun = _elapsed(journal)
    steps: dict[f.StepPlace, StepSummary] = {}
    for fact, at in journal.facts():
        elapsed = since_begun(at)
        if isinstance(fact, f.StepReached | f.StepDone | f.StepSkipped) and fact.place not in steps:
            part = fact.part if isinstance(fact, f.StepReached) else ""  # the line that reached it may be damaged
            steps[fact.place] = StepSummary(fact.place, fact.title, part, StepStatus.OPEN, elapsed, None, 0)
        match fact:
            case f.StepDone():
                steps[fact.place] = replace(steps[fact.place], outcome=StepStatus.DONE, ended=elapsed)
            case f.StepSkipped():
                steps[fact.place] = replace(steps[fact.place], outcome=StepStatus.SKIPPED, ended=elapsed)
            case f.StepReopened() if fact.place in steps:  # one that was passed over may never have been reached
                step = steps[fact.place]
                steps[fact.place] = replace(step, outcome=StepStatus.OPEN, ended=None, reopened=step.reopened + 1)
            case _:
                pass
    return tuple(steps.values())


def _passed_over(journal: Journal) -> set[f.StepPlace]:
    """The steps that do not apply, as things stand."""
    places: set[f.StepPlace] = set()
    for fact, _ in journal.facts():
        match fact:
            case f.StepPassedOver():
                places.add(fact.place)
            case f.StepReopened() | f.StepDone() | f.StepSkipped():
                places.discard(fact.place)
            case _:
                pass
    return places


def _stages(journal: Journal) -> tuple[StageSummary, ...]:
    elapsed = _elapsed(journal)
    plan: tuple[f.PlannedStage, ...] = ()
    known: dict[str, f.PlannedStage] = {}
    put_off: dict[str, tuple[f.TaskPutOff, float]] = {}
    added: dict[str, str] = {}
    began: dict[f.Passage, float] = {}
    ended: dict[f.Passage, float] = {}
    for fact, at in journal.facts():
        match fact:
            case f.VisitPlanned():
                plan = fact.stages
                known |= {stage.name: stage for stage in plan}
            case f.TaskPutOff():
                put_off[fact.task] = fact, elapsed(at)
            case f.TaskAdded():
                put_off.pop(fact.task, None)
                added[fact.task] = fact.reason
            case f.StepReached():
                began.setdefault(fact.place.passage, elapsed(at))
            case f.StageDone():
                ended[fact.stage.passage] = elapsed(at)
            case f.StepReopened():
                ended.pop(fact.place.passage, None)
            case _:
                pass

    def summary(stage: f.PlannedStage) -> StageSummary:
        place = stage.passage
        outcome = StageOutcome.DONE if place in ended else StageOutcome.NOT_DONE
        return StageSummary(stage, outcome, began.get(place), ended.get(place), added.get(stage.name, ""))

    def left_out(task: str) -> StageSummary:
        fact, at = put_off[task]
        stage = known.get(task, f.PlannedStage(task, task, fact.title, True))
        begun = began.get(stage.passage)
        return StageSummary(stage, StageOutcome.PUT_OFF, begun, at, fact.reason)

    return (*map(summary, plan), *map(left_out, put_off))


def _header(journal: Journal, begun: f.WorkTakenUp, entries: tuple[RecordEntry, ...]) -> RecordHeader:
    visit = _of_visit(journal)
    first, last = visit[0].envelope.at, visit[-1].envelope.at
    others = (f.WorkTakenUpAgain, f.WorkHandedOver)
    again = tuple(entry.fact.technician for entry in entries if isinstance(entry.fact, others))
    ended = next((entry.fact for entry in entries if isinstance(entry.fact, f.WorkEnded)), None)
    order = begun.order
    return RecordHeader(
        asset=order.asset,
        model=order.model,
        title=begun.title,
        tasks=order.tasks,
        technicians=tuple(dict.fromkeys((order.technician, *again))),
        copies=order.copies,
        demo=order.demo,
        started=first.wall,
        ended=last.wall,
        duration=_elapsed(journal)(last),
        boots=len({entry.envelope.at.boot for entry in journal.entries}),
        complete=ended is not None and ended.complete,
        ending=None if ended is None else str(ended.because),
    )


def _counts(
    journal: Journal, begun: f.WorkTakenUp, entries: tuple[RecordEntry, ...], steps: tuple[StepSummary, ...]
) -> Counts:
    kept = [entry for entry in entries if entry.fate is not Fate.TAKEN_BACK]
    readings = [entry for entry in kept if isinstance(entry.fact, f.ReadingRecorded)]
    answers = [entry.fact for entry in kept if isinstance(entry.fact, f.AnswerRecorded)]
    failed = [entry.fact.failure for entry in entries if isinstance(entry.fact, f.HearingFailed)]
    heard = [entry.envelope.input for entry in journal.entries if isinstance(entry.envelope.input, Heard)]
    plans = [entry.fact for entry in entries if isinstance(entry.fact, f.VisitPlanned)]
    whole = plans[-1].steps if plans else begun.steps
    if begun is UNKNOWN_WORK and not plans:  # only those that were seen are known
        whole = len({step.place for step in steps} | _passed_over(journal))
    planned = {stage.passage for stage in (plans[-1].stages if plans else ())}

    def counts(place: f.StepPlace) -> bool:
        return not plans or place.passage in planned

    done = sum(step.outcome is StepStatus.DONE for step in steps if counts(step.place))
    skipped = sum(step.outcome is StepStatus.SKIPPED for step in steps if counts(step.place))
    passed_over = sum(map(counts, _passed_over(journal)))

    def how_many(kind: type[f.Fact]) -> int:
        return sum(isinstance(entry.fact, kind) for entry in entries)

    return Counts(
        steps=whole,
        done=done,
        skipped=skipped,
        passed_over=passed_over,
        left_open=whole - done - skipped - passed_over,
        readings=len(readings),
        out_of_limits=sum(out_of_limits(entry) and entry.fate is Fate.STANDS for entry in readings),
        in_doubt=sum(_doubt(entry) for entry in readings),
        answers=len(answers),
        answers_not_good=sum(not answer.good for answer in answers),
        hold_points=sum(isinstance(entry.fact, f.HoldPointPassed) for entry in kept),
        findings=how_many(f.FindingRecorded),
        utterances=sum(utterance.source is Source.VOICE for utterance in heard),
        typed=sum(utterance.source is Source.TYPED for utterance in heard),
        not_understood=sum(failure is not f.Failure.SILENCE for failure in failed),
        silences=sum(isinstance(entry.envelope.input, Silence) for entry in journal.entries),
        read_backs_refused=how_many(f.ReadBackRefused),
        taken_back=how_many(f.StepReopened),
        requests_refused=how_many(f.RequestRefused),
        late=how_many(f.LateAnswerDropped),
        prompts_cut_off=how_many(f.Spoken),
        clips=len({clip.sha256 for entry in entries for clip in (entry.clip, entry.spoken) if clip}),
    )


def _doubt(entry: RecordEntry) -> bool:
    return isinstance(entry.fact, f.ReadingRecorded) and bool(entry.fact.doubt)


def _concerns(header: RecordHeader, entries: tuple[RecordEntry, ...], chain: Chain) -> tuple[Concern, ...]:
    found: list[Concern] = []
    if chain.damage:
        found.append(Concern(ConcernKind.DAMAGED, None))
    if chain.torn:
        found.append(Concern(ConcernKind.TORN, None))
    if header.ending is None:
        found.append(Concern(ConcernKind.BROKEN_OFF, None))
    told = {entry.line for entry in entries if fault_of(entry) is not None or _is_substitute(entry.fact)}
    for entry in entries:
        for kind in _kinds_of_concern(entry):
            if kind is not ConcernKind.FINDING or entry.line not in told:  # that finding is the reading or part itself
                found.append(Concern(kind, entry))
    order = list(ConcernKind)
    return tuple(sorted(found, key=lambda concern: order.index(concern.kind)))


def _is_substitute(fact: f.Fact) -> bool:
    return isinstance(fact, f.PartFitted) and not fact.number


def _kinds_of_concern(entry: RecordEntry) -> Iterator[ConcernKind]:
    fact = entry.fact
    match fact:
        case f.SalvageMade():
            yield ConcernKind.SALVAGED
        case f.FilesSetAside() if fact.sounds:
            yield ConcernKind.LINES_MISSING
        case f.ClockDoubted():
            yield ConcernKind.CLOCK
        case f.WorkedBeside():
            yield ConcernKind.BESIDE
        case f.CopyReplaced():
            yield ConcernKind.COPY_REPLACED
        case f.FindingRecorded():
            yield ConcernKind.FINDING
        case f.NoteKept(subject=f.Subject.NOTE):  # of a spoken finding there is a finding besides
            yield ConcernKind.NOTE
        case f.NoteKept(subject=f.Subject.STEP_WRONG):
            yield ConcernKind.STEP_WRONG
        case f.HelpCalled():
            yield ConcernKind.HELP_CALLED
        case f.PartFitted() if _is_substitute(fact):
            yield ConcernKind.SUBSTITUTE
        case f.PartRefused():
            yield ConcernKind.PART_REFUSED
        case f.HoldPointPassed() if fact.source is Source.TYPED and entry.fate is not Fate.TAKEN_BACK:
            yield ConcernKind.HOLD_TYPED
        case f.CalculationRecorded() if entry.fate is Fate.STANDS:
            if against := fault_of(entry):
                yield against
        case f.ReadingRecorded() if entry.fate is not Fate.TAKEN_BACK:
            if against := fault_of(entry):
                yield ConcernKind.MEASURED_AGAIN if entry.fate is Fate.REPEATED else against
            if fact.doubt:
                yield ConcernKind.IN_DOUBT
            if any(isinstance(trouble, f.ReadBackRefused) for trouble in entry.troubles):
                yield ConcernKind.CORRECTED
            if any(isinstance(trouble, f.ReadingQuestioned) for trouble in entry.troubles):
                yield ConcernKind.QUESTIONED
        case f.TaskPutOff():
            yield ConcernKind.PUT_OFF
        case f.StepSkipped() if entry.fate is not Fate.TAKEN_BACK:
            yield ConcernKind.SKIPPED
        case f.StepReopened():
            yield ConcernKind.TAKEN_BACK
        case f.Spoken() if any(said.name == HAZARD and not said.whole for said in fact.said):
            yield ConcernKind.WARNING_CUT_OFF
        case f.StateForgotten() | f.WorkTakenUpAgain():
            yield ConcernKind.STATE_FORGOTTEN
        case f.DeviceLost():
            yield ConcernKind.DEVICE_LOST
        case f.WorkEnded() if not fact.complete:
            yield ConcernKind.ENDED_EARLY
        case _:
            pass
    failures = [trouble for trouble in entry.troubles if isinstance(trouble, f.HearingFailed)]
    if sum(failure.failure is not f.Failure.SILENCE for failure in failures) >= REPEATED:
        yield ConcernKind.BADLY_HEARD
