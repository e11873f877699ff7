"""The live world: microphone, loudspeaker, button or Enter, real time.

One thread owns the core and the floor; those of the devices only post to the inbox. Knows how the floor's actions are
carried out with devices. Refuses to decide: who may speak, what cuts a prompt off, what is heard and what is told of a
device is the floor's.
"""

from __future__ import annotations

import time
from typing import TextIO, assert_never

from assistant.app.device_threads import DeviceThreads, PromptSpeaker, Report
from assistant.app.inbox import Block, Inbox
from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import Tally
from assistant.app.watching import SpokenUtterance, SteadyWatcher, Watcher
from assistant.app.world import TOO_SOON, UNREADABLE, VisitWorld, cause_of
from assistant.edge.files.language import Language
from assistant.edge.files.store import SessionFolder
from assistant.edge.keyboard import TypedLine
from assistant.edge.sound import cues
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
from assistant.edge.sound.voices.adjustable import AdjustableVoice
from assistant.edge.talk_button import TalkButton
from assistant.floor.actions import (
    AdjustVoice,
    BeginUtterance,
    CloseEar,
    CutOff,
    DeviceAction,
    DropUtterance,
    FinishUtterance,
    LookForLoudspeaker,
    Notice,
    OpenEar,
    PlayCue,
    PlayListeningCue,
    ReportBack,
    ReportLost,
    ShowNotice,
    ShowUtterance,
    Speak,
)
from assistant.floor.events import (
    DeviceAnswers,
    DeviceFailed,
    DeviceName,
    TimePassed,
    UtteranceHeard,
    UtteranceLost,
    VoiceBegan,
    VoiceEnded,
)
from assistant.floor.policy import meaning_of
from assistant.floor.state import FloorState, Phase
from assistant.hearing.ear import Ear, HeardUtterance, Samples
from assistant.hearing.judgement import HearingVerdict
from assistant.quantities import counted
from assistant.session.inputs import Input

CUE_RATE = 22_050
CUT_AGAIN_SECONDS = 0.05  # a cut that came between two sounds is made again
WARM_AT_ONCE = 8  # pieces of work ahead of hearing, between two looks at the inbox

_INSTEAD = {
    DeviceName.MICROPHONE: "There is the keyboard: type what you would say, Enter is the button",
    DeviceName.LOUDSPEAKER: "There is the screen: what would be said is shown, and not spoken",
    DeviceName.VOICE: "There is the screen: what would be said is shown, and not spoken",
    DeviceName.RECOGNISER: "There is the keyboard: type what you would say",
    DeviceName.KEYBOARD: "There are your voice and the talk button",
    DeviceName.BUTTON: "There is the keyboard: Enter is the button",
    DeviceName.SCREEN: "There is the voice",
}
_TRIED_AGAIN = {
    DeviceName.MICROPHONE: "It is looked for once a second",
    DeviceName.LOUDSPEAKER: "It is looked for once a second",
    DeviceName.VOICE: "It is tried again with the next words",
    DeviceName.RECOGNISER: "It is tried again when you speak",
    DeviceName.KEYBOARD: "It is not looked for again",
    DeviceName.BUTTON: "It is not looked for again",
    DeviceName.SCREEN: "It is tried again with the next line",
}
_NOTICES = {Notice.UNREADABLE: UNREADABLE, Notice.TOO_SOON: TOO_SOON}


class LiveWorld(VisitWorld):
    """Carries a visit out with a microphone and a loudspeaker, until it ends.

    headset: the microphone does not hear the loudspeaker.
    panel: a talk button, if there is one.
    """

    def __init__(
        self,
        owner: VisitOwner,
        folder: SessionFolder,
        ear: Ear,
        voice: AdjustableVoice,
        language: Language,
        microphone: DetachedMicrophone,
        player: DetachedPlayer,
        watcher: Watcher,
        keyboard: TextIO | None = None,
        headset: bool = False,
        panel: TalkButton | None = None,
    ) -> None:
        super().__init__(owner, language, FloorState(headset=headset), folder)
        self.inbox: Inbox[Report] = Inbox()
        self.tally = Tally()
        self.threads = DeviceThreads(self.inbox.post, self._now)
        self._begun = time.monotonic()
        self._ear = ear
        self._voice = voice
        self._microphone = microphone
        self._player = player
        self._watcher = SteadyWatcher(
            watcher,
            lambda detail: self.inbox.post(DeviceFailed(self._now(), DeviceName.SCREEN, detail)),
            lambda: self.inbox.post(DeviceAnswers(self._now(), DeviceName.SCREEN)),
        )
        self._speaker = PromptSpeaker(voice, player, language.wording, self._watcher, self.inbox.post, self._now)
        self._keyboard = keyboard
        self._panel = panel
        self._lacking: set[str] = set()  # words that were told to be lacking

    def run(self, given: Input) -> None:
        """The whole visit, until it ends or the keyboard is closed with Ctrl-C.

        Errors: JournalError when the beginning itself cannot be written down.
        """
        self.threads.hear(self._microphone)
        self.threads.read(self._keyboard)
        if self._panel is not None:
            self.threads.watch(self._panel)
        try:
            self.begin(given)
            while self.state.phase is not Phase.OVER:
                self.go_on()
        finally:
            self.threads.end()
            self._speaker.cut_off()
            self._watcher.note(
                self._now(),
                f"sound lost: {counted(self._microphone.overruns, 'overrun')} of the microphone, "
                f"{counted(self.inbox.dropped, 'block')} of 32 ms that came too fast",
            )

    def go_on(self, longest: float | None = None) -> None:
        """Takes what is reported next. longest: seconds that it waits for it; None: until there is something."""
        report = self._next(longest)
        match report:
            case None:
                pass
            case Block(samples):
                self._hear(samples)
            case TypedLine():
                self.take(self.typed(report))
            case _:
                self.take(report)

    # --- what is reported -------------------------------------------------------------------------------------------

    def _next(self, longest: float | None) -> Report | None:
        """The next report; a moment that was waited for comes first: sound that comes fast must not hold a timer up."""
        wakes_at = self.state.wakes_at
        if wakes_at is not None and wakes_at <= self._now():
            return TimePassed(self._now())
        ends = [] if longest is None else [self._now() + longest]
        if wakes_at is not None:
            ends.append(wakes_at)
        if self.state.phase is Phase.HUSHED:
            self._speaker.cut_off()
            ends.append(self._now() + CUT_AGAIN_SECONDS)
        elif self.state.phase is Phase.SPEAKING:
            self._warm()
        return self.inbox.next(self._begun + min(ends) if ends else None)

    def _warm(self) -> None:
        """While the assistant speaks and nothing waits, what it will listen for is made ready."""
        for listen in (self.state.hears, self.state.coming):
            while listen is not None and self.inbox.empty:
                try:
                    if not self._ear.warm(listen.expectation, WARM_AT_ONCE):
                        break
                except Exception:
                    break  # it is told when something is said and not heard

    def _hear(self, samples: Samples) -> None:
        if not self._ear.is_open:
            return
        try:
            utterance = self._ear.feed(samples)
        except Exception as error:
            self._ear.forget()
            self.take(UtteranceLost(self._now(), cause_of(error)))
            return
        if utterance is not None:
            self.take(UtteranceHeard(self._now(), utterance, self._may_be_its_own(utterance)))
        elif self._ear.in_speech != self.state.voice:
            self.take((VoiceBegan if self._ear.in_speech else VoiceEnded)(self._now()))

    def _may_be_its_own(self, utterance: HeardUtterance) -> bool:
        """Whether the prompt that is being spoken holds the same words."""
        prompt, hears = self.state.prompt, self.state.hears
        if self.state.headset or prompt is None or hears is None or not utterance.hypotheses:
            return False
        aloud = " ".join(self._language.wording.aloud(message) for message in prompt.say.messages)
        return meaning_of(utterance.hypotheses) in self._language.meant_in(aloud, hears.expectation)

    # --- what is to be done -----------------------------------------------------------------------------------------

    def _carry_out(self, action: DeviceAction) -> None:
        match action:
            case Speak(say, shown_only):
                self._speaker.speak(say, shown_only)
            case CutOff():
                self._speaker.cut_off()
            case PlayCue(sound, ahead):
                if ahead is not None:  # it is rendered while the cue sounds
                    self._voice.prefetch(self._language.wording.aloud(message) for message in ahead.messages)
                self._cue(cues.CueName(sound.value))
            case PlayListeningCue():
                self._cue(cues.CueName.LISTENING)
            case OpenEar():
                self._open_ear(action)
            case CloseEar():
                self._ear.close()
            case BeginUtterance():
                self._ear.begin()
            case FinishUtterance():
                self._ear.finish()
            case DropUtterance():
                self._ear.let_go()
            case ShowUtterance(utterance):
                self._watcher.heard(self._now(), SpokenUtterance("you", None), utterance)
                self.tally.utterances += 1
                self.tally.asked_again += utterance.verdict is HearingVerdict.ASK_AGAIN
            case ReportLost(device, detail):
                gone = f"the {device} is gone ({detail}). {_INSTEAD[device]}. {_TRIED_AGAIN[device]}."
                self._watcher.note(self._now(), gone)
            case ReportBack(device):
                self._watcher.note(self._now(), f"the {device} is back.")
            case ShowNotice(notice):
                self._watcher.note(self._now(), _NOTICES[notice])
            case LookForLoudspeaker():
                self.threads.look_for(self._player)
            case AdjustVoice(voice):
                self._voice.speak(voice.loudness, voice.pace)
            case _:
                assert_never(action)

    def _open_ear(self, opening: OpenEar) -> None:
        """The ear is open for this from now on. Words that the recogniser lacks are named once."""
        if opening.fresh:
            self.inbox.forget_sound()
        listen = opening.listen
        try:
            lacking = self._ear.open(
                listen.expectation, listen.exchange, opening.over_own_voice, opening.after_own_voice
            )
        except Exception as error:
            self._ear.close()
            self._events.append(DeviceFailed(self._now(), DeviceName.RECOGNISER, cause_of(error)))
            return
        new = [word for word in lacking if word not in self._lacking]
        if new:
            self._lacking.update(new)
            words = f"the recogniser cannot hear these words: {', '.join(new)}. Type what has them in it."
            self._watcher.note(self._now(), words)

    def _cue(self, cue: cues.CueName) -> None:
        try:
            self._player.play(cues.cue_sound(cue, CUE_RATE), CUE_RATE)
        except Exception as error:
            self._events.append(DeviceFailed(self._now(), DeviceName.LOUDSPEAKER, cause_of(error)))

    def _now(self) -> float:
        return time.monotonic() - self._begun
