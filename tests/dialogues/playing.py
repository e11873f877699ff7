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
from functools import cache
from pathlib import Path

import histories
from in_memory import Memory
from pydantic import TypeAdapter

from assistant.app.visit_owner import VisitOwner
from assistant.dialogue.effects import Effect, Finish, Listen, Say, StartTimer
from assistant.edge.clock import HandClock
from assistant.edge.files.language import Language
from assistant.edge.files.library import OrderedWork, order_visit, order_work
from assistant.meanings import FreeSpeech, Hypothesis
from assistant.session.applying import fold
from assistant.session.facts import Fact
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


@cache
def played(path: Path, language: Language) -> Play:
    """The dialogue of a file, played to its end: once for a language, for what was played is only looked at."""
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
