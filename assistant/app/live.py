"""The real world: microphone, loudspeaker, button or Enter, real time. And the keyboard alone.

One thread owns the core. The microphone, the prompt that is being spoken, the keyboard and the timers have threads of
their own that only post to the inbox. Half-duplex: what is heard while the assistant speaks is not listened to.
"""

from __future__ import annotations

import select
import sys
import threading
import time
from collections import deque
from dataclasses import dataclass
from typing import TextIO

from assistant.app.attendance import Attendance
from assistant.app.inbox import Block, Inbox
from assistant.app.visits import Tally
from assistant.app.watching import Utterance, Watcher
from assistant.dialogue.effects import Cue, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.dialogue.messages import Message
from assistant.edge import cues
from assistant.edge.clock import HandClock
from assistant.edge.ear import Ear, Samples
from assistant.edge.language import Language
from assistant.edge.microphone import Microphone
from assistant.edge.player import Player
from assistant.edge.sounds import flac
from assistant.edge.store import SessionFolder
from assistant.edge.voices.adjustable import AdjustableVoice
from assistant.errors import AudioError, EngineBayError, JournalError
from assistant.hearing.judgement import Verdict
from assistant.session.inputs import (
    ButtonPressed,
    DeviceVanished,
    Heard,
    Input,
    PromptPlayed,
    Said,
    Silence,
    Source,
    TimerRanOut,
)
from assistant.session.inputs import Verdict as Taken

CUE_RATE = 22_050


@dataclass(frozen=True, slots=True)
class Line:
    """A line was typed; an empty one is the button. ended: the keyboard is gone."""

    text: str
    ended: bool = False


@dataclass(frozen=True, slots=True)
class Spoken:
    """The prompt ended or was cut off. fault: why the loudspeaker or the voice failed, empty when it did not."""

    said: tuple[Said, ...]
    fault: str = ""


@dataclass(frozen=True, slots=True)
class RanOut:
    """A timer ended."""

    timer: StartTimer


@dataclass(frozen=True, slots=True)
class Gone:
    """A device does not answer any more."""

    device: str
    detail: str


Event = Line | Spoken | RanOut | Gone


def take_typed(attendance: Attendance, language: Language, listening: Listen, text: str) -> tuple[Effect, ...]:
    """A typed line as an answer; an empty one is the button."""
    if not text.strip():
        return attendance.take(ButtonPressed(listening.exchange)).effects
    hypotheses = language.answer(listening.expectation, text)
    verdict = Taken.ACCEPTED if hypotheses else Taken.DOUBTFUL
    return attendance.take(Heard(listening.exchange, verdict, hypotheses, Source.TYPED, None)).effects


class LiveWorld:
    """Carries the effects of one visit out with a microphone and a loudspeaker, until it ends."""

    def __init__(
        self,
        attendance: Attendance,
        folder: SessionFolder,
        ear: Ear,
        voice: AdjustableVoice,
        language: Language,
        microphone: Microphone,
        player: Player,
        watcher: Watcher,
        keyboard: TextIO | None = None,
    ) -> None:
        self.inbox: Inbox[Event] = Inbox()
        self._attendance = attendance
        self._folder = folder
        self._ear = ear
        self._voice = voice
        self._language = language
        self._microphone = microphone
        self._player = player
        self._watcher = watcher
        self._keyboard = sys.stdin if keyboard is None else keyboard
        self._begun = time.monotonic()
        self._effects: deque[Effect] = deque()
        self._later: deque[Event] = deque()  # what came while the assistant spoke
        self._listening: Listen | None = None
        self._deadline: float | None = None
        self._speaking: int | None = None  # the exchange of the prompt that is being spoken
        self._hush = threading.Event()
        self._timers: list[threading.Timer] = []
        self._finished = False
        self.tally = Tally()

    def run(self, given: Input) -> None:
        """The whole visit, until it ends or the keyboard is closed with Ctrl-C."""
        for work in (self._listen_to_microphone, self._listen_to_keyboard):
            threading.Thread(target=work, daemon=True).start()
        try:
            self._take(given)
            while True:
                self._carry_out_all()
                if self._finished:
                    return
                self._happened(self._next())
        finally:
            for timer in self._timers:
                timer.cancel()
            self._hush.set()
            self._player.cut()

    # --- what happens -----------------------------------------------------------------------------------------------

    def _next(self) -> Event | Block | None:
        if self._later and self._speaking is None:
            return self._later.popleft()
        self._warm()
        return self.inbox.next(self._deadline)

    def _warm(self) -> None:
        """While the assistant speaks and nothing waits, what it will listen for is made ready."""
        coming = next((effect for effect in self._effects if isinstance(effect, Listen)), None)
        while self._speaking is not None and coming is not None and self.inbox.empty:
            if not self._ear.warm(coming.expectation, 8):
                return

    def _happened(self, event: Event | Block | None) -> None:
        match event:
            case Block(samples):
                if self._listening is not None:
                    self._heard(samples)
            case Spoken(said, fault):
                exchange, self._speaking = self._speaking or 0, None
                self._take(PromptPlayed(exchange, said))
                if fault:
                    self._take(DeviceVanished("loudspeaker", fault))
            case Line(text):
                self._typed(event, text)
            case RanOut() | Gone() if self._speaking is not None:
                self._later.append(event)
            case RanOut(timer):
                self._take(TimerRanOut(timer.timer, timer.run))
            case Gone(device, detail):
                self._take(DeviceVanished(device, detail))
            case None:
                if self._listening is not None:
                    self._take(Silence(self._listening.exchange, self._listening.patience or 0.0))

    def _typed(self, event: Line, text: str) -> None:
        if event.ended:
            return
        if self._speaking is not None:
            self._hush.set()
            self._player.cut()
            if text.strip():
                self._later.append(event)
        elif self._listening is not None:
            self._after(take_typed(self._attendance, self._language, self._listening, text))

    def _heard(self, samples: Samples) -> None:
        caught = self._ear.feed(samples)
        if caught is None:
            return
        self._watcher.heard(self._now(), Utterance("you", None), caught)
        self.tally.utterances += 1
        self.tally.asked_again += caught.verdict is Verdict.ASK_AGAIN
        if caught.verdict is Verdict.IGNORE:
            return
        try:
            clip = self._folder.keep(flac(caught.samples), caught.seconds)
        except JournalError as error:
            self._after(self._attendance.announce(error))
            return
        verdict = Taken.ACCEPTED if caught.verdict is Verdict.ACCEPT else Taken.DOUBTFUL
        self._take(Heard(caught.exchange, verdict, caught.hypotheses, Source.VOICE, clip))

    def _take(self, given: Input) -> None:
        self._after(self._attendance.take(given).effects)

    def _after(self, effects: tuple[Effect, ...]) -> None:
        if effects:
            self._listening = self._deadline = None
            self._ear.close()
        self._effects.extend(effects)

    # --- what is to be done -----------------------------------------------------------------------------------------

    def _carry_out_all(self) -> None:
        while self._effects and self._speaking is None:
            effect = self._effects.popleft()
            match effect:
                case Cue(sound):
                    self._render_ahead()
                    self._cue(cues.Cue(sound.value))
                case Say(exchange, messages):
                    self._speaking = exchange
                    self._hush.clear()
                    threading.Thread(target=self._speak, args=(messages,), daemon=True).start()
                case Listen(_, _, patience):
                    self._cue(cues.Cue.LISTENING)
                    self.inbox.forget_sound()
                    self._ear.open(effect)
                    self._listening = effect
                    self._deadline = None if patience is None else time.monotonic() + patience
                case StartTimer(_, _, seconds):
                    timer = threading.Timer(seconds, self.inbox.post, args=(RanOut(effect),))
                    timer.daemon = True
                    timer.start()
                    self._timers.append(timer)
                case SetVoice(loudness, pace):
                    self._voice.speak(loudness, pace)
                case Finish():
                    self._finished = True

    def _render_ahead(self) -> None:
        """What is said next is rendered while the cue sounds."""
        coming = self._effects[0] if self._effects else None
        if isinstance(coming, Say):
            self._voice.prefetch(self._language.wording.aloud(message) for message in coming.messages)

    def _cue(self, cue: cues.Cue) -> None:
        try:
            self._player.play(cues.cue_sound(cue, CUE_RATE), CUE_RATE)
        except AudioError as error:
            self.inbox.post(Gone("loudspeaker", str(error)))

    def _speak(self, messages: tuple[Message, ...]) -> None:
        """In a thread of its own: the messages one after the other, until one is cut off."""
        said: list[Said] = []
        fault = ""
        for message in messages:
            text = self._language.wording.text(message)
            try:
                speech = self._voice.render(self._language.wording.aloud(message))
                played = self._player.play(speech.samples, speech.rate)
                whole = played.whole
            except EngineBayError as error:
                whole, fault = False, str(error)
            said.append(Said(type(message).__name__, text, whole))
            self._watcher.said(self._now(), text, whole)
            if self._hush.is_set() or fault:
                break
        self.inbox.post(Spoken(tuple(said), fault))

    # --- the world's threads ----------------------------------------------------------------------------------------

    def _listen_to_microphone(self) -> None:
        try:
            for samples in self._microphone.blocks():
                self.inbox.post(Block(samples))
        except AudioError as error:
            self.inbox.post(Gone("microphone", str(error)))

    def _listen_to_keyboard(self) -> None:
        for line in self._keyboard:
            self.inbox.post(Line(line))
        self.inbox.post(Line("", ended=True))

    def _now(self) -> float:
        return time.monotonic() - self._begun


class TypedWorld:
    """Carries the effects of one visit out on a terminal: what is said is shown, what is meant is typed.

    clock: a hand clock makes waits pass when Enter is pressed; without one they take their time. `run` returns when
    the work or the input ends.
    """

    def __init__(
        self,
        attendance: Attendance,
        language: Language,
        watcher: Watcher,
        keyboard: TextIO | None = None,
        clock: HandClock | None = None,
    ) -> None:
        self._attendance = attendance
        self._language = language
        self._watcher = watcher
        self._keyboard = sys.stdin if keyboard is None else keyboard
        self._clock = clock
        self._begun = time.monotonic()
        self._effects: deque[Effect] = deque()
        self._timers: list[tuple[float, StartTimer]] = []
        self._listening: Listen | None = None
        self._finished = False
        self.tally = Tally()

    def run(self, given: Input) -> None:
        """The whole visit."""
        self._effects.extend(self._attendance.take(given).effects)
        while True:
            while self._effects:
                self._carry_out(self._effects.popleft())
            if self._finished or self._listening is None:
                return
            due = min(self._timers, key=lambda entry: entry[0], default=None)
            line = self._line(None if due is None or self._clock is not None else due[0])
            passes = line is not None and not line.strip() and self._clock is not None
            if due is not None and (line is None or passes):
                self._timers.remove(due)
                if self._clock is not None:
                    self._clock.move(due[0] - self._now())
                self._effects.extend(self._attendance.take(TimerRanOut(due[1].timer, due[1].run)).effects)
            elif line is not None:
                if not line:
                    return  # the input ended; the session can be taken up again
                self._effects.extend(take_typed(self._attendance, self._language, self._listening, line))

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Say(exchange, messages):
                texts = tuple(self._language.wording.text(message) for message in messages)
                for text in texts:
                    self._watcher.said(self._now(), text, True)
                said = tuple(
                    Said(type(message).__name__, text, True) for message, text in zip(messages, texts, strict=True)
                )
                self._attendance.take(PromptPlayed(exchange, said))
            case Listen():
                self._listening = effect
            case StartTimer(_, _, seconds):
                self._timers.append((self._now() + seconds, effect))
                if self._clock is not None:
                    self._watcher.note(self._now(), "press Enter to let the time pass")
            case Finish():
                self._finished = True
            case SetVoice():
                pass  # nothing to hear on a terminal
            case Cue():
                pass  # nothing to hear on a terminal

    def _line(self, until: float | None) -> str | None:
        """A typed line with its end, `""` when the input ended, None when a timer is due before."""
        if until is not None:
            ready, _, _ = select.select([self._keyboard], [], [], max(0.0, until - self._now()))
            if not ready:
                return None
        return self._keyboard.readline()

    def _now(self) -> float:
        return time.monotonic() - self._begun if self._clock is None else self._clock.seconds
