"""A visit in numbers. Knows which facts count. Refuses to know which numbers are good."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from assistant.record.concerns import ConcernKind
from assistant.record.entries import RecordEntry
from assistant.record.header import UNKNOWN_WORK
from assistant.record.readings import limit_concern
from assistant.record.stages import StepStatus, StepSummary, passed_over
from assistant.session import facts as f
from assistant.session.inputs import Heard, Silence, Source
from assistant.session.journal import Journal


@dataclass(frozen=True, slots=True)
class Counts:
    """The visit in numbers. The members are published under these names.

    steps: of the whole work, by the plan as it stood last.
    done: of these steps.
    skipped: of these steps, left out with a reason.
    passed_over: of these steps, those that did not apply.
    left_open: of these steps.
    readings: that were not taken back.
    out_of_limits: of the readings, those that stand and are out of their limits.
    in_doubt: of the readings.
    answers: to checks, that were not taken back.
    answers_not_good: of the answers.
    hold_points: that were passed, and not opened again.
    findings: recorded.
    utterances: heard by voice.
    typed: answers.
    not_understood: hearings that failed.
    silences: waits without an answer.
    read_backs_refused: by the technician.
    taken_back: steps that were opened again, each time.
    requests_refused: by the assistant.
    late: answers that came to a closed question.
    prompts_cut_off: before their end.
    clips: sounds that are cited.
    """

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


def count(
    journal: Journal, work: f.WorkTakenUp, entries: Sequence[RecordEntry], steps: Sequence[StepSummary]
) -> Counts:
    """The visit in numbers.

    work: how it began.
    entries, steps: of its record.
    """
    kept = [entry for entry in entries if not entry.taken_back]
    readings = [(entry, entry.fact) for entry in kept if isinstance(entry.fact, f.ReadingRecorded)]
    answers = [entry.fact for entry in kept if isinstance(entry.fact, f.AnswerRecorded)]
    failed = [entry.fact for entry in entries if isinstance(entry.fact, f.HearingFailed)]
    inputs = [decision.envelope.input for decision in journal.entries]
    heard = [given for given in inputs if isinstance(given, Heard)]
    total, done, skipped, not_applying = _steps(journal, work, entries, steps)

    def how_many(kind: type[f.Fact]) -> int:
        return sum(isinstance(entry.fact, kind) for entry in entries)

    return Counts(
        steps=total,
        done=done,
        skipped=skipped,
        passed_over=not_applying,
        left_open=total - done - skipped - not_applying,
        readings=len(readings),
        out_of_limits=sum(
            entry.stands and limit_concern(reading) is ConcernKind.OUT_OF_LIMITS for entry, reading in readings
        ),
        in_doubt=sum(bool(reading.doubt) for _, reading in readings),
        answers=len(answers),
        answers_not_good=sum(not answer.good for answer in answers),
        hold_points=sum(isinstance(entry.fact, f.HoldPointPassed) for entry in kept),
        findings=how_many(f.FindingRecorded),
        utterances=sum(utterance.source is Source.VOICE for utterance in heard),
        typed=sum(utterance.source is Source.TYPED for utterance in heard),
        not_understood=sum(fact.failure is not f.Failure.SILENCE for fact in failed),
        silences=sum(isinstance(given, Silence) for given in inputs),
        read_backs_refused=how_many(f.ReadBackRefused),
        taken_back=how_many(f.StepReopened),
        requests_refused=how_many(f.RequestRefused),
        late=how_many(f.LateAnswerDropped),
        prompts_cut_off=how_many(f.Spoken),
        clips=len({clip.sha256 for entry in entries for clip in entry.clips}),
    )


def _steps(
    journal: Journal, work: f.WorkTakenUp, entries: Sequence[RecordEntry], steps: Sequence[StepSummary]
) -> tuple[int, int, int, int]:
    """How many steps the work has, by the plan as it stood last; of these how many are done, left out, passed over."""
    not_applying = passed_over(journal)
    plans = [entry.fact for entry in entries if isinstance(entry.fact, f.VisitPlanned)]
    places = {step.place: step.outcome for step in steps}
    if plans:
        planned = {stage.passage for stage in plans[-1].stages}
        places = {place: outcome for place, outcome in places.items() if place.passage in planned}
        not_applying = frozenset(place for place in not_applying if place.passage in planned)
        total = plans[-1].steps
    elif work is UNKNOWN_WORK:  # only those that were seen are known
        total = len(places.keys() | not_applying)
    else:
        total = work.steps
    outcomes = list(places.values())
    return total, outcomes.count(StepStatus.DONE), outcomes.count(StepStatus.SKIPPED), len(not_applying)
