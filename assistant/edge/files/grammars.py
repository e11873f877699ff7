"""A language's folder on disk: its grammars by name, and its tables.

Knows files and their encodings. Refuses to know what is in a grammar.
"""

from __future__ import annotations

import codecs
import re
from functools import cache
from pathlib import Path

from assistant.edge import places
from assistant.edge.files.access import read_file
from assistant.errors import EngineBayError, GrammarError
from assistant.grammar import jsgf
from assistant.grammar.forms import Forms, forms_table
from assistant.grammar.jsgf import Grammar, GrammarSource
from assistant.grammar.spoken import SpokenForms, spoken_forms
from assistant.grammar.units import words_of_units
from assistant.yaml_text import MAX_BYTES, YamlFault, load

_ENCODING = re.compile(
    r"utf-?8|(us-)?ascii|latin-?1|iso-?8859-\d{1,2}|(windows-|cp)125\d|utf-?16(-?[lb]e)?", re.IGNORECASE
)
"""Encodings of text. Python knows more under the name of an encoding: escapes, domain names, packed bytes."""


def read_table(path: Path) -> object:
    """The content of a YAML file. Errors: EngineBayError when it cannot be read, naming line and column of a fault."""
    try:
        return load(table_text(path))
    except YamlFault as fault:
        raise EngineBayError(f"{path}, line {fault.line}, column {fault.column}", fault.cause, fault.remedy) from None


def table_text(path: Path) -> str:
    """The text of a table, for `yaml_text`. Errors: EngineBayError when it cannot be read."""
    try:
        return read_file(path, MAX_BYTES).decode("utf-8")
    except OSError as wrong:
        cause = f"it cannot be read ({wrong.strerror})"
    except UnicodeDecodeError as wrong:
        cause = f"it is not UTF-8 text ({wrong.reason} at byte {wrong.start})"
    raise EngineBayError(str(path), cause, "Restore the file, or install again")


def read_grammar_text(path: Path) -> str:
    """The text of a grammar file, in the encoding that its header names (UTF-8 when it names none).

    Errors: GrammarError when it cannot be read.
    """
    try:
        data = read_file(path, 4 * jsgf.MAX_CHARACTERS)
    except OSError as wrong:
        raise GrammarError(str(path), f"it cannot be read ({wrong.strerror})", "Name a grammar file") from None
    encoding = _encoding(data)
    if not _ENCODING.fullmatch(encoding):
        cause = f"its header names the encoding {encoding[:40]!r}, which no grammar is read in"
        raise GrammarError(str(path), cause, "Use UTF-8")
    try:
        return data.decode(encoding)
    except LookupError:
        raise GrammarError(str(path), f"its header names the unknown encoding {encoding!r}", "Use UTF-8") from None
    except UnicodeDecodeError as wrong:
        line = data[: wrong.start].count(b"\n") + 1
        raise GrammarError(
            f"{path}, line {line}", f"it is not {encoding} as its header says", f"Save it as {encoding}"
        ) from None


def _encoding(data: bytes) -> str:
    """What the header names; UTF-8 when it names none, or there is no header."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        header = data[:400].decode("utf-16", "replace").removeprefix("\ufeff").split(";", 1)[0].split()
    else:
        header = data[:400].removeprefix(codecs.BOM_UTF8).decode("ascii", "replace").split(";", 1)[0].split()
    return header[2] if len(header) > 2 and header[0] == "#JSGF" else "UTF-8"


def grammars_in(folder: Path) -> GrammarSource:
    """Grammars by name: `com.site.units` is `com.site.units.jsgf`, `units.jsgf` or `com/site/units.jsgf` in there.

    Nothing outside the folder is read: the source raises GrammarError for a link that leads out of it.
    """

    def source(name: str) -> str | None:
        if not jsgf.GRAMMAR_NAME.fullmatch(name):
            return None
        inside = folder.resolve()
        for candidate in (f"{name}.jsgf", f"{name.rpartition('.')[2]}.jsgf", f"{name.replace('.', '/')}.jsgf"):
            path = folder / candidate
            if not path.is_file():
                continue
            if not path.resolve().is_relative_to(inside):
                cause = "the link leads out of the folder of the grammar that imports it"
                raise GrammarError(str(path), cause, "Put a copy of the grammar there")
            return read_grammar_text(path)
        return None

    return source


def spoken_of(language: str = "en", loaded: dict[str, Grammar] | None = None) -> SpokenForms:
    """How a language says units, signs and numbers: its `spoken.yaml`, and units by their rules in `units.jsgf`.

    language: as of `Language`.
    loaded: grammars parsed before, kept by the caller (filled here).

    Errors: EngineBayError when one of the two is damaged.
    """
    folder = places.grammars() / language
    units = jsgf.parse_grammar(
        read_grammar_text(folder / "units.jsgf"), "units.jsgf", grammars_in(folder), loaded, "units"
    )
    path = folder / "spoken.yaml"
    return spoken_forms(read_table(path), str(path), words_of_units(units))


@cache
def forms_of(language: str = "en") -> Forms:
    """The table of written forms of a language. Errors: EngineBayError when it is damaged, or what it needs is."""
    path = places.grammars() / language / "forms.yaml"
    return forms_table(read_table(path), str(path), spoken_of(language).units)


def language_source(language: str = "en") -> GrammarSource:
    """The shipped grammars of a language by name."""
    return grammars_in(places.grammars() / language)
