"""The ear, with a recogniser and a voice detector that do as the test says. Time is the number of blocks fed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from assistant.dialogue.commands import offers
from assistant.edge.files.language import Language, english
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import Saying
from assistant.grammar.graph import WordGraph
from assistant.grammar.units import reading_offer
from assistant.hearing.decoding import Evidence, HeardPath, Hearing
from assistant.hearing.ear import (
    LOOK,
    MAX_OTHERS,
    PAUSE,
    RELEASE_TAIL,
    TAIL,
    TAIL_OF_DOUBTFUL,
    TAIL_WITH_NUMBERS,
    Ear,
    HeardUtterance,
    Samples,
)
from assistant.hearing.endpoint import BLOCK_SAMPLES, RATE, EndpointSettings, blocks
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.meanings import Amount, Command, CommandName, Passphrase

SETTINGS = EndpointSettings()
COMMANDS = Expectation(offers((CommandName.NEXT, CommandName.SAY_AGAIN)))
HOLD = Expectation((Offer("nothing moves here", Passphrase, Risk.HOLD, "proof"), *COMMANDS.offers))
NUMBERS = Expectation((Offer(reading_offer("kPa"), Amount, Risk.READING), *COMMANDS.offers))

NEXT = Saying(0, ("next",), ("next",))
SAY_AGAIN = Saying(1, ("say", "again"), ("say again",))
FIFTEEN, FIFTY = Saying(0, ("fifteen",), ("15",)), Saying(0, ("fifty",), ("50",))


def path(saying: Saying, score: float = 5.0, can_grow: bool = False) -> HeardPath:
    return HeardPath(saying, score, -1.0, " ".join(saying.words), len(saying.words), can_grow)


def hearing(*paths: HeardPath, sure: float = 0.999) -> Hearing:
    """sure: what the engine itself makes of it; the judgement takes that as it is."""
    return Hearing(paths, Evidence(0.0, 10.0, -0.5, 1.0, 3, False, 1.0, own=sure))


class Scripted:
    """A recogniser that hears what it is told, whatever the sound."""

    name = "scripted"

    def __init__(self, *script: Hearing) -> None:
        self.script = list(script)
        self.heard: list[float] = []  # seconds of the sounds it was given
        self.prepared: list[WordGraph] = []

    def prepare(self, graph: WordGraph) -> tuple[str, ...]:
        self.prepared.append(graph)
        return ()

    def warm(self, graph: WordGraph, most: int) -> int:
        return 0

    def hear(self, audio: Samples, graph: WordGraph) -> Hearing:
        self.heard.append(len(audio) / RATE)
        return self.script.pop(0) if len(self.script) > 1 else self.script[0]


class Loudness:
    """Takes for voice whatever is loud."""

    def __init__(self) -> None:
        self.asked = 0

    def reset(self) -> None:
        pass

    def probability(self, block: Samples) -> float:
        self.asked += 1
        return 1.0 if float(np.abs(block).max()) > 0.05 else 0.0


QUIET = np.zeros(BLOCK_SAMPLES, np.float32)


def speech(seconds: float, seed: int = 1) -> Iterator[Samples]:
    """Blocks whose level moves about as that of speech does."""
    random = np.random.default_rng(seed)
    for number in range(blocks(seconds)):
        level = 0.1 + 0.8 * ((number * 7) % 10) / 10
        yield (level * random.uniform(-1, 1, BLOCK_SAMPLES)).astype(np.float32)


def silence(seconds: float) -> Iterator[Samples]:
    for _ in range(blocks(seconds)):
        yield QUIET


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


class Listener:
    """An ear that is fed, and what it caught: at which block, and what."""

    def __init__(self, language: Language, expectation: Expectation, *script: Hearing) -> None:
        self.recogniser = Scripted(*script)
        self.detector = Loudness()
        self.ear = Ear(self.recogniser, language.graph, self.detector, timer=lambda: 0.0)
        self.ear.open(expectation, 7)
        self.caught: list[tuple[int, HeardUtterance]] = []
        self.fed = 0

    def feed(self, *parts: Iterator[Samples]) -> None:
        for part in parts:
            for block in part:
                self.fed += 1
                caught = self.ear.feed(block)
                if caught is not None:
                    self.caught.append((self.fed, caught))

    def only(self) -> HeardUtterance:
        assert len(self.caught) == 1
        return self.caught[0][1]


def test_what_cannot_grow_is_taken_at_the_first_pause(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.feed(silence(0.6), speech(0.6), silence(2))
    caught = listener.only()
    assert caught.verdict is HearingVerdict.ACCEPT
    assert caught.exchange == 7
    assert [hypothesis.meaning for hypothesis in caught.hypotheses] == [Command(CommandName.NEXT)]
    assert caught.hypotheses[0].text == "next"
    assert listener.caught[0][0] == blocks(0.6) * 2 + PAUSE
    assert not caught.cut


def test_it_is_decoded_while_the_pause_goes_by_and_forgotten_when_speech_goes_on(language: Language) -> None:
    """A moment without a voice, as before a plosive: decoded, but no answer, for the voice comes back."""
    listener = Listener(language, COMMANDS, hearing(path(NEXT)), hearing(path(SAY_AGAIN)))
    dip = LOOK * BLOCK_SAMPLES / RATE
    listener.feed(silence(0.6), speech(0.6), silence(dip), speech(0.6, seed=2), silence(2))
    assert LOOK < PAUSE
    assert [hypothesis.text for hypothesis in listener.only().hypotheses] == ["say again"]
    assert len(listener.recogniser.heard) == 2
    assert listener.caught[0][0] == blocks(0.6) * 3 + LOOK + PAUSE
    assert listener.only().silent == pytest.approx(PAUSE * BLOCK_SAMPLES / RATE)


def test_a_sentence_of_which_only_the_beginning_was_said_waits_for_the_rest(language: Language) -> None:
    """`still` alone fits one answer best, and was taken for it; what the model writes freely is shorter than that."""
    evidence = Evidence(0.0, 20.0, -0.1, 3.0, 1, False, 1.0)
    for pieces, waits in ((2, PAUSE), (3, TAIL)):
        begun = Hearing((replace(path(SAY_AGAIN), pieces=pieces),), evidence)
        assert judge(begun, Risk.COMMAND).verdict is HearingVerdict.ACCEPT
        listener = Listener(language, COMMANDS, begun)
        listener.feed(silence(0.6), speech(0.6), silence(2))
        assert listener.caught[0][0] == blocks(0.6) * 2 + waits


def test_what_can_grow_waits_for_the_tail(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT, can_grow=True)))
    listener.feed(silence(0.6), speech(0.6), silence(2))
    assert listener.only().verdict is HearingVerdict.ACCEPT
    assert listener.caught[0][0] == blocks(0.6) * 2 + TAIL
    assert len(listener.recogniser.heard) == 1  # it was decoded ahead, in the pause, and not again


def test_what_is_not_sure_at_the_pause_is_heard_once_more_with_the_silence_after_it(language: Language) -> None:
    """A word that fades away ends before its voice seems to: so little silence is little to hear its end in."""
    listener = Listener(language, COMMANDS, hearing(path(NEXT), sure=0.0))
    listener.feed(silence(0.6), speech(0.6), silence(2))
    assert listener.only().verdict is not HearingVerdict.ACCEPT
    at_the_pause, at_the_end = listener.recogniser.heard
    assert at_the_end - at_the_pause == pytest.approx((SETTINGS.kept - LOOK) * BLOCK_SAMPLES / RATE)


def test_numbers_wait_longer(language: Language) -> None:
    """People pause inside a number."""
    listener = Listener(language, NUMBERS, hearing(path(FIFTEEN, can_grow=True)))
    listener.feed(silence(0.6), speech(0.6), silence(2))
    assert listener.caught[0][0] == blocks(0.6) * 2 + TAIL_WITH_NUMBERS
    assert TAIL_WITH_NUMBERS > TAIL > SETTINGS.pause


def test_after_a_unit_no_digits_can_follow(language: Language) -> None:
    """A number that was said with its unit waited as long as one that may go on."""
    certain = Listener(language, NUMBERS, hearing(path(FIFTEEN)))
    doubtful = Listener(language, NUMBERS, hearing(path(FIFTEEN), sure=0.3))
    for listener, tail in ((certain, SETTINGS.pause), (doubtful, TAIL_OF_DOUBTFUL)):
        listener.feed(silence(0.6), speech(0.6), silence(2))
        assert listener.caught[0][0] == blocks(0.6) * 2 + tail


def test_a_number_that_goes_on_after_all_waits_for_digits_again(language: Language) -> None:
    listener = Listener(language, NUMBERS, hearing(path(FIFTEEN), sure=0.3), hearing(path(FIFTY, can_grow=True)))
    listener.feed(silence(0.6), speech(0.6), silence(0.25), speech(0.6, seed=2), silence(2))
    assert [hypothesis.text for hypothesis in listener.only().hypotheses] == ["fifty"]
    assert listener.caught[0][0] == blocks(0.6) * 3 + blocks(0.25) + TAIL_WITH_NUMBERS


def test_what_is_not_certain_waits_for_the_tail(language: Language) -> None:
    """Where nothing can follow it is short, but not for what is likely no more than the beginning of something."""
    for sure, verdict, tail in ((0.3, HearingVerdict.ASK_AGAIN, TAIL_OF_DOUBTFUL), (0.01, HearingVerdict.IGNORE, TAIL)):
        listener = Listener(language, COMMANDS, hearing(path(NEXT), sure=sure))
        listener.feed(silence(0.6), speech(0.6), silence(2))
        assert listener.only().verdict is verdict
        assert listener.caught[0][0] == blocks(0.6) * 2 + tail
    assert PAUSE < TAIL_OF_DOUBTFUL < TAIL


def test_what_was_doubtful_at_the_pause_is_answered_as_soon_as_it_is_certain(language: Language) -> None:
    """It waited for the whole tail before it was heard again, a third of a second for nothing."""
    listener = Listener(language, COMMANDS, hearing(path(NEXT), sure=0.3), hearing(path(NEXT)))
    listener.feed(silence(0.6), speech(0.6), silence(2))
    assert listener.only().verdict is HearingVerdict.ACCEPT
    assert listener.caught[0][0] == blocks(0.6) * 2 + SETTINGS.kept
    assert len(listener.recogniser.heard) == 2


def test_a_pause_inside_is_no_end(language: Language) -> None:
    """Decoded ahead, gone on: the whole is heard anew, and only that counts."""
    listener = Listener(language, COMMANDS, hearing(path(NEXT, can_grow=True)), hearing(path(SAY_AGAIN, can_grow=True)))
    listener.feed(silence(0.6), speech(0.6), silence(0.3), speech(0.6, seed=2), silence(2))
    caught = listener.only()
    assert [hypothesis.meaning for hypothesis in caught.hypotheses] == [Command(CommandName.SAY_AGAIN)]
    assert len(listener.recogniser.heard) == 2
    assert listener.recogniser.heard[1] > listener.recogniser.heard[0] + 0.6


def test_the_pre_roll_belongs_to_the_utterance(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.feed(silence(1), speech(0.6), silence(1))
    spoken = blocks(0.6) * BLOCK_SAMPLES / RATE
    assert listener.only().seconds > spoken + 0.25
    assert listener.only().seconds < spoken + 0.8
    assert listener.recogniser.heard == [listener.only().seconds]
    assert not np.any(listener.only().samples[: 4 * BLOCK_SAMPLES])


def test_a_long_wait_keeps_no_more_than_the_pre_roll(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.feed(silence(60))
    assert listener.ear.kept <= 5 * SETTINGS.pre_roll
    listener.feed(speech(0.6), silence(1))
    assert listener.only().seconds < 1.5


class TestNothingIsSaid:
    def test_silence(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing(path(NEXT)))
        listener.feed(silence(30))
        assert listener.caught == []
        assert listener.recogniser.heard == []
        assert listener.detector.asked == 0  # nobody asks it about silence

    def test_a_click(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing(path(NEXT)))
        listener.feed(silence(1), speech(0.032), silence(1), speech(0.064), silence(1))
        assert listener.caught == []

    def test_a_shut_ear(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing(path(NEXT)))
        listener.ear.close()
        assert not listener.ear.is_open
        listener.feed(speech(1), silence(1))
        assert listener.caught == []

    def test_what_was_said_before_it_was_opened_is_forgotten(self, language: Language) -> None:
        """Half-duplex: the end of the assistant's own words must not count for the answer."""
        listener = Listener(language, COMMANDS, hearing(path(NEXT)))
        listener.feed(silence(0.3), speech(0.5))
        listener.ear.open(COMMANDS, 8)
        listener.feed(silence(2))
        assert listener.caught == []
        listener.feed(speech(0.5), silence(1))
        assert listener.only().exchange == 8

    def test_a_voice_that_fits_nothing_is_ignored(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing())
        listener.feed(silence(0.5), speech(0.8), silence(1))
        assert listener.only().verdict is HearingVerdict.IGNORE
        assert listener.only().hypotheses == ()


class TestIgnored:
    def test_the_second_is_answered(self, language: Language) -> None:
        """Nobody should speak to a deaf ear for long."""
        listener = Listener(language, COMMANDS, hearing(path(NEXT), sure=0.0))
        for _ in range(3):
            listener.feed(silence(0.5), speech(0.8), silence(1))
        assert [caught.verdict for _, caught in listener.caught] == [
            HearingVerdict.IGNORE,
            HearingVerdict.ASK_AGAIN,
            HearingVerdict.ASK_AGAIN,
        ]

    def test_the_second_that_fits_nothing_is_answered_too(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing())
        for _ in range(2):
            listener.feed(silence(0.5), speech(0.8), silence(1))
        assert [caught.verdict for _, caught in listener.caught] == [HearingVerdict.IGNORE, HearingVerdict.ASK_AGAIN]

    def test_the_count_begins_anew_with_each_listening(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing(path(NEXT), sure=0.0))
        for exchange in (1, 2):
            listener.ear.open(COMMANDS, exchange)
            listener.feed(silence(0.5), speech(0.8), silence(1))
        assert [caught.verdict for _, caught in listener.caught] == [HearingVerdict.IGNORE, HearingVerdict.IGNORE]

    def test_what_is_answered_is_still_not_accepted(self, language: Language) -> None:
        listener = Listener(language, HOLD, hearing(path(Saying(0, ("nothing", "moves", "here"), ())), sure=0.0))
        for _ in range(4):
            listener.feed(silence(0.5), speech(0.8), silence(1))
        assert HearingVerdict.ACCEPT not in [caught.verdict for _, caught in listener.caught]


class TestEndless:
    def test_speech_that_goes_on_too_long_is_cut_and_never_accepted(self, language: Language) -> None:
        listener = Listener(language, COMMANDS, hearing(path(NEXT, can_grow=True)))
        listener.feed(silence(0.5), speech(13))
        caught = listener.only()
        assert caught.cut
        assert caught.verdict is HearingVerdict.ASK_AGAIN
        assert caught.seconds <= (SETTINGS.longest + 1) * BLOCK_SAMPLES / RATE

    @pytest.mark.parametrize("level", [0.06, 0.3, 1.0])
    def test_steady_noise_ends_and_is_never_accepted(self, level: float, language: Language) -> None:
        """A fan that passes for a voice was cut every three seconds, for ever: now once, and then it is left alone."""
        random = np.random.default_rng(3)
        noise = [(level * random.uniform(-1, 1, BLOCK_SAMPLES)).astype(np.float32) for _ in range(blocks(30))]
        listener = Listener(language, COMMANDS, hearing(path(NEXT, can_grow=True)))
        listener.feed(silence(0.5), iter(noise))
        assert all(caught.verdict is not HearingVerdict.ACCEPT for _, caught in listener.caught)
        assert len(listener.caught) <= 1
        assert listener.ear.kept < blocks(13)
        listener.feed(silence(0.5), speech(0.6), silence(1))
        assert listener.caught[-1][1].verdict is HearingVerdict.ACCEPT  # it hears again

    def test_babble_for_minutes_is_answered_again_and_again_and_never_fills_the_memory(
        self, language: Language
    ) -> None:
        listener = Listener(language, COMMANDS, hearing(path(NEXT, can_grow=True)))
        for number in range(5):
            listener.feed(speech(13, seed=number))
            assert listener.ear.kept <= SETTINGS.longest + 5 * SETTINGS.pre_roll
        assert all(caught.verdict is not HearingVerdict.ACCEPT for _, caught in listener.caught)


class TestFurtherMeanings:
    def test_likely_ones_are_told_with_their_share(self, language: Language) -> None:
        listener = Listener(language, NUMBERS, hearing(path(FIFTEEN, 5.0), path(FIFTY, 4.5), sure=0.9))
        listener.feed(silence(0.5), speech(0.6), silence(1))
        first, second = listener.only().hypotheses
        assert (first.text, second.text) == ("fifteen", "fifty")
        assert first.confidence == pytest.approx(0.9)
        assert second.confidence == pytest.approx(0.9 * np.exp(-0.5), abs=1e-3)

    def test_unlikely_ones_are_not(self, language: Language) -> None:
        listener = Listener(language, NUMBERS, hearing(path(FIFTEEN, 5.0), path(FIFTY, 1.0)))
        listener.feed(silence(0.5), speech(0.6), silence(1))
        assert [hypothesis.text for hypothesis in listener.only().hypotheses] == ["fifteen"]

    def test_a_few_only(self, language: Language) -> None:
        tags = [str(number) for number in range(1, 9)]
        many = [path(Saying(0, (f"number{tag}",), (tag,)), 5.0) for tag in tags]
        listener = Listener(language, NUMBERS, hearing(*many))
        listener.feed(silence(0.5), speech(0.6), silence(1))
        assert len(listener.only().hypotheses) == MAX_OTHERS + 1


def test_what_is_open_is_what_is_prepared(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.ear.open(HOLD, 8)
    assert [graph.expectation for graph in listener.recogniser.prepared] == [COMMANDS, HOLD]
    assert listener.ear.warm(NUMBERS, 5) == 0
    assert listener.recogniser.prepared[-1].expectation == NUMBERS


def quieter(decibels: float, blocks_of_speech: Iterator[Samples]) -> Iterator[Samples]:
    for block in blocks_of_speech:
        yield (block * 10 ** (-decibels / 20)).astype(np.float32)


def test_over_its_own_voice_only_what_is_louder_is_heard(language: Language) -> None:
    """The prompt goes on under the technician's words; they end when only the prompt is left."""
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.ear.open(COMMANDS, 7, over_own_voice=True)
    listener.feed(silence(0.2), quieter(20, speech(1.1)))
    listener.feed(quieter(20, speech(2.0)), speech(0.6), quieter(20, speech(2.0)))
    caught = listener.only()
    assert caught.verdict is HearingVerdict.ACCEPT
    assert caught.seconds < 0.6 + 0.3 + 0.3
    assert listener.caught[0][0] <= blocks(0.2) + blocks(1.1) + blocks(2.0) + blocks(0.6) + SETTINGS.pause + 2


def test_the_next_time_it_hears_as_ever(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.ear.open(COMMANDS, 7, over_own_voice=True)
    listener.feed(quieter(3, speech(2.0)))
    listener.ear.open(COMMANDS, 8)
    before = len(listener.caught)
    listener.feed(silence(0.6), quieter(6, speech(0.6)), silence(1.0))
    assert [caught.exchange for _, caught in listener.caught[before:]] == [8]


# the talk button


def test_press_and_release_bound_the_utterance_with_its_pre_roll(language: Language) -> None:
    """Quiet speech, which voice detection misses, and a pause longer than any tail inside it."""
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.feed(silence(1.0))
    listener.ear.begin()
    assert listener.ear.in_speech
    listener.feed(speech(0.3), silence(2.0), speech(0.3))
    assert listener.caught == []
    listener.ear.finish()
    listener.feed(silence(1.0))
    caught = listener.only()
    assert caught.verdict is HearingVerdict.ACCEPT
    assert len(caught.samples) == BLOCK_SAMPLES * (SETTINGS.pre_roll + 2 * blocks(0.3) + blocks(2.0) + RELEASE_TAIL)
    assert not listener.ear.in_speech


def test_a_press_within_speech_keeps_what_was_said_before_it(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.feed(silence(0.6), speech(0.5))
    listener.ear.begin()
    listener.feed(speech(0.2))
    listener.ear.finish()
    listener.feed(silence(0.5))
    assert listener.only().seconds > 0.7 + 0.3


def test_a_button_that_was_pressed_for_something_else_says_nothing(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.ear.begin()
    listener.feed(speech(0.1))
    listener.ear.let_go()
    listener.feed(silence(2.0))
    assert listener.caught == []
    assert listener.recogniser.heard == []


def test_a_button_that_is_never_released_ends_too(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.ear.begin()
    listener.feed(silence(15.0))
    caught = listener.only()
    assert caught.cut
    assert caught.verdict is not HearingVerdict.ACCEPT


def test_the_button_of_a_closed_ear_does_nothing(language: Language) -> None:
    listener = Listener(language, COMMANDS, hearing(path(NEXT)))
    listener.ear.close()
    listener.ear.begin()
    listener.ear.finish()
    listener.feed(speech(1.0), silence(1.0))
    assert listener.caught == []
