"""What is said of a reading's trend when it is asked for: this visit and the asset's earlier ones, as one history.

Knows which message tells which outcome. Refuses to know what makes a series (`session/history.py`) and what may be
said of one (`assistant/trends.py`).
"""

from __future__ import annotations

from dataclasses import fields

from assistant.dialogue import messages as m
from assistant.dialogue.turn import Turn
from assistant.session.history import history
from assistant.trends import TrendOutcome, spoken_trend, trend

THIS_VISIT = ""  # its name among the sessions; no folder is called so

TOLD: dict[TrendOutcome, type[m.Message]] = {
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
"""Outcome -> its message, whose fields are arguments of `spoken_trend`."""


def trend_told(turn: Turn, name: str) -> m.Message:
    """Where the reading of this name is going, by its newest series; a part that was fitted since has none yet."""
    series = history({**turn.work.earlier, THIS_VISIT: turn.visit.history_facts}).get(name)
    if series is None or series[-1].ended:
        return m.TrendNotYet(name)
    outcome, said = spoken_trend(trend(series[-1]))
    ends = outcome is not TrendOutcome.REACHES or "latest" in said
    kind = TOLD[outcome] if ends else m.TrendReachesNotBefore
    return kind(**{field.name: said[field.name] for field in fields(kind)})  # type: ignore[arg-type]  # tested by outcome
