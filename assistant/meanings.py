"""What an utterance can mean. Tags of the grammar become these once; no strings of the grammar reach `decide`.

This module stands below `grammar` and `session`: the grammar makes meanings, the journal keeps them, and
neither knows the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Literal


class CommandName(StrEnum):
    """The spoken commands.

    A command's phrases are a rule of `grammars/<language>/commands.jsgf` that is called like it (`where_am_i`), with
    its value as tag. What it does is its row in `dialogue/commands.py`.
    """

    NEXT = "next"
    SAY_AGAIN = "say again"
    DETAILS = "details"
    WHERE_AM_I = "where am i"
    AFFIRM = "affirm"
    NEGATIVE = "negative"
    CORRECTION = "correction"
    STAND_BY = "stand by"
    CARRY_ON = "carry on"
    SKIP = "skip"
    END_WORK = "end the work"
    DISREGARD = "disregard"
    STOP = "stop"
    WHAT_CAN_I_SAY = "what can i say"
    LAST_READING = "last reading"
    COMPARE_VISITS = "compare visits"
    WHAT_IS_LEFT = "what is left"
    NOTE = "take a note"
    FINDING = "report a finding"
    DROPPED = "i dropped something"
    FOUND = "found it again"
    EXCUSED = "leave it excused"
    STEP_WRONG = "this step is wrong"
    LOUDER = "louder please"
    SOFTER = "softer please"
    SLOWER = "speak slower"
    FASTER = "speak faster"
    CALL_FOR_HELP = "call for help"
    HAND_OVER = "hand over the work"
    WHAT_IS_DUE = "what is due"
    WHAT_DO_I_NEED = "what do i need"
    PUT_TASK_OFF = "put this task off"
    ADD_TASK = "add a task"
    OTHER_WORK = "other work first"


@dataclass(frozen=True, slots=True)
class Command:
    """One of the spoken commands."""

    name: CommandName
    kind: Literal["command"] = "command"


@dataclass(frozen=True, slots=True)
class Answer:
    """One of the named answers of the question that is open.

    key: the answer's key in the procedure.
    """

    key: str
    kind: Literal["answer"] = "answer"


@dataclass(frozen=True, slots=True)
class Passphrase:
    """The phrase of a hold point.

    key: the hold point's step identifier.
    """

    key: str
    kind: Literal["passphrase"] = "passphrase"


@dataclass(frozen=True, slots=True)
class Amount:
    """A number as it was said, with its resolution.

    value: as it was said; its exponent is the resolution.
    unit: symbol, or a key of `AMBIGUOUS` when several units are called so; None: it was left out.
    """

    value: Decimal
    unit: str | None
    kind: Literal["amount"] = "amount"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is left out.

    key: one of the reasons in the grammar.
    """

    key: str
    kind: Literal["reason"] = "reason"


ROLES = ("technician", "supervisor", "trainer")
"""Keys of who does the work."""
REASONS = ("no_part", "no_tool", "no_access", "not_fitted", "owner_asks", "already_done", "no_time", "found_worn")
"""Keys of why something is left out, put off, added or fitted instead."""


@dataclass(frozen=True, slots=True)
class Role:
    """Who does the work from now on.

    key: one of the roles in the grammar.
    """

    key: str
    kind: Literal["role"] = "role"


@dataclass(frozen=True, slots=True)
class FreeSpeech:
    """Free speech, kept as sound. It is not recognised, so it decides nothing. A typed line keeps its text."""

    kind: Literal["speech"] = "speech"


@dataclass(frozen=True, slots=True)
class Spelled:
    """Characters spelled out, or a number typed.

    text: capitals and digits, `F21`.
    """

    text: str
    kind: Literal["spelled"] = "spelled"


Meaning = Command | Answer | Passphrase | Amount | Reason | Role | FreeSpeech | Spelled
MeaningType = (
    type[Command]
    | type[Answer]
    | type[Passphrase]
    | type[Amount]
    | type[Reason]
    | type[Role]
    | type[FreeSpeech]
    | type[Spelled]
)


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that may have been said.

    text: in the grammar's words.
    confidence: 0 to 1.
    """

    meaning: Meaning
    text: str
    confidence: float
