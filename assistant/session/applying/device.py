"""What the facts of the device change of a visit."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Visit


def apply_device(visit: Visit, fact: f.DeviceFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.VoiceChanged():
            return replace(visit, loudness=fact.loudness, pace=fact.pace)
        case f.ClockDoubted() | f.WorkedBeside() | f.FilesSetAside() | f.CopyReplaced() | f.Spoken() | f.DeviceLost():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)
