"""A turn asks what the exchange's table says, and an event that the table does not allow changes nothing of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.dialogue.turn import Turn
from assistant.edge.files.library import order_work
from assistant.errors import ExchangeError
from assistant.session import facts as f
from assistant.session.exchange_table import TRANSITIONS, Ask, ExchangeEvent
from assistant.session.inputs import Instant
from assistant.session.visit import Visit
from tests.session.test_exchange_table import ILLEGAL, facts_of, in_stage, named

WORK = order_work("bench", ("service",), "technician", Path(__file__).parent.parent / "dialogues").work
AT = Instant("2026-03-02T08:00:00.000+00:00", 0.0, "boot")


@pytest.mark.parametrize(("stage", "event"), TRANSITIONS, ids=named)
def test_a_turn_asks_what_the_row_says(stage: f.ExchangeStage | None, event: ExchangeEvent) -> None:
    for fact in facts_of(event):
        for before in Ask:
            turn = Turn(WORK, in_stage(stage), AT)
            turn.ask = before
            turn.record(fact)
            assert (turn.ask, turn.visit.stage) == (TRANSITIONS[stage, event].ask, TRANSITIONS[stage, event].to)


@pytest.mark.parametrize(("stage", "event"), ILLEGAL, ids=named)
def test_an_illegal_event_changes_nothing_of_a_turn(stage: f.ExchangeStage | None, event: ExchangeEvent) -> None:
    for fact in facts_of(event):
        turn = Turn(WORK, in_stage(stage), AT)
        turn.ask = Ask.SHORT
        with pytest.raises(ExchangeError):
            turn.record(fact)
        assert (turn.visit, turn.facts, turn.ask) == (in_stage(stage), [], Ask.SHORT)


def test_what_is_no_event_leaves_what_is_asked() -> None:
    for ask in Ask:
        turn = Turn(WORK, Visit(), AT)
        turn.ask = ask
        turn.record(f.RequestRefused("next", "NotHere"))
        assert turn.ask is ask
