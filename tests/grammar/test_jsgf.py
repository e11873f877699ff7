"""JSGF: what the note allows is understood, what it forbids is refused with file, line and column."""

from __future__ import annotations

import pytest

from assistant.errors import GrammarError
from assistant.grammar.graph import GraphBounds, compile_grammar
from assistant.grammar.jsgf import parse_grammar

HEADER = "#JSGF V1.0 UTF-8 en;\ngrammar test;\n"


def sentences(rules: str, rule: str | None = None, most: int = 50, **others: str) -> list[tuple[str, tuple[str, ...]]]:
    grammar = parse_grammar(HEADER + rules, "test.jsgf", others.get)
    compiled = compile_grammar(grammar, None if rule is None else [rule])
    return [(" ".join(words), tags) for words, tags in compiled.sentences(most)]


def said(rules: str, rule: str | None = None, **others: str) -> set[str]:
    return {words for words, _ in sentences(rules, rule, **others)}


@pytest.mark.parametrize(
    ("rules", "expected"),
    [
        ("public <a> = open the valve;", {"open the valve"}),
        ("public <a> = open | close;", {"open", "close"}),
        ("public <a> = /10/ open | /0.5/ close;", {"open", "close"}),
        ("public <a> = /1e2/ open | /.5f/ close;", None),
        (
            "public <a> = (open | shut) [the] gate;",
            {"open gate", "open the gate", "shut gate", "shut the gate"},
        ),
        ("public <a> = open <b>; <b> = gate | door;", {"open gate", "open door"}),
        ("public <a> = open <NULL> door;", {"open door"}),
        ("public <a> = open <VOID> | close;", {"close"}),
        ("public <a> = /0/ open | /1/ close;", {"close"}),
        ('public <a> = "New York" time;', {"New York time"}),
        (r'public <a> = "say \"again\"" now;', {'say "again" now'}),
        ("public <a> = /* not this */ open; // nor this\n", {"open"}),
        ("/** documentation\n * @see <b> */\npublic <a> = open;", {"open"}),
        ("public <a> = import grammar public;", {"import grammar public"}),
        ("public <a> = o'clock naïve 25 twenty-five;", {"o'clock naïve 25 twenty-five"}),
        ("public <a> = one; <b> = two;", {"one"}),
        ("public <a> = one; public <b> = two;", {"one", "two"}),
        ("<a> = ((open)); public <b> = <a>;", {"open"}),
    ],
)
def test_what_can_be_said(rules: str, expected: set[str] | None) -> None:
    if expected is None:
        with pytest.raises(GrammarError, match="does not belong here"):
            said(rules)
    else:
        assert said(rules) == expected


def test_a_rule_that_is_not_public_can_be_asked_for() -> None:
    assert said("public <a> = one; <b> = two;", "b") == {"two"}


def test_repetition() -> None:
    assert {"", "go", "go go"} <= said("public <a> = go*;")
    plus = said("public <a> = go+ now;")
    assert {"go now", "go go now"} <= plus
    assert "now" not in plus


def test_recursion_at_the_end_is_a_repetition() -> None:
    assert {"tick stop", "tick tick stop"} <= said("public <a> = tick <a> | stop;")
    # Only the rule itself comes again, not what stands before it or beside it.
    found = said("public <top> = well <a> | oh; <a> = tick <a> | stop;")
    assert found >= {"oh", "well stop", "well tick stop"}
    assert not {words for words in found if "tick oh" in words or "tick well" in words}


def test_mutual_recursion_at_the_end() -> None:
    found = said("public <a> = left <b> | end; <b> = right <a>;")
    assert {"end", "left right end", "left right left right end"} <= found
    assert "left end" not in found


@pytest.mark.parametrize("rules", [f"public <a> = {right};" for right in ("<a> x | y", "x <a> y | z", "(x <a>)* | z")])
def test_other_recursion_is_refused(rules: str) -> None:
    with pytest.raises(GrammarError, match=r"test\.jsgf, line 3, column \d+: <a> is used inside itself"):
        said(rules)


@pytest.mark.parametrize(
    ("rules", "tags"),
    [
        ("public <a> = open {OPEN} the valve {V};", ("OPEN", "V")),
        ("public <a> = (open the valve) {whole};", ("whole",)),
        ("public <a> = (open {1} valve {2}) {3};", ("1", "2", "3")),
        ("public <a> = open {a} {b};", ("a", "b")),
        (r"public <a> = open {x\}y\{z\\};", ("x}y{z\\",)),
        ("public <a> = open { two words };", ("two words",)),
        ("public <a> = <b> {outer}; <b> = open {inner};", ("inner", "outer")),
        ("public <a> = <NULL> {early} open;", ("early",)),
        ('public <a> = open {on:1; b="2"};', ('on:1; b="2"',)),
    ],
)
def test_tags_in_their_order(rules: str, tags: tuple[str, ...]) -> None:
    assert sentences(rules)[0][1] == tags


def test_a_tag_belongs_to_what_is_right_before_it() -> None:
    assert dict(sentences("public <a> = one | two {second};")) == {"one": (), "two": ("second",)}


def test_weights_are_shares_of_their_alternatives() -> None:
    from math import exp

    grammar = parse_grammar(HEADER + "public <a> = /3/ one | /1/ two;", "test.jsgf")
    weights = sorted(round(exp(arc.weight), 6) for arc in compile_grammar(grammar).arcs if arc.weight)
    assert weights == [0.25, 0.75]


UNITS = "#JSGF V1.0;\ngrammar units;\npublic <volt> = volt | volts;\n<secret> = ohm;\n"


@pytest.mark.parametrize(
    "rules",
    [
        "import <units.volt>;\npublic <a> = <volt>;",
        "import <units.*>;\npublic <a> = <volt>;",
        "import <units.*>;\npublic <a> = <units.volt>;",
    ],
)
def test_imports(rules: str) -> None:
    assert said(rules, units=UNITS) == {"volt", "volts"}


def test_imports_of_imports_and_of_packages() -> None:
    site = "#JSGF V1.0;\ngrammar com.site.all;\nimport <units.*>;\npublic <reading> = seven <volt>;\n"
    grammars = {"com.site.all": site, "units": UNITS}
    text = HEADER + "import <com.site.all.reading>;\npublic <a> = <all.reading>;"
    grammar = parse_grammar(text, "t.jsgf", grammars.get)
    assert [" ".join(words) for words, _ in compile_grammar(grammar).sentences(5)] == ["seven volt", "seven volts"]


def test_grammars_that_import_each_other() -> None:
    other = "#JSGF V1.0;\ngrammar other;\nimport <test.*>;\npublic <b> = beta;\n"
    assert said("import <other.*>;\npublic <a> = alfa | <b>;", other=other) == {"alfa", "beta"}


@pytest.mark.parametrize(
    ("text", "place", "cause"),
    [
        ("grammar a;\n", "line 1, column 1", "does not belong here"),
        (HEADER + "public <a> = open (the valve;\n", "line 3, column 29", "';' does not belong here"),
        (HEADER + "public <a> = open", "line 3, column 18", "ends too early"),
        (HEADER + "public <a> = one | ;", "line 3, column 20", "does not belong here"),
        (HEADER + "public <a> = <b>;", "line 3, column 14", "there is no rule <b>"),
        (HEADER + "public <a> = one;\npublic <a> = two;", "line 4, column 8", "defined a second time"),
        (HEADER + "public <NULL> = one;", "line 3, column 8", "cannot be a rule's name"),
        (HEADER + "import <nowhere.rule>;\npublic <a> = one;", "line 3, column 8", "was not found"),
        (HEADER + "import <units.secret>;\npublic <a> = one;", "line 3, column 8", "is not public"),
        (HEADER + "import <units.ohm>;\npublic <a> = one;", "line 3, column 8", "is not defined"),
        (HEADER + "import <units>;\npublic <a> = one;", "line 3, column 8", "names no grammar"),
        (HEADER + "public <a> = /1/ one | two;", "line 3, column 24", "some have none"),
        (HEADER + 'public <a> = "" one;', "line 3, column 14", "a quoted word is empty"),
        (HEADER + "public <a> = one {tag;", "line 3, column 18", "does not belong here"),
        (HEADER + "<a> = one;", "", "no public rule"),
        (HEADER + "public <a> = <VOID>;", "", "nothing can be said"),
        (HEADER + "public <a> = <NULL> {x};", "", "holds no word"),
    ],
)
def test_errors_name_the_place_the_cause_and_a_remedy(text: str, place: str, cause: str) -> None:
    with pytest.raises(GrammarError) as caught:
        compile_grammar(parse_grammar(text, "bad.jsgf", {"units": UNITS}.get))
    assert caught.value.place.startswith("bad.jsgf")
    assert place in caught.value.place
    assert cause in caught.value.cause
    assert caught.value.remedy


def test_a_grammar_that_grows_without_end_is_refused() -> None:
    doubled = "".join(f"<r{n}> = <r{n - 1}> <r{n - 1}>;\n" for n in range(1, 24))
    grammar = parse_grammar(HEADER + f"public <a> = <r23>; <r0> = x;\n{doubled}", "test.jsgf")
    with pytest.raises(GrammarError, match="grows beyond 1,000"):
        compile_grammar(grammar, bounds=GraphBounds(nodes=1000))
