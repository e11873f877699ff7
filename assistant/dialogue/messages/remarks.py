"""Messages about findings and notes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar


@dataclass(frozen=True, slots=True)
class FindingNoted:
    """A value that is not within its limits goes into the record as a finding, and the work goes on."""

    kind: ClassVar[str] = "FindingNoted"


@dataclass(frozen=True, slots=True)
class SpeakNote:
    """A note is to be spoken now."""

    kind: ClassVar[str] = "SpeakNote"


@dataclass(frozen=True, slots=True)
class SpeakFinding:
    """A finding is to be spoken now."""

    kind: ClassVar[str] = "SpeakFinding"


@dataclass(frozen=True, slots=True)
class SpeakWhatIsWrong:
    """What is wrong with the step is to be spoken now; it goes to the trainer."""

    kind: ClassVar[str] = "SpeakWhatIsWrong"


@dataclass(frozen=True, slots=True)
class Kept:
    """What was spoken is kept as sound."""

    kind: ClassVar[str] = "Kept"


@dataclass(frozen=True, slots=True)
class KeptAsText:
    """What was typed is kept as it was written: there is no sound of it."""

    kind: ClassVar[str] = "KeptAsText"


RemarkMessage = FindingNoted | SpeakNote | SpeakFinding | SpeakWhatIsWrong | Kept | KeptAsText
