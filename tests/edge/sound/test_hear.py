"""The logic of `hear`: one answer a file, whatever the file; grammars beside each other; a large grammar."""

from __future__ import annotations

import os
import runpy
import struct
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.edge.files.grammars import forms_of, grammars_in
from assistant.edge.sound.hear import KEYS, graph_of, hear_files
from assistant.edge.sound.recognisers.bundled import BundledRecogniser
from assistant.edge.sound.sound_files import flac, read_sound
from assistant.errors import AudioError, EngineBayError, GrammarError
from assistant.grammar.graph import compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.rehearsal.technician_voice import speak

large_grammar = runpy.run_path(str(Path(__file__).parents[2] / "bench" / "large_grammar.py"))["large_grammar"]

GRAMMAR = """#JSGF V1.0 UTF-8 en;
grammar doors;
import <com.site.places.*>;
public <order> = (open {OPEN} | close {SHUT}) the <place>;
public <stop> = stand still {STOP};
"""
PLACES = "#JSGF V1.0 UTF-8 en;\ngrammar com.site.places;\npublic <place> = (engine room {1} | galley {2});\n"


@pytest.fixture
def doors(tmp_path: Path) -> Path:
    (tmp_path / "doors.jsgf").write_text(GRAMMAR)
    (tmp_path / "places.jsgf").write_text(PLACES)
    return tmp_path / "doors.jsgf"


def wav(path: Path, text: str, rate: int = 16_000, channels: int = 1, subtype: str = "PCM_16") -> Path:
    import soxr

    sound = np.pad(speak(text, "flite slt"), 3200)
    sound = soxr.resample(sound, 16_000, rate)
    soundfile.write(path, np.stack([sound] * channels, axis=1), rate, subtype=subtype)
    return path


def test_one_answer_a_file_with_exactly_these_keys(doors: Path, tmp_path: Path) -> None:
    files = [wav(tmp_path / "a.wav", "open the galley"), wav(tmp_path / "b.wav", "stand still")]
    answers = list(hear_files(doors, None, "bundled", None, files))
    assert [tuple(answer) for answer in answers] == [KEYS, KEYS]
    assert answers[0]["text"] == "open the galley"
    assert answers[0]["tags"] == ["OPEN", "2"]
    assert answers[1]["tags"] == ["STOP"]
    assert all(answer["accepted"] is True and answer["confidence"] > 0.6 for answer in answers)  # type: ignore[operator]  # a number
    assert answers[0]["file"] == str(files[0])
    assert abs(float(str(answers[0]["seconds_audio"])) - soundfile.info(files[0]).duration) < 0.01


@pytest.mark.parametrize(
    ("rate", "channels", "subtype"),
    [(8_000, 1, "PCM_16"), (44_100, 2, "PCM_24"), (48_000, 1, "FLOAT"), (22_050, 2, "PCM_U8"), (11_025, 1, "ULAW")],
)
def test_any_rate_mono_or_stereo(doors: Path, tmp_path: Path, rate: int, channels: int, subtype: str) -> None:
    file = wav(tmp_path / "a.wav", "close the engine room", rate, channels, subtype)
    (answer,) = hear_files(doors, "order", "bundled", None, [file])
    assert (answer["text"], answer["tags"]) == ("close the engine room", ["SHUT", "1"])


def test_a_file_that_cannot_be_read_has_its_error_and_the_rest_goes_on(doors: Path, tmp_path: Path) -> None:
    good = wav(tmp_path / "good.wav", "open the galley")
    empty, cut, text, header = (tmp_path / name for name in ("empty.wav", "cut.wav", "text.wav", "header.wav"))
    empty.touch()
    cut.write_bytes(good.read_bytes()[:9000])
    text.write_text("this is no sound")
    header.write_bytes(good.read_bytes()[:44])
    files = [empty, cut, text, header, tmp_path / "nowhere.wav", tmp_path, good]
    answers = list(hear_files(doors, None, "bundled", None, files))
    assert len(answers) == len(files)
    for answer in answers[:-1]:
        assert set(answer) == {*KEYS, "error"}
        assert answer["error"]
        assert (answer["text"], answer["tags"], answer["accepted"], answer["confidence"]) == ("", [], False, None)
    assert "error" not in answers[-1]
    assert answers[-1]["text"] == "open the galley"


def test_the_best_path_is_told_even_when_it_is_not_accepted(doors: Path, tmp_path: Path) -> None:
    file = wav(tmp_path / "a.wav", "what time is lunch on Friday")
    silence = tmp_path / "silence.wav"
    soundfile.write(silence, np.zeros(16_000), 16_000)
    for answer in hear_files(doors, None, "bundled", None, [file, silence]):
        assert answer["accepted"] is False
        assert answer["text"]
        assert answer["tags"]


def test_a_rule_leaves_the_others_out(doors: Path, tmp_path: Path) -> None:
    file = wav(tmp_path / "a.wav", "open the galley")
    (answer,) = hear_files(doors, "stop", "bundled", None, [file])
    assert (answer["text"], answer["accepted"]) == ("stand still", False)
    with pytest.raises(GrammarError, match="no rule 'nothing'"):
        hear_files(doors, "nothing", "bundled", None, [file])


def test_errors_come_before_the_first_answer(doors: Path, tmp_path: Path) -> None:
    with pytest.raises(GrammarError, match="cannot be read"):
        hear_files(tmp_path / "nowhere.jsgf", None, "bundled", None, [])
    (tmp_path / "places.jsgf").unlink()
    with pytest.raises(GrammarError, match="was not found") as caught:
        hear_files(doors, None, "bundled", None, [])
    assert "line 3" in caught.value.place
    (tmp_path / "places.jsgf").write_text(PLACES)
    with pytest.raises(EngineBayError, match="there is no engine"):
        hear_files(doors, None, "ears", None, [])


@pytest.mark.parametrize("name", ["com.site.places.jsgf", "places.jsgf", "com/site/places.jsgf"])
def test_imports_resolve_beside_the_file(tmp_path: Path, name: str) -> None:
    (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / name).write_text(PLACES)
    (tmp_path / "doors.jsgf").write_text(GRAMMAR)
    assert "galley" in graph_of(tmp_path / "doors.jsgf").words
    assert grammars_in(tmp_path)("com.site.nothing") is None


def test_a_grammar_in_another_encoding(tmp_path: Path) -> None:
    path = tmp_path / "cafe.jsgf"
    path.write_bytes("#JSGF V1.0 ISO-8859-1 fr;\ngrammar cafe;\npublic <a> = café;\n".encode("latin-1"))
    assert graph_of(path).words == ("café",)
    path.write_bytes("#JSGF V1.0 UTF-8 fr;\ngrammar cafe;\npublic <a> = café;\n".encode("latin-1"))
    with pytest.raises(GrammarError, match="it is not UTF-8"):
        graph_of(path)


def test_a_clip_comes_back_as_it_went(tmp_path: Path) -> None:
    sound = speak("next", "flite slt")
    (tmp_path / "clip.flac").write_bytes(flac(sound))
    assert flac(sound) == flac(sound)
    assert np.abs(read_sound(tmp_path / "clip.flac") - np.clip(sound, -1, 1)).max() < 1e-4


def test_a_recording_of_an_hour_is_refused(tmp_path: Path) -> None:
    soundfile.write(tmp_path / "long.wav", np.zeros(8_000 * 61), 8_000)
    with pytest.raises(AudioError, match="longer than 60 s"):
        read_sound(tmp_path / "long.wav")


def packed(path: Path, rate: int, data: bytes, bits: int = 16, channels: int = 1, form: int = 1) -> Path:
    """A WAV file by hand, whatever its header says."""
    frame = channels * bits // 8
    chunk = struct.pack("<HHIIHH", form, channels, rate, rate * frame % 2**32, frame, bits)
    size = struct.pack("<I", 36 + len(data))
    path.write_bytes(
        b"RIFF" + size + b"WAVEfmt " + struct.pack("<I", 16) + chunk + b"data" + struct.pack("<I", len(data)) + data
    )
    return path


def test_a_rate_that_no_microphone_has_is_refused(tmp_path: Path) -> None:
    """A sound of one sample a second was stretched 16,000 times, and one of ten million took gigabytes."""
    for rate in (1, 3_999, 400_001, 10_000_000):
        with pytest.raises(AudioError, match="which no microphone records"):
            read_sound(packed(tmp_path / "odd.wav", rate, b"\0\1" * 50))
    for rate in (0, 2**32 - 1):
        with pytest.raises(AudioError):
            read_sound(packed(tmp_path / "odd.wav", rate, b"\0\1" * 50))
    assert len(read_sound(packed(tmp_path / "low.wav", 4_000, b"\0\1" * 4_000))) == pytest.approx(16_000, abs=10)


def test_samples_that_are_no_number_are_silent(tmp_path: Path) -> None:
    """One sample without a number in it made a second of sound around it none, and one at 3e38 all of it."""
    for odd in (float("nan"), float("inf"), -float("inf")):
        data = struct.pack("<3f", 0.25, odd, 0.25) * 16_000
        sound = read_sound(packed(tmp_path / "odd.wav", 48_000, data, 32, 1, 3))
        assert np.isfinite(sound).all()
        assert np.abs(sound).max() <= 1
        assert 0.1 < np.abs(sound[1_000:-1_000]).mean() < 0.3
    loud = read_sound(packed(tmp_path / "loud.wav", 44_100, struct.pack("<2f", 3e38, 3e38) * 44_100, 32, 2, 3))
    assert np.isfinite(loud).all()


def test_what_is_no_sound_file_is_not_waited_for(tmp_path: Path) -> None:
    """A file named `.raw` ended in a traceback, and of a pipe it was said that there is no such file."""
    os.mkfifo(tmp_path / "pipe.wav")
    for path in (tmp_path / "pipe.wav", tmp_path, Path("/dev/zero")):
        with pytest.raises(AudioError, match="no regular file"):
            read_sound(path)
    (tmp_path / "sound.raw").write_bytes(b"abc" * 1000)
    with pytest.raises(AudioError, match="cannot be read as sound"):
        read_sound(tmp_path / "sound.raw")
    with pytest.raises(AudioError, match="cannot be read"):
        read_sound(tmp_path / ("x" * 300))


def test_many_channels_and_many_chunks_take_no_memory(tmp_path: Path) -> None:
    """A minute of a thousand channels was read whole, and empty chunks before the sound were all walked through."""
    sound = read_sound(packed(tmp_path / "wide.wav", 16_000, struct.pack("<h", 8192) * 500 * 16_000, 16, 500))
    assert len(sound) == 16_000
    assert sound.mean() == pytest.approx(0.25, abs=1e-3)
    (tmp_path / "chunks.wav").write_bytes(b"RIFF\xff\xff\xff\x7fWAVE" + b"LIST\0\0\0\0" * 3_000_000)
    with pytest.raises(AudioError):
        read_sound(tmp_path / "chunks.wav")


def test_eighty_alternatives_over_nine_slots() -> None:
    text, sentences = large_grammar()
    graph = compile_grammar(parse_grammar(text, "large.jsgf"))
    assert graph.nodes > 5_000
    recogniser = BundledRecogniser(forms_of())
    assert recogniser.prepare(graph) == ()
    right = 0
    for number in (3, 37, 66):
        assert len(sentences[number].split()) >= 18
        right += recogniser.hear(speak(sentences[number], "flite slt slow"), graph).paths[0].saying.tags == (
            f"a{number}",
        )
    assert right >= 2
