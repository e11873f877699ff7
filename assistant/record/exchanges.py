"""What a record says of the facts of an open question: for each its sentence and what it means to a supervisor; and how
an attempt that failed is said beside the answer that came after it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import assert_never

from assistant.quantities import plain
from assistant.record.concerns import ConcernKind, Label
from assistant.record.entries import NOT_IN_RECORD, Context, Description, FailedAttempt, RecordEntry, only
from assistant.record.phrases import capital
from assistant.session import facts as f
from assistant.session.inputs import AudioProblem

BADLY_HEARD_FROM = 2  # failed hearings of one question, from which on a supervisor is told
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
AUDIO_PROBLEMS = {
    AudioProblem.NOISE: " The noise was nearly as loud as the voice.",
    AudioProblem.FAINT: " The voice was faint.",
    AudioProblem.CLIPPED: " The voice was too loud for the microphone.",
}


def describe_exchange(fact: f.ExchangeFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.ExchangeOpened() | f.ExchangeClosed() | f.ReadingHeard():
            return NOT_IN_RECORD
        case f.HearingFailed(failure=f.Failure.SILENCE):
            return only("No answer.")
        case f.HearingFailed(failure=f.Failure.TEEN_OR_TEN):
            return only(f"“{fact.text}” could be a teen or a ten.", Label.NOT_UNDERSTOOD)
        case f.HearingFailed():
            guess = f" Best guess, not acted on: “{fact.text}”." if fact.text else ""
            return only(f"Not understood.{guess}{_audio_problem(fact)}", Label.NOT_UNDERSTOOD)
        case f.MannerChanged():
            return only(f"Asked {MANNERS[fact.manner]} from here.")
        case f.UnitAsked():
            return only(f"Heard {plain(fact.value)} {fact.called}, which may be several units. Asked which.")
        case f.UnitTakenBack():
            return only(f"{plain(fact.value)} {fact.called} taken back by the technician.", ConcernKind.TAKEN_BACK)
        case f.ReadingQuestioned():
            words = f"Heard {fact.quantity}, hard to believe ({fact.believable}). Asked again."
            return only(words, ConcernKind.HARD_TO_BELIEVE)
        case f.ReadBackRefused():
            return only(f"Read back {fact.quantity}: the technician said that it was wrong.", Label.REFUSED)
        case f.ReadingCollected():
            return only(f"{capital(fact.name)} {fact.quantity}, to be confirmed with the set.")
        case f.SetRefused():
            return only("The set read back was not right, and asked for anew.", Label.REFUSED)
        case f.RequestRefused():
            because = REFUSALS.get(fact.because, "it was not possible there")
            return only(f"“{fact.what}” was refused: {because}.")
        case f.LateAnswerDropped(exchange=0):  # in older journals a timer that was over: no answer
            return NOT_IN_RECORD
        case f.LateAnswerDropped():
            return only("An answer to an earlier question came too late and was dropped.")
        case _:
            assert_never(fact)


def failed_attempt(fact: FailedAttempt) -> str:
    """An attempt that failed, as it is said beside the answer that came after it."""
    match fact:
        case f.HearingFailed(failure=f.Failure.SILENCE):
            return "No answer at first."
        case f.HearingFailed(failure=f.Failure.TEEN_OR_TEN):
            return f"“{fact.text}” could be a teen or a ten, so it was asked digit by digit."
        case f.HearingFailed():
            guess = f" (best guess “{fact.text}”)" if fact.text else ""
            return f"Not understood at first{guess}.{_audio_problem(fact)}"
        case f.ReadingQuestioned():
            return f"{fact.quantity} was heard first and is hard to believe ({fact.believable}), so it was asked again."
        case f.ReadBackRefused():
            return f"Corrected: {fact.quantity} was read back and refused."
        case _:
            assert_never(fact)


def badly_heard(entry: RecordEntry) -> Mapping[ConcernKind, str]:
    """The concern that an answer was misheard often before it was understood; none where it was not."""
    failed = [attempt for attempt in entry.failed_attempts if isinstance(attempt, f.HearingFailed)]
    misheard = sum(attempt.failure is not f.Failure.SILENCE for attempt in failed)
    if misheard < BADLY_HEARD_FROM:
        return {}
    return {ConcernKind.BADLY_HEARD: f"{entry.title}: {misheard} hearings failed before the answer."}


def _audio_problem(fact: f.HearingFailed) -> str:
    return "" if fact.hindrance is None else AUDIO_PROBLEMS[fact.hindrance]
