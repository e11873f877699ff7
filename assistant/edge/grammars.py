"""A language's folder on disk: its grammars by name, and its tables.

Knows files and their encodings. Refuses to know what is in a grammar.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from assistant.edge import places
from assistant.errors import EngineBayError, GrammarError
from assistant.grammar.forms import Forms, forms_table
from assistant.grammar.jsgf import Source


def read_table(path: Path) -> object:
    """The content of a YAML file. Errors: EngineBayError when it cannot be read."""
    import yaml

    try:
        content: object = yaml.safe_load(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, yaml.YAMLError) as wrong:
        raise EngineBayError(str(path), f"it cannot be read ({wrong})", "Restore the file, or install again") from None
    return content


def read_grammar_text(path: Path) -> str:
    """The text of a grammar file, in the encoding that its header names (UTF-8 when it names none).

    Errors: GrammarError when it cannot be read.
    """
    try:
        data = path.read_bytes()
    except OSError as wrong:
        raise GrammarError(str(path), f"it cannot be read ({wrong.strerror})", "Check the name") from None
    header = data.split(b";", 1)[0].split()
    encoding = header[2].decode("ascii", "replace") if len(header) > 2 and header[0].endswith(b"#JSGF") else "UTF-8"
    try:
        return data.decode(encoding)
    except LookupError:
        raise GrammarError(str(path), f"its header names the unknown encoding {encoding!r}", "Use UTF-8") from None
    except UnicodeDecodeError as wrong:
        line = data[: wrong.start].count(b"\n") + 1
        raise GrammarError(
            f"{path}, line {line}", f"it is not {encoding} as its header says", f"Save it as {encoding}"
        ) from None


def grammars_in(folder: Path) -> Source:
    """Grammars by name: `com.site.units` is `com.site.units.jsgf`, `units.jsgf` or `com/site/units.jsgf` in there."""

    def source(name: str) -> str | None:
        for candidate in (f"{name}.jsgf", f"{name.rpartition('.')[2]}.jsgf", f"{name.replace('.', '/')}.jsgf"):
            if "/.." not in f"/{candidate}" and (folder / candidate).is_file():
                return read_grammar_text(folder / candidate)
        return None

    return source


@cache
def forms_of(language: str = "en") -> Forms:
    """The shipped table of written forms. Errors: GrammarError when it is damaged."""
    path = places.grammars() / language / "forms.yaml"
    return forms_table(read_table(path), str(path))


def language_source(language: str = "en") -> Source:
    """The shipped grammars of a language by name."""
    return grammars_in(places.grammars() / language)
