"""The table of spoken commands: for each, what it does, when it is allowed, and what a false hearing of it costs.

A command is heard by the public rule of `commands.jsgf` that is called like it. One that is not allowed now is refused
in plain words and changes nothing. Knows no step and no question but by the handler that asks it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Flag, auto

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered, QuestionHandler
from assistant.dialogue.due import what_is_due, what_is_needed
from assistant.dialogue.guards import relied_on, unmet
from assistant.dialogue.trending import trend_of_reading
from assistant.dialogue.turn import Turn
from assistant.dialogue.visiting import may_be_added, may_be_put_off, may_come_first
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Amount, Command, CommandName, FreeSpeech, Passphrase
from assistant.session import facts as f
from assistant.session.exchange_table import Ask
from assistant.session.inputs import Instant
from assistant.statements import kinds as s

LONG_PAUSE = 600.0  # seconds of standing by after which nothing is known of the engine's state any more
HELP_TIMES = 3  # how often an alarm is repeated
VOICE_STEPS = 3  # up and down from the usual


class When(Flag):
    """When a command is allowed. A question of the assistant's own may allow others, which it names."""

    ASKING = auto()
    """A step has asked, and is answered now."""
    COMPLETING = auto()
    """A number was said, and which unit it has is asked."""
    CONFIRMING = auto()
    """An answer was read back."""
    EVERYWHERE = auto()
    """In all of these three."""
    OWN_QUESTION = auto()
    """The assistant asks something of its own."""
    STANDING_BY = auto()
    """Nothing is asked; and no other command counts."""
    MISSING = auto()
    """Something that was dropped is missing, whatever is asked."""
    ALWAYS = EVERYWHERE | OWN_QUESTION | STANDING_BY
    PLANNED = auto()
    """As in ASKING, at a visit of several tasks."""


CommandAction = Callable[[Turn, Answered, QuestionHandler], None]
"""What a command does, given by whom the open question is asked."""


@dataclass(frozen=True, slots=True)
class SpokenCommand:
    """A command.

    do: what it does where it is allowed.
    when: it is allowed.
    risk: of hearing it where it was not said.
    """

    do: CommandAction
    when: When
    risk: Risk = Risk.COMMAND


def _next(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    if handler.next is not None:
        handler.next(turn)
    else:
        turn.refuse(CommandName.NEXT, m.AnswerNeeded() if handler.refusal is None else handler.refusal(turn))


def _say_again(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    turn.ask = Ask.FULL


def _details(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    details = turn.placed.step.details
    turn.say(m.Details(details) if details else m.NoDetails())


def _where_am_i(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    placed = turn.placed
    turn.recall()
    turn.say(m.WhereYouAre(placed.number, len(turn.work.steps), placed.step.title))


def _affirm(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    if handler.affirm is None:
        turn.refuse(CommandName.AFFIRM, m.NotHere())
    else:
        handler.affirm(turn, answered)


def _takes_back(name: CommandName) -> CommandAction:
    """A command that answers no, or drops the question, where that is possible."""

    def take_back(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
        if handler.negative is None:
            turn.refuse(name, m.NotHere())
        else:
            handler.negative(turn)

    return take_back


def _correction(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    if turn.exchange.stage is not f.ExchangeStage.ASKING and handler.negative is not None:
        handler.negative(turn)
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
    turn.reopen(placed, s.TechniciansCorrection())


def _stand_by(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    turn.record(f.StoodBy())
    turn.say(m.StandingBy())


def _carry_on(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    if turn.visit.stood_by is None:
        turn.refuse(CommandName.CARRY_ON, m.NotHere())
        return
    turn.say(m.GoingOn())
    turn.ask = Ask.FULL
    if _pause_is_over(turn, turn.visit.stood_by):
        turn.recall()
        turn.drop()  # whether the step may go on is looked at anew


def _pause_is_over(turn: Turn, since: Instant) -> bool:
    """Ends a pause. Gives whether it was so long that nothing is known of the engine's state any more."""
    same_clock = since.boot == turn.at.boot
    seconds = turn.at.seconds - since.seconds if same_clock else LONG_PAUSE + 1
    turn.record(f.CarriedOn(seconds))
    if seconds <= LONG_PAUSE:
        return False
    turn.record(f.StateForgotten(s.WasLongPause()))
    turn.say(m.LongPause())
    return True


def _skip(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    placed = turn.placed
    if not placed.step.may_skip or relied_on(turn.work, placed):
        turn.refuse(CommandName.SKIP, m.CannotSkip(placed.step.title))
        return
    turn.close()
    turn.open(f.Purpose.REASON)


def _asks(
    purpose: f.Purpose,
    possible: Callable[[Turn], object] = lambda turn: True,
    refusal: Callable[[], m.Message] = m.NotHere,
) -> CommandAction:
    """A command that opens a question of the assistant's own, where that has an answer; a pause is over with it."""

    def ask(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
        if not possible(turn):
            turn.refuse(answered.best.text, refusal())
            return
        if turn.visit.stood_by is not None:
            _pause_is_over(turn, turn.visit.stood_by)
        turn.drop()
        turn.open(purpose)

    return ask


def _stop(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    if turn.visit.stood_by is None:  # said again, it makes no pause shorter
        turn.record(f.StoodBy())  # silence, and wait


def _what_can_i_say(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    open_question = handler.question(turn)
    choices: tuple[Offer | CommandName, ...] = (*open_question.offers, *allowed(turn, handler))
    turn.say(m.Choices(tuple(choice for choice in choices if not _is_open(choice))))


def _is_open(choice: Offer | CommandName) -> bool:
    """Whether an offer has no phrase that could be spoken: numbers, free speech, and the phrase of a hold point."""
    return isinstance(choice, Offer) and choice.meaning in (Amount, FreeSpeech, Passphrase)


def _last_reading(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    readings = turn.visit.readings
    turn.say(m.LastReading(readings[-1].name, readings[-1].quantity) if readings else m.NoReading())


def _compare_visits(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    measures, readings = handler.measures, turn.visit.readings
    if measures is not None:
        turn.say(trend_of_reading(turn, measures(turn)))
    else:
        turn.say(trend_of_reading(turn, readings[-1].name) if readings else m.NoReading())


def _what_is_left(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    turn.say(m.WhatIsLeft(turn.steps_open, turn.placed.step.title))


def _dropped(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    turn.record(f.ObjectDropped(turn.placed.place))
    turn.say(m.SomethingDropped())
    if unmet(turn.placed, turn.visit, turn.at) is not None:
        turn.close()  # this very step must wait


def _accounts(found: bool) -> CommandAction:
    def account(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
        place = turn.placed.place
        turn.record(f.ObjectAccounted(place, found))
        if not found:
            turn.record(f.FindingRecorded(place, s.DroppedAndExcused()))
        missing = turn.visit.missing
        turn.say(m.StillMissing(missing) if missing else m.Accounted())
        if turn.exchange.purpose is f.Purpose.FOUND:
            turn.close()

    return account


def _voice(loudness: int, pace: int) -> CommandAction:
    def change(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
        def bounded(value: int) -> int:
            return max(-VOICE_STEPS, min(VOICE_STEPS, value))

        changed = bounded(turn.visit.loudness + loudness), bounded(turn.visit.pace + pace)
        turn.record(f.VoiceChanged(*changed))
        turn.say(m.VoiceIsChanged())

    return change


def _call_for_help(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
    turn.record(f.HelpCalled())
    for _ in range(HELP_TIMES):
        turn.say(m.HelpNeeded())


def _tells(messages_of: Callable[[Turn], tuple[m.Message, ...]]) -> CommandAction:
    """A command that is answered, and changes nothing."""

    def tell(turn: Turn, answered: Answered, handler: QuestionHandler) -> None:
        for message in messages_of(turn):
            turn.say(message)

    return tell


COMMANDS: dict[CommandName, SpokenCommand] = {
    CommandName.NEXT: SpokenCommand(_next, When.ASKING),
    CommandName.DETAILS: SpokenCommand(_details, When.ASKING),
    CommandName.AFFIRM: SpokenCommand(_affirm, When.CONFIRMING, Risk.READING),
    CommandName.DISREGARD: SpokenCommand(_takes_back(CommandName.DISREGARD), When.COMPLETING),
    CommandName.NEGATIVE: SpokenCommand(_takes_back(CommandName.NEGATIVE), When.COMPLETING | When.CONFIRMING),
    CommandName.CORRECTION: SpokenCommand(_correction, When.ASKING | When.COMPLETING | When.CONFIRMING),
    CommandName.SKIP: SpokenCommand(_skip, When.ASKING),
    CommandName.LAST_READING: SpokenCommand(_last_reading, When.ASKING),
    CommandName.COMPARE_VISITS: SpokenCommand(_compare_visits, When.ASKING),
    CommandName.WHAT_IS_LEFT: SpokenCommand(_what_is_left, When.ASKING),
    CommandName.NOTE: SpokenCommand(_asks(f.Purpose.NOTE), When.ASKING),
    CommandName.FINDING: SpokenCommand(_asks(f.Purpose.FINDING), When.ASKING),
    CommandName.DROPPED: SpokenCommand(_dropped, When.ASKING),
    CommandName.STEP_WRONG: SpokenCommand(_asks(f.Purpose.STEP_WRONG), When.ASKING),
    CommandName.CARRY_ON: SpokenCommand(_carry_on, When.STANDING_BY),
    CommandName.SAY_AGAIN: SpokenCommand(_say_again, When.EVERYWHERE),
    CommandName.WHERE_AM_I: SpokenCommand(_where_am_i, When.EVERYWHERE | When.STANDING_BY),
    CommandName.STAND_BY: SpokenCommand(_stand_by, When.EVERYWHERE),
    CommandName.STOP: SpokenCommand(_stop, When.ALWAYS),
    CommandName.WHAT_CAN_I_SAY: SpokenCommand(_what_can_i_say, When.EVERYWHERE),
    CommandName.LOUDER: SpokenCommand(_voice(1, 0), When.EVERYWHERE),
    CommandName.SOFTER: SpokenCommand(_voice(-1, 0), When.EVERYWHERE),
    CommandName.SLOWER: SpokenCommand(_voice(0, -1), When.EVERYWHERE),
    CommandName.FASTER: SpokenCommand(_voice(0, 1), When.EVERYWHERE),
    CommandName.CALL_FOR_HELP: SpokenCommand(_call_for_help, When.ALWAYS),
    CommandName.HAND_OVER: SpokenCommand(_asks(f.Purpose.HAND_OVER), When.ASKING | When.STANDING_BY),
    CommandName.END_WORK: SpokenCommand(_asks(f.Purpose.ENDING), When.ALWAYS),
    CommandName.FOUND: SpokenCommand(_accounts(True), When.MISSING, Risk.READING),
    CommandName.EXCUSED: SpokenCommand(_accounts(False), When.MISSING, Risk.READING),
    CommandName.WHAT_IS_DUE: SpokenCommand(_tells(what_is_due), When.PLANNED),
    CommandName.WHAT_DO_I_NEED: SpokenCommand(_tells(what_is_needed), When.PLANNED),
    CommandName.PUT_TASK_OFF: SpokenCommand(
        _asks(f.Purpose.TASK_PUT_OFF, may_be_put_off, m.CannotPutOff), When.PLANNED
    ),
    CommandName.ADD_TASK: SpokenCommand(_asks(f.Purpose.TASK_ADDED, may_be_added, m.NoOtherTask), When.PLANNED),
    CommandName.OTHER_WORK: SpokenCommand(_asks(f.Purpose.OTHER_WORK, may_come_first, m.NoOtherTask), When.PLANNED),
}
"""In the order in which they are offered."""


def rule_of(name: CommandName) -> str:
    """The rule of a command's phrases: `<commands.where_am_i>` for WHERE_AM_I."""
    return f"<commands.{name.name.lower()}>"


def allowed_when(when: When) -> tuple[CommandName, ...]:
    """The commands whose rows allow them then."""
    return tuple(name for name, command in COMMANDS.items() if when in command.when)


EVERYWHERE = allowed_when(When.EVERYWHERE)
WHILE_ASKING = (*allowed_when(When.ASKING), *EVERYWHERE)
WHILE_COMPLETING = (*allowed_when(When.COMPLETING), *EVERYWHERE)
WHILE_CONFIRMING = (*allowed_when(When.CONFIRMING), *EVERYWHERE)
WHATEVER_IS_ASKED = allowed_when(When.OWN_QUESTION)


def allowed(turn: Turn, handler: QuestionHandler) -> tuple[CommandName, ...]:
    """The commands that are allowed now. handler: who asks in the open exchange."""
    if turn.visit.stood_by is not None:
        return allowed_when(When.STANDING_BY)
    missing = allowed_when(When.MISSING) if turn.visit.missing else ()
    asks_step = turn.exchange.purpose is f.Purpose.STEP and turn.exchange.stage is f.ExchangeStage.ASKING
    planned = allowed_when(When.PLANNED) if turn.work.plan and asks_step else ()
    return tuple(dict.fromkeys((*handler.question(turn).commands, *planned, *missing)))


def offers(names: tuple[CommandName, ...]) -> tuple[Offer, ...]:
    """The offers of these commands."""
    return tuple(Offer(rule_of(name), Command, COMMANDS[name].risk) for name in names)


def run_command(turn: Turn, command: Command, answered: Answered, handler: QuestionHandler) -> None:
    """Carry a command out where it is allowed, else refuse it. handler: who asks in the open exchange."""
    if command.name not in allowed(turn, handler):
        refusal = None if turn.visit.stood_by else handler.refusal
        turn.refuse(command.name, m.NotHere() if refusal is None else refusal(turn))
        return
    COMMANDS[command.name].do(turn, answered, handler)
