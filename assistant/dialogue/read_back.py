"""Reading back: what was heard is spoken and waits for `affirm`; refused, it is asked for anew, soon in another way."""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Question
from assistant.dialogue.asking_numbers import PATIENCE, REFUSALS_BEFORE_DIGITS, in_unit_asked_for
from assistant.dialogue.commands import WHILE_CONFIRMING
from assistant.dialogue.turn import Turn
from assistant.meanings import CommandName
from assistant.procedure.measured import Measured
from assistant.session import facts as f
from assistant.session.visit import Pending

MAX_REFUSALS = 4  # read-backs refused, after which it is asked for by hand: the ear hears it wrong each time


def read_back_question(asked: Measured, pending: Pending) -> Question:
    """One value read back."""
    message = m.ReadBack(asked.name, pending.quantity, in_unit_asked_for(asked, pending.quantity))
    return _question((message,), m.Choices((CommandName.AFFIRM, CommandName.NEGATIVE, CommandName.CORRECTION)))


def set_read_back_question(members: tuple[Measured, ...], collected: tuple[Pending, ...]) -> Question:
    """Several values read back together."""
    messages = tuple(
        m.MemberReadBack(member.name, pending.quantity, in_unit_asked_for(member, pending.quantity))
        for member, pending in zip(members, collected, strict=True)
    )
    return _question((*messages, m.AllRight()), m.Choices((CommandName.AFFIRM, CommandName.NEGATIVE)))


def refuse_read_back(turn: Turn, asked: Measured, pending: Pending) -> None:
    """The value read back is not the one meant."""
    number = turn.exchange.number
    turn.record(f.ReadBackRefused(number, pending.quantity))
    if turn.exchange.refused >= MAX_REFUSALS:
        turn.record(f.MannerChanged(number, f.Manner.MANUAL))
    elif turn.exchange.refused >= REFUSALS_BEFORE_DIGITS:
        turn.record(f.MannerChanged(number, f.Manner.DIGITS))
    else:
        turn.say(m.AskedAnew(asked.name))


def _question(messages: tuple[m.Message, ...], choices: m.Choices) -> Question:
    return Question(
        full=messages,
        short=messages,
        offers=(),
        commands=WHILE_CONFIRMING,
        choices=(*messages, choices),
        patience=PATIENCE,
    )
