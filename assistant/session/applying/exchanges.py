"""What the facts of the open question change of it."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.session.visit import Exchange, Pending, Unitless, Visit


def apply_exchange(visit: Visit, fact: f.ExchangeFact, at: Instant) -> Visit:
    """The visit after one of these facts."""
    match fact:
        case f.ExchangeOpened():
            return replace(visit, exchange=Exchange(fact.exchange, fact.purpose), exchanges=fact.exchange)
        case f.ExchangeClosed():
            return replace(visit, exchange=None)
        case f.HearingFailed():
            exchange = _open(visit)
            hindered = visit.hindered + (fact.hindrance is not None)
            return replace(visit, exchange=replace(exchange, failures=exchange.failures + 1), hindered=hindered)
        case f.MannerChanged():
            return replace(visit, exchange=replace(_open(visit), manner=fact.manner, failures=0))
        case f.UnitAsked():
            unitless = Unitless(fact.value, fact.called, fact.confidence, fact.clip, fact.source)
            exchange = replace(
                _open(visit), stage=f.ExchangeStage.COMPLETING, unitless=unitless, manner=f.Manner.PLAIN, failures=0
            )
            return replace(visit, exchange=exchange)
        case f.UnitTakenBack():
            exchange = replace(
                _open(visit), stage=f.ExchangeStage.ASKING, unitless=None, manner=f.Manner.PLAIN, failures=0
            )
            return replace(visit, exchange=exchange)
        case f.ReadingHeard():
            pending = Pending(fact.quantity, fact.confidence, fact.clip, fact.source, fact.doubt)
            exchange = replace(
                _open(visit),
                stage=f.ExchangeStage.CONFIRMING,
                pending=pending,
                unitless=None,
                manner=f.Manner.PLAIN,
                failures=0,
            )
            return replace(visit, exchange=exchange)
        case f.ReadingQuestioned():
            exchange = replace(_open(visit), stage=f.ExchangeStage.ASKING, questioned=fact.quantity, unitless=None)
            return replace(visit, exchange=exchange)
        case f.ReadBackRefused():
            exchange = _open(visit)
            exchange = replace(
                exchange, stage=f.ExchangeStage.ASKING, pending=None, failures=0, refused=exchange.refused + 1
            )
            return replace(visit, exchange=exchange)
        case f.ReadingCollected():
            exchange = _open(visit)
            pending = Pending(fact.quantity, fact.confidence, fact.clip, fact.source, fact.doubt)
            stage = f.ExchangeStage.CONFIRMING if fact.last else f.ExchangeStage.ASKING
            exchange = replace(
                exchange,
                stage=stage,
                collected=(*exchange.collected, pending),
                questioned=None,
                unitless=None,
                manner=f.Manner.PLAIN,
                failures=0,
            )
            return replace(visit, exchange=exchange)
        case f.SetRefused():
            exchange = _open(visit)
            exchange = replace(
                exchange, stage=f.ExchangeStage.ASKING, collected=(), failures=0, refused=exchange.refused + 1
            )
            return replace(visit, exchange=exchange)
        case f.RequestRefused() | f.LateAnswerDropped():
            return visit  # for the record; no later decision depends on it
        case _:
            assert_never(fact)


def _open(visit: Visit) -> Exchange:
    if visit.exchange is None:
        raise ValueError("a fact of an exchange came while none was open")
    return visit.exchange
