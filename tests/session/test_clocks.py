"""Clocks that jump, and durations that must not. A visit during which the clock was set lasted years in the record."""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
import samples
from in_memory import Memory

from assistant.app.visit_owner import VisitOwner
from assistant.dialogue.effects import Listen, Say
from assistant.dialogue.messages import ClockHasJumped, LongPause
from assistant.edge.clock import MachineClock
from assistant.edge.files.library import order_work
from assistant.record import record
from assistant.session import facts as f
from assistant.session.clocks import elapsed_since_first, is_before, without_jump
from assistant.session.inputs import ButtonPressed, Instant, PromptPlayed, WorkOrdered
from assistant.session.journal import START, read_lines, write_line

DIALOGUES = Path(__file__).parent.parent / "dialogues"


def at(wall: str, seconds: float, boot: str = "a") -> Instant:
    return Instant(f"2026-03-{wall}+00:00", seconds, boot)


def test_a_jump_within_one_run_of_the_device() -> None:
    before = at("02T08:00:00", 100)
    assert without_jump(before, at("02T08:10:00", 700)) is None
    assert without_jump(before, at("02T08:10:59", 700)) is None, "clocks part a little"
    assert without_jump(before, at("09T08:10:00", 700)) == "2026-03-02T08:10:00.000+00:00"
    assert without_jump(before, at("01T08:10:00", 700)) == "2026-03-02T08:10:00.000+00:00"


def test_across_a_start_only_a_clock_that_went_back_is_seen() -> None:
    before = at("02T08:00:00", 100)
    assert without_jump(before, at("05T08:00:00", 3, "b")) is None
    assert without_jump(before, at("01T08:00:00", 3, "b")) == before.wall


def test_what_is_no_time_says_nothing() -> None:
    assert not is_before("nonsense", "2026-03-02T08:00:00+00:00")
    assert is_before("2026-03-01T08:00:00", "2026-03-02T08:00:00+00:00"), "without an offset it is UTC"


def test_durations_are_those_of_the_monotonic_clock() -> None:
    moments = [
        at("02T08:00:00", 100),
        at("29T08:10:00", 700),  # set four weeks on
        at("02T08:20:00", 5, "b"),  # right again after a start
        at("02T08:21:00", 65, "b"),
        at("02T08:31:00", 9, "c"),
    ]
    elapsed = elapsed_since_first(moments)
    assert [elapsed(moment) for moment in moments] == [0, 600, 600, 660, 1260]


def test_a_visit_whose_clock_was_set_has_its_true_length() -> None:
    """The clock is set a year on in mid-visit, and the device starts once after that."""
    entries = read_lines(samples.broken_off().data).entries
    whole, last_hash = b"", START
    for number, entry in enumerate(entries):
        at = entry.envelope.at
        late = number > len(entries) // 3 and at.boot == entries[0].envelope.at.boot
        at = replace(at, wall=at.wall.replace("2025", "2026")) if late else at
        line, last_hash = write_line(replace(entry.envelope, at=at), entry.facts, last_hash)
        whole += line
    true, judged = record(read_lines(samples.broken_off().data)), record(read_lines(whole))
    assert true.header.boots == judged.header.boots == 2
    assert 0 < judged.header.duration <= true.header.duration
    assert max(entry.elapsed for entry in judged.entries) <= true.header.duration


class SetClock:
    """A clock whose wall time can be set."""

    def __init__(self) -> None:
        self.seconds, self.ahead = 0.0, 0.0

    def now(self) -> Instant:
        wall = datetime(2026, 3, 2, 8, tzinfo=UTC) + timedelta(seconds=self.seconds + self.ahead)
        return Instant(wall.isoformat(timespec="milliseconds"), self.seconds, "a")


def test_a_jump_is_said_once_and_recorded() -> None:
    """It was said to nobody."""
    ordered = order_work("bench", ("service",), "technician", DIALOGUES)
    clock, lines = SetClock(), Memory()
    owner = VisitOwner(ordered.work, lines, clock)
    owner.take(WorkOrdered(ordered.order))
    clock.seconds += 20
    clock.ahead = 86_400.0
    owner.take(PromptPlayed(1, ()))  # nothing can be said then: it is seen with the next input
    told = []
    for _ in range(3):
        clock.seconds += 5
        decision = owner.take(ButtonPressed(owner.exchange))
        told.append([m for effect in decision.effects if isinstance(effect, Say) for m in effect.messages])
        assert any(isinstance(effect, Listen) for effect in decision.effects)
    assert [ClockHasJumped() in messages for messages in told] == [True, False, False]
    doubts = [fact for _, facts in lines.entries for fact in facts if isinstance(fact, f.ClockDoubted)]
    assert [(doubt.why, doubt.shown[:10], doubt.against[:19]) for doubt in doubts] == [
        (f.ClockDoubt.JUMPED, "2026-03-03", "2026-03-02T08:00:25")
    ]


class Sleepy(SetClock):
    """A clock of a machine that may sleep."""

    boot = "a"

    def now(self) -> Instant:
        return replace(super().now(), boot=self.boot)


def test_after_a_sleep_of_the_device_the_engine_is_proved_again() -> None:
    """A closed lid was no break: ten hours later work went on as if the engine were still isolated."""
    ordered = order_work("bench", ("service",), "technician", DIALOGUES)
    clock, lines = Sleepy(), Memory()
    owner = VisitOwner(ordered.work, lines, clock)
    owner.take(WorkOrdered(ordered.order))
    first = owner.exchange
    clock.seconds, clock.ahead, clock.boot = 5.0, 36_000.0, "a slept 600 min"
    decision = owner.take(ButtonPressed(first))
    facts = [type(fact) for fact in decision.facts]
    assert facts[0] is f.StateForgotten
    assert f.ExchangeClosed in facts
    assert owner.exchange == first + 1, "asked anew; the answer to the question before does not count"
    told = [m for effect in decision.effects if isinstance(effect, Say) for m in effect.messages]
    assert LongPause() in told
    assert any(isinstance(effect, Listen) for effect in decision.effects)
    again = owner.take(ButtonPressed(owner.exchange))
    assert f.StateForgotten not in [type(fact) for fact in again.facts], "once"


def test_the_machine_says_how_long_it_slept(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = MachineClock()
    awake = clock.now()
    monkeypatch.setattr(time, "clock_gettime", lambda which: time.monotonic() + 3_700)
    slept = clock.now()
    assert slept.boot == f"{awake.boot.partition(' ')[0]} slept 61 min"
    assert abs(slept.seconds - awake.seconds) < 60, "the seconds stand while it sleeps"
