"""The real world: microphone, loudspeaker, button or Enter, real time. And the keyboard alone.

One thread owns the core, and the timers. The microphone, the prompt that is being spoken, the keyboard and the button
have threads of their own that only post to the inbox. The ear stays open while the assistant speaks: an answer or a
command cuts it off. Without a headset it hears itself too, so then only commands count, and none that the prompt names.
A device that vanishes is told of and looked for; until it is back there are the keyboard and the screen. Every thread
ends in an event: whatever it raised, its device counts as lost, and the visit goes on.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TextIO

from assistant.app.inbox import Block, Inbox
from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import Tally
from assistant.app.watching import SteadyWatcher, Utterance, Watcher
from assistant.dialogue.effects import Cue, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.dialogue.messages import DeviceGone
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language
from assistant.edge.files.store import SessionFolder
from assistant.edge.keyboard import Keyboard
from assistant.edge.sound import cues
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
from assistant.edge.sound.ear import Caught, Ear, Samples
from assistant.edge.sound.sound_files import flac
from assistant.edge.sound.voices.adjustable import AdjustableVoice
from assistant.edge.talk_button import TalkButton
from assistant.errors import EngineBayError, JournalError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.hearing.endpoint import blocks
from assistant.hearing.judgement import HearingVerdict
from assistant.meanings import Command, CommandName, FreeSpeech
from assistant.quantities import counted
from assistant.session.inputs import AnswerVerdict as Taken
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
    "keyboard": "There are your voice and the talk button",
    "button": "There is the keyboard: Enter is the button",
    "screen": "There is the voice",
}
_TRIED_AGAIN = {
    "microphone": "It is looked for once a second",
    "loudspeaker": "It is looked for once a second",
    "voice": "It is tried again with the next words",
    "recogniser": "It is tried again when you speak",
    "keyboard": "It is not looked for again",
    "button": "It is not looked for again",
    "screen": "It is tried again with the next line",
}
UNREADABLE = "That line was not plain text, or too long. Type it again."


@dataclass(frozen=True, slots=True)
class Line:
    """A line was typed; an empty one is the button. ended: no more will come; readable: whether all of it is text."""

    text: str
    ended: bool = False
    readable: bool = True


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


def take_typed(
    owner: VisitOwner, language: Language, listening: Listen, text: str, readable: bool = True
) -> tuple[Effect, ...]:
    """A typed line as an answer; an empty one is the button. What is not readable is not understood."""
    if readable and not text.strip():
        return owner.take(ButtonPressed(listening.exchange)).effects
    hypotheses = language.answer(listening.expectation, text) if readable else ()
    verdict = Taken.ACCEPTED if hypotheses else Taken.DOUBTFUL
    return owner.take(Heard(listening.exchange, verdict, hypotheses, Source.TYPED, None)).effects


def audible_while_speaking(expectation: Expectation, headset: bool) -> Expectation:
    """What is listened for while the assistant speaks. headset: it does not hear itself.

    Never a hold point or a confirmation: the warning, or what is read back, must have been heard first. No note: it
    begins after the cue, for any sound would be one. Without a headset only commands, so that no reading comes from
    the assistant's own mouth.
    """

    def audible(offer: Offer) -> bool:
        if offer.meaning is Command:
            return offer.risk is Risk.COMMAND
        return headset and offer.meaning is not FreeSpeech and offer.risk is not Risk.HOLD

    return Expectation(tuple(offer for offer in expectation.offers if audible(offer)))


class LiveWorld:
    """Carries the effects of one visit out with a microphone and a loudspeaker, until it ends.

    headset: the microphone does not hear the loudspeaker; panel: a talk button, if there is one.
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
        self.inbox: Inbox[Event] = Inbox()
        self._owner = owner
        self._folder = folder
        self._ear = ear
        self._voice = voice
        self._language = language
        self._microphone = microphone
        self._player = player
        self._watcher = SteadyWatcher(watcher, lambda detail: self.inbox.post(Gone("screen", detail)))
        self._keyboard = keyboard
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
        self._timers: list[tuple[float, StartTimer]] = []  # when each ends, in seconds of `time.monotonic`
        self._finished = False
        self.tally = Tally()

    def run(self, given: Input) -> None:
        """The whole visit, until it ends or the keyboard is closed with Ctrl-C.

        Errors: JournalError when the beginning itself cannot be written down.
        """
        self._start("microphone", self._listen_to_microphone)
        self._start("keyboard", self._listen_to_keyboard)
        if self._panel is not None:
            self._panel.watch(
                lambda: self.inbox.post(Pressed(time.monotonic())),
                lambda: self.inbox.post(Released(time.monotonic())),
                lambda detail: self.inbox.post(Gone("button", detail)),
            )
        try:
            self._take(given)
            if self._owner.failure is not None:
                raise self._owner.failure  # nothing has begun, so there is nothing to go on with
            while True:
                self._carry_out_all()
                if self._finished:
                    return
                self._happened(self._next())
        finally:
            self._over.set()
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
            return self._wait(self._deadline)
        if self._hush.is_set():
            self._player.cut()
            return self._wait(time.monotonic() + CUT_AGAIN)
        self._warm()
        return self._wait(None)

    def _wait(self, until: float | None) -> Event | Block | None:
        """The next event, or a timer that has run out; None when there is neither until this moment."""
        first = min(self._timers, key=lambda entry: entry[0], default=None)
        if first is None:
            return self.inbox.next(until)
        if time.monotonic() < first[0]:
            event = self.inbox.next(first[0] if until is None else min(until, first[0]))
            if event is not None or time.monotonic() < first[0]:
                return event
        self._timers.remove(first)  # also when much waits: sound that comes fast must not hold a timer up
        return RanOut(first[1])

    def _start(self, device: str, work: Callable[[], None]) -> None:
        """A thread of its own. Whatever it raises, and when there is none to be had, the device is lost."""

        def guarded() -> None:
            try:
                work()
            except BaseException as error:  # nobody else would ever hear of it
                self.inbox.post(Gone(device, _in_words(error)))

        try:
            threading.Thread(target=guarded, daemon=True).start()
        except RuntimeError as error:
            self.inbox.post(Gone(device, _in_words(error)))

    def _warm(self) -> None:
        """While the assistant speaks and nothing waits, what it will listen for is made ready."""
        for listening in (self._through, self._coming()):
            while listening is not None and self.inbox.empty:
                try:
                    if not self._ear.warm(listening.expectation, 8):
                        break
                except Exception:
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
            case Line():
                self._typed(event)
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

    def _typed(self, event: Line) -> None:
        if event.ended:
            return
        if self._speaking is not None:
            self._cut_off()
            if event.text.strip() or not event.readable:
                self._early = None  # what is typed is the answer
                self._later.append(event)
        elif self._listening is not None:
            if not event.readable:
                self._watcher.note(self._now(), UNREADABLE)
            self._after(take_typed(self._owner, self._language, self._listening, event.text, event.readable))

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
            self._cue(cues.CueName.LISTENING)
        else:
            self._take(ButtonPressed(self._listening.exchange))

    def _heard(self, samples: Samples) -> None:
        if self._deaf > 0:
            self._deaf -= 1
            return
        try:
            caught = self._ear.feed(samples)
        except Exception as error:
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
        if self._through is None or caught.verdict is not HearingVerdict.ACCEPT or not caught.hypotheses:
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
        except Exception as error:
            self._cannot_hear(error)
            return
        if lacking:
            self._lacking.update(lacking)
            self._watcher.note(
                self._now(),
                f"the recogniser cannot hear these words: {', '.join(lacking)}. Type what has them in it.",
            )

    def _cannot_hear(self, error: Exception) -> None:
        """The engine failed: told once; from then on what is said counts as not understood, until it is heard again."""
        self._ear.forget()
        if "recogniser" in self._gone and self._listening is not None:
            self._take(Heard(self._listening.exchange, Taken.DOUBTFUL, (), Source.VOICE, None))
        else:
            self._happened(Gone("recogniser", _in_words(error)))

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
        self.tally.asked_again += caught.verdict is HearingVerdict.ASK_AGAIN
        if caught.verdict is HearingVerdict.IGNORE:
            return
        try:
            clip = self._folder.keep(flac(caught.samples), caught.seconds)
        except Exception as error:
            failed = (
                error if isinstance(error, JournalError) else JournalError("sound", _in_words(error), "Say it again")
            )
            self._after(self._owner.announce(failed))
            return
        self._take(caught.heard(clip))

    # --- devices that go and come -----------------------------------------------------------------------------------

    def _lose(self, gone: Gone) -> None:
        if gone.device in self._gone:
            return
        self._gone.add(gone.device)
        if gone.device == "loudspeaker":
            self._start("loudspeaker", self._look_for_loudspeaker)
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
            self._cue(cues.CueName.LISTENING)  # a sign that it is there again

    def _look_for_loudspeaker(self) -> None:
        """In a thread of its own, until the loudspeaker is back or the visit is over."""
        while not self._over.wait(LOOK_AGAIN):
            try:
                self._player.look()
            except Exception:
                continue
            self.inbox.post(Back("loudspeaker"))
            return

    def _take(self, given: Input) -> None:
        self._after(self._owner.take(given).effects)

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
                    self._cue(cues.CueName(sound.value))
                case Say():
                    self._say(effect)
                case Listen():
                    self._listen(effect)
                case StartTimer(_, _, seconds):
                    self._timers.append((time.monotonic() + seconds, effect))
                case SetVoice(loudness, pace):
                    self._voice.speak(loudness, pace)
                case Finish():
                    self._finished = True

    def _say(self, say: Say) -> None:
        self._speaking = say.exchange
        self._listening = self._deadline = self._early = None
        self._aloud = " ".join(self._language.wording.aloud(message) for message in say.messages)
        self._hush.clear()
        self._start_speaking(say)
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
            self._cue(cues.CueName.LISTENING)
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

    def _cue(self, cue: cues.CueName) -> None:
        if "loudspeaker" in self._gone:
            return
        try:
            self._player.play(cues.cue_sound(cue, CUE_RATE), CUE_RATE)
        except Exception as error:
            self.inbox.post(Gone("loudspeaker", _in_words(error)))

    def _start_speaking(self, say: Say) -> None:
        """Whatever happens to the thread that speaks, it ends in `Spoken`."""

        def guarded() -> None:
            said: list[Said] = []
            fault: Gone | None = None
            try:
                fault = self._speak(say, said)
            except BaseException as error:
                fault = Gone("voice", _in_words(error))
                self._show(say, said)
            self.inbox.post(Spoken(tuple(said), fault))

        try:
            threading.Thread(target=guarded, daemon=True).start()
        except RuntimeError as error:
            shown: list[Said] = []
            self._show(say, shown)
            self.inbox.post(Spoken(tuple(shown), Gone("voice", _in_words(error))))

    def _show(self, say: Say, said: list[Said]) -> None:
        """What of a prompt was not said is shown, and said when it can be. said: what was said; the rest is added."""
        for message in say.messages[len(said) :]:
            text = self._language.wording.text(message)
            said.append(Said(message.kind, text, whole=False))
            self._watcher.note(self._now(), f"shown only: {text}")
        self._left_unspoken(say)

    def _speak(self, say: Say, said: list[Said]) -> Gone | None:
        """In a thread of its own: the messages one by one, until one is cut off. What cannot be said is shown.

        said: what was said is added to it. Returns what failed.
        """
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
                except Exception as error:
                    fault, shown = Gone(device, _in_words(error)), True
            said.append(Said(message.kind, text, whole))
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
        return fault

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
        except Exception as error:
            self.inbox.post(Gone("microphone", _in_words(error)))
        while not self._over.wait(LOOK_AGAIN):
            try:
                self._microphone.reopen()
            except Exception:
                continue
            return True
        return False

    def _listen_to_keyboard(self) -> None:
        keyboard = Keyboard(self._keyboard)
        while (line := keyboard.read()) is not None:
            self.inbox.post(Line(line.text, readable=line.readable))
        self.inbox.post(Line("", ended=True))

    def _now(self) -> float:
        return time.monotonic() - self._begun


def _in_words(error: BaseException) -> str:
    """What went wrong, for people: our own errors as they are, others with their kind."""
    return str(error) if isinstance(error, EngineBayError) else f"{type(error).__name__}: {error}"


class TypedWorld:
    """Carries the effects of one visit out on a terminal: what is said is shown, what is meant is typed.

    clock: a hand clock makes waits pass when Enter is pressed; without one they take their time. `run` returns when
    the work or the input ends. Errors: EngineBayError when the screen or the keyboard fails: there is nothing else.
    """

    def __init__(
        self,
        owner: VisitOwner,
        language: Language,
        watcher: Watcher,
        keyboard: Keyboard | None = None,
        clock: HandClock | None = None,
    ) -> None:
        self._owner = owner
        self._language = language
        self._watcher = SteadyWatcher(watcher, self._screen_lost)
        self._keyboard = Keyboard() if keyboard is None else keyboard
        self._clock = clock
        self._begun = time.monotonic()
        self._effects: deque[Effect] = deque()
        self._timers: list[tuple[float, StartTimer]] = []
        self._listening: Listen | None = None
        self._finished = False
        self.tally = Tally()

    def run(self, given: Input) -> None:
        """The whole visit. Errors: as said above, and JournalError when its beginning cannot be written down."""
        self._effects.extend(self._owner.take(given).effects)
        if self._owner.failure is not None:
            raise self._owner.failure
        while True:
            spoken = any(isinstance(effect, Say) for effect in self._effects)
            while self._effects:
                self._carry_out(self._effects.popleft())
            if self._finished or self._listening is None:
                return
            if self._owner.visit.stood_by is not None and not spoken:
                self._watcher.note(self._now(), "waiting; type: carry on")
            due = min(self._timers, key=lambda entry: entry[0], default=None)
            if due is not None and self._clock is None and self._runs_out_first(due[0]):
                self._ran_out(due)
                continue
            line = self._keyboard.read()
            if line is None:
                return  # the input ended; the session can be taken up again
            if due is not None and self._clock is not None and line.readable and not line.text.strip():
                self._clock.move(due[0] - self._now())
                self._ran_out(due)
                continue
            if not line.readable:
                self._watcher.note(self._now(), UNREADABLE)
            answer = take_typed(self._owner, self._language, self._listening, line.text, line.readable)
            self._effects.extend(answer)

    def _ran_out(self, due: tuple[float, StartTimer]) -> None:
        self._timers.remove(due)
        self._effects.extend(self._owner.take(TimerRanOut(due[1].timer, due[1].run)).effects)

    def _carry_out(self, effect: Effect) -> None:
        match effect:
            case Say(exchange, messages):
                texts = tuple(self._language.wording.text(message) for message in messages)
                for text in texts:
                    self._watcher.said(self._now(), text, True)
                said = tuple(Said(message.kind, text, True) for message, text in zip(messages, texts, strict=True))
                self._owner.take(PromptPlayed(exchange, said))
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

    def _runs_out_first(self, until: float) -> bool:
        """Whether nothing is typed until then."""
        return not self._keyboard.waits(until - self._now())

    def _screen_lost(self, detail: str) -> None:
        raise EngineBayError(
            "screen", f"it cannot be written ({detail})", "Make room for it, or start again in a terminal"
        )

    def _now(self) -> float:
        return time.monotonic() - self._begun if self._clock is None else self._clock.seconds
