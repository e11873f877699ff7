"""What a record says of the facts of the device: for each its sentence, and what it means to a supervisor."""

from __future__ import annotations

from typing import assert_never

from assistant.quantities import counted
from assistant.record.concerns import ConcernKind
from assistant.record.entries import Context, Description, RecordEntry, Sentence, concerning, joined, only, sentences
from assistant.record.phrases import date_and_time
from assistant.session import facts as f

HAZARD = "Hazard"  # name of the message that speaks a warning, as facts keep it


def describe_device(fact: f.DeviceFact, entry: RecordEntry, context: Context) -> Description:
    """What the record says of one of these facts."""
    match fact:
        case f.VoiceChanged():
            return only(f"The voice was changed: loudness {fact.loudness:+d}, pace {fact.pace:+d} from the usual.")
        case f.Spoken():
            return _cut_off(fact)
        case f.DeviceLost():
            return concerning(ConcernKind.DEVICE_LOST, f"Device lost: {fact.device} ({fact.detail}).")
        case f.ClockDoubted():
            return concerning(ConcernKind.CLOCK_IN_DOUBT, _clock_doubt(fact))
        case f.WorkedBeside():
            since = date_and_time(fact.since)
            words = f"The {fact.technician} was at work on this asset already, since {since} (session {fact.session})."
            return concerning(ConcernKind.TWO_AT_WORK, words)
        case f.FilesSetAside():
            missing = f"No line cites {counted(fact.sounds, 'sound')} of the session: lines may be missing."
            text = sentences(
                missing if fact.sounds else "",
                f"Set aside, because no line cites it: {', '.join(fact.names)}.",
            )
            return Description(text, concerns={ConcernKind.LINES_MISSING: joined(text)} if fact.sounds else {})
        case f.CopyReplaced():
            words = (
                f"The copy of the procedure file {fact.name} was damaged. "
                "The installed file, which has the same hash, took its place."
            )
            return Description(sentences(words), concerns={ConcernKind.COPY_REPLACED: words})
        case _:
            assert_never(fact)


def _cut_off(fact: f.Spoken) -> Description:
    """Prompts that were played whole do not stand in the record."""
    cut = [said for said in fact.said if not said.whole]
    warnings = " ".join(f"“{said.text}”" for said in cut if said.name == HAZARD)
    return Description(
        tuple(
            Sentence(
                f"Cut off before its end: “{said.text}”",
                (ConcernKind.WARNING_CUT_OFF,) if said.name == HAZARD else (),
            )
            for said in cut
        ),
        concerns={ConcernKind.WARNING_CUT_OFF: f"A warning was cut off before its end: {warnings}"} if warnings else {},
    )


def _clock_doubt(fact: f.ClockDoubted) -> str:
    shown, against = date_and_time(fact.shown), date_and_time(fact.against)
    match fact.why:
        case f.ClockDoubt.BEFORE_SESSION:
            return f"The clock showed {shown}, but the session {fact.session} went on until {against}."
        case f.ClockDoubt.BEFORE_PROGRAM:
            return f"The clock showed {shown}, which is before the program was made ({against})."
        case f.ClockDoubt.JUMPED:
            return f"The clock jumped: it showed {shown}, and should have shown about {against}."
        case _:
            assert_never(fact.why)
