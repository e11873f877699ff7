"""A room for the live world: microphone, loudspeaker, voice, recogniser and button that do as the test says.

What is real: the world, the ear, the dialogue, the store. Nothing sleeps; what waits for another thread waits for a
few seconds at most. The test goes on in the thread that owns the core.
"""

from __future__ import annotations

import io
import queue
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
from hearing.test_ear import Loudness, hearing, path, silence, speech

from assistant.app.inbox import Block
from assistant.app.live import CUE_RATE, LiveWorld
from assistant.app.visit_owner import VisitOwner
from assistant.app.watching import SpokenUtterance
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import order_work
from assistant.edge.files.store import SessionFolder, read_session
from assistant.edge.sound import cues
from assistant.edge.sound.player import Played
from assistant.edge.sound.voices import RenderedSpeech
from assistant.edge.talk_button import HandButton
from assistant.errors import AudioError, RecogniserError, VoiceError
from assistant.grammar.forms import parse_text
from assistant.grammar.graph import WordGraph
from assistant.hearing.decoding import Hearing
from assistant.hearing.ear import Ear, HeardUtterance, Samples
from assistant.hearing.endpoint import RATE
from assistant.meanings import Amount
from assistant.session.facts import Fact, Purpose, WorkEnded
from assistant.session.inputs import WorkOrdered

SET = Path(__file__).parents[1] / "dialogues"
LONG_ENOUGH = 10.0  # seconds; a test that waits so long has failed
LANGUAGE = english()


def eventually(happened: Callable[[], bool]) -> None:
    """Waits for another thread."""
    until = time.monotonic() + LONG_ENOUGH
    while not happened():
        assert time.monotonic() < until, "it does not happen"
        time.sleep(0.001)


class Recogniser:
    """Hears the words that it is told, if they are in the grammar; surely, unless told otherwise.

    broken: why it fails; lacking: words that it does not know.
    """

    name = "told"

    def __init__(self, language: Language) -> None:
        self.words: list[str] = []
        self.sure = 0.999
        self.broken = ""
        self._again = ""
        self.lacking: set[str] = set()
        self._language = language

    def prepare(self, graph: WordGraph) -> tuple[str, ...]:
        return tuple(word for word in graph.words if word in self.lacking)

    def warm(self, graph: WordGraph, most: int) -> int:
        return 0

    def hear(self, audio: Samples, graph: WordGraph) -> Hearing:
        rehearing = bool(self._again)
        said, self._again = self._again or self.words.pop(0), ""
        if self.broken:
            raise RecogniserError("engine", self.broken, "Mend it")
        found = parse_text(graph, said, self._language.forms)
        numbers = graph.expectation is None or any(offer.meaning is Amount for offer in graph.expectation.offers)
        if not numbers and not rehearing and (not found or self.sure < 0.9):
            self._again = said  # what is not sure at the pause is heard once more at the end
        return hearing(*(path(parsed.saying) for parsed in found[:1]), sure=self.sure if found else 0.0)


class Voice:
    """A tenth of a second for everything. broken: why it fails."""

    name = "short"
    broken = ""

    def render(self, text: str) -> RenderedSpeech:
        if self.broken:
            raise VoiceError("voice", self.broken, "Mend it")
        return RenderedSpeech(np.zeros(RATE // 10, np.float32), RATE)

    def prefetch(self, texts: Iterable[str]) -> None:
        pass

    def speak(self, loudness: int, pace: int) -> None:
        pass


class Loudspeaker:
    """cues: how often it said that it listens; meanwhile: what happens during the next prompts, one each: such a prompt
    lasts until that returns.
    """

    def __init__(self) -> None:
        self.cues = 0
        self.prompts = 0
        self.looked = 0
        self.gone = False
        self.meanwhile: list[Callable[[], None]] = []
        self._cut = False

    def play(self, samples: Samples, rate: int) -> Played:
        if self.gone:
            raise AudioError("loudspeaker", "it stopped", "Connect it again")
        if rate == CUE_RATE:
            self.cues += np.array_equal(samples, cues.cue_sound(cues.CueName.LISTENING, CUE_RATE))
            return Played(0.1, True)
        self.prompts += 1
        self._cut = False
        if self.meanwhile:
            self.meanwhile.pop(0)()
        return Played(0.1, not self._cut)

    def cut(self) -> None:
        self._cut = True

    def until_cut(self) -> None:
        eventually(lambda: self._cut)

    def look(self) -> None:
        self.looked += 1
        if self.gone:
            raise AudioError("loudspeaker", "it is not there", "Connect it")


class HandMicrophone:
    """Gives what the test puts in; vanishes with `pull`, and can be opened again after `plug`."""

    overruns = 0

    def __init__(self) -> None:
        self.waiting: queue.Queue[Samples | None] = queue.Queue()
        self.gone = False
        self.reopened = 0

    def blocks(self) -> Iterator[Samples]:
        while True:
            block = self.waiting.get()
            if block is None:
                raise AudioError("microphone", "it gives no more sound", "Connect it again")
            yield block

    def pull(self) -> None:
        self.gone = True
        self.waiting.put(None)

    def plug(self) -> None:
        self.gone = False

    def reopen(self) -> None:
        if self.gone:
            raise AudioError("microphone", "it is not there", "Connect it")
        self.reopened += 1


class Notes:
    """A watcher that keeps what it is told."""

    def __init__(self) -> None:
        self.spoken: list[tuple[str, bool]] = []
        self.utterances: list[str] = []
        self.notes: list[str] = []

    def said(self, at: float, text: str, whole: bool) -> None:
        self.spoken.append((text, whole))

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        self.utterances.append(found.hypotheses[0].text if found.hypotheses else "")

    def note(self, at: float, text: str) -> None:
        self.notes.append(text)


class Room:
    """A visit that goes on while the test lets it."""

    def __init__(
        self, tmp_path: Path, headset: bool = False, microphone: Any = None, player: Any = None, keyboard: Any = None
    ) -> None:
        language = LANGUAGE
        ordered = order_work("bench", ("service",), "technician", SET)
        self.folder = SessionFolder.create(tmp_path, "visit", ordered.files)
        self.owner = VisitOwner(ordered.work, self.folder, HandClock("2026-03-02T08:00:00+00:00"))
        self.recogniser, self.voice, self.panel, self.watcher = Recogniser(language), Voice(), HandButton(), Notes()
        self.player = Loudspeaker() if player is None else player
        self.microphone = HandMicrophone() if microphone is None else microphone
        self.ear = Ear(self.recogniser, language.graph, Loudness(), timer=lambda: 0.0)
        parts: tuple[Any, ...] = (self.folder, self.ear, self.voice, language, self.microphone, self.player)
        keyboard = io.StringIO("") if keyboard is None else keyboard
        self.world = LiveWorld(self.owner, *parts, self.watcher, keyboard=keyboard, headset=headset, panel=self.panel)
        self.order = WorkOrdered(ordered.order)

    def begin(self) -> None:
        """The work is ordered, and its first prompt is being spoken."""
        self.world.begin(self.order)

    def listens(self) -> bool:
        """Whether a question was asked and waits for its answer."""
        return self.world.state.listening and self.world.inbox.empty

    def go_on(self, until: Callable[[], bool] | None = None) -> None:
        """The core's thread goes on until this is so; without it, until it listens."""
        ready = self.listens if until is None else until
        end = time.monotonic() + LONG_ENOUGH
        while not ready():
            assert time.monotonic() < end, "it does not happen"
            self.world.go_on(longest=0.02)

    @contextmanager
    def attended(self) -> Iterator[None]:
        """The visit goes on in a thread of its own, with all of the world's threads; it has ended afterwards."""
        failed: list[BaseException] = []

        def run() -> None:
            try:
                self.world.run(self.order)
            except BaseException as error:
                failed.append(error)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        yield
        thread.join(LONG_ENOUGH)
        assert not thread.is_alive(), "the visit hangs"
        assert failed == []

    def waits(self) -> None:
        """Until the assistant has asked and its ear is open."""
        eventually(lambda: self.listens() and self.ear.is_open)

    def ends(self) -> None:
        """The technician ends the work by voice, and says it again where something came between."""
        until = time.monotonic() + LONG_ENOUGH
        while not self.facts(WorkEnded):
            assert time.monotonic() < until, "the work does not end"
            if not (self.listens() and self.ear.is_open):
                time.sleep(0.001)
                continue
            self.recogniser.words.clear()
            asked = self.owner.visit.exchange
            ending = asked is not None and asked.purpose is Purpose.ENDING
            self.utter("affirm" if ending else "end the work")
            quiet = time.monotonic() + 1.0
            while self.owner.visit.exchange == asked and time.monotonic() < quiet:
                time.sleep(0.001)

    def utter(self, words: str, sure: float = 0.999) -> None:
        """The technician says this, and is quiet then."""
        self.recogniser.sure = sure
        self.recogniser.words.append(words)
        for part in (silence(0.6), speech(0.6), silence(1.0)):
            for block in part:
                self.world.inbox.post(Block(block))

    def answer(self, words: str) -> None:
        """The technician answers the question that is open, and the next one is asked."""
        self.utter(words)
        self.go_on(lambda: not self.recogniser.words)
        self.go_on()

    def interrupted_by(self, words: str) -> Callable[[], None]:
        """The technician says this while the assistant speaks; the prompt lasts until it is cut off."""

        def speak() -> None:
            eventually(lambda: self.ear.is_open)
            self.utter(words)
            self.player.until_cut()

        return speak

    def not_interrupted_by(self, words: str, sure: float = 0.999) -> Callable[[], None]:
        """The same, but the prompt goes on when it was heard."""

        def speak() -> None:
            eventually(lambda: self.ear.is_open)
            self.utter(words, sure)
            eventually(lambda: not self.recogniser.words and self.world.inbox.empty)

        return speak

    def facts(self, kind: type[Fact]) -> list[Any]:
        """All facts of this kind in the session's folder."""
        return [fact for fact, _ in read_session(self.folder.folder).facts() if isinstance(fact, kind)]
