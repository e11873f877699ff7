"""What facts change of the open question: first its stage, by the exchange's table; then what was said in it."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from assistant.session import facts as f
from assistant.session.exchange_table import event_of, transition
from assistant.session.inputs import Instant
from assistant.session.visit import Exchange, Pending, Unitless, Visit


def move_exchange(visit: Visit, fact: f.Fact) -> Visit:
    """The visit with its exchange in the stage to which the fact's event leads.

    Errors: ExchangeError when the table has no row for it.
    """
    event = event_of(fact)
    if event is None:
        return visit
    stage = transition(visit.stage, event).to
    if stage is None:
        return replace(visit, exchange=None)
    if isinstance(fact, f.ExchangeOpened):
        return replace(visit, exchange=Exchange(fact.exchange, fact.purpose, stage))
    return replace(visit, exchange=replace(_open(visit), stage=stage))


def apply_exchange(visit: Visit, fact: f.ExchangeFact, at: Instant) -> Visit:
    """The visit after one of these facts. Its exchange is in its next stage already."""
    match fact:
        case f.ExchangeOpened():
            return replace(visit, exchanges=fact.exchange)
        case f.HearingFailed():
            failed = replace(_open(visit), failures=_open(visit).failures + 1)
            return replace(visit, exchange=failed, audio_problems=visit.audio_problems + (fact.hindrance is not None))
        case f.ExchangeClosed() | f.RequestRefused() | f.LateAnswerDropped():
            return visit  # for the record; no later decision depends on it
        case _:
            return replace(visit, exchange=_answered(_open(visit), fact))


def _answered(
    exchange: Exchange,
    fact: f.MannerChanged
    | f.UnitAsked
    | f.UnitTakenBack
    | f.ReadingHeard
    | f.ReadingQuestioned
    | f.ReadBackRefused
    | f.ReadingCollected
    | f.SetRefused,
) -> Exchange:
    match fact:
        case f.MannerChanged():
            return replace(exchange, manner=fact.manner, failures=0)
        case f.UnitAsked():
            unitless = Unitless(fact.value, fact.called, fact.confidence, fact.clip, fact.source)
            return replace(_asked_anew(exchange), unitless=unitless)
        case f.UnitTakenBack():
            return _asked_anew(exchange)
        case f.ReadingHeard():
            return replace(_asked_anew(exchange), pending=_pending(fact))
        case f.ReadingQuestioned():
            return replace(exchange, questioned=fact.quantity, unitless=None)
        case f.ReadBackRefused():
            return replace(exchange, pending=None, failures=0, refused=exchange.refused + 1)
        case f.ReadingCollected():
            collected = (*exchange.collected, _pending(fact))
            return replace(_asked_anew(exchange), collected=collected, questioned=None)
        case f.SetRefused():
            return replace(exchange, collected=(), failures=0, refused=exchange.refused + 1)
        case _:
            assert_never(fact)


def _asked_anew(exchange: Exchange) -> Exchange:
    """The exchange when it was understood: what comes next is asked plainly, and no number waits for its unit."""
    return replace(exchange, unitless=None, manner=f.Manner.PLAIN, failures=0)


def _pending(fact: f.ReadingHeard | f.ReadingCollected) -> Pending:
    return Pending(fact.quantity, fact.confidence, fact.clip, fact.source, fact.doubt)


def _open(visit: Visit) -> Exchange:
    if visit.exchange is None:
        raise ValueError("no exchange is open")  # the table has a row for this event only where one is
    return visit.exchange
