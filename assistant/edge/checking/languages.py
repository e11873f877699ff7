"""A language's folder on disk, examined: wording, grammars and tables, with file, line and column of all that is wrong.

Says every message once with sample arguments, and holds every rule that the program refers to against what its tags
must mean, so that no file that passes can end a visit. Refuses to judge procedures: `checking.py` does.
"""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, fields
from datetime import date
from decimal import Decimal
from functools import lru_cache, partial
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Protocol, Union, cast, get_args, get_origin, get_type_hints

from assistant.dialogue.commands import rule_of
from assistant.dialogue.messages import Message
from assistant.dialogue.wording import MESSAGES, Wording, arguments
from assistant.edge.checking.pronouncing import pronounced
from assistant.edge.files.grammars import grammars_in, read_grammar_text, table_text
from assistant.errors import EngineBayError
from assistant.grammar.expectation import Offer, Risk
from assistant.grammar.forms import forms_table
from assistant.grammar.graph import WordGraph, compile_grammar
from assistant.grammar.jsgf import Grammar, GrammarSource, parse_grammar
from assistant.grammar.numbers import fold, is_number_tag, say_digits, say_number
from assistant.grammar.spoken import SpokenForms, spoken, spoken_forms
from assistant.grammar.units import DEGREES, SHARED_RULES, SHORT_RULES, UNIT_RULES, words_of_units
from assistant.meanings import REASONS, ROLES, CommandName, Reason
from assistant.procedure.likeness import missing, pronunciations
from assistant.procedure.problem import Severity
from assistant.procedure.reading import Fault, odd_sign
from assistant.quantities import UNITS, Limits, Quantity
from assistant.yaml_text import YamlFault, compose, load

if TYPE_CHECKING:
    import yaml

WORDING = "wording.yaml"
FILES_KEPT = 24  # twice those of a language
MOST_PHRASES = 300  # of one rule
TOLD_AFTER = "say"
"""The word of a prompt after which a phrase is told on purpose."""
_PLACE = re.compile(r"^(?P<file>.*?)(?:, line (?P<line>\d+))?(?:, column (?P<column>\d+))?$")
_TREE_PATH = tuple[str | int, ...]


def examine_language(folder: Path) -> dict[Path, tuple[Fault, ...]]:
    """Every file of a language, with what is wrong in it from its top."""
    return _Examination(folder).run()


@dataclass(slots=True)
class _Table:
    """A YAML file. value: as the program reads it; places: line and column, from 1, of what stands at each path."""

    value: object = None
    places: dict[_TREE_PATH, tuple[int, int]] = field(default_factory=dict)


class _Examination:
    """The examination of one folder, and what was found so far."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.faults: dict[Path, list[Fault]] = {}
        self.source = grammars_in(folder)
        self.grammars: dict[str, Grammar] = {}
        self.graphs: dict[tuple[str, str], WordGraph] = {}
        self.phrases: dict[str, str] = {}  # what may be said -> the rule that says it, without numbers and units

    def run(self) -> dict[Path, tuple[Fault, ...]]:
        for file in sorted(self.folder.glob("*.yml")):
            self.add(file, (1, 1), "its name ends in '.yml', so it is not read", f"Rename it to {file.stem}.yaml")
        self.read_grammars()
        self.commands()
        self.units()
        self.numbers()
        self.spelled()
        for grammar, rule, keys in (("reasons", "reason", REASONS), ("roles", "role", ROLES)):
            self.sentences(grammar, rule, partial(_one_of, keys))
        self.sentences("answers", "substitute", lambda tags: "it has a tag, which is not looked at" if tags else "")
        self.tables()
        return {
            file: tuple(sorted(found, key=lambda one: (one.line, one.column))) for file, found in self.faults.items()
        }

    def file(self, name: str) -> Path:
        """A file of the folder, which is among those that were looked at from now on."""
        self.faults.setdefault(self.folder / name, [])
        return self.folder / name

    def add(
        self, file: Path, at: tuple[int, int], cause: str, remedy: str, severity: Severity = Severity.WRONG
    ) -> None:
        found = self.faults.setdefault(file, [])
        fault = Fault(str(file), *at, severity, cause, remedy)
        if fault not in found:
            found.append(fault)

    def raised(self, error: EngineBayError, file: Path, at: tuple[int, int] = (1, 1)) -> None:
        """An error as a fault. file, at: where it is when the error does not say so itself."""
        match = _PLACE.match(error.place)
        if match and match["line"] and match["file"].endswith((".jsgf", ".yaml")):
            file, at = self.folder / Path(match["file"]).name, (int(match["line"]), int(match["column"] or 1))
        self.add(file, at, error.cause, error.remedy)

    # --- grammars ------------------------------------------------------------------------------------------------

    def read_grammars(self) -> None:
        """Every grammar parses, and every public rule of it can be said, never with nothing."""
        for file in sorted(self.folder.glob("*.jsgf")):
            self.file(file.name)
            try:
                text = read_grammar_text(file)
                if "import" in text:  # it depends on other files, so it is compiled each time
                    compiled = _compile(text, file.name, self.source)
                else:
                    compiled = _compile_once(text, file.name)
            except EngineBayError as error:
                self.raised(error, file)
                continue
            self.grammars[file.stem] = compiled.grammar
            for fault in compiled.faults:
                self.raised(fault, file)
            for name, graph in compiled.graphs.items():
                self.graphs[file.stem, name] = graph
                if graph.ends(graph.start):
                    cause = f"<{name}> can be said with no word at all"
                    self.add(file, self.place(file.stem, name), cause, "Let it hold one word that must be said")

    def place(self, grammar: str, rule: str) -> tuple[int, int]:
        found = self.grammars[grammar].rules.get(rule)
        return (1, 1) if found is None else (found.place.line, found.place.column)

    def graph(self, grammar: str, rule: str, purpose: str = "") -> WordGraph | None:
        """The graph of a rule that the program refers to; None, and a fault that says what it is for, without one."""
        file = self.folder / f"{grammar}.jsgf"
        if grammar in self.grammars and rule not in self.grammars[grammar].public:
            wanted = f" for {purpose}" if purpose else ", which the program refers to"
            cause = f"there is no public rule <{rule}>{wanted}"
            self.add(file, (1, 1), cause, f"Add `public <{rule}> = ...;`")
        elif not file.is_file():
            self.add(file, (1, 1), "it is not there, and the program refers to it", "Restore the file")
        return self.graphs.get((grammar, rule))

    def sentences(
        self,
        grammar: str,
        rule: str,
        wrong: Callable[[tuple[str, ...]], str],
        own: bool = True,
        purpose: str = "",
    ) -> None:
        """Every phrase of a rule.

        wrong: why its tags are, in words.
        own: a phrase means one thing in its grammar.
        purpose: what the rule is for, in words.
        """
        graph = self.graph(grammar, rule, purpose)
        if graph is None:
            return
        file, at = self.folder / f"{grammar}.jsgf", self.place(grammar, rule)
        meant: dict[str, tuple[str, ...]] = {}
        for words, tags in graph.sentences(MOST_PHRASES):
            phrase = " ".join(words)
            why = wrong(tags)
            if why:
                self.add(file, at, f"{phrase!r} of <{rule}>: {why}", "Correct the tag, which stands in braces after it")
            if own and phrase:
                other = self.phrases.setdefault(phrase, f"<{grammar}.{rule}>")
                if meant.setdefault(phrase, tags) != tags or other != f"<{grammar}.{rule}>":
                    cause = f"{phrase!r} stands in {other} already, where it means something else"
                    self.add(file, at, cause, "Give each its own words")

    def commands(self) -> None:
        wanted: set[str] = set()
        for name in CommandName:
            rule = rule_of(name).strip("<>").partition(".")[2]
            wanted.add(rule)

            def wrong(tags: tuple[str, ...], name: CommandName = name) -> str:
                if " ".join(tags) == name.value:
                    return ""
                said = " ".join(tags)
                known = said in [one.value for one in CommandName]
                what = "is another command" if known else "is no command" if said else "a tag is missing"
                return f"{said!r} {what}; it must be {{{name.value}}}" if said else f"{what}: {{{name.value}}}"

            self.sentences("commands", rule, wrong, purpose=f"the command {name.value!r}")
        self.unused("commands", wanted)

    def units(self) -> None:
        for symbol, rule in UNIT_RULES.items():
            self.sentences("units", rule, partial(_only, symbol), own=False, purpose=f"the unit {symbol!r}")
        for word, rule in SHARED_RULES.items():
            self.sentences("units", rule, partial(_only, word), own=False, purpose=f"the word {word!r}")
        self.sentences(
            "units", DEGREES, lambda tags: "it has a tag: it means the scale asked for" if tags else "", False
        )
        self.unused("units", {*UNIT_RULES.values(), *SHARED_RULES.values(), DEGREES})
        for symbol, rule in SHORT_RULES.items():
            self.sentences("which", rule, partial(_only, symbol), own=False, purpose=f"a short {symbol!r}")
        self.unused("which", set(SHORT_RULES.values()))

    def unused(self, grammar: str, wanted: set[str]) -> None:
        for rule in self.grammars[grammar].public if grammar in self.grammars else ():
            if rule not in wanted:
                cause = f"the program does not refer to <{rule}>"
                file = self.folder / f"{grammar}.jsgf"
                self.add(file, self.place(grammar, rule), cause, "Take it out, or correct its name", Severity.NOTE)

    def numbers(self) -> None:
        """Only parts of numbers are tags, none is without a digit, and what is said is what is meant."""
        for rule, say in (("number", say_number), ("digits", say_digits)):
            graph = self.graph("numbers", rule)
            if graph is None:
                continue
            file, at = self.folder / "numbers.jsgf", self.place("numbers", rule)
            tags = {tag for arc in graph.arcs for tag in arc.tags}
            for tag in sorted(tag for tag in tags if not is_number_tag(tag)):
                self.add(
                    file, at, f"the tag {{{tag}}} in <{rule}> is no part of a number", "Use those of the shipped file"
                )
            if not all(map(is_number_tag, tags)):
                continue
            bare = _without_digit(graph)
            if bare is not None:
                cause = f"{' '.join(bare)!r} of <{rule}> is a number without a digit"
                self.add(file, at, cause, "Give each word its tag, such as seven {7}")
                continue
            for value in _NUMBERS:
                words = say(value).split()
                if not any(fold(found) == value for found in _tags_of(graph, words)):
                    cause = f"{' '.join(words)!r} of <{rule}> does not mean {value}"
                    self.add(file, at, cause, "Correct the tags of its words")

    def spelled(self) -> None:
        graph = self.graph("spelled", "three")
        if graph is None:
            return
        file, at = self.folder / "spelled.jsgf", self.place("spelled", "three")
        tags = {tag for arc in graph.arcs for tag in arc.tags}
        for tag in sorted(tag for tag in tags if not re.fullmatch("[A-Z0-9]", tag)):
            self.add(
                file, at, f"the tag {{{tag}}} is no capital letter or digit", "Give each word the one that it means"
            )
        for sign in string.ascii_uppercase + string.digits:
            if sign not in tags:
                self.add(file, at, f"no word means {sign}", f"Add one with the tag {{{sign}}}")
        for count in sorted(_tags_on_ways(graph, 4) - {3}):
            cause = f"<three> can be said with {'no character' if not count else f'{count} of them'}, not three"
            self.add(file, at, cause, "Give each word one tag, and let three be said")

    # --- tables --------------------------------------------------------------------------------------------------

    def tables(self) -> None:
        forms_file, spoken_file = self.file("forms.yaml"), self.file("spoken.yaml")
        said_file, wording_file = self.file("pronunciations.yaml"), self.file(WORDING)
        forms, table = self.table(forms_file), self.table(spoken_file)
        spoken_table = None if table is None else self.spoken_table(spoken_file, table)
        if forms is not None:
            units = {} if spoken_table is None else spoken_table.units
            self.tried(lambda: forms_table(forms.value, units=units), forms_file, forms)
        self.pronunciations(said_file)
        wording = self.table(wording_file)
        if wording is not None:
            self.wording(wording_file, wording, spoken_table)

    def tried(self, action: Callable[[], object], file: Path, table: _Table, at: _TREE_PATH = ()) -> bool:
        """Whether something can be done with what stands in a table; else there is a fault."""
        try:
            action()
        except EngineBayError as error:
            named = re.findall(r"'([^']+)'|^(\w+) ", error.cause)
            paths = [path for one in named for path in table.places if path and path[-1] in one]
            self.raised(error, file, table.places.get(at or (paths or [()])[-1], (1, 1)))
        except (ValueError, LookupError, TypeError, AttributeError, ArithmeticError, re.error) as error:
            cause = f"it cannot be used ({error})"
            self.add(file, table.places.get(at, (1, 1)), cause, "Write it like the other lines of the file")
        else:
            return True
        return False

    def table(self, file: Path) -> _Table | None:
        """A YAML file; None, and a fault, when it does not read. A key that stands twice is a fault."""
        try:
            value, root = _read_once(table_text(file))
            table = _Table(value)
        except YamlFault as fault:
            self.add(file, (fault.line, fault.column), fault.cause, fault.remedy)
            return None
        except EngineBayError as error:
            self.raised(error, file)
            return None
        if root is not None:
            self.walk(file, table, root, ())
        return table

    def walk(self, file: Path, table: _Table, node: yaml.Node, path: _TREE_PATH) -> None:
        import yaml

        table.places.setdefault(path, _at(node.start_mark))
        if isinstance(node, yaml.ScalarNode) and (odd := odd_sign(node.value)):
            self.add(file, _at(node.start_mark), f"the sign U+{ord(odd):04X} in it is no text", "Take it out")
        if isinstance(node, yaml.SequenceNode):
            for index, item in enumerate(node.value):
                self.walk(file, table, item, (*path, index))
        elif isinstance(node, yaml.MappingNode):
            for key_node, value in node.value:
                at = _at(key_node.start_mark)
                key = str(key_node.value)
                if (*path, key) in table.places:
                    self.add(file, at, f"the key {key!r} stands here a second time", "Remove one")
                table.places[*path, key] = at
                self.walk(file, table, value, (*path, key))

    def spoken_table(self, file: Path, table: _Table) -> SpokenForms | None:
        """What is written in the table can be said with it, and with the rules of the units."""
        heard = dict.fromkeys(UNITS, ("", ""))  # where the grammar has a fault, that was found before
        with suppress(KeyError, EngineBayError):
            heard |= words_of_units(self.grammars["units"])
        if not self.tried(lambda: spoken_forms(table.value, heard=heard), file, table):
            return None
        forms = spoken_forms(table.value, heard=heard)
        for symbol in forms.units:
            for text in (f"1 {symbol}", f"2.5 {symbol} to 3 {symbol}", f"½ {symbol}"):
                self.tried(partial(spoken, text, forms), file, table, ("units", symbol))
        for text in ("15W-40", "M10 and OF-210", "AC/DC ± 3", "-5", "a 10 A fuse"):
            self.tried(partial(spoken, text, forms), file, table)
        return forms

    def pronunciations(self, file: Path) -> None:
        """How words sound; each word that may be said with the grammars is there, or espeak-ng can tell."""
        table = self.table(file)
        if table is None:
            return
        data = table.value
        parts = ("by hand", "by espeak-ng")
        if not isinstance(data, dict) or set(data) != set(parts):
            self.add(file, (1, 1), f"it has not the two parts {parts[0]!r} and {parts[1]!r}", "Add what lacks")
            return
        right = [self.tried(partial(pronunciations, data[part]), file, table) for part in parts]
        if not all(right):
            return
        said = {**pronunciations(data["by espeak-ng"]), **pronunciations(data["by hand"])}
        try:
            known = pronounced(self.folder.name, self.phrases, said)
        except EngineBayError as error:
            self.raised(error, file)
            return
        for phrase in self.phrases:
            word = missing(phrase, known)
            if word is not None:
                cause = f"how {word!r} sounds is not known, so {phrase!r} can be compared with nothing"
                self.add(file, (1, 1), cause, "Install espeak-ng, or add the word")

    # --- wording -------------------------------------------------------------------------------------------------

    def wording(self, file: Path, table: _Table, forms: SpokenForms | None) -> None:
        """Every message is there once, has its arguments and no other, can be said, and says no phrase by accident."""
        templates = table.value
        if not isinstance(templates, dict):
            self.add(file, (1, 1), "the file is no table of messages", 'Write lines such as `Recorded: "Noted."`')
            return
        for name in MESSAGES:
            if name not in templates:
                self.add(file, (1, 1), f"the message {name} has no wording", f'Add a line `{name}: "..."`')
        for name, template in templates.items():
            at = table.places.get((str(name),), (1, 1))
            if name not in MESSAGES:
                self.add(file, at, f"{name} is no message", "Remove the line or correct the name")
            elif not isinstance(template, str) or not template.strip():
                self.add(file, at, f"{name} says nothing", "Write a text in quotes")
            else:
                for cause, remedy in self.template(name, template, forms):
                    self.add(file, at, f"{name}: {cause}", remedy)

    def template(self, name: str, template: str, forms: SpokenForms | None) -> Iterator[tuple[str, str]]:
        """What is wrong with the wording of one message: causes and remedies."""
        try:
            parts = list(string.Formatter().parse(template))
        except ValueError as error:
            yield f"a brace is wrong ({error})", "Write an argument as {name}"
            return
        if any("{" in text or "}" in text for text, *_ in parts):
            yield "a brace is written twice, so it would be spoken", "Write an argument as {name}"
            return
        used = {part for _, part, _, _ in parts if part is not None}
        wanted = arguments(MESSAGES[name])
        if used != wanted:
            yield (
                f"it uses the arguments {sorted(used)}, the message has {sorted(wanted)}",
                "Use each of them in braces",
            )
            return
        if any(conversion for *_, conversion in parts):
            yield "`!` after an argument gives the program's own form of it", "Leave it out"
            return
        if not wanted and not any(sign.isalnum() for sign in template):
            yield "it says nothing", "Write a text with words in it"
        if forms is not None:
            yield from self.said(name, template, forms)
        yield from self.prompts("\n".join(text for text, *_ in parts))

    def said(self, name: str, template: str, forms: SpokenForms) -> Iterator[tuple[str, str]]:
        """The message with sample arguments, once for each kind that an argument can be of."""
        wording = Wording({name: template}, forms, lambda rule: ("sample one", "sample two"))
        for message in samples(MESSAGES[name]):
            try:
                text, aloud = wording.text(message), wording.aloud(message)
            except EngineBayError as error:
                yield error.cause, error.remedy
                return
            except (ValueError, LookupError, TypeError, AttributeError) as error:
                yield f"it cannot be said ({error})", "Write its arguments as other messages do"
                return
            if {"{", "}"} & {*text, *aloud}:
                yield "a brace is left in what is said", "Write an argument as {name}"
                return

    def prompts(self, text: str) -> Iterator[tuple[str, str]]:
        """Commands among the assistant's own words: while it speaks them itself, it cannot hear them. A phrase after
        "say" is told on purpose. Answers are not listened for while it speaks."""
        words = re.findall(r"[a-z']+|\n", text.lower())
        told = TOLD_AFTER
        for phrase in (phrase for phrase, rule in self.phrases.items() if rule.startswith("<commands.")):
            its = phrase.lower().split()
            for at in range(len(words) - len(its) + 1):
                if words[at : at + len(its)] == its and not (at and words[at - 1] == told):
                    cause = f"it speaks {phrase!r}, which may be said"
                    hint = f", or write it after {told!r} where people are told to" if told else ""
                    yield cause, f"Choose other words{hint}"
                    break


@dataclass(frozen=True, slots=True)
class _CompiledGrammar:
    """A grammar and what can be said with it.

    graphs: by public rule, of those that compile.
    faults: why the others do not.
    """

    grammar: Grammar
    graphs: Mapping[str, WordGraph]
    faults: tuple[EngineBayError, ...]


def _compile(text: str, name: str, source: GrammarSource) -> _CompiledGrammar:
    """name: of the file; source: of what it imports. Errors: GrammarError when it does not parse."""
    grammar = parse_grammar(text, name, source)
    graphs: dict[str, WordGraph] = {}
    faults = []
    for rule in grammar.public:
        try:
            graphs[rule] = compile_grammar(grammar, (rule,))
        except EngineBayError as error:
            faults.append(error)
    return _CompiledGrammar(grammar, graphs, tuple(faults))


@lru_cache(maxsize=FILES_KEPT)
def _compile_once(text: str, name: str) -> _CompiledGrammar:
    """A grammar that imports nothing: whoever edits one file and checks again does not wait for the others."""
    return _compile(text, name, lambda imported: None)


@lru_cache(maxsize=FILES_KEPT)
def _read_once(text: str) -> tuple[object, yaml.Node | None]:
    """The data and the nodes of a YAML text, neither of which is changed here. Errors: YamlFault."""
    return load(text), compose(text)


def _one_of(keys: Sequence[str], tags: tuple[str, ...]) -> str:
    """Why the tags are none of these, in words."""
    if not any(tags):
        return "it has no tag, so it means nothing"
    said = " ".join(tags)
    return "" if said in keys else f"the tag {{{said}}} is not known; use one of {', '.join(keys)}"


class _Mark(Protocol):
    """A place as YAML counts it, from 0."""

    line: int
    column: int


def _at(mark: _Mark | None) -> tuple[int, int]:
    """Line and column, from 1."""
    return (1, 1) if mark is None else (mark.line + 1, mark.column + 1)


def samples(kind: type[Message]) -> Iterator[Message]:
    """A message as often as it takes for each field to have been each of its samples. Errors: TypeError for a field of
    a type without samples."""
    hints, make = get_type_hints(kind), cast("Callable[..., Message]", kind)  # the values are of its hints' types
    values = [tuple(_values(hints[one.name])) for one in fields(kind)]
    for time in range(max(map(len, values), default=1)):
        yield make(*(each[time % len(each)] for each in values))


_SAMPLES: dict[object, tuple[object, ...]] = {
    str: ("sample",),
    int: (0, 1, 2),
    float: (0.2, 60.0, 150.0),
    type(None): (None,),
    date: (date(2026, 3, 2),),
    Quantity: (Quantity(Decimal(1), "mm"), Quantity(Decimal("12.50"), "L"), Quantity(Decimal("0.12345"), "")),
    Limits: (
        Limits(Quantity(Decimal(1), "mm"), Quantity(Decimal(3), "mm")),
        Limits(None, Quantity(Decimal(3), "mm")),
        Limits(Quantity(Decimal(1), "mm"), None),
    ),
    Offer: (Offer("<reasons.reason>", Reason, Risk.READING),),
    CommandName: (CommandName.NEXT,),
}


def _values(hint: object) -> Iterator[object]:
    origin = get_origin(hint)
    if origin in (Union, UnionType):
        for one in get_args(hint):
            yield from _values(one)
    elif origin is tuple:
        each = tuple(_values(get_args(hint)[0]))
        yield from ((one,) for one in each)
        yield (*each, *each)
    elif hint in _SAMPLES:
        yield from _SAMPLES[hint]
    else:
        raise TypeError(f"no sample of {hint}")


_NUMBERS = tuple(
    Decimal(text)
    for text in (
        *map(str, (*range(21), *range(30, 100, 10), 21, 34, 99, 100, 115, 120, 200, 999, 1000, 1250, 12_300)),
        *("12.6", "7.50", "0.05", "3.141", "-3", "-0.8"),
    )
)


def _only(symbol: str, tags: tuple[str, ...]) -> str:
    return "" if tags == (symbol,) else f"its tag is {' '.join(tags)!r}, and must be {{{symbol}}}"


def _without_digit(graph: WordGraph) -> tuple[str, ...] | None:
    """The words of a short path without any digit; None when there is none."""
    waiting: list[tuple[int, tuple[str, ...]]] = [(graph.start, ())]
    seen = {graph.start}
    while waiting:
        node, words = waiting.pop(0)
        if node == graph.final:
            return words
        for arc in graph.outgoing[node]:
            if arc.end not in seen and not any(tag.isdecimal() or tag.startswith("x") for tag in arc.tags):
                seen.add(arc.end)
                waiting.append((arc.end, words if arc.word is None else (*words, arc.word)))
    return None


def _tags_on_ways(graph: WordGraph, most: int) -> set[int]:
    """How many tags lie on ways from start to end; `most` stands for so many and more."""
    waiting = [(graph.start, 0)]
    seen = set(waiting)
    while waiting:
        node, count = waiting.pop()
        following = {(arc.end, min(most, count + len(arc.tags))) for arc in graph.outgoing[node]} - seen
        seen |= following
        waiting.extend(following)
    return {count for node, count in seen if node == graph.final}


def _tags_of(graph: WordGraph, words: Sequence[str]) -> Iterator[tuple[str, ...]]:
    """The tags of each path with exactly these words."""
    reached: list[tuple[int, tuple[str, ...]]] = [(graph.start, ())]
    for word in words:
        reached = [
            (arc.end, (*tags, *silent.tags, *arc.tags))
            for node, tags in reached
            for silent in graph.reached(node)
            for arc in graph.outgoing[silent.node]
            if arc.word == word
        ]
    for node, tags in reached:
        for end in graph.ends(node):
            yield (*tags, *end.tags)
