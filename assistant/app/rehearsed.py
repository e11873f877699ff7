"""A rehearsed world: simulated time, a synthetic technician, engine noise, and the assistant's real voice and ears.

The technician is told only what was played; the assistant hears only sound. What computing takes is added to the
simulated time, so that the answer times are those of this machine. The technician cuts the assistant off by the same
events as a person does. The power may be cut between a decision and its effects: the world is of no use then, and the
visit goes on in another one, from what is on disk. Refuses to decide: the floor and the core do.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from typing import assert_never

import numpy as np

from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import Tally
from assistant.app.watching import SpokenUtterance, Watcher
from assistant.app.world import TOO_SOON, UNREADABLE, VisitWorld
from assistant.dialogue.effects import Effect, Say
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language
from assistant.edge.files.store import SessionFolder
from assistant.edge.keyboard import TypedLine
from assistant.edge.sound import cues
from assistant.edge.sound.detached import DetachedPlayer
from assistant.edge.sound.voices import RenderedSpeech
from assistant.edge.sound.voices.adjustable import AdjustableVoice
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
    ButtonDown,
    ButtonUp,
    EnterPressed,
    LineTyped,
    MessageEnded,
    PromptEnded,
    TimePassed,
    UtteranceHeard,
)
from assistant.floor.policy import meaning_of
from assistant.floor.state import FloorState, Phase
from assistant.hearing.ear import Ear, HeardUtterance, Samples
from assistant.hearing.endpoint import BLOCK_SAMPLES, BLOCK_SECONDS, RATE
from assistant.hearing.judgement import HearingVerdict
from assistant.quantities import Quantity
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician import Act, Interruption, Presses, Speaks, Technician, Types, Waits
from assistant.rehearsal.technician_voice import speak
from assistant.session import facts as f
from assistant.session.inputs import Input, Said

LEAD, TAIL = 0.7, 1.6  # seconds of noise before and after an utterance
NO_ANSWER = 5.0  # seconds after which the technician says it once more
PRESS_SECONDS = 0.2  # how long the button is down
MAX_INPUTS = 3000  # after which a visit has gone astray
NOISE_SECONDS = 40.0
WARM_WHILE_SPEAKING = 48  # pieces; far less than a prompt gives time for
_NOTICES = {Notice.UNREADABLE: UNREADABLE, Notice.TOO_SOON: TOO_SOON}


class PowerCut(Exception):
    """The power was cut: a decision is on disk, and none of its effects came about."""


class RehearsedWorld(VisitWorld):
    """Carries a visit out until it ends.

    speaker: which voice the technician has.
    noise_db: speech to noise.
    muted: number of an utterance that is replaced by silence.
    player: plays both voices as they speak, pauses left out.
    tally: goes on with the counts of another world.
    cut: asked after each decision whether the power fails now.
    """

    def __init__(
        self,
        owner: VisitOwner,
        folder: SessionFolder,
        clock: HandClock,
        ear: Ear,
        voice: AdjustableVoice,
        language: Language,
        technician: Technician,
        speaker: str,
        noise_db: float,
        seed: int,
        watcher: Watcher,
        muted: int | None = None,
        player: DetachedPlayer | None = None,
        tally: Tally | None = None,
        cut: Callable[[VisitOwner], bool] | None = None,
    ) -> None:
        super().__init__(owner, language, FloorState(headset=True), folder)
        self.tally = Tally() if tally is None else tally
        self._clock = clock
        self._ear = ear
        self._voice = voice
        self._technician = technician
        self._speaker = speaker
        self._noise_db = noise_db
        self._watcher = watcher
        self._muted = muted
        self._player = player
        self._cut = cut
        self._noise = engine_noise(NOISE_SECONDS, seed)
        self._random = random.Random(seed + 1)
        self._opening: OpenEar | None = None  # what the ear is to be opened for when somebody speaks
        self._words = ""  # what the technician said last
        self._answered = False  # whether the core had an answer to what the technician did
        self._inputs = 0
        self._speech_ended: float | None = None

    def run(self, given: Input) -> None:
        """The whole visit, from its first input or the one that takes it up again. Errors: PowerCut."""
        self.begin(given)
        while self._inputs < MAX_INPUTS:
            if self.state.phase is Phase.OVER:
                return
            if self.state.speaking:
                self._speak_on()
            else:
                self._await_technician()
        self._watcher.note(self._now(), f"given up after {MAX_INPUTS} inputs")

    # --- the assistant's side ---------------------------------------------------------------------------------------

    def _decide(self, given: Input) -> tuple[Effect, ...]:
        self._inputs += 1
        begun = time.perf_counter()
        decision = self._owner.take(given)
        self._clock.move(time.perf_counter() - begun)
        for fact in decision.facts:
            if isinstance(fact, f.ReadingRecorded):
                truth = self._technician.truth(fact.place.step, fact.name)
                self.tally.true_values.append((fact, in_unit_of(fact.quantity, truth)))
        if self._cut is not None and self._cut(self._owner):
            raise PowerCut
        self._answered = self._answered or bool(decision.effects)
        return decision.effects

    def _carry_out(self, action: DeviceAction) -> None:
        match action:
            case Speak():
                self._warm()  # it is spoken message by message, while the technician listens
            case PlayCue(sound, ahead):
                rendering = self._render_first(ahead)  # goes on while the cue sounds
                self._clock.move(max(rendering, len(cues.cue_sound(cues.CueName(sound.value), RATE)) / RATE))
            case PlayListeningCue():
                self._clock.move(len(cues.cue_sound(cues.CueName.LISTENING, RATE)) / RATE)
            case OpenEar():
                self._opening = action
            case CloseEar():
                self._opening = None
                self._ear.close()
            case ShowUtterance(utterance):
                self._show(utterance)
            case AdjustVoice(voice):
                self._voice.speak(voice.loudness, voice.pace)
            case ShowNotice(notice):
                self._watcher.note(self._now(), _NOTICES[notice])
            case CutOff():
                pass  # what is being played looks whether it was cut off
            case BeginUtterance() | FinishUtterance() | DropUtterance():
                pass  # nobody speaks while the button is down
            case ReportLost() | ReportBack() | LookForLoudspeaker():
                pass  # no device fails here
            case _:
                assert_never(action)

    def _speak_on(self) -> None:
        """The next message of the prompt, until its end or until the technician cuts it off."""
        prompt = self.state.prompt
        assert prompt is not None
        message = prompt.say.messages[len(prompt.said)]
        begun = time.perf_counter()
        speech = self._voice.render(self._language.wording.aloud(message))
        self._clock.move(time.perf_counter() - begun)
        if self._speech_ended is not None:
            self.tally.answer_seconds.append(self._now() - self._speech_ended)
            self._speech_ended = None
        interruption = self._technician.interrupts(message)
        text = self._language.wording.text(message)
        if interruption is None:
            self._watcher.said(self._now(), text, True)
            self._play(speech, 0, len(speech.samples))
        else:
            self._play(speech, 0, len(speech.samples) // 2)
            self._interrupt(interruption)
            self._watcher.said(self._now(), text, self.state.phase is Phase.SPEAKING)
            self._watcher.note(self._now(), f"technician {_words_of(interruption)}")
        whole = self.state.phase is Phase.SPEAKING
        if whole and interruption is not None:
            self._play(speech, len(speech.samples) // 2, len(speech.samples))
        self._technician.hear(message, whole)
        self.take(MessageEnded(self._now(), Said(message.kind, text, whole)))
        if not whole or len(prompt.said) + 1 == len(prompt.say.messages):
            self.take(PromptEnded(self._now()))

    def _play(self, speech: RenderedSpeech, first: int, end: int) -> None:
        samples = speech.samples[first:end]
        if self._player is not None:
            self._player.play(samples, speech.rate)
        self._clock.move(len(samples) / speech.rate)

    def _render_first(self, ahead: Say | None) -> float:
        """Renders the message that comes next; returns how many seconds it took."""
        if ahead is None:
            return 0.0
        begun = time.perf_counter()
        self._voice.render(self._language.wording.aloud(ahead.messages[0]))
        return time.perf_counter() - begun

    def _warm(self) -> None:
        """While the assistant speaks, what it will listen for is made ready; this takes no simulated time."""
        if self.state.coming is not None:
            self._ear.warm(self.state.coming.expectation, WARM_WHILE_SPEAKING)

    def _show(self, utterance: HeardUtterance) -> None:
        """Shows and counts what was heard, by one who knows what was said."""
        self._watcher.heard(self._now(), SpokenUtterance("technician", self._words), utterance)
        question = self.state.question
        said = () if question is None else self._language.typed(self._language.graph(question.expectation), self._words)
        meant = meaning_of(said)
        if utterance.verdict is HearingVerdict.IGNORE:
            self.tally.ignored += 1
        elif utterance.verdict is HearingVerdict.ASK_AGAIN:
            self.tally.asked_again += 1
        elif meant is not None and meaning_of(utterance.hypotheses) == meant:
            self.tally.accepted_right += 1
        else:
            self.tally.accepted_wrong += 1

    # --- the technician's side --------------------------------------------------------------------------------------

    def _interrupt(self, interruption: Interruption) -> None:
        """The technician does something while the assistant speaks."""
        self._answered = False
        match interruption:
            case Presses():
                self.take(ButtonDown(self._now()))
                self._clock.move(PRESS_SECONDS)
                self.take(ButtonUp(self._now()))
            case Types(text):
                self.take(self.typed(TypedLine(text, readable=True)))
            case Speaks(text):
                self._speak(text)
            case _:
                assert_never(interruption)

    def _await_technician(self) -> None:
        """The technician acts, or a timer runs out, or patience does, until the core has an answer to it."""
        act = self._technician.act()
        self._answered = False
        while not self._answered:
            acts_at = None if isinstance(act, Waits) else self._now() + act.after
            wakes_at = self.state.wakes_at
            if wakes_at is not None and (acts_at is None or wakes_at <= acts_at):
                self._clock.move(wakes_at - self._now())
                self.take(TimePassed(max(wakes_at, self._now())))
            elif acts_at is not None:
                self._clock.move(acts_at - self._now())
                act = self._act(act)
            else:
                raise RuntimeError("nobody does anything any more")

    def _act(self, act: Act) -> Act:
        """Does it; returns what is to be done when nothing follows."""
        if not self.state.listening:
            return Waits()
        match act:
            case Types(text):
                self._watcher.note(self._now(), f"technician types: {text}")
                line = self.typed(TypedLine(text, readable=True))
                understood = isinstance(line, LineTyped) and line.hypotheses
                self.take(line if understood else EnterPressed(self._now()))
                return Waits()
            case Speaks(text):
                if self._speak(text):
                    return Waits()
                again = self._technician.unanswered()
                return Speaks(again.text, NO_ANSWER) if isinstance(again, Speaks) else again
            case Waits():
                return act
            case _:
                assert_never(act)

    def _speak(self, text: str) -> bool:
        """Says it into the noise; whether the assistant took it up."""
        self.tally.utterances += 1
        self._words = text
        voice = speak(text, self._speaker)
        if self._muted == self.tally.utterances:
            voice = np.zeros_like(voice)
        silence = (np.zeros(round(LEAD * RATE), np.float32), np.zeros(round(TAIL * RATE), np.float32))
        speech = np.concatenate([silence[0], voice, silence[1]])
        start = self._random.randrange(max(1, len(self._noise) - len(speech)))
        sound = self._with_noise(speech, self._noise[start : start + len(speech)])
        if self._player is not None:
            self._player.play(sound, RATE)
        self._open_ear()
        begun = self._now() - LEAD
        ended = begun + (len(silence[0]) + _last_voice(voice)) / RATE
        for at in range(0, len(sound) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
            utterance = self._ear.feed(sound[at : at + BLOCK_SAMPLES])
            if utterance is None:
                continue
            self._clock.move(begun + at / RATE + BLOCK_SECONDS + utterance.compute - self._now())
            phase = self.state.phase
            if phase is Phase.LISTENING and utterance.verdict is not HearingVerdict.IGNORE:
                self._speech_ended = ended
            self.take(UtteranceHeard(self._now(), utterance))
            if self._answered or self.state.phase is not phase:
                return True
        self._clock.move(begun + len(sound) / RATE - self._now())
        return False

    def _open_ear(self) -> None:
        """Until somebody speaks there is nothing to be heard, so that it is opened only now."""
        if self._opening is not None:
            self._ear.open(self._opening.listen.expectation, self._opening.listen.exchange)
            self._opening = None

    def _with_noise(self, speech: Samples, noise: Samples) -> Samples:
        if not np.any(speech):
            return 0.05 * noise  # a muted technician beside a running engine
        return mix(speech, noise, self._noise_db)

    def _now(self) -> float:
        return self._clock.seconds


def _words_of(interruption: Interruption) -> str:
    """What the technician did meanwhile."""
    match interruption:
        case Presses():
            return "presses the button"
        case Types(text):
            return f"types: {text}"
        case Speaks(text):
            return f"says: {text}"
        case _:
            assert_never(interruption)


def in_unit_of(said: Quantity, truth: Quantity | None) -> float | None:
    """The true value in the unit that was recorded; None where there is none, or where it measures something else."""
    return None if truth is None or truth.kind is not said.kind else float(truth.exactly(said.unit))


def _last_voice(voice: Samples) -> int:
    """The sample after the last that is within 35 dB of the loudest: synthesisers pad with silence."""
    if not len(voice):
        return 0
    loud = np.flatnonzero(np.abs(voice) > np.abs(voice).max() * 10 ** (-35 / 20))
    return int(loud[-1]) + 1 if len(loud) else len(voice)
