"""What is said of a reading's trend when it is asked for: this visit and the asset's earlier ones, as one history.

Knows which message goes with which outcome. Refuses to know what makes a series (`session/history.py`) and what may be
said of one (`assistant/trends.py`).
"""

from __future__ import annotations

from dataclasses import fields
from datetime import date

from assistant.dialogue import messages as m
from assistant.dialogue.turn import Turn
from assistant.session.history import history
from assistant.trends import Trend, TrendOutcome, trend, trend_arguments

THIS_VISIT = ""  # its name among the sessions; no folder is called so

MESSAGE_OF: dict[TrendOutcome, type[m.Message]] = {
    TrendOutcome.FEW: m.TrendNotYet,
    TrendOutcome.OUT: m.TrendOut,
    TrendOutcome.FLAT: m.TrendUnclear,
    TrendOutcome.BENT: m.TrendOfFew,
    TrendOutcome.NO_LIMIT: m.TrendWithoutLimit,
    TrendOutcome.AWAY: m.TrendAway,
    TrendOutcome.PAST: m.TrendPast,
    TrendOutcome.FAR: m.TrendFar,
    TrendOutcome.REACHES: m.TrendReaches,
}
"""Outcome -> its message, whose fields are arguments of `trend_arguments`."""


def trend_of_reading(turn: Turn, name: str) -> m.Message:
    """Where the reading of this name is going, by its newest series; a part that was fitted since has none yet."""
    sessions = {**turn.work.earlier, THIS_VISIT: turn.visit.history_facts}
    series = history(sessions, date.fromisoformat(turn.at.wall[:10])).get(name)
    return m.TrendNotYet(name) if series is None or series[-1].ended else trend_message(trend(series[-1]))


def trend_message(trend: Trend) -> m.Message:
    """What is said of a trend."""
    outcome, arguments = trend_arguments(trend)
    kind = MESSAGE_OF[outcome]
    if outcome is TrendOutcome.REACHES and "latest" not in arguments:
        kind = m.TrendReachesNotBefore
    return kind(**{field.name: arguments[field.name] for field in fields(kind)})  # type: ignore[arg-type]  # tested by outcome
