"""What a supervisor may have to look at in a record, and the labels that mark a sentence.

Knows the kinds and their order. Refuses to know what raises one: that stands beside each fact, in its topic's file.
"""

from __future__ import annotations

from enum import StrEnum


class ConcernKind(StrEnum):
    """What a supervisor should look at. The order is that in which it is shown; the values are published."""

    DAMAGED = "journal damaged"
    SALVAGED = "salvaged"
    LINES_MISSING = "lines may be missing"
    HELP_CALLED = "help called"
    CLOCK_IN_DOUBT = "clock in doubt"
    TWO_AT_WORK = "two at work"
    ENDED_EARLY = "ended early"
    BROKEN_OFF = "broken off"
    FINDING = "finding"
    SUBSTITUTE = "substitute"
    STEP_WRONG = "step wrong"
    NOTE = "note"
    OUT_OF_LIMITS = "out of limits"
    INCONCLUSIVE = "inconclusive"
    IN_DOUBT = "in doubt"
    WARNING_CUT_OFF = "warning cut off"
    PUT_OFF = "put off"
    SKIPPED = "left out"
    HOLD_TYPED = "hold point typed"
    PART_REFUSED = "part refused"
    MEASURED_AGAIN = "measured again"
    CORRECTED = "corrected"
    TAKEN_BACK = "taken back"
    HARD_TO_BELIEVE = "hard to believe"
    BADLY_HEARD = "badly heard"
    STATE_FORGOTTEN = "state forgotten"
    DEVICE_LOST = "device lost"
    COPY_REPLACED = "copy replaced"
    LAST_LINE_TORN = "last line torn"

    @property
    def needs_judgement(self) -> bool:
        """Whether the supervisor must come to a judgement of it; the others were settled or only explain."""
        return self in _NEED_JUDGEMENT


class Label(StrEnum):
    """What marks a sentence and is no concern of its own."""

    NOT_IN_ORDER = "not in order"
    NOT_UNDERSTOOD = "not understood"
    REFUSED = "refused"
    DROPPED = "dropped"


_NEED_JUDGEMENT = frozenset(
    {
        ConcernKind.DAMAGED,
        ConcernKind.SALVAGED,
        ConcernKind.LINES_MISSING,
        ConcernKind.HELP_CALLED,
        ConcernKind.CLOCK_IN_DOUBT,
        ConcernKind.TWO_AT_WORK,
        ConcernKind.ENDED_EARLY,
        ConcernKind.BROKEN_OFF,
        ConcernKind.FINDING,
        ConcernKind.SUBSTITUTE,
        ConcernKind.STEP_WRONG,  # the trainer corrects the step; whether the work by it stands, the supervisor judges
        ConcernKind.NOTE,
        ConcernKind.OUT_OF_LIMITS,
        ConcernKind.INCONCLUSIVE,
        ConcernKind.IN_DOUBT,
        ConcernKind.WARNING_CUT_OFF,
        ConcernKind.PUT_OFF,
        ConcernKind.SKIPPED,
    }
)

ALARMING: frozenset[ConcernKind | Label] = frozenset(
    {
        ConcernKind.DAMAGED,
        ConcernKind.SALVAGED,
        ConcernKind.LINES_MISSING,
        ConcernKind.HELP_CALLED,
        ConcernKind.CLOCK_IN_DOUBT,
        ConcernKind.TWO_AT_WORK,
        ConcernKind.ENDED_EARLY,
        ConcernKind.BROKEN_OFF,
        ConcernKind.FINDING,
        ConcernKind.SUBSTITUTE,
        ConcernKind.STEP_WRONG,
        ConcernKind.OUT_OF_LIMITS,
        ConcernKind.INCONCLUSIVE,
        ConcernKind.IN_DOUBT,
        ConcernKind.WARNING_CUT_OFF,
        Label.NOT_IN_ORDER,
    }
)
"""Labels that stand out on a page: something was wrong, or may be."""
