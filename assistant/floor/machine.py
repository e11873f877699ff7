"""The machine: `floor(state, event) -> (state, actions)`. It owns the transitions and holds them as a table.

Pure: no clock, no thread, no sound; events carry their moment. The live, the typed and the rehearsed world post events
and carry actions out, and none of them decides.

A warning that was not spoken in full is spoken again, and what followed it in its prompt after it, before its step
takes any answer. One that was shown because voice or loudspeaker failed counts as given: there is no other way to give
it, and work must not stand still for want of a loudspeaker; the record says that it was not heard. While the screen is
gone too, nothing counts but `stop` and `call for help`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

from assistant.dialogue.effects import Say
from assistant.dialogue.messages import DeviceGone
from assistant.floor.actions import (
    CutOff,
    DropUtterance,
    FinishUtterance,
    FloorAction,
    Notice,
    OpenEar,
    ShowNotice,
    ShowUtterance,
    TakeUtterance,
)
from assistant.floor.events import (
    ButtonDown,
    ButtonUp,
    CoreDecided,
    DeviceAnswers,
    DeviceFailed,
    DeviceName,
    EnterPressed,
    FloorEvent,
    LineTyped,
    MessageEnded,
    PromptEnded,
    TimePassed,
    UtteranceHeard,
    UtteranceLost,
    VoiceBegan,
    VoiceEnded,
)
from assistant.floor.policy import ALWAYS_TAKEN, STOP, confirms, meaning_of
from assistant.floor.run import (
    Run,
    begin_utterance,
    close_ear,
    close_window,
    counts,
    cue_listening,
    give_warnings_now,
    hear_answer,
    is_held_back,
    joined,
    lose,
    open_ear,
    proceed,
    regain,
    run_out,
    say_unspoken,
    take_line,
)
from assistant.floor.state import FloorState, Phase, Press, Prompt, Window
from assistant.hearing.judgement import HearingVerdict
from assistant.session.inputs import AnswerVerdict, ButtonPressed, Heard, PromptPlayed, Silence, Source

SHORT_PRESS = 0.35  # seconds; a shorter press is the button, a longer one holds an utterance
ANSWERING = 0.05  # seconds after which is looked again whether somebody still answers when patience ends
HELD_PATIENCE = 3.0  # seconds after the talk button's release in which its utterance must have been heard
EAR_RETRY_SECONDS = 1.0  # after which an ear that could not be opened is tried again


# --- carrying out what the core decided -----------------------------------------------------------------------------


def _core_decided(run: Run, event: CoreDecided) -> None:
    if event.effects:
        close_window(run)
        run.state = replace(run.state, effects=joined(run.state.effects, event.effects))
    proceed(run)


# --- the prompt -----------------------------------------------------------------------------------------------------


def _prompt(run: Run) -> Prompt:
    assert run.state.prompt is not None, "nothing is being spoken"
    return run.state.prompt


def _message_ended(run: Run, event: MessageEnded) -> None:
    prompt = _prompt(run)
    message = prompt.say.messages[len(prompt.said)]
    run.state = replace(
        run.state, prompt=replace(prompt, said=(*prompt.said, event.said), shown=prompt.shown or event.shown)
    )
    if not event.shown:
        regain(run, DeviceName.VOICE)
    if event.said.whole or (event.shown and not run.state.lacks(DeviceName.SCREEN)):
        run.state = replace(run.state, warnings=run.state.warnings.ended(message))


def _prompt_ended(run: Run, event: PromptEnded) -> None:
    prompt = _prompt(run)
    if not (run.state.headset and run.state.voice):  # else the answer that was begun is heard to its end
        close_ear(run)
    run.state = replace(
        run.state,
        prompt=None,
        warnings=run.state.warnings.interrupted(prompt.say),
        unspoken=_left_unspoken(run.state.unspoken, prompt),
        waiting=run.state.waiting if event.failure is None else (event.failure, *run.state.waiting),
    )
    run.deliver(PromptPlayed(prompt.say.exchange, prompt.said))


def _left_unspoken(before: Say | None, prompt: Prompt) -> Say | None:
    """What was only shown and is said when it can be: of one exchange, without what was said about devices."""
    if not prompt.shown:
        return None
    earlier = before.messages if before is not None and before.exchange == prompt.say.exchange else ()
    left = (message for message in (*earlier, *prompt.say.messages) if not isinstance(message, DeviceGone))
    return replace(prompt.say, messages=tuple(dict.fromkeys(left)))


def _cut_off(run: Run) -> None:
    run.do(CutOff())
    run.state = replace(run.state, phase=Phase.HUSHED)


def _heard_through(run: Run, event: UtteranceHeard) -> None:
    """Heard while the assistant speaks: what is sure cuts it off and waits for the end; the rest is nothing."""
    utterance, own = event.utterance, event.own_words and not run.state.headset
    meaning = meaning_of(utterance.hypotheses)
    run.state = replace(run.state, voice=False)
    if (
        run.state.hears is None
        or utterance.verdict is not HearingVerdict.ACCEPT
        or meaning is None
        or confirms(meaning)
    ):
        return
    if (own and meaning != STOP) or (run.state.warnings.due and meaning not in ALWAYS_TAKEN):
        return
    if run.state.phase is Phase.SPEAKING:
        _cut_off(run)
    close_ear(run)
    if own and not (run.state.warnings.due and run.state.warnings.own_stop):
        # `stop` always silences. It is an answer when it cannot have been the assistant's own word. Over a warning that
        # holds it, it is one the second time, whoever said it: else the warning might silence itself for ever.
        run.state = replace(run.state, warnings=replace(run.state.warnings, own_stop=True))
    else:
        run.state = replace(run.state, answers=(*run.state.answers, event))


def _typed_through(run: Run, event: LineTyped) -> None:
    """Typed while the assistant speaks: it cuts it off and is the answer, where it may."""
    meaning = meaning_of(event.hypotheses)
    if confirms(meaning) or (run.state.warnings.due and meaning not in ALWAYS_TAKEN):
        run.do(ShowNotice(Notice.TOO_SOON))
        return
    if run.state.phase is Phase.SPEAKING:
        _cut_off(run)
    if run.state.coming is not None:
        typed = tuple(answer for answer in run.state.answers if isinstance(answer, LineTyped))
        run.state = replace(run.state, answers=(*typed, event))  # what is typed is the answer, not what was said before


def _enter_through(run: Run, event: EnterPressed) -> None:
    _cut_off(run)


def _press_through(run: Run, event: ButtonDown) -> None:
    if run.state.phase is Phase.SPEAKING:
        _cut_off(run)
    close_ear(run)
    run.state = replace(run.state, press=Press(event.at, cut=True))


def _lost_through(run: Run, event: UtteranceLost) -> None:
    _wait(run, DeviceFailed(event.at, DeviceName.RECOGNISER, event.detail))


def _wait(run: Run, event: DeviceFailed | DeviceAnswers) -> None:
    run.state = replace(run.state, waiting=(*run.state.waiting, event))


# --- answers --------------------------------------------------------------------------------------------------------


def _window(run: Run) -> Window:
    assert run.state.window is not None, "no question is open"
    return run.state.window


def _heard(run: Run, event: UtteranceHeard) -> None:
    utterance, listen = event.utterance, _window(run).listen
    run.do(ShowUtterance(utterance))
    run.state = replace(run.state, voice=False)
    if is_held_back(run.state, listen):
        if utterance.verdict is HearingVerdict.ACCEPT and counts(run.state, listen, event):
            _take_utterance(run, event)
        else:
            _retry_warnings(run)
    elif utterance.verdict is not HearingVerdict.IGNORE:
        _take_utterance(run, event)


def _take_utterance(run: Run, event: UtteranceHeard) -> None:
    run.do(TakeUtterance(event.utterance))
    run.state = replace(run.state, phase=Phase.DECIDING)


def _retry_warnings(run: Run) -> None:
    """What was said or pressed is no answer: the warning that is due is spoken again, where it can be."""
    if run.state.press is None and run.state.can_be_given:
        give_warnings_now(run, _window(run).listen)


def _lost(run: Run, event: UtteranceLost) -> None:
    """The engine failed: told once; from then on what is said counts as not understood, until it is heard again."""
    run.state = replace(run.state, voice=False)
    if DeviceName.RECOGNISER not in run.state.gone:
        lose(run, DeviceFailed(event.at, DeviceName.RECOGNISER, event.detail))
    elif run.state.phase is Phase.HELD_BACK:
        _retry_warnings(run)
    elif run.state.window is not None:
        exchange = run.state.window.listen.exchange
        run.deliver(Heard(exchange, AnswerVerdict.DOUBTFUL, (), Source.VOICE, None))


def _typed(run: Run, event: LineTyped) -> None:
    listen = _window(run).listen
    if counts(run.state, listen, event):
        take_line(run, listen, event)
    else:
        run.do(ShowNotice(Notice.TOO_SOON))


def _enter(run: Run, event: EnterPressed) -> None:
    run.deliver(ButtonPressed(_window(run).listen.exchange))


def _enter_held_back(run: Run, event: EnterPressed) -> None:
    """The button asks once more; here that is the warning, and the voice is tried again."""
    if run.state.press is None:
        give_warnings_now(run, _window(run).listen)


# --- the talk button ------------------------------------------------------------------------------------------------


def _press(run: Run, event: ButtonDown) -> None:
    run.state = replace(run.state, press=Press(event.at, cut=False))
    begin_utterance(run)


def _release(run: Run, event: ButtonUp) -> None:
    press = run.state.press
    run.state = replace(run.state, press=None)
    if press is None:
        return
    if event.at - press.at >= SHORT_PRESS:
        run.do(FinishUtterance())
        return
    _drop_utterance(run)
    if press.cut:
        cue_listening(run)
    else:
        run.deliver(ButtonPressed(_window(run).listen.exchange))


def _release_held_back(run: Run, event: ButtonUp) -> None:
    press, window = run.state.press, _window(run)
    run.state = replace(run.state, press=None)
    if press is None:
        return
    if event.at - press.at >= SHORT_PRESS and run.state.hears is not None:
        run.do(FinishUtterance())
        run.state = replace(run.state, window=replace(window, ends=event.at + HELD_PATIENCE), voice=False)
        return
    _drop_utterance(run)
    give_warnings_now(run, window.listen)


def _drop_utterance(run: Run) -> None:
    if run.state.hears is not None:
        run.do(DropUtterance())
        run.state = replace(run.state, voice=False)


def _press_in_quiet(run: Run, event: ButtonDown) -> None:
    run.state = replace(run.state, press=Press(event.at, cut=False))


def _let_go(run: Run, event: ButtonUp) -> None:
    run.state = replace(run.state, press=None)


# --- time -----------------------------------------------------------------------------------------------------------


def _time_passed(run: Run, event: TimePassed) -> None:
    if run_out(run):
        return
    window = run.state.window
    if window is None:
        return
    if run.state.ear_again is not None and event.at >= run.state.ear_again:
        open_ear(run, OpenEar(window.listen, after_own_voice=False))
    if window.ends is None or event.at < window.ends:
        return
    if run.state.voice and DeviceName.MICROPHONE not in run.state.gone:  # somebody is answering
        run.state = replace(run.state, window=replace(window, ends=event.at + ANSWERING))
    elif run.state.phase is Phase.HELD_BACK and run.state.can_be_given:
        give_warnings_now(run, window.listen)
    else:
        run.state = replace(run.state, window=replace(window, ends=None))
        run.deliver(Silence(window.listen.exchange, window.listen.patience or 0.0))


# --- devices that go and come ---------------------------------------------------------------------------------------


def _device_failed(run: Run, event: DeviceFailed) -> None:
    if event.device is DeviceName.RECOGNISER:  # the ear could not be opened
        run.state = replace(run.state, hears=None, voice=False)
    if not lose(run, event) and event.device is DeviceName.RECOGNISER and run.state.window is not None:
        run.state = replace(run.state, ear_again=event.at + EAR_RETRY_SECONDS)


def _device_answers(run: Run, event: DeviceAnswers) -> None:
    window = run.state.window
    if not regain(run, event.device) or window is None:
        return
    if event.device is DeviceName.MICROPHONE:
        hear_answer(run, window.listen)
    elif run.state.phase is Phase.HELD_BACK:
        _retry_warnings(run)
    elif not say_unspoken(run, event.device) and event.device is DeviceName.LOUDSPEAKER:
        cue_listening(run)  # a sign that it is there again


# --- the table ------------------------------------------------------------------------------------------------------


def _voice_began(run: Run, event: VoiceBegan) -> None:
    run.state = replace(run.state, voice=run.state.hears is not None)


def _voice_ended(run: Run, event: VoiceEnded) -> None:
    run.state = replace(run.state, voice=False)


def _nothing(run: Run, event: FloorEvent) -> None:
    """It means nothing here."""


@dataclass(frozen=True, slots=True)
class FloorTransition:
    """What an event does in a phase.

    do: how the state changes and what is asked of the world.
    to: the phases in which it can leave the machine.
    """

    do: Callable[[Run, FloorEvent], None]
    to: tuple[Phase, ...]


_Kind = TypeVar("_Kind", bound=FloorEvent)
_Rows = dict[tuple[Phase, type[object]], FloorTransition]


def _on(
    kind: type[_Kind], phases: tuple[Phase, ...], do: Callable[[Run, _Kind], None], *to: Phase, stays: bool = True
) -> _Rows:
    """The rows of an event in these phases.

    to: where it can lead.
    stays: it can leave the phase as it is.
    """

    def checked(run: Run, event: FloorEvent) -> None:
        if not isinstance(event, kind):  # the table's key is the event's class, so this is a fault of the table
            raise TypeError(f"the row of {kind.__name__} was given a {type(event).__name__}")
        do(run, event)

    return {(phase, kind): FloorTransition(checked, (*((phase,) if stays else ()), *to)) for phase in phases}


_DECIDING, _SPEAKING, _HUSHED, _LISTENING = Phase.DECIDING, Phase.SPEAKING, Phase.HUSHED, Phase.LISTENING
_HELD_BACK, _QUIET, _OVER = Phase.HELD_BACK, Phase.QUIET, Phase.OVER
_PROMPT = (_SPEAKING, _HUSHED)
_OPEN = (_LISTENING, _HELD_BACK)
_NOTHING_SAID = (*_OPEN, _QUIET)

TRANSITIONS: _Rows = {
    **_on(CoreDecided, (_DECIDING,), _core_decided, _SPEAKING, _LISTENING, _HELD_BACK, _QUIET, _OVER),
    **_on(MessageEnded, _PROMPT, _message_ended),
    **_on(PromptEnded, _PROMPT, _prompt_ended, _DECIDING, stays=False),
    **_on(VoiceBegan, (*_PROMPT, *_NOTHING_SAID), _voice_began),
    **_on(VoiceEnded, (*_PROMPT, *_NOTHING_SAID), _voice_ended),
    **_on(UtteranceHeard, (_SPEAKING,), _heard_through, _HUSHED),
    **_on(UtteranceHeard, (_LISTENING,), _heard, _DECIDING),
    **_on(UtteranceHeard, (_HELD_BACK,), _heard, _DECIDING, _SPEAKING),
    **_on(UtteranceHeard, (_HUSHED,), _heard_through),
    **_on(UtteranceHeard, (_QUIET,), _nothing),
    **_on(UtteranceLost, _PROMPT, _lost_through),
    **_on(UtteranceLost, (_LISTENING,), _lost, _DECIDING, stays=False),
    **_on(UtteranceLost, (_HELD_BACK,), _lost, _DECIDING, _SPEAKING),
    **_on(UtteranceLost, (_QUIET,), _nothing),
    **_on(LineTyped, (_SPEAKING,), _typed_through, _HUSHED),
    **_on(LineTyped, (_HUSHED,), _typed_through),
    **_on(LineTyped, (_LISTENING,), _typed, _DECIDING, stays=False),
    **_on(LineTyped, (_HELD_BACK,), _typed, _DECIDING),
    **_on(LineTyped, (_QUIET,), _nothing),
    **_on(EnterPressed, (_SPEAKING,), _enter_through, _HUSHED, stays=False),
    **_on(EnterPressed, (_LISTENING,), _enter, _DECIDING, stays=False),
    **_on(EnterPressed, (_HELD_BACK,), _enter_held_back, _SPEAKING),
    **_on(EnterPressed, (_HUSHED, _QUIET), _nothing),
    **_on(ButtonDown, (_SPEAKING,), _press_through, _HUSHED, stays=False),
    **_on(ButtonDown, (_HUSHED,), _press_through),
    **_on(ButtonDown, _OPEN, _press),
    **_on(ButtonDown, (_QUIET,), _press_in_quiet),
    **_on(ButtonUp, (*_PROMPT, _QUIET), _let_go),
    **_on(ButtonUp, (_LISTENING,), _release, _DECIDING),
    **_on(ButtonUp, (_HELD_BACK,), _release_held_back, _SPEAKING),
    **_on(TimePassed, _PROMPT, _nothing),
    **_on(TimePassed, (_LISTENING, _QUIET), _time_passed, _DECIDING),
    **_on(TimePassed, (_HELD_BACK,), _time_passed, _DECIDING, _SPEAKING),
    **_on(DeviceFailed, _PROMPT, _wait),
    **_on(DeviceFailed, _NOTHING_SAID, _device_failed, _DECIDING),
    **_on(DeviceAnswers, _PROMPT, _wait),
    **_on(DeviceAnswers, _OPEN, _device_answers, _SPEAKING),
    **_on(DeviceAnswers, (_QUIET,), _device_answers),
}
"""Phase and event -> what is done.

Any event may come while the core decides, and is taken afterwards; when the visit is over nothing counts. What is not
here cannot happen: a core that decides unasked, a prompt that ends unspoken.
"""

WORKS: dict[type[object], DeviceName] = {
    UtteranceHeard: DeviceName.RECOGNISER,
    LineTyped: DeviceName.KEYBOARD,
    EnterPressed: DeviceName.KEYBOARD,
    ButtonDown: DeviceName.BUTTON,
}
"""Events that come from a device, which so is there."""

_AWAITED = (CoreDecided, MessageEnded, PromptEnded)
"""Events that a world owes to an action; the others come by themselves, at any time."""


def floor(state: FloorState, event: FloorEvent) -> tuple[FloorState, tuple[FloorAction, ...]]:
    """The state after an event, and what the world has to do now, in order.

    Errors: ValueError for an event that cannot happen now; nothing has changed then.
    """
    run = Run(state, event.at)
    _take(run, event)
    while run.state.deferred and run.state.phase is not Phase.DECIDING:
        following, *rest = run.state.deferred
        run.state = replace(run.state, deferred=tuple(rest))
        _take(run, following)
    return run.state, tuple(run.actions)


def _take(run: Run, event: FloorEvent) -> None:
    phase = run.state.phase
    row = TRANSITIONS.get((phase, type(event)))
    if row is not None:
        device = WORKS.get(type(event))
        if device is not None:
            regain(run, device)
        row.do(run, event)
    elif isinstance(event, _AWAITED) and phase is not Phase.OVER:
        raise ValueError(f"{type(event).__name__} cannot happen while the floor is {phase.value}")
    elif phase is Phase.DECIDING:
        run.state = replace(run.state, deferred=(*run.state.deferred, event))
