"""A rehearsed world: simulated time, a synthetic technician, engine noise, and the assistant's real voice and ears.

The technician is told only what was played; the assistant hears only sound. What computing takes is added to the
simulated time, so that the answer times are those of this machine. The power may be cut between a decision and its
effects: the world is of no use then, and the visit goes on in another one, from what is on disk.
"""

from __future__ import annotations

import random
import time
from collections import deque
from collections.abc import Callable

import numpy as np

from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import Tally
from assistant.app.watching import Utterance, Watcher
from assistant.dialogue.effects import Cue, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.dialogue.messages import Message
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language
from assistant.edge.files.store import SessionFolder
from assistant.edge.sound import cues
from assistant.edge.sound.detached import DetachedPlayer
from assistant.edge.sound.ear import RATE, Caught, Ear, Samples
from assistant.edge.sound.sound_files import flac
from assistant.edge.sound.voices import RenderedSpeech
from assistant.edge.sound.voices.adjustable import AdjustableVoice
from assistant.hearing.endpoint import BLOCK_SAMPLES, BLOCK_SECONDS
from assistant.hearing.judgement import HearingVerdict
from assistant.quantities import Quantity
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician import Speaks, Technician, Types, Waits
from assistant.rehearsal.technician_voice import speak
from assistant.session import facts as f
from assistant.session.inputs import AnswerVerdict as Taken
from assistant.session.inputs import (
    ButtonPressed,
    Clip,
    Heard,
    Input,
    PromptPlayed,
    Said,
    Silence,
    Source,
    TimerRanOut,
)

LEAD, TAIL = 0.7, 1.6  # seconds of noise before and after an utterance
NO_ANSWER = 5.0  # seconds after which the technician says it once more
ENOUGH = 1500  # inputs after which a visit has gone astray
NOISE_SECONDS = 40.0
WARM_WHILE_SPEAKING = 48  # pieces; far less than a prompt gives time for


class PowerCut(Exception):
    """The power was cut: a decision is on disk, and none of its effects came about."""


class RehearsedWorld:
    """Carries the effects of one visit out until it ends.

    muted: number of an utterance that is replaced by silence; player: plays both voices as they speak, pauses left out;
    tally: goes on with the counts of another world; cut: asked after each decision whether the power goes now.
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
        self.tally = Tally() if tally is None else tally
        self._owner = owner
        self._folder = folder
        self._clock = clock
        self._ear = ear
        self._voice = voice
        self._language = language
        self._technician = technician
        self._throat = speaker
        self._noise_db = noise_db
        self._watcher = watcher
        self._muted = muted
        self._player = player
        self._cut = cut
        self._noise = engine_noise(NOISE_SECONDS, seed)
        self._random = random.Random(seed + 1)
        self._timers: list[tuple[float, StartTimer]] = []
        self._listening: Listen | None = None
        self._effects: deque[Effect] = deque()
        self._speech_ended: float | None = None
        self._finished = False

    def run(self, given: Input) -> None:
        """The whole visit, from its first input or the one that takes it up again. Errors: PowerCut."""
        self._take(given)
        for _ in range(ENOUGH):
            while self._effects:
                self._carry_out(self._effects.popleft())
            if self._finished:
                return
            self._something_happens()
        self._watcher.note(self._clock.seconds, f"given up after {ENOUGH} inputs")

    # --- the assistant's side ---------------------------------------------------------------------------------------

    def _take(self, given: Input) -> None:
        begun = time.perf_counter()
        decision = self._owner.take(given)
        self._clock.move(time.perf_counter() - begun)
        for fact in decision.facts:
            if isinstance(fact, f.ReadingRecorded):
                truth = self._technician.truth(fact.place.step, fact.name)
                self.tally.true_values.append((fact, _in_unit_of(fact.quantity, truth)))
        if self._cut is not None and self._cut(self._owner):
            raise PowerCut
        self._effects.extend(decision.effects)
        if decision.effects and not isinstance(given, PromptPlayed):
            self._listening = None
            self._ear.close()

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Cue(sound):
                rendering = self._render_first()  # goes on while the cue sounds
                self._clock.move(max(rendering, len(cues.cue_sound(cues.CueName(sound.value), RATE)) / RATE))
            case Say():
                self._say(effect)
            case Listen():
                self._clock.move(len(cues.cue_sound(cues.CueName.LISTENING, RATE)) / RATE)
                self._listening = effect
                self._ear.open(effect)
            case StartTimer(_, _, seconds):
                self._timers.append((self._clock.seconds + seconds, effect))
            case SetVoice(loudness, pace):
                self._voice.speak(loudness, pace)
            case Finish():
                self._finished = True

    def _say(self, effect: Say) -> None:
        said: list[Said] = []
        self._warm()
        for message in effect.messages:
            begun = time.perf_counter()
            speech = self._voice.render(self._language.wording.aloud(message))
            self._clock.move(time.perf_counter() - begun)
            if self._speech_ended is not None:
                self.tally.answer_seconds.append(self._clock.seconds - self._speech_ended)
                self._speech_ended = None
            cut = self._technician.cuts_off(message)
            self._play(message, speech, not cut, said)
            if cut:
                self._watcher.note(self._clock.seconds, "technician presses the button")
                break
        self._take(PromptPlayed(effect.exchange, tuple(said)))

    def _render_first(self) -> float:
        """Renders the message that comes next; returns how many seconds it took."""
        coming = self._effects[0] if self._effects else None
        if not isinstance(coming, Say):
            return 0.0
        begun = time.perf_counter()
        self._voice.render(self._language.wording.aloud(coming.messages[0]))
        return time.perf_counter() - begun

    def _warm(self) -> None:
        """While the assistant speaks, what it will listen for is made ready; this takes no simulated time."""
        for effect in self._effects:
            if isinstance(effect, Listen):
                self._ear.warm(effect.expectation, WARM_WHILE_SPEAKING)

    def _play(self, message: Message, speech: RenderedSpeech, whole: bool, said: list[Said]) -> None:
        text = self._language.wording.text(message)
        self._watcher.said(self._clock.seconds, text, whole)
        samples = speech.samples if whole else speech.samples[: len(speech.samples) // 2]
        if self._player is not None:
            self._player.play(samples, speech.rate)
        self._clock.move(len(samples) / speech.rate)
        self._technician.hear(message, whole)
        said.append(Said(message.kind, text, whole))

    # --- the technician's side --------------------------------------------------------------------------------------

    def _something_happens(self) -> None:
        """The technician acts, or a timer runs out, or patience does: whichever comes first."""
        act = self._technician.act()
        while not self._effects:
            due = min((entry for entry in self._timers), key=lambda entry: entry[0], default=None)
            wait = None if isinstance(act, Waits) else self._clock.seconds + act.after
            patience = self._patience()
            soonest = min(moment for moment in (wait, due and due[0], patience, float("inf")) if moment is not None)
            if soonest == float("inf"):
                raise RuntimeError("nobody does anything any more")
            self._clock.move(soonest - self._clock.seconds)
            if due is not None and soonest == due[0]:
                self._timers.remove(due)
                self._take(TimerRanOut(due[1].timer, due[1].run))
            elif wait is not None and soonest == wait:
                act = self._acts(act)
            elif self._listening is not None:
                listening, self._listening = self._listening, None
                self._take(Silence(listening.exchange, listening.patience or 0.0))

    def _patience(self) -> float | None:
        if self._listening is None or self._listening.patience is None:
            return None
        return self._clock.seconds + self._listening.patience

    def _acts(self, act: Speaks | Types | Waits) -> Speaks | Types | Waits:
        """Does it; returns what is to be done when nothing follows."""
        listening = self._listening
        if listening is None:
            return Waits()
        match act:
            case Types(text):
                self._watcher.note(self._clock.seconds, f"technician types: {text}")
                hypotheses = self._language.typed(self._language.graph(listening.expectation), text)
                if hypotheses:
                    self._take(Heard(listening.exchange, Taken.ACCEPTED, hypotheses, Source.TYPED, None))
                else:
                    self._take(ButtonPressed(listening.exchange))
                return Waits()
            case Speaks(text):
                if self._speaks(listening, text):
                    return Waits()
                again = self._technician.unanswered()
                return Speaks(again.text, NO_ANSWER) if isinstance(again, Speaks) else again
        return Waits()

    def _speaks(self, listening: Listen, text: str) -> bool:
        """Says it into the noise; True when the assistant took it up."""
        self.tally.utterances += 1
        voice = speak(text, self._throat)
        if self._muted == self.tally.utterances:
            voice = np.zeros_like(voice)
        silence = (np.zeros(round(LEAD * RATE), np.float32), np.zeros(round(TAIL * RATE), np.float32))
        speech = np.concatenate([silence[0], voice, silence[1]])
        start = self._random.randrange(max(1, len(self._noise) - len(speech)))
        sound = self._with_noise(speech, self._noise[start : start + len(speech)])
        if self._player is not None:
            self._player.play(sound, RATE)
        begun = self._clock.seconds - LEAD
        ended = begun + (len(silence[0]) + _last_voice(voice)) / RATE
        for at in range(0, len(sound) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
            caught = self._ear.feed(sound[at : at + BLOCK_SAMPLES])
            if caught is not None:
                self._clock.move(begun + at / RATE + BLOCK_SECONDS + caught.compute - self._clock.seconds)
                if self._taken(listening, text, caught, ended):
                    return True
        self._clock.move(begun + len(sound) / RATE - self._clock.seconds)
        return False

    def _with_noise(self, speech: Samples, noise: Samples) -> Samples:
        if not np.any(speech):
            return 0.05 * noise  # a muted technician beside a running engine
        return mix(speech, noise, self._noise_db)

    def _taken(self, listening: Listen, text: str, caught: Caught, ended: float) -> bool:
        self._watcher.heard(self._clock.seconds, Utterance("technician", text), caught)
        if caught.verdict is HearingVerdict.IGNORE:
            self.tally.ignored += 1
            return False
        meant = self._language.typed(self._language.graph(listening.expectation), text)
        if caught.verdict is HearingVerdict.ASK_AGAIN:
            self.tally.asked_again += 1
        elif meant and caught.hypotheses[0].meaning == meant[0].meaning:
            self.tally.accepted_right += 1
        else:
            self.tally.accepted_wrong += 1
        clip: Clip = self._folder.keep(flac(caught.samples), caught.seconds)
        self._speech_ended = ended
        self._take(caught.heard(clip))
        return True


def _in_unit_of(said: Quantity, truth: Quantity | None) -> float | None:
    """The true value in the unit that was recorded; None where there is none, or where it measures something else."""
    return None if truth is None or truth.kind is not said.kind else float(truth.exactly(said.unit))


def _last_voice(voice: Samples) -> int:
    """The sample after the last that is within 35 dB of the loudest: synthesisers pad with silence."""
    if not len(voice):
        return 0
    loud = np.flatnonzero(np.abs(voice) > np.abs(voice).max() * 10 ** (-35 / 20))
    return int(loud[-1]) + 1 if len(loud) else len(voice)
