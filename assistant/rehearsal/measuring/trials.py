"""One trial after another: a clip in noise for every engine, a clip through the ear, hours of what is no command.

A trial's sound depends on the seed, the clip and the condition only, so that every engine hears the same and a run can
be repeated. Knows rendered clips, noises, engines and the ear. Refuses to add up (`report`) and to share work out
(`run`).
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.edge.files.language import Language
from assistant.edge.sound.recognisers.bundled import BundledRecogniser
from assistant.edge.sound.voice_detector import SileroDetector
from assistant.grammar.expectation import Expectation, Risk
from assistant.hearing.ear import Ear, VoiceDetector
from assistant.hearing.endpoint import BLOCK_SAMPLES, BLOCK_SECONDS, EndpointSettings
from assistant.hearing.judgement import HearingVerdict
from assistant.meanings import Command, Passphrase
from assistant.rehearsal.measuring.engines import OURS, Engine, open_engine
from assistant.rehearsal.measuring.noises import ENGINES, OTHERS, Noises, clipped, in_room
from assistant.rehearsal.measuring.speech import Store, TrialClip
from assistant.rehearsal.measuring.states import ListeningState
from assistant.rehearsal.noise import ACTIVE_BELOW_LOUDEST, ACTIVE_FRAME_SECONDS, mix, speech_level

Sound = NDArray[np.float32]
RATE = 16_000
LADDER: tuple[float | None, ...] = (None, 20.0, 10.0, 5.0, 0.0, -5.0)
"""Speech to noise in decibels; None: clean."""
QUIETEST, LOUDEST = -32.0, -16.0  # dBFS of the speech while it sounds
WARMTH = 200  # pieces of work ahead of the ear's hearing in a state, once
PADDING = 0.25  # seconds before and after an utterance that is heard by itself


@dataclass(frozen=True, slots=True)
class Condition:
    """How a clip is heard.

    noise: a kind, `engines` for each of them in turn, `tuning` for those of that side, empty for none.
    decibels: speech to noise.
    metres: the distance in a hard-walled room, 0 outside.
    clip: dB too loud.
    pause: seconds that the speaker falls silent for in mid-utterance.
    """

    name: str
    noise: str = ""
    decibels: float | None = None
    metres: float = 0.0
    clip: float = 0.0
    pause: float = 0.0


def ladder(noise: str, ratios: tuple[float | None, ...] = LADDER) -> tuple[Condition, ...]:
    """Each ratio in this noise; None is clean."""
    return tuple(
        Condition("clean" if ratio is None else f"{ratio:.0f} dB", noise if ratio is not None else "", ratio)
        for ratio in ratios
    )


SURROUNDINGS = (
    *(Condition(f"{kind}, {ratio:.0f} dB", kind, ratio) for kind in (*ENGINES, *OTHERS) for ratio in (10.0, 5.0, 0.0)),
    Condition("room, 1 m", metres=1.0),
    Condition("room, 2 m", metres=2.0),
    Condition("room, 1 m, 5 dB", "engines", 5.0, metres=1.0),
    Condition("clipped by 12 dB", clip=12.0),
    Condition("clipped by 12 dB, 10 dB", "engines", 10.0, clip=12.0),
)


@dataclass(eq=False)
class TrialResources:
    """What every trial needs; the parts that a process loads for itself come when they are asked for."""

    store: Store
    every: dict[str, ListeningState]
    language: Language
    noises: Noises
    seed: int
    encoder: str | Path
    vosk: Path | None
    _engines: dict[str, Engine] = field(default_factory=dict)
    _recogniser: tuple[Expectation, BundledRecogniser] | None = None

    def engine(self, name: str) -> Engine:
        """The engine of this name."""
        if name not in self._engines:
            self._engines[name] = open_engine(name, self.language, self.encoder, self.vosk)
        return self._engines[name]

    def recogniser(self, expectation: Expectation) -> BundledRecogniser:
        """Ours, warm for this as while the assistant speaks.

        It keeps all that it ever made ready, about 27 MB a state of numbers: the next state gets a fresh one.
        """
        if self._recogniser is None or self._recogniser[0] != expectation:
            found = BundledRecogniser(self.language.forms, encoder=self.encoder)
            found.warm(self.language.graph(expectation), WARMTH)
            self._recogniser = expectation, found
        return self._recogniser[1]

    @cached_property
    def detector(self) -> SileroDetector:
        """The ear's voice detector."""
        return SileroDetector()

    def chance(self, *numbers: int) -> np.random.Generator:
        """Random numbers of one trial."""
        return np.random.default_rng((self.seed, *numbers))


def levelled(sound: Sound, decibels: float) -> Sound:
    """At this level while it sounds, in dB below full scale."""
    return (sound * np.float32(10 ** (decibels / 20) / max(speech_level(sound), 1e-9))).astype(np.float32)


def disturbed(
    speech: Sound, condition: Condition, world: TrialResources, chance: np.random.Generator
) -> tuple[Sound, str]:
    """Speech (with its silence around it) as it is heard, and the kind of noise that was drawn."""
    if condition.metres:
        speech = in_room(speech, condition.metres, chance)
    kind = condition.noise
    if kind == "engines":
        kind = ENGINES[int(chance.integers(len(ENGINES)))]
    elif kind == "tuning":
        kind = ("odd engines", "odd engines", "coloured", "tuning talk")[int(chance.integers(4))]
    if kind:
        assert condition.decibels is not None
        speech = mix(speech, world.noises.piece(kind, len(speech), chance), condition.decibels)
    return clipped(speech, condition.clip) if condition.clip else speech, kind


Row = dict[str, Any]  # as JSON has it
"""One outcome, as it is kept: text, numbers and lists of them only."""


def hear_clip(
    world: TrialResources,
    part: str,
    clip: TrialClip,
    conditions: tuple[Condition, ...],
    engines: tuple[str, ...],
    elsewhere: str = "",
) -> Iterator[Row]:
    """The clip in each condition for each engine. elsewhere: a state in which it means nothing, so nothing is right."""
    state = world.every[elsewhere or clip.state]
    truth = "" if elsewhere else clip.truth
    for number, condition in enumerate(conditions):
        chance = world.chance(clip.number, number)
        speech = levelled(world.store.sound(clip), chance.uniform(QUIETEST, LOUDEST))
        sound, kind = disturbed(np.pad(speech, int(PADDING * RATE)), condition, world, chance)
        for name in engines:
            engine = world.engine(name)
            engine.ready(state)
            begun = time.process_time()
            heard = engine.hear(sound, state)
            taken = time.process_time() - begun
            yield {
                "part": part, "engine": name, "side": clip.side, "role": clip.role, "state": state.name,
                "clip": clip.number, "voice": clip.voice, "text": clip.text, "condition": condition.name,
                "ratio": condition.decibels, "noise": kind, "verdict": heard.verdict.value,
                "right": bool(truth) and heard.meaning == truth, "truth": truth,
                "meaning": heard.meaning, "words": heard.words, "seconds": round(taken, 4),
                "sound": round(len(sound) / RATE, 3), "risk": heard.risk, "features": list(heard.features),
            }  # fmt: skip


def only_noise(world: TrialResources, number: int, state: ListeningState) -> Row:
    """Noise of the tuning side alone, heard by our engine, for fitting the judgement."""
    chance = world.chance(number, 77)
    kind = ("odd engines", "coloured", "tuning talk")[number % 3]
    noise = world.noises.piece(kind, int(chance.uniform(0.7, 2.5) * RATE), chance)
    engine = world.engine(OURS)
    engine.ready(state)
    heard = engine.hear(noise * np.float32(10 ** (chance.uniform(-45, -15) / 20)), state)
    return {
        "part": "tuning", "engine": OURS, "side": "tuning", "role": "noise", "state": state.name, "clip": -1,
        "voice": "", "text": "", "condition": "noise alone", "ratio": None, "noise": kind,
        "verdict": heard.verdict.value, "right": False, "truth": "", "meaning": heard.meaning, "words": heard.words,
        "seconds": 0.0, "sound": len(noise) / RATE, "risk": heard.risk, "features": list(heard.features),
    }  # fmt: skip


# --- through the ear ------------------------------------------------------------------------------------------------


BEFORE, AFTER = 1.5, 2.5  # seconds of noise around an utterance that the ear has to find
_CUT = 0.05  # decided so much before the last of the speech: cut off


def last_sound(speech: Sound) -> int:
    """The sample after the last frame that holds speech, by the measure of `speech_level`."""
    size = round(ACTIVE_FRAME_SECONDS * RATE)
    level = np.sqrt(np.mean(np.pad(speech, (0, -len(speech) % size)).reshape(-1, size) ** 2, axis=1))
    return int(np.flatnonzero(level >= level.max() * ACTIVE_BELOW_LOUDEST)[-1] + 1) * size


PAUSED = (Condition("clean, falls silent for 0.25 s", pause=0.25), Condition("clean, for 0.4 s", pause=0.4))
"""Synthetic voices never stop to think: these do, at the quietest place of the middle of what they say."""


def quietest(speech: Sound) -> int:
    """The sample in the middle of the quietest twentieth of a second between a quarter and three quarters of it."""
    size = RATE // 20
    level = np.convolve(np.square(speech, dtype=np.float64), np.ones(size), "valid")
    first, last = len(speech) // 4, max(len(speech) // 4 + 1, 3 * len(speech) // 4 - size)
    return first + int(level[first:last].argmin()) + size // 2


def paused(speech: Sound, seconds: float) -> Sound:
    """The same with so much silence in it, at its quietest place."""
    at = quietest(speech)
    return np.concatenate([speech[:at], np.zeros(int(seconds * RATE), dtype=np.float32), speech[at:]])


EXCHANGE = 1  # of every trial


def _ear(world: TrialResources, expectation: Expectation, detector: VoiceDetector) -> Ear:
    return Ear(world.recogniser(expectation), world.language.graph, detector, time.perf_counter)


def through_ear(world: TrialResources, clip: TrialClip, conditions: tuple[Condition, ...]) -> Iterator[Row]:
    """The clip in continuous noise through voice detection, end of speech, decoding and judgement.

    Time is virtual: a block arrives every 32 ms, and the ear takes it up when it is done with those before; what the
    computing takes is measured, in processor time, so that other work on the machine does not count. `after` is from
    the last of the speech to the decision.
    """
    state = world.every[clip.state]
    for number, condition in enumerate(conditions):
        chance = world.chance(clip.number, 100 + number)
        speech = levelled(world.store.sound(clip), chance.uniform(QUIETEST, LOUDEST))
        if condition.pause:
            speech = paused(speech, condition.pause)
        before = int((BEFORE + chance.uniform(0, BLOCK_SECONDS)) * RATE)
        sound, kind = disturbed(np.pad(speech, (before, int(AFTER * RATE))), condition, world, chance)
        ended = (before + last_sound(speech)) / RATE
        ear = _ear(world, state.expectation, world.detector)
        ear.open(state.expectation, EXCHANGE)
        now, compute, caught = 0.0, 0.0, None
        for block in range(len(sound) // BLOCK_SAMPLES):
            begun = time.process_time()
            found = ear.feed(sound[block * BLOCK_SAMPLES : (block + 1) * BLOCK_SAMPLES])
            taken = time.process_time() - begun
            compute += taken
            now = max(now, (block + 1) * BLOCK_SECONDS) + taken
            if found is not None and now * RATE < before:
                ear.open(state.expectation, EXCHANGE)  # no speech yet: what is so heard is counted in `false_accepts`
            elif found is not None:
                caught = found
                break
        meaning = state.meant(caught.hypotheses[0].meaning) if caught is not None and caught.hypotheses else ""
        yield {
            "part": "ear", "engine": OURS, "side": clip.side, "role": clip.role, "state": clip.state,
            "clip": clip.number, "voice": clip.voice, "text": clip.text, "condition": condition.name,
            "ratio": condition.decibels, "noise": kind,
            "verdict": "nothing" if caught is None else caught.verdict.value,
            "right": meaning == clip.truth, "truth": clip.truth, "meaning": meaning,
            "after": None if caught is None else round(now - ended, 3),
            "cut": caught is not None and now < ended - _CUT,
            "seconds": round(compute, 4), "sound": round((block + 1) * BLOCK_SECONDS, 3),
        }  # fmt: skip


STREAMS = ("noise", "foreign speech", "babble", "own voice")
_PIECES = ("idle 900", "impacts", "rated 1500", "water", "rated 3000", "fan", "cranking")
STREAM_SECONDS = 300.0


def stream(world: TrialResources, kind: str, number: int, seconds: float) -> tuple[Sound, list[tuple[int, str]]]:
    """Sound in which nobody speaks to the assistant; and, if it speaks itself, at which sample it begins to say what.

    noise: every kind in turn, half a minute each; babble: five held-out voices at once; foreign speech: sentences of
    thirteen languages, and people's of four, in an engine's noise; own voice: prompts as the microphone hears them,
    likewise.
    """
    chance = world.chance(number, 200 + STREAMS.index(kind))
    count, seed = round(seconds * RATE), int(chance.integers(500_000))
    if kind == "noise":
        parts = [world.noises.fresh(_PIECES[(number + at) % 7], 30.0, seed + at) for at in range(int(seconds / 30) + 1)]
        loud = [part * np.float32(10 ** (chance.uniform(-40, -12) / 20)) for part in parts]
        return np.concatenate(loud)[:count], []
    if kind == "babble":
        return world.noises.fresh("babble", seconds, seed) * np.float32(10 ** (chance.uniform(-32, -18) / 20)), []
    role = {"foreign speech": "foreign", "own voice": "own"}[kind]
    clips = [*world.store.of("held out", role), *world.store.of("people", role)]
    sound, prompts, at = np.zeros(count, dtype=np.float32), list[tuple[int, str]](), RATE
    while True:
        clip = clips[int(chance.integers(len(clips)))]
        level = chance.uniform(-38, -24) if kind == "own voice" else chance.uniform(-32, -18)
        said = in_room(levelled(world.store.sound(clip), level), chance.uniform(0.5, 2.0), chance)
        if at + len(said) >= count:
            break
        prompts.append((at, clip.text))
        sound[at : at + len(said)] += said
        at += len(said) + int(chance.uniform(0.3, 2.0) * RATE)
    noise = world.noises.piece(ENGINES[number % 4], count, chance)
    sound += noise * np.float32(10 ** ((level - chance.uniform(0, 20)) / 20))
    return sound, prompts if kind == "own voice" else []


@dataclass(slots=True)
class Counting:
    """A voice detector that counts what it lets through.

    asked: blocks past the energy gate.
    voiced: of those, the ones that are a voice where none is running yet.
    """

    detector: VoiceDetector
    asked: int = 0
    voiced: int = 0

    def reset(self) -> None:
        """As the detector's."""
        self.detector.reset()

    def probability(self, block: Sound) -> float:
        """As the detector's."""
        found = self.detector.probability(block)
        self.asked += 1
        self.voiced += found >= EndpointSettings().voice_on
        return found


def false_accepts(world: TrialResources, kind: str, number: int, state: ListeningState, seconds: float) -> Row:
    """What the ear takes for an utterance to the assistant in sound that holds none.

    Seconds of sound are counted as they come: all (`sound`), past the energy gate (`asked`), taken for a voice
    (`voiced`), and decoded as an utterance, its pre-roll and its silence included (`heard`). Over its own voice only
    commands are listened for, as live without a headset; `own`: accepted, but the prompt that sounds says the same,
    which the live assistant leaves alone.
    """
    sound, prompts = stream(world, kind, number, seconds)
    expectation, over = state.expectation, bool(prompts)
    if over:
        expectation = Expectation(tuple(offer for offer in expectation.offers if offer.meaning is Command))
    detector = Counting(world.detector)
    ear = _ear(world, expectation, detector)
    ear.open(expectation, EXCHANGE, over)
    accepted: list[str] = []
    hold = own = heard = 0
    verdicts = dict.fromkeys(HearingVerdict, 0)
    begun, prompt = time.process_time(), ""
    for at in range(0, len(sound) - BLOCK_SAMPLES + 1, BLOCK_SAMPLES):
        if prompts and at >= prompts[0][0] - BLOCK_SAMPLES:
            _, prompt = prompts.pop(0)
            ear.open(expectation, EXCHANGE, over)  # as when a prompt begins
        caught = ear.feed(sound[at : at + BLOCK_SAMPLES])
        if caught is None:
            continue
        heard += len(caught.samples)
        verdicts[caught.verdict] += 1
        if caught.verdict is HearingVerdict.ACCEPT:
            best = caught.hypotheses[0]
            if best.meaning in world.language.meant_in(prompt, expectation):
                own += 1
            else:
                hold += isinstance(best.meaning, Passphrase)
                accepted.append(best.text)
        if caught.verdict is not HearingVerdict.IGNORE and not over:
            ear.open(expectation, EXCHANGE)  # the assistant answered, and listens again
    return {
        "part": "streams", "engine": OURS, "kind": kind, "state": state.name, "number": number, "seed": world.seed,
        "sound": len(sound) / RATE, "seconds": round(time.process_time() - begun, 2), "hold": hold,
        "accepted": accepted, "own": own, "asked again": verdicts[HearingVerdict.ASK_AGAIN],
        "ignored": verdicts[HearingVerdict.IGNORE], "asked": round(detector.asked * BLOCK_SECONDS, 2),
        "voiced": round(detector.voiced * BLOCK_SECONDS, 2), "heard": round(heard / RATE, 2),
        "utterances": sum(verdicts.values()),
        "reading": any(offer.risk is Risk.READING for offer in expectation.offers),
    }  # fmt: skip
