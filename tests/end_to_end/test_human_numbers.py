"""Real people: the recordings of numbers in Debian's package `asterisk-core-sounds-en-wav`, through `hear`.

One professional speaker, 8 kHz: the cardinals (`5.wav` is "five") and the ordinals (`h-5.wav` is "fifth"). They were
recorded for telephone systems and know nothing of this program: an outside check of model, grammar, forms and decoding.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.edge import places
from assistant.edge.sound.hear import hear_files
from assistant.edge.sound.sound_files import read_sound
from assistant.grammar.tagged import fold
from assistant.rehearsal.noise import engine_noise, mix

FOLDERS = sorted(Path("/usr/share/asterisk/sounds").glob("en*/digits"))  # where the package puts them
NUMBERS = (*range(21), *range(30, 100, 10))

if not FOLDERS and "CI" not in os.environ:
    pytest.skip("install asterisk-core-sounds-en-wav to run this outside check", allow_module_level=True)


def recordings() -> list[tuple[int, Path]]:
    assert FOLDERS, "the package asterisk-core-sounds-en-wav is not installed"
    return [(number, FOLDERS[0] / f"{number}.wav") for number in NUMBERS]


def share_right(numbers: list[int], paths: list[Path], report: str, record_property: object) -> tuple[float, float]:
    """(share understood, share accepted and right); every number of the shipped grammar is in the running."""
    grammar = places.grammars() / "en" / "numbers.jsgf"
    answers = list(hear_files(grammar, "number", "bundled", None, paths))
    right = [bool(a["tags"]) and fold(a["tags"]) == n for n, a in zip(numbers, answers, strict=True)]  # type: ignore[arg-type]  # JSON values
    accepted = [r and bool(a["accepted"]) for r, a in zip(right, answers, strict=True)]
    understood, passed = sum(right) / len(right), sum(accepted) / len(right)
    assert callable(record_property)
    record_property(report, f"{understood:.3f} understood, {passed:.3f} accepted, of {len(right)}")
    print(f"{report}: {understood:.3f} understood, {passed:.3f} accepted, of {len(right)}")
    return understood, passed


def test_numbers_said_by_a_person(record_property: object) -> None:
    said = recordings()
    assert len(said) == 28
    understood, passed = share_right([n for n, _ in said], [p for _, p in said], "clean", record_property)
    assert understood >= 0.96
    assert passed >= 0.9


def test_numbers_said_by_a_person_beside_an_engine(tmp_path: Path, record_property: object) -> None:
    numbers, paths = [], []
    for at, (number, path) in enumerate(recordings()):
        sound = np.pad(read_sound(path), 4000)
        paths.append(tmp_path / f"{at}.wav")
        numbers.append(number)
        soundfile.write(paths[-1], mix(sound, engine_noise(len(sound) / 16000, at), 10.0), 16000)
    understood, _ = share_right(numbers, paths, "10 dB", record_property)
    assert understood >= 0.8


def test_longer_numbers_put_together_from_one_person_s_words(tmp_path: Path, record_property: object) -> None:
    folder = recordings()[0][1].parent
    spoken = {
        230: "2 hundred 30", 415: "4 hundred 15", 1500: "15 hundred", 3000: "3 thousand", -12: "minus 12", 99: "90 9",
        720: "7 hundred 20", 12000: "12 thousand", 606: "6 hundred 6", -40: "minus 40", 847: "8 hundred 40 7",
        53: "50 3",
    }  # fmt: skip
    paths = []
    for number, words in spoken.items():
        sound = np.concatenate([read_sound(folder / f"{word}.wav") for word in words.split()])
        paths.append(tmp_path / f"{number}.wav")
        soundfile.write(paths[-1], sound, 16000)
    understood, _ = share_right(list(spoken), paths, "put together", record_property)
    assert understood >= 0.8


ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
    "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth",
    "twentieth", "thirtieth", "fortieth", "fiftieth", "sixtieth", "seventieth", "eightieth", "ninetieth",
)  # fmt: skip


def test_ordinals_in_a_grammar_that_is_not_ours(tmp_path: Path, record_property: object) -> None:
    grammar = tmp_path / "ordinals.jsgf"
    choices = " | ".join(f"{word} {{{number}}}" for word, number in zip(ORDINALS, NUMBERS[1:], strict=True))
    grammar.write_text(f"#JSGF V1.0 UTF-8 en;\ngrammar ordinals;\npublic <which> = [the] ({choices});\n")
    paths = [FOLDERS[0] / f"h-{number}.wav" for number in NUMBERS[1:]]
    answers = list(hear_files(grammar, None, "bundled", None, paths))
    right = [
        a["tags"] == [str(n)] and word in str(a["text"])
        for n, word, a in zip(NUMBERS[1:], ORDINALS, answers, strict=True)
    ]
    assert callable(record_property)
    record_property("ordinals", f"{sum(right)} of {len(right)}")
    print(f"ordinals: {sum(right)} of {len(right)}")
    assert sum(right) / len(right) >= 0.85
