"""JSGF grammars: text -> rules, and rule references across files.

Knows the whole of the W3C note (header, imports, public rules, weights, groups, optional parts, `*`, `+`, tags,
quoted tokens, comments, `<NULL>`, `<VOID>`). Refuses to know files: an import is resolved by a callable that
gives the text of a grammar by its name. Source: JSpeech Grammar Format, W3C Note 05 June 2000.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

from assistant.errors import GrammarError

if TYPE_CHECKING:
    from lark import Lark, Token, Tree

MAX_CHARACTERS = 200_000
"""Of a grammar and all that it imports, together."""
MAX_NESTING = 50
"""Brackets, repetitions and tags around one another."""
MAX_IMPORTS = 500
"""Lines of `import` in one grammar."""
MAX_GRAMMARS = 50
"""Grammars that are imported, and those that they import."""
MAX_WORD = 100
"""Characters of a word."""
MIN_WEIGHT, MAX_WEIGHT = 1e-9, 1e9
"""Of an alternative that may be said; one of weight 0 is never said."""


@dataclass(frozen=True, slots=True)
class GrammarBounds:
    """How much a grammar may hold.

    characters: of it and all that it imports, together.
    imports: lines of `import` in one grammar.
    """

    characters: int = MAX_CHARACTERS
    imports: int = MAX_IMPORTS


GRAMMAR_BOUNDS = GrammarBounds()
GRAMMAR_NAME = re.compile(r"(?=.{1,100}\Z)[^\s./\\\0]+(\.[^\s./\\\0]+)*")
"""A grammar's name: parts with dots between, never a path."""

GrammarSource = Callable[[str], str | None]
"""From a grammar's name (`units`, or `com.site.units`) to its text; None when there is none of that name."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where in which text. line and column count from 1."""

    name: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.name}, line {self.line}, column {self.column}"


@dataclass(frozen=True, slots=True)
class Word:
    """A token to be said.

    text: without quotes and escapes; a quoted token may hold spaces.
    """

    text: str


@dataclass(frozen=True, slots=True)
class Reference:
    """A rule by name: `next`, or `commands.next`.

    place: for errors.
    """

    name: str
    place: Place


@dataclass(frozen=True, slots=True)
class Tag:
    """The text between braces, without escapes and outer spaces."""

    text: str


@dataclass(frozen=True, slots=True)
class Sequence_:
    """Parts in order; no part at all is `<NULL>`."""

    parts: tuple[Expansion, ...]


@dataclass(frozen=True, slots=True)
class Alternatives:
    """One of several, each with its weight; 1.0 for all when none was written."""

    choices: tuple[tuple[float, Expansion], ...]


@dataclass(frozen=True, slots=True)
class Repetition:
    """least: 0 for `*` and 1 for `+`; an optional part is `once` with least 0."""

    part: Expansion
    least: int
    once: bool = False


@dataclass(frozen=True, slots=True)
class Void:
    """What can never be said."""


Expansion = Word | Reference | Tag | Sequence_ | Alternatives | Repetition | Void

NULL = Sequence_(())


@dataclass(frozen=True, slots=True)
class GrammarRule:
    """A named expansion.

    public: may be used from other grammars and said on its own.
    """

    name: str
    expansion: Expansion
    public: bool
    place: Place


@dataclass(frozen=True)
class Grammar:
    """One parsed text.

    name: its full name.
    file: what errors call it.
    imports: names as written (`units.*`, `units.volt`), with places.
    rules: by name.
    source: gives the texts of imported grammars.
    loaded: grammars by name that were parsed before, this one among them.
    length: of the text, in characters.
    bounds: that hold for what it imports too.
    """

    name: str
    file: str
    imports: tuple[tuple[str, Place], ...]
    rules: dict[str, GrammarRule]
    source: GrammarSource = field(repr=False)
    loaded: dict[str, Grammar] = field(repr=False)
    length: int = 0
    bounds: GrammarBounds = GRAMMAR_BOUNDS
    _found: dict[str, tuple[Grammar, GrammarRule]] = field(default_factory=dict, repr=False)

    @property
    def public(self) -> tuple[str, ...]:
        """Names of the public rules in their order."""
        return tuple(rule.name for rule in self.rules.values() if rule.public)

    def find(self, reference: Reference) -> tuple[Grammar, GrammarRule]:
        """The rule that a reference in this grammar means, with the grammar that holds it.

        Errors: GrammarError when there is none, when it is not public there, or when two imports fit.
        """
        if reference.name not in self._found:
            self._found[reference.name] = self._find(reference)
        return self._found[reference.name]

    def _find(self, reference: Reference) -> tuple[Grammar, GrammarRule]:
        name = reference.name
        if name in self.rules:
            return self, self.rules[name]
        package, _, simple = name.rpartition(".")
        if package and package in (self.name, self.name.rpartition(".")[2]) and simple in self.rules:
            return self, self.rules[simple]
        found: list[tuple[Grammar, GrammarRule]] = []
        for imported, place in self.imports:
            origin, _, wanted = imported.rpartition(".")
            if wanted not in ("*", simple) or (package and not _names(origin, package)):
                continue
            other = self._load(origin, place)
            rule = other.rules.get(simple)
            if rule is not None and rule.public and (other, rule) not in found:
                found.append((other, rule))
        if len(found) == 1:
            return found[0]
        if found:
            which = " and ".join(f"<{grammar.name}.{simple}>" for grammar, _ in found)
            raise GrammarError(str(reference.place), f"<{name}> may be {which}", "Write the full name")
        close = ", ".join(f"<{rule}>" for rule in [*self.rules][:20]) or "none"
        raise GrammarError(
            str(reference.place),
            f"there is no rule <{name[:MAX_WORD]}>",
            f"Define it, import it, or use one of the rules of this file ({close})",
        )

    def _load(self, origin: str, place: Place) -> Grammar:
        if origin not in self.loaded:
            if not GRAMMAR_NAME.fullmatch(origin):
                cause = f"{origin[:MAX_WORD]!r} is no name of a grammar"
                raise GrammarError(
                    str(place), cause, "Write its name, with dots and without slashes: <com.site.units.*>"
                )
            if len(self.loaded) >= MAX_GRAMMARS:
                cause = f"more than {MAX_GRAMMARS} grammars are imported"
                raise GrammarError(str(place), cause, "Put rules that belong together into one grammar")
            text = self.source(origin)
            if text is None:
                raise GrammarError(
                    str(place),
                    f"the grammar {origin!r} that is imported here was not found",
                    f"Put {origin.rpartition('.')[2]}.jsgf beside this file, or correct the name",
                )
            # Entered before its own imports are looked at: two grammars may import each other.
            parse_grammar(text, f"{origin.rpartition('.')[2]}.jsgf", self.source, self.loaded, origin, self.bounds)
        return self.loaded[origin]

    def check_imports(self) -> None:
        """Every import names a grammar that is there and public rules in it. Errors: GrammarError."""
        for imported, place in self.imports:
            origin, _, wanted = imported.rpartition(".")
            other = self._load(origin, place)
            if wanted == "*":
                continue
            rule = other.rules.get(wanted)
            if rule is None or not rule.public:
                why = "is not public" if rule else "is not defined"
                offers = ", ".join(f"<{name}>" for name in other.public[:20]) or "none"
                raise GrammarError(
                    str(place), f"<{wanted}> {why} in {other.file}", f"Import one of its public rules ({offers})"
                )


def _names(full: str, given: str) -> bool:
    return full == given or full.rpartition(".")[2] == given


_SYNTAX = r"""
    file: HEADER declaration import* rule*
    declaration: "grammar" NAME ";"
    import: "import" REFERENCE ";"
    rule: PUBLIC? REFERENCE "=" alternatives ";"

    bare: alternatives
    alternatives: choice ("|" choice)*
    choice: WEIGHT? sequence
    sequence: part+
    ?part: atom
        | part "*" -> any
        | part "+" -> some
        | part TAG -> tagged
    ?atom: TOKEN -> word
        | QUOTED -> quoted
        | REFERENCE -> reference
        | "(" alternatives ")" -> group
        | "[" alternatives "]" -> maybe

    HEADER: /\ufeff?#JSGF[ \t]+V1\.0[^;\n]*;/
    PUBLIC: "public"
    NAME: /[^\s;=|*+<>()\[\]{}\/"]+/
    REFERENCE: /<[^<>;]*>/
    TAG: /\{(\\.|[^}\\])*\}/s
    QUOTED: /"(\\.|[^"\\\n])*"/
    WEIGHT: /\/[ \t]*[0-9][0-9.]*([eE][-+]?[0-9]+)?[fFdD]?[ \t]*\//
    TOKEN: /[^\s;=|*+<>()\[\]{}\/"]+/
    %ignore /\s+/
    %ignore /\/\/[^\n]*/
    %ignore /\/\*(.|\n)*?\*\//
"""

_EXPECTED = {
    "HEADER": "the header `#JSGF V1.0;`",
    "GRAMMAR": "`grammar NAME;`",
    "SEMICOLON": "`;`",
    "EQUAL": "`=`",
    "REFERENCE": "a rule name between `<` and `>`",
    "TOKEN": "a word",
    "RPAR": "`)`",
    "RSQB": "`]`",
    "NAME": "a name",
}


@cache
def _parser() -> Lark:
    from lark import Lark  # loaded when a grammar is parsed

    return Lark(_SYNTAX, parser="lalr", lexer="contextual", start=["file", "bare"], propagate_positions=True)


def _tree(text: str, file: str, start: str) -> Tree[Token]:
    from lark.exceptions import UnexpectedInput, UnexpectedToken

    try:
        return _parser().parse(text, start=start)
    except UnexpectedInput as wrong:
        line, column = max(wrong.line, 1), max(wrong.column, 1)
        expected: Iterable[str] = (
            wrong.accepts or wrong.expected if isinstance(wrong, UnexpectedToken) else getattr(wrong, "allowed", ())
        )
        wanted = sorted({_EXPECTED[name] for name in expected if name in _EXPECTED})
        seen = "the text ends too early"
        if not (isinstance(wrong, UnexpectedToken) and wrong.token.type == "$END"):
            lines = text.splitlines()
            here = lines[line - 1][column - 1 :] if line <= len(lines) else ""
            seen = f"{(here.split() or ['the end'])[0][:MAX_WORD]!r} does not belong here"
        else:
            line = text.count("\n") + 1
            column = len(text) - (text.rfind("\n") + 1) + 1
        remedy = f"Write {' or '.join(wanted)}" if wanted else "Correct the syntax"
        raise GrammarError(str(Place(file, line, column)), seen, remedy) from None


def parse_grammar(
    text: str,
    file: str,
    source: GrammarSource = lambda name: None,
    loaded: dict[str, Grammar] | None = None,
    name: str | None = None,
    bounds: GrammarBounds = GRAMMAR_BOUNDS,
) -> Grammar:
    """A whole JSGF text.

    file: what errors call it.
    source: gives imported grammars by name.
    loaded: grammars parsed before, kept by the caller (filled here).
    name: its full name, where an import gives it; else the text declares it.
    bounds: that hold for it and what it imports.
    Errors: GrammarError with file, line and column, for syntax, rules defined twice and imports of nothing.
    """
    loaded = {} if loaded is None else loaded
    if len(text) + sum(grammar.length for grammar in loaded.values()) > bounds.characters:
        cause = f"with what is imported beside it, it is longer than {bounds.characters:,} characters"
        raise GrammarError(file, cause, "Use a smaller grammar")
    tree = _tree(text, file, "file")
    declared = ""
    imports: list[tuple[str, Place]] = []
    rules: dict[str, GrammarRule] = {}
    for part in _trees(tree):
        if part.data == "declaration":
            declared = str(_token(part))
        elif part.data == "import":
            token = _token(part)
            place = _place(file, token)
            imported = str(token)[1:-1].strip()
            if "." not in imported:
                cause = f"<{imported[:MAX_WORD]}> names no grammar"
                raise GrammarError(str(place), cause, "Write <grammar.rule> or <grammar.*>")
            imports.append((imported, place))
            if len(imports) > bounds.imports:
                cause = f"more than {bounds.imports} imports stand in one grammar"
                raise GrammarError(str(place), cause, "Import whole grammars: <units.*>")
        else:
            public = _token(part).type == "PUBLIC"
            token = _token(part, int(public))
            place = _place(file, token)
            rule_name = str(token)[1:-1].strip()
            if len(rule_name) > MAX_WORD or not re.fullmatch(r"(?!(NULL|VOID)\Z)\S+", rule_name):
                raise GrammarError(str(place), f"{token[:MAX_WORD]} cannot be a rule's name", "Choose another name")
            if rule_name in rules:
                raise GrammarError(
                    str(place),
                    f"<{rule_name}> is defined a second time",
                    f"Join the two with `|`; the first is in line {rules[rule_name].place.line}",
                )
            rules[rule_name] = GrammarRule(rule_name, _expansion(_trees(part)[0], file), public, place)
    grammar = Grammar(name or declared, file, tuple(imports), rules, source, loaded, len(text), bounds)
    loaded[grammar.name] = grammar
    grammar.check_imports()
    return grammar


def parse_expansion(text: str, file: str, source: GrammarSource, loaded: dict[str, Grammar] | None = None) -> Grammar:
    """A bare expansion such as `<commands.next> | dead at both`, as a grammar with the one public rule `it`.

    Every grammar that a reference names is imported. Errors: GrammarError with the place.
    """
    expansion = _expansion(_trees(_tree(text, file, "bare"))[0], file)
    imports = {
        (reference.name.rpartition(".")[0] + ".*"): reference.place
        for reference in references(expansion)
        if "." in reference.name
    }
    rule = GrammarRule("it", expansion, True, Place(file, 1, 1))
    grammar = Grammar("", file, tuple(imports.items()), {"it": rule}, source, {} if loaded is None else loaded)
    grammar.check_imports()
    return grammar


def references(expansion: Expansion) -> Sequence[Reference]:
    """Every rule reference inside, in order."""
    match expansion:
        case Reference():
            return [expansion]
        case Sequence_(parts):
            return [reference for part in parts for reference in references(part)]
        case Alternatives(choices):
            return [reference for _, part in choices for reference in references(part)]
        case Repetition(part):
            return references(part)
        case _:
            return []


def _trees(tree: Tree[Token]) -> list[Tree[Token]]:
    return [child for child in tree.children if not isinstance(child, str)]


def _token(tree: Tree[Token], number: int = 0) -> Token:
    return [child for child in tree.children if isinstance(child, str)][number]


def _place(file: str, token: Token) -> Place:
    return Place(file, token.line or 1, token.column or 1)


def _expansion(tree: Tree[Token], file: str, depth: int = 0) -> Expansion:
    """depth: how many brackets, repetitions and tags there are around it."""
    if depth > MAX_NESTING:
        raise GrammarError(
            str(Place(file, tree.meta.line, tree.meta.column)),
            f"more than {MAX_NESTING} brackets, repetitions or tags stand around this",
            "Make rules of the inner parts",
        )
    match tree.data:
        case "alternatives":
            return _alternatives(tree, file, depth)
        case "sequence":
            parts = tuple(_expansion(part, file, depth) for part in _trees(tree))
            return parts[0] if len(parts) == 1 else Sequence_(parts)
        case "word":
            return _word(str(_token(tree)), _token(tree), file)
        case "quoted":
            token = _token(tree)
            text = re.sub(r"\\(.)", r"\1", str(token)[1:-1]).strip()
            if not text:
                raise GrammarError(str(_place(file, token)), "a quoted word is empty", "Write <NULL> for nothing")
            return _word(text, token, file)
        case "reference":
            token = _token(tree)
            name = str(token)[1:-1].strip()
            if name == "NULL":
                return NULL
            return Void() if name == "VOID" else Reference(name, _place(file, token))
        case "group":
            return _expansion(_trees(tree)[0], file, depth + 1)
        case "maybe":
            return Repetition(_expansion(_trees(tree)[0], file, depth + 1), 0, once=True)
        case "any" | "some":
            return Repetition(_expansion(_trees(tree)[0], file, depth + 1), 0 if tree.data == "any" else 1)
        case "tagged":
            text = re.sub(r"\\(.)", r"\1", str(_token(tree))[1:-1], flags=re.DOTALL).strip()
            return Sequence_((_expansion(_trees(tree)[0], file, depth + 1), Tag(text)))
        case _:  # pragma: no cover - the syntax above has no other
            raise AssertionError(tree.data)


def _word(text: str, token: Token, file: str) -> Word:
    if len(text) > MAX_WORD:
        raise GrammarError(
            str(_place(file, token)), f"a word has more than {MAX_WORD} characters", "Write words as they are said"
        )
    return Word(text)


def _alternatives(tree: Tree[Token], file: str, depth: int) -> Expansion:
    choices: list[tuple[float, Expansion]] = []
    unweighted: Tree[Token] | None = None
    for choice in _trees(tree):
        weight = 1.0
        if len(choice.children) == 1:
            unweighted = choice
        else:
            weight = _weight(_token(choice), file)
        choices.append((weight, _expansion(_trees(choice)[0], file, depth)))
    weighted = any(len(choice.children) > 1 for choice in _trees(tree))
    if weighted and unweighted is not None:
        raise GrammarError(
            str(Place(file, unweighted.meta.line, unweighted.meta.column)),
            "some of these alternatives have a weight and some have none",
            "Give every alternative a weight such as /1/, or none",
        )
    if len(choices) == 1 and not weighted:
        return choices[0][1]
    return Alternatives(tuple(choices))


def _weight(token: Token, file: str) -> float:
    try:
        weight = float(token.strip("/ \tfFdD"))
    except ValueError:
        cause = f"{token[:MAX_WORD]} is no weight"
        raise GrammarError(str(_place(file, token)), cause, "Write a number such as /0.5/") from None
    is_zero = not re.search("[1-9]", re.split("[eE]", token)[0])  # 1e-400 is too small to be told from it
    if not is_zero and not MIN_WEIGHT <= weight <= MAX_WEIGHT:
        raise GrammarError(
            str(_place(file, token)),
            f"the weight {token[:MAX_WORD]} is too small or too large",
            f"Write 0, or a number from {MIN_WEIGHT:g} to {MAX_WEIGHT:g}",
        )
    return weight
