"""From a statement to its words: a language's templates, filled in. Knows no language and reads no file.

An argument stands in braces, `{hours}`; behind a colon it says how it is put:

    {title:small}                     a title in the middle of a sentence, with a small first letter
    {steps:step|steps}                1 step, 2 steps
    {readings:no reading|one reading|# readings}   the same, where none and one have words of their own
    {names:, }   {titles:small, | and }            several, joined so; the last one otherwise
    {verdict:verdict}                 a key of a word table of the language
    {spread:.3g}                      a number with so many digits
    {day:iso}   {earliest:bare}       a day as 2026-03-02; a quantity without its unit
"""

from __future__ import annotations

import re
import string
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from typing import TypeVar, cast, get_args

from assistant.errors import WordingError
from assistant.quantities import Limits, Quantity, counted, plain
from assistant.statements import kinds as s

STATEMENTS_KEY, WORDS_KEY = "statements", "words"
"""The keys of `wording.yaml` under which these stand; all others are those of messages."""
PLACE = "wording.yaml"

_CLASSES = get_args(s.Statement)
_NUMBER_FORM = re.compile(r"(\.\d+)?[gf]")
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Words:
    """A language's words for statements.

    templates: by the statement's kind.
    tables: words for keys of the program, such as devices and verdicts, by the table's name.
    """

    templates: Mapping[str, str]
    tables: Mapping[str, Mapping[str, str]]

    def text(self, statement: s.Statement | str) -> str:
        """A statement in words, as it stands in the middle of a sentence; a text as it is. Errors: WordingError."""
        if isinstance(statement, str):
            return statement
        template = self.templates.get(statement.kind)
        if template is None:
            kind = statement.kind
            raise WordingError(PLACE, f"the statement {kind} has no wording", f'Add a line `{kind}: "..."`')
        return Filler(self).fill(template, statement)

    def worded(self, value: _T) -> _T:
        """The same fact, plan or other value with every statement in it put into words, for people to read."""
        return cast("_T", self._worded(value))

    def _worded(self, value: object) -> object:
        if isinstance(value, _CLASSES):
            return self.text(value)
        if isinstance(value, tuple):
            items = tuple(map(self._worded, value))
            return items if any(new is not old for new, old in zip(items, value, strict=True)) else value
        if is_dataclass(value) and not isinstance(value, type):
            old = {field.name: getattr(value, field.name) for field in fields(value) if field.init}
            new = {name: self._worded(held) for name, held in old.items()}
            changed = {name: held for name, held in new.items() if held is not old[name]}
            return replace(value, **changed) if changed else value
        return value


def read_words(content: object, place: str = PLACE) -> Words:
    """The words for statements in a `wording.yaml`. Errors: WordingError where they are no tables of texts."""
    parts = content if isinstance(content, dict) else {}
    templates, words = parts.get(STATEMENTS_KEY), parts.get(WORDS_KEY)
    if not isinstance(words, dict):
        raise WordingError(place, f"{WORDS_KEY!r} is missing or no table", "Give it a table for each kind of word")
    tables = {str(name): _texts(table, str(name), place) for name, table in words.items()}
    return Words(_texts(templates, STATEMENTS_KEY, place), tables)


def _texts(table: object, name: str, place: str) -> dict[str, str]:
    """A table of texts. Errors: WordingError."""
    if not isinstance(table, dict):
        raise WordingError(place, f"{name!r} is missing or no table", 'Write lines such as `key: "..."`')
    for key, text in table.items():
        if not isinstance(key, str) or not isinstance(text, str):
            raise WordingError(place, f"{key} of {name!r} is no text", "Give it in quotes")
    return table


def arguments(kind: type) -> set[str]:
    """The names of what the wording of a statement or message has to say."""
    return {field.name for field in fields(kind)} - _FOR_PROGRAMS


_FOR_PROGRAMS = {"kind", "step"}  # identifiers, for programs and not for people


class Filler(string.Formatter):
    """Fills a template in, each argument by its type."""

    def __init__(self, words: Words) -> None:
        super().__init__()
        self._words = words

    def fill(self, template: str, said: object) -> str:
        """The template with the fields of a statement or message, which are dataclasses."""
        named = fields(cast("s.Statement", said))
        return self.vformat(template, (), {field.name: getattr(said, field.name) for field in named})

    def format_field(self, value: object, format_spec: str) -> str:
        said = self.put(value, format_spec)
        if said is None:
            cause = f"no way to say {value!r} as {format_spec!r}"
            raise WordingError(PLACE, cause, "Use a form that is there")
        return said

    def put(self, value: object, form: str) -> str | None:
        """An argument in its form; None when there is no such form of it."""
        match value:
            case tuple():
                return self._joined(value, form)
            case str() if form in self._words.tables:
                return self._words.tables[form].get(value, value)
            case str() if form == "small":
                return value[:1].lower() + value[1:]
            case date() if form == "iso":
                return value.isoformat()
            case date() if not form:
                return self._words.text(s.CalendarDay(value.day, str(value.month), value.year))
            case Quantity() if form == "bare":
                return plain(value.value)
            case date() if form == "bare":
                return self.put(value, "")
            case Limits() if not form:
                return self._words.text(_limits(value))
            case int() if "|" in form:
                return _counted(value, form.split("|"))
            case float() | int() if _NUMBER_FORM.fullmatch(form):
                return format(value, form)
            case Quantity() | str() | int() if not form:
                return str(value)
        if isinstance(value, _CLASSES) and not form:
            return self._words.text(value)
        return None

    def _joined(self, values: tuple[object, ...], form: str) -> str:
        each = next((name for name in ("small", *self._words.tables) if form.startswith(name)), "")
        joint, _, last = form.removeprefix(each).partition("|")
        pieces = [piece for value in values for piece in self.pieces(value, each)]
        if last and len(pieces) > 1:
            return last.join((joint.join(pieces[:-1]), pieces[-1]))
        return (joint or "; ").join(pieces)

    def pieces(self, value: object, form: str) -> tuple[str, ...]:
        """What one of several values adds to the list of them."""
        return (self.format_field(value, form),)


def _counted(number: int, forms: list[str]) -> str | None:
    if len(forms) == 2:
        return counted(number, *forms)
    none, single, several = forms if len(forms) == 3 else ("", "", "")
    return None if "#" not in several else (none, single)[number] if number < 2 else several.replace("#", str(number))


def _limits(limits: Limits) -> s.Statement:
    if limits.low is None or limits.high is None:
        low, high = limits.low, limits.high
        return s.AtLeast(low) if low is not None else s.AtMost(cast("Quantity", high))
    return s.Exactly(limits.low) if limits.low == limits.high else s.FromTo(limits.low, limits.high)
