"""Lines, whatever bytes come. One byte that was not UTF-8 ended the visit; of lines that came together through a pipe
the later ones waited for a timer that had nothing to do with them."""

from __future__ import annotations

import io
import os
import threading
from collections.abc import Iterator
from typing import TextIO

import pytest

from assistant.edge.keyboard import MAX_LINE_BYTES, Keyboard, TypedLine
from assistant.errors import EngineBayError


class Typist:
    """Whoever writes into the other end of a pipe."""

    def __init__(self) -> None:
        read, self._write = os.pipe()
        self.stream: TextIO = os.fdopen(read, encoding="utf-8")
        self.keyboard = Keyboard(self.stream)

    def types(self, data: bytes) -> None:
        threading.Thread(target=os.write, args=(self._write, data)).start()

    def leaves(self) -> None:
        os.close(self._write)


@pytest.fixture
def typist() -> Iterator[Typist]:
    typist = Typist()
    yield typist
    typist.stream.close()


def test_lines_and_the_end(typist: Typist) -> None:
    typist.types(b"next\r\n\nall good\nlast")
    lines = [typist.keyboard.read() for _ in range(3)]
    assert lines == [TypedLine("next", True), TypedLine("", True), TypedLine("all good", True)]
    typist.leaves()
    assert typist.keyboard.read() == TypedLine("last", True)
    assert typist.keyboard.read() is None
    assert typist.keyboard.read() is None


def test_bytes_that_are_no_text_spoil_their_line_only(typist: Typist) -> None:
    typist.types(b"all \xff good\nall good\n")
    assert typist.keyboard.read() == TypedLine("", False)
    assert typist.keyboard.read() == TypedLine("all good", True)


def test_a_line_without_end_is_not_kept_whole(typist: Typist) -> None:
    typist.types(b"x" * 1_000_000 + b"\nnext\n")
    long = typist.keyboard.read()
    assert long is not None
    assert (long.readable, len(long.text)) == (False, MAX_LINE_BYTES + 1)
    assert typist.keyboard.read() == TypedLine("next", True)


def test_lines_that_came_together_are_known_of(typist: Typist) -> None:
    assert not typist.keyboard.waits(0.0)
    typist.types(b"next\nnext\n")
    assert typist.keyboard.waits(5.0)
    typist.keyboard.read()
    assert typist.keyboard.waits(0.0)
    typist.keyboard.read()
    assert not typist.keyboard.waits(0.0)
    typist.leaves()
    assert typist.keyboard.waits(5.0), "the end is something that comes"


def test_a_stream_without_a_descriptor() -> None:
    keyboard = Keyboard(io.StringIO("next\n\udcff\n"))
    assert keyboard.waits(0.0)
    assert keyboard.read() == TypedLine("next", True)
    assert keyboard.read() == TypedLine("", False)
    assert keyboard.read() is None


def test_no_keyboard_at_all(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", None)
    with pytest.raises(EngineBayError, match="standard input is closed"):
        Keyboard()
