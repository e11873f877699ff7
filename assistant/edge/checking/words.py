"""What sounds alike among what may be said at one moment: every state of the dialogue, its nearest pairs of phrases.

Knows the shipped procedures, the questions that the dialogue asks at each step, and rows of `enginebay bench hearing`.
Refuses to say what distance is (`procedure/likeness.py`) and where the limit lies (`procedure/checks/sound.py`).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path

from assistant.dialogue.exchange import expectation
from assistant.dialogue.work import Work
from assistant.edge import places
from assistant.edge.checking.open_questions import at_step, of_its_own
from assistant.edge.checking.pronouncing import pronounced
from assistant.edge.files.grammars import read_grammar_text
from assistant.edge.files.language import Language
from assistant.edge.files.library import assets, equipment_of, order_visit, order_work, plans_visits
from assistant.errors import EngineBayError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.graph import compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.grammar.tagged import meaning
from assistant.meanings import Amount, Answer, FreeSpeech, Spelled
from assistant.procedure.checks.sound import TOO_NEAR
from assistant.procedure.likeness import Pronunciations, distance, missing, sounds

EVERY_READING, EVERY_PART = "numbers, in every reading", "characters, in every part number"
_PHRASE, _NUMBER, _UNIT = "phrase", "number", "unit"
_MEET = {(_PHRASE, _PHRASE), (_PHRASE, _NUMBER), (_NUMBER, _PHRASE), (_UNIT, _UNIT)}
"""What may be taken for each other. A unit comes after a number only; numbers among themselves are named once."""
_MAX_PHRASES = 64  # phrases of an offer


@dataclass(frozen=True, slots=True)
class Phrase:
    """Something that may be said.

    text: the words.
    means: equal where it means the same.
    kind: of the three above.
    """

    text: str
    means: object
    kind: str = _PHRASE


@dataclass(slots=True)
class DialogueState:
    """Where one thing is expected.

    steps: all places with this expectation.
    judged: whether the limit holds here.

    Digits, teens and tens cannot be chosen, so no limit holds among them: they are read back, and asked for digit by
    digit where two fit.
    """

    name: str
    phrases: tuple[Phrase, ...]
    steps: list[str] = field(default_factory=list)
    judged: bool = True


@dataclass(frozen=True, slots=True)
class Pair:
    """Two phrases of different meaning. apart: their distance, 0 to 1."""

    one: str
    other: str
    apart: float


@dataclass(frozen=True, slots=True)
class StatePairs:
    """A state with its nearest pairs, the nearest first."""

    state: DialogueState
    pairs: tuple[Pair, ...]

    @property
    def too_near(self) -> tuple[Pair, ...]:
        """Those that `enginebay check` would refuse."""
        return tuple(pair for pair in self.pairs if self.state.judged and pair.apart < TOO_NEAR)


# --- states --------------------------------------------------------------------------------------------------------


def works(asset: str | None, procedure: str | None) -> Iterator[Work]:
    """The work that is looked at: one task or procedure of an asset, all of an asset, or every shipped one, once a
    model. Where visits are planned it is a visit of all tasks.

    Errors: ProcedureError for what is not there.
    """
    folders = assets()
    for name in [asset] if asset else {folder: name for name, folder in folders.items()}.values():
        tasks = tuple(equipment_of(name).tasks) if plans_visits(name) else ()
        if tasks and procedure in (None, *tasks):
            yield order_visit(name, (procedure,) if procedure else tasks, "technician", as_it_is=True).work
            continue
        found = [path.stem for path in sorted(folders.get(name, Path()).glob("*.yaml")) if path.stem != "equipment"]
        for wanted in [procedure] if procedure else found or [""]:
            yield order_work(name, (wanted,), "technician", as_it_is=True).work


def states(work: Work, language: Language) -> list[DialogueState]:
    """Every state of the dialogue in this work; steps that expect the same share one, named after the first."""
    found: dict[Expectation, DialogueState] = {}
    for placed in work.steps:
        for moment, turn in at_step(work, placed):
            wanted = expectation(turn)
            if wanted not in found:
                found[wanted] = DialogueState(f"{placed.place.step}{moment}", tuple(_phrases(wanted, language)))
            if placed.place.step not in found[wanted].steps:
                found[wanted].steps.append(placed.place.step)
    for name, turn in of_its_own(work):
        wanted = expectation(turn)
        found.setdefault(wanted, DialogueState(name, tuple(_phrases(wanted, language))))
    return [state for state in found.values() if state.phrases]


def standalone_states(language: Language) -> list[DialogueState]:
    """Numbers and spelled characters, which are the same wherever they are said."""
    spelled = parse_grammar(language.source("spelled") or "", "spelled.jsgf", language.source)
    said = compile_grammar(spelled, ("character",)).sentences(_MAX_PHRASES)
    return [
        DialogueState(
            EVERY_READING, tuple(replace(number, kind=_PHRASE) for number in _numbers(language)), judged=False
        ),
        DialogueState(EVERY_PART, tuple(Phrase(" ".join(words), tags) for words, tags in said), judged=False),
    ]


def _alone(offer: Offer) -> Expectation:
    return Expectation((offer,))


def _phrases(wanted: Expectation, language: Language) -> Iterator[Phrase]:
    for offer in wanted.offers:
        if offer.meaning is Amount:
            yield from _numbers(language)
            rules = re.findall(r"<units\.(\w+)>", offer.rule)
            for rule in rules:
                unit = Offer(f"<units.{rule}>", Answer, Risk.READING, rules[0])
                for words, tags in language.graph(_alone(unit)).sentences(_MAX_PHRASES):
                    yield Phrase(" ".join(words), tags or _first_tags(rules[0], language), _UNIT)
        elif offer.meaning not in (FreeSpeech, Spelled):
            for words, tags in language.graph(_alone(offer)).sentences(_MAX_PHRASES):
                yield Phrase(" ".join(words), meaning(offer, tags))


def _first_tags(rule: str, language: Language) -> tuple[str, ...]:
    """What a unit without a tag means: the one that was asked for."""
    return next(language.graph(_alone(Offer(f"<units.{rule}>", Answer, Risk.READING, rule))).sentences(1))[1]


def _numbers(language: Language) -> Iterator[Phrase]:
    """The words that are a number by themselves."""
    for words, tags in language.graph(_alone(Offer("<numbers.number>", Amount, Risk.READING))).sentences(
        _MAX_PHRASES, 1
    ):
        yield Phrase(" ".join(words), tags, _NUMBER)


# --- pairs ---------------------------------------------------------------------------------------------------------


def nearest(state: DialogueState, table: Pronunciations) -> StatePairs:
    """The pairs of a state, of each two meanings the nearest phrases. table: with every word.

    Errors: EngineBayError for a word whose sound is not known.
    """
    said = {}
    for phrase in state.phrases:
        lacking = missing(phrase.text, table)
        if lacking is not None:
            cause = f"how {lacking!r} of {phrase.text!r} sounds is not known"
            raise EngineBayError(state.name, cause, "Install espeak-ng, or add the word to pronunciations.yaml")
        said[phrase] = sounds(phrase.text, table)
    pairs: dict[frozenset[object], Pair] = {}
    for one, other in combinations(said, 2):
        if (one.kind, other.kind) in _MEET and one.means != other.means:
            pair = Pair(one.text, other.text, distance(said[one], said[other]))
            meanings = frozenset((one.means, other.means))
            pairs[meanings] = min(pair, pairs.get(meanings, pair), key=_by_distance)
    return StatePairs(state, tuple(sorted(pairs.values(), key=_by_distance)))


def _by_distance(pair: Pair) -> tuple[float, str, str]:
    return pair.apart, pair.one, pair.other


def compare_phrases(
    asset: str | None = None, procedure: str | None = None, step: str | None = None, language: str = "en"
) -> list[StatePairs]:
    """Every state with all its pairs. step: only the states of that step.

    Errors: EngineBayError for a step that is not there, and those of `works` and `nearest`.
    """
    spoken = Language(language)
    every = list(works(asset, procedure))
    found = [state for work in every for state in states(work, spoken)]
    known = dict.fromkeys(placed.place.step for work in every for placed in work.steps)
    if step is not None:
        if step not in known:
            raise EngineBayError(f"--state {step}", "there is no such step", f"Use one of {', '.join(known)}")
        found = [state for state in found if step in state.steps]
    else:
        found += standalone_states(spoken)
    table = pronounced(language, [phrase.text for state in found for phrase in state.phrases])
    return [nearest(state, table) for state in found]


def every_phrase(language: str = "en") -> Iterator[str]:
    """All that may be said with the grammars of a language and with the shipped procedures, for the table."""
    for path in sorted((places.grammars() / language).glob("*.jsgf")):
        grammar = parse_grammar(read_grammar_text(path), str(path), Language(language).source)
        yield from compile_grammar(grammar, tuple(grammar.rules)).words
    for work in works(None, None):
        yield from (phrase for placed in work.steps for phrase in placed.step.phrases())


# --- measured ------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class MeasuredConfusions:
    """How often phrases were said, and how often one was heard for another, accepted or not.

    Of a reading it is words that count: one that was heard in another's place where all else was heard right.
    """

    said: Counter[str] = field(default_factory=Counter)
    heard: Counter[tuple[str, str]] = field(default_factory=Counter)
    accepted: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, said: str, heard: str, accepted: bool, reading: bool) -> None:
        """One utterance."""
        self.said[said] += 1
        confused = {(said, heard)} if said != heard else set()
        if reading:
            words, others = said.split(), heard.split()
            self.said.update(word for word in words if word != said)
            differ = [pair for pair in zip(words, others, strict=False) if pair[0] != pair[1]]
            confused = set(differ) if len(words) == len(others) and len(differ) == 1 else set()
        for pair in confused:
            self.heard[pair] += 1
            self.accepted[pair] += accepted

    def counts(self, pair: Pair) -> str:
        """How often the one was heard for the other, and the other for the one; empty when neither was said."""
        ways = ((pair.one, pair.other), (pair.other, pair.one))
        if not any(self.said[said] for said, _ in ways):
            return ""
        return ", ".join(f"{self.heard[way]} of {self.said[way[0]]}" for way in ways)

    def most(self, top: int) -> list[tuple[str, str]]:
        """What was most often heard for what: said, heard."""
        return [way for way, _ in self.heard.most_common(top)]


def confusions(rows: Iterable[Mapping[str, object]], engine: str) -> MeasuredConfusions:
    """From rows of the bench. engine: whose; only what was said where it may be said counts."""
    found = MeasuredConfusions()
    for row in rows:
        if row.get("engine") == engine and row.get("truth") and "words" in row:
            right, reading = bool(row["right"]), row.get("role") == "reading"
            said = str(row["text"])
            found.add(said, said if right else str(row["words"]), row["verdict"] == "accept", reading)
    return found


# --- in words ----------------------------------------------------------------------------------------------------


def in_words(explored: Sequence[StatePairs], top: int, heard: MeasuredConfusions | None) -> str:
    """A table: pairs that meet in several states once, then those of each state; `top` of each."""
    met = Counter(pair for state_pairs in explored for pair in state_pairs.pairs)
    first = {pair: state_pairs.state.name for state_pairs in reversed(explored) for pair in state_pairs.pairs}
    several = sorted((pair for pair, count in met.items() if count > 1), key=lambda pair: pair.apart)
    lines = []
    if several:
        lines.append("In several states:")
        for pair in several[: 2 * top]:
            lines.append(f"{_line(pair, heard)}  {met[pair]} states, such as {first[pair]}".rstrip())
    for state_pairs in explored:
        own = [pair for pair in state_pairs.pairs if met[pair] == 1][:top]
        if own:
            also = f" and {len(state_pairs.state.steps) - 1} more" if len(state_pairs.state.steps) > 1 else ""
            lines += ["", f"{state_pairs.state.name}{also}:", *(_line(pair, heard).rstrip() for pair in own)]
    if heard is not None:
        lines += ["", "Most often heard for something else, wherever it was said:"]
        for said, other in heard.most(2 * top):
            accepted = heard.accepted[said, other]
            count = f"{heard.heard[said, other]} of {heard.said[said]}, {accepted} accepted"
            lines.append(f"        {f'{said} -> {other}':<48}  {count}")
    near = sorted({pair for state_pairs in explored for pair in state_pairs.too_near}, key=lambda pair: pair.apart)
    lines += ["", f"Distance: 0 alike, 1 nothing in common; wrong below {TOO_NEAR}."]
    if any(not state_pairs.state.judged for state_pairs in explored):
        lines.append("Numbers and characters are given; where a teen and a ten fit, the digits are asked for.")
    lines += [f"{pair.one!r} and {pair.other!r} are too near: choose words further apart in sound." for pair in near]
    return "\n".join(lines)


def _line(pair: Pair, heard: MeasuredConfusions | None) -> str:
    columns = [f"  {pair.apart:.2f}", f"{f'{pair.one} / {pair.other}':<48}"]
    return "  ".join(columns if heard is None else [*columns, f"{heard.counts(pair):<20}"])


def document(explored: Sequence[StatePairs], top: int, heard: MeasuredConfusions | None) -> dict[str, object]:
    """The same for a program: every state with its nearest pairs, `top` of each."""
    states = [
        {
            "state": state_pairs.state.name,
            "steps": state_pairs.state.steps,
            "phrases": len(state_pairs.state.phrases),
            "judged": state_pairs.state.judged,
            "pairs": [_pair_row(pair, heard) for pair in state_pairs.pairs[:top]],
        }
        for state_pairs in explored
    ]
    found: dict[str, object] = {
        "limit": TOO_NEAR,
        "too_near": sum(len(state_pairs.too_near) for state_pairs in explored),
        "states": states,
    }
    if heard is not None:
        found["most_confused"] = [_way_row(way, heard) for way in heard.most(2 * top)]
    return found


def _pair_row(pair: Pair, heard: MeasuredConfusions | None) -> dict[str, object]:
    row: dict[str, object] = {"one": pair.one, "other": pair.other, "distance": round(pair.apart, 3)}
    if heard is not None:
        row["measured"] = [_way_row(way, heard) for way in ((pair.one, pair.other), (pair.other, pair.one))]
    return row


def _way_row(way: tuple[str, str], heard: MeasuredConfusions) -> dict[str, object]:
    said, other = way
    counts = {"times": heard.heard[way], "accepted": heard.accepted[way], "of": heard.said[said]}
    return {"said": said, "heard": other, **counts}
