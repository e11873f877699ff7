"""The keyboard, or whatever stands in its place: lines of text, whatever bytes come.

Knows a text stream. Refuses to know what a line means. A line that is no text is told as such, and is never guessed.
"""

from __future__ import annotations

import contextlib
import io
import sys
from dataclasses import dataclass
from typing import TextIO

from assistant.errors import EngineBayError

MOST_CHARACTERS = 4_000  # of a line; nobody types more
NO_CHARACTER = "\ufffd"  # stands where bytes are no text


@dataclass(frozen=True, slots=True)
class TypedLine:
    """A line without its end. readable: whether all of it is text, and it is not too long."""

    text: str
    readable: bool


class Keyboard:
    """Lines from a text stream; None: standard input."""

    def __init__(self, stream: TextIO | None = None) -> None:
        """Errors: EngineBayError when there is no standard input, or it is closed."""
        stream = sys.stdin if stream is None else stream
        if stream is None or stream.closed:
            raise EngineBayError(
                "keyboard", "standard input is closed", "Start the command in a terminal, or without --typed"
            )
        self._stream = stream
        if isinstance(stream, io.TextIOWrapper):
            with contextlib.suppress(ValueError):  # it is read from already
                stream.reconfigure(errors="replace")

    def fileno(self) -> int:
        """The descriptor behind it, for `select`. Errors: OSError when there is none."""
        return self._stream.fileno()

    def read(self) -> TypedLine | None:
        """The next line; None when no more will come. Errors: EngineBayError when it cannot be read any more."""
        try:
            line = self._stream.readline(MOST_CHARACTERS)
            if not line:
                return None
            whole = len(line) < MOST_CHARACTERS or line.endswith("\n")
            rest = line
            while rest and not rest.endswith("\n"):  # what is too long is passed over to its end
                rest = self._stream.readline(MOST_CHARACTERS)
        except (OSError, ValueError) as error:
            raise EngineBayError(
                "keyboard", f"it cannot be read any more ({error})", "Start the command in a terminal again"
            ) from None
        return TypedLine(line.removesuffix("\n"), whole and NO_CHARACTER not in line)
