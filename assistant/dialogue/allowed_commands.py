"""Which commands a question allows, by what it waits for: a step's answer, a unit, a confirmation."""

from __future__ import annotations

from assistant.meanings import CommandName

EVERYWHERE = (
    CommandName.SAY_AGAIN,
    CommandName.WHERE_AM_I,
    CommandName.STAND_BY,
    CommandName.STOP,
    CommandName.WHAT_CAN_I_SAY,
    CommandName.LOUDER,
    CommandName.SOFTER,
    CommandName.SLOWER,
    CommandName.FASTER,
    CommandName.CALL_FOR_HELP,
    CommandName.END_WORK,
)
WHILE_ASKING = (
    CommandName.NEXT,
    CommandName.DETAILS,
    CommandName.CORRECTION,
    CommandName.SKIP,
    CommandName.LAST_READING,
    CommandName.COMPARE_VISITS,
    CommandName.WHAT_IS_LEFT,
    CommandName.NOTE,
    CommandName.FINDING,
    CommandName.DROPPED,
    CommandName.STEP_WRONG,
    CommandName.HAND_OVER,
    *EVERYWHERE,
)
WHILE_COMPLETING = (CommandName.DISREGARD, CommandName.NEGATIVE, CommandName.CORRECTION, *EVERYWHERE)
WHILE_CONFIRMING = (CommandName.AFFIRM, CommandName.NEGATIVE, CommandName.CORRECTION, *EVERYWHERE)
