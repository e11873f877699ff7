"""Who has the floor: the machine row by row, then whatever sequence of events a world could report."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.dialogue import messages as m
from assistant.dialogue.commands import offers
from assistant.dialogue.effects import Cue, CueSound, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.floor.actions import (
    AdjustVoice,
    BeginUtterance,
    CloseEar,
    CutOff,
    Deliver,
    DropUtterance,
    FinishUtterance,
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
from assistant.floor.machine import (
    ANSWERING,
    EAR_RETRY_SECONDS,
    HELD_PATIENCE,
    SHORT_PRESS,
    TRANSITIONS,
    floor,
)
from assistant.floor.policy import ALWAYS_TAKEN, audible_while_speaking, confirms, waits
from assistant.floor.state import FloorState, Phase, Press, Prompt, Warnings, Window
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.hearing.ear import HeardUtterance
from assistant.hearing.judgement import HearingVerdict
from assistant.meanings import Amount, Answer, Command, CommandName, FreeSpeech, Hypothesis, Meaning, Passphrase
from assistant.session.inputs import (
    AnswerVerdict,
    ButtonPressed,
    DeviceVanished,
    Heard,
    PromptPlayed,
    Said,
    Silence,
    Source,
    TimerRanOut,
)

COMMANDS = offers((CommandName.NEXT, CommandName.SAY_AGAIN, CommandName.STOP, CommandName.CALL_FOR_HELP))
HOLD = Offer("nothing moves here", Passphrase, Risk.HOLD, "proof")
READING = Offer("<number>", Amount, Risk.READING)
NOTE = Offer("note", FreeSpeech, Risk.COMMAND)

HOT, LIVE = m.Hazard("danger", "It is hot."), m.Hazard("warning", "It is live.")
TEXT = m.StepText("step", "Do it.")
NEXT, STOP, HELP, AGAIN = (
    Command(name) for name in (CommandName.NEXT, CommandName.STOP, CommandName.CALL_FOR_HELP, CommandName.SAY_AGAIN)
)
AFFIRM, PHRASE = Command(CommandName.AFFIRM), Passphrase("proof")

LISTEN = Listen(5, Expectation((HOLD, READING, *COMMANDS)), None)
PATIENT = Listen(5, LISTEN.expectation, 20.0)
WAITS = Listen(5, Expectation(offers((CommandName.CARRY_ON, CommandName.STOP, CommandName.CALL_FOR_HELP))), None)
LATER = Listen(6, LISTEN.expectation, None)
COMMANDS_ONLY = Listen(5, Expectation(COMMANDS), None)  # what is heard of LISTEN over the assistant's own voice
PROMPT, PLAIN = Say(5, (HOT, LIVE, TEXT)), Say(5, (TEXT,))


def said(message: m.Message, whole: bool = True) -> Said:
    return Said(type(message).__name__, repr(message), whole)


def utterance(
    meaning: Meaning | None, verdict: HearingVerdict = HearingVerdict.ACCEPT, exchange: int = 5
) -> HeardUtterance:
    hypotheses = () if meaning is None else (Hypothesis(meaning, "words", 0.9),)
    return HeardUtterance(exchange, verdict, hypotheses, 0.9, np.zeros(1, np.float32), 0.2, 0.0, False)


def line(meaning: Meaning | None, exchange: int = 5, readable: bool = True) -> LineTyped:
    return LineTyped(1.0, exchange, () if meaning is None else (Hypothesis(meaning, "words", 1.0),), readable)


def typed(meaning: Meaning | None, exchange: int = 5) -> Heard:
    hypotheses = () if meaning is None else (Hypothesis(meaning, "words", 1.0),)
    verdict = AnswerVerdict.ACCEPTED if hypotheses else AnswerVerdict.DOUBTFUL
    return Heard(exchange, verdict, hypotheses, Source.TYPED, None)


SPOKEN_NEXT, SPOKEN_STOP, SPOKEN_PHRASE = utterance(NEXT), utterance(STOP), utterance(PHRASE)
SPOKEN_READING, MUMBLED, NOISE = (
    utterance(Amount(1, None)),  # type: ignore[arg-type]  # any number
    utterance(NEXT, HearingVerdict.ASK_AGAIN),
    utterance(None, HearingVerdict.IGNORE),
)

DECIDING = FloorState(phase=Phase.DECIDING)
QUIET = FloorState(phase=Phase.QUIET)
LISTENING = FloorState(phase=Phase.LISTENING, window=Window(LISTEN), hears=LISTEN)
SPEAKING = FloorState(
    phase=Phase.SPEAKING, prompt=Prompt(PLAIN), effects=(LISTEN,), warnings=Warnings(5), hears=COMMANDS_ONLY
)
WARNING = replace(SPEAKING, prompt=Prompt(PROMPT), warnings=Warnings(5, due=(HOT, LIVE)))
HUSHED = replace(SPEAKING, phase=Phase.HUSHED, hears=None)
CUT_WARNING = replace(WARNING, phase=Phase.HUSHED, hears=None)
MISSED = Warnings(5, due=(HOT, LIVE), rest=(HOT, LIVE, TEXT))
HELD_BACK = replace(LISTENING, phase=Phase.HELD_BACK, warnings=MISSED)
ENDED_WARNING = FloorState(phase=Phase.DECIDING, effects=(LISTEN,), warnings=MISSED)
OPENING = (PlayListeningCue(), OpenEar(LISTEN, after_own_voice=True))
REPEATING = (Speak(Say(5, MISSED.rest)), OpenEar(COMMANDS_ONLY, over_own_voice=True))


@dataclass(frozen=True)
class Row:
    """What an event does in a state. after: fields of the state that change; all others stay."""

    name: str
    state: FloorState
    event: FloorEvent
    actions: tuple[FloorAction, ...] = ()
    after: dict[str, object] = field(default_factory=dict)


ROWS = [
    # what the core decided
    Row(
        "a prompt is spoken, and commands are listened for meanwhile",
        DECIDING,
        CoreDecided(1.0, (PROMPT, LISTEN)),
        (Speak(PROMPT), OpenEar(COMMANDS_ONLY, over_own_voice=True)),
        {
            "phase": Phase.SPEAKING,
            "effects": (LISTEN,),
            "prompt": Prompt(PROMPT),
            "hears": COMMANDS_ONLY,
            "warnings": Warnings(5, due=(HOT, LIVE)),
        },
    ),
    Row(
        "with a headset readings are too",
        replace(DECIDING, headset=True),
        CoreDecided(1.0, (PLAIN, LISTEN)),
        (Speak(PLAIN), OpenEar(replace(LISTEN, expectation=Expectation((READING, *COMMANDS))))),
        {
            "phase": Phase.SPEAKING,
            "effects": (LISTEN,),
            "prompt": Prompt(PLAIN),
            "warnings": Warnings(5),
            "hears": replace(LISTEN, expectation=Expectation((READING, *COMMANDS))),
        },
    ),
    Row(
        "a cue comes first, and what follows it is made ready",
        DECIDING,
        CoreDecided(1.0, (SetVoice(1, 0), Cue(CueSound.HEARD), PLAIN)),
        (AdjustVoice(SetVoice(1, 0)), PlayCue(CueSound.HEARD, PLAIN), Speak(PLAIN)),
        {"phase": Phase.SPEAKING, "prompt": Prompt(PLAIN), "warnings": Warnings(5)},
    ),
    Row(
        "without a loudspeaker there is no cue, and a prompt is shown",
        replace(DECIDING, gone=frozenset({DeviceName.LOUDSPEAKER})),
        CoreDecided(1.0, (Cue(CueSound.HEARD), PLAIN)),
        (Speak(PLAIN, shown_only=True),),
        {"phase": Phase.SPEAKING, "prompt": Prompt(PLAIN), "warnings": Warnings(5)},
    ),
    Row(
        "a question is open, patiently",
        DECIDING,
        CoreDecided(1.0, (PATIENT,)),
        (PlayListeningCue(), OpenEar(PATIENT, after_own_voice=True)),
        {"phase": Phase.LISTENING, "window": Window(PATIENT, 21.0), "hears": PATIENT},
    ),
    Row(
        "where nobody is heard silence means nothing",
        replace(DECIDING, ears=False),
        CoreDecided(1.0, (PATIENT,)),
        (),
        {"phase": Phase.LISTENING, "window": Window(PATIENT)},
    ),
    Row(
        "a timer runs",
        DECIDING,
        CoreDecided(1.0, (StartTimer("soak", 1, 60.0),)),
        (),
        {"phase": Phase.QUIET, "timers": ((61.0, StartTimer("soak", 1, 60.0)),)},
    ),
    Row("the visit is over", DECIDING, CoreDecided(1.0, (Finish(),)), (), {"phase": Phase.OVER}),
    Row(
        "a question that was to be asked is asked anew, and of closed exchanges nothing is said",
        replace(DECIDING, effects=(PLAIN, LISTEN)),
        CoreDecided(1.0, (LATER,)),
        (PlayListeningCue(), OpenEar(LATER, after_own_voice=True)),
        {"phase": Phase.LISTENING, "effects": (), "window": Window(LATER), "hears": LATER},
    ),
    Row(
        "it is asked after all that is said now",
        replace(DECIDING, effects=(LISTEN,)),
        CoreDecided(1.0, (PLAIN,)),
        (Speak(PLAIN), OpenEar(COMMANDS_ONLY, over_own_voice=True)),
        {
            "phase": Phase.SPEAKING,
            "effects": (LISTEN,),
            "prompt": Prompt(PLAIN),
            "hears": COMMANDS_ONLY,
            "warnings": Warnings(5),
        },
    ),
    Row(
        "and not at all when the visit ends",
        replace(DECIDING, effects=(LISTEN,)),
        CoreDecided(1.0, (Finish(),)),
        (),
        {"phase": Phase.OVER, "effects": ()},
    ),
    Row(
        "a late answer leaves the question open",
        replace(LISTENING, phase=Phase.DECIDING),
        CoreDecided(1.0, ()),
        (),
        {"phase": Phase.LISTENING},
    ),
    Row(
        "what the core says to an answer closes the question",
        replace(LISTENING, phase=Phase.DECIDING),
        CoreDecided(1.0, (PLAIN,)),
        (CloseEar(), Speak(PLAIN)),
        {
            "phase": Phase.SPEAKING,
            "window": None,
            "hears": None,
            "prompt": Prompt(PLAIN),
            "warnings": Warnings(5),
        },
    ),
    # the end of a prompt
    Row(
        "a message was spoken",
        WARNING,
        MessageEnded(1.0, said(HOT)),
        (),
        {
            "prompt": Prompt(PROMPT, (said(HOT),)),
            "warnings": Warnings(5, given=frozenset({HOT}), due=(LIVE,)),
        },
    ),
    Row(
        "a warning that was cut off is still due",
        CUT_WARNING,
        MessageEnded(1.0, said(HOT, whole=False)),
        (),
        {"prompt": Prompt(PROMPT, (said(HOT, whole=False),))},
    ),
    Row(
        "a warning that is shown because nothing can be spoken counts as given",
        WARNING,
        MessageEnded(1.0, said(HOT, whole=False), shown=True),
        (),
        {
            "prompt": Prompt(PROMPT, (said(HOT, whole=False),), shown=True),
            "warnings": Warnings(5, given=frozenset({HOT}), due=(LIVE,)),
        },
    ),
    Row(
        "it does not where the screen is gone too",
        replace(WARNING, gone=frozenset({DeviceName.SCREEN})),
        MessageEnded(1.0, said(HOT, whole=False), shown=True),
        (),
        {"prompt": Prompt(PROMPT, (said(HOT, whole=False),), shown=True)},
    ),
    Row(
        "a voice that had failed is told to be back when it speaks",
        replace(SPEAKING, gone=frozenset({DeviceName.VOICE})),
        MessageEnded(1.0, said(TEXT)),
        (ReportBack(DeviceName.VOICE),),
        {"prompt": Prompt(PLAIN, (said(TEXT),)), "gone": frozenset()},
    ),
    Row(
        "the end of a prompt goes into the record",
        replace(SPEAKING, prompt=Prompt(PLAIN, (said(TEXT),))),
        PromptEnded(1.0),
        (CloseEar(), Deliver(PromptPlayed(5, (said(TEXT),)))),
        {"phase": Phase.DECIDING, "prompt": None, "hears": None},
    ),
    Row(
        "with a headset an answer that was begun is heard to its end",
        replace(SPEAKING, headset=True, voice=True),
        PromptEnded(1.0),
        (Deliver(PromptPlayed(5, ())),),
        {"phase": Phase.DECIDING, "prompt": None},
    ),
    Row(
        "then the question opens",
        replace(DECIDING, effects=(LISTEN,)),
        CoreDecided(1.0, ()),
        OPENING,
        {"phase": Phase.LISTENING, "effects": (), "window": Window(LISTEN), "hears": LISTEN},
    ),
    Row(
        "unless the ear is open for it, and somebody speaks",
        replace(DECIDING, effects=(LISTEN,), hears=LISTEN, voice=True),
        CoreDecided(1.0, ()),
        (),
        {"phase": Phase.LISTENING, "effects": (), "window": Window(LISTEN)},
    ),
    Row(
        "a voice that failed in a prompt is told before the question",
        replace(DECIDING, effects=(LISTEN,), waiting=(DeviceFailed(1.0, DeviceName.VOICE, "ended"),)),
        CoreDecided(1.0, ()),
        (ReportLost(DeviceName.VOICE, "ended"), Deliver(DeviceVanished("voice", "ended"))),
        {"gone": frozenset({DeviceName.VOICE}), "waiting": ()},
    ),
    Row(
        "so is a timer that ran out meanwhile",
        replace(DECIDING, effects=(LISTEN,), timers=((0.5, StartTimer("soak", 1, 60.0)),)),
        CoreDecided(1.0, ()),
        (Deliver(TimerRanOut("soak", 1)),),
        {"timers": ()},
    ),
    # cutting off
    Row(
        "a command cuts a prompt off, and is the answer",
        SPEAKING,
        UtteranceHeard(1.0, SPOKEN_NEXT),
        (CutOff(), CloseEar()),
        {"phase": Phase.HUSHED, "hears": None, "answers": (UtteranceHeard(1.0, SPOKEN_NEXT),)},
    ),
    Row(
        "stop is heard while the end of what Enter cut off is awaited",
        replace(CUT_WARNING, hears=COMMANDS_ONLY),
        UtteranceHeard(1.0, SPOKEN_STOP),
        (CloseEar(),),
        {"hears": None, "answers": (UtteranceHeard(1.0, SPOKEN_STOP),)},
    ),
    Row("what the assistant says itself is nothing", SPEAKING, UtteranceHeard(1.0, SPOKEN_NEXT, own_words=True)),
    Row(
        "but stop silences, whoever said it",
        SPEAKING,
        UtteranceHeard(1.0, SPOKEN_STOP, own_words=True),
        (CutOff(), CloseEar()),
        {"phase": Phase.HUSHED, "hears": None, "warnings": Warnings(5, own_stop=True)},
    ),
    Row("what is in doubt is nothing", SPEAKING, UtteranceHeard(1.0, MUMBLED)),
    Row("a hold phrase is nothing", SPEAKING, UtteranceHeard(1.0, SPOKEN_PHRASE)),
    Row("nor does anything but stop and help count over a warning", WARNING, UtteranceHeard(1.0, SPOKEN_NEXT)),
    Row(
        "stop does",
        WARNING,
        UtteranceHeard(1.0, SPOKEN_STOP),
        (CutOff(), CloseEar()),
        {"phase": Phase.HUSHED, "hears": None, "answers": (UtteranceHeard(1.0, SPOKEN_STOP),)},
    ),
    Row(
        "stop that the warning itself may have said silences it the first time",
        WARNING,
        UtteranceHeard(1.0, SPOKEN_STOP, own_words=True),
        (CutOff(), CloseEar()),
        {"phase": Phase.HUSHED, "hears": None, "warnings": Warnings(5, due=(HOT, LIVE), own_stop=True)},
    ),
    Row(
        "and is believed the second time",
        replace(WARNING, warnings=replace(MISSED, own_stop=True)),
        UtteranceHeard(1.0, SPOKEN_STOP, own_words=True),
        (CutOff(), CloseEar()),
        {"phase": Phase.HUSHED, "hears": None, "answers": (UtteranceHeard(1.0, SPOKEN_STOP, own_words=True),)},
    ),
    Row(
        "a typed line cuts a prompt off, and is the answer",
        SPEAKING,
        line(AGAIN),
        (CutOff(),),
        {"phase": Phase.HUSHED, "answers": (line(AGAIN),)},
    ),
    Row(
        "in place of what was said before",
        replace(HUSHED, answers=(UtteranceHeard(1.0, SPOKEN_NEXT),)),
        line(AGAIN),
        (),
        {"answers": (line(AGAIN),)},
    ),
    Row("a hold phrase that is typed too soon is told", SPEAKING, line(PHRASE), (ShowNotice(Notice.TOO_SOON),)),
    Row("a confirmation likewise", SPEAKING, line(AFFIRM), (ShowNotice(Notice.TOO_SOON),)),
    Row("an answer that is typed over a warning too", WARNING, line(NEXT), (ShowNotice(Notice.TOO_SOON),)),
    Row(
        "help that is typed over a warning is taken",
        WARNING,
        line(HELP),
        (CutOff(),),
        {"phase": Phase.HUSHED, "answers": (line(HELP),)},
    ),
    Row("Enter cuts off", WARNING, EnterPressed(1.0), (CutOff(),), {"phase": Phase.HUSHED}),
    Row(
        "the talk button cuts off, warnings too",
        WARNING,
        ButtonDown(1.0),
        (CutOff(), CloseEar()),
        {"phase": Phase.HUSHED, "hears": None, "press": Press(1.0, cut=True)},
    ),
    Row(
        "a device that fails meanwhile waits",
        SPEAKING,
        DeviceFailed(1.0, DeviceName.MICROPHONE, "pulled"),
        (),
        {"waiting": (DeviceFailed(1.0, DeviceName.MICROPHONE, "pulled"),)},
    ),
    # what was cut off of a warning is spoken again
    Row(
        "from the warning on that was missed",
        replace(
            CUT_WARNING,
            prompt=Prompt(PROMPT, (said(HOT), said(LIVE, whole=False))),
            warnings=Warnings(5, given=frozenset({HOT}), due=(LIVE,)),
        ),
        PromptEnded(1.0),
        (Deliver(PromptPlayed(5, (said(HOT), said(LIVE, whole=False)))),),
        {
            "phase": Phase.DECIDING,
            "prompt": None,
            "warnings": Warnings(5, given=frozenset({HOT}), due=(LIVE,), rest=(LIVE, TEXT)),
        },
    ),
    Row(
        "before the question opens",
        ENDED_WARNING,
        CoreDecided(1.0, ()),
        REPEATING,
        {"phase": Phase.SPEAKING, "prompt": Prompt(Say(5, MISSED.rest)), "hears": COMMANDS_ONLY},
    ),
    Row(
        "but stop is taken at once",
        replace(ENDED_WARNING, answers=(UtteranceHeard(1.0, SPOKEN_STOP),)),
        CoreDecided(1.0, ()),
        (ShowUtterance(SPOKEN_STOP), TakeUtterance(SPOKEN_STOP)),
        {"answers": ()},
    ),
    Row(
        "and while the work stands by nothing is repeated",
        replace(ENDED_WARNING, effects=()),
        CoreDecided(1.0, (WAITS,)),
        (PlayListeningCue(), OpenEar(WAITS, after_own_voice=True)),
        {"phase": Phase.LISTENING, "window": Window(WAITS), "hears": WAITS},
    ),
    Row(
        "whoever holds the button is heard first, who may say stop",
        replace(ENDED_WARNING, press=Press(0.5, cut=True)),
        CoreDecided(1.0, ()),
        (OpenEar(LISTEN, fresh=False), BeginUtterance()),
        {"phase": Phase.HELD_BACK, "effects": (), "window": Window(LISTEN), "hears": LISTEN, "voice": True},
    ),
    Row(
        "a short press said nothing",
        replace(HELD_BACK, press=Press(0.9, cut=True), voice=True),
        ButtonUp(1.0),
        (DropUtterance(), CloseEar(), *REPEATING),
        {
            "phase": Phase.SPEAKING,
            "press": None,
            "voice": False,
            "window": None,
            "effects": (LISTEN,),
            "prompt": Prompt(Say(5, MISSED.rest)),
            "hears": COMMANDS_ONLY,
        },
    ),
    Row(
        "a long one an utterance, which is awaited for a while",
        replace(HELD_BACK, press=Press(0.0, cut=True), voice=True),
        ButtonUp(1.0),
        (FinishUtterance(),),
        {"press": None, "voice": False, "window": Window(LISTEN, 1.0 + HELD_PATIENCE)},
    ),
    Row(
        "which is taken if it is stop",
        HELD_BACK,
        UtteranceHeard(1.0, SPOKEN_STOP),
        (ShowUtterance(SPOKEN_STOP), TakeUtterance(SPOKEN_STOP)),
        {"phase": Phase.DECIDING},
    ),
    Row(
        "else the warning comes",
        HELD_BACK,
        UtteranceHeard(1.0, SPOKEN_PHRASE),
        (ShowUtterance(SPOKEN_PHRASE), CloseEar(), *REPEATING),
        {
            "phase": Phase.SPEAKING,
            "window": None,
            "effects": (LISTEN,),
            "prompt": Prompt(Say(5, MISSED.rest)),
            "hears": COMMANDS_ONLY,
        },
    ),
    Row("a line that is typed instead is told", HELD_BACK, line(NEXT), (ShowNotice(Notice.TOO_SOON),)),
    Row(
        "a warning that can reach nobody waits for a device",
        replace(ENDED_WARNING, gone=frozenset({DeviceName.SCREEN, DeviceName.LOUDSPEAKER})),
        CoreDecided(1.0, ()),
        (OpenEar(LISTEN, after_own_voice=True),),
        {"phase": Phase.HELD_BACK, "effects": (), "window": Window(LISTEN), "hears": LISTEN},
    ),
    Row(
        "and is given when one is back",
        replace(HELD_BACK, gone=frozenset({DeviceName.SCREEN, DeviceName.LOUDSPEAKER})),
        DeviceAnswers(1.0, DeviceName.LOUDSPEAKER),
        (ReportBack(DeviceName.LOUDSPEAKER), CloseEar(), *REPEATING),
        {
            "phase": Phase.SPEAKING,
            "window": None,
            "effects": (LISTEN,),
            "gone": frozenset({DeviceName.SCREEN}),
            "prompt": Prompt(Say(5, MISSED.rest)),
            "hears": COMMANDS_ONLY,
        },
    ),
    # answers
    Row(
        "an utterance is taken",
        LISTENING,
        UtteranceHeard(1.0, SPOKEN_PHRASE),
        (ShowUtterance(SPOKEN_PHRASE), TakeUtterance(SPOKEN_PHRASE)),
        {"phase": Phase.DECIDING},
    ),
    Row(
        "one in doubt too: the core asks again",
        LISTENING,
        UtteranceHeard(1.0, MUMBLED),
        (ShowUtterance(MUMBLED), TakeUtterance(MUMBLED)),
        {"phase": Phase.DECIDING},
    ),
    Row("what nobody said to us is shown only", LISTENING, UtteranceHeard(1.0, NOISE), (ShowUtterance(NOISE),)),
    Row("a typed line is taken", LISTENING, line(PHRASE), (Deliver(typed(PHRASE)),), {"phase": Phase.DECIDING}),
    Row(
        "one that cannot be read is told, and not understood",
        LISTENING,
        line(None, readable=False),
        (ShowNotice(Notice.UNREADABLE), Deliver(typed(None))),
        {"phase": Phase.DECIDING},
    ),
    Row(
        "one to another question is told, and the core drops it",
        LISTENING,
        line(NEXT, exchange=4),
        (ShowNotice(Notice.TOO_SOON), Deliver(typed(NEXT, exchange=4))),
        {"phase": Phase.DECIDING},
    ),
    Row(
        "what came while the assistant spoke is taken when the question is open",
        replace(DECIDING, effects=(LISTEN,), answers=(UtteranceHeard(1.0, SPOKEN_NEXT), line(AGAIN))),
        CoreDecided(2.0, ()),
        (ShowUtterance(SPOKEN_NEXT), TakeUtterance(SPOKEN_NEXT)),
        {"answers": (line(AGAIN),)},
    ),
    Row("Enter asks again", LISTENING, EnterPressed(1.0), (Deliver(ButtonPressed(5)),), {"phase": Phase.DECIDING}),
    Row(
        "the button begins an utterance",
        LISTENING,
        ButtonDown(1.0),
        (BeginUtterance(),),
        {"press": Press(1.0, cut=False), "voice": True},
    ),
    Row(
        "and ends it",
        replace(LISTENING, press=Press(0.0, cut=False), voice=True),
        ButtonUp(SHORT_PRESS),
        (FinishUtterance(),),
        {"press": None},
    ),
    Row(
        "a short press is the button",
        replace(LISTENING, press=Press(0.0, cut=False), voice=True),
        ButtonUp(SHORT_PRESS - 0.01),
        (DropUtterance(), Deliver(ButtonPressed(5))),
        {"phase": Phase.DECIDING, "press": None, "voice": False},
    ),
    Row(
        "one that cut a prompt off is no answer",
        replace(LISTENING, press=Press(0.0, cut=True), voice=True),
        ButtonUp(SHORT_PRESS - 0.01),
        (DropUtterance(), PlayListeningCue()),
        {"press": None, "voice": False},
    ),
    # time
    Row(
        "patience ends",
        replace(LISTENING, window=Window(PATIENT, 21.0)),
        TimePassed(21.0),
        (Deliver(Silence(5, 20.0)),),
        {"phase": Phase.DECIDING, "window": Window(PATIENT)},
    ),
    Row(
        "not while somebody answers",
        replace(LISTENING, window=Window(PATIENT, 21.0), voice=True),
        TimePassed(21.0),
        (),
        {"window": Window(PATIENT, 21.0 + ANSWERING)},
    ),
    Row(
        "a microphone that is gone hears nobody answer",
        replace(LISTENING, window=Window(PATIENT, 21.0), voice=True, gone=frozenset({DeviceName.MICROPHONE})),
        TimePassed(21.0),
        (Deliver(Silence(5, 20.0)),),
        {"phase": Phase.DECIDING, "window": Window(PATIENT)},
    ),
    Row(
        "a timer ends",
        replace(LISTENING, timers=((9.0, StartTimer("soak", 2, 60.0)), (30.0, StartTimer("cool", 1, 60.0)))),
        TimePassed(9.0),
        (Deliver(TimerRanOut("soak", 2)),),
        {"phase": Phase.DECIDING, "timers": ((30.0, StartTimer("cool", 1, 60.0)),)},
    ),
    Row(
        "not while the assistant speaks",
        replace(SPEAKING, timers=((0.0, StartTimer("soak", 2, 60.0)),)),
        TimePassed(9.0),
    ),
    # devices
    Row(
        "a loudspeaker that is gone is told, looked for and recorded",
        LISTENING,
        DeviceFailed(1.0, DeviceName.LOUDSPEAKER, "pulled"),
        (
            LookForLoudspeaker(),
            ReportLost(DeviceName.LOUDSPEAKER, "pulled"),
            Deliver(DeviceVanished("loudspeaker", "pulled")),
        ),
        {"phase": Phase.DECIDING, "gone": frozenset({DeviceName.LOUDSPEAKER})},
    ),
    Row(
        "once",
        replace(LISTENING, gone=frozenset({DeviceName.LOUDSPEAKER})),
        DeviceFailed(1.0, DeviceName.LOUDSPEAKER, "pulled"),
    ),
    Row(
        "when it is back, what was only shown is spoken",
        replace(LISTENING, gone=frozenset({DeviceName.LOUDSPEAKER}), unspoken=PLAIN),
        DeviceAnswers(1.0, DeviceName.LOUDSPEAKER),
        (
            ReportBack(DeviceName.LOUDSPEAKER),
            CloseEar(),
            Speak(PLAIN),
            OpenEar(COMMANDS_ONLY, over_own_voice=True),
        ),
        {
            "phase": Phase.SPEAKING,
            "gone": frozenset(),
            "window": None,
            "effects": (LISTEN,),
            "prompt": Prompt(PLAIN),
            "hears": COMMANDS_ONLY,
            "warnings": Warnings(5),
        },
    ),
    Row(
        "of a question that is over nothing is",
        replace(LISTENING, gone=frozenset({DeviceName.LOUDSPEAKER}), unspoken=Say(4, (TEXT,))),
        DeviceAnswers(1.0, DeviceName.LOUDSPEAKER),
        (ReportBack(DeviceName.LOUDSPEAKER), PlayListeningCue()),
        {"gone": frozenset()},
    ),
    Row(
        "a microphone that is back hears at once",
        replace(LISTENING, gone=frozenset({DeviceName.MICROPHONE})),
        DeviceAnswers(1.0, DeviceName.MICROPHONE),
        (ReportBack(DeviceName.MICROPHONE), *OPENING),
        {"gone": frozenset()},
    ),
    Row("what was not gone is not back", LISTENING, DeviceAnswers(1.0, DeviceName.MICROPHONE)),
    Row(
        "a pedal that is pressed is back",
        replace(QUIET, gone=frozenset({DeviceName.BUTTON})),
        ButtonDown(1.0),
        (ReportBack(DeviceName.BUTTON),),
        {"gone": frozenset(), "press": Press(1.0, cut=False)},
    ),
    Row(
        "an utterance that the recogniser lost is told as its loss",
        LISTENING,
        UtteranceLost(1.0, "no memory"),
        (ReportLost(DeviceName.RECOGNISER, "no memory"), Deliver(DeviceVanished("recogniser", "no memory"))),
        {"phase": Phase.DECIDING, "gone": frozenset({DeviceName.RECOGNISER})},
    ),
    Row(
        "the next one is not understood",
        replace(LISTENING, gone=frozenset({DeviceName.RECOGNISER})),
        UtteranceLost(1.0, "no memory"),
        (Deliver(Heard(5, AnswerVerdict.DOUBTFUL, (), Source.VOICE, None)),),
        {"phase": Phase.DECIDING},
    ),
    Row(
        "an ear that cannot be opened is tried again",
        replace(LISTENING, gone=frozenset({DeviceName.RECOGNISER})),
        DeviceFailed(1.0, DeviceName.RECOGNISER, "no memory"),
        (),
        {"hears": None, "ear_again": 1.0 + EAR_RETRY_SECONDS},
    ),
    Row(
        "after a second",
        replace(LISTENING, hears=None, ear_again=2.0),
        TimePassed(2.0),
        (OpenEar(LISTEN),),
        {"hears": LISTEN, "ear_again": None},
    ),
    Row(
        "what comes while the core decides is taken afterwards",
        DECIDING,
        EnterPressed(1.0),
        (),
        {"deferred": (EnterPressed(1.0),)},
    ),
    Row("when it is over nothing counts", FloorState(phase=Phase.OVER), DeviceFailed(1.0, DeviceName.VOICE, "ended")),
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_the_rows(row: Row) -> None:
    state, actions = floor(row.state, row.event)
    assert actions == row.actions
    assert state == replace(row.state, **row.after)  # type: ignore[arg-type]  # each key is a field's


def test_an_answer_over_a_warning_waits_for_nothing() -> None:
    """A button press cut any prompt off, and the step went on after a warning that nobody had heard."""
    state, _ = floor(WARNING, ButtonDown(1.0))
    state, _ = floor(state, ButtonUp(1.1))
    state, _ = floor(state, MessageEnded(1.2, said(HOT, whole=False)))
    state, _ = floor(state, line(NEXT))
    state, actions = floor(state, PromptEnded(1.3))
    assert actions == (Deliver(PromptPlayed(5, (said(HOT, whole=False),))),)
    state, actions = floor(state, CoreDecided(1.4, ()))
    assert actions == REPEATING
    for message in MISSED.rest:
        state, _ = floor(state, MessageEnded(2.0, said(message)))
    state, _ = floor(state, PromptEnded(2.1))
    state, actions = floor(state, CoreDecided(2.2, ()))
    assert actions == OPENING
    assert state.phase is Phase.LISTENING


@pytest.mark.parametrize("event", [CoreDecided(1.0, ()), MessageEnded(1.0, said(TEXT)), PromptEnded(1.0)])
def test_what_cannot_happen_raises(event: FloorEvent) -> None:
    with pytest.raises(ValueError, match="cannot happen while the floor is listening"):
        floor(LISTENING, event)


def test_every_event_has_a_row_in_every_phase_in_which_it_can_come() -> None:
    owed = (CoreDecided, MessageEnded, PromptEnded)
    kinds = FloorEvent.__args__  # type: ignore[attr-defined]  # a union's members
    for phase in set(Phase) - {Phase.DECIDING, Phase.OVER}:
        missing = {kind for kind in kinds if (phase, kind) not in TRANSITIONS and kind not in owed}
        assert missing == set(), phase


def test_what_is_audible_while_the_assistant_speaks() -> None:
    everything = Expectation((READING, HOLD, NOTE, *COMMANDS, *offers((CommandName.AFFIRM,))))
    assert audible_while_speaking(everything, headset=False) == Expectation(COMMANDS)
    assert audible_while_speaking(everything, headset=True) == Expectation((READING, *COMMANDS)), (
        "no hold point before its warning, no confirmation before what it confirms"
    )


@pytest.mark.parametrize(
    ("meaning", "confirming"), [(PHRASE, True), (AFFIRM, True), (NEXT, False), (Answer("good"), False), (None, False)]
)
def test_what_confirms(meaning: Meaning | None, confirming: bool) -> None:
    assert confirms(meaning) is confirming


# --- whatever comes -------------------------------------------------------------------------------------------------


MEANINGS: list[Meaning | None] = [NEXT, STOP, HELP, AGAIN, AFFIRM, PHRASE, Answer("good"), None]
Choose = Callable[[int], int]
"""A choice among so many."""


class AnyWorld:
    """A world in which anything happens, beside a core that says anything; both hold the machine to its promises.

    choose: one of so many, from 0.
    """

    def __init__(self, choose: Choose, headset: bool) -> None:
        self.choose = choose
        self.state = FloorState(headset=headset)
        self.now = 0.0
        self.exchange = 1
        self.unheard: set[m.Message] = set()
        self.given: set[m.Message] = set()
        self.of = 0  # the exchange whose warnings these are
        self.told_gone: set[DeviceName] = set()
        self.lost: set[DeviceName] = set()
        self.taken = 0

    def pick(self, *things: object) -> object:
        return things[self.choose(len(things))]

    def happens(self) -> FloorEvent:
        """Something that can come now."""
        self.now += (0.0, 0.1, 1.0, 30.0)[self.choose(4)]
        if self.state.phase is Phase.DECIDING and self.choose(8):
            return CoreDecided(self.now, self.decision())
        if self.state.prompt is not None and self.choose(3):
            return self.prompt_goes_on(cut=self.state.phase is Phase.HUSHED and bool(self.choose(2)))
        meaning = MEANINGS[self.choose(len(MEANINGS))]
        question = self.state.question
        exchange = 0 if question is None else question.exchange
        verdict = list(HearingVerdict)[self.choose(3)]
        device = list(DeviceName)[self.choose(len(DeviceName))]
        event = self.pick(
            UtteranceHeard(self.now, utterance(meaning, verdict, exchange), bool(self.choose(2))),
            UtteranceLost(self.now, "failed"),
            replace(line(meaning, exchange), at=self.now, readable=bool(self.choose(5))),
            EnterPressed(self.now),
            ButtonDown(self.now),
            ButtonUp(self.now),
            VoiceBegan(self.now),
            VoiceEnded(self.now),
            TimePassed(self.now),
            DeviceFailed(self.now, device, "failed"),
            DeviceAnswers(self.now, device),
        )
        assert isinstance(event, FloorEvent)  # type: ignore[arg-type,misc]  # a union of classes
        return event

    def prompt_goes_on(self, cut: bool = False, shown: bool = False) -> FloorEvent:
        prompt = self.state.prompt
        assert prompt is not None
        at = len(prompt.said)
        if at == len(prompt.say.messages) or (prompt.said and not prompt.said[-1].whole and not prompt.shown):
            failure = DeviceFailed(self.now, DeviceName.VOICE, "failed") if prompt.shown else None
            return PromptEnded(self.now, failure)
        shown = shown or prompt.shown or not self.choose(8)
        return MessageEnded(self.now, said(prompt.say.messages[at], not cut and not shown), shown)

    def decision(self) -> tuple[Effect, ...]:
        if not self.choose(4):
            return ()
        self.exchange += self.choose(2)
        warnings = (HOT, LIVE)[: self.choose(3)]
        listen = replace((LISTEN, PATIENT, WAITS)[self.choose(3)], exchange=self.exchange)
        effects: list[Effect] = [Cue(CueSound.HEARD)] if self.choose(2) else []
        effects += [Say(self.exchange, (*warnings, TEXT))] if self.choose(4) else []
        effects += [StartTimer("soak", 1, 10.0)] if not self.choose(4) else []
        effects += [listen] if self.choose(6) else []
        return tuple(effects)

    def take(self, event: FloorEvent) -> None:
        before = self.state
        state, actions = floor(before, event)
        self.check_row(before, event, state)
        if isinstance(event, DeviceFailed):
            self.lost.add(event.device)
        if isinstance(event, PromptEnded) and event.failure is not None:
            self.lost.add(event.failure.device)
        if isinstance(event, UtteranceLost):
            self.lost.add(DeviceName.RECOGNISER)
        if isinstance(event, MessageEnded):
            self.message_ended(before, event)
        for at, action in enumerate(actions):
            self.check_action(action, before, event, state)
            if isinstance(action, Deliver | TakeUtterance):
                assert at == len(actions) - 1, "the core is asked last"
                assert state.phase is Phase.DECIDING
        self.state = state

    def check_row(self, before: FloorState, event: FloorEvent, after: FloorState) -> None:
        row = TRANSITIONS.get((before.phase, type(event)))
        if row is not None and not before.deferred:
            assert after.phase in row.to, f"{before.phase}, {event}: {after.phase}"

    def message_ended(self, before: FloorState, event: MessageEnded) -> None:
        assert before.prompt is not None
        message = before.prompt.say.messages[len(before.prompt.said)]
        if event.said.whole or (event.shown and not before.lacks(DeviceName.SCREEN)):
            self.unheard.discard(message)
            self.given.add(message)

    def check_action(self, action: FloorAction, before: FloorState, event: FloorEvent, after: FloorState) -> None:
        match action:
            case Speak(say):
                if say.exchange != self.of:
                    self.of, self.unheard, self.given = say.exchange, set(), set()
                self.unheard |= set(say.warnings) - self.given
                assert say.messages, "something is said"
            case TakeUtterance(heard):
                self.answered(heard.hypotheses, heard.exchange, before, event, after)
            case Deliver(Heard(exchange, _, hypotheses)):
                self.answered(hypotheses, exchange, before, event, after)
            case Deliver(ButtonPressed(exchange)):
                self.answered((), exchange, before, event, after)
            case ReportLost(device):
                assert device not in self.told_gone, "told once"
                assert device in self.lost
                self.told_gone.add(device)
            case ReportBack(device):
                assert device in self.told_gone, "only what was gone is back"
                self.told_gone.discard(device)

    def answered(
        self,
        hypotheses: tuple[Hypothesis, ...],
        exchange: int,
        before: FloorState,
        event: FloorEvent,
        after: FloorState,
    ) -> None:
        """The promise: nothing but stop and help before the warnings, and no confirmation while a prompt is spoken."""
        self.taken += 1
        meaning = hypotheses[0].meaning if hypotheses else None
        question = after.question
        assert question is not None
        if exchange == self.of == question.exchange and not waits(question):
            assert not self.unheard or meaning in ALWAYS_TAKEN, f"{meaning} before {self.unheard}"
        if isinstance(meaning, Passphrase):
            assert before.listening or before.deferred, "said while the assistant spoke"
            assert isinstance(event, UtteranceHeard | LineTyped | CoreDecided)
            assert not isinstance(event, CoreDecided) or before.deferred

    def settle(self) -> None:
        """Everything works again, and nobody does anything: somebody must come to have the floor for an answer."""
        for device in DeviceName:
            self.take(DeviceAnswers(self.now, device))
        self.take(ButtonUp(self.now))
        self.take(VoiceEnded(self.now))
        for _ in range(500):  # far more than all that may wait
            match self.state.phase:
                case Phase.LISTENING:
                    return
                case Phase.DECIDING:
                    self.take(CoreDecided(self.now, (Listen(self.exchange, LISTEN.expectation, None),)))
                case Phase.SPEAKING | Phase.HUSHED:
                    self.now += 1.0
                    self.take(self.prompt_goes_on())
                case Phase.HELD_BACK:
                    self.now += HELD_PATIENCE
                    self.take(EnterPressed(self.now))
                case Phase.QUIET:
                    self.take(DeviceFailed(self.now, DeviceName.KEYBOARD, "failed"))
                    self.take(DeviceAnswers(self.now, DeviceName.KEYBOARD))
        raise AssertionError(f"nobody can answer any more: {self.state}")


@settings(max_examples=300, deadline=None)
@given(st.data(), st.booleans())
def test_whatever_comes_warnings_are_heard_and_everything_is_told_once(data: st.DataObject, headset: bool) -> None:
    """After any events: no answer before its warnings, none that confirms over a prompt, devices told once and back."""
    world = AnyWorld(lambda count: data.draw(st.integers(0, count - 1)), headset)
    for _ in range(data.draw(st.integers(1, 60))):
        world.take(world.happens())
    world.settle()
    assert world.state.phase is Phase.LISTENING
    assert set(world.state.gone) == world.told_gone


def test_the_search_takes_answers_at_all() -> None:
    """A search in which nothing is ever answered would prove nothing."""
    random = np.random.default_rng(1)
    taken = held_back = 0
    for headset in (False, True):
        world = AnyWorld(lambda count: int(random.integers(count)), headset)
        for _ in range(4000):
            world.take(world.happens())
            held_back += world.state.phase is Phase.HELD_BACK
        taken += world.taken
    assert taken > 50
    assert held_back > 5
