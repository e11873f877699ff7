"""Things to say that are nobody's phrases: numbers in many shapes, made-up sentences, words alone, syllables.

Knows English templates and any list of words it is given. Refuses to know the assistant's grammar: what is learnt here
must serve a grammar that nobody has written yet.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

_DIGITS = "zero one two three four five six seven eight nine".split()  # noqa: SIM905 - reads better
_TEENS = (
    "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()  # noqa: SIM905 - reads better
)
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()  # noqa: SIM905 - reads better
_THINGS = (
    "minutes", "pounds", "per cent", "miles", "people", "metres", "boxes", "days", "bottles", "pages", "tickets",
    "inches", "ohms", "grams", "seats", "points", "years", "watts", "litres", "bars", "steps", "degrees",
)  # fmt: skip
_WHO = (
    "the teacher", "my neighbour", "our new driver", "a young doctor", "the old captain", "she", "he", "they", "we",
    "somebody", "the people next door", "your brother", "the committee", "a small dog", "the first visitor", "I",
)  # fmt: skip
_DOES = (
    "found", "carried", "painted", "asked about", "forgot", "wanted", "would rather keep", "has never seen", "bought",
    "is looking for", "opened", "closed", "wrote down", "might need", "cannot move", "will bring", "measured", "lost",
)  # fmt: skip
_WHAT = (
    "the garden gate", "a bag of flour", "three blue chairs", "the morning paper", "his winter coat", "a new map",
    "the long bridge", "fresh bread", "the wrong address", "two pairs of shoes", "the kitchen window", "a cup of tea",
    "every photograph", "the last train", "some better advice", "a piece of string", "the yellow bucket", "the piano",
)  # fmt: skip
_WHEN = (
    "yesterday", "before lunch", "in the spring", "on Tuesday", "without a word", "near the harbour", "at the station",
    "after the rain", "every other week", "as quickly as possible", "in the back of the van", "when it was dark", "",
)  # fmt: skip
_ASKS = ("do you know if", "please tell me why", "is it true that", "I am sure that", "perhaps", "they say that")


def _number(chance: random.Random) -> str:
    kind = chance.randrange(6)
    if kind == 0:
        return " ".join(chance.choice(_DIGITS) for _ in range(chance.randint(1, 6)))
    if kind == 1:
        return chance.choice(_DIGITS + _TEENS + _TENS)
    tens = chance.choice(_TENS) + chance.choice(["", f" {chance.choice(_DIGITS[1:])}"])
    if kind == 2:
        return tens
    small = chance.choice([tens, chance.choice(_TEENS), chance.choice(_DIGITS)])
    if kind == 3:
        return f"{small} point {' '.join(chance.choice(_DIGITS) for _ in range(chance.randint(1, 3)))}"
    hundreds = f"{chance.choice(_DIGITS[1:])} hundred{chance.choice(['', f' and {tens}', f' {small}'])}"
    if kind == 4:
        return hundreds
    return f"{chance.choice(_DIGITS[1:])} thousand {hundreds}"


def _sentence(chance: random.Random) -> str:
    said = f"{chance.choice(_WHO)} {chance.choice(_DOES)} {chance.choice(_WHAT)} {chance.choice(_WHEN)}".strip()
    return f"{chance.choice(_ASKS)} {said}" if chance.random() < 0.3 else said


def english(chance: random.Random, words: Sequence[str]) -> str:
    """One thing to say in English: a number with or without a thing, a sentence, or one to five of these words."""
    kind = chance.random()
    if kind < 0.4:
        return _number(chance) + (f" {chance.choice(_THINGS)}" if chance.random() < 0.5 else "")
    if kind < 0.65:
        return _sentence(chance)
    return " ".join(chance.choice(words) for _ in range(chance.choice((1, 1, 2, 2, 3, 5))))


def syllables(chance: random.Random) -> str:
    """One to four words of no language, for voices that do not read English."""

    def word() -> str:
        return "".join(
            chance.choice("bdfgklmnprstvz") + chance.choice("aeiou") + chance.choice(["", "", "n", "s", "r"])
            for _ in range(chance.randint(1, 4))
        )

    return " ".join(word() for _ in range(chance.randint(1, 4)))


_UNITS = (
    "volts", "amps", "hertz", "millimetres", "metres", "newtons", "bar", "litres", "degrees", "hours", "seconds",
    "percent", "turns", "kilograms", "kilometres", "pounds", "inches", "feet", "watts", "ohms", "grams", "miles",
)  # fmt: skip
_DO = ("open", "close", "turn", "lift", "press", "check", "hold", "find", "move", "take", "leave", "clean", "look at")
_IT = (
    "the door", "the red handle", "both windows", "the next page", "a little more", "that again", "this one", "the key",
    "the other side", "it slowly", "all of them", "the second one", "the small lamp", "your hands", "the last line",
)  # fmt: skip
_SHORT = (
    "all right", "not yet", "go on", "wait a moment", "that is it", "one more time", "nothing there", "it is empty",
    "both of them", "ready now", "too high", "too low", "a bit less", "what was that", "where is it", "who goes there",
    "nothing moves", "it is dry", "still wet", "looks fine", "take it away", "come back later", "the same as before",
)  # fmt: skip


def _figures(chance: random.Random, most: int = 99_999) -> str:
    """A whole number of up to five figures in words, each number of figures as likely."""
    figures = chance.randint(1, len(str(most)))
    number = chance.randint(0 if figures == 1 else 10 ** (figures - 1), 10**figures - 1)
    return _in_words(number, chance)


def _in_words(number: int, chance: random.Random) -> str:
    if number >= 1000:
        rest = number % 1000
        joint = " and " if 0 < rest < 100 and chance.random() < 0.7 else " "
        tail = joint + _in_words(rest, chance) if rest else ""
        return f"{_in_words(number // 1000, chance)} thousand{tail}"
    if number >= 100:
        rest = number % 100
        joint = " and " if chance.random() < 0.7 else " "
        return f"{_DIGITS[number // 100]} hundred" + (joint + _in_words(rest, chance) if rest else "")
    if number >= 20:
        return _TENS[number // 10 - 2] + (f" {_DIGITS[number % 10]}" if number % 10 else "")
    return _TEENS[number - 10] if number >= 10 else _DIGITS[number]


def figures(chance: random.Random) -> str:
    """A number as people read it off: in words or digit by digit, sometimes with decimals, below zero, with a unit."""
    if chance.random() < 0.35:
        said = " ".join(chance.choice(_DIGITS) for _ in range(chance.randint(2, 6)))
    else:
        said = _figures(chance)
    if chance.random() < 0.45:
        point = "point" if chance.random() < 0.6 else "decimal"
        said += f" {point} " + " ".join(chance.choice(_DIGITS) for _ in range(chance.choice((1, 1, 1, 2, 2, 3))))
    if chance.random() < 0.06:
        said = f"minus {said}"
    return said + (f" {chance.choice(_UNITS)}" if chance.random() < 0.5 else "")


def taught(chance: random.Random, words: Sequence[str]) -> str:
    """One thing to say whose text is learnt: half of them numbers, the rest short requests, sentences and words."""
    kind = chance.random()
    if kind < 0.5:
        return figures(chance)
    if kind < 0.62:
        return f"{chance.choice(_DO)} {chance.choice(_IT)}"
    if kind < 0.7:
        return chance.choice(_SHORT)
    if kind < 0.82:
        return _sentence(chance)
    return " ".join(chance.choice(words) for _ in range(chance.choice((1, 1, 2, 2, 3, 4)))).lower()
