"""What may be said, as one immutable word graph, made from grammars or from an expectation.

Knows nodes, arcs with words, tags and weights, and the questions one can ask of them. Refuses to know how a word
is written (`forms`), what a tag means (`tagged`) and how anything is heard.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from heapq import heappop, heappush
from math import inf, log

from assistant.errors import GrammarError
from assistant.grammar.expectation import Expectation
from assistant.grammar.jsgf import (
    Alternatives,
    Expansion,
    Grammar,
    GrammarRule,
    GrammarSource,
    Reference,
    Repetition,
    Sequence_,
    Tag,
    Void,
    Word,
    parse_expansion,
)

MAX_NODES = 200_000
"""Of a graph: twenty times what a grammar of 80 long sentences with choices in each takes."""
MAX_DEPTH = 400
"""Parts and rules inside one another while a graph is made. Below what Python can recurse into."""
MAX_SILENT = 30_000
"""Steps without a word from each place where a word may follow, all together: optional parts in a row, repetitions."""
_EVEN = log(0.5)


@dataclass(frozen=True, slots=True)
class GraphBounds:
    """How large a graph may grow.

    nodes: of the graph.
    depth: parts and rules inside one another while it is made.
    silent: steps without a word from each place where a word may follow, all together.
    """

    nodes: int = MAX_NODES
    depth: int = MAX_DEPTH
    silent: int = MAX_SILENT


GRAPH_BOUNDS = GraphBounds()


@dataclass(frozen=True, slots=True)
class Arc:
    """One step.

    start, end: nodes.
    word: None says nothing.
    tags: that it adds.
    weight: natural logarithm of its probability among its alternatives: even where the grammar has no weights, and even
        between saying an optional part and leaving it out.
    offer: index of the offer that begins.
    """

    start: int
    end: int
    word: str | None = None
    tags: tuple[str, ...] = ()
    weight: float = 0.0
    offer: int | None = None


@dataclass(frozen=True, slots=True)
class Reached:
    """Where a path without words leads from a node, and what lies on it."""

    node: int
    tags: tuple[str, ...]
    weight: float
    offer: int | None


@dataclass(frozen=True, eq=False)
class WordGraph:
    """Every sentence is a path from `start` to `final`; each node lies on one.

    nodes: how many there are; they are numbers from 0.
    expectation: what it was made of; None: of a grammar's rules.
    Equal by identity, so that it can be the key of what is computed for it.
    """

    nodes: int
    arcs: tuple[Arc, ...]
    start: int
    final: int
    expectation: Expectation | None = field(default=None, repr=False)

    @cached_property
    def outgoing(self) -> tuple[tuple[Arc, ...], ...]:
        """The arcs that leave each node."""
        leaving: list[list[Arc]] = [[] for _ in range(self.nodes)]
        for arc in self.arcs:
            leaving[arc.start].append(arc)
        return tuple(map(tuple, leaving))

    @cached_property
    def words(self) -> tuple[str, ...]:
        """Every word of the graph, once, in order of appearance."""
        return tuple(dict.fromkeys(arc.word for arc in self.arcs if arc.word is not None))

    @cached_property
    def _reached(self) -> dict[int, tuple[Reached, ...]]:
        return {}

    def reached(self, node: int) -> tuple[Reached, ...]:
        """The nodes that a path without words reaches from here, this one included: for each node, tags and offer the
        likeliest path. A silent cycle says and means nothing new, so a path passes a node once.

        Errors: GrammarError when there are more than `MAX_SILENT`; a graph that was compiled has fewer.
        """
        if node not in self._reached:
            self._reached[node], _ = self._silent(node, MAX_SILENT, MAX_SILENT)
        return self._reached[node]

    def _silent(self, node: int, left: int, limit: int) -> tuple[tuple[Reached, ...], int]:
        """What is reached from the node, and how many steps it took to find it; the likeliest path is followed first.

        Errors: GrammarError when it takes more than the `left` steps of the limit.
        """
        settled: set[tuple[int, tuple[str, ...], int | None]] = set()
        passed: set[int] = set()
        found: list[Reached] = []
        before: list[int] = []  # for each that was found, the one that it was reached from
        after: list[list[tuple[int, int]]] = []  # for each that was found, number of the arc and what it leads to
        waiting = [(0.0, 0, -1, 0, Reached(node, (), 0.0, None))]
        steps = given = 0
        while waiting:
            _, _, origin, number, here = heappop(waiting)
            key = (here.node, here.tags, here.offer)
            steps += 1
            if key in settled:
                continue
            if here.node in passed:  # with other tags; whether on this very path?
                back = origin
                while back >= 0 and found[back].node != here.node:
                    back = before[back]
                    steps += 1
                if back >= 0:
                    continue
            if steps > left:
                raise GrammarError(
                    "grammar",
                    f"it takes more than {limit:,} steps to find which words may follow one another",
                    "Use fewer optional or repeated parts in a row",
                )
            settled.add(key)
            passed.add(here.node)
            at = len(found)
            found.append(here)
            before.append(origin)
            after.append([])
            if origin >= 0:
                after[origin].append((number, at))
            for number, arc in enumerate(self.outgoing[here.node]):
                if arc.word is None:
                    offer = arc.offer if here.offer is None else here.offer
                    there = Reached(arc.end, here.tags + arc.tags, here.weight + arc.weight, offer)
                    given += 1
                    heappush(waiting, (-there.weight, given, at, number, there))
        # In the order of the grammar, not of the likelihood: the first phrase that means something is shown to people.
        ordered, stack = [found[0]], [0]
        while stack:
            following = [at for _, at in sorted(after[stack.pop()])]
            ordered += [found[at] for at in following]
            stack += following
        return tuple(ordered), steps

    def check_silent(self, place: str, limit: int) -> None:
        """Errors: GrammarError when finding which words may follow one another takes more steps than the limit."""
        begins = {self.start, *(arc.end for arc in self.arcs if arc.word is not None)}
        paths = self._silent_paths()
        if sum(paths[node] for node in begins) <= limit:
            return  # and no path is looked at before it is needed
        left = limit
        for node in begins:
            try:
                self._reached[node], steps = self._silent(node, left, limit)
            except GrammarError as error:
                raise GrammarError(place, error.cause, error.remedy) from None
            left -= steps

    def _silent_paths(self) -> list[float]:
        """How many paths without words leave each node, that of no step included; infinite where a cycle is ahead."""
        ahead = [0] * self.nodes
        behind: list[list[int]] = [[] for _ in range(self.nodes)]
        for arc in self.arcs:
            if arc.word is None:
                ahead[arc.start] += 1
                behind[arc.end].append(arc.start)
        paths = [1.0] * self.nodes
        ready = [node for node, count in enumerate(ahead) if not count]
        for node in ready:
            for earlier in behind[node]:
                paths[earlier] += paths[node]
                ahead[earlier] -= 1
                if not ahead[earlier]:
                    ready.append(earlier)
        return [inf if count else paths[node] for node, count in enumerate(ahead)]

    def ends(self, node: int) -> tuple[Reached, ...]:
        """The silent paths from here to the end; empty when a word must follow."""
        return tuple(reached for reached in self.reached(node) if reached.node == self.final)

    def can_grow(self, node: int) -> bool:
        """Whether a word may follow after this node."""
        return any(arc.word is not None for reached in self.reached(node) for arc in self.outgoing[reached.node])

    def sentences(self, most: int, longest: int = 12) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
        """Up to `most` sentences as (words, tags), the shortest first, none longer than `longest` words."""
        level: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = [(self.start, (), ())]
        given = 0
        for _ in range(longest + 1):
            following: list[tuple[int, tuple[str, ...], tuple[str, ...]]] = []
            for node, words, tags in level:
                for reached in self.reached(node):
                    if reached.node == self.final:
                        yield words, tags + reached.tags
                        given += 1
                        if given >= most:
                            return
                    following.extend(
                        (arc.end, (*words, arc.word), tags + reached.tags + arc.tags)
                        for arc in self.outgoing[reached.node]
                        if arc.word is not None
                    )
            level = following[: 50 * most]


class _Builder:
    """Rules become arcs. A rule that is used twice is laid out twice: a graph has no memory of where to return."""

    def __init__(self, bounds: GraphBounds) -> None:
        self.bounds = bounds
        self.arcs: list[Arc] = []
        self.count = 0
        self.depth = 0

    def node(self, place: str) -> int:
        if self.count >= self.bounds.nodes:
            cause = f"the grammar grows beyond {self.bounds.nodes:,} nodes"
            raise GrammarError(place, cause, "Use rules inside rules less often")
        self.count += 1
        return self.count - 1

    def arc(self, start: int, end: int, weight: float = 0.0) -> None:
        self.arcs.append(Arc(start, end, weight=weight))

    def rule(
        self, grammar: Grammar, rule: GrammarRule, start: int, end: int, opened: dict[tuple[str, str], tuple[int, int]]
    ) -> None:
        key = (grammar.name, rule.name)
        entry = self.node(str(rule.place))
        self.arc(start, entry)
        self.depth += 2  # a use of a rule takes three calls
        self.expand(grammar, rule.expansion, entry, end, {**opened, key: (entry, end)})
        self.depth -= 2

    def expand(
        self,
        grammar: Grammar,
        expansion: Expansion,
        start: int,
        end: int,
        opened: dict[tuple[str, str], tuple[int, int]],
    ) -> None:
        self.depth += 1
        if self.depth > self.bounds.depth:
            cause = f"more than {self.bounds.depth} parts and rules stand inside one another"
            raise GrammarError(grammar.file, cause, "Use fewer rules inside rules")
        match expansion:
            case Word(text):
                self.arcs.append(Arc(start, end, text))
            case Tag(text):
                self.arcs.append(Arc(start, end, None, (text,)))
            case Void():
                pass
            case Sequence_(parts):
                if not parts:
                    self.arc(start, end)
                for at, part in enumerate(parts):
                    following = end if at == len(parts) - 1 else self.node(grammar.file)
                    self.expand(grammar, part, start, following, opened)
                    start = following
            case Alternatives(choices):
                total = sum(weight for weight, _ in choices)
                for weight, choice in choices:
                    if weight <= 0:
                        continue
                    entry = self.node(grammar.file)
                    self.arc(start, entry, log(weight / total))
                    self.expand(grammar, choice, entry, end, opened)
            case Repetition(part, once=True):
                entry = self.node(grammar.file)
                self.arc(start, entry, _EVEN)
                self.arc(start, end, _EVEN)
                self.expand(grammar, part, entry, end, opened)
            case Repetition(part, least):
                first, last = self.node(grammar.file), self.node(grammar.file)
                self.arc(start, first, 0.0 if least else _EVEN)
                if not least:
                    self.arc(start, end, _EVEN)
                self.expand(grammar, part, first, last, opened)
                self.arc(last, first, _EVEN)
                self.arc(last, end, _EVEN)
            case Reference():
                self.refer(grammar, expansion, start, end, opened)
        self.depth -= 1

    def refer(
        self,
        grammar: Grammar,
        reference: Reference,
        start: int,
        end: int,
        opened: dict[tuple[str, str], tuple[int, int]],
    ) -> None:
        other, rule = grammar.find(reference)
        key = (other.name, rule.name)
        if key not in opened:
            self.rule(other, rule, start, end, opened)
            return
        entry, ending = opened[key]
        if ending != end:
            raise GrammarError(
                str(reference.place),
                f"<{rule.name}> is used inside itself, and not at the end",
                "Use `*` or `+`, or move the use to the end of the rule",
            )
        self.arc(start, entry)

    def graph(self, start: int, final: int, expectation: Expectation | None, place: str) -> WordGraph:
        """The arcs that lie on a path from start to final, with nodes numbered anew."""
        forward = _closure({start}, ((arc.start, arc.end) for arc in self.arcs))
        back = _closure({final}, ((arc.end, arc.start) for arc in self.arcs))
        kept = forward & back
        if start not in kept:
            raise GrammarError(place, "nothing can be said with it", "Give the rule at least one word")
        number = {node: at for at, node in enumerate(sorted(kept))}
        arcs = tuple(
            Arc(number[arc.start], number[arc.end], arc.word, arc.tags, arc.weight, arc.offer)
            for arc in self.arcs
            if arc.start in kept and arc.end in kept
        )
        graph = WordGraph(len(number), arcs, number[start], number[final], expectation)
        if not graph.words:
            raise GrammarError(place, "it holds no word", "Give the rule at least one word")
        graph.check_silent(place, self.bounds.silent)
        return graph


def _closure(begin: set[int], steps: Iterable[tuple[int, int]]) -> set[int]:
    following: dict[int, list[int]] = {}
    for start, end in steps:
        following.setdefault(start, []).append(end)
    reached, waiting = set(begin), list(begin)
    while waiting:
        for end in following.get(waiting.pop(), ()):
            if end not in reached:
                reached.add(end)
                waiting.append(end)
    return reached


def compile_grammar(
    grammar: Grammar, rules: Sequence[str] | None = None, bounds: GraphBounds = GRAPH_BOUNDS
) -> WordGraph:
    """The graph of these rules of a grammar; None: of every public rule.

    Errors: GrammarError for a rule that is not there, recursion that is not at the end, or nothing to say.
    """
    if rules is None:
        rules = grammar.public
        if not rules:
            raise GrammarError(grammar.file, "it has no public rule", "Write `public` before a rule")
    builder = _Builder(bounds)
    start, final = builder.node(grammar.file), builder.node(grammar.file)
    for name in rules:
        if name not in grammar.rules:
            known = ", ".join(grammar.rules) or "none"
            raise GrammarError(grammar.file, f"there is no rule {name!r}", f"Use one of its rules ({known})")
        builder.rule(grammar, grammar.rules[name], start, final, {})
    return builder.graph(start, final, None, grammar.file)


def compile_expectation(
    expectation: Expectation, source: GrammarSource, loaded: dict[str, Grammar] | None = None
) -> WordGraph:
    """The graph in which each offer is one alternative; a path tells which.

    source: the language's grammars by name.
    loaded: grammars parsed before, kept by the caller (filled here).
    Errors: GrammarError that names the offer's rule.
    """
    loaded = {} if loaded is None else loaded
    if not expectation.offers:
        raise GrammarError("expectation", "nothing may be said", "Give at least one offer")
    builder = _Builder(GRAPH_BOUNDS)
    start, final = builder.node("expectation"), builder.node("expectation")
    for index, offer in enumerate(expectation.offers):
        grammar = parse_expansion(offer.rule, f"offer {offer.rule!r}", source, loaded)
        entry = builder.node(grammar.file)
        builder.arcs.append(Arc(start, entry, offer=index))
        builder.rule(grammar, grammar.rules["it"], entry, final, {})
    return builder.graph(start, final, expectation, "expectation")
