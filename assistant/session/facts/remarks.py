"""Facts that somebody is to know of: findings, notes, a call for help."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from assistant.session.facts.places import StepPlace
from assistant.session.facts.texts import FindingText
from assistant.session.inputs import Clip


@dataclass(frozen=True, slots=True)
class FindingRecorded:
    """Something was wrong that was not the task.

    finding: a statement, or a text of the procedure or of the technician.
    """

    place: StepPlace
    finding: FindingText
    kind: Literal["finding recorded"] = "finding recorded"


class Subject(StrEnum):
    """What a spoken note is about."""

    NOTE = "note"
    FINDING = "finding"
    STEP_WRONG = "step wrong"


@dataclass(frozen=True, slots=True)
class NoteKept:
    """Free speech was kept as sound, or as text when it was typed. title: of the step at which it was said."""

    place: StepPlace
    title: str
    subject: Subject
    text: str
    clip: Clip | None
    kind: Literal["note kept"] = "note kept"


@dataclass(frozen=True, slots=True)
class HelpCalled:
    """The technician called for help; the assistant repeated it aloud and reached nobody else."""

    kind: Literal["help called"] = "help called"


RemarkFact = FindingRecorded | NoteKept | HelpCalled
