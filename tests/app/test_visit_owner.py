"""A decision that cannot be written down did not happen: it is announced, and the same question stays open."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.app.visit_owner import TRY_AGAIN, VisitOwner
from assistant.dialogue.effects import Listen, Say, StartTimer
from assistant.dialogue.messages import CannotRecord
from assistant.edge.clock import HandClock
from assistant.edge.files.library import order_work
from assistant.errors import JournalError
from assistant.meanings import Answer, Command, CommandName, Hypothesis
from assistant.session.facts import Fact
from assistant.session.inputs import (
    AnswerVerdict,
    Envelope,
    Heard,
    PromptPlayed,
    Said,
    Source,
    TimerRanOut,
    WorkOrdered,
)

SET = Path(__file__).parents[1] / "dialogues"


class FullDisk:
    """Lines that are refused while `full`."""

    def __init__(self) -> None:
        self.number = 0
        self.full = False

    def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
        if self.full:
            raise JournalError("journal", "the disk is full", "Free some space")
        self.number = envelope.number


@pytest.fixture
def begun() -> tuple[VisitOwner, FullDisk]:
    ordered = order_work("bench", ("service",), "technician", SET)
    disk = FullDisk()
    owner = VisitOwner(ordered.work, disk, HandClock("2026-03-02T08:00:00+00:00"))
    owner.take(WorkOrdered(ordered.order))
    return owner, disk


def all_good(owner: VisitOwner) -> Heard:
    best = Hypothesis(Answer("good"), "all good", 0.99)
    return Heard(owner.exchange, AnswerVerdict.ACCEPTED, (best,), Source.VOICE, None)


def test_nothing_happens_and_the_question_stays_open(begun: tuple[VisitOwner, FullDisk]) -> None:
    owner, disk = begun
    before = owner.visit
    disk.full = True
    decision = owner.take(all_good(owner))
    assert owner.visit is before
    assert not decision.facts
    said, listening = decision.effects
    assert isinstance(said, Say)
    assert said.messages == (CannotRecord(),)
    assert isinstance(listening, Listen)
    assert listening.exchange == owner.exchange


def test_the_next_answer_tries_again(begun: tuple[VisitOwner, FullDisk]) -> None:
    owner, disk = begun
    disk.full = True
    owner.take(all_good(owner))
    assert owner.failure is not None
    disk.full = False
    owner.take(all_good(owner))
    assert owner.failure is None
    assert owner.visit.last_done is not None
    assert owner.visit.last_done.step == "look"


def test_the_announcement_is_not_announced_again(begun: tuple[VisitOwner, FullDisk]) -> None:
    owner, disk = begun
    disk.full = True
    played = PromptPlayed(owner.exchange, (Said("CannotRecord", "I cannot write the record.", True),))
    assert owner.take(played).effects == ()


def test_a_timer_that_could_not_be_written_down_is_reported_again(begun: tuple[VisitOwner, FullDisk]) -> None:
    owner, disk = begun
    disk.full = True
    effects = owner.take(TimerRanOut("settle", 1)).effects
    assert StartTimer("settle", 1, TRY_AGAIN) in effects


def test_a_command_is_refused_the_same_way(begun: tuple[VisitOwner, FullDisk]) -> None:
    owner, disk = begun
    disk.full = True
    best = Hypothesis(Command(CommandName.END_WORK), "end the work", 0.99)
    owner.take(Heard(owner.exchange, AnswerVerdict.ACCEPTED, (best,), Source.VOICE, None))
    assert not owner.over
