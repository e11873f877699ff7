"""From a message to its words: the language's templates, filled in. Knows no language and reads no file.

`text` is what is shown and kept; `aloud` is what a voice is given, with units and symbols as people say them. Adds to
the forms of `statements/wording.py`:

    {quantity:digits}    read back digit by digit; {converted:, that is digits} says nothing where there is none
    {seconds:duration}   in minutes and seconds
    {choices: or }       the phrases of offers and commands
"""

from __future__ import annotations

import string
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import get_args

from assistant.calculations.decision import LimitVerdict
from assistant.calculations.generator import FIGURES
from assistant.dialogue.commands import rule_of
from assistant.dialogue.messages import Message
from assistant.errors import WordingError
from assistant.grammar.expectation import Offer
from assistant.grammar.numbers import can_be_said, say_digits
from assistant.grammar.spoken import SpokenForms, spoken
from assistant.meanings import ROLES, CommandName
from assistant.procedure.step import SignalWord
from assistant.quantities import Quantity
from assistant.session.facts import ReadingVerdict
from assistant.session.inputs import DEVICES
from assistant.statements.kinds import STATEMENTS, Statement
from assistant.statements.wording import (
    PLACE,
    STATEMENTS_KEY,
    WORDS_KEY,
    Filler,
    Words,
    arguments,
    read_words,
)
from assistant.trends import Axis, Movement

Phrases = Callable[[str], tuple[str, ...]]
"""From a rule to what may be said by it: one phrase for each thing it can mean, in the rule's order."""

MESSAGES: dict[str, type[Message]] = {message.kind: message for message in get_args(Message)}
"""Kind -> message."""

TABLES: dict[str, tuple[str, ...]] = {
    "signal": tuple(SignalWord),
    "role": ROLES,
    "device": DEVICES,
    "verdict": tuple(ReadingVerdict),
    "decision": tuple(LimitVerdict),
    "figure": FIGURES,
    "movement": tuple(Movement),
    "span": tuple(Axis),
    "month": tuple(map(str, range(1, 13))),
}
"""Word table -> the keys of the program that it has words for. A role may be another one: it is said as it is."""


@dataclass(frozen=True, slots=True)
class Wording:
    """A language's words for messages. Made by `read_wording`, which has checked that none is missing.

    templates: by the message's kind.
    words: for statements in messages, and by themselves.
    """

    templates: Mapping[str, str]
    words: Words
    forms: SpokenForms
    phrases: Phrases

    def text(self, message: Message) -> str:
        """The message as written."""
        said = self.filled(self.templates[message.kind], message)
        return said[:1].upper() + said[1:]

    def filled(self, template: str, said: Message | Statement) -> str:
        """A template with the arguments of a message or statement. Errors: WordingError."""
        return _SpokenFiller(self).fill(template, said)

    def aloud(self, message: Message) -> str:
        """The message as a voice is given it."""
        return spoken(self.text(message), self.forms)


def read_wording(content: object, forms: SpokenForms, phrases: Phrases, place: str = PLACE) -> Wording:
    """The wording of a language.

    content: of its `wording.yaml`.
    phrases: what an offer's rule says.

    Errors: WordingError for a message, statement or key without words, words without one, or arguments that differ.
    """
    if not isinstance(content, dict):
        raise WordingError(place, "the file is no table of messages", 'Write lines such as `Recorded: "Noted."`')
    templates = {name: template for name, template in content.items() if name not in (STATEMENTS_KEY, WORDS_KEY)}
    _check_templates(templates, MESSAGES, "message", place)
    words = read_words(content, place)
    _check_templates(words.templates, STATEMENTS, "statement", place)
    for table, key, problem in wrong_words(words.tables):
        raise WordingError(place, f"{key or table} {problem}", f"Correct the word table {table!r}")
    return Wording(templates, words, forms, phrases)


def wrong_words(tables: Mapping[str, Mapping[str, str]]) -> Iterator[tuple[str, str, str]]:
    """What is wrong with the word tables: the table, the key, empty where it is the whole table, and the problem."""
    for table, keys in TABLES.items():
        if table not in tables:
            yield table, "", "is a word table that lacks"
            continue
        yield from ((table, key, "has no words") for key in keys if not tables[table].get(key, "").strip())
        yield from ((table, key, "is no key of the program") for key in tables[table] if key not in keys)
    yield from ((table, "", "is no word table") for table in tables if table not in TABLES)


def _check_templates(
    templates: Mapping[str, object], kinds: Mapping[str, type[Message | Statement]], noun: str, place: str
) -> None:
    """Every kind has its words, and they use its arguments. Errors: WordingError."""
    for name in kinds:
        if not isinstance(templates.get(name), str):
            raise WordingError(place, f"the {noun} {name} has no wording", f'Add a line `{name}: "..."`')
    for name, template in templates.items():
        if name not in kinds:
            raise WordingError(place, f"{name} is no {noun}", "Remove the line or correct the name")
        wanted = arguments(kinds[name])
        try:
            used = {part for _, part, _, _ in string.Formatter().parse(str(template)) if part is not None}
        except ValueError as error:
            raise WordingError(place, f"{name} has a wrong brace ({error})", "Write an argument as {name}") from None
        if wanted != used:
            raise WordingError(
                place,
                f"{name} uses the arguments {sorted(used)}, the {noun} has {sorted(wanted)}",
                "Use each of them in braces",
            )


class _SpokenFiller(Filler):
    """The forms of a voice and of an exchange, besides those of statements."""

    def __init__(self, wording: Wording) -> None:
        super().__init__(wording.words)
        self._forms = wording.forms
        self._phrases = wording.phrases

    def put(self, value: object, form: str) -> str | None:
        match value:
            case None if form.endswith("digits"):
                return ""
            case Quantity() if form.endswith("digits"):
                return form.removesuffix("digits") + self._digits(value)
            case float() if form == "duration":
                return _duration(value)
        return super().put(value, form)

    def pieces(self, value: object, form: str) -> tuple[str, ...]:
        match value:
            case Offer(rule):
                return self._phrases(rule)
            case CommandName():
                return self._phrases(rule_of(value))
        return super().pieces(value, form)

    def _digits(self, quantity: Quantity) -> str:
        if not can_be_said(quantity.value):  # the mean of samples has one decimal more than can be said
            return str(quantity)
        units = self._forms.units.get(quantity.unit, ("", ""))
        return f"{say_digits(quantity.value)} {units[0 if quantity.value == 1 else 1]}".rstrip()


def _duration(seconds: float) -> str:
    """240 -> `4 min`; 90 -> `1 min 30 s`; whole seconds, at least one."""
    minutes, rest = divmod(max(1, round(seconds)), 60)
    return " ".join(part for part, size in ((f"{minutes} min", minutes), (f"{rest} s", rest)) if size)
