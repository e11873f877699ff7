"""YAML text within bounds: what multiplies, nests or grows too far is refused with its place, before it is built."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as some

from assistant.edge.places import grammars, procedures
from assistant.yaml_text import YamlBounds, YamlFault, compose, load

pytestmark = pytest.mark.timeout(300)  # what explodes does not end

LAUGHS = "a: &a [x, x, x, x, x, x, x, x, x]\n" + "".join(
    f"{name}: &{name} [{', '.join([f'*{before}'] * 9)}]\n" for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)
MERGED = "a: &a {x: 1}\n" + "".join(
    f"{name}: &{name} {{<<: [{', '.join([f'*{before}'] * 9)}]}}\n"
    for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.parametrize(
    ("text", "line", "column", "cause"),
    [
        (LAUGHS, 5, 12, "aliases"),
        (MERGED, 5, 41, "aliases"),
        ("a: &a " + "x" * 5000 + "\nb: [" + "*a, " * 5000 + "]", 2, 1569, "aliases"),
        ("[" * 50_000, 1, 31, "deep"),
        ("{a: " * 20_000, 1, 118, "deep"),
        ("- " * 50_000, 1, 61, "deep"),
        ("a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}]\n" for n in range(1, 800)), 29, 12, "deep"),
        ("a: &a [*a]", 1, 4, "contains itself"),
        ("x\n" * 100_001, 100_001, 1, "longer than 200,000 characters"),
        ("- a\n" * 20_001, 20_000, 3, "more than 20,000 entries"),
        ("a: \0", 1, 4, "no YAML text"),
        ("a: [", 1, 5, "layout"),
    ],
)
def test_a_text_beyond_the_bounds_is_refused_at_its_place(text: str, line: int, column: int, cause: str) -> None:
    """A file of 600 bytes with aliases inside aliases filled the memory, 2,000 brackets ended in a RecursionError, and
    a text of any length was read."""
    for read in (compose, load):
        with pytest.raises(YamlFault, match=cause) as caught:
            read(text)
        assert (caught.value.line, caught.value.column) == (line, column)
        assert caught.value.remedy


@pytest.mark.parametrize(
    "written",
    ["2026-02-31", "1" * 5000, "0x" + "f" * 50_000, "1" + ":59" * 50_000, "!!int x", "!!timestamp x", "!!bool x"],
)
def test_a_value_that_does_not_read_is_a_fault(written: str) -> None:
    """A day that is none and a number of 5,000 digits raised a bare ValueError out of the YAML library; a number of
    sixties of 100,000 characters took seconds."""
    with pytest.raises(YamlFault) as caught:
        load(f"- x\n- {written}")
    assert caught.value.line == 2


def test_what_is_within_the_bounds_is_read_as_ever() -> None:
    assert load("") is None
    assert load("a: &a [1, 2.5, yes, ~, 'x']\nb: *a") == {
        "a": [1, 2.5, True, None, "x"],
        "b": [1, 2.5, True, None, "x"],
    }
    assert load("[" * 30 + "]" * 30)
    assert isinstance(load("- a\n" * 10_000), list)


def test_the_bounds_can_be_lowered() -> None:
    low = YamlBounds(characters=20, depth=2, nodes=5)
    assert load("[[]]", low) == [[]]
    for text, cause in (("[[[]]]", "more than 2 deep"), ("x" * 21, "longer than 20"), ("[1, 2, 3, 4, 5]", "than 5")):
        with pytest.raises(YamlFault, match=cause):
            load(text, low)


@pytest.mark.parametrize("table", sorted(path.name for path in (grammars() / "en").glob("*.yaml")))
def test_the_shipped_tables_read(table: str) -> None:
    assert load((grammars() / "en" / table).read_text(encoding="utf-8"))


TOKENS = [
    *("a", "b", ": ", "- ", "\n", "\n  ", "[", "]", "{", "}", ", ", "&x ", "*x", "? ", "<<: ", "|\n", "#", "'", '"'),
    *("!!int ", "!!set ", "!!binary ", "!!omap ", "1", "2026-01-01", "~", "%", "---\n", "\\"),
]


@settings(max_examples=300, deadline=None)
@given(some.lists(some.sampled_from(TOKENS), max_size=60))
def test_any_text_reads_or_is_a_fault(tokens: list[str]) -> None:
    text = "".join(tokens)
    for read in (compose, load):
        with contextlib.suppress(YamlFault):
            read(text)


Tree = tuple[object, ...]


def tree(node: yaml.Node | None) -> Tree:
    """Tags, contents and places of a node and all in it."""
    if node is None:
        return ()
    place = (node.tag, node.start_mark.line, node.start_mark.column)
    if isinstance(node, yaml.MappingNode):
        return (*place, *((tree(key), tree(value)) for key, value in node.value))
    return (*place, *map(tree, node.value)) if isinstance(node, yaml.SequenceNode) else (*place, node.value)


def read_as(text: str, quickly: bool) -> Tree:
    try:
        return tree(compose(text, quickly=quickly))
    except YamlFault as fault:
        return (fault.line, fault.column, fault.cause)


ODD = (
    "a: [b?]",
    "a: {b: }",
    "a\t",
    "? a",
    "- ?\n#",
    "!",
    "--- a\n #",
    "%YAML 1.1\n--- a",
    "a: [?b]",
    "\ufeffa",
    "a\x85b: c",
)
"""What the C library reads otherwise than PyYAML: it takes some of them for right, and places others differently."""


@settings(max_examples=300, deadline=None)
@given(some.lists(some.sampled_from([*TOKENS, *ODD, "°", "\t", "?"]), max_size=30).map("".join))
def test_the_c_library_makes_no_difference(text: str) -> None:
    assert read_as(text, True) == read_as(text, False)


@pytest.mark.parametrize("text", ODD)
def test_what_the_c_library_reads_otherwise_is_read_by_pyyaml(text: str) -> None:
    assert read_as(text, True) == read_as(text, False)


@pytest.mark.parametrize(
    "path", sorted(procedures().glob("*/*.yaml")), ids=lambda path: f"{path.parent.name}/{path.name}"
)
def test_the_c_library_reads_the_shipped_procedures_alike(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert read_as(text, True) == read_as(text, False) != ()
