"""From a message to its words: the language's templates, filled in. Knows no language and reads no file.

`text` is what is shown and kept; `aloud` is what a voice is given, with units and symbols as people say them.
"""

from __future__ import annotations

import string
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import get_args

from assistant.dialogue.commands import rule_of
from assistant.dialogue.messages import Message
from assistant.errors import WordingError
from assistant.grammar.expectation import Offer
from assistant.grammar.numbers import can_be_said, say_digits
from assistant.grammar.spoken import SpokenForms, spoken
from assistant.meanings import CommandName
from assistant.quantities import Limits, Quantity, counted

Phrases = Callable[[str], tuple[str, ...]]
"""From a rule to what may be said by it: one phrase for each thing it can mean, in the rule's order."""

MESSAGES: dict[str, type[Message]] = {kind.__name__: kind for kind in get_args(Message)}


@dataclass(frozen=True, slots=True)
class Wording:
    """A language's words for messages. Made by `read_wording`, which has checked that none is missing."""

    templates: Mapping[str, str]
    forms: SpokenForms
    phrases: Phrases

    def text(self, message: Message) -> str:
        """The message as written."""
        template = self.templates[type(message).__name__]
        arguments = {field.name: getattr(message, field.name) for field in fields(message)}
        said = _Filler(self.forms, self.phrases).vformat(template, (), arguments)
        return said[:1].upper() + said[1:]

    def aloud(self, message: Message) -> str:
        """The message as a voice is given it."""
        return spoken(self.text(message), self.forms)


def read_wording(templates: object, forms: SpokenForms, phrases: Phrases, place: str = "wording.yaml") -> Wording:
    """The wording of a language. templates: the content of its `wording.yaml`; phrases: what an offer's rule says.

    Errors: WordingError for a message without wording, wording without a message, or arguments that differ.
    """
    if not isinstance(templates, dict):
        raise WordingError(place, "the file is no table of messages", 'Write lines such as `Recorded: "Noted."`')
    for name in MESSAGES:
        if not isinstance(templates.get(name), str):
            raise WordingError(place, f"the message {name} has no wording", f'Add a line `{name}: "..."`')
    for name, template in templates.items():
        if name not in MESSAGES:
            raise WordingError(place, f"{name} is no message", "Remove the line or correct the name")
        wanted = arguments(MESSAGES[name])
        try:
            used = {part for _, part, _, _ in string.Formatter().parse(template) if part is not None}
        except ValueError as error:
            raise WordingError(place, f"{name} has a wrong brace ({error})", "Write an argument as {name}") from None
        if wanted != used:
            raise WordingError(
                place,
                f"{name} uses the arguments {sorted(used)}, the message has {sorted(wanted)}",
                "Use each of them in braces",
            )
    return Wording(dict(templates), forms, phrases)


def arguments(kind: type[Message]) -> set[str]:
    """The names of what a message's wording has to say."""
    return {field.name for field in fields(kind)} - _FOR_PROGRAMS


_FOR_PROGRAMS = {"step"}  # identifiers that a message carries for a listener that is a program


class _Filler(string.Formatter):
    """Fills a template in, each argument by its type."""

    def __init__(self, forms: SpokenForms, phrases: Phrases) -> None:
        super().__init__()
        self._forms = forms
        self._phrases = phrases

    def format_field(self, value: object, format_spec: str) -> str:
        match value:
            case None if format_spec.endswith("digits"):
                return ""
            case Quantity() if format_spec.endswith("digits"):
                if not can_be_said(value.value):  # the mean of samples has one decimal more than can be said
                    return format_spec.removesuffix("digits") + str(value)
                units = self._forms.units.get(value.unit, ("", ""))
                said = f"{say_digits(value.value)} {units[0 if value.value == 1 else 1]}".rstrip()
                return format_spec.removesuffix("digits") + said
            case float() if format_spec == "duration":
                return _duration(value)
            case tuple():
                return (format_spec or "; ").join(phrase for choice in value for phrase in self._choice(choice))
            case date() if not format_spec:
                return f"{value.day} {value:%B %Y}"
            case int() if format_spec.count("|") == 1:
                return counted(value, *format_spec.split("|"))
            case Quantity() | Limits() | str() | int() if not format_spec:
                return str(value)
        raise WordingError("wording.yaml", f"no way to say {value!r} as {format_spec!r}", "Use a form that is there")

    def _choice(self, choice: object) -> tuple[str, ...]:
        match choice:
            case Offer(rule):
                return self._phrases(rule)
            case CommandName():
                return self._phrases(rule_of(choice))
            case str():
                return (choice,)
        raise WordingError("wording.yaml", f"{choice!r} is no choice", "Give offers or commands")


def _duration(seconds: float) -> str:
    """240 -> `4 min`; 90 -> `1 min 30 s`; whole seconds, at least one."""
    minutes, rest = divmod(max(1, round(seconds)), 60)
    return " ".join(part for part, size in ((f"{minutes} min", minutes), (f"{rest} s", rest)) if size)
