"""What every store of a visit's lines promises, on disk or in memory. A store inherits the promises and is tried."""

from __future__ import annotations

import errno
import os
from abc import ABC, abstractmethod
from pathlib import Path

import pytest
from in_memory import Memory

from assistant.app.visit_owner import DecisionLog, VisitOwner
from assistant.dialogue.effects import Listen, Say
from assistant.dialogue.messages import CannotRecord
from assistant.edge.clock import HandClock
from assistant.edge.files.library import order_work
from assistant.edge.files.store import SessionFolder, read_session
from assistant.errors import JournalError
from assistant.meanings import Answer, Hypothesis
from assistant.session.applying import fold
from assistant.session.facts import Fact, StoodBy
from assistant.session.inputs import (
    AnswerVerdict,
    ButtonPressed,
    Envelope,
    Heard,
    Instant,
    Source,
    WorkOrdered,
)
from assistant.session.visit import Visit

Kept = list[tuple[Envelope, tuple[Fact, ...]]]
ORDERED = order_work("bench", ("service",), "technician", Path(__file__).parent.parent / "dialogues")


def envelope(number: int) -> Envelope:
    return Envelope(number, Instant("2026-03-02T08:00:00.000+00:00", float(number), "boot"), ButtonPressed(number))


class StoreContract(ABC):
    """The promises. `fresh` gives an empty store, `kept` what a later run of the program finds of it."""

    @abstractmethod
    def fresh(self, tmp_path: Path) -> DecisionLog: ...

    @abstractmethod
    def kept(self, store: DecisionLog) -> Kept: ...

    @abstractmethod
    def break_it(self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch) -> None:
        """From now on nothing can be written."""

    @abstractmethod
    def mend_it(self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch) -> None:
        """It can be written again."""

    @pytest.fixture
    def store(self, tmp_path: Path) -> DecisionLog:
        return self.fresh(tmp_path)

    def test_a_fresh_one_holds_nothing(self, store: DecisionLog) -> None:
        assert store.number == 0
        assert self.kept(store) == []

    def test_lines_are_kept_in_order(self, store: DecisionLog) -> None:
        lines: Kept = [(envelope(number), (StoodBy(),) * (number % 3)) for number in range(1, 21)]
        for given, facts in lines:
            store.append(given, facts)
            assert store.number == given.number
        assert self.kept(store) == lines

    def test_a_line_is_kept_when_append_returns(self, store: DecisionLog) -> None:
        for number in (1, 2, 3):
            store.append(envelope(number), ())
            assert len(self.kept(store)) == number

    def test_a_line_that_cannot_be_written_leaves_no_trace(
        self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        store.append(envelope(1), (StoodBy(),))
        before = self.kept(store)
        self.break_it(store, monkeypatch)
        for _ in range(2):
            with pytest.raises(JournalError) as caught:
                store.append(envelope(2), (StoodBy(),))
            assert caught.value.remedy
            assert store.number == 1
        self.mend_it(store, monkeypatch)
        assert self.kept(store) == before
        store.append(envelope(2), ())
        assert self.kept(store) == [*before, (envelope(2), ())]

    def test_a_visit_stands_still_while_nothing_can_be_written(
        self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        clock = HandClock("2026-03-02T08:00:00+00:00")
        owner = VisitOwner(ORDERED.work, store, clock)
        owner.take(WorkOrdered(ORDERED.order))
        exchange, before = owner.exchange, owner.visit
        good = Heard(
            exchange, AnswerVerdict.ACCEPTED, (Hypothesis(Answer("good"), "all good", 0.9),), Source.VOICE, None
        )
        self.break_it(store, monkeypatch)
        for _ in range(3):
            clock.move(5)
            decision = owner.take(good)
            assert decision.facts == ()
            assert decision.effects[0] == Say(exchange, (CannotRecord(),))
            assert [type(effect) for effect in decision.effects[1:]] == [Listen], "the same question stays open"
            assert owner.visit is before
            assert owner.failure is not None
        self.mend_it(store, monkeypatch)
        decision = owner.take(good)
        assert owner.failure is None
        assert owner.exchange > exchange
        assert any(isinstance(effect, Listen) for effect in decision.effects)
        assert [given.number for given, _ in self.kept(store)] == [1, 2]
        assert self.folded(store) == owner.visit

    def folded(self, store: DecisionLog) -> Visit:
        return fold((fact, given.at) for given, facts in self.kept(store) for fact in facts)


class TestSessionFolder(StoreContract):
    def fresh(self, tmp_path: Path) -> DecisionLog:
        return SessionFolder.create(tmp_path / "sessions", "visit", ORDERED.files)

    def kept(self, store: DecisionLog) -> Kept:
        assert isinstance(store, SessionFolder)
        journal = read_session(store.folder)  # what a later run reads; the folder itself is still held
        assert journal.torn == b""
        return [(entry.envelope, entry.facts) for entry in journal.entries]

    def break_it(self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch) -> None:
        assert isinstance(store, SessionFolder)
        real = os.write

        def full(file: int, data: bytes) -> int:
            real(file, data[: len(data) // 2])
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr("assistant.edge.files.store.os.write", full)

    def mend_it(self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.undo()


class Frail(Memory):
    """The store in memory that the dialogue tests use, and that can be broken."""

    broken = False

    def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
        if self.broken:
            raise JournalError("memory", "it takes nothing", "Mend it")
        super().append(envelope, facts)


class TestMemory(StoreContract):
    def fresh(self, tmp_path: Path) -> DecisionLog:
        return Frail()

    def kept(self, store: DecisionLog) -> Kept:
        assert isinstance(store, Frail)
        return list(store.entries)

    def break_it(self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch) -> None:
        assert isinstance(store, Frail)
        store.broken = True

    def mend_it(self, store: DecisionLog, monkeypatch: pytest.MonkeyPatch) -> None:
        assert isinstance(store, Frail)
        store.broken = False
