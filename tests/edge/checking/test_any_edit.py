"""No edit that passes the check ends a visit.

A trainer's edit ended a visit in its middle: a task whose title held a bracket raised a GrammarError when a task was to
be added, a brace in the wording a ValueError when the message was due. So the files are edited at random, and with each
edit that the gate lets pass a whole visit is worked, typed, by the first good answer.
"""

from __future__ import annotations

import random
import shutil
import signal
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path
from types import FrameType

import pytest
from in_memory import Memory

from assistant.app.visit_owner import VisitOwner
from assistant.dialogue.effects import Effect, Finish, Listen, Say, StartTimer
from assistant.dialogue.work import lay_out
from assistant.edge.checking.languages import examine_language
from assistant.edge.checking.models import examine_model, words_of
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import OrderedWork, order_visit, order_work
from assistant.edge.places import grammars, procedures
from assistant.errors import EngineBayError
from assistant.floor.policy import audible_while_speaking
from assistant.grammar.numbers import DIGITS, can_be_said
from assistant.procedure.answers import Then
from assistant.procedure.kinds.calculation import Calculation
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.instruction import Instruction
from assistant.procedure.kinds.part import FittedPart
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.reading_set import ReadingSet
from assistant.procedure.kinds.timer import Timer
from assistant.procedure.measured import Measured
from assistant.procedure.problem import Severity
from assistant.session import facts as f
from assistant.session.inputs import AnswerVerdict, Heard, Input, Order, Silence, Source, TimerRanOut, WorkOrdered

DIALOGUES = Path(__file__).parents[2] / "dialogues"
MAX_INPUTS = 250  # of a visit; the simple technician does not find every way to an end
MAX_SECONDS = 30  # of an edit; more is a loop
BESIDES = (  # what is asked besides, now and then
    "what can I say",
    "more details",
    "say again",
    "where am I",
    "what is left",
    "last reading",
    "compare visits",
    "what is due",
    "what do I need",
    "add a task",
    "other work first",
    "put this task off",
    "I dropped something",
    "take a note",
    "skip this step",
    "correction",
    "end the work",
    "hand over the work",
    "louder please",
)
OWN = {  # answers to the assistant's own questions
    f.Purpose.STATE: "affirm",
    f.Purpose.FOUND: "found it again",
}
SIGNS = ["{", "}", "[", "]", "<", ">", "|", ";", "/", '"', "'", "\\", "=", "*", "+", "#", "%", "&", "@", "!", "?", ":"]
SIGNS += ["\t", "  ", "-", ",", ".", "(", ")", "é", "\u200b", "\u0663", "½", "Ω", "\x07", "\n", "{{", "}}", "{x}", "- "]
WORDS = [
    "stop",
    "next",
    "no",
    "yes",
    "unknown",
    "null",
    "~",
    "0",
    "-1",
    "1e9",
    "999999",
    "[]",
    "{}",
    '""',
    "7 L",
    "a b",
]


# --- the simple technician -----------------------------------------------------------------------------------------


class SimpleVisit:
    """A typed visit in memory by the first good answer, with questions besides."""

    def __init__(self, language: Language, ordered: OrderedWork, chance: random.Random) -> None:
        self.language, self.chance = language, chance
        self.clock = HandClock("2026-03-02T08:00:00+00:00")
        self.owner = VisitOwner(ordered.work, Memory(), self.clock)
        self.timers: list[tuple[float, StartTimer]] = []
        self.listening: Listen | None = None
        self.over = False
        self.take(WorkOrdered(ordered.order))

    def run(self) -> bool:
        """The whole visit; whether it came to its end."""
        for _ in range(MAX_INPUTS):
            if self.over or self.listening is None:
                break
            besides = self.chance.random()
            if besides < 0.1:
                self.type(self.chance.choice(BESIDES))
            elif besides < 0.14:
                self.take(Silence(self.owner.exchange, 20.0))
            elif besides < 0.18:
                self.hear("", AnswerVerdict.DOUBTFUL)
            else:
                self.work()
        return self.over

    def take(self, given: Input) -> None:
        for effect in self.owner.take(given).effects:
            self.carry_out(effect)

    def carry_out(self, effect: Effect) -> None:
        match effect:
            case Say(_, messages):
                for message in messages:
                    assert self.language.wording.text(message)
                    self.said = self.language.wording.aloud(message)
            case Listen():
                self.listening = effect
                self.language.graph(effect.expectation)
                audible = audible_while_speaking(effect.expectation, headset=False)
                if audible.offers:
                    self.language.meant_in(self.said, audible)
            case StartTimer(_, _, seconds):
                self.timers.append((self.clock.seconds + seconds, effect))
            case Finish():
                self.over = True

    def type(self, words: str) -> None:
        self.hear(words, AnswerVerdict.ACCEPTED)

    def hear(self, words: str, verdict: AnswerVerdict) -> None:
        assert self.listening is not None
        hypotheses = self.language.answer(self.listening.expectation, words)
        verdict = verdict if hypotheses else AnswerVerdict.DOUBTFUL
        self.take(Heard(self.listening.exchange, verdict, hypotheses, Source.TYPED, None))

    def pass_time(self) -> None:
        due, timer = min(self.timers, key=lambda entry: entry[0])
        self.timers.remove((due, timer))
        self.clock.move(max(0.0, due - self.clock.seconds))
        self.take(TimerRanOut(timer.timer, timer.run))

    def work(self) -> None:
        visit = self.owner.visit
        exchange = visit.exchange
        assert exchange is not None
        if visit.stood_by is not None:
            self.type("carry on")
        elif exchange.purpose is not f.Purpose.STEP:
            self.type(OWN.get(exchange.purpose, "negative" if exchange.purpose is f.Purpose.ENDING else "disregard"))
        elif exchange.stage is f.ExchangeStage.CONFIRMING:
            self.type("affirm")
        else:
            self.answer()

    def answer(self) -> None:
        visit = self.owner.visit
        assert visit.focus is not None
        assert visit.exchange is not None
        match self.owner.work.at(visit.focus).step:
            case Timer():
                if self.timers:
                    self.pass_time()
                else:
                    self.type("where am I")
            case HoldPoint(phrase=phrase):
                self.type(phrase)
            case Check(answers=answers):
                good = [one.phrase for one in answers.values() if one.good and one.then is Then.GO_ON]
                self.type(good[0] if good else next(iter(answers.values())).phrase)
            case ReadingSet(members=members):
                self.type(self.number(members[min(len(visit.exchange.collected), len(members) - 1)]))
            case Reading() as step:
                self.type(self.number(step))
            case FittedPart(expected=expected):
                self.type(" ".join(SPELLED.get(sign, sign) for sign in expected[0].proof))
            case Instruction() | Calculation():
                self.type("next")

    def number(self, asked: Measured) -> str:
        """A value in the middle of the limits, or else of what is believable."""
        about = Decimal(0)
        if asked.relative_to is not None:
            earlier = [one for one in self.owner.visit.readings if one.place.step == asked.relative_to]
            about = earlier[-1].quantity.exactly(asked.unit) if earlier else about
            return f"{round(about, 1):f}"
        for interval in filter(None, (asked.limits, *asked.limits_when.values(), asked.believable)):
            low, high = (None if end is None else end.exactly(asked.unit) for end in (interval.low, interval.high))
            value = (low + high) / 2 if low is not None and high is not None else low or high or Decimal(1)
            for decimals in range(4):
                rounded = round(value, decimals)
                inside = (low is None or low <= rounded) and (high is None or rounded <= high)
                if inside and can_be_said(rounded):
                    return f"{rounded:f}"
        return "1"


ALFA = (
    "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa quebec romeo "
    "sierra tango uniform victor whiskey xray yankee zulu"
)
SPELLED = {word[0].upper(): word for word in ALFA.split()} | {str(value): word for value, word in enumerate(DIGITS)}


# --- edits ---------------------------------------------------------------------------------------------------------


def edited(text: str, chance: random.Random) -> str:
    """The text with one thing changed, or two."""
    for _ in range(1 if chance.random() < 0.8 else 2):
        text = chance.choice(EDITS)(text, chance)
    return text


def _line(text: str, chance: random.Random) -> tuple[list[str], int]:
    lines = text.splitlines(keepends=True)
    return lines, chance.randrange(len(lines))


def _delete_line(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    return "".join(lines[:at] + lines[at + 1 :]) or "\n"


def _repeat_line(text: str, chance: random.Random) -> str:
    """A key twice, an answer twice, a step's line twice."""
    lines, at = _line(text, chance)
    to = chance.choice((at, chance.randrange(len(lines))))
    return "".join([*lines[:to], lines[at], *lines[to:]])


def _swap_lines(text: str, chance: random.Random) -> str:
    lines, at = _line(text, chance)
    other = chance.randrange(len(lines))
    lines[at], lines[other] = lines[other], lines[at]
    return "".join(lines)


def _change_value(text: str, chance: random.Random) -> str:
    """The value of a key becomes that of another one, a word of another kind, or nothing."""
    lines, at = _line(text, chance)
    key, colon, _ = lines[at].partition(": ")
    _, _, other = lines[chance.randrange(len(lines))].partition(": ")
    value = chance.choice((other.strip("\n"), chance.choice(WORDS), ""))
    lines[at] = f"{key}{colon}{value}\n"
    return "".join(lines)


def _change_word(text: str, chance: random.Random) -> str:
    words = text.split(" ")
    words[chance.randrange(len(words))] = chance.choice((chance.choice(words), chance.choice(WORDS), ""))
    return " ".join(words)


def _swap_signs(text: str, chance: random.Random) -> str:
    at = chance.randrange(max(1, len(text) - 1))
    return text[:at] + text[at + 1 : at + 2] + text[at : at + 1] + text[at + 2 :]


def _insert_sign(text: str, chance: random.Random) -> str:
    at = chance.randrange(len(text))
    return text[:at] + chance.choice(SIGNS) + text[at:]


def _delete_sign(text: str, chance: random.Random) -> str:
    at = chance.randrange(len(text))
    return text[:at] + text[at + 1 :]


EDITS: tuple[Callable[[str, random.Random], str], ...] = (
    _delete_line,
    _repeat_line,
    _swap_lines,
    _change_value,
    _change_value,
    _change_word,
    _change_word,
    _swap_signs,
    _insert_sign,
    _insert_sign,
    _delete_sign,
)


def edit_one(folder: Path, names: list[str], chance: random.Random) -> str:
    """One file of a folder is edited; its name."""
    name = chance.choice(names)
    file = folder / name
    file.write_text(edited(file.read_text(encoding="utf-8"), chance), encoding="utf-8")
    return name


@contextmanager
def bounded(what: str) -> Iterator[None]:
    """What goes on for ever fails instead."""

    def stop(number: int, frame: FrameType | None) -> None:
        raise AssertionError(f"{what} goes on for ever")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(MAX_SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


# --- the tests -----------------------------------------------------------------------------------------------------


def _of_procedures(kind: str, root: Path, chance: random.Random, language: Language) -> str:
    """An edit of procedures: `refused`, `worked to its end`, or `worked`."""
    shipped, small, kinds = (
        (procedures() / "twin-9", "marram-auxiliary"),
        (DIALOGUES / "visits", "shed"),
        (DIALOGUES / "set", "bench"),
    )
    source, asset = {"shipped": shipped, "small visit": small, "every kind": kinds}[kind]
    folder = root / source.name
    shutil.copytree(source, folder)
    name = edit_one(folder, sorted(file.name for file in source.glob("*.yaml")), chance)
    stems = sorted(file.stem for file in source.glob("*.yaml") if file.stem != "equipment")
    procedure = name.removesuffix(".yaml") if name != "equipment.yaml" else chance.choice(stems)
    try:
        if kind == "small visit":
            ordered = order_visit(asset, ("coolant", "filter"), "technician", root)
        else:
            ordered = order_work(asset, (procedure,), "technician", root)
    except EngineBayError:
        return "refused"
    return "worked to its end" if SimpleVisit(language, ordered, chance).run() else "worked"


def _of_a_language(root: Path, chance: random.Random) -> str:
    """An edit of a language, with which a visit of every kind of step is worked."""
    folder = root / "en"
    shutil.copytree(grammars() / "en", folder)
    edit_one(folder, sorted(file.name for file in folder.glob("*")) + ["wording.yaml"] * 6, chance)
    faults = [fault for found in examine_language(folder).values() for fault in found]
    assert all(fault.line >= 1 and fault.column >= 1 and fault.file.startswith(str(folder)) for fault in faults)
    if any(fault.severity is Severity.WRONG for fault in faults):
        return "refused"
    name = chance.choice(("kinds", "judged", "service", "units"))
    known = words_of(str(folder))
    examined = examine_model(DIALOGUES / "set", known, (name,))
    if examined.wrong:
        return "refused"
    equipment = examined.refuse()
    work = lay_out(equipment, "bench", tuple(examined.procedures.values()))
    ordered = OrderedWork(work, Order("bench", equipment.model, "technician", (name,), (), equipment.demo), {})
    visit = SimpleVisit(known.spoken, ordered, chance)
    return "worked to its end" if visit.run() else "worked"


def _edits(kind: str, count: int, seed: int, tmp_path: Path) -> Counter[str]:
    language = english()
    came = Counter[str]()
    for number in range(count):
        what = f"edit {number} of {kind!r}, seed {seed}"
        chance, root = random.Random(f"{kind} {seed} {number}"), tmp_path / str(number)
        root.mkdir()
        try:
            with bounded(what):
                if kind == "language":
                    came[_of_a_language(root, chance)] += 1
                else:
                    came[_of_procedures(kind, root, chance, language)] += 1
        except Exception as error:
            raise AssertionError(f"{what} passed the gate, or came to it, and raised {error!r}") from error
        shutil.rmtree(root)
    return came


QUICK = {"shipped": 20, "small visit": 20, "every kind": 40, "language": 16}
MANY = 5  # times as many of each seed in the long form


@pytest.mark.parametrize("kind", QUICK)
def test_an_edit_that_passes_the_gate_ends_no_visit(kind: str, tmp_path: Path) -> None:
    """A GrammarError, a ValueError or a KeyError in the middle of a visit came from files that the check let pass."""
    came = _edits(kind, QUICK[kind], 1, tmp_path)
    assert came["refused"] > QUICK[kind] // 10, came  # else the edits are harmless, or the gate is open
    assert came["worked to its end"] > QUICK[kind] // 10, came  # else nothing was tried


@pytest.mark.long
@pytest.mark.parametrize("kind", QUICK)
@pytest.mark.parametrize("seed", range(1, 12))
def test_many_edits_that_pass_the_gate_end_no_visit(kind: str, seed: int, tmp_path: Path) -> None:
    """The same as above, some thousands of times."""
    assert _edits(kind, MANY * QUICK[kind], seed, tmp_path)["worked to its end"]
