"""How the words of a graph may be written: capitals, stops, spellings, units, and numbers in digits.

A speech model writes `Seven point five millimeters.` or `7.5 mm`; both are the words `seven point five millimetres`.
The written forms are one graph composed lazily with the word graph, whose words stay the output. Knows how
English writes numbers. Refuses to know pieces, scores and files: the table of spellings is passed in.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from heapq import nlargest
from math import log

from assistant.errors import GrammarError
from assistant.grammar.graph import WordGraph
from assistant.grammar.numbers import DIGITS, MINUS, POINTS, TEENS, TENS, VALUES, cardinal
from assistant.grammar.units import UNIT_RULES

GAP = "▁"
"""Stands before each written word, as in the pieces of the speech models."""

# Where one is inside what is being written.
_BEGIN, _AFTER_GAP, _AFTER_HYPHEN, _WORD, _TENS_WORD, _STOPPED, _LETTER = (
    "begin", "gap", "hyphen", "word", "tens word", "stop", "letter",
)  # fmt: skip
# Inside a number in digits. Complete ones:
_DIGIT, _TEEN, _TEN, _SUM, _THOUSANDS, _FRACTION, _FRACTION_TEN = (
    "digit", "teen", "ten", "sum", "thousands", "fraction", "fraction ten",
)  # fmt: skip
# Those that need more words: a digit after a ten, before and behind the point; `hundred` or `thousand` after `a`; one
# or two digits below a hundred, perhaps after `and`; three below a thousand; `hundred` inside those; a digit after the
# point; a number after the minus.
_NEED_DIGIT, _NEED_LAST, _NEED_SIZE, _NEED_ONE, _NEED_TWO, _NEED_THREE, _NEED_HUNDRED, _NEED_DECIMAL, _NEED_NUMBER = (
    "digit needed", "last digit needed", "size needed", "one needed", "two needed", "three needed", "hundred needed",
    "decimal needed", "number needed",
)  # fmt: skip
_AFTER_AND = {_NEED_ONE: "one needed after and", _NEED_TWO: "two needed after and"}
"""`and` writes nothing, so it counts once: a grammar's `and*` would be silent for ever."""
_FRACTIONS = frozenset({_FRACTION, _FRACTION_TEN})
_COMPLETE = frozenset({_DIGIT, _TEEN, _TEN, _SUM, _THOUSANDS}) | _FRACTIONS
_ENDS = _COMPLETE | {_WORD, _TENS_WORD, _STOPPED, _LETTER}

# How rare a way of writing is. Without these the subtraction of the model's bias would favour ways that nobody uses.
_LATE_CAPITAL, _COMMA, _STOPS = log(0.02), log(0.3), {".": 0.0, "!": log(0.1), "?": log(0.2)}
_ROW = log(0.6)
"""`230` for `two thirty` or for `two three zero` is a rarer way of writing than `two hundred and thirty` is."""

_ORDINALS = {
    "first": 1,
    "second": 2,
    "third": 3,
    "fifth": 5,
    "eighth": 8,
    "ninth": 9,
    "twelfth": 12,
    **{f"{DIGITS[value]}th": value for value in (4, 6, 7)},
    **{f"{word}th": 10 + at for at, word in enumerate(TEENS) if word != "twelve"},
    **{word[:-1] + "ieth": 20 + 10 * at for at, word in enumerate(TENS)},
}


def _suffix(value: int) -> str:
    return {1: "st", 2: "nd", 3: "rd"}.get(value if value < 10 or value > 19 else 0, "th")


@dataclass(frozen=True, slots=True)
class Forms:
    """The table of one language. Keys are phrases in small letters, as tuples of words.

    words: other ways of writing.
    symbols: those that may also stand right after a digit (`82°C`).
    """

    words: Mapping[tuple[str, ...], tuple[str, ...]]
    symbols: Mapping[tuple[str, ...], tuple[str, ...]]


def forms_table(data: object, place: str = "forms.yaml", units: Mapping[str, tuple[str, str]] | None = None) -> Forms:
    """Checks the content of a `forms.yaml`.

    units: symbol -> how it is said after 1 and after other numbers (`SpokenForms.units`). Its words may be written as
        the symbol, unless the file says how else a unit with this symbol is written.
    Errors: GrammarError naming the key that is misshapen.
    """
    if not isinstance(data, dict) or not set(data) <= {"words", "symbols"}:
        raise GrammarError(place, "it is not a table with the keys words and symbols", "Start from the English one")
    tables: list[dict[tuple[str, ...], tuple[str, ...]]] = []
    for section in ("words", "symbols"):
        rows: dict[tuple[str, ...], tuple[str, ...]] = {}
        for key, value in (data.get(section) or {}).items():
            if not isinstance(value, list) or not all(isinstance(form, str) and form for form in value):
                raise GrammarError(place, f"{section}: {key!r} has no list of texts", "Give a list, texts in quotes")
            rows[tuple(spoken_words(str(key).lower()))] = tuple(value)
        tables.append(rows)
    written, symbols = tables
    known = {form for forms in symbols.values() for form in forms}
    for symbol, said in (units or {}).items():
        if symbol not in UNIT_RULES or symbol in known:
            continue
        phrases = [tuple(spoken_words(words.lower())) for words in said]
        if (symbol,) not in phrases:
            symbols.update(dict.fromkeys(phrases, (symbol,)))
    return Forms(written, symbols)


NO_FORMS = Forms({}, {})


@dataclass(frozen=True, slots=True)
class Saying:
    """A sentence of the graph.

    offer: index in the expectation; None for a grammar.
    words, tags: along the path.
    """

    offer: int | None
    words: tuple[str, ...]
    tags: tuple[str, ...]


EMPTY = Saying(None, (), ())


@dataclass(frozen=True, slots=True)
class Written:
    """An arc of the written graph.

    text: begins with `▁` where a word begins.
    end: the state after it.
    added: what it adds to the saying.
    weight: natural logarithm of its likelihood.
    """

    text: str
    end: int
    added: Saying = EMPTY
    weight: float = 0.0


@dataclass(frozen=True, slots=True)
class _WrittenWord:
    """One written word's worth of an arc: a grammar's word may hold several (`twenty-five`, `10W-30`)."""

    text: str
    end: int
    added: Saying
    weight: float


def added(before: Saying, after: Saying) -> Saying:
    """The two sayings one after the other."""
    if after is EMPTY:
        return before
    if before is EMPTY:
        return after
    offer = after.offer if before.offer is None else before.offer
    return Saying(offer, before.words + after.words, before.tags + after.tags)


def spoken_words(word: str) -> list[str]:
    """A grammar's word as it is said: `stand-by` -> stand, by; `25` -> twenty, five; `10W` -> ten, W."""
    units: list[str] = []
    for part in re.findall(r"\d+(?:\.\d+)?|[^\s\-–\d]+(?:\.(?=\d))?|[^\s\-–\d]+", word):
        if part[0].isdecimal():
            whole, _, fraction = part.partition(".")
            long = len(whole) > 6 or (len(whole) > 1 and whole[0] == "0")
            units += [DIGITS[int(figure)] for figure in whole] if long else cardinal(int(whole))
            units += ["point", *(DIGITS[int(figure)] for figure in fraction)] if fraction else []
        else:
            units.append(part)
    return units or [word]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


class WrittenGraph:
    """The written forms of a word graph. States are whole numbers, made when they are first asked for."""

    def __init__(self, graph: WordGraph, forms: Forms) -> None:
        self.graph = graph
        self.forms = forms
        self._nodes: list[tuple[_WrittenWord, ...] | None] = [None] * graph.nodes
        self._states: list[tuple[int, str]] = []
        self._numbers: dict[tuple[int, str], int] = {}
        self._arcs: dict[int, tuple[Written, ...]] = {}
        self._ends: dict[int, tuple[tuple[Saying, float], ...]] = {}
        self._prefixes = {key[:n] for key in (*forms.words, *forms.symbols) for n in range(1, len(key))}
        self.start = self._state(graph.start, _BEGIN)

    def _state(self, node: int, mode: str) -> int:
        key = (node, mode)
        if key not in self._numbers:
            self._numbers[key] = len(self._states)
            self._states.append(key)
        return self._numbers[key]

    def ends(self, state: int) -> tuple[tuple[Saying, float], ...]:
        """What the silent ends of the sentence add when it may end here, with their weights; empty when it may not."""
        if state not in self._ends:
            node, mode = self._states[state]
            ends: list[tuple[Saying, float]] = []
            if mode in _ENDS and node < self.graph.nodes:
                ends = [(Saying(r.offer, (), r.tags), r.weight) for r in self.graph.ends(node)]
            self._ends[state] = tuple(ends)
        return self._ends[state]

    def can_grow(self, state: int) -> bool:
        """Whether another word may follow after what led here."""
        node = self._states[state][0]
        return node >= self.graph.nodes or self.graph.can_grow(node)

    def between_words(self, state: int) -> bool:
        """Whether this is right after a comma, a hyphen between words or a stop."""
        return self._states[state][1] in (_AFTER_GAP, _AFTER_HYPHEN, _STOPPED)

    def arcs(self, state: int) -> tuple[Written, ...]:
        """What may be written next."""
        if state not in self._arcs:
            self._arcs[state] = tuple(dict.fromkeys(self._expand(*self._states[state])))
        return self._arcs[state]

    # -- the words of the graph, a grammar's word cut into what is written as one word

    def _following(self, node: int) -> tuple[_WrittenWord, ...]:
        known = self._nodes[node]
        if known is not None:
            return known
        units: list[_WrittenWord] = []
        for reached in self.graph.reached(node):
            for arc in self.graph.outgoing[reached.node]:
                if arc.word is None:
                    continue
                offer = reached.offer if reached.offer is not None else arc.offer
                said = Saying(offer, (arc.word,), reached.tags + arc.tags)
                *early, last = spoken_words(arc.word)
                # The word and its tags are given with its first part; the parts after it add nothing.
                weight = reached.weight + arc.weight
                following: tuple[_WrittenWord, ...] = ()
                for text in reversed([*early, last]):
                    end = arc.end if not following else self._inner(following)
                    following = (_WrittenWord(text, end, EMPTY, 0.0),)
                units.append(_WrittenWord(following[0].text, following[0].end, said, weight))
                if re.search(r"[\d\-–]", arc.word) and not re.search(r"\s", arc.word):
                    units.append(_WrittenWord("\0" + arc.word, arc.end, said, weight))  # also as it stands
        self._nodes[node] = tuple(units)
        return self._nodes[node] or ()

    def _inner(self, units: tuple[_WrittenWord, ...]) -> int:
        self._nodes.append(units)
        return len(self._nodes) - 1

    # -- what may be written

    def _expand(self, node: int, mode: str) -> Iterator[Written]:
        if mode in (_BEGIN, _AFTER_GAP, _AFTER_HYPHEN):
            prefix = "" if mode == _AFTER_HYPHEN else GAP
            capital = 0.0 if mode == _BEGIN else _LATE_CAPITAL
            yield from self._words(node, prefix, capital)
            yield from self._phrases(node, prefix, capital, symbols=mode != _AFTER_HYPHEN)
            yield from self._number(node, prefix)
            return
        if mode == _STOPPED:
            yield Written("", self._state(node, _BEGIN))
            return
        if mode in (_WORD, _TENS_WORD):
            if mode == _TENS_WORD or node >= self.graph.nodes:  # twenty-five; inside a grammar's stand-by
                yield Written("-", self._state(node, _AFTER_HYPHEN))
            yield Written("", self._state(node, _AFTER_GAP))
            yield Written(",", self._state(node, _AFTER_GAP), weight=_COMMA)
            for stop, weight in _STOPS.items():
                yield Written(stop, self._state(node, _STOPPED), weight=weight)
            return
        if mode == _LETTER:
            yield Written("", self._state(node, _WORD))
            for unit in self._following(node):
                if len(unit.text) == 1 and unit.text.isalpha():
                    yield Written(unit.text.upper(), self._state(unit.end, _LETTER), unit.added, unit.weight)
            return
        if mode in _COMPLETE:
            yield Written("", self._state(node, _WORD))
            yield from self._phrases(node, "", 0.0, symbols=True, spellings=False)
        yield from self._digits(node, mode)

    def _words(self, node: int, prefix: str, capital: float) -> Iterator[Written]:
        for unit in self._following(node):
            if unit.text.startswith("\0"):
                yield Written(prefix + unit.text[1:], self._state(unit.end, _WORD), unit.added, unit.weight)
                continue
            single = len(unit.text) == 1 and unit.text.isalpha()
            texts = {unit.text, _capital(unit.text)}
            if unit.text.isupper() and not single:
                texts |= {unit.text.lower(), unit.text.capitalize()}
            for text in sorted(texts):
                mode = _LETTER if single and text.isupper() else _WORD
                if unit.text.lower() in TENS:
                    mode = _TENS_WORD
                rare = capital if text != unit.text and not single else 0.0
                yield Written(prefix + text, self._state(unit.end, mode), unit.added, unit.weight + rare)

    def _phrases(
        self, node: int, prefix: str, capital: float, *, symbols: bool, spellings: bool = True
    ) -> Iterator[Written]:
        waiting: list[tuple[int, tuple[str, ...], Saying, float]] = [(node, (), EMPTY, 0.0)]
        best: dict[tuple[int, tuple[str, ...], Saying], float] = {}
        while waiting:
            at, phrase, said, weight = waiting.pop()
            for unit in self._following(at):
                longer = (*phrase, unit.text.lower())
                saying, total = added(said, unit.added), weight + unit.weight
                if best.get((unit.end, longer, saying), float("-inf")) >= total:
                    continue  # the same words on a likelier path
                best[unit.end, longer, saying] = total
                texts: dict[str, float] = {}
                if spellings:
                    for form in self.forms.words.get(longer, ()):
                        texts |= {_capital(form): capital, form: 0.0}
                if symbols:
                    texts |= dict.fromkeys(self.forms.symbols.get(longer, ()), 0.0)
                for text, rare in texts.items():
                    written = prefix + text.replace(" ", GAP)
                    yield Written(written, self._state(unit.end, _WORD), saying, total + rare)
                if longer in self._prefixes:
                    waiting.append((unit.end, longer, saying, total))

    def _number(self, node: int, prefix: str) -> Iterator[Written]:
        """A number in digits begins here."""
        for unit in self._following(node):
            word = unit.text.lower()

            def to(text: str, mode: str, unit: _WrittenWord = unit, weight: float = 0.0) -> Written:
                return Written(prefix + text, self._state(unit.end, mode), unit.added, unit.weight + weight)

            value = VALUES.get(word)
            if value is not None:
                if value < 20:
                    yield to(str(value), _DIGIT if value < 10 else _TEEN)
                else:
                    yield to(str(value), _TEN)
                    yield to(str(value // 10), _NEED_DIGIT)
            elif word in _ORDINALS:
                yield to(f"{_ORDINALS[word]}{_suffix(_ORDINALS[word])}", _WORD)
            elif word == "a":
                yield to("1", _NEED_SIZE)
            elif word in ("hundred", "thousand"):
                for text, mode in _SIZES[word]:
                    yield to("1" + text, mode)
            elif word in POINTS:
                yield to(".", _NEED_DECIMAL)
                yield to("0.", _NEED_DECIMAL)
            elif word == MINUS:
                yield to("-", _NEED_NUMBER)
                yield to("−", _NEED_NUMBER)

    def _digits(self, node: int, mode: str) -> Iterator[Written]:
        """A number in digits goes on."""
        for unit in self._following(node):
            word = unit.text.lower()
            value = VALUES.get(word)
            for text, following, weight in _continued(mode, word, value):
                yield Written(text, self._state(unit.end, following), unit.added, unit.weight + weight)
        if mode == _NEED_NUMBER:
            yield from self._number(node, "")


_SIZES: dict[str, tuple[tuple[str, str], ...]] = {
    "hundred": (("00", _SUM), ("", _NEED_TWO), ("0", _NEED_ONE)),
    "thousand": tuple(
        (comma + text, mode)
        for comma in ("", ",")
        for text, mode in (("000", _THOUSANDS), ("", _NEED_THREE), ("0", _NEED_TWO), ("00", _NEED_ONE))
    ),
}


def _continued(mode: str, word: str, value: int | None) -> Iterator[tuple[str, str, float]]:
    """What this word writes inside a number in digits: (text, mode after it, weight)."""
    if mode in _COMPLETE:
        if word in POINTS and mode not in _FRACTIONS:
            yield ".", _NEED_DECIMAL, 0.0
        if word == "hundred" and mode in (_DIGIT, _TEEN):
            for text, following in _SIZES["hundred"]:
                yield text, following, 0.0
        if word == "thousand" and mode not in _FRACTIONS and mode != _THOUSANDS:
            for text, following in _SIZES["thousand"]:
                yield text, following, 0.0
        if value is not None and (mode == _FRACTION or (mode == _FRACTION_TEN and (value == 0 or value > 9))):
            yield from _decimals(value)
        elif value is not None and (mode in (_DIGIT, _TEEN) or (mode == _TEN and (value == 0 or value > 9))):
            # Digits, or numbers below a hundred, in a row.
            for joint in ("", "-", ":"):
                if value >= 20:
                    yield f"{joint}{value}", _TEN, _ROW
                    yield f"{joint}{value // 10}", _NEED_DIGIT, _ROW
                elif joint != ":" or value > 9:
                    yield f"{joint}{value}", _DIGIT if value < 10 else _TEEN, _ROW
    elif mode == _NEED_DIGIT:
        if value is not None and 1 <= value <= 9:
            yield str(value), _SUM, 0.0
        elif 1 <= _ORDINALS.get(word, 0) <= 9:
            yield f"{_ORDINALS[word]}{_suffix(_ORDINALS[word])}", _WORD, 0.0
    elif mode == _NEED_LAST:
        if value is not None and 1 <= value <= 9:
            yield str(value), _FRACTION, 0.0
    elif mode == _NEED_SIZE:
        yield from ((text, following, 0.0) for text, following in _SIZES.get(word, ()))
    elif mode in (_NEED_ONE, _AFTER_AND[_NEED_ONE]):
        if word == "and" and mode == _NEED_ONE:
            yield "", _AFTER_AND[_NEED_ONE], 0.0
        elif value is not None and 1 <= value <= 9:
            yield str(value), _SUM, 0.0
    elif mode in (_NEED_TWO, _AFTER_AND[_NEED_TWO]):
        if word == "and" and mode == _NEED_TWO:
            yield "", _AFTER_AND[_NEED_TWO], 0.0
        elif value is not None and value > 9:
            yield str(value), _SUM, 0.0
            if value >= 20:
                yield str(value // 10), _NEED_DIGIT, 0.0
    elif mode == _NEED_THREE:
        if value is not None and 1 <= value <= 9:
            yield str(value), _NEED_HUNDRED, 0.0
        elif word == "a":
            yield "1", _NEED_HUNDRED, 0.0
    elif mode == _NEED_HUNDRED:
        if word == "hundred":
            for text, following in _SIZES["hundred"]:
                yield text, following, 0.0
    elif mode == _NEED_DECIMAL and value is not None:
        yield from _decimals(value)


def _decimals(value: int) -> Iterator[tuple[str, str, float]]:
    yield str(value), _FRACTION if value < 20 else _FRACTION_TEN, 0.0
    if value >= 20:
        yield str(value // 10), _NEED_LAST, 0.0


MAX_TYPED = 1000
"""Characters of a typed text that is looked at."""
MAX_SAYINGS = 64
"""Sayings that one place in a typed text is followed with, the likeliest."""


@dataclass(frozen=True, slots=True)
class Parsed:
    """What a typed text may mean.

    saying: the sentence of the graph.
    can_grow: whether more words might have followed.
    """

    saying: Saying
    can_grow: bool


def parse_text(graph: WordGraph, text: str, forms: Forms = NO_FORMS, max_typed: int = MAX_TYPED) -> tuple[Parsed, ...]:
    """The sentences of the graph that a typed text may be: capitals and stops do not count, digits do.

    Empty when it is none. `7,5` is none: it could be 7.5 or 75; nor is a text of more than `max_typed` characters one.
    """
    return parse_written(WrittenGraph(graph, forms), text, max_typed)


def parse_written(written: WrittenGraph, text: str, max_typed: int = MAX_TYPED) -> tuple[Parsed, ...]:
    """As `parse_text`, for several texts in one graph: what was worked out of it for one is there for the next."""
    typed = _typed(text) if len(text) <= max_typed else ""
    if not typed:
        return ()
    reached: list[dict[int, dict[Saying, float]]] = [{} for _ in range(len(typed) + 1)]
    reached[0][written.start] = {EMPTY: 0.0}
    for at in range(len(typed) + 1):
        waiting = list(reached[at].items())
        while waiting:
            state, sayings = waiting.pop()
            likely = nlargest(MAX_SAYINGS, sayings.items(), key=lambda item: item[1])
            for arc in written.arcs(state):
                if arc.text and written.between_words(arc.end) and len(arc.text) == 1:
                    continue  # a comma, hyphen or stop: these were taken out of the typed text
                shown = _plain(arc.text)
                if not typed.startswith(shown, at):
                    continue
                there = reached[at + len(shown)].setdefault(arc.end, {})
                new = {}
                for saying, weight in likely:
                    longer = added(saying, arc.added)
                    if weight + arc.weight > there.get(longer, float("-inf")):
                        there[longer] = new[longer] = weight + arc.weight
                if not shown and new:
                    waiting.append((arc.end, new))
    found: dict[Saying, tuple[float, bool]] = {}
    for state, sayings in reached[-1].items():
        for ending, end_weight in written.ends(state):
            for saying, weight in sayings.items():
                whole = added(saying, ending)
                best, grows = found.get(whole, (float("-inf"), False))
                found[whole] = (max(best, weight + end_weight), grows or written.can_grow(state))
    ranked = sorted(found.items(), key=lambda item: -item[1][0])
    return tuple(Parsed(saying, grows) for saying, (_, grows) in ranked)


def _plain(text: str) -> str:
    text = re.sub("M(?=[Ω\N{OHM SIGN}]|ohms?(?![a-z]))", "mega", text)  # capitals do not count, but MΩ is never mΩ
    text = text.casefold().replace("−", "-")
    return re.sub(r"(?<=[^\W\d])[-–](?=[^\W\d])", GAP, text)


def _typed(text: str) -> str:
    text = _plain(text.replace(GAP, " ").strip())
    text = re.sub(r"(?<=\d),(?=\d{3}(?!\d))", "", text)
    if re.search(r"\d,\d", text):
        return ""
    text = re.sub(r"[.!?]+(?=\s|$)|[,;:](?=\s|$)", "", text)
    text = re.sub(r"(?<=-)\s+(?=\d)", "", text)
    return "".join(GAP + word for word in text.replace(GAP, " ").split())
