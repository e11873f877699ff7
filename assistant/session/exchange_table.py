"""The exchange, the one small machine for asking, as a table. This module owns its transitions.

    asked -> answered -> which unit, where several are called so -> read back -> confirmed or refused

(stage, event) -> what the assistant asks then, and the next stage. Nothing else changes the stage: `apply` takes the
next stage from here, a turn what is asked then, the diagram in DEVELOPERS.md both. An event without a row raises.

Every event is a fact, so the stage is folded like the rest of a visit. What leaves no fact (a command that only tells
something, the button) moves no exchange. Refuses to know who asks, and in which words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from assistant.errors import ExchangeError
from assistant.session import facts as f


class ExchangeEvent(StrEnum):
    """What changes an exchange, each recorded by a fact."""

    OPENED = "opened"
    CLOSED = "closed"
    DOUBTFUL = "doubtful"
    SILENT = "silent"
    TEEN_OR_TEN = "teen or ten"
    WAY_CHANGED = "way changed"
    UNIT_MISSING = "unit missing"
    UNIT_TAKEN_BACK = "unit taken back"
    READING_QUESTIONED = "reading questioned"
    READING_HEARD = "reading heard"
    READ_BACK_REFUSED = "read-back refused"
    MEMBER_HEARD = "member heard"
    SET_COMPLETE = "set complete"
    SET_REFUSED = "set refused"
    BROKEN_OFF = "broken off"
    WORK_ENDED = "work ended"


class Ask(IntEnum):
    """How much of the open question is spoken after what was said."""

    NOTHING = 0
    SHORT = 1
    FULL = 2


@dataclass(frozen=True, slots=True)
class Transition:
    """What follows an event.

    ask: how much of the question is spoken then.
    to: the next stage; None: no exchange is open.
    """

    ask: Ask
    to: f.ExchangeStage | None


_CLOSED = None
_ASKING, _COMPLETING, _CONFIRMING = f.ExchangeStage.ASKING, f.ExchangeStage.COMPLETING, f.ExchangeStage.CONFIRMING
_E = ExchangeEvent

TRANSITIONS: Mapping[tuple[f.ExchangeStage | None, ExchangeEvent], Transition] = {
    (_CLOSED, _E.OPENED): Transition(Ask.FULL, _ASKING),
    (_CLOSED, _E.BROKEN_OFF): Transition(Ask.NOTHING, _CLOSED),
    (_CLOSED, _E.WORK_ENDED): Transition(Ask.NOTHING, _CLOSED),
    # the question is open
    (_ASKING, _E.DOUBTFUL): Transition(Ask.SHORT, _ASKING),
    (_ASKING, _E.SILENT): Transition(Ask.SHORT, _ASKING),
    (_ASKING, _E.TEEN_OR_TEN): Transition(Ask.SHORT, _ASKING),
    (_ASKING, _E.WAY_CHANGED): Transition(Ask.SHORT, _ASKING),
    (_ASKING, _E.UNIT_MISSING): Transition(Ask.FULL, _COMPLETING),
    (_ASKING, _E.READING_QUESTIONED): Transition(Ask.NOTHING, _ASKING),
    (_ASKING, _E.READING_HEARD): Transition(Ask.FULL, _CONFIRMING),
    (_ASKING, _E.MEMBER_HEARD): Transition(Ask.FULL, _ASKING),
    (_ASKING, _E.SET_COMPLETE): Transition(Ask.FULL, _CONFIRMING),
    (_ASKING, _E.CLOSED): Transition(Ask.NOTHING, _CLOSED),
    (_ASKING, _E.BROKEN_OFF): Transition(Ask.NOTHING, _CLOSED),
    (_ASKING, _E.WORK_ENDED): Transition(Ask.NOTHING, _CLOSED),
    # a number was heard, and which unit it has is asked
    (_COMPLETING, _E.DOUBTFUL): Transition(Ask.SHORT, _COMPLETING),
    (_COMPLETING, _E.SILENT): Transition(Ask.SHORT, _COMPLETING),
    (_COMPLETING, _E.WAY_CHANGED): Transition(Ask.SHORT, _COMPLETING),
    (_COMPLETING, _E.UNIT_TAKEN_BACK): Transition(Ask.NOTHING, _ASKING),
    (_COMPLETING, _E.READING_QUESTIONED): Transition(Ask.NOTHING, _ASKING),
    (_COMPLETING, _E.READING_HEARD): Transition(Ask.FULL, _CONFIRMING),
    (_COMPLETING, _E.MEMBER_HEARD): Transition(Ask.FULL, _ASKING),
    (_COMPLETING, _E.SET_COMPLETE): Transition(Ask.FULL, _CONFIRMING),
    (_COMPLETING, _E.CLOSED): Transition(Ask.NOTHING, _CLOSED),
    (_COMPLETING, _E.BROKEN_OFF): Transition(Ask.NOTHING, _CLOSED),
    (_COMPLETING, _E.WORK_ENDED): Transition(Ask.NOTHING, _CLOSED),
    # what was heard is read back, and waits to be confirmed
    (_CONFIRMING, _E.DOUBTFUL): Transition(Ask.SHORT, _CONFIRMING),
    (_CONFIRMING, _E.SILENT): Transition(Ask.SHORT, _CONFIRMING),
    (_CONFIRMING, _E.WAY_CHANGED): Transition(Ask.SHORT, _CONFIRMING),
    (_CONFIRMING, _E.READ_BACK_REFUSED): Transition(Ask.NOTHING, _ASKING),
    (_CONFIRMING, _E.SET_REFUSED): Transition(Ask.SHORT, _ASKING),
    (_CONFIRMING, _E.CLOSED): Transition(Ask.NOTHING, _CLOSED),
    (_CONFIRMING, _E.BROKEN_OFF): Transition(Ask.NOTHING, _CLOSED),
    (_CONFIRMING, _E.WORK_ENDED): Transition(Ask.NOTHING, _CLOSED),
}
"""(stage, event) -> what follows. Stage None: no exchange is open."""


def transition(stage: f.ExchangeStage | None, event: ExchangeEvent) -> Transition:
    """The row of an event. Errors: ExchangeError when the event is not allowed in this stage."""
    row = TRANSITIONS.get((stage, event))
    if row is None:
        where = "no exchange is open" if stage is None else f"the exchange is {stage}"
        raise ExchangeError(
            "the session", f'"{event}" came while {where}', "Go by the record as it is, and begin the work anew"
        )
    return row


def event_of(fact: f.Fact) -> ExchangeEvent | None:
    """The event that a fact records; None where it changes no exchange."""
    match fact:
        case f.HearingFailed():
            return _FAILURES[fact.failure]
        case f.ReadingCollected():
            return ExchangeEvent.SET_COMPLETE if fact.last else ExchangeEvent.MEMBER_HEARD
        case _:
            return _EVENTS.get(type(fact))


_FAILURES: Mapping[f.Failure, ExchangeEvent] = {
    f.Failure.DOUBTFUL: ExchangeEvent.DOUBTFUL,
    f.Failure.SILENCE: ExchangeEvent.SILENT,
    f.Failure.TEEN_OR_TEN: ExchangeEvent.TEEN_OR_TEN,
}

_EVENTS: Mapping[type[f.Fact], ExchangeEvent] = {
    f.ExchangeOpened: ExchangeEvent.OPENED,
    f.ExchangeClosed: ExchangeEvent.CLOSED,
    f.MannerChanged: ExchangeEvent.WAY_CHANGED,
    f.UnitAsked: ExchangeEvent.UNIT_MISSING,
    f.UnitTakenBack: ExchangeEvent.UNIT_TAKEN_BACK,
    f.ReadingQuestioned: ExchangeEvent.READING_QUESTIONED,
    f.ReadingHeard: ExchangeEvent.READING_HEARD,
    f.ReadBackRefused: ExchangeEvent.READ_BACK_REFUSED,
    f.SetRefused: ExchangeEvent.SET_REFUSED,
    f.WorkTakenUpAgain: ExchangeEvent.BROKEN_OFF,
    f.WorkEnded: ExchangeEvent.WORK_ENDED,
}
