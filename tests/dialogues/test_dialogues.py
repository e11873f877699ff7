"""The dialogues in plain text: each `.txt` file beside this one is a test. `playing.py` says how one is written."""

from __future__ import annotations

from pathlib import Path

import pytest
from shipped_english import shipped_english

from assistant.dialogue.commands import COMMANDS
from assistant.dialogue.kinds import KIND_FILES, STEP_KINDS
from assistant.meanings import Command, CommandName
from assistant.procedure.step import Step
from assistant.session.applying import apply
from assistant.session.exchange_table import TRANSITIONS, ExchangeEvent, event_of
from assistant.session.facts import ExchangeStage, RequestRefused, StepDone, StepReached
from assistant.session.inputs import (
    AnswerVerdict,
    Heard,
)
from assistant.session.visit import Visit
from tests.dialogues.playing import HERE, played


@pytest.mark.parametrize("path", sorted(HERE.glob("*.txt")), ids=lambda path: path.stem)
def test_dialogue(path: Path) -> None:
    played(path, shipped_english())


@pytest.mark.parametrize("name", KIND_FILES)
def test_each_kind_of_step_has_its_example(name: str) -> None:
    """The example of `dialogue/kinds/NAME.py` is `kind_NAME.txt`, and a step of that very kind is asked in it."""
    path = HERE / f"kind_{name}.txt"
    assert path.exists(), f"write {path.name}: a dialogue with a step of this kind"
    play = played(path, shipped_english())
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


def test_the_dialogues_reach_the_rows_of_the_exchange() -> None:
    reached: set[tuple[ExchangeStage | None, ExchangeEvent]] = set()
    for path in HERE.glob("*.txt"):
        visit = Visit()
        for envelope, facts in played(path, shipped_english()).memory.entries:
            for fact in facts:
                event = event_of(fact)
                reached |= set() if event is None else {(visit.stage, event)}
                visit = apply(visit, fact, envelope.at)
    assert reached == set(TRANSITIONS) - NOT_IN_A_DIALOGUE


def test_there_is_a_dialogue_for_each_command_and_each_kind_of_step() -> None:
    """A command counts that was carried out, not refused; a kind of step that was done."""
    commands: set[CommandName] = set()
    kinds: set[type[Step]] = set()
    for path in HERE.glob("*.txt"):
        play = played(path, shipped_english())
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
