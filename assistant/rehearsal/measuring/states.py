"""What may be said when something is measured: the states of the real dialogue, and any closed grammar.

Knows which offers the dialogue makes and what an utterance means in a state. A meaning is a text here, so that it can
be compared and kept; a number without its unit means the unit that was asked for, as in a read-back. Refuses to know
sound.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from assistant.dialogue.commands import WHILE_ASKING, offers
from assistant.edge.files.language import Language
from assistant.edge.files.library import assets, order_work
from assistant.edge.sound.hear import graph_of
from assistant.errors import GrammarError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.forms import Saying, parse_text
from assistant.grammar.graph import WordGraph, compile_grammar
from assistant.grammar.jsgf import parse_grammar
from assistant.grammar.numbers import say_digits, say_number
from assistant.grammar.tagged import meaning, sense
from assistant.grammar.units import UNIT_RULES, reading_offer, rule_of
from assistant.meanings import Amount, Answer, CommandName, Meaning, Passphrase
from assistant.procedure.step import Step

DECIMALS = {"mm": 3, "m": 2, "bar": 2, "L": 2, "V": 1, "A": 1, "Hz": 1, "N.m": 1, "°C": 1, "s": 1, "h": 1, "%": 1}
"""The most decimals that are said with a unit here; with the others none. The grammar allows three with each."""
_CARDS = """#JSGF V1.0;
grammar cards;
public <cards> = <rank> <rank> | [<rank>] <card> | <card> <card> | <card> <card> <card>;
<card> = <rank> [of] (clubs | hearts | diamonds | spades);
<rank> = ace | two | three | four | five | six | seven | eight | nine | ten | jack | queen | king | lady;
"""


@dataclass(frozen=True, eq=False)
class ListeningState:
    """What may be said now.

    kind: command, reading, hold, grammar or person.
    unit: the one a reading asks for.
    """

    name: str
    kind: str
    graph: WordGraph
    unit: str | None = None

    @property
    def expectation(self) -> Expectation:
        """The offers of a state of the dialogue."""
        assert self.graph.expectation is not None
        return self.graph.expectation

    def risk(self, saying: Saying) -> Risk:
        """What judges this; a sentence of a grammar is judged as a command."""
        if saying.offer is None or self.graph.expectation is None:
            return Risk.COMMAND
        return self.graph.expectation.offers[saying.offer].risk

    def meaning(self, saying: Saying) -> str:
        """What this sentence means here, as a text."""
        if saying.offer is None or self.graph.expectation is None:
            return repr(sense(None, saying.words, saying.tags))
        return self.meant(meaning(self.graph.expectation.offers[saying.offer], saying.tags))

    def meant(self, means: Meaning) -> str:
        """This meaning as a text; a number with its resolution and the unit that was said or asked for."""
        if isinstance(means, Amount):
            return f"{means.value:f} {means.unit or self.unit or ''}".rstrip()
        return repr(means)


def shipped_steps() -> Iterator[Step]:
    """The steps of every shipped procedure."""
    for asset, folder in assets().items():
        names = tuple(sorted(path.stem for path in folder.glob("*.yaml") if path.stem != "equipment"))
        yield from (placed.step for placed in order_work(asset, names, "technician").work.steps)


def states(language: Language, grammar: Path | None = None) -> dict[str, ListeningState]:
    """Every state by name. grammar: a JSGF file that is measured too. Errors: GrammarError."""
    steps = list(shipped_steps())
    holds = dict.fromkeys(card.phrase for step in steps if (card := step.hold_card()) is not None)
    others = (step for step in steps if step.hold_card() is None)
    phrases = dict.fromkeys(answer.phrase for step in others for answer in step.answer_phrases() if answer.taught)
    answers = tuple(Offer(phrase, Answer, Risk.READING, phrase) for phrase in phrases)
    asking = offers(WHILE_ASKING)
    found = [ListeningState("command", "command", language.graph(Expectation((*offers(tuple(CommandName)), *answers))))]
    for unit in (*UNIT_RULES, ""):
        offer = Offer(reading_offer(unit), Amount, Risk.READING)
        found.append(ListeningState(f"reading {unit}".rstrip(), "reading", _graph(language, (offer, *asking)), unit))
    for phrase in holds:
        offer = Offer(phrase, Passphrase, Risk.HOLD, phrase)
        found.append(ListeningState(f"hold {phrase}", "hold", _graph(language, (offer, *asking))))
    if grammar is not None:
        found.append(ListeningState("grammar", "grammar", graph_of(grammar)))
    return {state.name: state for state in found}


def _graph(language: Language, said: tuple[Offer, ...]) -> WordGraph:
    return language.graph(Expectation(said))


def people_states(lists: Mapping[str, Sequence[str]], numbers: Path) -> dict[str, ListeningState]:
    """The states that recordings of people are heard in.

    lists: of words, by name.
    numbers: the grammar of numbers.
    """
    found = {"numbers": graph_of(numbers, "number"), "cards": compile_grammar(parse_grammar(_CARDS, "cards"))}
    for name, said in lists.items():
        listed = f"#JSGF V1.0;\ngrammar {name};\npublic <{name}> = {' | '.join(said)};\n"
        found[name] = compile_grammar(parse_grammar(listed, name))
    return {f"person {name}": ListeningState(f"person {name}", "person", graph) for name, graph in found.items()}


def truth(state: ListeningState, text: str, language: Language) -> str:
    """What this text means in the state. Errors: GrammarError when it cannot be said there."""
    parsed = parse_text(state.graph, text, language.forms)
    if not parsed:
        raise GrammarError(state.name, f"{text!r} cannot be said there", "Measure it in another state")
    return state.meaning(parsed[0].saying)


def sentences(state: ListeningState) -> tuple[str, ...]:
    """Every phrase of a state that is finite and small, once; numbers are left out of a reading's."""
    found = dict.fromkeys(" ".join(words) for words, _ in state.graph.sentences(400, 8) if words)
    return tuple(found)


def drawn(graph: WordGraph, chance: random.Random, longest: int = 14) -> str:
    """A sentence of any closed grammar: a walk through its graph, each way as likely as the grammar says."""
    while True:
        node, words = graph.start, list[str]()
        while node != graph.final and len(words) <= longest:
            ways = graph.outgoing[node]
            arc = chance.choices(ways, [2.718281828**way.weight for way in ways])[0]
            words += [] if arc.word is None else [arc.word]
            node = arc.end
        if words and len(words) <= longest:
            return " ".join(words)


def reading(unit: str, words: Sequence[str], chance: random.Random) -> tuple[str, str]:
    """A number over all that can be said, with or without its unit in these words: (text, what it means).

    As many numbers of one figure before the point as of five; one in twenty is negative; a quarter is said digit by
    digit, as after two failed hearings; seven of ten with the unit.
    """
    figures, most = chance.randint(1, 5), DECIMALS.get(unit, 0)
    places = chance.randint(0, most) if figures < 5 else min(1, most)
    low = 0 if figures == 1 else 10 ** (figures - 1)
    value = Decimal(chance.randint(low * 10**places, 10 ** (figures + places) - 1)).scaleb(-places)
    if chance.random() < 0.05 and value:
        value = -value
    text = (say_digits if chance.random() < 0.25 else say_number)(value)
    if unit and chance.random() < 0.7:
        text += f" {chance.choice(words)}"
    return text, f"{value:f} {unit}".rstrip()


def unit_words(language: Language) -> dict[str, tuple[str, ...]]:
    """How each unit is said after a number other than one: its plurals, or all of its rule when it has none."""
    found = {}
    for unit in UNIT_RULES:
        graph = language.graph(Expectation((Offer(rule_of(unit), Answer, Risk.COMMAND, unit),)))
        every = tuple(" ".join(words) for words, _ in graph.sentences(20))
        found[unit] = tuple(words for words in every if words.endswith("s")) or every
    return found
