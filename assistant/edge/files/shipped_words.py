"""The shipped words for statements: what pages, plans and the command line put them into.

Needs no grammar and no message, so that a command that only shows something starts at once.
"""

from __future__ import annotations

from functools import cache

from assistant.edge import places
from assistant.edge.files.grammars import read_table
from assistant.statements.wording import Words, read_words

WORDING = "wording.yaml"


@cache
def english_words() -> Words:
    """The shipped English words. Errors: EngineBayError when the file cannot be read, or does not hold what it must."""
    path = places.grammars() / "en" / WORDING
    return read_words(read_table(path), str(path))
