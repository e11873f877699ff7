"""How alike two phrases sound, judged from their pronunciation.

A phrase is a row of sounds; two phrases are as far apart as the sounds that must be changed, left out or put in, each
by how well an ear in noise tells the difference, over the weight of the heavier phrase. Stress and pauses are nothing.
Refuses to know voices and files, and which phrases meet: the table of pronunciations is passed in, `checks/sound.py`
and `enginebay words` say what is compared.

The weights are our own. They follow, from memory, Miller and Nicely (1955), "An analysis of perceptual confusions among
some English consonants": in noise the place of a consonant is lost first, its voice and its manner last, and what
hisses stays apart. Where vowels lie is from the chart in the Handbook of the IPA (1999), from memory too.

Over the shipped phrases that may be said at one moment no pair lies below 0.29 (`imperial gallon`, `imperial
quart`), and no hold phrase is nearer than 0.44 to a command allowed there. Pairs known to be confused (note and no,
wrong and one, fifteen and fifty) and phrases that differ in one sound (`next`, `text`) lie below 0.25. Volts and hours
come out at 0.51: their sounds alone do not explain that they were confused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache

from assistant.errors import GrammarError

Sounds = tuple[str, ...]
"""Sounds in the signs of the IPA, one after the other; a diphthong, a long vowel or an affricate is one sound."""
Pronunciations = Mapping[str, Sounds]
"""Word, in small letters, to its sounds."""

_VOWELS = {  # sign -> height (0 close, 1 open), backness (0 front, 1 back), rounded
    "i": (0.0, 0.0, 0), "ɪ": (0.2, 0.2, 0), "e": (0.35, 0.0, 0), "ɛ": (0.6, 0.05, 0), "æ": (0.85, 0.1, 0),
    "a": (0.95, 0.25, 0), "ɐ": (0.75, 0.5, 0), "ə": (0.5, 0.5, 0), "ɜ": (0.55, 0.5, 0), "ʌ": (0.7, 0.65, 0),
    "ɑ": (1.0, 0.9, 0), "ɒ": (0.95, 1.0, 1), "ɔ": (0.6, 1.0, 1), "o": (0.35, 1.0, 1), "ʊ": (0.2, 0.8, 1),
    "u": (0.0, 0.8, 1),
}  # fmt: skip
_STOP, _AFFRICATE, _FRICATIVE, _NASAL, _LIQUID, _GLIDE = 0.0, 0.2, 0.4, 0.75, 1.0, 1.2  # how open the mouth is
_CONSONANTS = {  # sign -> place (0 lips, 1 back of the mouth), manner, voice
    "p": (0.0, _STOP, 0), "b": (0.0, _STOP, 1), "t": (0.5, _STOP, 0), "d": (0.5, _STOP, 1), "ɾ": (0.5, _STOP, 1),
    "k": (1.0, _STOP, 0), "ɡ": (1.0, _STOP, 1), "ʔ": (1.0, _STOP, 0),
    "tʃ": (0.7, _AFFRICATE, 0), "dʒ": (0.7, _AFFRICATE, 1),
    "f": (0.1, _FRICATIVE, 0), "v": (0.1, _FRICATIVE, 1), "θ": (0.3, _FRICATIVE, 0), "ð": (0.3, _FRICATIVE, 1),
    "s": (0.5, _FRICATIVE, 0), "z": (0.5, _FRICATIVE, 1), "ʃ": (0.7, _FRICATIVE, 0), "ʒ": (0.7, _FRICATIVE, 1),
    "h": (1.0, _FRICATIVE, 0),
    "m": (0.0, _NASAL, 1), "n": (0.5, _NASAL, 1), "ŋ": (1.0, _NASAL, 1),
    "l": (0.5, _LIQUID, 1), "ɹ": (0.7, _LIQUID, 1), "r": (0.7, _LIQUID, 1),
    "w": (0.5, _GLIDE, 1), "j": (0.8, _GLIDE, 1),
}  # fmt: skip
_HISSING = frozenset(("s", "z", "ʃ", "ʒ", "tʃ", "dʒ"))
_LEFT_OUT = {_STOP: 0.4, _AFFRICATE: 0.6, _FRICATIVE: 0.4, _NASAL: 0.6, _LIQUID: 0.5, _GLIDE: 0.5}
_LEFT_OUT_SOUNDS = {"h": 0.25, "ʔ": 0.25, "ə": 0.6, "ɐ": 0.6, **dict.fromkeys(_HISSING, 0.6)}
_HALF_VOWELS = {"l": "əʊoɔ", "w": "ʊu", "j": "iɪ", "ɹ": "əɜ"}  # consonant -> the vowels that it is near: l in `volts`
_LENGTH = "ː"
_SIGNS = re.compile(rf"tʃ|dʒ|[{''.join(_VOWELS)}]{{1,3}}{_LENGTH}?|[{''.join(_CONSONANTS)}]")


def pronunciations(data: object, place: str = "pronunciations.yaml") -> Pronunciations:
    """Checks the content of a `pronunciations.yaml`. Errors: GrammarError naming the word or the sign."""
    if not isinstance(data, dict):
        raise GrammarError(place, "it is no table of words", "Write `word: its sounds`, such as `next: n ɛ k s t`")
    table: dict[str, Sounds] = {}
    for word, said in data.items():
        signs = tuple(str(said).split())
        wrong = next((sign for sign in signs if not _SIGNS.fullmatch(sign)), None)
        if wrong is not None or not signs:
            cause = f"{word!r} has no sounds" if wrong is None else f"{word!r} has the sign {wrong!r}, no sound"
            raise GrammarError(place, cause, "Write signs of the IPA with spaces between: `next: n ɛ k s t`")
        table[str(word)] = signs
    return table


def words_of(phrase: str) -> list[str]:
    """The words of a phrase as a table of pronunciations has them."""
    return phrase.lower().replace("-", " ").split()


def missing(phrase: str, table: Pronunciations) -> str | None:
    """The first word of the phrase that the table lacks; None when it has all."""
    return next((word for word in words_of(phrase) if word not in table), None)


def sounds(phrase: str, table: Pronunciations) -> Sounds:
    """The sounds of a phrase, word after word. Errors: KeyError for a word that is `missing`."""
    return tuple(sound for word in words_of(phrase) for sound in table[word])


@cache
def distance(one: Sounds, other: Sounds) -> float:
    """How far apart two phrases sound: 0 alike, 1 nothing in common."""
    above = [0.0]
    for sound in other:
        above.append(above[-1] + _weight(sound))
    longest = above[-1]
    left = 0.0
    for sound in one:
        weight = _weight(sound)
        left += weight
        row = [left]
        for at, heard in enumerate(other):
            row.append(min(above[at] + _apart(sound, heard), above[at + 1] + weight, row[at] + _weight(heard)))
        above = row
    return min(1.0, above[-1] / max(longest, left, 1e-9))


@cache
def _weight(sound: str) -> float:
    """How much it tells when a sound is left out or put in."""
    if sound in _LEFT_OUT_SOUNDS:
        return _LEFT_OUT_SOUNDS[sound]
    return _LEFT_OUT[_CONSONANTS[sound][1]] if sound in _CONSONANTS else 1.0


@cache
def _apart(one: str, other: str) -> float:
    """How well a sound is told from another: 0 the same, 1 always."""
    if one == other:
        return 0.0
    if one in _CONSONANTS and other in _CONSONANTS:
        (place, manner, voice), (place_, manner_, voice_) = _CONSONANTS[one], _CONSONANTS[other]
        hiss = (one in _HISSING) is not (other in _HISSING)
        return min(
            1.0, 0.3 * abs(place - place_) + min(0.5, abs(manner - manner_)) + 0.2 * abs(voice - voice_) + 0.25 * hiss
        )
    if one in _CONSONANTS or other in _CONSONANTS:
        consonant, vowel = (one, other) if one in _CONSONANTS else (other, one)
        if _CONSONANTS[consonant][1] < _LIQUID:
            return 1.0
        return 0.3 if vowel[-1] in _HALF_VOWELS.get(consonant, "") else 0.7
    begins, ends = (
        _vowels_apart(_VOWELS[one.rstrip(_LENGTH)[at]], _VOWELS[other.rstrip(_LENGTH)[at]]) for at in (0, -1)
    )
    return min(1.0, (begins + ends) / 2 + 0.1 * ((_LENGTH in one) is not (_LENGTH in other)))


def _vowels_apart(one: tuple[float, float, int], other: tuple[float, float, int]) -> float:
    return min(1.0, 0.6 * abs(one[0] - other[0]) + 0.4 * abs(one[1] - other[1]) + 0.1 * abs(one[2] - other[2]))
