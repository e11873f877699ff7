"""Dialogues in plain text, one line heard, one line said, then the facts. Each `.txt` file beside this one is a test.

> words          the technician says this, and it is heard
? words          this is heard doubtfully; `? words | noise`: and noise was in the way
* 2.5            free speech of 2.5 seconds is kept as sound
~ 20             20 seconds of silence while the assistant listens
! button         the button is pressed
@ 120            120 seconds pass; timers run out in their time
% supervisor     the visit broke off, the machine was restarted, the supervisor takes it up again
< words          the assistant says this; every line of a turn is given, in order
= fact | text    among the turn's facts, their statements in words, is one of this kind that contains each text

The first line names the procedure, or the tasks of a planned visit, `visit: coolant, belt`; a second,
`history: falling`, the asset's earlier sessions, a function of tests/histories.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import histories
import pytest
from in_memory import Memory
from pydantic import TypeAdapter

from assistant.app.visit_owner import VisitOwner
from assistant.dialogue.commands import COMMANDS
from assistant.dialogue.effects import Effect, Finish, Listen, Say, StartTimer
from assistant.dialogue.kinds import KIND_FILES, STEP_KINDS
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import OrderedWork, order_visit, order_work
from assistant.meanings import Command, CommandName, FreeSpeech, Hypothesis
from assistant.procedure.step import Step
from assistant.session.applying import apply, fold
from assistant.session.exchange_table import TRANSITIONS, ExchangeEvent, event_of
from assistant.session.facts import ExchangeStage, Fact, RequestRefused, StepDone, StepReached
from assistant.session.inputs import (
    AnswerVerdict,
    AudioProblem,
    ButtonPressed,
    Clip,
    Heard,
    Input,
    Silence,
    Source,
    TimerRanOut,
    WorkOrdered,
    WorkResumed,
)
from assistant.session.visit import Visit

HERE = Path(__file__).parent
FACT: TypeAdapter[Fact] = TypeAdapter(Fact)


class Play:
    """Plays a dialogue against the core."""

    def __init__(self, language: Language, ordered: OrderedWork, earlier: Mapping[str, histories.Told]) -> None:
        self.language = language
        self.order = ordered.order
        self.clock = HandClock("2026-03-02T08:00:00+00:00")
        self.memory = Memory()
        self.owner = VisitOwner(replace(ordered.work, earlier=earlier), self.memory, self.clock)
        self.timers: list[tuple[float, StartTimer]] = []
        self.listen: Listen | None = None
        self.said: list[str] = []
        self.facts: list[Fact] = []
        self.over = False

    def take(self, given: Input) -> None:
        decision = self.owner.take(given)
        self.facts += decision.facts
        for effect in decision.effects:
            self.carry_out(effect)

    def carry_out(self, effect: Effect) -> None:
        match effect:
            case Say(_, messages):
                self.said += [self.language.wording.text(message) for message in messages]
            case Listen():
                self.listen = effect
            case StartTimer(_, _, seconds):
                self.timers.append((self.clock.seconds + seconds, effect))
            case Finish():
                self.over = True

    def hear(self, said: str, verdict: AnswerVerdict) -> None:
        assert self.listen is not None
        words, _, in_the_way = said.partition(" | ")
        hypotheses = self.language.answer(self.listen.expectation, words)
        assert hypotheses or verdict is AnswerVerdict.DOUBTFUL, f"{words!r} may not be said here"
        hindrance = AudioProblem(in_the_way) if in_the_way else None
        self.take(Heard(self.listen.exchange, verdict, hypotheses, Source.VOICE, None, hindrance))

    def recorded(self) -> tuple[Fact, ...]:
        """All facts so far."""
        return tuple(fact for _, facts in self.memory.entries for fact in facts)

    def wait(self, seconds: float) -> None:
        until = self.clock.seconds + seconds
        for due, timer in sorted(self.timers, key=lambda entry: entry[0]):
            if due <= until:
                self.timers.remove((due, timer))
                self.clock.move(due - self.clock.seconds)
                self.take(TimerRanOut(timer.timer, timer.run))
        self.clock.move(until - self.clock.seconds)

    def restart(self, technician: str) -> None:
        """Power gone and back: another boot, the visit folded anew from what was written down."""
        self.clock = HandClock("2026-03-02T12:00:00+00:00", boot="another")
        self.timers.clear()
        visit = fold((fact, envelope.at) for envelope, facts in self.memory.entries for fact in facts)
        assert visit == self.owner.visit
        self.owner = VisitOwner(self.owner.work, self.memory, self.clock, visit)
        self.take(WorkResumed(technician))

    def line(self, mark: str, rest: str) -> None:
        if mark in ">?*~!@%":
            assert not self.said, f"said, but not in the text: {self.said}"
            self.facts.clear()
        match mark:
            case ">":
                self.hear(rest, AnswerVerdict.ACCEPTED)
            case "?":
                self.hear(rest, AnswerVerdict.DOUBTFUL)
            case "*":
                sound = Clip("0" * 64, float(rest))
                spoken = (Hypothesis(FreeSpeech(), "", 1.0),)
                self.take(Heard(self.owner.exchange, AnswerVerdict.ACCEPTED, spoken, Source.VOICE, sound))
            case "~":
                self.take(Silence(self.owner.exchange, float(rest)))
            case "!":
                self.take(ButtonPressed(self.owner.exchange))
            case "@":
                self.wait(float(rest))
            case "%":
                self.restart(rest)
            case "<":
                assert self.said, f"nothing more was said, the text expects {rest!r}"
                assert self.said.pop(0) == rest
            case "=":
                kind, *parts = (part.strip() for part in rest.split("|"))
                found = [
                    FACT.dump_json(self.language.wording.words.worded(fact)).decode()
                    for fact in self.facts
                    if fact.kind == kind
                ]
                assert any(all(part in text for part in parts) for text in found), f"{rest!r} not in {self.facts}"
            case _:
                raise AssertionError(f"a line begins with {mark!r}")


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


def played(path: Path, language: Language) -> Play:
    """The dialogue of a file, played to its end."""
    lines = [line for line in path.read_text(encoding="utf-8").splitlines() if line and not line.startswith("#")]
    kind, _, named = lines.pop(0).partition(": ")
    if kind == "visit":
        ordered = order_visit("shed", tuple(named.split(", ")), "technician", HERE)
    else:
        ordered = order_work("bench", (named,), "technician", HERE)
    history = lines.pop(0).removeprefix("history: ") if lines[0].startswith("history: ") else ""
    play = Play(language, ordered, getattr(histories, history)() if history else {})
    play.take(WorkOrdered(play.order))
    for number, line in enumerate(lines, start=1):
        try:
            play.line(line[0], line[2:])
        except AssertionError as error:
            raise AssertionError(f"{path.name}, line {number} of the dialogue ({line}): {error}") from error
    assert not play.said, f"said, but not in the text: {play.said}"
    return play


@pytest.mark.parametrize("path", sorted(HERE.glob("*.txt")), ids=lambda path: path.stem)
def test_dialogue(path: Path, language: Language) -> None:
    played(path, language)


@pytest.mark.parametrize("name", KIND_FILES)
def test_each_kind_of_step_has_its_example(name: str, language: Language) -> None:
    """The example of `dialogue/kinds/NAME.py` is `kind_NAME.txt`, and a step of that very kind is asked in it."""
    path = HERE / f"kind_{name}.txt"
    assert path.exists(), f"write {path.name}: a dialogue with a step of this kind"
    play = played(path, language)
    asked = {type(play.owner.work.at(fact.place).step) for fact in play.recorded() if isinstance(fact, StepReached)}
    assert KIND_FILES[name].step in asked


NOT_IN_A_DIALOGUE = {
    (None, ExchangeEvent.BROKEN_OFF),  # the device breaks off between two questions
    (ExchangeStage.ASKING, ExchangeEvent.TEEN_OR_TEN),  # what is typed has one meaning
    (ExchangeStage.COMPLETING, ExchangeEvent.MEMBER_HEARD),
    (ExchangeStage.COMPLETING, ExchangeEvent.CLOSED),
    *((stage, ExchangeEvent.WORK_ENDED) for stage in ExchangeStage),  # the question is closed before
}
"""Rows that no dialogue reaches; tests/session/test_exchange_table.py walks all of them."""


def test_the_dialogues_reach_the_rows_of_the_exchange(language: Language) -> None:
    reached: set[tuple[ExchangeStage | None, ExchangeEvent]] = set()
    for path in HERE.glob("*.txt"):
        visit = Visit()
        for envelope, facts in played(path, language).memory.entries:
            for fact in facts:
                event = event_of(fact)
                reached |= set() if event is None else {(visit.stage, event)}
                visit = apply(visit, fact, envelope.at)
    assert reached == set(TRANSITIONS) - NOT_IN_A_DIALOGUE


def test_there_is_a_dialogue_for_each_command_and_each_kind_of_step(language: Language) -> None:
    """A command counts that was carried out, not refused; a kind of step that was done."""
    commands: set[CommandName] = set()
    kinds: set[type[Step]] = set()
    for path in HERE.glob("*.txt"):
        play = played(path, language)
        for envelope, facts in play.memory.entries:
            given = envelope.input
            refused = any(isinstance(fact, RequestRefused) for fact in facts)
            if isinstance(given, Heard) and given.verdict is AnswerVerdict.ACCEPTED and not refused:
                meaning = given.hypotheses[0].meaning
                commands |= {meaning.name} if isinstance(meaning, Command) else set()
            done = (fact.place for fact in facts if isinstance(fact, StepDone))
            kinds |= {type(play.owner.work.at(place).step) for place in done}
    assert commands == set(COMMANDS)
    assert kinds == set(STEP_KINDS)
