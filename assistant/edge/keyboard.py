"""The keyboard, or whatever stands in its place: lines of text, whatever bytes come.

Knows a text stream and the descriptor behind it. Refuses to know what a line means. A line that is no text is told as
such, and is never guessed.
"""

from __future__ import annotations

import os
import select
import sys
from dataclasses import dataclass
from typing import TextIO

from assistant.errors import EngineBayError

MAX_LINE_BYTES = 4_000  # of a line; nobody types more
PIECE = 65_536  # bytes asked for at once
MAX_PASSED_OVER_BYTES = 64_000_000  # bytes of a line that is too long; what goes on is no keyboard


@dataclass(frozen=True, slots=True)
class TypedLine:
    """A line without its end. readable: whether all of it is text, and it is not too long."""

    text: str
    readable: bool


class Keyboard:
    """Lines from a text stream; None: standard input. The stream is read by nobody else from then on.

    Bytes come straight from the descriptor, so that `waits` knows of lines that have come together. A stream without
    one, such as a test's, is asked for its lines.
    """

    def __init__(self, stream: TextIO | None = None) -> None:
        """Errors: EngineBayError when there is no standard input, or it is closed."""
        stream = sys.stdin if stream is None else stream
        if stream is None or stream.closed:
            raise EngineBayError(
                "keyboard", "standard input is closed", "Start the command in a terminal, or without --typed"
            )
        self._stream = stream
        try:
            self._file: int | None = stream.fileno()
        except (AttributeError, OSError, ValueError):
            self._file = None
        self._bytes = b""
        self._ended = False

    def waits(self, seconds: float) -> bool:
        """Whether a line, or the end, comes within this time. Always, for a stream without a descriptor."""
        if self._file is None or self._ended or b"\n" in self._bytes:
            return True
        ready, _, _ = select.select([self._file], [], [], max(0.0, seconds))
        return bool(ready)

    def read(self) -> TypedLine | None:
        """The next line; None when no more will come. Errors: EngineBayError when it cannot be read any more."""
        try:
            line = self._line()
        except (OSError, ValueError) as error:
            raise EngineBayError(
                "keyboard", f"it cannot be read any more ({error})", "Start the command in a terminal again"
            ) from None
        if line is None:
            return None
        try:
            text = line.removesuffix(b"\r").decode("utf-8")
        except UnicodeDecodeError:
            return TypedLine("", readable=False)
        return TypedLine(text, len(line) <= MAX_LINE_BYTES)

    def _line(self) -> bytes | None:
        """The bytes of a line without its end; of one that is too long only the beginning."""
        if self._file is None:
            line = self._stream.readline()
            return line.removesuffix("\n").encode("utf-8", "surrogateescape") if line else None
        begun, passed = b"", 0
        while b"\n" not in self._bytes and not self._ended:
            passed += len(self._bytes)
            if passed > MAX_PASSED_OVER_BYTES:
                raise ValueError("a line has no end")
            begun = (begun + self._bytes)[: MAX_LINE_BYTES + 1]
            self._bytes = os.read(self._file, PIECE)
            self._ended = not self._bytes
        end, _, self._bytes = self._bytes.partition(b"\n")
        line = (begun + end)[: MAX_LINE_BYTES + 1]
        return None if self._ended and not line else line
