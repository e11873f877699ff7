"""Several values collected before they are confirmed together: a set of readings, or several readings of one thing.

Knows which one is asked for next. Refuses to know what becomes of them once they are confirmed: the kinds of step do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from assistant.dialogue import judging
from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered, Question
from assistant.dialogue.asking_numbers import number_heard, number_question, take_number_back, which_unit_question
from assistant.dialogue.read_back import set_read_back_question
from assistant.dialogue.turn import Turn
from assistant.procedure.measured import Measured
from assistant.session import facts as f

Members = tuple[Measured, ...]
"""What is collected, in order."""


def member_asked(turn: Turn, members: Members) -> Measured:
    """The value asked for now."""
    return members[len(turn.exchange.collected)]


def collecting_question(turn: Turn, members: Members, ask: Callable[[Measured, int], m.Message]) -> Question:
    """The question for the next value, or all of them read back. ask: from a value and its number, its question."""
    exchange = turn.exchange
    if exchange.unitless is not None:
        return which_unit_question(exchange.unitless.called)
    if exchange.stage is f.ExchangeStage.CONFIRMING:
        return set_read_back_question(members, exchange.collected)
    member = member_asked(turn, members)
    question = number_question(turn, turn.placed.step, member)
    asks = ask(member, len(exchange.collected) + 1)
    full = (*judging.warning_of(turn, member), asks) if exchange.collected else (*question.full, asks)
    return replace(question, full=full, short=(asks,))


def collect(turn: Turn, answered: Answered, members: Members) -> None:
    """The value asked for was answered."""
    exchange, member = turn.exchange, member_asked(turn, members)
    heard = number_heard(turn, answered, member)
    if heard is None:
        return
    turn.record(
        f.ReadingCollected(
            exchange.number,
            member.name,
            heard.quantity,
            heard.confidence,
            heard.clip,
            heard.source,
            heard.doubt,
            len(exchange.collected) + 1 == len(members),
        )
    )


def refuse_collected(turn: Turn, members: Members) -> None:
    """The number whose unit is asked for is taken back, or all that was read back is not right."""
    exchange = turn.exchange
    if exchange.unitless is not None:
        take_number_back(turn, exchange.unitless, member_asked(turn, members))
    elif exchange.stage is f.ExchangeStage.CONFIRMING:
        turn.record(f.SetRefused(exchange.number))
        turn.say(m.SetAnew())
    else:
        turn.refuse("negative", m.NotHere())
