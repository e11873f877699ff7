"""The exchange's table is the exchange: every row moves a visit as it says, and what has no row raises."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import get_args

import pytest

import assistant
from assistant.errors import EngineBayError, ExchangeError
from assistant.session import facts as f
from assistant.session.applying import apply
from assistant.session.exchange_table import TRANSITIONS, Ask, ExchangeEvent, event_of, transition
from assistant.session.inputs import Instant
from assistant.session.visit import Exchange, Visit
from tests.session.every import FACTS, examples

AT = Instant("2026-03-02T08:00:00.000+00:00", 0.0, "boot")
STAGES: tuple[f.ExchangeStage | None, ...] = (None, *f.ExchangeStage)
ILLEGAL = [key for key in product(STAGES, ExchangeEvent) if key not in TRANSITIONS]


def in_stage(stage: f.ExchangeStage | None) -> Visit:
    """A visit whose exchange stands there."""
    exchange = None if stage is None else Exchange(3, f.Purpose.STEP, stage, f.Manner.CHOICES, 1)
    return Visit(exchange=exchange, exchanges=3)


def facts_of(event: ExchangeEvent) -> Iterator[f.Fact]:
    """Facts that record an event."""
    found = [fact for kind in FACTS for fact in examples(kind) if event_of(fact) is event]
    assert found, f"no fact records {event!r}"
    yield from found


def named(key: object) -> str:
    return str(key) if key is not None else "closed"


@pytest.mark.parametrize(("stage", "event"), TRANSITIONS, ids=named)
def test_every_row_moves_the_exchange_as_it_says(stage: f.ExchangeStage | None, event: ExchangeEvent) -> None:
    for fact in facts_of(event):
        after = apply(in_stage(stage), fact, AT)
        assert after.stage is TRANSITIONS[stage, event].to
        if stage is not None and after.exchange is not None:
            assert after.exchange.number == 3


@pytest.mark.parametrize(("stage", "event"), ILLEGAL, ids=named)
def test_an_event_without_a_row_raises_and_changes_nothing(stage: f.ExchangeStage | None, event: ExchangeEvent) -> None:
    for fact in facts_of(event):
        visit = in_stage(stage)
        kept = deepcopy(visit)
        with pytest.raises(ExchangeError):
            apply(visit, fact, AT)
        assert visit == kept


def test_what_is_illegal_is_told_to_people_like_any_error() -> None:
    with pytest.raises(EngineBayError) as raised:
        transition(None, ExchangeEvent.READING_HEARD)
    assert isinstance(raised.value, ValueError)
    assert ExchangeEvent.READING_HEARD in raised.value.cause


def test_some_events_are_illegal() -> None:
    """What the rows must keep out, whoever edits them."""
    asking, completing, confirming = f.ExchangeStage.ASKING, f.ExchangeStage.COMPLETING, f.ExchangeStage.CONFIRMING
    assert {
        (None, ExchangeEvent.CLOSED),
        (None, ExchangeEvent.READING_HEARD),
        (asking, ExchangeEvent.OPENED),
        (asking, ExchangeEvent.READ_BACK_REFUSED),
        (completing, ExchangeEvent.UNIT_MISSING),
        (confirming, ExchangeEvent.READING_HEARD),
        (confirming, ExchangeEvent.MEMBER_HEARD),
        (confirming, ExchangeEvent.TEEN_OR_TEN),
    } <= set(ILLEGAL)


def test_every_fact_of_an_exchange_is_an_event_but_two_that_change_none() -> None:
    silent = {type(fact) for kind in get_args(f.ExchangeFact) for fact in examples(kind) if event_of(fact) is None}
    assert silent == {f.RequestRefused, f.LateAnswerDropped}


def test_no_other_fact_moves_an_exchange() -> None:
    for stage in STAGES:
        visit = in_stage(stage)
        for kind in FACTS:
            for fact in examples(kind):
                if event_of(fact) is None:
                    assert apply(visit, fact, AT).exchange == visit.exchange


def test_every_stage_is_reached_and_can_be_left() -> None:
    reached = {row.to for row in TRANSITIONS.values()}
    assert reached == set(STAGES)
    for stage in f.ExchangeStage:
        assert TRANSITIONS[stage, ExchangeEvent.CLOSED].to is None


def test_only_a_closed_exchange_has_nothing_to_ask() -> None:
    for (_, event), row in TRANSITIONS.items():
        assert row.to is not None or row.ask is Ask.NOTHING, event


# --- nothing else changes the stage ------------------------------------------------------------------------------

MOVER = Path("session", "applying", "exchanges.py")


def stages_set(source: str) -> list[int]:
    """The lines of a module in which a stage of an exchange is given to something."""
    found = []
    for node in ast.walk(ast.parse(source)):
        named_so = isinstance(node, ast.keyword) and node.arg == "stage"
        assigned = isinstance(node, ast.Attribute) and node.attr == "stage" and isinstance(node.ctx, ast.Store)
        made = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Exchange"
        if named_so or assigned or made:
            found.append(node.lineno)
    return found


def test_nothing_else_changes_the_stage() -> None:
    """It was set in seven places, according to the fact."""
    package = Path(assistant.__file__).parent
    setting = {
        path.relative_to(package)
        for layer in ("session", "dialogue")
        for path in (package / layer).rglob("*.py")
        if stages_set(path.read_text(encoding="utf-8"))
    }
    assert setting == {MOVER}


@pytest.mark.parametrize(
    "source", ["replace(exchange, stage=CONFIRMING)", "exchange.stage = CONFIRMING", "Exchange(1, purpose)"]
)
def test_a_change_of_stage_elsewhere_would_be_found(source: str) -> None:
    assert stages_set(source) == [1]


def test_the_number_of_an_exchange_and_its_purpose_are_those_it_was_opened_with() -> None:
    opened = apply(Visit(), f.ExchangeOpened(7, f.Purpose.REASON), AT)
    assert opened.exchange == Exchange(7, f.Purpose.REASON, f.ExchangeStage.ASKING)
    assert replace(opened, exchange=None) == Visit(exchanges=7, latest=AT)
