"""What the program states, in the shipped words: for tests that look at what people get to read."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import TypeVar

import pytest

from assistant.calculations import FORMULAS, Given, Result, error_in_words
from assistant.calculations.formula import Refusal
from assistant.edge.files.shipped_words import english_words
from assistant.errors import CalculationError, QuantityError

_T = TypeVar("_T")


def worded(value: _T) -> _T:
    """The same with every statement in it in words."""
    return english_words().worded(value)


def compute(name: str, inputs: Mapping[str, Given]) -> Result:
    """The result of a formula, its statements in words."""
    return worded(FORMULAS[name].compute(inputs))


def in_words(error: CalculationError | QuantityError) -> str:
    """An error as people read it."""
    return str(error_in_words(error, english_words().text) if isinstance(error, Refusal) else error)


@contextmanager
def cannot_be(words: str) -> Iterator[pytest.ExceptionInfo[CalculationError | QuantityError]]:
    """A calculation has no answer, and says so in words that match."""
    with pytest.raises((CalculationError, QuantityError)) as caught:
        yield caught
    assert re.search(words, in_words(caught.value)), in_words(caught.value)
