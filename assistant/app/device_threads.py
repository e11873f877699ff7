"""The threads of the live world's devices. Each only posts events, and every one ends in an event, whatever it raised.

Knows microphone, loudspeaker, voice, keyboard and talk button. Refuses to know who has the floor.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import TextIO

from assistant.app.inbox import Block
from assistant.app.watching import Watcher
from assistant.app.world import cause_of
from assistant.dialogue.effects import Say
from assistant.dialogue.messages import Message
from assistant.dialogue.wording import Wording
from assistant.edge.keyboard import Keyboard, TypedLine
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
from assistant.edge.sound.voices.adjustable import AdjustableVoice
from assistant.edge.talk_button import TalkButton
from assistant.floor.events import (
    ButtonDown,
    ButtonUp,
    DeviceAnswers,
    DeviceFailed,
    DeviceName,
    FloorEvent,
    MessageEnded,
    PromptEnded,
)
from assistant.session.inputs import Said

RETRY_SECONDS = 1.0  # between two looks for a device that is gone

Report = Block | TypedLine | FloorEvent
"""What a thread tells the one that owns the core."""


class DeviceThreads:
    """One thread for each device.

    post: takes what a thread reports; from any thread.
    now: the moment, in seconds of the world's clock.
    """

    def __init__(self, post: Callable[[Report], None], now: Callable[[], float]) -> None:
        self._post = post
        self._now = now
        self._over = threading.Event()

    def end(self) -> None:
        """Nothing is looked for any more."""
        self._over.set()

    def hear(self, microphone: DetachedMicrophone) -> None:
        """Blocks of sound from the microphone; when it vanishes, it is looked for until it is back."""
        self._start(DeviceName.MICROPHONE, lambda: self._hear(microphone))

    def read(self, keyboard: TextIO | None) -> None:
        """Lines from the keyboard; None: standard input."""
        self._start(DeviceName.KEYBOARD, lambda: self._read(keyboard))

    def watch(self, panel: TalkButton) -> None:
        """Presses and releases of the talk button."""
        panel.watch(
            lambda: self._post(ButtonDown(self._now())),
            lambda: self._post(ButtonUp(self._now())),
            lambda detail: self._post(DeviceFailed(self._now(), DeviceName.BUTTON, detail)),
        )

    def look_for(self, player: DetachedPlayer) -> None:
        """Looks for the loudspeaker until it is back or the visit is over."""
        self._start(DeviceName.LOUDSPEAKER, lambda: self._look_for(player))

    def _start(self, device: DeviceName, work: Callable[[], None]) -> None:
        """A thread of its own. Whatever it raises, and when there is none to be had, the device is lost."""

        def guarded() -> None:
            try:
                work()
            except BaseException as error:  # nobody else would ever hear of it
                self._post(DeviceFailed(self._now(), device, cause_of(error)))

        try:
            threading.Thread(target=guarded, daemon=True).start()
        except RuntimeError as error:
            self._post(DeviceFailed(self._now(), device, cause_of(error)))

    def _hear(self, microphone: DetachedMicrophone) -> None:
        while self._hear_until_lost(microphone):
            self._post(DeviceAnswers(self._now(), DeviceName.MICROPHONE))

    def _hear_until_lost(self, microphone: DetachedMicrophone) -> bool:
        """Blocks until the microphone is closed, or vanishes and is back; whether it is back."""
        try:
            for samples in microphone.blocks():
                self._post(Block(samples))
            return False
        except Exception as error:
            self._post(DeviceFailed(self._now(), DeviceName.MICROPHONE, cause_of(error)))
        return self._tried_again(microphone.reopen)

    def _look_for(self, player: DetachedPlayer) -> None:
        if self._tried_again(player.look):
            self._post(DeviceAnswers(self._now(), DeviceName.LOUDSPEAKER))

    def _tried_again(self, attempt: Callable[[], object]) -> bool:
        """Tries until it succeeds; whether it did before the visit was over."""
        while not self._over.wait(RETRY_SECONDS):
            try:
                attempt()
            except Exception:
                continue
            return True
        return False

    def _read(self, keyboard: TextIO | None) -> None:
        lines = Keyboard(keyboard)
        while (line := lines.read()) is not None:
            self._post(line)


class PromptSpeaker:
    """Speaks one prompt after another, each in a thread of its own; what cannot be spoken is shown.

    post, now: as of `DeviceThreads`.
    """

    def __init__(
        self,
        voice: AdjustableVoice,
        player: DetachedPlayer,
        wording: Wording,
        watcher: Watcher,
        post: Callable[[Report], None],
        now: Callable[[], float],
    ) -> None:
        self._voice = voice
        self._player = player
        self._wording = wording
        self._watcher = watcher
        self._post = post
        self._now = now
        self._hushed = threading.Event()

    def speak(self, say: Say, shown_only: bool) -> None:
        """Each message ends in `MessageEnded`, the whole in `PromptEnded`, whatever happens to the thread."""
        self._hushed.clear()
        left = list(say.messages)

        def guarded() -> None:
            try:
                failure = self._speak(left, shown_only)
            except BaseException as error:
                failure = self._show(left, error)
            self._post(PromptEnded(self._now(), failure))

        try:
            threading.Thread(target=guarded, daemon=True).start()
        except RuntimeError as error:
            self._post(PromptEnded(self._now(), self._show(left, error)))

    def cut_off(self) -> None:
        """Silence, at once. One that comes between two sounds does nothing, and is made again."""
        self._hushed.set()
        self._player.cut()

    def _show(self, left: list[Message], error: BaseException) -> DeviceFailed:
        """What is left of a prompt is shown. Returns what failed."""
        for message in left:
            self._end(message, whole=False, shown=True)
        return DeviceFailed(self._now(), DeviceName.VOICE, cause_of(error))

    def _speak(self, left: list[Message], shown: bool) -> DeviceFailed | None:
        """The messages one by one, until one is cut off; what was spoken is taken off `left`. Returns what failed."""
        failure: DeviceFailed | None = None
        while left:
            message, whole = left[0], False
            if not shown:
                device = DeviceName.VOICE
                try:
                    speech = self._voice.render(self._wording.aloud(message))
                    device = DeviceName.LOUDSPEAKER
                    whole = self._player.play(speech.samples, speech.rate).whole
                except Exception as error:
                    failure, shown = DeviceFailed(self._now(), device, cause_of(error)), True
            del left[0]
            self._end(message, whole, shown)
            if self._hushed.is_set():
                break
        return failure

    def _end(self, message: Message, whole: bool, shown: bool) -> None:
        text = self._wording.text(message)
        if shown:
            self._watcher.note(self._now(), f"shown only: {text}")
        else:
            self._watcher.said(self._now(), text, whole)
        self._post(MessageEnded(self._now(), Said(message.kind, text, whole), shown))
