"""The record as a page: one HTML file for screen and paper.

Knows how a record is worded and laid out (`templates/record.html`), and where a session's files lie. Judges nothing:
what wants a look was decided in `assistant/review.py`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import assert_never

from assistant.edge.files.due_next import NextDue, due_next
from assistant.edge.files.evidence import attachments, evidence_in_words, write_record
from assistant.errors import QuantityError
from assistant.planning.past import in_hours
from assistant.quantities import UNITS, counted, parse_limits, plain
from assistant.review import (
    HAZARD,
    Chain,
    Concern,
    ConcernKind,
    Fate,
    Record,
    RecordEntry,
    StageOutcome,
    StageSummary,
    StepStatus,
    fault_of,
    record,
)
from assistant.session import facts as f
from assistant.session.inputs import AudioProblem, Clip, Source
from assistant.session.journal import Gap

PAGE = "record.html"
PARTS = {"before": "Before the work", "steps": "The work", "after": "Putting back into service"}
SUBJECTS = {
    f.Subject.NOTE: "A note",
    f.Subject.FINDING: "A finding, spoken",
    f.Subject.STEP_WRONG: "What is wrong with this step, for the trainer",
}
REFUSALS = {  # names of messages, as facts keep them
    "HoldStays": "a hold point passes only on its own phrase",
    "TimerNotOver": "the time was not over",
    "AnswerNeeded": "the question wanted an answer",
    "CannotSkip": "the step must not be left out",
    "CannotReopen": "the engine's state did not allow it",
    "NothingToCorrect": "there was nothing to take back",
}
MANNERS = {
    f.Manner.PLAIN: "in the usual way",
    f.Manner.CHOICES: "with the choices spoken",
    f.Manner.DIGITS: "digit by digit",
    f.Manner.HANDS: "by button or keyboard",
}


@dataclass(frozen=True, slots=True)
class Sound:
    """A clip as shown. short: beginning of its hash, for paper; href: None when it is not there."""

    short: str
    seconds: str
    href: str | None


@dataclass(frozen=True, slots=True)
class Text:
    """A sentence with what marks it, in words."""

    words: str
    marks: tuple[str, ...] = ()


def _text(words: str, *marks: str) -> Text:
    return Text(words, marks)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the journal as shown. first: of the rows of that line; part: heading before it, when another part of
    the procedure begins; question: what was asked, where that is shown."""

    line: int
    first: bool
    time: str
    part: str
    title: str
    texts: tuple[Text, ...]
    heard: str
    sounds: tuple[Sound, ...]
    question: str = ""


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """A reading as shown. gone: it was taken back; mark: what is not in order about it, in words."""

    line: int
    time: str
    name: str
    value: str
    stage: str
    limits: str
    judged: str
    marks: tuple[str, ...]
    notes: tuple[str, ...]
    heard: str
    sound: Sound | None
    gone: bool


@dataclass(frozen=True, slots=True)
class Remark:
    """Something for the supervisor to look at. line: of the journal, None when it concerns the whole."""

    mark: str
    words: str
    time: str
    line: int | None


@dataclass(frozen=True, slots=True)
class StageRow:
    """A stage of a planned visit as shown. mark: what became of it where it was not done; became: the rest of that;
    reasons: why it stands there, a sentence each."""

    title: str
    is_task: bool
    became: str
    mark: str
    time: str
    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DueRow:
    """When a task is due again, as shown. became: at this visit; hours, day: empty where it has no such interval."""

    title: str
    became: str
    hours: str
    day: str
    standing: str
    reason: str


def html(
    record: Record,
    clips: Mapping[str, str],
    faults: Sequence[str] = (),
    dues: Sequence[NextDue] = (),
) -> str:
    """The record as one HTML file.

    clips: SHA-256 of a sound -> relative path or data URI; a sound that is not in it is shown by its hash only.
    faults: what is wrong with the session's files, a sentence each; dues: when each task is due after the visit.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("assistant.edge.pages", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["unbroken"] = _unbroken
    environment.filters["counted"] = counted
    header, counts, chain = record.header, record.counts, record.chain
    return environment.get_template(PAGE).render(
        header=header,
        counts=counts,
        chain=chain,
        faults=tuple(faults),
        result=_result(record),
        begun=_date(header.started),
        ended=_date(header.ended),
        duration=_span(header.duration),
        to_judge=tuple(_remark(concern, record) for concern in record.concerns if concern.grave),
        to_note=tuple(_remark(concern, record) for concern in record.concerns if not concern.grave),
        readings=tuple(_reading_row(entry, record, clips) for entry in record.of(f.ReadingRecorded)),
        holds=tuple(_row((entry,), "", record, clips) for entry in record.of(f.HoldPointPassed)),
        answers=tuple(_answer_row(entry, record, clips) for entry in record.of(f.AnswerRecorded)),
        state=tuple(
            _row(together, "", record, clips)
            for together in _by_line(record.of(f.StateLearned, f.StateForgotten, f.WorkTakenUpAgain))
        ),
        rows=tuple(_rows(record, clips)),
        stages=tuple(_stage_row(summary, record) for summary in record.stages),
        plans=tuple(_plan_row(entry) for entry in record.of(f.VisitPlanned)[1:]),
        dues=tuple(_due_row(one, record) for one in sorted(dues, key=lambda one: not one.done) if record.stages),
        left_open=tuple(step for step in record.steps if step.outcome is StepStatus.OPEN),
        sounds=tuple(_sound(clip, clips) for clip in record.clips()),
    )


def export_html(session: Path) -> Path:
    """Write the record of a session folder into it, with links to its sounds. Returns the file's path.

    Sounds and copies of procedures are held against their hashes; what does not fit is said on the page. Of a damaged
    journal everything is shown that can be verified, and where it has gaps. The page is written whole or not at all.
    Errors: RecordError when the folder is no session, or when nothing of its journal can be read or the page cannot be
    written.
    """
    journal, damage = evidence_in_words(session)
    judged = record(journal, damage)
    clips, faults = attachments(session, judged, journal)
    return write_record(session / PAGE, html(judged, clips, faults, due_next(session, journal)))


def _stage_row(summary: StageSummary, record: Record) -> StageRow:
    stage, began, ended = summary.stage, summary.began, summary.ended
    match summary.outcome:
        case StageOutcome.DONE:
            became = "Done" if began is None or ended is None else f"Done in {_span(ended - began)}"
        case StageOutcome.PUT_OFF:
            became = summary.reason if ended is None else f"at {_clock(record, ended)}: {summary.reason}"
        case StageOutcome.NOT_DONE:
            became = "" if began is None else "but begun"
        case _:
            assert_never(summary.outcome)
    if summary.reason and summary.outcome is not StageOutcome.PUT_OFF:
        became = f"{became}. Added: {summary.reason}" if became else f"Added: {summary.reason}"
    time = "" if began is None else _clock(record, began)
    mark = "" if summary.outcome is StageOutcome.DONE else summary.outcome.value
    reasons = tuple(f"{_capital(str(reason))}." for reason in stage.reasons)
    return StageRow(_named(stage), stage.is_task, became, mark, time, reasons)


def _plan_row(entry: RecordEntry) -> tuple[str, str]:
    assert isinstance(entry.fact, f.VisitPlanned)
    return _time(entry), f"{_capital(str(entry.fact.because))}."


def _clock(record: Record, elapsed: float) -> str:
    """When it was, so many seconds after the beginning."""
    return f"{_moment(record.header.started) + timedelta(seconds=elapsed):%H:%M:%S}"


def _due_row(one: NextDue, record: Record) -> DueRow:
    due, outcomes = one.due, {summary.stage.name: summary.outcome.value for summary in record.stages}
    return DueRow(
        one.title,
        "done" if one.done else outcomes.get(due.task, "not in it"),
        "" if due.hours is None else in_hours(due.hours),
        "" if due.day is None else f"{due.day.day} {due.day:%B %Y}",
        due.standing.value,
        f"{_capital(str(due.reason))}.",
    )


# --- words ---------------------------------------------------------------------------------------------------


def _moment(wall: str) -> datetime:
    return datetime.fromisoformat(wall).astimezone(UTC)


def _date(wall: str) -> str:
    moment = _moment(wall)
    return f"{moment.day} {moment:%B %Y, %H:%M:%S} UTC"


def _time(entry: RecordEntry) -> str:
    return f"{_moment(entry.at.wall):%H:%M:%S}"


def _span(seconds: float) -> str:
    whole = round(seconds)
    hours, minutes, rest = whole // 3600, whole % 3600 // 60, whole % 60
    pieces = ((hours, "h"), (minutes, "min"), (rest, "s"))
    return " ".join(f"{count} {unit}" for count, unit in pieces if count) or "0 s"


def _unbroken(words: str) -> str:
    """No line ends between a number and its unit."""
    units = "|".join(re.escape(unit) for unit in sorted(UNITS, key=len, reverse=True) if unit)
    return re.sub(rf"(?<=\d) (?=(?:{units})(?!\w))", "\N{NO-BREAK SPACE}", words)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _result(record: Record) -> str:
    header, counts = record.header, record.counts
    titles = [summary.stage.title for summary in record.stages if summary.outcome is StageOutcome.PUT_OFF]
    put_off = f" Put off: {', '.join(titles)}." if titles else ""
    if header.complete:
        left_out = f", {counts.skipped} of them left out with a reason" if counts.skipped else ""
        every = "all " if counts.steps > 1 else ""
        return f"Complete: {every}{counted(counts.steps, 'step')}{left_out}.{put_off}"
    are = f"{counts.left_open} of {counted(counts.steps, 'step')} {'is' if counts.left_open == 1 else 'are'} open"
    if header.ending is None:
        return f"Broken off and not ended: {are}.{put_off}"
    return f"Ended early ({header.ending}): {are}.{put_off}"


def _sound(clip: Clip, clips: Mapping[str, str]) -> Sound:
    return Sound(clip.sha256[:8], f"{clip.seconds:.1f} s", clips.get(clip.sha256))


def _heard(fact: f.Fact) -> str:
    """How an answer came: by voice with its confidence, or typed."""
    if not isinstance(fact, f.ReadingRecorded | f.AnswerRecorded | f.HoldPointPassed):
        return ""
    return "typed" if fact.source is Source.TYPED else f"{fact.confidence:.2f}"


def _judgement(reading: f.ReadingRecorded | f.CalculationRecorded) -> str:
    match reading.verdict:
        case f.ReadingVerdict.WITHIN:
            return "within limits"
        case f.ReadingVerdict.LOW:
            return "too low"
        case f.ReadingVerdict.HIGH:
            return "too high"
        case f.ReadingVerdict.INCONCLUSIVE:
            return "inconclusive"
        case f.ReadingVerdict.NO_LIMIT:
            return "no limits given"
        case _:
            assert_never(reading.verdict)


def _last_reading(entry: RecordEntry, record: Record) -> f.ReadingRecorded | None:
    """The reading that stands where this one was taken."""
    standing = [
        other.fact
        for other in record.entries
        if other.place == entry.place and other.fate is Fate.STANDS and isinstance(other.fact, f.ReadingRecorded)
    ]
    return standing[-1] if standing else None


def _at_line(line: int | None, record: Record) -> str:
    return next((_time(entry) for entry in record.entries if entry.line == line), "")


def _fate(entry: RecordEntry, record: Record, repeated: str) -> str:
    match entry.fate:
        case Fate.STANDS:
            return ""
        case Fate.REPEATED:
            return f"{repeated} at {_at_line(entry.later, record)}."
        case Fate.TAKEN_BACK:
            return f"Taken back at {_at_line(entry.later, record)}."
        case _:
            assert_never(entry.fate)


_HINDERED = {
    AudioProblem.NOISE: " The noise was nearly as loud as the voice.",
    AudioProblem.FAINT: " The voice was faint.",
    AudioProblem.CLIPPED: " The voice was too loud for the microphone.",
}


def _hindered(fact: f.HearingFailed) -> str:
    return "" if fact.hindrance is None else _HINDERED[fact.hindrance]


def _trouble(fact: f.Fact) -> str:
    match fact:
        case f.HearingFailed(failure=f.Failure.SILENCE):
            return "No answer at first."
        case f.HearingFailed(failure=f.Failure.TEEN_OR_TEN):
            return f"“{fact.text}” could be a teen or a ten, so it was asked digit by digit."
        case f.HearingFailed():
            guess = f" (best guess “{fact.text}”)" if fact.text else ""
            return f"Not understood at first{guess}.{_hindered(fact)}"
        case f.ReadingQuestioned():
            return f"{fact.quantity} was heard first and is hard to believe ({fact.believable}), so it was asked again."
        case f.ReadBackRefused():
            return f"Corrected: {fact.quantity} was read back and refused."
        case _:
            return ""


def _mark_reading(entry: RecordEntry) -> tuple[str, ...]:
    assert isinstance(entry.fact, f.ReadingRecorded)
    marks = []
    if entry.fate is Fate.TAKEN_BACK:
        marks.append("taken back")
    if against := fault_of(entry):
        marks.append(against.value)
    if entry.fact.doubt:
        marks.append("in doubt")
    if any(isinstance(trouble, f.ReadBackRefused) for trouble in entry.troubles):
        marks.append("corrected")
    return tuple(marks)


def _measured(reading: f.ReadingRecorded) -> str:
    """The value as it was said, and in the unit of its limits where that is another."""
    try:
        return parse_limits(reading.limits).compared(reading.quantity)
    except QuantityError:  # it has no limits, or none that read as such any more
        return str(reading.quantity)


def _taken_with(reading: f.ReadingRecorded) -> list[str]:
    """How a reading came about, a sentence each."""
    samples = f"{', '.join(map(str, reading.samples))}; spread {reading.spread}" if reading.spread else ""
    return [
        words
        for words, told in (
            (f"Mean of {samples}.", samples),
            (f"Limits by {reading.limits_by}.", reading.limits_by),
            (f"With the {reading.instrument}.", reading.instrument),
            (f"Under: {', '.join(name.replace('-', ' ') for name in reading.circumstances)}.", reading.circumstances),
        )
        if told
    ]


def _reading_row(entry: RecordEntry, record: Record, clips: Mapping[str, str]) -> ReadingRow:
    reading = entry.fact
    assert isinstance(reading, f.ReadingRecorded)
    notes = [f"In doubt: {reading.doubt}."] if reading.doubt else []
    notes += _taken_with(reading)
    notes += [words for trouble in entry.troubles if (words := _trouble(trouble))]
    notes += [words for words in (_fate(entry, record, "Measured again"),) if words]
    return ReadingRow(
        entry.line,
        _time(entry),
        _capital(reading.name),
        _measured(reading),
        reading.stage.value,
        reading.limits or "none",
        _capital(_judgement(reading)),
        _mark_reading(entry),
        tuple(notes),
        _heard(reading),
        None if entry.clip is None else _sound(entry.clip, clips),
        entry.fate is Fate.TAKEN_BACK,
    )


def _texts(entry: RecordEntry, record: Record) -> Iterator[Text]:
    """What happened, a sentence each."""
    fact = entry.fact
    match fact:
        case f.WorkTakenUp():
            yield _text(f"Work taken up by the {fact.order.technician}: {fact.title}, {counted(fact.steps, 'step')}.")
        case f.WorkTakenUpAgain():
            words = f"Taken up again by the {fact.technician}. Nothing was known of the engine any more."
            yield _text(words, "state forgotten")
        case f.StepDone():
            taken_back = entry.fate is Fate.TAKEN_BACK
            yield _text("Done." + (" Opened again later." if taken_back else ""))
        case f.StepSkipped():
            yield _text(f"Left out. Reason: {fact.reason}.", "left out")
        case f.StepReopened():
            yield _text(f"Opened again: {fact.because}.", "taken back")
        case f.HearingFailed(failure=f.Failure.SILENCE):
            yield _text("No answer.")
        case f.HearingFailed(failure=f.Failure.TEEN_OR_TEN):
            yield _text(f"“{fact.text}” could be a teen or a ten.", "not understood")
        case f.HearingFailed():
            guess = f" Best guess, not acted on: “{fact.text}”." if fact.text else ""
            yield _text(f"Not understood.{guess}{_hindered(fact)}", "not understood")
        case f.MannerChanged():
            yield _text(f"Asked {MANNERS[fact.manner]} from here.")
        case f.ReadingQuestioned():
            words = f"Heard {fact.quantity}, hard to believe ({fact.believable}). Asked again."
            yield _text(words, "hard to believe")
        case f.UnitAsked():
            yield _text(f"Heard {plain(fact.value)} {fact.called}, which may be several units. Asked which.")
        case f.UnitTakenBack():
            yield _text(f"{plain(fact.value)} {fact.called} taken back by the technician.", "taken back")
        case f.ReadBackRefused():
            yield _text(f"Read back {fact.quantity}: the technician said that it was wrong.", "refused")
        case f.ReadingRecorded():
            limits = f" ({fact.limits})" if fact.limits else ""
            words = f"{_capital(fact.name)} {_measured(fact)}, {fact.stage}: {_judgement(fact)}{limits}."
            yield Text(words, _mark_reading(entry))
            if fact.doubt:
                yield _text(f"In doubt: {fact.doubt}.")
        case f.ReadingWithdrawn():
            yield _text(f"{_capital(fact.name)} {fact.quantity} taken back by the technician.", "taken back")
        case f.CalculationRecorded():
            limits = f": {_judgement(fact)} ({fact.limits})" if fact.limits else ""
            marks = () if (against := fault_of(entry)) is None else (against.value,)
            yield Text(f"{_capital(fact.name)} {fact.result}, worked out{limits}.", marks)
            taken = (f"{one.name.replace('_', ' ')} {one.value}" for one in fact.inputs)
            yield _text(f"By {fact.formula.replace('-', ' ')}, from {', '.join(taken)}.")
            for warning in fact.warnings:
                yield _text(f"{_capital(str(warning))}.")
            if again := _fate(entry, record, "Worked out again"):
                yield _text(again)
        case f.AnswerRecorded():
            taken_back = entry.fate is not Fate.STANDS
            yield Text(f"Answer: “{fact.phrase}”.", () if fact.good else ("not in order",))
            if taken_back:
                yield _text(_fate(entry, record, "Answered again"))
        case f.FindingRecorded():
            yield _text(f"{_capital(str(fact.finding))}.", "finding")
        case f.HoldPointPassed():
            typed = fact.source is Source.TYPED
            words = "Hold point passed in its set words" + (", typed." if typed else ".")
            yield Text(words, (ConcernKind.HOLD_TYPED.value,) if typed else ())
            if entry.fate is Fate.TAKEN_BACK:
                yield _text(_fate(entry, record, "Passed again"))
        case f.TimerStarted():
            again = f", start {fact.run}" if fact.run > 1 else ""
            yield _text(f"Timer began: {_span(fact.seconds)}{again}.")
        case f.TimerEnded():
            yield _text("Timer ran its whole time.")
        case f.StateLearned():
            lasts = "" if fact.lasts is None else f" for {_span(fact.lasts)}"
            yield _text(f"State: {fact.variable.replace('-', ' ')}, {fact.value}{lasts}.")
        case f.StateForgotten():
            words = f"What was known of the engine counts no more: {fact.because}."
            yield _text(words, "state forgotten")
        case f.StoodBy():
            yield _text("Stood by.")
        case f.CarriedOn():
            yield _text(f"Carried on after {_span(fact.seconds)}.")
        case f.RequestRefused():
            because = REFUSALS.get(fact.because, "it was not possible there")
            yield _text(f"“{fact.what}” was refused: {because}.")
        case f.LateAnswerDropped():
            yield _text("An answer to an earlier question came too late and was dropped.")
        case f.Spoken():
            for said in fact.said:
                if not said.whole:
                    yield Text(
                        f"Cut off before its end: “{said.text}”", ("warning cut off",) if said.name == HAZARD else ()
                    )
        case f.DeviceLost():
            yield _text(f"{_capital(fact.device)} did not answer any more ({fact.detail}).", "device lost")
        case f.WorkEnded():
            words = "complete" if fact.complete else "before its last step"
            yield Text(f"Work ended, {words}: {fact.because}.", () if fact.complete else ("ended early",))
        case f.NoteKept():
            words = f" “{fact.text}”" if fact.text else ""
            kept = "kept as sound" if fact.clip is not None else "typed"
            wrong = fact.subject is f.Subject.STEP_WRONG
            mark = ConcernKind.STEP_WRONG if wrong else ConcernKind.NOTE
            yield _text(f"{SUBJECTS[fact.subject]}, {kept}.{words}", mark.value)
        case f.ObjectDropped():
            yield _text("Something was dropped. Nothing was to be started until it was accounted for.", "dropped")
        case f.ObjectAccounted():
            yield _text(
                "What had dropped was found." if fact.found else "What was dropped was not found, and was excused."
            )
        case f.StepPassedOver():
            taken_back = entry.fate is Fate.TAKEN_BACK
            yield _text(f"{fact.title} did not apply: {fact.because}." + (" Opened again later." if taken_back else ""))
        case f.HalfDone():
            yield _text("Its first half was done.")
        case f.PartFitted() if fact.number:
            yield _text(f"Fitted: {fact.name}, {fact.number}, proved by {fact.spoken}.")
        case f.PartFitted():
            yield _text(f"A substitute was fitted. Reason: {fact.reason}.", "substitute")
        case f.PartRefused():
            yield _text(f"The part {fact.spoken} was none of those expected.", "refused")
        case f.ReadingCollected():
            yield _text(f"{_capital(fact.name)} {fact.quantity}, to be confirmed with the set.")
        case f.SetRefused():
            yield _text("The set read back was not right, and asked for anew.", "refused")
        case f.WorkHandedOver():
            words = f"Handed over to the {fact.technician}. Nothing was known of the engine any more."
            yield _text(words, "state forgotten")
        case f.VoiceChanged():
            yield _text(f"The voice was changed: loudness {fact.loudness:+d}, pace {fact.pace:+d} from the usual.")
        case f.HelpCalled():
            yield _text("Help was called for, aloud at the engine. Nobody else was reached.", "help called")
        case f.ClockDoubted():
            yield _text(_clock_doubt(fact), "clock in doubt")
        case f.WorkedBeside():
            words = f"The {fact.technician} was at work on this asset already, since {_date(fact.since)}"
            yield _text(f"{words} (session {fact.session}).", "two at work")
        case f.FilesSetAside():
            if fact.sounds:
                yield _text(f"No line cites {counted(fact.sounds, 'sound')} of the session: lines may be missing.")
            yield _text(f"Set aside, because no line cites it: {', '.join(fact.names)}.")
        case f.CopyReplaced():
            words = f"The copy of the procedure file {fact.name} was damaged"
            yield _text(f"{words}. The installed file, which has the same hash, took its place.")
        case f.SalvageMade():
            yield _text(
                f"Salvaged from the damaged session {fact.source}: {counted(fact.lines, 'line holds', 'lines hold')}.",
                "salvaged",
            )
            yield from (_text(f"{_capital(gap)}.") for gap in fact.gaps)
        case f.VisitPlanned():
            yield _text(f"The order of the visit: {fact.because}.")
        case f.StageDone():
            words = f"{_heading(fact.stage)}: done."
            yield _text(words if entry.fate is Fate.STANDS else f"{words} Opened again later.")
        case f.TaskPutOff():
            yield _text(f"{fact.title} is put off, and stays due. Reason: {fact.reason}.", "put off")
        case f.TaskAdded():
            yield _text(f"{fact.title} is added to the visit. Reason: {fact.reason}.")
        case f.HistoryTakenOver():
            yield _text(f"Taken over from {fact.source}: {counted(fact.lines, 'line')} of what was done before.")
        case f.DoneBefore():
            yield _text(f"{fact.title or 'The meter was read'} on {fact.day}.")
        case f.TaskChosen() | f.StepReached() | f.ExchangeOpened() | f.ExchangeClosed() | f.ReadingHeard():
            pass  # they open and close questions and stand in no record
        case _:
            assert_never(fact)


def _row(entries: Sequence[RecordEntry], part: str, record: Record, clips: Mapping[str, str]) -> Row:
    first = entries[0]
    sounds = {clip.sha256: clip for entry in entries for clip in (entry.clip, entry.spoken) if clip}
    return Row(
        first.line,
        True,
        _time(first),
        part,
        first.title,
        tuple(_joined(entries, record)),
        next((words for entry in entries if (words := _heard(entry.fact))), ""),
        tuple(_sound(clip, clips) for clip in sounds.values()),
    )


def _answer_row(entry: RecordEntry, record: Record, clips: Mapping[str, str]) -> Row:
    question = entry.fact.question if isinstance(entry.fact, f.AnswerRecorded) else ""
    return replace(_row((entry,), "", record, clips), question=question)


def _joined(entries: Sequence[RecordEntry], record: Record) -> Iterator[Text]:
    """What happened at one line. The finding of a reading out of its limits repeats the reading: a mark is enough."""
    found = any(isinstance(entry.fact, f.FindingRecorded) for entry in entries)
    against = {kind.value for entry in entries if (kind := fault_of(entry)) is not None}
    of_reading = found and bool(against)
    for entry in entries:
        if of_reading and isinstance(entry.fact, f.FindingRecorded):
            continue
        for text in _texts(entry, record):
            add = of_reading and bool(against.intersection(text.marks))
            yield replace(text, marks=(*text.marks, "finding")) if add else text


def _by_line(entries: Iterable[RecordEntry]) -> Iterator[tuple[RecordEntry, ...]]:
    """Neighbours that came of one line in one step."""
    for _, group in groupby(entries, key=lambda entry: (entry.line, entry.title)):
        yield tuple(group)


def _rows(record: Record, clips: Mapping[str, str]) -> Iterator[Row]:
    """The visit in time order: a row for all that came of one line of the journal in one step."""
    title, line = "", 0
    part = ""
    headed: list[str] = []  # stages
    stages = record.planned()
    gaps = list(record.chain.gaps)
    for together in _by_line(record.entries):
        while gaps and gaps[0].after < together[0].line:
            yield _gap_row(gaps.pop(0))
        row = replace(_row(together, "", record, clips), first=together[0].line != line)
        line = row.line
        place = together[0].place
        stage = None if place is None else stages.get(place.passage)
        heading = PARTS.get(together[0].part, together[0].part) if stage is None else _heading(stage)
        if heading and heading != part:
            row, part = replace(row, part=f"{heading}, continued" if heading in headed else heading), heading
            headed += [heading] if stage is not None else []
        yield replace(row, title="" if row.title == title and not row.part else row.title)
        title = row.title
    yield from map(_gap_row, gaps)


def _clock_doubt(fact: f.ClockDoubted) -> str:
    shown, against = _date(fact.shown), _date(fact.against)
    match fact.why:
        case f.ClockDoubt.BEFORE_SESSION:
            return f"The clock showed {shown}, but the session {fact.session} went on until {against}."
        case f.ClockDoubt.BEFORE_PROGRAM:
            return f"The clock showed {shown}, which is before the program was made ({against})."
        case f.ClockDoubt.JUMPED:
            return f"The clock jumped: it showed {shown}, and should have shown about {against}."
        case _:
            assert_never(fact.why)


def _gap_row(gap: Gap) -> Row:
    """Where lines are damaged or missing, in the place where they would have stood."""
    lost = "at the end, nobody can tell how many" if gap.lost is None else _lines(gap.lost)
    words = f"Here the journal has a gap: {gap.cause} (line {gap.line} of the file). Lines lost: {lost}."
    return Row(gap.line, True, "", "", "", (_text(words, "journal damaged"),), "", ())


def _lines(count: int) -> str:
    return "none" if count == 0 else str(count)


def _heading(stage: f.PlannedStage) -> str:
    return f"Task: {_named(stage)}" if stage.is_task else _named(stage)


def _named(stage: f.PlannedStage) -> str:
    """Its title, and which time its procedure is gone through where that is not the first."""
    return f"{stage.title}, time {stage.time}" if stage.time > 1 else stage.title


def _remark(concern: Concern, record: Record) -> Remark:
    entry = concern.entry
    words = _of_journal(concern.kind, record.chain) if entry is None else _of_entry(concern.kind, entry, record)
    at = "" if entry is None else _time(entry)
    return Remark(concern.kind.value, words, at, None if entry is None else entry.line)


def _set_aside(chain: Chain) -> str:
    return f"{counted(chain.torn, 'byte')} {'was' if chain.torn == 1 else 'were'} set aside"


def _at_step(entry: RecordEntry) -> str:
    return f" at the step {entry.title!r}" if entry.title else ""


def _of_journal(kind: ConcernKind, chain: Chain) -> str:
    if kind is ConcernKind.DAMAGED:
        shown = f"This record shows the {counted(chain.lines, 'line')} that can be verified, and where the gaps are."
        return f"{chain.damage}. {shown}"
    if kind is ConcernKind.TORN:
        return (
            f"The last line of the journal was never completed ({_set_aside(chain)}). "
            "What it would have said was never acted on."
        )
    return "The visit was broken off: nobody ended the work."


def _of_entry(kind: ConcernKind, entry: RecordEntry, record: Record) -> str:
    fact = entry.fact
    match kind, fact:
        case ConcernKind.FINDING, f.FindingRecorded():
            settled = _at_line(entry.settled, record)
            after = f" The same check was in order at {settled}." if settled else ""
            return f"{_capital(str(fact.finding))}.{after}"
        case ConcernKind.OUT_OF_LIMITS | ConcernKind.INCONCLUSIVE, f.ReadingRecorded():
            return f"{_capital(fact.name)} {_measured(fact)} is {_judgement(fact)}. Limits: {fact.limits}."
        case ConcernKind.MEASURED_AGAIN, f.ReadingRecorded():
            last = _last_reading(entry, record)
            after = "" if last is None else f" Measured again: {_measured(last)}, {last.stage}, {_judgement(last)}."
            return f"{_capital(fact.name)} was {_measured(fact)}, {_judgement(fact)} (limits {fact.limits}).{after}"
        case ConcernKind.IN_DOUBT, f.ReadingRecorded():
            return f"{_capital(fact.name)} {_measured(fact)}: {fact.doubt}. Listen to its sound."
        case ConcernKind.CORRECTED | ConcernKind.QUESTIONED, f.ReadingRecorded():
            wanted = f.ReadBackRefused if kind is ConcernKind.CORRECTED else f.ReadingQuestioned
            told = " ".join(_trouble(trouble) for trouble in entry.troubles if isinstance(trouble, wanted))
            return f"{_capital(fact.name)} {_measured(fact)} was confirmed. {told}"
        case ConcernKind.WARNING_CUT_OFF, f.Spoken():
            cut = " ".join(f"“{said.text}”" for said in fact.said if said.name == HAZARD and not said.whole)
            return f"A warning was cut off before its end: {cut}"
        case ConcernKind.PUT_OFF, f.TaskPutOff():
            return f"{fact.title}, and it stays due. Reason: {fact.reason}."
        case ConcernKind.SKIPPED, f.StepSkipped():
            return f"{fact.title}. Reason: {fact.reason}."
        case ConcernKind.HELP_CALLED, f.HelpCalled():
            return f"Help was called for{_at_step(entry)}, aloud at the engine. Nobody else was reached."
        case ConcernKind.NOTE | ConcernKind.STEP_WRONG, f.NoteKept():
            told = f"“{fact.text}”" if fact.text else "listen to its sound."
            for_whom = " It goes to the trainer." if kind is ConcernKind.STEP_WRONG else ""
            return f"{fact.title}: {told}{for_whom}"
        case ConcernKind.SUBSTITUTE, f.PartFitted():
            return f"{fact.name}: a substitute was fitted. Reason: {fact.reason}."
        case ConcernKind.PART_REFUSED, f.PartRefused():
            return f"{entry.title}: {fact.spoken} was given, and is the number of no part expected there."
        case ConcernKind.HOLD_TYPED, f.HoldPointPassed():
            return f"{fact.title}: its words were typed, not spoken. There is no sound of it."
        case ConcernKind.TAKEN_BACK, f.StepReopened():
            return f"{fact.title} was opened again: {fact.because}."
        case ConcernKind.BADLY_HEARD, _:
            failed = [one for one in entry.troubles if isinstance(one, f.HearingFailed)]
            misheard = sum(one.failure is not f.Failure.SILENCE for one in failed)
            return f"{entry.title}: {misheard} hearings failed before the answer."
        case _:
            return " ".join(text.words for text in _texts(entry, record))
