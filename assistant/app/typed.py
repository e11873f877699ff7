"""The typed world: what is said is shown on a terminal, what is meant is typed.

Knows a keyboard, a screen, and how waits pass. Refuses to know what an answer does: the floor and the core do. A prompt
is shown whole at once, so that nothing can come while it is spoken.
"""

from __future__ import annotations

import time
from typing import assert_never

from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import Tally
from assistant.app.watching import SteadyWatcher, Watcher
from assistant.app.world import TOO_SOON, UNREADABLE, VisitWorld
from assistant.dialogue.effects import StartTimer
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language
from assistant.edge.keyboard import Keyboard
from assistant.errors import EngineBayError
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
from assistant.floor.events import MessageEnded, PromptEnded, TimePassed
from assistant.floor.state import FloorState
from assistant.session.inputs import Input, Said

_NOTICES = {Notice.UNREADABLE: UNREADABLE, Notice.TOO_SOON: TOO_SOON}


class TypedWorld(VisitWorld):
    """Carries a visit out on a terminal.

    clock: a hand clock makes waits pass when Enter is pressed; without one they take their time.
    `run` returns when the work or the input ends.
    Errors: EngineBayError when the screen or the keyboard fails: there is nothing else.
    """

    def __init__(
        self,
        owner: VisitOwner,
        language: Language,
        watcher: Watcher,
        keyboard: Keyboard | None = None,
        clock: HandClock | None = None,
    ) -> None:
        super().__init__(owner, language, FloorState(ears=False))
        self._watcher = SteadyWatcher(watcher, self._screen_lost, self._screen_back)
        self._keyboard = Keyboard() if keyboard is None else keyboard
        self._clock = clock
        self._begun = time.monotonic()
        self.tally = Tally()

    def run(self, given: Input) -> None:
        """The whole visit. Errors: as said above, and JournalError when its beginning cannot be written down."""
        self.begin(given)
        running: set[StartTimer] = set()
        while True:
            spoken = self._show_prompts()
            running = self._tell_waits(running)
            if not self.state.listening:
                return
            if self._owner.visit.stood_by is not None and not spoken:
                self._watcher.note(self._now(), "waiting; type: carry on")
            timer = self.state.next_timer
            if timer is not None and self._clock is None and not self._keyboard.waits(timer[0] - self._now()):
                self.take(TimePassed(max(timer[0], self._now())))
                continue
            line = self._keyboard.read()
            if line is None:
                return  # the input ended; the session can be taken up again
            if timer is not None and self._clock is not None and line.readable and not line.text.strip():
                self._clock.move(timer[0] - self._now())
                self.take(TimePassed(self._now()))
                continue
            self.take(self.typed(line))

    def _show_prompts(self) -> bool:
        """Everything that is to be said now; whether there was anything."""
        spoken = False
        while self.state.prompt is not None:
            spoken = True
            for message in self.state.prompt.say.messages:
                text = self._language.wording.text(message)
                self._watcher.said(self._now(), text, True)
                self.take(MessageEnded(self._now(), Said(message.kind, text, True)))
            self.take(PromptEnded(self._now()))
        return spoken

    def _tell_waits(self, known: set[StartTimer]) -> set[StartTimer]:
        """The timers that run now; how a new one can be made to pass is shown."""
        running = {timer for _, timer in self.state.timers}
        if self._clock is not None:
            for _ in running - known:
                self._watcher.note(self._now(), "press Enter to let the time pass")
        return running

    def _carry_out(self, action: DeviceAction) -> None:
        match action:
            case ShowNotice(notice):
                self._watcher.note(self._now(), _NOTICES[notice])
            case Speak():
                pass  # what the floor says is spoken is shown by `run`
            case AdjustVoice() | PlayCue() | PlayListeningCue() | CutOff():
                pass  # nothing to hear on a terminal
            case OpenEar() | CloseEar() | BeginUtterance() | FinishUtterance() | DropUtterance() | ShowUtterance():
                pass  # nobody to hear
            case ReportLost() | ReportBack() | LookForLoudspeaker():
                pass  # a device that fails here ends the visit
            case _:
                assert_never(action)

    def _screen_lost(self, detail: str) -> None:
        raise EngineBayError(
            "screen", f"it cannot be written ({detail})", "Make room for it, or start again in a terminal"
        )

    def _screen_back(self) -> None:
        """A screen that is lost ends the visit, so that none comes back."""

    def _now(self) -> float:
        return time.monotonic() - self._begun if self._clock is None else self._clock.seconds
