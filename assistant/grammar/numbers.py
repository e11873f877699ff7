"""English numbers both ways: a decimal -> words, words -> decimal, with the resolution kept (7.50 is not 7.5).

Knows the words and how they add up. Refuses to know units, and what is believable: whatever can be said has a value.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

from assistant.errors import QuantityError

DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
TEENS = (
    "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")

VALUES: dict[str, int] = {
    **{word: value for value, word in enumerate(DIGITS)},
    **{word: 10 + at for at, word in enumerate(TEENS)},
    **{word: 20 + 10 * at for at, word in enumerate(TENS)},
    "oh": 0,
    "nought": 0,
    "niner": 9,
}
"""What each word is worth by itself."""

POINTS = ("point", "decimal")
MINUS = "minus"
HUNDRED, THOUSAND = "x100", "x1000"

TAGS: dict[str, str] = {
    **{word: str(value) for word, value in VALUES.items()},
    **dict.fromkeys(POINTS, "."),
    MINUS: "-",
    "a": "1",
    "hundred": HUNDRED,
    "thousand": THOUSAND,
}
"""The tag of each word in `numbers.jsgf`; `and` has none."""

MAX_NUMBER, MAX_DECIMALS = 99_999, 3
"""What can be said: -99,999.999 to 99,999.999."""


def is_number_tag(tag: str) -> bool:
    """Whether this tag is one of those that `fold` adds up."""
    return tag in ("-", ".", HUNDRED, THOUSAND) or tag.isdecimal()


def fold(tags: Iterable[str]) -> Decimal:
    """`["1", "x100", "20", ".", "5"]` -> 120.5; `["1", "2", "."," 6"]` -> 12.6.

    Words that stand side by side and do not add up are digits in a row: `two thirty` is 230, `one two` is 12.
    Errors: QuantityError when the tags are no number.
    """
    tags = tuple(tags)
    sign, whole, fraction, thousands = "", "", None, 0
    last, added = -1, False  # the value of the word before; whether `hundred` came before
    for tag in tags:
        if tag == "-":
            sign = "-"
        elif tag == ".":
            fraction, last, added = "", -1, False
        elif tag == HUNDRED:
            whole, last, added = str(int(whole or "1") * 100), -1, True
        elif tag == THOUSAND:
            thousands, whole, last, added = int(whole or "1") * 1000, "", -1, False
        elif tag.isdecimal():
            value = int(tag)
            adds = 20 <= last <= 90 and 1 <= value <= 9
            if fraction is not None:
                fraction = fraction[:-1] + tag if adds else fraction + tag
            elif added or adds:
                whole = str(int(whole) + value)
                added = False
            else:
                whole += tag
            last = value
        else:
            raise QuantityError("number", f"{tag!r} is no part of a number", "Use the tags of numbers.jsgf")
    if not whole and not fraction and not thousands:
        raise QuantityError("number", f"{' '.join(tags)!r} holds no digit", "Say a number")
    integer = str(thousands + int(whole or "0"))
    return Decimal(f"{sign}{integer}" + (f".{fraction}" if fraction else ""))


def parse(words: str) -> Decimal:
    """The value of number words, with its resolution. Errors: QuantityError for a word that is none."""
    tags = []
    for word in words.lower().replace("-", " ").split():
        if word == "and":
            continue
        if word not in TAGS:
            raise QuantityError("number", f"{word!r} is no number word", "Say a number such as twelve point six")
        tags.append(TAGS[word])
    return fold(tags)


def can_be_said(value: Decimal) -> bool:
    """Whether `say_number` and `say_digits` have words for this."""
    exponent = value.as_tuple().exponent
    return isinstance(exponent, int) and -MAX_DECIMALS <= exponent <= 0 and abs(value) < MAX_NUMBER + 1


def _parts(value: Decimal) -> tuple[bool, int, str]:
    if not can_be_said(value):
        raise QuantityError(
            "number", f"{value} cannot be said", f"Use up to {MAX_NUMBER:,} and {MAX_DECIMALS} decimals"
        )
    whole, _, fraction = f"{abs(value):f}".partition(".")
    return value.is_signed(), int(whole), fraction


def cardinal(value: int) -> list[str]:
    """The words of 0 to 999,999: `one hundred and twenty`."""
    if value < 10:
        return [DIGITS[value]]
    if value < 20:
        return [TEENS[value - 10]]
    if value < 100:
        return [TENS[value // 10 - 2]] + ([DIGITS[value % 10]] if value % 10 else [])
    if value < 1000:
        rest = value % 100
        return [DIGITS[value // 100], "hundred"] + (["and", *cardinal(rest)] if rest else [])
    rest = value % 1000
    joined = (["and"] if rest < 100 else []) + cardinal(rest) if rest else []
    return [*cardinal(value // 1000), "thousand", *joined]


def say_number(value: Decimal) -> str:
    """As people say it: `minus twelve point five zero`. Errors: QuantityError beyond what can be said."""
    negative, whole, fraction = _parts(value)
    words = [MINUS] if negative else []
    words += cardinal(whole)
    if fraction:
        words += ["point", *(DIGITS[int(digit)] for digit in fraction)]
    return " ".join(words)


def say_digits(value: Decimal) -> str:
    """Digit by digit, as it is read back: `one two decimal six`. Errors: QuantityError beyond what can be said."""
    negative, whole, fraction = _parts(value)
    spoken = [word if word != "nine" else "niner" for word in DIGITS]
    words = [MINUS] if negative else []
    words += [spoken[int(digit)] for digit in str(whole)]
    if fraction:
        words += ["decimal", *(spoken[int(digit)] for digit in fraction)]
    return " ".join(words)
