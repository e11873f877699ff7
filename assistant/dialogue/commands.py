"""The table of spoken commands: for each, the rule of its phrases and what it does.

A command that the open question does not allow is refused in plain words and changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered
from assistant.dialogue.guards import relied_on, unmet
from assistant.dialogue.own_questions import asker
from assistant.dialogue.turn import Ask, Turn
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Command, CommandName
from assistant.session import facts as f

LONG_PAUSE = 600.0  # seconds of standing by after which nothing is known of the engine's state any more
WHILE_STANDING_BY = (CommandName.CARRY_ON, CommandName.WHERE_AM_I, CommandName.END_WORK)


@dataclass(frozen=True, slots=True)
class SpokenCommand:
    """A command. rule: of its phrases, in the grammar; do: what it does where it is allowed; risk: of hearing it."""

    rule: str
    do: Callable[[Turn, Answered], None]
    risk: Risk = Risk.COMMAND


def _next(turn: Turn, answered: Answered) -> None:
    row = asker(turn)
    if row.next is not None:
        row.next(turn)
    else:
        turn.refuse(CommandName.NEXT, m.AnswerNeeded() if row.refusal is None else row.refusal(turn))


def _say_again(turn: Turn, answered: Answered) -> None:
    turn.ask = Ask.FULL


def _details(turn: Turn, answered: Answered) -> None:
    details = turn.placed.step.details
    turn.say(m.Details(details) if details else m.NoDetails())


def _where_am_i(turn: Turn, answered: Answered) -> None:
    placed = turn.placed
    turn.say(m.WhereYouAre(placed.number, len(turn.work.steps), placed.step.title))


def _affirm(turn: Turn, answered: Answered) -> None:
    row = asker(turn)
    if row.affirm is None:
        turn.refuse(CommandName.AFFIRM, m.NotHere())
    else:
        row.affirm(turn, answered)


def _negative(turn: Turn, answered: Answered) -> None:
    row = asker(turn)
    if row.negative is None:
        turn.refuse(CommandName.NEGATIVE, m.NotHere())
    else:
        row.negative(turn)


def _correction(turn: Turn, answered: Answered) -> None:
    row = asker(turn)
    if turn.exchange.stage is f.Stage.CONFIRMING and row.negative is not None:
        row.negative(turn)
        return
    last = turn.visit.last_done
    if last is None:
        turn.refuse(CommandName.CORRECTION, m.NothingToCorrect())
        return
    placed = turn.work.at(last)
    need = unmet(placed, turn.visit, turn.at)
    if need is not None:
        words = turn.work.state_words(*need)
        turn.refuse(CommandName.CORRECTION, m.CannotReopen(placed.step.title, words))
        return
    turn.close()
    turn.say(m.Reopened(placed.step.title))
    turn.reopen(placed, "the technician's correction")


def _stand_by(turn: Turn, answered: Answered) -> None:
    turn.record(f.StoodBy())
    turn.say(m.StandingBy())


def _carry_on(turn: Turn, answered: Answered) -> None:
    since = turn.visit.stood_by
    if since is None:
        turn.refuse(CommandName.CARRY_ON, m.NotHere())
        return
    same_clock = since.boot == turn.at.boot
    seconds = turn.at.seconds - since.seconds if same_clock else LONG_PAUSE + 1
    turn.record(f.CarriedOn(seconds))
    turn.say(m.GoingOn())
    turn.ask = Ask.FULL
    if seconds > LONG_PAUSE:
        turn.record(f.StateForgotten("a long pause"))
        turn.say(m.LongPause())
        turn.close()  # whether the step may go on is looked at anew


def _skip(turn: Turn, answered: Answered) -> None:
    placed = turn.placed
    if not placed.step.may_skip or relied_on(turn.work, placed):
        turn.refuse(CommandName.SKIP, m.CannotSkip(placed.step.title))
        return
    turn.close()
    turn.open(f.Purpose.REASON)


def _end_work(turn: Turn, answered: Answered) -> None:
    if turn.visit.stood_by is not None:
        turn.record(f.CarriedOn(turn.at.seconds - turn.visit.stood_by.seconds))
    turn.close()
    turn.open(f.Purpose.ENDING)


COMMANDS: dict[CommandName, SpokenCommand] = {
    CommandName.NEXT: SpokenCommand("<commands.next>", _next),
    CommandName.SAY_AGAIN: SpokenCommand("<commands.say_again>", _say_again),
    CommandName.DETAILS: SpokenCommand("<commands.details>", _details),
    CommandName.WHERE_AM_I: SpokenCommand("<commands.where_am_i>", _where_am_i),
    CommandName.AFFIRM: SpokenCommand("<commands.affirm>", _affirm, Risk.READING),
    CommandName.NEGATIVE: SpokenCommand("<commands.negative>", _negative),
    CommandName.CORRECTION: SpokenCommand("<commands.correction>", _correction),
    CommandName.STAND_BY: SpokenCommand("<commands.stand_by>", _stand_by),
    CommandName.CARRY_ON: SpokenCommand("<commands.carry_on>", _carry_on),
    CommandName.SKIP: SpokenCommand("<commands.skip>", _skip),
    CommandName.END_WORK: SpokenCommand("<commands.end_work>", _end_work),
}


def allowed(turn: Turn) -> tuple[CommandName, ...]:
    """The commands that are allowed now."""
    if turn.visit.stood_by is not None:
        return WHILE_STANDING_BY
    return asker(turn).question(turn).commands


def offers(names: tuple[CommandName, ...]) -> tuple[Offer, ...]:
    """The offers of these commands."""
    return tuple(Offer(COMMANDS[name].rule, Command, COMMANDS[name].risk) for name in names)


def obey(turn: Turn, command: Command, answered: Answered) -> None:
    """Carry a command out where it is allowed, else refuse it."""
    if command.name not in allowed(turn):
        refusal = None if turn.visit.stood_by else asker(turn).refusal
        turn.refuse(command.name, m.NotHere() if refusal is None else refusal(turn))
        return
    COMMANDS[command.name].do(turn, answered)
