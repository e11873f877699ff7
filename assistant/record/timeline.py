"""A journal as a record's entries, in time order: where each fact stands, what became of it, what is said of it.

Knows the order of facts, and which belong to one question. What is said of a fact stands in the file of its topic; a
fact of which nothing is said does not stand in the record.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from assistant.record.describing import describe
from assistant.record.entries import Context, FailedAttempt, RecordEntry
from assistant.record.statuses import with_statuses
from assistant.session import facts as f
from assistant.session.clocks import elapsed_since_first
from assistant.session.encoding import JournalEntry
from assistant.session.inputs import Clip, Heard, Instant, SessionSalvaged
from assistant.session.journal import Journal


def timeline(journal: Journal) -> tuple[RecordEntry, ...]:
    """The entries of the record of a journal, in time order."""
    entries = with_statuses(tuple(_of_all_facts(journal)))
    context = Context(entries)
    described = (replace(entry, description=describe(entry, context)) for entry in entries)
    return tuple(_with_loose_sounds(journal, (entry for entry in described if entry.description.sentences)))


def decisions_of_visit(journal: Journal) -> Sequence[JournalEntry]:
    """The decisions of the visit itself: a salvage begins with one that was made later."""
    return [
        entry for entry in journal.entries if not isinstance(entry.envelope.input, SessionSalvaged)
    ] or journal.entries


def elapsed_in_visit(journal: Journal) -> Callable[[Instant], float]:
    """From a moment of the visit to the seconds since it began."""
    return elapsed_since_first(entry.envelope.at for entry in decisions_of_visit(journal))


def _of_all_facts(journal: Journal) -> Iterator[RecordEntry]:
    """An entry for every fact, with its step and with what failed at the same question before it."""
    elapsed = elapsed_in_visit(journal)
    focus: f.StepReached | None = None
    reached: dict[f.StepPlace, f.StepReached] = {}
    heard: Clip | None = None
    failed: list[FailedAttempt] = []
    for decision in journal.entries:
        at = decision.envelope.at
        for fact in decision.facts:
            clip = _clip(fact)
            match fact:
                case f.StepReached():
                    if focus is None or focus.place != fact.place:
                        failed = []
                    focus = reached[fact.place] = fact
                case f.ReadingHeard():
                    heard = fact.clip
                case f.ReadBackRefused():
                    clip = heard
                case _:
                    pass
            place = _place(fact)
            step = focus if place is None else reached.get(place)
            is_answer = isinstance(fact, f.ReadingRecorded | f.AnswerRecorded | f.HoldPointPassed)
            yield RecordEntry(
                line=decision.envelope.number,
                at=at,
                elapsed=elapsed(at),
                place=place or (None if focus is None else focus.place),
                title="" if step is None else step.title,
                part="" if step is None else step.part,
                fact=fact,
                clip=clip,
                failed_attempts=tuple(failed) if is_answer else (),
            )
            if is_answer or isinstance(fact, f.StepDone | f.StepSkipped | f.StepReopened):
                failed = []
            if isinstance(fact, FailedAttempt):
                failed.append(fact)
            if isinstance(fact, f.StepDone | f.StepSkipped | f.StepReopened):
                focus = None


def _with_loose_sounds(journal: Journal, entries: Iterator[RecordEntry]) -> Iterator[RecordEntry]:
    """The entries with the sounds that stand in no fact, such as that of a command: each goes with the first entry that
    came of it."""
    loose: dict[int, Clip] = {}
    for decision in journal.entries:
        given = decision.envelope.input
        if isinstance(given, Heard) and given.clip and given.clip not in map(_clip, decision.facts):
            loose[decision.envelope.number] = given.clip
    for entry in entries:
        clip = loose.pop(entry.line, None)
        yield entry if clip is None else replace(entry, clip=entry.clip or clip, spoken=clip if entry.clip else None)


def _place(fact: f.Fact) -> f.StepPlace | None:
    place = getattr(fact, "place", None)
    return place if isinstance(place, f.StepPlace) else None


def _clip(fact: f.Fact) -> Clip | None:
    clip = getattr(fact, "clip", None)
    return clip if isinstance(clip, Clip) else None
