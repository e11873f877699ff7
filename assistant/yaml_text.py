"""YAML text within bounds: how long it may be, how deeply nested, and how much its aliases may multiply.

Knows the layout of YAML, and where in the text everything stands. Refuses to know files, and what the data is for.
Whatever is wrong is a `YamlFault` with line and column. Source: YAML 1.1 as PyYAML reads it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import yaml
    from yaml._yaml import Mark as FastMark
    from yaml.error import Mark as SlowMark

    Mark = SlowMark | FastMark

MAX_CHARACTERS = 200_000
"""Of a text: twenty times the longest that ships."""
MAX_BYTES = 4 * MAX_CHARACTERS
"""Of a file in UTF-8 that may still hold that many characters."""
MAX_DEPTH = 30
"""Lists and mappings inside one another, aliases followed. Far below what Python can recurse into."""
MAX_NODES = 20_000
"""Texts, lists and mappings, when aliases are written out; a long text counts for each `TEXT_CHARACTERS` once more."""
TEXT_CHARACTERS = 100
MAX_NUMBER = 40
"""Characters of a number."""
_UNUSUAL = re.compile(r"[\t\x85\u2028\u2029\ufeff]|^(?:%|---|\.\.\.)|(?<![^\s\[{,])\?(?!\S)", re.MULTILINE)
"""Where the C library does otherwise than PyYAML: tabs, rare line breaks, marks of documents, keys after `?`."""
_NUMBERS = ("tag:yaml.org,2002:int", "tag:yaml.org,2002:float")


class YamlFault(Exception):
    """Something is wrong in a YAML text.

    line, column: where, from 1.
    cause, remedy: as of an EngineBayError, without final stops.
    """

    def __init__(self, line: int, column: int, cause: str, remedy: str) -> None:
        super().__init__(line, column, cause, remedy)
        self.line = line
        self.column = column
        self.cause = cause
        self.remedy = remedy


@dataclass(frozen=True, slots=True)
class YamlBounds:
    """How far a text may go.

    characters: of the text.
    depth: lists and mappings inside one another, aliases followed.
    nodes: texts, lists and mappings, when aliases are written out; a long text counts for each `TEXT_CHARACTERS` more.
    """

    characters: int = MAX_CHARACTERS
    depth: int = MAX_DEPTH
    nodes: int = MAX_NODES


BOUNDS = YamlBounds()


def compose(text: str, bounds: YamlBounds = BOUNDS, quickly: bool = True) -> yaml.Node | None:
    """The nodes of a text with one document; None when it is empty. Nothing in them contains itself.

    quickly: False: without the C library, which makes no difference but in time.
    Errors: YamlFault.
    """
    return _composed(text, bounds, quickly)[1]


def load(text: str, bounds: YamlBounds = BOUNDS) -> object:
    """The plain data of a text: texts, numbers, lists, mappings, None. The last of several equal keys counts.

    Errors: YamlFault.
    """
    import yaml

    loader, node = _composed(text, bounds)
    if node is None:
        return None
    try:
        data: object = loader.construct_document(node)
    except yaml.MarkedYAMLError as error:
        raise _marked(error) from None
    return data


def _composed(text: str, bounds: YamlBounds, quickly: bool = True) -> tuple[_BoundedLoader, yaml.Node | None]:
    import yaml
    from yaml.reader import Reader

    if len(text) > bounds.characters:
        line = text.count("\n", 0, bounds.characters) + 1
        cause = f"the text is longer than {bounds.characters:,} characters"
        raise YamlFault(line, 1, cause, "Divide it into several files")
    fast, exact = _loaders()
    if quickly and fast is not None and not _UNUSUAL.search(text) and not Reader.NON_PRINTABLE.search(text):
        loader = fast(text, bounds)
        try:
            return loader, loader.get_single_node()
        except yaml.YAMLError:
            pass  # the other one judges it, and says where and why
    try:
        loader = exact(text, bounds)
        return loader, loader.get_single_node()
    except yaml.MarkedYAMLError as error:
        raise _marked(error) from None
    except yaml.YAMLError as error:
        at = getattr(error, "position", 0)
        line, column = text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)
        raise YamlFault(line, column, f"this is no YAML text: {error}", "Save the file as UTF-8 text") from None


def _marked(error: yaml.MarkedYAMLError) -> YamlFault:
    mark = error.problem_mark or error.context_mark
    return _fault(
        mark,
        f"the layout is wrong here: {error.problem}",
        "Look at the indent and the colons of this line and the one before; a text with a colon goes in quotes",
    )


def _fault(mark: Mark | None, cause: str, remedy: str) -> YamlFault:
    line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
    return YamlFault(line, column, cause, remedy)


class _BoundedLoader(Protocol):
    """What both loaders offer here."""

    def get_single_node(self) -> yaml.Node | None: ...

    def construct_document(self, node: yaml.Node) -> object: ...


_Loader = Callable[[str, YamlBounds], _BoundedLoader]


@cache
def _loaders() -> tuple[_Loader | None, _Loader]:
    """The loader whose parser is the C library, where PyYAML was built with it, and the one that is all Python.

    The first takes a tenth of the time; the second judges what the first refuses, and its word counts.
    """
    import yaml  # loaded when a text is read
    from yaml.composer import Composer
    from yaml.constructor import SafeConstructor
    from yaml.parser import Parser
    from yaml.reader import Reader
    from yaml.resolver import Resolver
    from yaml.scanner import Scanner

    class Bounded(Composer, SafeConstructor, Resolver):
        """Measures each node before it goes down into it, so that no text makes it recurse or grow beyond bounds."""

        def __init__(self, bounds: YamlBounds) -> None:
            Composer.__init__(self)
            SafeConstructor.__init__(self)
            Resolver.__init__(self)
            self.bounds = bounds
            self.depth = 0  # of the node at hand
            self.deepest = 0  # that was reached inside the node at hand
            self.nodes = 0  # so far, aliases written out
            self.anchored: dict[str, tuple[int, int]] = {}  # anchor -> size and height of its node

        def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
            event = self.peek_event()  # type: ignore[attr-defined]  # of the parser that is added below
            if isinstance(event, yaml.AliasEvent):
                self.follow(event.anchor, event.start_mark)
                return super().compose_node(parent, index)
            outer, before = self.deepest, self.nodes
            self.depth += 1
            self.deepest = self.depth
            self.look(event.start_mark, 1 + len(getattr(event, "value", "")) // TEXT_CHARACTERS)
            node: yaml.Node | None = super().compose_node(parent, index)
            if anchor := getattr(event, "anchor", None):
                self.anchored[anchor] = (self.nodes - before, self.deepest - self.depth + 1)
            self.depth -= 1
            self.deepest = max(outer, self.deepest)
            return node

        def follow(self, anchor: str | None, mark: Mark | None) -> None:
            if anchor is not None and anchor in self.anchored:
                size, height = self.anchored[anchor]
                self.deepest = max(self.deepest, self.depth + height)
                self.look(mark, size)
            elif anchor in self.anchors:  # begun, not ended
                raise _fault(
                    self.anchors[anchor].start_mark,
                    "what begins here contains itself",
                    "Write it out instead of using `*`",
                )

        def look(self, mark: Mark | None, size: int) -> None:
            self.nodes += size
            if self.deepest > self.bounds.depth:
                cause = f"lists and mappings stand more than {self.bounds.depth} deep inside one another here"
                raise _fault(mark, cause, "Write it flatter")
            if self.nodes > self.bounds.nodes:
                cause = f"with its aliases (`*`) written out, the text holds more than {self.bounds.nodes:,} entries"
                raise _fault(mark, cause, "Divide it into several files, and use fewer aliases")

        def construct_object(self, node: yaml.Node, deep: bool = False) -> object:
            if node.tag in _NUMBERS and len(node.value) > MAX_NUMBER:
                raise _fault(node.start_mark, f"the number has more than {MAX_NUMBER} characters", "Write it shorter")
            try:
                return super().construct_object(node, deep)
            except (ArithmeticError, AttributeError, LookupError, TypeError, ValueError):
                # what PyYAML raises of its own accord for `2026-02-31`, `!!int x` or a number of 5,000 digits
                written = f"{node.value[:40]!r}" if isinstance(node.value, str) else "this"
                raise _fault(node.start_mark, f"{written} does not read", "Write a text in quotes") from None

    class Exact(Bounded, Reader, Scanner, Parser):
        def __init__(self, text: str, bounds: YamlBounds) -> None:
            Reader.__init__(self, text)
            Scanner.__init__(self)
            Parser.__init__(self)
            Bounded.__init__(self, bounds)

    if not yaml.__with_libyaml__:
        return None, Exact

    from yaml._yaml import CParser

    class Fast(Bounded, CParser):
        """Refuses what the C library reads otherwise: tags, and in `[]` and `{}` values left out and question marks."""

        def __init__(self, text: str, bounds: YamlBounds) -> None:
            CParser.__init__(self, text)
            Bounded.__init__(self, bounds)
            self.brackets = 0  # around the node at hand

        def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
            event = self.peek_event()
            bracket = isinstance(event, yaml.CollectionStartEvent) and bool(event.flow_style)
            plain = isinstance(event, yaml.ScalarEvent) and not event.style
            value: str = getattr(event, "value", "")
            if getattr(event, "tag", None) or (plain and self.brackets and (not value or "?" in value)):
                raise yaml.YAMLError
            self.brackets += bracket
            node = super().compose_node(parent, index)
            self.brackets -= bracket
            return node

    return Fast, Exact
