"""The shipped English for tests, of which every expectation is compiled once in a process."""

from __future__ import annotations

from functools import cache

from assistant.edge.files.language import Language

GRAPHS_KEPT = 1000  # more than all visits of the suite ask for


@cache
def shipped_english() -> Language:
    """The same one every time: it changes by nothing that is asked of it."""
    return Language("en", GRAPHS_KEPT)
