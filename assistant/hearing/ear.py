"""The ear: blocks of sound in, what was said out. Voice detection, end of speech, decoding, judgement.

It hears only while it is open. When speech pauses for a moment it decodes ahead; what is complete, cannot grow and is
certain is answered at once; what may grow waits for the tail, the longer one where digits may follow. A talk button
bounds an utterance instead. Knows what may be said and which exchange it answers. Refuses to know devices, the
dialogue, and who has the floor.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import exp
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.grammar.expectation import Expectation
from assistant.grammar.graph import WordGraph
from assistant.grammar.tagged import meaning
from assistant.hearing.coefficients import IGNORE
from assistant.hearing.decoding import Hearing, Recogniser
from assistant.hearing.endpoint import (
    BLOCK_SECONDS,
    RATE,
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
from assistant.hearing.judgement import HearingVerdict, Judgement, judge
from assistant.meanings import Amount, FreeSpeech, Hypothesis

Samples = NDArray[np.float32]

QUIET = -65.0  # dBFS; below this nobody speaks, and voice detection is not asked
TAIL = blocks(0.45)
TAIL_WITH_NUMBERS = blocks(0.55)  # people pause inside a number
TAIL_OF_DOUBTFUL = blocks(0.3)  # it was said whole and nothing can follow, yet it is not certain: it is asked again
MAX_UNHEARD_PIECES = 1  # pieces of a sentence that need not be in what the model writes freely: it was not only begun
LOOK = blocks(0.032)  # where no number is: decoded after so little silence, and the rest of the pause goes by meanwhile
PAUSE = blocks(0.1)  # what is complete and cannot grow is answered after so little silence
OTHERS_KEPT = 0.05  # a further meaning counts when it is at least so likely beside the best
MAX_OTHERS = 3
_FREE = EndpointSettings(tail=blocks(1.4), longest=blocks(40.0))  # people think while they dictate
RELEASE_TAIL = blocks(0.15)  # sound that was spoken before the button's release is still on its way then
OWN_TAIL = blocks(0.2)  # after a prompt, in which the end of it is still on its way from the loudspeaker to us
OWN_BLOCKS = blocks(1.3)  # of a prompt, from which is learnt how loud the assistant hears itself
OWN_MARGIN = 3.0  # dB above the loudest of them; what is not louder is the assistant
MAX_IGNORED = 1  # the next one is answered, so that nobody speaks to a deaf ear for long


class VoiceDetector(Protocol):
    """Probability that a block holds voice."""

    def reset(self) -> None:
        """Forget what was heard before."""
        ...

    def probability(self, block: Samples) -> float:
        """block: float32 [512], 16 kHz. 0 to 1."""
        ...


@dataclass(frozen=True, slots=True)
class HeardUtterance:
    """An utterance that ended.

    exchange: the one whose question the ear was open for.
    verdict: accept, ask again or ignore.
    hypotheses: distinct meanings, best first; empty when nothing fitted.
    confidence: of the best, 0 to 1.
    samples: the sound, float32 [samples] at 16 kHz, pre-roll included.
    silent: seconds since its last voice.
    compute: seconds of decoding and judging after that, those done ahead of the end included.
    cut: whether it was stopped because it went on too long.
    """

    exchange: int
    verdict: HearingVerdict
    hypotheses: tuple[Hypothesis, ...]
    confidence: float
    samples: Samples
    silent: float
    compute: float
    cut: bool

    @property
    def seconds(self) -> float:
        """How long the sound is."""
        return len(self.samples) / RATE


class Ear:
    """Hears one utterance after another while it is open.

    graph_of: the word graph of what may be said now.
    timer: seconds, for measuring the computing.
    """

    def __init__(
        self,
        recogniser: Recogniser,
        graph_of: Callable[[Expectation], WordGraph],
        detector: VoiceDetector,
        timer: Callable[[], float],
    ) -> None:
        self._recogniser = recogniser
        self._graph_of = graph_of
        self._detector = detector
        self._timer = timer
        self._graph: WordGraph | None = None
        self._exchange = 0
        self._free = False  # whether free speech is wanted, to be kept as sound
        self._settings = self._until = EndpointSettings()
        self._decoded: tuple[Hearing, float] | None = None
        self._certain: HeardUtterance | None = None  # what is answered if the pause goes on
        self._state = EndpointState()
        self._held = False  # whether a talk button bounds the utterance
        self._left: int | None = None  # blocks until the end of the utterance, once the button was released
        self._ignored = 0  # utterances since the ear was opened that were taken for no speech to us
        self._unheard = 0  # blocks that are still to be left unheard
        self._own: list[float] | None = None  # levels of the prompt, while it is learnt how loud that is
        self._floor = QUIET
        self.forget()

    @property
    def is_open(self) -> bool:
        """Whether it hears."""
        return self._graph is not None

    @property
    def in_speech(self) -> bool:
        """Whether somebody speaks just now, or holds the talk button."""
        return self.is_open and (self._held or self._state.first is not None)

    @property
    def kept(self) -> int:
        """How many blocks it keeps just now."""
        return len(self._blocks)

    def open(
        self, expectation: Expectation, exchange: int, over_own_voice: bool = False, after_own_voice: bool = False
    ) -> tuple[str, ...]:
        """Hear this from now on; gives the words of it that the recogniser lacks, which it so cannot hear.

        exchange: the one that it answers.
        over_own_voice: a prompt begins, and the microphone hears it; after a second only what is louder is voice.
        after_own_voice: a prompt has ended, whose end is still on its way to the microphone: it is left unheard.
        Errors: GrammarError for a phrase of a procedure that cannot be compiled, RecogniserError.
        """
        graph = self._graph_of(expectation)
        lacking = self._recogniser.prepare(graph)
        self._graph = graph
        self._exchange = exchange
        self._free = any(offer.meaning is FreeSpeech for offer in expectation.offers)
        self._settings = _FREE if self._free else _settings(expectation)
        self._ignored = 0
        self._unheard = OWN_TAIL if after_own_voice else 0
        self._own = [] if over_own_voice else None
        self._floor = QUIET
        self.forget()
        return lacking

    def close(self) -> None:
        """Hear nothing more."""
        self._graph = None

    def begin(self) -> None:
        """The talk button is pressed: an utterance begins, whatever voice detection says, pre-roll included."""
        if self._graph is None:
            return
        self._unheard = 0
        if self._state.first is None:
            self._first = max(self._dropped, self._dropped + len(self._blocks) - self._settings.pre_roll)
        self._held, self._left = True, None

    def finish(self) -> None:
        """The talk button is released: what was said is the answer to `feed` as soon as the last of it has come."""
        if self._held and self._left is None:
            self._left = RELEASE_TAIL

    def let_go(self) -> None:
        """The talk button was pressed for something else: nothing was said."""
        if self._held:
            self.forget()

    def forget(self) -> None:
        """What was being said is lost; the ear goes on as it is, open or closed."""
        self._state = EndpointState()
        self._blocks: list[Samples] = []
        self._voices: list[float] = []
        self._dropped = 0  # blocks that are no longer kept
        self._first = 0
        self._held, self._left = False, None
        self._decoded = self._certain = None
        self._until = self._settings  # with the tail that fits what was heard so far
        self._detector.reset()

    def warm(self, expectation: Expectation, most: int) -> int:
        """Work ahead of hearing this, while the assistant speaks, say. Returns how much was done, 0 when ready.

        most: pieces of work.
        """
        graph = self._graph_of(expectation)
        self._recogniser.prepare(graph)
        return self._recogniser.warm(graph, most)

    def feed(self, block: Samples) -> HeardUtterance | None:
        """A block of sound, float32 [512] at 16 kHz; what was said when an utterance ended with it.

        Errors: RecogniserError when the engine fails; what was said is lost then.
        """
        if self._graph is None:
            return None
        if self._unheard > 0:
            self._unheard -= 1
            return None
        level = _decibels(block)
        if self._own is not None:
            self._learn_own(level)
        voice = self._detector.probability(block) if level > self._floor else 0.0
        self._blocks.append(block)
        self._voices.append(voice)
        if self._held:
            return self._while_held()
        self._state, event = listen(self._state, voice, level, self._until)
        match event:
            case None if self._certain is not None and self._state.silent >= PAUSE and not self._state.voiced:
                certain = replace(self._certain, silent=self._state.silent * BLOCK_SECONDS)
                self.forget()
                return certain
            case None if self._is_second_look():
                return self._ahead(self._dropped + len(self._blocks))
            case SpeechStarted(first):
                self._first = first
            case SpeechPaused(end):
                return self._ahead(end)
            case SpeechResumed():
                self._decoded, self._certain, self._until = None, None, self._settings
            case SpeechEnded(first, end):
                return self._ended(first, end, cut=False)
            case TooLong(first, end):
                return self._ended(first, end, cut=True)
        self._drop_old()
        return None

    # --- inside ------------------------------------------------------------------------------------------------

    def _learn_own(self, level: float) -> None:
        assert self._own is not None
        self._own.append(level)
        if len(self._own) == OWN_BLOCKS:
            self._floor, self._own = max(QUIET, max(self._own) + OWN_MARGIN), None

    def _while_held(self) -> HeardUtterance | None:
        end = self._dropped + len(self._blocks)
        if end - self._first >= self._settings.longest:
            return self._ended(self._first, end, cut=True)
        if self._left is not None:
            self._left -= 1
            if self._left <= 0:
                self._decoded = None
                return self._ended(self._first, end, cut=False)
        return None

    def _drop_old(self) -> None:
        """While nobody speaks only the pre-roll is kept."""
        spare = len(self._blocks) - 4 * self._settings.pre_roll
        if self._state.first is None and spare > 0:
            del self._blocks[:spare], self._voices[:spare]
            self._dropped += spare

    def _sound(self, first: int, end: int) -> tuple[Samples, float]:
        """Samples of these blocks and the mean probability of voice over those that hold speech."""
        chosen = slice(first - self._dropped, end - self._dropped)
        voices = [voice for voice in self._voices[chosen] if voice >= self._settings.voice_off]
        return np.concatenate(self._blocks[chosen]), sum(voices) / len(voices) if voices else 0.0

    def _decode(self, samples: Samples, voice: float) -> tuple[Hearing, float]:
        assert self._graph is not None
        begun = self._timer()
        hearing = self._recogniser.hear(samples, self._graph)
        hearing = replace(hearing, evidence=replace(hearing.evidence, voice=voice))
        return hearing, self._timer() - begun

    def _is_second_look(self) -> bool:
        """Whether what was doubtful at the pause has now as much silence after it as it will be heard with."""
        return self._state.paused and self._decoded is None and self._state.silent == self._settings.kept

    def _ahead(self, end: int) -> HeardUtterance | None:
        """A pause: what is complete, cannot grow and is certain is answered now; else how long to wait is decided."""
        samples, voice = self._sound(self._first, end)
        hearing, compute = self._decode(samples, voice)
        self._decoded = hearing, compute
        utterance = self._utterance(hearing, samples, compute, cut=False)
        complete = bool(hearing.paths) and not hearing.paths[0].can_grow and hearing.unheard <= MAX_UNHEARD_PIECES
        if utterance.verdict is HearingVerdict.ACCEPT and complete:
            if self._state.silent < PAUSE:
                self._certain = utterance
                return None
            self.forget()
            return utterance
        if utterance.verdict is not HearingVerdict.ACCEPT and self._state.silent < self._settings.kept:
            self._decoded = None  # it is heard once more with the silence after it
        tail = self._settings.tail
        if hearing.paths and not hearing.paths[0].can_grow and not self._free:
            said_whole = complete and not hearing.unheard and utterance.confidence >= IGNORE
            tail = min(TAIL_OF_DOUBTFUL if said_whole else TAIL, tail)
        self._until = replace(self._settings, tail=tail)
        return None

    def _ended(self, first: int, end: int, cut: bool) -> HeardUtterance:
        samples, voice = self._sound(first, end)
        hearing, compute = self._decoded or self._decode(samples, voice)
        if self._decoded is not None:
            compute = 0.0  # it was done while waiting for the tail
        utterance = self._utterance(hearing, samples, compute, cut)
        self._ignored += utterance.verdict is HearingVerdict.IGNORE
        after = self._state
        self.forget()
        if cut:  # the noise that was cut must stop before it can be speech again
            self._state = EndpointState(levels=after.levels, muted=after.muted)
        return utterance

    def _utterance(self, hearing: Hearing, samples: Samples, compute: float, cut: bool) -> HeardUtterance:
        assert self._graph is not None
        assert self._graph.expectation is not None
        offers = self._graph.expectation.offers
        best = hearing.paths[0].saying.offer if hearing.paths else None
        judgement = Judgement(0.0, HearingVerdict.IGNORE) if best is None else judge(hearing, offers[best].risk)
        if self._free and judgement.verdict is not HearingVerdict.ACCEPT:
            hearing, judgement = replace(hearing, paths=()), Judgement(1.0, HearingVerdict.ACCEPT)
            cut = False  # a long note is a note
        if judgement.verdict is HearingVerdict.IGNORE and self._ignored >= MAX_IGNORED:
            judgement = Judgement(judgement.confidence, HearingVerdict.ASK_AGAIN)  # somebody goes on speaking to us
        if cut and judgement.verdict is HearingVerdict.ACCEPT:
            judgement = Judgement(
                judgement.confidence, HearingVerdict.ASK_AGAIN
            )  # whatever it was, it was not finished
        hypotheses = []
        for path in hearing.paths[: MAX_OTHERS + 1]:
            likely = exp(min(0.0, path.score - hearing.paths[0].score))
            if path.saying.offer is not None and likely >= OTHERS_KEPT:
                means = meaning(offers[path.saying.offer], path.saying.tags)
                sure = round(judgement.confidence * likely, 4)
                hypotheses.append(Hypothesis(means, " ".join(path.saying.words), sure))
        if self._free and not hypotheses:
            hypotheses = [Hypothesis(FreeSpeech(), "", 1.0)]
        return HeardUtterance(
            self._exchange,
            judgement.verdict,
            tuple(hypotheses),
            judgement.confidence,
            samples,
            self._state.silent * BLOCK_SECONDS,
            compute,
            cut,
        )


def _settings(expectation: Expectation) -> EndpointSettings:
    if any(offer.meaning is Amount for offer in expectation.offers):
        # Heard with less silence after it, a number is wrong more often: that is no gain.
        return replace(EndpointSettings(), tail=TAIL_WITH_NUMBERS)
    return replace(EndpointSettings(), tail=TAIL, pause=LOOK)


def _decibels(block: Samples) -> float:
    return 10 * float(np.log10(float(np.mean(np.square(block, dtype=np.float64))) + 1e-12))
