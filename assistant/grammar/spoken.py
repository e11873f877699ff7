"""Messages as people say them: units, signs, oil grades and part numbers become words.

Knows the shapes in which such things are written. Refuses to know a language: every word comes from the table
that is passed in (`grammars/<language>/spoken.yaml`, and `units.jsgf`), and reading those files is the caller's task.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from assistant.errors import WordingError
from assistant.quantities import counted

_NUMBER = r"\d+(?:\.\d+)?"
_SIGNED = rf"[-−]?{_NUMBER}"
_BEFORE = r"(?<![\w.,/-])"  # a number begins here, not inside a word, a date or another number
_GRADE = re.compile(rf"{_BEFORE}(\d{{1,2}})W-(\d{{2}})(?![\w-])")
_CODE = re.compile(r"(?<![\w.-])(?=[A-Z0-9-]*[A-Z])(?=[A-Z0-9-]*\d)[A-Z0-9]+(?:-[A-Z0-9]+)*(?![\w-])")
_LETTER = re.compile("[A-Za-z]")
_THREAD = re.compile(r"([A-Z])(\d{1,2})")
_MINUS = re.compile(rf"(?<![\w.,/)-])[-−](?={_NUMBER})")
_DASH_RANGE = re.compile(rf"{_BEFORE}({_NUMBER})\s*–\s*(?={_NUMBER})")


@dataclass(frozen=True, slots=True)
class SpokenForms:
    """The words of one language.

    units: symbol -> (after the number 1, after any other).
    after_number: symbols that are only said after a number, for they are words or signs of their own (`in`).
    before: unit that is a word too (`in`) -> words before which it is the unit, besides a stop and the end.
    fractions: sign -> (by itself, after a whole number).
    symbols: sign -> words.
    letters: capital -> how the voice must be given it.
    articles: words after which an amount describes a thing ("a 10 amp fuse").
    minus, to, per, and_: words.
    oil_grade: pattern with `{cold}` and `{hot}`.
    ones: words of 0 to 19.
    tens: words of 20 to 90.
    """

    units: Mapping[str, tuple[str, str]]
    after_number: tuple[str, ...]
    before: Mapping[str, tuple[str, ...]]
    fractions: Mapping[str, tuple[str, str]]
    symbols: Mapping[str, str]
    letters: Mapping[str, str]
    articles: tuple[str, ...]
    minus: str
    to: str
    per: str
    and_: str
    oil_grade: str
    ones: tuple[str, ...]
    tens: tuple[str, ...]
    _patterns: dict[str, re.Pattern[str]] = field(default_factory=dict, repr=False, compare=False)

    @property
    def alone(self) -> tuple[str, ...]:
        """Symbols that are said without a number too: none that is a letter, and none of `after_number`."""
        return tuple(
            symbol for symbol in self.units if not _LETTER.fullmatch(symbol) and symbol not in self.after_number
        )

    def __post_init__(self) -> None:
        unit = _any_of(self.units, self.before)
        article = _any_of(dict.fromkeys(self.articles))
        rate = rf"{unit}(?:/{unit})?"
        fraction = _any_of(self.fractions)
        self._patterns.update(
            range=re.compile(rf"{_BEFORE}({_SIGNED})\s?[-–]\s?({_NUMBER})\s?({rate})(?!\w)"),
            span=re.compile(rf"{_BEFORE}({_SIGNED})\s?({rate}) {re.escape(self.to)} ({_SIGNED})\s?({rate})(?!\w)"),
            fraction=re.compile(rf"(?:(?<![\w.,/])(?<!\w[-–])(\d+)\s?)?({fraction})(?:\s?({rate})(?!\w))?"),
            fractions=re.compile(
                rf"({fraction})\s*[-–]\s*(?=\d|{fraction})|{_BEFORE}({_NUMBER})\s*[-–]\s*(?=(?:\d+\s?)?{fraction})"
            ),
            described=re.compile(rf"(?<!\w)({article}) ({_SIGNED})\s?({rate})(?=\s\w)", re.IGNORECASE),
            amount=re.compile(rf"{_BEFORE}({_SIGNED})\s?({rate})(?!\w)"),
            alone=re.compile(rf"(?<!\w)({_any_of(dict.fromkeys(self.alone))})(?!\w)"),
            symbol=re.compile(rf"\s*({_any_of(self.symbols)})\s*"),
        )


def spoken_forms(
    data: object, place: str = "spoken.yaml", heard: Mapping[str, tuple[str, str]] | None = None
) -> SpokenForms:
    """Checks the content of a `spoken.yaml`.

    heard: how units are said by the rules that hear them (`words_of_units`); a row of the file counts before it.
    Errors: WordingError naming the key that is wrong.
    """
    if not isinstance(data, dict):
        raise WordingError(place, "the file is not a table of keys", "Start from the English spoken.yaml")

    def table(key: str) -> dict[str, object]:
        value = data.get(key)
        if not isinstance(value, dict) or not all(isinstance(k, str) for k in value):
            raise WordingError(place, f"{key!r} is missing or no table of texts", "Start from the English spoken.yaml")
        return value

    def word(owner: Mapping[str, object], key: str) -> str:
        value = owner.get(key)
        if not isinstance(value, str):
            raise WordingError(place, f"{key!r} is missing or no text", "Give it in quotes")
        return value

    def words(owner: Mapping[str, object], key: str, count: int | None = None) -> tuple[str, ...]:
        value = owner.get(key)
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            raise WordingError(place, f"{key!r} is missing or no list of texts", "Give a list, each text in quotes")
        if count is not None and len(value) != count:
            raise WordingError(place, f"{key!r} has {counted(len(value), 'text')} and needs {count}", "Give every one")
        return tuple(value)

    def pairs(key: str) -> dict[str, tuple[str, str]]:
        return {sign: (pair[0], pair[1]) for sign in table(key) for pair in (words(table(key), sign, 2),)}

    units = {**(heard or {}), **pairs("units")}
    after_number = words(data, "after_number")
    for symbol in after_number:
        if symbol not in units:
            raise WordingError(
                place, f"{symbol!r} under 'after_number' is no unit", "Remove it, or list it under 'units'"
            )
    grade = word(data, "oil_grade")
    if "{cold}" not in grade or "{hot}" not in grade:
        raise WordingError(place, "'oil_grade' lacks {cold} or {hot}", 'Write a pattern such as "{cold} W {hot}"')
    return SpokenForms(
        units=units,
        after_number=after_number,
        before={unit: words(table("before"), unit) for unit in table("before")},
        fractions=pairs("fractions"),
        symbols={sign: word(table("symbols"), sign) for sign in table("symbols")},
        letters={letter: word(table("letters"), letter) for letter in table("letters")},
        articles=words(data, "articles"),
        minus=word(data, "minus"),
        to=word(data, "to"),
        per=word(data, "per"),
        and_=word(data, "and"),
        oil_grade=grade,
        ones=words(data, "ones", 20),
        tens=words(data, "tens", 8),
    )


def spoken(text: str, table: SpokenForms) -> str:
    """The text with units, signs, oil grades and part numbers as people say them; numbers stay in digits.

    `7.5 mm` -> `7.5 millimetres`; `3-4 N.m` -> `3 to 4 newton metres`; `10W-30` -> `ten W thirty`.
    Applying it again changes nothing. What it does not know stays as it is.
    """
    at = table._patterns

    def unit(written: str, single: bool) -> str:
        first, _, second = written.partition("/")
        said = table.units[first][0 if single else 1]
        return f"{said} {table.per} {table.units[second][0]}" if second else said

    def signed(number: str) -> str:
        return f"{table.minus} {number[1:]}" if number[0] in "-−" else number

    def amount(number: str, symbol: str) -> str:
        return f"{signed(number)} {unit(symbol, number.lstrip('-−') == '1')}"

    def span(match: re.Match[str]) -> str:
        low, low_unit, high, high_unit = match.groups()
        if low_unit == high_unit:
            return f"{signed(low)} {table.to} {amount(high, high_unit)}"
        return f"{amount(low, low_unit)} {table.to} {amount(high, high_unit)}"

    def fraction(match: re.Match[str]) -> str:
        whole, sign, symbol = match.groups()
        alone, after = table.fractions[sign]
        said = alone if whole is None else f"{whole} {table.and_} {after}"
        if symbol:
            said = f"{said} {unit(symbol, whole is None)}"
        before, behind = match.string[: match.start()], match.string[match.end() :]
        return f"{' ' * before[-1:].isalnum()}{said}{' ' * behind[:1].isalnum()}"  # no word runs into the next

    def code(match: re.Match[str]) -> str:
        if at["amount"].fullmatch(match[0]):
            return match[0]  # 12V is an amount without its space
        thread = _THREAD.fullmatch(match[0])
        if thread:
            return f"{table.letters.get(thread[1], thread[1])} {thread[2]}"  # M10 is M ten
        groups = (" ".join(table.letters.get(sign, sign) for sign in group) for group in match[0].split("-"))
        return ", ".join(group.removesuffix(",") for group in groups)

    for sign in table.symbols:
        if sign[0].isalpha():  # AC/DC, before anything takes its letters for units
            text = re.sub(rf"(?<!\w){re.escape(sign)}(?!\w)", table.symbols[sign], text)
    text = at["fractions"].sub(lambda m: f"{m[1] or m[2]} {table.to} ", text)
    text = at["fraction"].sub(fraction, text)  # before codes: in `M10 ½ turn` there is no 10 and a half
    text = _GRADE.sub(lambda m: _grade(int(m[1]), int(m[2]), table), text)
    text = _CODE.sub(code, text)
    text = at["range"].sub(lambda m: f"{signed(m[1])} {table.to} {amount(m[2], m[3])}", text)
    text = at["span"].sub(span, text)
    text = at["described"].sub(lambda m: f"{m[1]} {signed(m[2])} {unit(m[3], True)}", text)
    text = at["amount"].sub(lambda m: amount(m[1], m[2]), text)
    text = at["alone"].sub(lambda m: unit(m[1], False), text)
    text = _DASH_RANGE.sub(lambda m: f"{m[1]} {table.to} ", text)
    text = _MINUS.sub(f"{table.minus} ", text)
    text = at["symbol"].sub(lambda m: f" {table.symbols[m[1]]} ", text)
    return re.sub(r" {2,}", " ", text).strip()


def _grade(cold: int, hot: int, table: SpokenForms) -> str:
    """10, 30 -> `ten W thirty`."""
    return table.oil_grade.format(cold=_words(cold, table), hot=_words(hot, table))


def _words(number: int, table: SpokenForms) -> str:
    """0 to 99 in words."""
    if number < 20:
        return table.ones[number]
    tens, rest = divmod(number, 10)
    return table.tens[tens - 2] + (f" {table.ones[rest]}" if rest else "")


def _any_of(keys: Mapping[str, object], before: Mapping[str, tuple[str, ...]] | None = None) -> str:
    """A pattern of all the texts but the empty one, the longest first. before: what must follow some of them."""
    followed = {key: rf"(?=\s*(?:$|[.,;:!?)/]|(?:{'|'.join(words)})\b))" for key, words in (before or {}).items()}
    longest_first = sorted(filter(None, keys), key=len, reverse=True)
    return "(?:" + "|".join(re.escape(key) + followed.get(key, "") for key in longest_first) + ")"
