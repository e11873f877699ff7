"""One transition in the making: what several events lead to, and how the core's effects are carried out in order.

Knows the state, the actions so far and the moment. Refuses to know which event may come when: that is the table of
`machine`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.dialogue.effects import Cue, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.floor.actions import (
    AdjustVoice,
    BeginUtterance,
    CloseEar,
    Deliver,
    FloorAction,
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
    TakeUtterance,
)
from assistant.floor.events import DeviceAnswers, DeviceFailed, DeviceName, LineTyped, UtteranceHeard
from assistant.floor.policy import ALWAYS_TAKEN, audible_while_speaking, meaning_of, waits
from assistant.floor.state import EarlyAnswer, FloorState, Phase, Prompt, Window
from assistant.meanings import Meaning
from assistant.session.inputs import AnswerVerdict, DeviceVanished, Heard, Input, Source, TimerRanOut


class Run:
    """The making of one transition; it never leaves `floor`."""

    def __init__(self, state: FloorState, at: float) -> None:
        self.state = state
        self.at = at
        self.actions: list[FloorAction] = []

    def do(self, *actions: FloorAction) -> None:
        """Ask the world for these, in order."""
        self.actions.extend(actions)

    def deliver(self, given: Input) -> None:
        """Give the core an input; what follows is awaited."""
        self.do(Deliver(given))
        self.state = replace(self.state, phase=Phase.DECIDING)


# --- carrying out what the core decided --------------------------------------------------------------------------


def joined(before: tuple[Effect, ...], new: tuple[Effect, ...]) -> tuple[Effect, ...]:
    """What was still to be done, and what the core wants now.

    A question that was to be asked is asked anew, or after all that is said now; of closed exchanges nothing is said.
    """
    asked = next((effect for effect in new if isinstance(effect, Listen)), None)
    left = tuple(effect for effect in before if not isinstance(effect, Listen))
    if asked is not None:
        return (*(effect for effect in left if not isinstance(effect, Say) or effect.exchange == asked.exchange), *new)
    if any(isinstance(effect, Finish) for effect in new):
        return (*left, *new)
    return (*left, *new, *(effect for effect in before if isinstance(effect, Listen)))


def proceed(run: Run) -> None:
    """Carries the effects out in order, until somebody has the floor or the core is asked."""
    while run.state.effects:
        effect = run.state.effects[0]
        match effect:
            case Cue(sound):
                _drop_effect(run)
                following = run.state.effects[0] if run.state.effects else None
                if DeviceName.LOUDSPEAKER not in run.state.gone:
                    run.do(PlayCue(sound, following if isinstance(following, Say) else None))
            case Say():
                _drop_effect(run)
                _speak(run, effect)
                return
            case Listen():
                if _take_waiting(run) or _give_warnings(run, effect) or _take_early_answer(run, effect):
                    return
                _drop_effect(run)
                _open_window(run, effect)
            case StartTimer(_, _, seconds):
                _drop_effect(run)
                run.state = replace(run.state, timers=(*run.state.timers, (run.at + seconds, effect)))
            case SetVoice():
                _drop_effect(run)
                run.do(AdjustVoice(effect))
            case Finish():
                _drop_effect(run)
                run.state = replace(run.state, phase=Phase.OVER)
                return
            case _:
                assert_never(effect)
    if not _take_waiting(run):
        run.state = replace(run.state, phase=_resting(run.state))


def _drop_effect(run: Run) -> None:
    run.state = replace(run.state, effects=run.state.effects[1:])


def _resting(state: FloorState) -> Phase:
    """Who has the floor when nothing is left to be done."""
    if state.window is None:
        return Phase.QUIET
    return Phase.HELD_BACK if is_held_back(state, state.window.listen) else Phase.LISTENING


def _speak(run: Run, say: Say) -> None:
    run.do(Speak(say, shown_only=DeviceName.LOUDSPEAKER in run.state.gone))
    run.state = replace(run.state, phase=Phase.SPEAKING, prompt=Prompt(say), warnings=run.state.warnings.begun(say))
    coming = run.state.coming
    if coming is None or run.state.press is not None:
        return
    audible = audible_while_speaking(coming.expectation, run.state.headset)
    if audible.offers:
        open_ear(run, OpenEar(replace(coming, expectation=audible), over_own_voice=not run.state.headset))


# --- before a question is opened ---------------------------------------------------------------------------------


def _take_waiting(run: Run) -> bool:
    """Devices that failed or came back, and timers, before a question is opened. Whether somebody has the floor now."""
    while run.state.waiting:
        event = run.state.waiting[0]
        run.state = replace(run.state, waiting=run.state.waiting[1:])
        match event:
            case DeviceFailed():
                if lose(run, event):
                    return True
            case DeviceAnswers():
                if regain(run, event.device) and say_unspoken(run, event.device):
                    return True
            case _:
                assert_never(event)
    return run_out(run)


def run_out(run: Run) -> bool:
    """Whether a timer has run out, and the core is told."""
    timer = run.state.next_timer
    if timer is None or run.at < timer[0]:
        return False
    run.state = replace(run.state, timers=tuple(other for other in run.state.timers if other is not timer))
    run.deliver(TimerRanOut(timer[1].timer, timer[1].run))
    return True


def is_held_back(state: FloorState, listen: Listen) -> bool:
    """Whether a warning must be heard before this question takes an answer."""
    return bool(state.warnings.due) and state.warnings.exchange == listen.exchange and not waits(listen)


def _give_warnings(run: Run, listen: Listen) -> bool:
    """Whether a warning is spoken again, instead of opening this question.

    Not while somebody holds the talk button, and not before what was said, which may be `stop`, was taken.
    """
    early = any(counts(run.state, listen, answer) for answer in run.state.answers)
    if not is_held_back(run.state, listen) or early or run.state.press is not None or not run.state.can_be_given:
        return False
    _speak(run, Say(listen.exchange, run.state.warnings.rest))
    return True


def give_warnings_now(run: Run, listen: Listen) -> None:
    """The question is closed, and the warning that is due spoken again before it is opened anew."""
    close_window(run)
    run.state = replace(run.state, effects=(listen, *run.state.effects))
    _speak(run, Say(listen.exchange, run.state.warnings.rest))


def _take_early_answer(run: Run, listen: Listen) -> bool:
    """Whether something that came while the assistant spoke is taken as the answer to this question."""
    while run.state.answers:
        answer = run.state.answers[0]
        run.state = replace(run.state, answers=run.state.answers[1:])
        if not counts(run.state, listen, answer):
            if isinstance(answer, LineTyped):
                run.do(ShowNotice(Notice.TOO_SOON))
            continue
        if isinstance(answer, LineTyped):
            take_line(run, listen, answer)
        else:
            run.do(ShowUtterance(answer.utterance), TakeUtterance(answer.utterance))
            run.state = replace(run.state, phase=Phase.DECIDING)
        return True
    return False


def counts(state: FloorState, listen: Listen, answer: EarlyAnswer) -> bool:
    """Whether this is an answer while this question is open."""
    return _meaning(answer) in ALWAYS_TAKEN or not is_held_back(state, listen)


def _meaning(answer: EarlyAnswer) -> Meaning | None:
    return meaning_of(answer.utterance.hypotheses if isinstance(answer, UtteranceHeard) else answer.hypotheses)


def take_line(run: Run, listen: Listen, event: LineTyped) -> None:
    """A line as an answer. One to a question that is over is too: the core drops it, and the record says so."""
    if not event.readable:
        run.do(ShowNotice(Notice.UNREADABLE))
    elif event.exchange != listen.exchange:
        run.do(ShowNotice(Notice.TOO_SOON))
    verdict = AnswerVerdict.ACCEPTED if event.hypotheses else AnswerVerdict.DOUBTFUL
    run.deliver(Heard(event.exchange, verdict, event.hypotheses, Source.TYPED, None))


# --- the ear and the open question -------------------------------------------------------------------------------


def _open_window(run: Run, listen: Listen) -> None:
    held = run.state.press is not None
    patient = listen.patience is None or not run.state.ears
    run.state = replace(run.state, window=Window(listen, None if patient else run.at + (listen.patience or 0.0)))
    if held or run.state.hears != listen or not run.state.voice:  # else the answer has begun already
        hear_answer(run, listen)


def hear_answer(run: Run, listen: Listen) -> None:
    """The ear is open for a question."""
    if run.state.press is None:
        cue_listening(run)
        open_ear(run, OpenEar(listen, after_own_voice=not run.state.headset))
    else:  # somebody holds the talk button and speaks already
        open_ear(run, OpenEar(listen, fresh=False))
        begin_utterance(run)


def cue_listening(run: Run) -> None:
    if run.state.ears and DeviceName.LOUDSPEAKER not in run.state.gone:
        run.do(PlayListeningCue())


def open_ear(run: Run, opening: OpenEar) -> None:
    if run.state.ears:
        run.do(opening)
        run.state = replace(run.state, hears=opening.listen, voice=False, ear_again=None)


def close_ear(run: Run) -> None:
    if run.state.hears is not None:
        run.do(CloseEar())
        run.state = replace(run.state, hears=None, voice=False, ear_again=None)


def begin_utterance(run: Run) -> None:
    if run.state.hears is not None:
        run.do(BeginUtterance())
        run.state = replace(run.state, voice=True)


def close_window(run: Run) -> None:
    if run.state.window is not None:
        run.state = replace(run.state, window=None)
        close_ear(run)


# --- devices that go and come ------------------------------------------------------------------------------------


def lose(run: Run, event: DeviceFailed) -> bool:
    """A device is gone. Whether that is new, and the core is told."""
    if event.device in run.state.gone:
        return False
    run.state = replace(run.state, gone=run.state.gone | {event.device})
    if event.device is DeviceName.LOUDSPEAKER:
        run.do(LookForLoudspeaker())
    run.do(ReportLost(event.device, event.detail))
    run.deliver(DeviceVanished(event.device.value, event.detail))
    return True


def regain(run: Run, device: DeviceName) -> bool:
    """A device answers. Whether it had been told to be gone."""
    if device not in run.state.gone:
        return False
    run.state = replace(run.state, gone=run.state.gone - {device})
    run.do(ReportBack(device))
    return True


def say_unspoken(run: Run, device: DeviceName) -> bool:
    """Whether what was only shown of the question that is asked is spoken now."""
    listen, unspoken = run.state.question, run.state.unspoken
    if device not in (DeviceName.LOUDSPEAKER, DeviceName.VOICE) or listen is None or unspoken is None:
        return False
    if unspoken.exchange != listen.exchange or not unspoken.messages:
        return False
    if run.state.window is not None:
        close_window(run)
        run.state = replace(run.state, effects=(listen, *run.state.effects))
    _speak(run, unspoken)
    return True
