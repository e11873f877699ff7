"""What every speech engine must do, on speech from two engines of synthesis."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.edge.files.grammars import forms_of, language_source
from assistant.edge.sound.hear import open_recogniser
from assistant.edge.sound.recognisers.bundled import BundledRecogniser, read_pieces
from assistant.edge.sound.recognisers.vosk import VoskRecogniser
from assistant.errors import RecogniserError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.graph import WordGraph, compile_expectation
from assistant.grammar.tagged import meaning
from assistant.grammar.units import reading_offer
from assistant.hearing.decoding import Hearing, Recogniser
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.meanings import Amount, Answer, Command, Passphrase
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician_voice import speak

OFFERS = (
    Offer("<commands.next>", Command, Risk.COMMAND),
    Offer("<commands.say_again>", Command, Risk.COMMAND),
    Offer("<commands.stand_by>", Command, Risk.COMMAND),
    Offer("<commands.correction>", Command, Risk.COMMAND),
    Offer("dead at both", Passphrase, Risk.HOLD, "proof"),
    Offer("seal is off", Answer, Risk.READING, "off"),
)
VOICES = ("flite slt", "flite rms", "espeak american")


@cache
def engine(name: str) -> Recogniser:
    return open_recogniser(name)


@cache
def graph(*offers: Offer) -> WordGraph:
    return compile_expectation(Expectation(offers), language_source())


def spoken(text: str, voice: str) -> NDArray[np.float32]:
    return np.pad(speak(text, voice), 4000)


def heard(hearing: Hearing, among: WordGraph) -> object:
    assert among.expectation is not None
    offer = hearing.paths[0].saying.offer
    assert offer is not None
    return meaning(among.expectation.offers[offer], hearing.paths[0].saying.tags)


engines = pytest.mark.parametrize("name", ["bundled"])


@engines
@pytest.mark.parametrize("voice", VOICES)
@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("next", "next"),
        ("say again", "say again"),
        ("stand by", "stand by"),
        ("dead at both", "proof"),
        ("seal is off", "off"),
    ],
)
def test_offers_are_understood(name: str, voice: str, text: str, key: str) -> None:
    found = heard(engine(name).hear(spoken(text, voice), graph(*OFFERS)), graph(*OFFERS))
    assert getattr(found, "name", None) == key or getattr(found, "key", None) == key


@engines
@pytest.mark.parametrize("voice", VOICES)
def test_readings_are_understood(name: str, voice: str) -> None:
    among = graph(Offer(reading_offer("kPa"), Amount, Risk.READING), *OFFERS)
    said = {"three hundred and twenty kilopascals": "320", "twelve point six kilopascals": "12.6", "minus seven": "-7"}
    right = 0
    for text, value in said.items():
        found = heard(engine(name).hear(spoken(text, voice), among), among)
        right += isinstance(found, Amount) and str(found.value) == value
    assert right >= 2


@engines
def test_engine_noise_is_borne(name: str) -> None:
    noise = engine_noise(4.0, 3)
    right = 0
    for text in ("next", "say again", "stand by", "correction"):
        for voice in VOICES:
            found = heard(engine(name).hear(mix(spoken(text, voice), noise, 10.0), graph(*OFFERS)), graph(*OFFERS))
            right += isinstance(found, Command) and found.name == text
    assert right >= 10


@engines
def test_other_speech_passes_no_hold_point(name: str) -> None:
    for text in ("could you pass me the spanner", "what time is lunch", "the weather is lovely today"):
        for voice in VOICES:
            hearing = engine(name).hear(spoken(text, voice), graph(*OFFERS))
            assert judge(hearing, Risk.HOLD).verdict is not HearingVerdict.ACCEPT


@engines
@pytest.mark.parametrize(
    "sound",
    [
        np.zeros(0, np.float32),
        np.zeros(1, np.float32),
        np.zeros(16_000, np.float32),
        np.ones(8_000, np.float32),
        np.full(8_000, np.nan, np.float32),
        engine_noise(1.5, 1) * np.float32(0.1),
        np.tile(np.array([1, -1], np.float32), 40_000),
    ],
    ids=["empty", "one sample", "silence", "constant", "not numbers", "engine", "loud tone"],
)
def test_no_sound_raises_and_none_is_believed(name: str, sound: NDArray[np.float32]) -> None:
    hearing = engine(name).hear(sound, graph(*OFFERS))
    assert judge(hearing, Risk.COMMAND).verdict is not HearingVerdict.ACCEPT
    assert np.isfinite(hearing.evidence.seconds)


@engines
def test_the_same_sound_is_heard_the_same(name: str) -> None:
    sound = spoken("say again", "flite slt")
    first, second = (engine(name).hear(sound, graph(*OFFERS)) for _ in range(2))
    assert first == second


@engines
def test_hearing_one_graph_leaves_another_alone(name: str) -> None:
    few = graph(*OFFERS[:2])
    sound = spoken("dead at both", "flite slt")
    assert heard(engine(name).hear(sound, graph(*OFFERS)), graph(*OFFERS)) == Passphrase("proof")
    assert heard(engine(name).hear(sound, few), few) != Passphrase("proof")
    assert heard(engine(name).hear(sound, graph(*OFFERS)), graph(*OFFERS)) == Passphrase("proof")


@engines
def test_preparing_names_what_cannot_be_heard(name: str) -> None:
    assert engine(name).prepare(graph(*OFFERS)) == ()
    assert engine(name).warm(graph(*OFFERS), 4) >= 0


def test_a_bundled_model_that_is_missing_or_damaged(tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match=r"tokenizer\.bin"):
        BundledRecogniser(forms_of(), tmp_path)
    (tmp_path / "tokenizer.bin").write_bytes(b"\x05abc")
    with pytest.raises(RecogniserError, match="ends inside a piece"):
        BundledRecogniser(forms_of(), tmp_path)
    (tmp_path / "tokenizer.bin").write_bytes(b"\x01a")
    (tmp_path / "encoder_model.ort").write_bytes(b"nothing")
    with pytest.raises(RecogniserError, match="does not load"):
        BundledRecogniser(forms_of(), tmp_path)


def test_the_lengths_of_pieces() -> None:
    long = b"x" * 300
    assert read_pieces(b"\x01a" + bytes([300 % 128 + 128, 300 // 128]) + long + b"\x02bc").texts == (b"a", long, b"bc")


def test_a_vosk_model_that_is_none(tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match="no such folder"):
        VoskRecogniser(tmp_path / "nowhere", forms_of())
    (tmp_path / "am").mkdir()
    with pytest.raises(RecogniserError, match="conf, graph is missing"):
        VoskRecogniser(tmp_path, forms_of())
    (tmp_path / "conf").mkdir()
    (tmp_path / "graph").mkdir()
    with pytest.raises(RecogniserError, match="cannot load"):
        VoskRecogniser(tmp_path, forms_of())


def test_engines_by_name(tmp_path: Path) -> None:
    with pytest.raises(RecogniserError, match="there is no engine 'ear'"):
        open_recogniser("ear")
    with pytest.raises(RecogniserError, match="needs the folder"):
        open_recogniser("vosk")
    with pytest.raises(RecogniserError, match="carries its model"):
        open_recogniser("bundled", tmp_path)
