"""What a grammar may ask for: each bound holds, what is beyond it is a GrammarError, and nothing takes long."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from assistant.edge.files.grammars import forms_of, grammars_in, read_table
from assistant.edge.sound.hear import graph_of
from assistant.errors import EngineBayError, GrammarError
from assistant.grammar.forms import parse_text
from assistant.grammar.graph import GRAPH_BOUNDS, GraphBounds, WordGraph, compile_grammar
from assistant.grammar.jsgf import GRAMMAR_BOUNDS, GrammarBounds, parse_expansion, parse_grammar

pytestmark = pytest.mark.timeout(300)  # what explodes does not end

HEADER = "#JSGF V1.0 UTF-8 en;\ngrammar test;\n"


def compiled(
    rules: str, bounds: GrammarBounds = GRAMMAR_BOUNDS, size: GraphBounds = GRAPH_BOUNDS, **others: str
) -> WordGraph:
    return compile_grammar(parse_grammar(HEADER + rules, "test.jsgf", others.get, bounds=bounds), bounds=size)


def refused(
    rules: str,
    cause: str,
    place: str = "test.jsgf",
    bounds: GrammarBounds = GRAMMAR_BOUNDS,
    size: GraphBounds = GRAPH_BOUNDS,
    **others: str,
) -> None:
    with pytest.raises(GrammarError, match=cause) as caught:
        compiled(rules, bounds, size, **others)
    assert caught.value.place.startswith(place)
    assert len(str(caught.value)) < 1000


@pytest.mark.parametrize(
    "rules",
    [
        "public <a> = " + "(" * 2000 + "x" + ")" * 2000 + ";",
        "public <a> = " + "[" * 2000 + "x" + "]" * 2000 + ";",
        "public <a> = x" + "*" * 2000 + ";",
        "public <a> = x" + "{t}" * 2000 + ";",
    ],
)
def test_brackets_inside_brackets_end_somewhere(rules: str) -> None:
    """300 brackets, and as many repetitions or tags of one word, ended in a RecursionError."""
    refused(rules, "more than 50 brackets, repetitions or tags", "test.jsgf, line 3, column ")
    with pytest.raises(GrammarError, match="more than 50"):
        parse_expansion("(" * 60 + "x" + ")" * 60, "offer", {}.get)


def test_rules_inside_rules_end_somewhere() -> None:
    """A chain of 500 rules ended in a RecursionError, and so did a chain of grammars that import one another."""
    chain = "public <r0> = <r1>;" + "".join(f"<r{n}> = <r{n + 1}>;" for n in range(1, 3000)) + "<r3000> = x;"
    refused(chain, "more than 400 parts and rules")
    grammars = {f"g{n}": f"#JSGF V1.0;\ngrammar g{n};\nimport <g{n + 1}.*>;\npublic <a> = x;\n" for n in range(900)}
    refused("import <g0.*>;\npublic <top> = <a>;", "more than 50 grammars are imported", "g", **grammars)


def test_everyday_depths_are_compiled() -> None:
    chain = "public <r0> = <r1>;" + "".join(f"<r{n}> = <r{n + 1}>;" for n in range(1, 80)) + "<r80> = x;"
    assert compiled(chain).words == ("x",)
    assert compiled("public <a> = " + "[x " * 49 + "]" * 49 + ";").words == ("x",)


@pytest.mark.parametrize("weight", ["1e999", "1e-400", "1e-10", "1e10", "9" * 10_000])
def test_a_weight_that_is_none_is_refused(weight: str) -> None:
    """`/1e999/` became no number, `/1e-400/` silenced its alternative, and `/1e-300/` beside `/1e300/` ended in a math
    domain error."""
    refused(f"public <a> = /{weight}/ x | /1/ y;", "too small or too large", "test.jsgf, line 3, column 14")


@pytest.mark.parametrize("rules", ["/1e-9/ x | /1e9/ y", "/0/ x | /0.5/ y", "/0.0e5/ x | /1/ y"])
def test_a_weight_in_the_range_is_taken(rules: str) -> None:
    assert "y" in compiled(f"public <a> = {rules};").words


def test_words_and_names_have_a_length() -> None:
    """A word of a million letters went into the graph, and its error message was as long."""
    refused(f"public <a> = {'x' * 101};", "more than 100 characters")
    refused(f'public <a> = "{"x " * 100}";', "more than 100 characters")
    refused(f"public <{'x' * 10_000}> = a;", "cannot be a rule's name")
    refused(f"public <a> = <{'x' * 10_000}>;", "there is no rule")
    refused("public <a> = (x" + ")" * 10_000, "does not belong here")
    assert compiled(f"public <a> = {'x' * 100};").words == ("x" * 100,)


def test_a_grammar_has_a_size_with_all_that_it_imports() -> None:
    """A text of any size was parsed, however long that took."""
    refused("public <a> = " + "x | " * 60_000 + "y;", "longer than 200,000 characters")
    other = f"#JSGF V1.0;\ngrammar other;\npublic <b> = {'beta ' * 100};\n"
    small = GrammarBounds(characters=600)
    refused("import <other.*>;\npublic <a> = <b>;" + " " * 100, "longer than 600", "other.jsgf", small, other=other)
    assert compiled("public <a> = x;" + " " * 100, small).words == ("x",)


def test_imports_are_counted() -> None:
    two = GrammarBounds(imports=2)
    units = "#JSGF V1.0;\ngrammar units;\npublic <volt> = volt;\n"
    assert compiled("import <units.*>;import <units.volt>;public <a> = <volt>;", two, units=units)
    refused("import <units.*>;" * 3 + "public <a> = <volt>;", "more than 2 imports", bounds=two, units=units)


def test_optional_parts_in_a_row_are_refused_before_they_take_long() -> None:
    """4,000 optional words in a row took over 45 s to be heard with, and 2 optional tags of nothing in each of 40
    places never ended."""
    refused("public <a> = " + "[w] " * 4000 + ";", "more than 30,000 steps")
    few = GraphBounds(silent=2000)
    refused("public <a> = " + "[<NULL> {t}] [<NULL> {u}] " * 40 + "x;", "more than 2,000 steps", size=few)
    refused("public <a> = (" + "[<NULL> {t}] [<NULL> {u}] " * 40 + ")* x;", "more than 2,000 steps", size=few)
    refused("public <a> = " + "w* " * 300 + ";", "more than 2,000 steps", size=few)


def test_ways_that_say_and_mean_the_same_are_one() -> None:
    """Each alternative of nothing doubled the ways that were looked at: thirty in a row never ended."""
    many = compiled("public <a> = " + "(<NULL> | <NULL>) [[[x]]] " * 60 + "end;")
    assert len(many.reached(many.start)) <= many.nodes
    looped = compiled("public <a> = ((([x] [y])*)*)* end;")
    assert next(words for words, _ in looped.sentences(3)) == ("end",)


def test_the_likeliest_way_counts() -> None:
    """Of two ways to leave the word out, one through three optional parts and one through one, the second is kept."""
    found = compiled("public <a> = ([[[x]]] | y) end;")
    ends = [arc.start for arc in found.arcs if arc.word == "end"]
    weights = [reached.weight for reached in found.reached(found.start) if reached.node == ends[0]]
    assert weights == [pytest.approx(2 * -0.6931, abs=1e-3)]


def test_a_tag_on_a_way_without_words_is_kept() -> None:
    """Ways that mean different things stay apart, also where a repetition leads round and round."""
    found = compiled("public <a> = ([w] {t})* x;")
    tags = sorted({reached.tags for reached in found.reached(found.start)})
    assert tags[:2] == [(), ("t",)]


def test_and_said_again_and_again() -> None:
    """In a grammar with `hundred and*` the typed 105 filled the memory: `and` writes nothing, and was followed for
    ever."""
    found = parse_text(compiled("public <a> = one hundred and* five;"), "105")
    assert ("one", "hundred", "and", "five") in {parsed.saying.words for parsed in found}
    assert ("one", "hundred", "five") in {parsed.saying.words for parsed in found}


def test_words_that_mean_two_things_each() -> None:
    """Forty words with two tags each to choose from would have had 2 to the power of 40 meanings."""
    assert parse_text(compiled("public <a> = (a {x} | a {y})*;"), "a " * 40)
    assert parse_text(compiled("public <a> = (a {x} | a {y})*;"), "a " * 40, max_typed=20) == ()


def test_a_phrase_of_several_words_among_many_ways_to_it() -> None:
    """With `[revolutions] [per] [minute]` many times over, a million ways wrote the same `rpm`."""
    parse_text(compiled("public <a> = " + "[revolutions] [per] [minute] " * 40 + "x;"), "rpm x", forms_of())


def test_a_graph_stays_small() -> None:
    refused("public <a> = " + "x " * 30 + ";", "grows beyond 20 nodes", size=GraphBounds(nodes=20))


TOKENS = [
    *("a", "and", "hundred", "five", "25", " ", " ", "|", "(", ")", "[", "]", "*", "+", "{t}", "{u}", "<NULL>"),
    *(
        "<VOID>",
        "<r>",
        "<s>",
        "/2/",
        "/0/",
        "/1e9/",
        "/1e999/",
        '"a b"',
        ";",
        "<s> =",
        "public <t> =",
        "//\n",
        "/*",
        "*/",
    ),
]


@settings(max_examples=500, deadline=None)
@given(some.lists(some.sampled_from(TOKENS), max_size=80), some.integers(1, 40))
def test_any_text_of_tokens_compiles_within_a_second_or_is_refused(tokens: list[str], times: int) -> None:
    """A text of a few hundred tokens could take for ever, or end in an error that nobody was meant to see."""
    part = "".join(tokens)
    for text in (f"public <r> = {part};", f"public <r> = {f'({part}) ' * times};", f"public <r> = {part * times};"):
        with contextlib.suppress(GrammarError):
            compiled(text)


@pytest.mark.parametrize("times", [1, 30])
@settings(max_examples=100, deadline=None)
@given(
    part=some.recursive(
        some.sampled_from(["a", "<NULL>", "{t}", "b {t}", "<NULL> {u}", "<VOID>"]),
        lambda inner: some.one_of(
            some.lists(inner, min_size=1, max_size=4).map(lambda parts: f"({' | '.join(parts)})"),
            some.lists(inner, min_size=1, max_size=4).map(" ".join),
            inner.map(lambda one: f"[{one}]"),
            inner.map(lambda one: f"({one})*"),
            inner.map(lambda one: f"({one})+"),
        ),
        max_leaves=12,
    )
)
def test_any_expansion_compiles_within_a_second_or_is_refused(part: str, times: int) -> None:
    with contextlib.suppress(GrammarError):
        found = compiled(f"public <r> = {f'({part}) ' * times} x;")
        for node in {found.start, *(arc.end for arc in found.arcs if arc.word is not None)}:
            found.reached(node)


# --- files -----------------------------------------------------------------------------------------------------------


def written(folder: Path, header: str, data: bytes) -> Path:
    path = folder / "some.jsgf"
    path.write_bytes(f"#JSGF V1.0 {header} en;\ngrammar some;\npublic <a> = ".encode() + data + b";\n")
    return path


@pytest.mark.parametrize(
    "encoding",
    [
        *("undefined", "idna", "punycode", "unicode_escape", "raw_unicode_escape", "utf-7", "base64", "rot13", "hex"),
        *("zlib", "mbcs", "charmap", "cp037", "ISO-8859-12", "ISO-8859-99", "\N{DIGIT ONE}25", "x" * 300, "a\0b"),
    ],
)
def test_what_is_no_encoding_of_a_grammar_is_refused(tmp_path: Path, encoding: str) -> None:
    """`undefined` raised a bare UnicodeError, `idna` and `unicode_escape` read the text as something else, and a NUL in
    the name raised a ValueError."""
    with pytest.raises(GrammarError, match="encoding") as caught:
        graph_of(written(tmp_path, encoding, b"cafe"))
    assert len(str(caught.value)) < 1000


@pytest.mark.parametrize(
    ("encoding", "codec"),
    [
        *(("utf-8", "utf-8"), ("UTF8", "utf-8"), ("ISO-8859-1", "latin-1"), ("iso8859-15", "iso8859-15")),
        *(("windows-1252", "cp1252"), ("cp1250", "cp1250"), ("latin1", "latin-1")),
    ],
)
def test_an_encoding_of_text_is_read(tmp_path: Path, encoding: str, codec: str) -> None:
    assert graph_of(written(tmp_path, encoding, "café".encode(codec))).words == ("café",)


def test_a_grammar_in_utf_16(tmp_path: Path) -> None:
    path = tmp_path / "wide.jsgf"
    path.write_bytes("#JSGF V1.0 UTF-16 fr;\ngrammar wide;\npublic <a> = café;\n".encode("utf-16"))
    assert graph_of(path).words == ("café",)
    path.write_bytes(path.read_bytes() + b"\0")
    with pytest.raises(GrammarError, match="it is not UTF-16"):
        graph_of(path)


GOOD = "#JSGF V1.0;\ngrammar {};\npublic <y> = galley;\n"


@pytest.mark.parametrize(
    "name", ["{outside}/x.y", "..x.y", "../x.y", "..\\x.y", "a/../../x.y", ".x.y", "x..y", "a\0.y"]
)
def test_imports_stay_inside_their_folder(tmp_path: Path, name: str) -> None:
    """`import </etc/x.y>` read a grammar anywhere on the machine."""
    (tmp_path / "x.jsgf").write_text(GOOD.format("x"))
    folder = tmp_path / "inside"
    folder.mkdir()
    (folder / "top.jsgf").write_text(
        f"#JSGF V1.0;\ngrammar top;\nimport <{name.replace('{outside}', str(tmp_path))}>;\npublic <a> = <y>;\n"
    )
    with pytest.raises(GrammarError, match=r"is no name of a grammar|names no grammar|does not belong") as caught:
        graph_of(folder / "top.jsgf")
    assert "line 3" in caught.value.place
    assert grammars_in(folder)(name.rpartition(".")[0]) is None


def test_a_link_that_leads_out_of_the_folder_is_refused(tmp_path: Path) -> None:
    """A link beside the grammar led to any file of the machine."""
    folder = tmp_path / "inside"
    folder.mkdir()
    (tmp_path / "x.jsgf").write_text(GOOD.format("x"))
    (folder / "top.jsgf").write_text("#JSGF V1.0;\ngrammar top;\nimport <x.*>;\npublic <a> = <y>;\n")
    (folder / "x.jsgf").symlink_to(tmp_path / "x.jsgf")
    with pytest.raises(GrammarError, match="leads out of the folder"):
        graph_of(folder / "top.jsgf")
    (folder / "x.jsgf").unlink()
    (folder / "real.jsgf").write_text(GOOD.format("x"))
    (folder / "x.jsgf").symlink_to("real.jsgf")
    assert graph_of(folder / "top.jsgf").words == ("galley",)


def test_what_is_no_file_is_not_waited_for(tmp_path: Path) -> None:
    """A named pipe as grammar was waited for for ever, and `/dev/zero` filled the memory."""
    os.mkfifo(tmp_path / "pipe.jsgf")
    for path in (tmp_path / "pipe.jsgf", tmp_path, Path("/dev/zero")):
        with pytest.raises(GrammarError, match="no regular file"):
            graph_of(path)
        with pytest.raises(EngineBayError, match="no regular file"):
            read_table(path)
    assert grammars_in(tmp_path)("pipe") is None
    with pytest.raises(GrammarError, match="it is not UTF-8"):
        graph_of(written(tmp_path, "UTF-8", bytes(range(128, 256))))
    (tmp_path / "large.jsgf").write_bytes(b" " * 1_000_000)
    with pytest.raises(GrammarError, match="larger than 800,000 bytes"):
        graph_of(tmp_path / "large.jsgf")


def test_a_table_that_does_not_read_names_its_place(tmp_path: Path) -> None:
    """A table with a day that is none, such as 2026-02-31, ended in a bare ValueError."""
    path = tmp_path / "forms.yaml"
    for text, line in (("a: 1\nb: [", 2), ("a: 1\nb: 2026-02-31", 2), ("[" * 500, 1)):
        path.write_text(text)
        with pytest.raises(EngineBayError) as caught:
            read_table(path)
        assert caught.value.place.startswith(f"{path}, line {line}, column ")
    path.write_bytes(b"\xff")
    with pytest.raises(EngineBayError, match="not UTF-8"):
        read_table(path)
