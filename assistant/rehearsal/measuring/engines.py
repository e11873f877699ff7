"""Our engine and its peers, asked the same: what was said in this state, and is it to be believed?

Peers: the bundled model that writes freely, its text then matched with the state (rapidfuzz); PocketSphinx 5 with the
state's graph; Vosk with a model that a person brings. Each gets all that it can use: the written forms, the phrases,
the graph. Refuses to know what was truly said.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.edge.files.language import Language
from assistant.edge.sound.hear import open_recogniser
from assistant.edge.sound.recognisers.bundled import BundledRecogniser, _PieceScores
from assistant.errors import RecogniserError
from assistant.grammar.forms import parse_text
from assistant.grammar.graph import WordGraph
from assistant.hearing.decoding import Recogniser
from assistant.hearing.judgement import HearingVerdict, features, judge
from assistant.rehearsal.measuring.states import ListeningState, sentences

Sound = NDArray[np.float32]
RATE = 16_000
MATCHES, MAYBE = 80.0, 60.0  # of rapidfuzz's 100: accepted from here, asked again from there
OURS, SPHINX, VOSK = "ours", "PocketSphinx 5", "Vosk"
FREE, FREE_SHIPPED = "free, then matched", "free, shipped encoder"
_OUR_WARMTH = 200  # pieces of work ahead for each state, as while the assistant speaks


@dataclass(frozen=True, slots=True)
class TrialHearing:
    """What an engine made of a clip.

    meaning: as `ListeningState.meaning`, empty for nothing.
    words: as the engine gives them.
    risk, features: of our engine's best path, for fitting the judgement.
    """

    meaning: str
    verdict: HearingVerdict
    words: str
    risk: str = ""
    features: tuple[float, ...] = ()


class Engine(Protocol):
    """One that hears. name: as the report calls it."""

    name: str

    def ready(self, state: ListeningState) -> None:
        """Makes ready what hearing in this state needs."""
        ...

    def hear(self, sound: Sound, state: ListeningState) -> TrialHearing:
        """sound: float32 [samples], 16 kHz, one utterance."""
        ...


class JudgedEngine:
    """A recogniser of this program with its judgement: ours, and Vosk."""

    def __init__(self, name: str, recogniser: Recogniser) -> None:
        self.name = name
        self._recogniser = recogniser
        self._ready: set[str] = set()

    def ready(self, state: ListeningState) -> None:
        if state.name not in self._ready:
            self._recogniser.prepare(state.graph)
            self._recogniser.warm(state.graph, _OUR_WARMTH)
            self._ready.add(state.name)

    def hear(self, sound: Sound, state: ListeningState) -> TrialHearing:
        hearing = self._recogniser.hear(sound, state.graph)
        if not hearing.paths:
            return TrialHearing("", HearingVerdict.IGNORE, hearing.free)
        best = hearing.paths[0].saying
        risk = state.risk(best)
        verdict = judge(hearing, risk).verdict
        return TrialHearing(state.meaning(best), verdict, " ".join(best.words), risk.value, features(hearing))


class Matched:
    """The bundled model writes what it likes, the likeliest piece each time, at most eight a second; then its text is
    looked for: as a sentence of the state with every written form, else among the state's phrases by likeness."""

    def __init__(self, name: str, recogniser: BundledRecogniser, language: Language) -> None:
        self.name = name
        self._recogniser = recogniser
        self._language = language
        self._phrases: dict[str, tuple[str, ...]] = {}

    def ready(self, state: ListeningState) -> None:
        if state.name not in self._phrases:
            self._phrases[state.name] = sentences(state)

    def hear(self, sound: Sound, state: ListeningState) -> TrialHearing:
        from rapidfuzz import fuzz, process

        text = self._written(sound)
        parsed = parse_text(state.graph, text, self._language.forms)
        if parsed:
            return TrialHearing(state.meaning(parsed[0].saying), HearingVerdict.ACCEPT, text)
        plain = "".join(letter for letter in text.lower() if letter.isalnum() or letter == " ").strip()
        found = process.extractOne(plain, self._phrases[state.name], scorer=fuzz.ratio, score_cutoff=MAYBE)
        if found is None:
            return TrialHearing("", HearingVerdict.IGNORE, text)
        phrase, score, _ = found
        meaning = state.meaning(parse_text(state.graph, phrase, self._language.forms)[0].saying)
        return TrialHearing(meaning, HearingVerdict.ACCEPT if score >= MATCHES else HearingVerdict.ASK_AGAIN, text)

    def _written(self, sound: Sound) -> str:
        pieces = self._recogniser._pieces
        utterance = _PieceScores(self._recogniser._model, np.pad(sound, (0, max(0, RATE // 2 - len(sound)))))
        written = [pieces.start]
        for _ in range(int(8 * utterance.seconds) + 8):
            written.append(int(utterance.step([0], [written[-1]])[0].argmax()))
            if written[-1] == pieces.end:
                break
        return pieces.join(written[1:])


class Sphinx:
    """PocketSphinx 5 with its own English model and the state's graph.

    The graph goes in as a finite-state grammar: PocketSphinx lays a JSGF rule out anew wherever it is used, and the
    numbers need gigabytes so. It has no confidence inside a grammar: all that it hears counts as accepted.
    """

    name = SPHINX

    def __init__(self) -> None:
        try:
            import pocketsphinx
        except ImportError:
            raise RecogniserError("PocketSphinx", "it is not installed", "Install the extra `bench`") from None
        self._library: Any = pocketsphinx  # Any: the library has no types
        self._decoder: Any = pocketsphinx.Decoder(lm=None, loglevel="FATAL")
        for word, sounds in _SOUNDS.items():
            if not self._knows(word):
                self._decoder.add_word(word, sounds, True)
        self._searches: dict[str, str] = {}

    def _knows(self, word: str) -> bool:
        return self._decoder.lookup_word(word) is not None

    def ready(self, state: ListeningState) -> None:
        if state.name in self._searches:
            return
        with tempfile.NamedTemporaryFile("w", suffix=".fsg") as file:
            file.write(finite_state(state.graph, self._knows))
            file.flush()
            grammar = self._library.FsgModel.readfile(file.name, self._decoder.get_logmath(), 6.5)
        self._searches[state.name] = f"state{len(self._searches)}"
        self._decoder.add_fsg(self._searches[state.name], grammar)

    def hear(self, sound: Sound, state: ListeningState) -> TrialHearing:
        decoder = self._decoder
        decoder.activate_search(self._searches[state.name])
        decoder.start_utt()
        decoder.process_raw((np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes(), full_utt=True)
        decoder.end_utt()
        hypothesis = decoder.hyp()
        text = "" if hypothesis is None else hypothesis.hypstr
        parsed = parse_text(state.graph, text)
        if not parsed:
            return TrialHearing("", HearingVerdict.IGNORE, text)
        return TrialHearing(state.meaning(parsed[0].saying), HearingVerdict.ACCEPT, text)


_SOUNDS = {
    "nought": "N AO T", "kilopascal": "K IH L OW P AE S K AH L", "kilopascals": "K IH L OW P AE S K AH L Z",
    "millimetre": "M IH L AH M IY T ER", "millimetres": "M IH L AH M IY T ER Z", "metre": "M IY T ER",
    "metres": "M IY T ER Z", "litre": "L IY T ER", "litres": "L IY T ER Z", "millilitre": "M IH L AH L IY T ER",
    "millilitres": "M IH L AH L IY T ER Z", "newtons": "N UW T AH N Z", "celsius": "S EH L S IY AH S",
    "amperes": "AE M P IH R Z", "ampere": "AE M P IH R", "psi": "P IY EH S AY", "rpm": "AA R P IY EH M",
    "niner": "N AY N ER", "x-ray": "EH K S R EY", "xray": "EH K S R EY", "alfa": "AE L F AH",
    "juliett": "JH UW L IY EH T", "hertz": "HH ER T S", "revs": "R EH V Z", "amps": "AE M P S",
}  # fmt: skip
"""How words sound that its dictionary may lack; other words that it lacks it cannot hear."""


def finite_state(graph: WordGraph, known: Callable[[str], bool] = lambda word: True) -> str:
    """The graph in the format of Sphinx's finite-state grammars, without silent arcs. known: words that may be used."""
    numbers, waiting = {graph.start: 0}, [graph.start]
    lines: dict[str, None] = {}
    for node in waiting:
        for reached in graph.reached(node):
            if reached.node == graph.final:
                lines[f"TRANSITION {numbers[node]} END 1.0"] = None
            for arc in graph.outgoing[reached.node]:
                if arc.word is None or not known(arc.word.lower()):
                    continue
                if arc.end not in numbers:
                    numbers[arc.end] = len(numbers)
                    waiting.append(arc.end)
                lines[f"TRANSITION {numbers[node]} {numbers[arc.end]} 1.0 {arc.word.lower()}"] = None
    end = str(len(numbers))
    head = ["FSG_BEGIN state", f"NUM_STATES {len(numbers) + 1}", "START_STATE 0", f"FINAL_STATE {end}"]
    return "\n".join([*head, *(line.replace("END", end) for line in lines), "FSG_END", ""])


def open_engine(name: str, language: Language, encoder: str | Path, vosk: Path | None) -> Engine:
    """The engine of this name, with one thread. encoder: of ours, as `encoder_file`. Errors: RecogniserError."""
    if name == OURS:
        return JudgedEngine(OURS, BundledRecogniser(language.forms, encoder=encoder))
    if name in (FREE, FREE_SHIPPED):
        which = "shipped" if name == FREE_SHIPPED else encoder
        return Matched(name, BundledRecogniser(language.forms, encoder=which), language)
    if name == SPHINX:
        return Sphinx()
    return JudgedEngine(VOSK, open_recogniser("vosk", vosk))


def available_engines(vosk: Path | None) -> tuple[str, ...]:
    """Ours and the peers that this machine has."""
    import importlib.util

    sphinx = (SPHINX,) if importlib.util.find_spec("pocketsphinx") else ()
    return (OURS, FREE, FREE_SHIPPED, *sphinx, *((VOSK,) if vosk else ()))
