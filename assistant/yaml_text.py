"""YAML text within bounds: how long it may be, how deeply nested, and how much its aliases may multiply.

Knows the layout of YAML, and where in the text everything stands. Refuses to know files, and what the data is for.
Whatever is wrong is a `YamlFault` with line and column. Source: YAML 1.1 as PyYAML reads it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

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
class DuplicateKey:
    """A key that stands a second time in one mapping; a reader that does not look would drop the first.

    key: as written.
    line, column: of the second, from 1.
    first_line: of the first.
    """

    key: str
    line: int
    column: int
    first_line: int


def compose(text: str) -> yaml.Node | None:
    """The nodes of a text with one document; None when it is empty. Nothing in them contains itself.

    Errors: YamlFault.
    """
    return _composed(text)[1]


def load(text: str) -> object:
    """The plain data of a text: texts, numbers, lists, mappings, None. The last of several equal keys counts.

    Errors: YamlFault.
    """
    import yaml

    loader, node = _composed(text)
    if node is None:
        return None
    try:
        data: object = loader.construct_document(node)
    except yaml.MarkedYAMLError as error:
        raise _marked(error) from None
    return data


def duplicate_keys(text: str) -> tuple[DuplicateKey, ...]:
    """Every key that stands again in its mapping, in the order of the text. Errors: YamlFault."""
    import yaml

    root = compose(text)
    waiting = [] if root is None else [root]
    seen: set[int] = set()
    found: list[DuplicateKey] = []
    while waiting:
        node = waiting.pop()
        if id(node) in seen:  # an alias leads to the same node again
            continue
        seen.add(id(node))
        if isinstance(node, yaml.MappingNode):
            found += _duplicates(node)
            waiting += [part for pair in node.value for part in pair]
        elif isinstance(node, yaml.SequenceNode):
            waiting += node.value
    return tuple(sorted(found, key=lambda one: (one.line, one.column)))


def _duplicates(mapping: yaml.MappingNode) -> Iterator[DuplicateKey]:
    import yaml

    first: dict[tuple[str, str], int] = {}
    for key, _ in mapping.value:
        if not isinstance(key, yaml.ScalarNode):
            continue
        name, line = (key.tag, key.value), key.start_mark.line + 1
        if name in first:
            yield DuplicateKey(key.value, line, key.start_mark.column + 1, first[name])
        else:
            first[name] = line


def _composed(text: str) -> tuple[yaml.SafeLoader, yaml.Node | None]:
    import yaml

    if len(text) > MAX_CHARACTERS:
        line = text.count("\n", 0, MAX_CHARACTERS) + 1
        cause = f"the text is longer than {MAX_CHARACTERS:,} characters"
        raise YamlFault(line, 1, cause, "Divide it into several files")
    try:
        loader = _loader()(text)
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


@cache
def _loader() -> type[yaml.SafeLoader]:
    import yaml  # loaded when a text is read

    class Bounded(yaml.SafeLoader):
        """Measures each node before it goes down into it, so that no text makes it recurse or grow beyond bounds."""

        def __init__(self, text: str) -> None:
            super().__init__(text)
            self.depth = 0  # of the node at hand
            self.deepest = 0  # that was reached inside the node at hand
            self.nodes = 0  # so far, aliases written out
            self.anchored: dict[str, tuple[int, int]] = {}  # anchor -> size and height of its node

        def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
            event = self.peek_event()  # type: ignore[no-untyped-call]  # the stubs do not type it
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
            if self.deepest > MAX_DEPTH:
                cause = f"lists and mappings stand more than {MAX_DEPTH} deep inside one another here"
                raise _fault(mark, cause, "Write it flatter")
            if self.nodes > MAX_NODES:
                cause = f"with its aliases (`*`) written out, the text holds more than {MAX_NODES:,} entries"
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

    return Bounded
