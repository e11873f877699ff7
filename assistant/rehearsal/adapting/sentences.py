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
