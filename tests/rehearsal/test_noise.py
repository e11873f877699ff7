"""The engine's sound, the ratio it is mixed at, and the technicians' voices."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.edge.sound.voices import VoiceSettings
from assistant.errors import VoiceError
from assistant.rehearsal.noise import engine_noise, mix, speech_level
from assistant.rehearsal.technician_voice import _SPEAKERS, RATE, VOICES, speak


def rms(sound: NDArray[np.float32]) -> float:
    return float(np.sqrt(np.mean(np.asarray(sound, dtype=np.float64) ** 2)))


def strongest(sound: NDArray[np.float32], low: float, high: float) -> float:
    """Frequency in hertz of the strongest line between two."""
    power = np.abs(np.fft.rfft(sound * np.hanning(len(sound)))) ** 2
    hertz = np.fft.rfftfreq(len(sound), 1 / RATE)
    band = (hertz >= low) & (hertz <= high)
    return float(hertz[band][np.argmax(power[band])])


def test_the_engine_has_unit_level_and_comes_from_its_seed() -> None:
    sound = engine_noise(3.0, seed=7)
    assert sound.dtype == np.float32
    assert sound.shape == (48000,)
    assert rms(sound) == pytest.approx(1, rel=1e-4)
    assert np.array_equal(sound, engine_noise(3.0, seed=7))
    assert not np.allclose(sound, engine_noise(3.0, seed=8))


@pytest.mark.parametrize(("cylinders", "rpm"), [(2, 1500), (3, 1500), (2, 1800)])
def test_it_fires_as_a_four_stroke_does(cylinders: int, rpm: float) -> None:
    """cylinders / 2 firings a turn: the line of the firing order stands out of its neighbourhood."""
    firing = rpm / 60 * cylinders / 2
    hits = sum(
        abs(strongest(engine_noise(4.0, seed, cylinders=cylinders, rpm=rpm), 0.8 * firing, 1.2 * firing) / firing - 1)
        < 0.03
        for seed in range(10)
    )
    assert hits >= 9


def test_its_speed_drifts() -> None:
    """A steady tone would be easy to remove: a firing harmonic is wider than a steady one, yet near its place."""
    sound = engine_noise(16.0, seed=3)
    steady = np.sin(2 * np.pi * 100 * np.arange(len(sound)) / RATE)
    widths = {}
    for name, heard in (("engine", sound), ("steady", steady)):
        power = np.abs(np.fft.rfft(heard * np.hanning(len(heard)))) ** 2
        line = np.sort(power[96 * 16 : 104 * 16])[::-1]
        widths[name] = int(np.searchsorted(np.cumsum(line), 0.9 * line.sum()))
    assert widths["engine"] > 3 * widths["steady"]
    assert abs(strongest(sound, 90, 110) - 100) < 3


def test_it_is_broadband_too() -> None:
    power = np.abs(np.fft.rfft(engine_noise(4.0, seed=1))) ** 2
    hertz = np.fft.rfftfreq(64000, 1 / RATE)
    for low, high in ((300, 1000), (1000, 2000), (2000, 4000)):
        assert power[(hertz >= low) & (hertz < high)].sum() > 0.003 * power.sum()


@pytest.mark.parametrize("cut", [{"seconds": 0.0}, {"cylinders": 0}, {"rpm": 0.0}])
def test_no_engine_at_all_is_an_error(cut: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="more than nothing"):
        engine_noise(**({"seconds": 1.0, "seed": 1} | cut))  # type: ignore[arg-type]  # the error is the point


@pytest.mark.parametrize("snr_db", [20.0, 10.0, 0.0, -5.0])
def test_the_ratio_is_what_it_says(snr_db: float) -> None:
    random = np.random.default_rng(1)
    speech = np.concatenate([np.zeros(RATE), 0.05 * random.normal(size=RATE), np.zeros(2 * RATE)]).astype(np.float32)
    noise = engine_noise(4.0, seed=2)
    noise_alone = mix(speech, noise, snr_db) - speech
    assert 20 * np.log10(speech_level(speech) / rms(noise_alone)) == pytest.approx(snr_db, abs=0.05)


def test_silence_around_the_speech_does_not_change_its_level() -> None:
    word = speak("seven decimal five", VOICES[0])
    padded = np.concatenate([np.zeros(RATE * 3, np.float32), word, np.zeros(RATE, np.float32)])
    assert speech_level(padded) == pytest.approx(speech_level(word), rel=0.05)
    assert speech_level(np.zeros(RATE, np.float32)) == 0
    assert speech_level(np.zeros(0, np.float32)) == 0


def test_a_mixture_never_clips_and_short_noise_is_repeated() -> None:
    speech = 0.9 * np.sin(np.arange(RATE) / 20).astype(np.float32)
    mixture = mix(speech, engine_noise(0.2, seed=1), -10)
    assert mixture.dtype == np.float32
    assert mixture.shape == speech.shape
    assert np.abs(mixture).max() <= 1
    assert rms(mixture[-1000:]) > 0.05


def test_silent_noise_is_an_error_and_silent_speech_is_none() -> None:
    with pytest.raises(ValueError, match="silent"):
        mix(np.ones(10, np.float32), np.zeros(10, np.float32), 0)
    noise = 0.1 * engine_noise(0.1, seed=1)
    assert np.allclose(mix(np.zeros(len(noise), np.float32), noise, 10), noise)


@pytest.mark.parametrize("voice", VOICES)
def test_every_technician_speaks(voice: str) -> None:
    said = speak("seven decimal five millimetres", voice)
    assert said.dtype == np.float32
    assert said.ndim == 1
    assert 0.8 < len(said) / RATE < 4
    assert np.abs(said).max() <= 1.05
    assert speech_level(said) > 0.01
    assert len(speak("seven decimal five millimetres, and then the belt", voice)) > 1.2 * len(said)


def test_no_two_technicians_are_one_and_none_is_the_assistant() -> None:
    heard = [speak("next", voice).tobytes() for voice in VOICES]
    assert len(set(heard)) == len(VOICES)
    assert VoiceSettings().voice not in {argument for speaker in _SPEAKERS.values() for argument in speaker.arguments}


def test_a_voice_kept_in_memory_cannot_be_spoilt() -> None:
    said = speak("next", VOICES[0])
    assert speak("next", VOICES[0]) is said
    with pytest.raises(ValueError, match="read-only"):
        said[0] = 1


def test_what_cannot_be_said(monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    with pytest.raises(VoiceError, match="none of this name"):
        speak("next", "parrot")
    with pytest.raises(VoiceError, match="nothing to say"):
        speak("  ", VOICES[0])
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(VoiceError, match="sudo apt install flite"):
        speak("a text never said before", "flite slt")


@pytest.mark.parametrize("voice", ["flite slt", "espeak scottish"])
def test_a_temporary_folder_that_takes_nothing_is_told_as_that(
    voice: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It was told as a program that failed, or ended the demonstration with a traceback."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(VoiceError, match="the temporary folder cannot be written"):
        speak("the folder is gone", voice)
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    full = shutil.disk_usage(tmp_path)._replace(free=0)
    monkeypatch.setattr(shutil, "disk_usage", lambda folder: full)
    with pytest.raises(VoiceError, match="No space left on device") as caught:
        speak("the folder is full", voice)
    assert "TMPDIR" in caught.value.remedy
