"""What a text says when it is spoken."""

from __future__ import annotations

import re

from assistant.procedure.problem import Path, Problem


def says(text: str, words: str) -> bool:
    """Whether a text, spoken, contains these words one after the other."""
    return f" {words} " in f" {_spoken_words(text)} "


def _spoken_words(text: str) -> str:
    return " ".join(re.findall(r"[a-z']+", text.lower()))


def speakable(text: str) -> bool:
    """Whether there is anything in a text that can be spoken."""
    return any(sign.isalnum() for sign in text)


def says_nothing(path: Path, key: str) -> Problem:
    """The problem of a text without words."""
    return Problem(path, f"{key!r} says nothing", "Write a text with words in it")
