"""YAML text within bounds: what multiplies, nests or grows too far is refused with its place, before it is built."""

from __future__ import annotations

import contextlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from assistant import yaml_text
from assistant.edge.places import grammars
from assistant.yaml_text import DuplicateKey, YamlFault, compose, duplicate_keys, load

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
        ("- a\n" * 30_000, 20_000, 3, "more than 20,000 entries"),
        ("a: \0", 1, 4, "no YAML text"),
        ("a: [", 1, 5, "layout"),
    ],
)
def test_a_text_beyond_the_bounds_is_refused_at_its_place(text: str, line: int, column: int, cause: str) -> None:
    """A file of 600 bytes with aliases inside aliases filled the memory, 2,000 brackets ended in a RecursionError, and
    a text of any length was read."""
    for read in (compose, load, duplicate_keys):
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


def test_the_bounds_can_be_lowered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(yaml_text, "MAX_DEPTH", 2)
    assert load("[[]]") == [[]]
    with pytest.raises(YamlFault, match="more than 2 deep"):
        load("[[[]]]")


def test_keys_that_stand_twice_are_found_with_their_lines() -> None:
    """A message that stood twice in `wording.yaml` was read without a word, and the first was lost."""
    text = "one: a\ntwo: {x: 1, y: 2, x: 3}\none: b\nlist:\n  - {k: 1}\n  - {k: 1, k: 2, k: 3}\n'one': c\n"
    assert duplicate_keys(text) == (
        DuplicateKey("x", 2, 19, 2),
        DuplicateKey("one", 3, 1, 1),
        DuplicateKey("k", 6, 12, 6),
        DuplicateKey("k", 6, 18, 6),
        DuplicateKey("one", 7, 1, 1),
    )
    assert duplicate_keys("a: &a {x: 1}\nb: *a\nc: *a") == ()
    assert duplicate_keys("") == ()


@pytest.mark.parametrize("table", sorted(path.name for path in (grammars() / "en").glob("*.yaml")))
def test_the_shipped_tables_have_no_key_twice(table: str) -> None:
    text = (grammars() / "en" / table).read_text(encoding="utf-8")
    assert duplicate_keys(text) == ()
    assert load(text)


TOKENS = [
    *("a", "b", ": ", "- ", "\n", "\n  ", "[", "]", "{", "}", ", ", "&x ", "*x", "? ", "<<: ", "|\n", "#", "'", '"'),
    *("!!int ", "!!set ", "!!binary ", "!!omap ", "1", "2026-01-01", "~", "%", "---\n", "\\"),
]


@settings(max_examples=300, deadline=None)
@given(some.lists(some.sampled_from(TOKENS), max_size=60))
def test_any_text_reads_or_is_a_fault(tokens: list[str]) -> None:
    text = "".join(tokens)
    for read in (compose, load, duplicate_keys):
        with contextlib.suppress(YamlFault):
            read(text)
