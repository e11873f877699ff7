"""A rehearsal without sound: the technician's words reach the assistant as they were said; the voice is a silence.

What is real: technician, dialogue, store, journal, clips on disk. What is not: voice, noise, recogniser. A whole visit
takes about a second. Some words are not understood, by a seed, so that the ways of asking are gone through too. What
many visits have in common is made once: the language with all that it compiled, and the work of an order.
"""

from __future__ import annotations

import random
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from app.stand_ins import ShortVoice
from shipped_english import shipped_english

import assistant.app.demo
import assistant.app.rehearsed
from assistant.app.visits import SpeechSetup, order
from assistant.edge.files.library import OrderedWork
from assistant.grammar.expectation import Expectation
from assistant.hearing.ear import HeardUtterance, Samples
from assistant.hearing.endpoint import RATE
from assistant.hearing.judgement import HearingVerdict

NOT_UNDERSTOOD = 0.05  # share of utterances


def order_once(asset: str, tasks: tuple[str, ...], technician: str, root: Path) -> OrderedWork:
    """The work of an order of the shipped procedures. root: does not matter where tasks are named."""
    assert tasks
    return _ordered(asset, tasks, technician)


@cache
def _ordered(asset: str, tasks: tuple[str, ...], technician: str) -> OrderedWork:
    return order(asset, tasks, technician, Path())


def hiss(seconds: float, seed: int) -> Samples:
    """In place of an engine's noise, which takes a second to make."""
    return np.random.default_rng(seed).normal(0, 1, round(seconds * RATE)).astype(np.float32)


class Mouth:
    """What the technician said last, waiting to be heard."""

    words = ""

    @classmethod
    def speak(cls, text: str, speaker: str) -> Samples:
        """A sound of its own for each text, so that clips differ."""
        cls.words = text
        return np.random.default_rng(zlib.crc32(text.encode())).normal(0, 0.1, RATE // 5).astype(np.float32)


class KnowingEar:
    """Hears the words themselves, once each."""

    def __init__(self, *_: object) -> None:
        self._language = shipped_english()
        self._expectation: Expectation | None = None
        self._exchange = 0
        self._random = random.Random(7)

    def open(self, expectation: Expectation, exchange: int) -> None:
        self._expectation, self._exchange = expectation, exchange

    def close(self) -> None:
        self._expectation = None

    def warm(self, expectation: Expectation, most: int) -> int:
        return 0

    def feed(self, block: Samples) -> HeardUtterance | None:
        words, Mouth.words = Mouth.words, ""
        if not words or self._expectation is None:
            return None
        hypotheses = self._language.answer(self._expectation, words)
        sure = bool(hypotheses) and self._random.random() >= NOT_UNDERSTOOD
        verdict = HearingVerdict.ACCEPT if sure else HearingVerdict.ASK_AGAIN
        return HeardUtterance(self._exchange, verdict, hypotheses, 0.9 * sure, block, 0.3, 0.01, False)


@contextmanager
def quick_speech_setup() -> Iterator[SpeechSetup]:
    """A speech setup for `rehearse`, while the world of sound is away."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(assistant.app.demo, "Ear", KnowingEar)
        patch.setattr(assistant.app.demo, "SileroDetector", object)
        patch.setattr(assistant.app.demo, "order", order_once)
        patch.setattr(assistant.app.rehearsed, "speak", Mouth.speak)
        patch.setattr(assistant.app.rehearsed, "engine_noise", hiss)
        yield SpeechSetup(shipped_english(), None, ShortVoice())  # type: ignore[arg-type]  # stand-ins
