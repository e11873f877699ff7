"""Where speech begins and ends, as tables of blocks: voice as letters, one letter a block of 32 ms."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.endpoint import (
    EndpointEvent,
    EndpointSettings,
    EndpointState,
    SpeechEnded,
    SpeechPaused,
    SpeechResumed,
    SpeechStarted,
    TooLong,
    blocks,
    listen,
)

SETTINGS = EndpointSettings(onset=3, pre_roll=4, pause=6, tail=14, longest=100, steady=30)
VOICE = {"v": 0.95, "w": 0.4, ".": 0.02}
"""v: surely a voice; w: doubtful, voice only once speech runs; .: none."""


def heard(
    pattern: str, settings: EndpointSettings = SETTINGS, levels: list[float] | None = None
) -> list[EndpointEvent]:
    """The events of a pattern such as `....vvvv....`; levels move as speech does when none are given."""
    state, events = EndpointState(), []
    for at, letter in enumerate(pattern):
        level = levels[at] if levels is not None else (-20.0 - (at * 7) % 13 if letter != "." else -50.0 - at % 5)
        state, event = listen(state, VOICE[letter], level, settings)
        if event is not None:
            events.append(event)
    return events


@pytest.mark.parametrize(
    ("pattern", "events"),
    [
        ("." * 40, []),
        ("........vv.........", []),  # a blip of 64 ms is no speech
        ("........v.v.........", []),
        ("........" + "v" * 10, [SpeechStarted(4)]),
        ("vvvvv", [SpeechStarted(0)]),  # the pre-roll does not reach before the beginning
        ("........" + "wwwwww", []),
        ("........" + "vvv" + "." * 6, [SpeechStarted(4), SpeechPaused(17)]),
        ("........" + "vvv" + "." * 14, [SpeechStarted(4), SpeechPaused(17), SpeechEnded(4, 17)]),
        # a pause inside a number does not end it
        (
            "........" + "vvvv" + "." * 10 + "vvvv" + "." * 14,
            [SpeechStarted(4), SpeechPaused(18), SpeechResumed(), SpeechPaused(32), SpeechEnded(4, 32)],
        ),
        # a click in the tail does not hold it open
        (
            "........" + "vvvv" + "." * 8 + "v" + "." * 5,
            [SpeechStarted(4), SpeechPaused(18), SpeechEnded(4, 18)],
        ),
        # quiet syllables go on with what has begun
        ("........" + "vvvv" + "wwwwwwww" + "." * 6, [SpeechStarted(4), SpeechPaused(26)]),
        # two utterances
        (
            "....vvvv" + "." * 14 + "vvvv" + "." * 14,
            [
                SpeechStarted(0), SpeechPaused(14), SpeechEnded(0, 14),
                SpeechStarted(18), SpeechPaused(32), SpeechEnded(18, 32),
            ],
        ),
    ],
)  # fmt: skip
def test_table(pattern: str, events: list[EndpointEvent]) -> None:
    assert heard(pattern) == events


def test_a_longer_tail_waits_for_more_digits() -> None:
    patient = EndpointSettings(onset=3, pre_roll=4, pause=6, tail=20, longest=100, steady=30)
    pattern = "........" + "vvvv" + "." * 16 + "vvvv" + "." * 20
    assert [e for e in heard(pattern, patient) if isinstance(e, SpeechEnded)] == [SpeechEnded(4, 38)]
    assert next(e for e in heard(pattern) if isinstance(e, SpeechEnded)) == SpeechEnded(4, 18)


def test_speech_is_cut_when_it_goes_on_too_long() -> None:
    events = heard("...." + "v" * 150)
    assert events == [SpeechStarted(0), TooLong(0, 100)]  # and no new speech before a block without voice


def test_after_a_cut_and_a_breath_one_can_speak_again() -> None:
    events = heard("...." + "v" * 100 + "..vvvv" + "." * 14)
    assert events[1] == TooLong(0, 100)
    assert isinstance(events[2], SpeechStarted)
    assert isinstance(events[-1], SpeechEnded)


def test_a_steady_noise_that_passes_for_a_voice_ends_the_listening() -> None:
    # It failed so elsewhere: an engine that the voice detector took for speech was listened to for ever.
    events = heard("...." + "v" * 60, levels=[-50.0] * 4 + [-18.0 + (n % 3) * 0.5 for n in range(60)])
    assert [type(event) for event in events] == [SpeechStarted, TooLong]
    assert events[1] == TooLong(0, 34)


def test_speech_over_a_loud_engine_is_not_taken_for_steady() -> None:
    levels = [-20.0] * 8 + [-20.0 + (0, 2, 5, 6, 3, 1)[n % 6] for n in range(40)] + [-20.0] * 14
    events = heard("." * 8 + "v" * 40 + "." * 14, levels=levels)
    assert [type(event) for event in events] == [SpeechStarted, SpeechPaused, SpeechEnded]


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(-90, 0)), max_size=400))
def test_listening_always_ends(sequence: list[tuple[float, float]]) -> None:
    state = EndpointState()
    open_since: int | None = None
    for number, (voice, level) in enumerate(sequence):
        state, event = listen(state, voice, level, SETTINGS)
        match event:
            case SpeechStarted(first):
                assert open_since is None
                assert 0 <= first <= number
                open_since = first
            case SpeechEnded(first, end) | TooLong(first, end):
                assert first == open_since
                assert first < end <= number + 1
                open_since = None
            case SpeechPaused() | SpeechResumed():
                assert open_since is not None
            case None:
                pass
        assert open_since is None or number + 1 - open_since < SETTINGS.longest
        assert state.count == number + 1


def test_the_same_blocks_give_the_same_state() -> None:
    one = listen(EndpointState(), 0.9, -20.0, SETTINGS)
    assert one == listen(EndpointState(), 0.9, -20.0, SETTINGS)


def test_blocks_of_a_time() -> None:
    assert (blocks(0.2), blocks(0.6), blocks(0.0)) == (6, 19, 1)
