"""Actions: what the floor asks of a world, in order. A closed union of frozen dataclasses.

A world carries them out and decides nothing. One that cannot be carried out becomes an event. `Deliver` and
`TakeUtterance` come last among the actions of an event, and the world answers them with `CoreDecided`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from assistant.dialogue.effects import CueSound, Listen, Say, SetVoice
from assistant.floor.events import DeviceName
from assistant.hearing.ear import HeardUtterance
from assistant.session.inputs import Input


class Notice(StrEnum):
    """What a person is told on the screen about a line that was typed."""

    UNREADABLE = "unreadable"
    TOO_SOON = "too soon"


@dataclass(frozen=True, slots=True)
class Deliver:
    """Give the core this input."""

    given: Input


@dataclass(frozen=True, slots=True)
class TakeUtterance:
    """Keep the sound of this utterance, and give the core the input that it is."""

    utterance: HeardUtterance


@dataclass(frozen=True, slots=True)
class ShowUtterance:
    """Show what was heard."""

    utterance: HeardUtterance


@dataclass(frozen=True, slots=True)
class Speak:
    """Speak these messages one by one, each ending in `MessageEnded`, then `PromptEnded`.

    shown_only: there is no loudspeaker, so they are shown.
    """

    say: Say
    shown_only: bool = False


@dataclass(frozen=True, slots=True)
class CutOff:
    """Fall silent at once; what is being spoken ends in `MessageEnded`, not whole, and `PromptEnded`."""


@dataclass(frozen=True, slots=True)
class PlayCue:
    """Play the cue sound of a decision.

    ahead: what is spoken next, so that its rendering can begin meanwhile.
    """

    sound: CueSound
    ahead: Say | None = None


@dataclass(frozen=True, slots=True)
class PlayListeningCue:
    """Play the cue sound that says: now it is your turn."""


@dataclass(frozen=True, slots=True)
class OpenEar:
    """Hear this from now on.

    fresh: whether the sound that waits is dropped: it was heard while nobody was asked anything.
    over_own_voice: a prompt is being spoken, and the microphone hears it.
    after_own_voice: a prompt has just ended, and the microphone still hears the end of it.
    """

    listen: Listen
    fresh: bool = True
    over_own_voice: bool = False
    after_own_voice: bool = False


@dataclass(frozen=True, slots=True)
class CloseEar:
    """Hear nothing more."""


@dataclass(frozen=True, slots=True)
class BeginUtterance:
    """The talk button bounds an utterance, which begins now."""


@dataclass(frozen=True, slots=True)
class FinishUtterance:
    """The utterance that the talk button bounds ends now."""


@dataclass(frozen=True, slots=True)
class DropUtterance:
    """The talk button was pressed for something else: nothing was said."""


@dataclass(frozen=True, slots=True)
class ReportLost:
    """Show that a device is gone, and what there is instead.

    detail: what the system said.
    """

    device: DeviceName
    detail: str


@dataclass(frozen=True, slots=True)
class ReportBack:
    """Show that a device is back."""

    device: DeviceName


@dataclass(frozen=True, slots=True)
class ShowNotice:
    """Show this notice."""

    notice: Notice


@dataclass(frozen=True, slots=True)
class LookForLoudspeaker:
    """Look for the loudspeaker until it is there again, which is `DeviceAnswers`."""


@dataclass(frozen=True, slots=True)
class AdjustVoice:
    """Speak like this from now on."""

    voice: SetVoice


DeviceAction = (
    ShowUtterance
    | Speak
    | CutOff
    | PlayCue
    | PlayListeningCue
    | OpenEar
    | CloseEar
    | BeginUtterance
    | FinishUtterance
    | DropUtterance
    | ReportLost
    | ReportBack
    | ShowNotice
    | LookForLoudspeaker
    | AdjustVoice
)
"""What a world does with its devices."""

FloorAction = Deliver | TakeUtterance | DeviceAction
