"""The real world: microphone, loudspeaker, button or Enter, real time. And the keyboard alone.

One thread owns the core. The microphone, the prompt that is being spoken, the keyboard, the button and the timers have
threads of their own that only post to the inbox. The ear stays open while the assistant speaks: an answer or a command
cuts it off. Without a headset it hears itself too, so then only commands count, and none that the prompt names. A
device that vanishes is told of and looked for; until it is back there are the keyboard and the screen.
"""

from __future__ import annotations

import select
import sys
import threading
import time
from collections import deque
from dataclasses import dataclass, replace
from typing import TextIO

from assistant.app.attendance import Attendance
from assistant.app.inbox import Block, Inbox
from assistant.app.visits import Tally
from assistant.app.watching import Utterance, Watcher
from assistant.dialogue.effects import Cue, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.dialogue.messages import DeviceGone
from assistant.edge import cues
from assistant.edge.clock import HandClock
from assistant.edge.detached import DetachedMicrophone, DetachedPlayer
from assistant.edge.ear import Caught, Ear, Samples
from assistant.edge.language import Language
from assistant.edge.panel import Panel
from assistant.edge.sounds import flac
from assistant.edge.store import SessionFolder
from assistant.edge.voices.adjustable import AdjustableVoice
from assistant.errors import AudioError, EngineBayError, JournalError, RecogniserError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.hearing.endpoint import blocks
from assistant.hearing.judgement import Verdict
from assistant.meanings import Command, CommandName, Speech
from assistant.quantities import counted
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
LOOK_AGAIN = 1.0  # seconds between two looks for a device that is gone
SHORT_PRESS = 0.35  # seconds; a shorter press is the button, a longer one holds an utterance
CUT_AGAIN = 0.05  # seconds; a cut that came between two sounds is made again
OWN_TAIL = blocks(0.2)  # after a prompt, in which the end of it is still on its way from the loudspeaker to us
STOP = Command(CommandName.STOP)

_INSTEAD = {
    "microphone": "There is the keyboard: type what you would say, Enter is the button",
    "loudspeaker": "There is the screen: what would be said is shown, and not spoken",
    "voice": "There is the screen: what would be said is shown, and not spoken",
    "recogniser": "There is the keyboard: type what you would say",
}
_TRIED_AGAIN = {
    "microphone": "It is looked for once a second",
    "loudspeaker": "It is looked for once a second",
    "voice": "It is tried again with the next words",
    "recogniser": "It is tried again when you speak",
}


@dataclass(frozen=True, slots=True)
class Line:
    """A line was typed; an empty one is the button. ended: the keyboard is gone."""

    text: str
    ended: bool = False


@dataclass(frozen=True, slots=True)
class Spoken:
    """The prompt ended or was cut off. fault: the loudspeaker or the voice when it failed; what was left is shown."""

    said: tuple[Said, ...]
    fault: Gone | None = None


@dataclass(frozen=True, slots=True)
class RanOut:
    """A timer ended."""

    timer: StartTimer


@dataclass(frozen=True, slots=True)
class Gone:
    """A device does not answer any more."""

    device: str
    detail: str


@dataclass(frozen=True, slots=True)
class Back:
    """A device that was gone is there again."""

    device: str


@dataclass(frozen=True, slots=True)
class Pressed:
    """The talk button went down. at: seconds of `time.monotonic`."""

    at: float


@dataclass(frozen=True, slots=True)
class Released:
    """The talk button went up. at: seconds of `time.monotonic`."""

    at: float


Event = Line | Spoken | RanOut | Gone | Back | Pressed | Released


def take_typed(attendance: Attendance, language: Language, listening: Listen, text: str) -> tuple[Effect, ...]:
    """A typed line as an answer; an empty one is the button."""
    if not text.strip():
        return attendance.take(ButtonPressed(listening.exchange)).effects
    hypotheses = language.answer(listening.expectation, text)
    verdict = Taken.ACCEPTED if hypotheses else Taken.DOUBTFUL
    return attendance.take(Heard(listening.exchange, verdict, hypotheses, Source.TYPED, None)).effects


def audible_while_speaking(expectation: Expectation, headset: bool) -> Expectation:
    """What is listened for while the assistant speaks. headset: it does not hear itself.

    Never a hold point or a confirmation: the warning, or what is read back, must have been heard first. No note: it
    begins after the cue, for any sound would be one. Without a headset only commands, so that no reading comes from
    the assistant's own mouth.
    """

    def audible(offer: Offer) -> bool:
        if offer.meaning is Command:
            return offer.risk is Risk.COMMAND
        return headset and offer.meaning is not Speech and offer.risk is not Risk.HOLD

    return Expectation(tuple(offer for offer in expectation.offers if audible(offer)))


class LiveWorld:
    """Carries the effects of one visit out with a microphone and a loudspeaker, until it ends.

    headset: the microphone does not hear the loudspeaker; panel: a talk button, if there is one.
    """

    def __init__(
        self,
        attendance: Attendance,
        folder: SessionFolder,
        ear: Ear,
        voice: AdjustableVoice,
        language: Language,
        microphone: DetachedMicrophone,
        player: DetachedPlayer,
        watcher: Watcher,
        keyboard: TextIO | None = None,
        headset: bool = False,
        panel: Panel | None = None,
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
        self._through: Listen | None = None  # what the ear is open for while the assistant speaks
        self._aloud = ""  # all that is said in the prompt that is being spoken
        self._early: Caught | None = None  # what cut the prompt off; it is the answer to the question at its end
        self._headset = headset
        self._panel = panel
        self._pressed: float | None = None  # since when the talk button is down
        self._press_cut = False  # whether that press cut a prompt off
        self._gone: set[str] = set()  # devices that were told to be gone
        self._lacking: set[str] = set()  # words that were told to be lacking
        self._deaf = 0  # blocks that are still to be left unheard
        self._unspoken: Say | None = None  # the last prompt, if it was only shown
        self._over = threading.Event()
        self._hush = threading.Event()
        self._timers: list[threading.Timer] = []
        self._finished = False
        self.tally = Tally()

    def run(self, given: Input) -> None:
        """The whole visit, until it ends or the keyboard is closed with Ctrl-C."""
        for work in (self._listen_to_microphone, self._listen_to_keyboard):
            threading.Thread(target=work, daemon=True).start()
        if self._panel is not None:
            self._panel.watch(
                lambda: self.inbox.post(Pressed(time.monotonic())), lambda: self.inbox.post(Released(time.monotonic()))
            )
        try:
            self._take(given)
            while True:
                self._carry_out_all()
                if self._finished:
                    return
                self._happened(self._next())
        finally:
            self._over.set()
            for timer in self._timers:
                timer.cancel()
            self._cut_off()
            self._watcher.note(
                self._now(),
                f"sound lost: {counted(self._microphone.overruns, 'overrun')} of the microphone, "
                f"{counted(self.inbox.dropped, 'block')} of 32 ms that came too fast",
            )

    # --- what happens -----------------------------------------------------------------------------------------------

    def _next(self) -> Event | Block | None:
        if self._speaking is None:
            if self._later:
                return self._later.popleft()
            return self.inbox.next(self._deadline)
        if self._hush.is_set():
            self._player.cut()
            return self.inbox.next(time.monotonic() + CUT_AGAIN)
        self._warm()
        return self.inbox.next()

    def _warm(self) -> None:
        """While the assistant speaks and nothing waits, what it will listen for is made ready."""
        for listening in (self._through, self._coming()):
            while listening is not None and self.inbox.empty:
                try:
                    if not self._ear.warm(listening.expectation, 8):
                        break
                except RecogniserError:
                    break  # it is told when something is said and not heard

    def _coming(self) -> Listen | None:
        """What will be listened for when everything is said."""
        return next((effect for effect in self._effects if isinstance(effect, Listen)), None)

    def _happened(self, event: Event | Block | None) -> None:
        match event:
            case Block(samples):
                self._heard(samples)
            case Spoken():
                self._spoken(event)
            case Line(text):
                self._typed(event, text)
            case Pressed(at):
                self._press(at)
            case Released(at):
                self._release(at)
            case RanOut() | Gone() | Back() if self._speaking is not None:
                self._later.append(event)
            case RanOut(timer):
                self._take(TimerRanOut(timer.timer, timer.run))
            case Gone():
                self._lose(event)
            case Back(device):
                self._regain(device)
            case None if self._listening is not None:
                if self._ear.in_speech and "microphone" not in self._gone:
                    self._deadline = time.monotonic() + CUT_AGAIN  # somebody is answering
                else:
                    self._take(Silence(self._listening.exchange, self._listening.patience or 0.0))

    def _spoken(self, spoken: Spoken) -> None:
        exchange, self._speaking = self._speaking or 0, None
        if not (self._headset and self._ear.in_speech):  # else the answer that was begun is heard to its end
            self._stop_hearing_through()
        self._take(PromptPlayed(exchange, spoken.said))
        if spoken.fault is not None:
            self._lose(spoken.fault)

    def _typed(self, event: Line, text: str) -> None:
        if event.ended:
            return
        if self._speaking is not None:
            self._cut_off()
            if text.strip():
                self._early = None  # what is typed is the answer
                self._later.append(event)
        elif self._listening is not None:
            self._after(take_typed(self._attendance, self._language, self._listening, text))

    def _cut_off(self) -> None:
        self._hush.set()
        self._player.cut()

    def _press(self, at: float) -> None:
        self._deaf = 0
        self._pressed, self._press_cut = at, self._speaking is not None
        if self._speaking is not None:
            self._cut_off()
            self._stop_hearing_through()
        elif self._listening is not None:
            self._ear.begin()

    def _release(self, at: float) -> None:
        pressed, self._pressed = self._pressed, None
        if pressed is None or self._listening is None:
            return
        if at - pressed >= SHORT_PRESS:
            self._ear.finish()
            return
        self._ear.let_go()
        if self._press_cut:
            self._cue(cues.Cue.LISTENING)
        else:
            self._take(ButtonPressed(self._listening.exchange))

    def _heard(self, samples: Samples) -> None:
        if self._deaf > 0:
            self._deaf -= 1
            return
        try:
            caught = self._ear.feed(samples)
        except RecogniserError as error:
            self._cannot_hear(error)
            return
        if caught is None:
            return
        self._regain("recogniser")
        if self._listening is None:
            self._heard_through(caught)
        else:
            self._answered(caught)

    def _heard_through(self, caught: Caught) -> None:
        """Heard while the assistant speaks: what is sure cuts it off and waits for the end; the rest is nothing."""
        if self._through is None or caught.verdict is not Verdict.ACCEPT or not caught.hypotheses:
            return
        best, heard_for = caught.hypotheses[0], self._through.expectation
        own = not self._headset and best.meaning in self._language.meant_in(self._aloud, heard_for)
        if own and best.meaning != STOP:
            return
        self._cut_off()
        self._stop_hearing_through()
        if not own:  # `stop` always silences; it is an answer when it cannot have been the assistant's own word
            self._early = caught

    def _hear(self, listening: Listen, over_own_voice: bool = False) -> None:
        """The ear is open for this from now on. Words that the recogniser lacks are named once."""
        try:
            lacking = [word for word in self._ear.open(listening, over_own_voice) if word not in self._lacking]
        except RecogniserError as error:
            self._cannot_hear(error)
            return
        if lacking:
            self._lacking.update(lacking)
            self._watcher.note(
                self._now(),
                f"the recogniser cannot hear these words: {', '.join(lacking)}. Type what has them in it.",
            )

    def _cannot_hear(self, error: RecogniserError) -> None:
        """The engine failed: told once; from then on what is said counts as not understood, until it is heard again."""
        self._ear.forget()
        if "recogniser" in self._gone and self._listening is not None:
            self._take(Heard(self._listening.exchange, Taken.DOUBTFUL, (), Source.VOICE, None))
        else:
            self._happened(Gone("recogniser", str(error)))

    def _hear_through(self) -> None:
        coming = self._coming()
        if coming is None or self._pressed is not None:
            return
        audible = audible_while_speaking(coming.expectation, self._headset)
        if audible.offers:
            self.inbox.forget_sound()
            self._through = replace(coming, expectation=audible)
            self._hear(self._through, over_own_voice=not self._headset)

    def _stop_hearing_through(self) -> None:
        self._through = None
        self._ear.close()

    def _answered(self, caught: Caught) -> None:
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
        self._take(caught.heard(clip))

    # --- devices that go and come -----------------------------------------------------------------------------------

    def _lose(self, gone: Gone) -> None:
        if gone.device in self._gone:
            return
        self._gone.add(gone.device)
        if gone.device == "loudspeaker":
            threading.Thread(target=self._look_for_loudspeaker, daemon=True).start()
        self._watcher.note(
            self._now(),
            f"the {gone.device} is gone ({gone.detail}). {_INSTEAD[gone.device]}. {_TRIED_AGAIN[gone.device]}.",
        )
        self._take(DeviceVanished(gone.device, gone.detail))

    def _regain(self, device: str) -> None:
        if device not in self._gone:
            return
        self._gone.discard(device)
        self._watcher.note(self._now(), f"the {device} is back.")
        if self._listening is None:
            return
        if device == "microphone":
            self._open_ear(self._listening)
        elif self._unspoken is not None and self._unspoken.messages:  # what was only shown is said
            self._after((self._unspoken, self._listening))
        elif device == "loudspeaker":
            self._cue(cues.Cue.LISTENING)  # a sign that it is there again

    def _look_for_loudspeaker(self) -> None:
        """In a thread of its own, until the loudspeaker is back or the visit is over."""
        while not self._over.wait(LOOK_AGAIN):
            try:
                self._player.look()
            except AudioError:
                continue
            self.inbox.post(Back("loudspeaker"))
            return

    def _take(self, given: Input) -> None:
        self._after(self._attendance.take(given).effects)

    def _after(self, effects: tuple[Effect, ...]) -> None:
        if effects:
            self._listening = self._deadline = None
            self._ear.close()
        if any(isinstance(effect, Listen) for effect in effects):  # the question that was to be asked is asked anew
            self._effects = deque(effect for effect in self._effects if not isinstance(effect, Listen))
        self._effects.extend(effects)

    # --- what is to be done -----------------------------------------------------------------------------------------

    def _carry_out_all(self) -> None:
        while self._effects and self._speaking is None:
            effect = self._effects.popleft()
            match effect:
                case Cue(sound):
                    self._render_ahead()
                    self._cue(cues.Cue(sound.value))
                case Say():
                    self._say(effect)
                case Listen():
                    self._listen(effect)
                case StartTimer(_, _, seconds):
                    timer = threading.Timer(seconds, self.inbox.post, args=(RanOut(effect),))
                    timer.daemon = True
                    timer.start()
                    self._timers.append(timer)
                case SetVoice(loudness, pace):
                    self._voice.speak(loudness, pace)
                case Finish():
                    self._finished = True

    def _say(self, say: Say) -> None:
        self._speaking = say.exchange
        self._listening = self._deadline = self._early = None
        self._aloud = " ".join(self._language.wording.aloud(message) for message in say.messages)
        self._hush.clear()
        threading.Thread(target=self._speak, args=(say,), daemon=True).start()
        self._hear_through()

    def _listen(self, listening: Listen) -> None:
        early, self._early = self._early, None
        through, self._through = self._through, None
        self._listening = listening
        self._deadline = None if listening.patience is None else time.monotonic() + listening.patience
        if early is not None and early.exchange == listening.exchange:
            self._answered(early)
            if self._listening is not listening:
                return
        if through == listening and self._ear.in_speech:
            return  # the answer has begun already
        self._open_ear(listening)

    def _open_ear(self, listening: Listen) -> None:
        if self._pressed is None:
            self._cue(cues.Cue.LISTENING)
            self.inbox.forget_sound()
            self._hear(listening)
            self._deaf = 0 if self._headset else OWN_TAIL
        else:  # somebody holds the talk button and speaks already
            self._hear(listening)
            self._ear.begin()

    def _render_ahead(self) -> None:
        """What is said next is rendered while the cue sounds."""
        coming = self._effects[0] if self._effects else None
        if isinstance(coming, Say):
            self._voice.prefetch(self._language.wording.aloud(message) for message in coming.messages)

    def _cue(self, cue: cues.Cue) -> None:
        if "loudspeaker" in self._gone:
            return
        try:
            self._player.play(cues.cue_sound(cue, CUE_RATE), CUE_RATE)
        except AudioError as error:
            self.inbox.post(Gone("loudspeaker", str(error)))

    def _speak(self, say: Say) -> None:
        """In a thread of its own: the messages one by one, until one is cut off. What cannot be said is shown."""
        said: list[Said] = []
        fault: Gone | None = None
        shown = "loudspeaker" in self._gone
        for message in say.messages:
            text = self._language.wording.text(message)
            whole = False
            if not shown:
                device = "voice"
                try:
                    speech = self._voice.render(self._language.wording.aloud(message))
                    self._gone.discard(device)
                    device = "loudspeaker"
                    whole = self._player.play(speech.samples, speech.rate).whole
                except EngineBayError as error:
                    fault, shown = Gone(device, str(error)), True
            said.append(Said(type(message).__name__, text, whole))
            if shown:
                self._watcher.note(self._now(), f"shown only: {text}")
            else:
                self._watcher.said(self._now(), text, whole)
            if self._hush.is_set():
                break
        if shown:
            self._left_unspoken(say)
        else:
            self._unspoken = None
        self.inbox.post(Spoken(tuple(said), fault))

    def _left_unspoken(self, say: Say) -> None:
        """What was only shown is said when it can be; of earlier exchanges nothing, they are over."""
        before = (
            self._unspoken.messages if self._unspoken is not None and self._unspoken.exchange == say.exchange else ()
        )
        left = (message for message in (*before, *say.messages) if not isinstance(message, DeviceGone))
        self._unspoken = replace(say, messages=tuple(dict.fromkeys(left)))

    # --- the world's threads ----------------------------------------------------------------------------------------

    def _listen_to_microphone(self) -> None:
        while self._hear_microphone():
            self.inbox.post(Back("microphone"))

    def _hear_microphone(self) -> bool:
        """Blocks until the microphone is closed, or vanishes and is back; whether it is back."""
        try:
            for samples in self._microphone.blocks():
                self.inbox.post(Block(samples))
            return False
        except AudioError as error:
            self.inbox.post(Gone("microphone", str(error)))
        while not self._over.wait(LOOK_AGAIN):
            try:
                self._microphone.reopen()
            except AudioError:
                continue
            return True
        return False

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
