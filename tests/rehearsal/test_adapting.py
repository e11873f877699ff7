"""The adapted encoder that the package carries, and what it was made with; torch and onnx are not needed."""

from __future__ import annotations

import hashlib
import random
import re
from pathlib import Path

import numpy as np
import pytest

from assistant.dialogue.commands import rule_of
from assistant.edge.files.language import english as english_language
from assistant.edge.sound.recognisers import bundled
from assistant.edge.sound.recognisers.bundled import _Model, encoder_file, model_folder
from assistant.errors import RecogniserError
from assistant.meanings import CommandName
from assistant.rehearsal.adapting import weights
from assistant.rehearsal.adapting.sentences import english, syllables, taught
from assistant.rehearsal.adapting.speech import PEOPLE
from assistant.rehearsal.adapting.speech_sources import AMERICAN, BRITISH, HELD_OUT, phonemes
from assistant.rehearsal.noise import engine_noise, mix
from assistant.rehearsal.technician_voice import speak

CARD = Path(bundled.__file__).parent / "weights" / "card.md"


@pytest.fixture(scope="module")
def encoders() -> tuple[_Model, _Model]:
    """The shipped one and the adapted one."""
    folder = model_folder()
    shipped, adapted = (_Model(folder, encoder_file(name, folder)) for name in ("shipped", "adapted"))
    return shipped, adapted


def error(found: np.ndarray, wanted: np.ndarray) -> float:
    """Mean square relative to the variance of each of the 288 dimensions; both [1, frames, 288]."""
    return float((((found - wanted)[0] ** 2) / wanted[0].var(axis=0)).mean())


def test_the_card_names_the_file_that_is_carried() -> None:
    card = CARD.read_text(encoding="utf-8")
    data = encoder_file("adapted", model_folder()).read_bytes()
    assert len(data) <= 15_000_000
    assert hashlib.sha256(data).hexdigest() in card
    for source in PEOPLE:
        assert re.search(rf"\| {re.escape(source.package)} \|.*{re.escape(source.licence.split(',')[0])}", card), source


@pytest.mark.parametrize("seconds", [0.5, 2.0, 9.0])
def test_frames_of_the_same_shape(encoders: tuple[_Model, _Model], seconds: float) -> None:
    sound = engine_noise(seconds, 3) * np.float32(0.05)
    shipped, adapted = (model.encode(sound) for model in encoders)
    assert shipped.shape == adapted.shape
    assert shipped.shape[0] == 1
    assert shipped.shape[2] == 288
    assert np.isfinite(adapted).all()


def test_clean_speech_is_heard_nearly_alike_and_noise_is_heard_through(encoders: tuple[_Model, _Model]) -> None:
    shipped, adapted = encoders
    before, after, clean_errors = [], [], []
    for number, voice in enumerate(("flite slt", "flite rms", "flite awb", "espeak scottish")):
        clean = np.pad(speak("the water was forty two point five", voice), 4000)
        noisy = mix(clean, engine_noise(len(clean) / 16000, number), 3.0)
        wanted = shipped.encode(clean)
        heard = adapted.encode(clean)
        assert not np.allclose(heard, wanted, atol=1e-3)
        assert np.corrcoef(heard.ravel(), wanted.ravel())[0, 1] > 0.9
        clean_errors.append(error(heard, wanted))
        before.append(error(shipped.encode(noisy), wanted))
        after.append(error(adapted.encode(noisy), wanted))
    assert np.mean(clean_errors) < 0.15
    assert np.mean(after) < 0.75 * np.mean(before)


def test_an_encoder_that_is_not_there() -> None:
    with pytest.raises(RecogniserError, match="missing"):
        encoder_file("no such encoder", model_folder())


def test_weights_out_of_the_shipped_file_and_their_mix(tmp_path: Path) -> None:
    pytest.importorskip("flatbuffers")  # onnxruntime needs it itself for reading its own files in Python
    shipped = weights.shipped(model_folder() / "encoder_model.ort")
    assert shipped["layers.3.mlp.fc1.weight"].shape == (1152, 288)
    assert shipped["conv1.weight"].shape == (288, 1, 127)
    other = {name: array + np.float32(1) for name, array in shipped.items()}
    mix_of_both = weights.mixed(shipped, other, 0.25)
    assert np.allclose(mix_of_both["layer_norm.weight"], shipped["layer_norm.weight"] + 0.25, atol=1e-6)
    weights.save(mix_of_both, tmp_path / "kept.npz")
    again = weights.load(tmp_path / "kept.npz")
    assert again.keys() == shipped.keys()
    assert np.allclose(again["conv2.bias"], mix_of_both["conv2.bias"], atol=2e-3)
    half = weights.mean([shipped, other])
    assert np.allclose(half["conv2.bias"], shipped["conv2.bias"] + 0.5, atol=1e-6)
    assert np.allclose(weights.mean([shipped, other, other])["conv2.bias"], shipped["conv2.bias"] + 2 / 3, atol=1e-5)
    student = weights.student(f"{tmp_path / 'kept.npz'}@0.25", shipped)
    assert np.allclose(student["layer_norm.weight"], other["layer_norm.weight"], atol=1e-2)
    assert np.array_equal(weights.student(str(tmp_path / "kept.npz"), shipped)["conv2.bias"], again["conv2.bias"])
    del other["conv2.bias"]
    with pytest.raises(ValueError, match="different models"):
        weights.mixed(shipped, other, 0.5)


def test_what_is_said_for_training_is_varied_and_comes_from_its_seed() -> None:
    words = ["apple", "river", "seven"]
    said = [english(random.Random(seed), words) for seed in range(300)]
    assert said == [english(random.Random(seed), words) for seed in range(300)]
    assert len(set(said)) > 200
    assert any("point" in text for text in said)
    assert any(len(text.split()) == 1 for text in said)
    assert any(len(text.split()) > 6 for text in said)
    assert all(re.fullmatch(r"[a-z]+( [a-z]+){0,3}", syllables(random.Random(seed))) for seed in range(50))


def test_those_who_are_measured_on_are_not_trained_on() -> None:
    packages = {source.package for source in PEOPLE}
    assert not any(package.startswith("asterisk-core-sounds-en") for package in packages)
    assert "pocketsphinx-testdata" not in packages
    source = Path(weights.__file__).with_name("speech.py").read_text(encoding="utf-8")
    code = source.split('"""', 2)[2]
    assert "flite" not in code
    assert "kallpc" not in code
    assert "slt" not in code
    source = Path(weights.__file__).with_name("speech_sources.py").read_text(encoding="utf-8")
    code = source.split('"""', 2)[2].lower()
    assert not re.search(r"\b(flite|slt|rms|awb|kal\w*)\b", code)


def test_the_decoder_out_of_the_shipped_file() -> None:
    pytest.importorskip("flatbuffers")
    decoder = weights.shipped_decoder(model_folder() / "decoder_model_merged.ort")
    assert decoder["embed_tokens.weight"].shape == (32768, 288)
    assert decoder["layers.5.mlp.fc1.weight"].shape == (2304, 288)
    assert np.corrcoef(decoder["embed_tokens.weight"].ravel(), decoder["proj_out.weight"].ravel())[0, 1] > 0.99
    with pytest.raises(ValueError, match="another model"):
        weights.shipped(model_folder() / "decoder_model_merged.ort")


def test_what_is_taught_by_its_text_holds_no_phrase_of_the_assistant() -> None:
    words = ["apple", "river", "seven"]
    said = [taught(random.Random(seed), words) for seed in range(3000)]
    assert said[:50] == [taught(random.Random(seed), words) for seed in range(50)]
    language = english_language()
    phrases = {language.phrases(rule_of(name))[0].lower() for name in CommandName}
    assert phrases.isdisjoint(said)
    numbers = [text for text in said if re.search(r"\b(thirteen|thirty)\b", text)]
    assert len(numbers) > 50
    assert {"point", "decimal", "minus", "thousand"} <= {word for text in said for word in text.split()}


def test_voices_that_are_measured_on_teach_nothing() -> None:
    assert set(HELD_OUT).isdisjoint((*AMERICAN, *BRITISH))


def test_signs_of_sounds_and_the_written_form() -> None:
    """The neural voices are given signs of their own for some of espeak-ng's sounds."""
    assert phonemes("say eight", american=True) == "sˈA ˈAt"
    assert "ː" in phonemes("three", american=False)
