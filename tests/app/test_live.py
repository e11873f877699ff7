"""The live world, with devices that do as the test says: its own voice, the talk button, devices that go and come."""

from __future__ import annotations

import threading
from dataclasses import replace
from pathlib import Path

import pytest
from app.room import LANGUAGE, Room, eventually
from hearing.test_ear import silence, speech

from assistant.app import device_threads
from assistant.app.inbox import Block
from assistant.dialogue.commands import offers
from assistant.dialogue.effects import StartTimer
from assistant.edge.keyboard import TypedLine
from assistant.floor.events import ButtonDown, ButtonUp
from assistant.floor.policy import audible_while_speaking
from assistant.floor.state import Phase
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.hearing.ear import OWN_TAIL, RELEASE_TAIL
from assistant.meanings import Amount, Command, CommandName, FreeSpeech, Passphrase
from assistant.session import facts as f

pytestmark = pytest.mark.timeout(60)


@pytest.fixture
def room(tmp_path: Path) -> Room:
    return Room(tmp_path)


@pytest.fixture
def headset(tmp_path: Path) -> Room:
    return Room(tmp_path, headset=True)


def to_the_hold_point(room: Room) -> None:
    """The next prompt is that of the hold point's own question."""
    room.begin()
    room.go_on()
    room.answer("all good")


# its own voice


def test_with_a_headset_an_answer_cuts_the_prompt_off_and_is_the_answer(headset: Room) -> None:
    headset.player.meanwhile.append(headset.interrupted_by("all good"))
    headset.begin()
    headset.go_on(lambda: bool(headset.facts(f.AnswerRecorded)))
    first = headset.facts(f.Spoken)[0]
    assert [said.whole for said in first.said] == [False]  # the question itself was not even begun
    assert headset.facts(f.AnswerRecorded)[0].clip is not None
    assert headset.player.cues == 0  # nobody was asked to speak: he had spoken
    headset.go_on()
    assert headset.watcher.spoken[-1] == ("Stop the engine.", True)
    assert headset.player.cues == 1
    assert headset.watcher.utterances == ["all good"]
    assert headset.world.tally.utterances == 1


def test_without_a_headset_only_commands_are_listened_for(room: Room) -> None:
    room.player.meanwhile.append(room.not_interrupted_by("all good"))
    room.begin()
    room.go_on()
    assert all(whole for _, whole in room.watcher.spoken)
    assert room.facts(f.AnswerRecorded) == []
    assert room.player.cues == 1
    assert room.watcher.utterances == []
    room.player.meanwhile.append(room.interrupted_by("where am I"))
    room.answer("all good")
    assert ("All good.", False) in room.watcher.spoken
    assert any("Stop" in text and "step 2" in text.lower() for text, _ in room.watcher.spoken), room.watcher.spoken
    assert room.watcher.utterances == ["all good", "where am I"]


def test_the_assistants_own_words_are_refused_without_a_headset(room: Room) -> None:
    room.begin()
    room.go_on()
    room.player.meanwhile.append(room.not_interrupted_by("say again"))
    room.answer("what can I say")
    assert "say again" in room.watcher.spoken[-2][0] or "say again" in room.watcher.spoken[-1][0]
    assert all(whole for _, whole in room.watcher.spoken)
    assert room.watcher.utterances == ["what can I say"]


def test_with_a_headset_the_same_words_count(headset: Room) -> None:
    headset.begin()
    headset.go_on()
    headset.player.meanwhile.append(headset.interrupted_by("say again"))
    headset.answer("what can I say")
    assert headset.watcher.utterances == ["what can I say", "say again"]
    assert any(not whole for _, whole in headset.watcher.spoken)


def test_stop_always_silences(room: Room) -> None:
    """ "Stop the engine." contains it: then it silences and nothing more, for it may have been the assistant itself."""
    room.begin()
    room.go_on()
    room.player.meanwhile.append(room.interrupted_by("stop"))
    room.answer("all good")
    assert ("All good.", False) in room.watcher.spoken
    assert room.facts(f.StoodBy) == []
    assert room.listens()
    assert room.player.cues == 2
    room.player.meanwhile.append(room.interrupted_by("stop"))
    room.answer("next")
    assert len(room.facts(f.StoodBy)) == 1  # "The engine can start by itself.": no such word is in it


def test_what_is_doubtful_while_the_assistant_speaks_is_nothing(headset: Room) -> None:
    headset.player.meanwhile += [
        headset.not_interrupted_by("all good", sure=0.3),
        headset.not_interrupted_by("mumbled nothing"),
    ]
    headset.begin()
    headset.go_on()
    assert all(whole for _, whole in headset.watcher.spoken)
    assert headset.facts(f.HearingFailed) == []
    assert headset.watcher.utterances == []
    assert headset.world.tally.utterances == 0


def test_a_hold_phrase_is_not_listened_for_without_a_headset(room: Room) -> None:
    to_the_hold_point(room)
    room.player.meanwhile.append(room.not_interrupted_by("nothing moves here"))
    room.answer("next")
    assert room.facts(f.HoldPointPassed) == []
    assert room.watcher.spoken[-1][0].startswith("Try the start switch.")
    room.answer("nothing moves here")
    assert len(room.facts(f.HoldPointPassed)) == 1


def test_an_answer_that_is_being_given_when_the_prompt_ends_is_heard_whole(headset: Room) -> None:
    def speaks() -> None:
        eventually(lambda: headset.ear.is_open)
        for part in (silence(0.6), speech(0.4)):
            for block in part:
                headset.world.inbox.post(Block(block))
        eventually(lambda: headset.world.inbox.empty)

    headset.player.meanwhile += [lambda: None, speaks]
    headset.begin()
    headset.go_on()
    assert headset.player.cues == 0
    headset.recogniser.words.append("all good")
    for part in (speech(0.3), silence(1.0)):
        for block in part:
            headset.world.inbox.post(Block(block))
    headset.go_on(lambda: bool(headset.facts(f.AnswerRecorded)))


@pytest.mark.parametrize(("with_headset", "heard"), [(False, []), (True, ["say again"])])
def test_the_end_of_its_own_prompt_is_no_answer_without_a_headset(
    tmp_path: Path, with_headset: bool, heard: list[str]
) -> None:
    """The last of "What is the pressure?" was on its way when the ear opened, and was taken for a correction."""
    room = Room(tmp_path, headset=with_headset)
    room.begin()
    room.go_on()
    room.recogniser.words.append("say again")
    for part in (speech(OWN_TAIL * 0.032), silence(1.0)):
        for block in part:
            room.world.inbox.post(Block(block))
    room.go_on()
    assert room.watcher.utterances == heard


def test_what_is_audible_while_the_assistant_speaks() -> None:
    commands = offers((CommandName.NEXT, CommandName.STOP))
    reading = Offer("<number>", Amount, Risk.READING)
    hold = Offer("nothing moves here", Passphrase, Risk.HOLD, "proof")
    note = Offer("note", FreeSpeech, Risk.COMMAND)
    everything = Expectation((reading, hold, note, *commands))
    assert audible_while_speaking(everything, headset=False) == Expectation(commands)
    assert audible_while_speaking(everything, headset=True) == Expectation((reading, *commands)), (
        "no hold point before its warning"
    )
    assert all(offer.meaning is Command for offer in commands)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("Stop the engine.", {CommandName.STOP}),
        (
            "The choices are: next; say again; tell me more.",
            {CommandName.NEXT, CommandName.SAY_AGAIN, CommandName.DETAILS},
        ),
        ("Say it again. Nextdoor.", set()),
        ("Say. Again, please.", {CommandName.SAY_AGAIN}),
    ],
)
def test_what_is_meant_in_a_prompt(text: str, meant: set[CommandName]) -> None:
    commands = Expectation(offers(tuple(CommandName)))
    assert LANGUAGE.meant_in(text, commands) == {Command(name) for name in meant}


# the talk button


def hold(room: Room, seconds: float = 0.6, words: str = "", at: float = 100.0, pressed_for: float = 1.0) -> None:
    """The button is held while something is said; no silence follows."""
    if words:
        room.recogniser.words.append(words)
    room.world.inbox.post(ButtonDown(at))
    for block in speech(seconds):
        room.world.inbox.post(Block(block))
    room.world.inbox.post(ButtonUp(at + pressed_for))
    for _, block in zip(range(RELEASE_TAIL), speech(1.0), strict=False):
        room.world.inbox.post(Block(block))


def test_press_and_release_bound_the_utterance(room: Room) -> None:
    room.begin()
    room.go_on()
    hold(room, words="all good")
    room.go_on(lambda: bool(room.facts(f.AnswerRecorded)))
    assert len(room.facts(f.AnswerRecorded)) == 1
    assert room.watcher.utterances == ["all good"]


def test_a_short_press_while_it_listens_is_the_button(room: Room) -> None:
    room.begin()
    room.go_on()
    asked = len(room.watcher.spoken)
    hold(room, seconds=0.1, pressed_for=0.2)
    room.go_on(lambda: len(room.watcher.spoken) > asked and room.listens())
    assert room.watcher.spoken[-1] == ("Oil, coolant, belt. Anything wrong?", True)  # it asks once more
    assert room.recogniser.words == []


def test_a_short_press_while_it_speaks_cuts_it_off(room: Room) -> None:
    def presses() -> None:
        room.panel.press()
        room.panel.release()
        room.player.until_cut()

    room.world.threads.watch(room.panel)
    room.player.meanwhile.append(presses)
    room.begin()
    room.go_on()
    assert [whole for _, whole in room.watcher.spoken] == [False]
    assert room.player.cues == 1
    assert room.facts(f.AnswerRecorded) == []


def test_the_button_held_over_the_cut_is_an_utterance(room: Room) -> None:
    def presses() -> None:
        room.world.inbox.post(ButtonDown(1.0))
        room.player.until_cut()

    room.player.meanwhile.append(presses)
    room.begin()
    room.go_on()
    assert room.player.cues == 0  # who holds the button speaks already
    room.recogniser.words.append("all good")
    for block in speech(0.6):
        room.world.inbox.post(Block(block))
    room.world.inbox.post(ButtonUp(3.0))
    for block in silence(1.0):
        room.world.inbox.post(Block(block))
    room.go_on(lambda: bool(room.facts(f.AnswerRecorded)))


# warnings are heard in full

WARNED = "Warning. The engine can start by itself."
TRY = "Try the start switch. If nothing moves, use card one."


def test_a_warning_that_the_button_cut_off_is_spoken_again_before_any_answer(room: Room) -> None:
    """A press cut any prompt off, and the hold point could be passed over a warning that nobody had heard."""

    def presses() -> None:
        room.world.inbox.post(ButtonDown(1.0))
        room.world.inbox.post(ButtonUp(1.1))
        room.world.inbox.post(TypedLine("nothing moves here", readable=True))
        room.player.until_cut()

    to_the_hold_point(room)
    room.player.meanwhile += [presses, presses]
    room.answer("next")
    assert room.watcher.spoken[-4:] == [(WARNED, False), (WARNED, False), (WARNED, True), (TRY, True)]
    assert room.facts(f.HoldPointPassed) == []
    assert sum("before a warning was spoken in full" in note for note in room.watcher.notes) == 2
    assert [said.whole for spoken in room.facts(f.Spoken)[-3:] for said in spoken.said] == [False, False, True, True]
    room.answer("nothing moves here")
    assert len(room.facts(f.HoldPointPassed)) == 1


def test_stop_is_heard_over_a_warning_and_from_whoever_holds_the_button(room: Room) -> None:
    def presses() -> None:
        room.world.inbox.post(ButtonDown(1.0))
        room.player.until_cut()

    to_the_hold_point(room)
    room.player.meanwhile.append(presses)
    room.utter("next")
    room.go_on(lambda: room.world.state.phase is Phase.HELD_BACK)
    room.recogniser.words.append("stop")
    for block in speech(0.6):
        room.world.inbox.post(Block(block))
    room.world.inbox.post(ButtonUp(3.0))
    for block in silence(1.0):
        room.world.inbox.post(Block(block))
    room.go_on(lambda: bool(room.facts(f.StoodBy)))
    room.go_on()
    assert room.watcher.spoken[-1] == (WARNED, False), "silence, and wait"
    room.answer("carry on")
    assert room.watcher.spoken[-3:] == [("Going on.", True), (WARNED, True), (TRY, True)]


def test_whoever_holds_the_button_over_a_warning_and_says_something_else_hears_it_again(room: Room) -> None:
    def presses() -> None:
        room.world.inbox.post(ButtonDown(1.0))
        room.player.until_cut()

    to_the_hold_point(room)
    room.player.meanwhile.append(presses)
    room.utter("next")
    room.go_on(lambda: room.world.state.phase is Phase.HELD_BACK)
    hold(room, words="nothing moves here")
    room.go_on(lambda: room.watcher.spoken[-1] == (TRY, True) and room.listens())
    assert room.watcher.spoken[-3:] == [(WARNED, False), (WARNED, True), (TRY, True)]
    assert room.facts(f.HoldPointPassed) == []


def test_no_command_but_stop_and_help_cuts_a_warning_off(headset: Room) -> None:
    to_the_hold_point(headset)
    headset.player.meanwhile += [headset.not_interrupted_by("say again"), headset.interrupted_by("call for help")]
    headset.utter("next")
    headset.go_on(lambda: bool(headset.facts(f.HelpCalled)))
    headset.go_on()
    assert (WARNED, True) in headset.watcher.spoken
    assert headset.watcher.spoken[-1][0].startswith("Help!")


def test_help_that_cut_a_warning_off_is_called_and_then_it_is_spoken_again(room: Room) -> None:
    to_the_hold_point(room)
    room.player.meanwhile.append(room.interrupted_by("call for help"))
    room.utter("next")
    room.go_on(lambda: bool(room.facts(f.HelpCalled)))
    room.go_on()
    assert [text for text, _ in room.watcher.spoken[-5:]] == [*[room.watcher.spoken[-3][0]] * 3, WARNED, TRY]
    assert room.watcher.spoken[-3][0].startswith("Help!")


def test_no_hold_point_is_passed_while_a_prompt_is_being_spoken(room: Room) -> None:
    def types() -> None:
        room.world.inbox.post(TypedLine("nothing moves here", readable=True))
        eventually(lambda: room.world.inbox.empty)

    to_the_hold_point(room)
    room.player.meanwhile += [lambda: None, types]  # the warning is over, and its text begins
    room.answer("next")
    assert room.watcher.spoken[-2:] == [(WARNED, True), (TRY, True)]
    assert room.facts(f.HoldPointPassed) == []
    assert any("That came before its question" in note for note in room.watcher.notes)
    room.world.inbox.post(TypedLine("nothing moves here", readable=True))
    room.go_on(lambda: bool(room.facts(f.HoldPointPassed)))


def test_a_warning_that_is_shown_because_the_voice_failed_counts_as_given(room: Room) -> None:
    """Else work would stand still without a loudspeaker. The record says that it was not heard."""
    to_the_hold_point(room)
    room.voice.broken = "espeak-ng ended"
    room.answer("next")
    assert f"shown only: {WARNED}" in room.watcher.notes
    warned = [said for spoken in room.facts(f.Spoken) for said in spoken.said if said.text == WARNED]
    assert [said.whole for said in warned] == [False]
    room.answer("nothing moves here")
    assert len(room.facts(f.HoldPointPassed)) == 1


# devices that go and come


def test_a_microphone_that_vanishes_is_told_and_the_keyboard_goes_on(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(device_threads, "RETRY_SECONDS", 0.005)
    room.begin()
    room.go_on()
    before = set(threading.enumerate())
    room.world.threads.hear(room.microphone)  # type: ignore[arg-type]  # a stand-in
    (thread,) = set(threading.enumerate()) - before
    room.microphone.pull()
    room.go_on(lambda: bool(room.facts(f.DeviceLost)))
    room.go_on()
    assert [lost.device for lost in room.facts(f.DeviceLost)] == ["microphone"]
    assert any("the microphone is gone" in note and "keyboard" in note for note in room.watcher.notes)
    assert any("microphone" in text.lower() for text, _ in room.watcher.spoken)
    room.world.inbox.post(TypedLine("all good", readable=True))
    room.go_on(lambda: bool(room.facts(f.AnswerRecorded)))
    room.go_on()
    room.microphone.plug()
    room.go_on(lambda: "the microphone is back." in room.watcher.notes)
    for part in (silence(0.6), speech(0.6), silence(1.0)):
        for block in part:
            room.microphone.waiting.put(block)
    room.recogniser.words.append("next")
    room.go_on(lambda: "next" in room.watcher.utterances)
    room.world.threads.end()
    room.microphone.pull()
    thread.join(5)
    assert not thread.is_alive()


def test_a_loudspeaker_that_vanishes_is_told_on_the_screen_and_speaks_when_it_is_back(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(device_threads, "RETRY_SECONDS", 0.005)
    room.begin()
    room.go_on()
    room.player.gone = True
    room.answer("all good")
    assert [lost.device for lost in room.facts(f.DeviceLost)] == ["loudspeaker"]
    assert "shown only: Stop the engine." in room.watcher.notes
    assert any("the loudspeaker is gone" in note and "screen" in note for note in room.watcher.notes)
    spoken = len(room.watcher.spoken)
    room.player.gone = False
    room.go_on(lambda: len(room.watcher.spoken) > spoken and room.listens())
    assert room.watcher.spoken[-1] == ("Stop the engine.", True)
    assert [lost.device for lost in room.facts(f.DeviceLost)] == ["loudspeaker"]
    assert not room.facts(f.Spoken)[-2].said[-1].whole  # the record says that it was not heard


def test_a_voice_that_fails_is_told_once_and_speaks_when_it_can(room: Room) -> None:
    room.begin()
    room.go_on()
    room.voice.broken = "espeak-ng ended"
    room.answer("all good")
    room.answer("say again")
    assert [lost.device for lost in room.facts(f.DeviceLost)] == ["voice"]
    assert "shown only: Stop the engine." in room.watcher.notes
    assert "the voice is back." not in room.watcher.notes
    room.voice.broken = ""
    room.answer("say again")
    assert room.watcher.spoken[-1] == ("Stop the engine.", True)
    assert room.watcher.notes.count("the voice is back.") == 1, "it was never told"
    room.answer("say again")
    assert room.watcher.notes.count("the voice is back.") == 1


def test_a_recogniser_that_fails_is_told_once_and_the_keyboard_goes_on(room: Room) -> None:
    room.begin()
    room.go_on()
    room.recogniser.broken = "out of memory"
    room.answer("all good")
    assert room.facts(f.AnswerRecorded) == []
    assert [fact.device for fact in room.facts(f.DeviceLost)] == ["recogniser"]
    assert ("Recogniser does not answer any more.", True) in room.watcher.spoken
    assert "out of memory" in room.watcher.notes[0]
    assert "There is the keyboard: type what you would say. It is tried again when you speak." in room.watcher.notes[0]
    for _ in range(3):  # what is said meanwhile is not understood, until there is the keyboard alone
        room.answer("all good")
    assert len(room.facts(f.DeviceLost)) == 1
    assert [fact.manner for fact in room.facts(f.MannerChanged)] == [f.Manner.CHOICES]
    room.world.inbox.post(TypedLine("all good", readable=True))
    room.go_on(lambda: bool(room.facts(f.AnswerRecorded)))
    room.go_on()
    assert [fact.key for fact in room.facts(f.AnswerRecorded)] == ["good"]
    room.recogniser.broken = ""
    room.answer("next")
    assert "the recogniser is back." in room.watcher.notes
    assert room.watcher.utterances == ["next"]


def test_words_that_the_recogniser_lacks_are_named_once(room: Room) -> None:
    room.recogniser.lacking = {"order", "pressure", "good"}
    room.begin()
    room.go_on()
    room.answer("say again")
    told = [note for note in room.watcher.notes if "cannot hear these words" in note]
    assert told == ["the recogniser cannot hear these words: good, order. Type what has them in it."]


def test_the_end_tells_how_much_sound_was_lost(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    def ends() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(room.microphone, "overruns", 3)
    monkeypatch.setattr(room.world, "go_on", ends)
    with pytest.raises(KeyboardInterrupt):
        room.world.run(room.order)
    assert room.watcher.notes[-1].startswith("sound lost: 3 overruns")
    room.microphone.waiting.put(None)


def test_a_timer_is_not_held_up_by_sound_that_comes_fast(room: Room) -> None:
    """While there was always sound in the inbox, a timer never ran out."""
    room.begin()
    room.go_on()
    room.world.state = replace(room.world.state, timers=((0.0, StartTimer("soak", 1, 0.05)),))
    for _ in range(3):
        room.world.inbox.post(Block(next(iter(silence(0.04)))))
    room.world.go_on()
    assert room.world.state.timers == ()
    assert not room.world.inbox.empty, "it did not wait for the sound"
