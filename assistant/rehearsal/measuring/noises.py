"""Noise and rooms that hearing is measured in, and their split.

Engines come from `rehearsal.noise`; everything else is made here. Nothing is shared with the generator that the encoder
was trained with (`rehearsal.adapting.disturbance`). On the tuning side are engines of one and three cylinders at other
speeds, coloured noise and talk of the tuning voices; every other kind, and every seed below `TUNING_SEED`, is held out.
The ratio of speech to noise is that of `rehearsal.noise.mix`.

Knows sound as numbers. Refuses to know what is said in it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.rehearsal.noise import engine_noise, speech_level

Sound = NDArray[np.float32]
Float64 = NDArray[np.float64]
RATE = 16_000
TUNING_SEED = 1_000_000
ENGINES = ("idle 900", "rated 1500", "rated 3000", "cranking")
OTHERS = ("impacts", "fan", "water", "babble", "own voice")
FOR_TUNING = ("odd engines", "coloured", "tuning talk")
BANK_SECONDS = 12.0


def _unit(sound: Float64 | Sound) -> Sound:
    """Root mean square 1."""
    return (sound / max(float(np.sqrt(np.mean(np.square(sound, dtype=np.float64)))), 1e-9)).astype(np.float32)


def idle(seconds: float, seed: int) -> Sound:
    """Two cylinders at 900 turns a minute."""
    return engine_noise(seconds, seed, cylinders=2, rpm=900)


def rated_1500(seconds: float, seed: int) -> Sound:
    """Four poles at 50 Hz, four cylinders."""
    return engine_noise(seconds, seed, cylinders=4, rpm=1500)


def rated_3000(seconds: float, seed: int) -> Sound:
    """Two poles at 50 Hz, two cylinders."""
    return engine_noise(seconds, seed, cylinders=2, rpm=3000)


def cranking(seconds: float, seed: int) -> Sound:
    """Turned by the starter: the engine at 220 turns, the whine of the gears, both slower in each compression."""
    chance = np.random.default_rng((seed, 4))
    time = np.arange(round(seconds * RATE)) / RATE
    labour = 1 + 0.12 * np.sin(2 * np.pi * 220 / 60 * time + chance.uniform(0, 6))
    whine = np.zeros(len(time))
    for order, strength in ((1, 1.0), (2, 0.6), (3.02, 0.35), (5.1, 0.2)):
        hertz = chance.uniform(420, 620) * order
        whine += strength * np.sin(2 * np.pi * np.cumsum(hertz * labour) / RATE + chance.uniform(0, 6))
    return _unit(engine_noise(seconds, seed, cylinders=2, rpm=220) + 0.8 * _unit(whine * labour**2))


def odd_engines(seconds: float, seed: int) -> Sound:
    """For tuning only: one or three cylinders, 1100 to 2700 turns."""
    chance = np.random.default_rng((seed, 1))
    return engine_noise(seconds, seed, cylinders=int(chance.choice((1, 3))), rpm=float(chance.uniform(1100, 2700)))


def coloured(seconds: float, seed: int) -> Sound:
    """For tuning only: steady noise that falls with frequency to a random power."""
    chance = np.random.default_rng((seed, 2))
    count = round(seconds * RATE)
    spectrum = np.fft.rfft(chance.standard_normal(count))
    spectrum *= np.maximum(np.arange(len(spectrum)), 20) ** -chance.uniform(0, 1.2)
    return _unit(np.fft.irfft(spectrum, count))


def impacts(seconds: float, seed: int) -> Sound:
    """Tools put down and steel struck: two or three blows a second, each a handful of inharmonic decaying modes."""
    chance = np.random.default_rng((seed, 5))
    sound = 0.02 * chance.standard_normal(round(seconds * RATE))
    time = np.arange(int(0.5 * RATE)) / RATE
    for begin in np.cumsum(chance.exponential(0.4, int(4 * seconds) + 4)):
        at = int(begin * RATE)
        if at >= len(sound):
            break
        lowest, blow = chance.uniform(180, 1500), np.zeros(len(time))
        for mode in range(7):
            ring = lowest * (1 + mode * chance.uniform(0.7, 1.6)) % 7000
            blow += chance.uniform(0.2, 1) * np.exp(-time * chance.uniform(12, 160)) * np.sin(2 * np.pi * ring * time)
        blow[:160] += chance.uniform(0.5, 2) * chance.standard_normal(160) * np.hanning(160)
        part = blow[: len(sound) - at]
        sound[at : at + len(part)] += chance.uniform(0.3, 1) * part
    return _unit(sound)


def fan(seconds: float, seed: int) -> Sound:
    """A radiator fan: the air's rush, louder as each blade passes, and the blades' tone."""
    chance = np.random.default_rng((seed, 6))
    count = round(seconds * RATE)
    time = np.arange(count) / RATE
    hertz = np.fft.rfftfreq(count, 1 / RATE)
    falling = 1 / (1 + (hertz / chance.uniform(400, 1200)) ** 1.2)
    rush = np.fft.irfft(np.fft.rfft(chance.standard_normal(count)) * falling, count)
    blade = 2 * np.pi * np.cumsum(chance.uniform(90, 260) * (1 + 0.004 * np.sin(2 * np.pi * 0.7 * time))) / RATE
    tones = sum(np.sin(order * blade + chance.uniform(0, 6)) / order**1.5 for order in range(1, 6))
    return _unit(_unit(rush * (1 + 0.4 * np.sin(blade))) + chance.uniform(0.2, 0.7) * _unit(np.asarray(tones)))


def water(seconds: float, seed: int) -> Sound:
    """Coolant that runs into a bucket: thousands of bubbles, each a short tone that rises, over a splash."""
    chance = np.random.default_rng((seed, 7))
    count = round(seconds * RATE)
    sound = np.zeros(count)
    for _ in range(int(120 * seconds)):
        size, at = chance.uniform(0.004, 0.03), int(chance.integers(0, count))
        time = np.arange(int(size * 3 * RATE)) / RATE
        tone = chance.uniform(0.2, 1) * np.exp(-time / size) * np.sin(2 * np.pi * (3 / size) * time * (1 + 8 * time))
        part = tone[: count - at]
        sound[at : at + len(part)] += part
    splash = np.diff(chance.standard_normal(count + 1))
    return _unit(_unit(sound) + 0.5 * _unit(splash))


def together(voices: Sequence[Sound], seconds: float, seed: int, at_once: int) -> Sound:
    """So many of these voices at once, each at its own level, without end: babble; with one, somebody who speaks on."""
    chance = np.random.default_rng((seed, 8))
    count = round(seconds * RATE)
    sound = np.zeros(count, dtype=np.float32)
    for _ in range(at_once):
        at = -int(chance.integers(0, RATE))
        while at < count:
            said = voices[int(chance.integers(len(voices)))]
            said = said * np.float32(chance.uniform(0.5, 1) / max(speech_level(said), 1e-6))
            begin, end = max(at, 0), min(at + len(said), count)
            if end > begin:
                sound[begin:end] += said[begin - at : end - at]
            at += len(said) + int(chance.uniform(0.05, 0.6) * RATE)
    return _unit(sound) if np.any(sound) else sound


MADE: dict[str, Callable[[float, int], Sound]] = {
    "idle 900": idle, "rated 1500": rated_1500, "rated 3000": rated_3000, "cranking": cranking, "impacts": impacts,
    "fan": fan, "water": water, "odd engines": odd_engines, "coloured": coloured,
}  # fmt: skip
"""What is made of nothing but a seed: float32 [seconds * RATE], root mean square 1."""


class Noises:
    """Pieces of every kind of noise, from a bank that is made once. talk: the voices of each kind made of speech."""

    def __init__(self, banks: int, seed: int, talk: Mapping[str, Sequence[Sound]], yours: Path | None = None) -> None:
        """Nothing is made yet.

        banks: how many pieces of `BANK_SECONDS` of each kind.
        yours: a WAV file, the kind `yours`.

        Errors: AudioError when the file cannot be read.
        """
        self._banks, self._seed, self._talk = banks, seed, talk
        self._yours: Sound | None = None
        if yours is not None:
            from assistant.edge.sound.sound_files import read_sound

            self._yours = _unit(read_sound(yours))
        self._made = cache(self._make)

    def fill(self, kinds: Sequence[str]) -> None:
        """Makes these kinds now, before processes are forked."""
        for kind in kinds:
            for number in range(self._banks):
                self._made(kind, number)

    def piece(self, kind: str, length: int, chance: np.random.Generator) -> Sound:
        """float32 [length] out of one of the pieces; longer ones repeat."""
        whole = self._made(kind, int(chance.integers(self._banks)))
        return np.resize(np.roll(whole, -int(chance.integers(len(whole)))), length)

    def fresh(self, kind: str, seconds: float, seed: int) -> Sound:
        """Noise of this kind that is in no bank."""
        if kind == "yours":
            assert self._yours is not None
            return np.resize(self._yours, round(seconds * RATE))
        if kind in MADE:
            return MADE[kind](seconds, seed)
        return together(self._talk[kind], seconds, seed, 1 if kind == "own voice" else 5)

    def _make(self, kind: str, number: int) -> Sound:
        seed = (self._seed * 1000 + number) % TUNING_SEED
        return self.fresh(kind, BANK_SECONDS, seed + TUNING_SEED * (kind in FOR_TUNING))


def in_room(sound: Sound, metres: float, chance: np.random.Generator) -> Sound:
    """Heard in a small hard-walled engine bay from so many metres; the level of the direct sound is kept.

    Four walls' first echoes and a tail of 0.3 to 0.5 s whose energy equals the direct sound's at one metre, and grows
    against it with the square of the distance; the air and the mouth's direction take treble away.
    """
    time = np.arange(int(0.5 * RATE)) / RATE
    tail = chance.standard_normal(len(time)) * np.exp(-6.9 * time / chance.uniform(0.3, 0.5))
    tail[: RATE // 200] = 0
    for _ in range(6):
        tail[int(chance.integers(RATE // 400, RATE // 60))] += chance.uniform(-3, 3)
    tail *= metres / np.sqrt(np.sum(tail**2))
    tail[0] = 1
    dull = min(0.6, 0.15 * metres) ** np.arange(8)
    size = 1 << (len(sound) + len(tail)).bit_length()
    response = np.fft.rfft(tail, size) * np.fft.rfft(dull / dull.sum(), size)
    return np.asarray(np.fft.irfft(np.fft.rfft(sound, size) * response, size)[: len(sound)], dtype=np.float32)


def clipped(sound: Sound, decibels: float) -> Sound:
    """So much too loud for the microphone: what exceeds full scale is cut off."""
    peak = float(np.abs(sound).max(initial=1e-9))
    return np.asarray(np.clip(sound * (10 ** (decibels / 20) / peak), -1, 1), dtype=np.float32)
