"""The table of spoken commands: for each, the rule of its phrases and what it does.

A command that the open question does not allow is refused in plain words and changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered
from assistant.dialogue.due import what_is_due, what_is_needed
from assistant.dialogue.guards import relied_on, unmet
from assistant.dialogue.own_questions import question_handler
from assistant.dialogue.trending import trend_of_reading
from assistant.dialogue.turn import Ask, Turn
from assistant.dialogue.visiting import may_be_added, may_be_put_off, may_come_first
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Amount, Command, CommandName, FreeSpeech, Passphrase
from assistant.session import facts as f
from assistant.session.inputs import Instant
from assistant.statements import kinds as s

LONG_PAUSE = 600.0  # seconds of standing by after which nothing is known of the engine's state any more
WHILE_STANDING_BY = (
    CommandName.CARRY_ON,
    CommandName.WHERE_AM_I,
    CommandName.STOP,
    CommandName.CALL_FOR_HELP,
    CommandName.HAND_OVER,
    CommandName.END_WORK,
)
WHILE_MISSING = (CommandName.FOUND, CommandName.EXCUSED)
WHILE_PLANNED = (
    CommandName.WHAT_IS_DUE,
    CommandName.WHAT_DO_I_NEED,
    CommandName.PUT_TASK_OFF,
    CommandName.ADD_TASK,
    CommandName.OTHER_WORK,
)
HELP_TIMES = 3  # how often an alarm is repeated
VOICE_STEPS = 3  # up and down from the usual


@dataclass(frozen=True, slots=True)
class SpokenCommand:
    """A command. rule: of its phrases, in the grammar; do: what it does where it is allowed; risk: of hearing it."""

    rule: str
    do: Callable[[Turn, Answered], None]
    risk: Risk = Risk.COMMAND


def _next(turn: Turn, answered: Answered) -> None:
    row = question_handler(turn)
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
    turn.recall()
    turn.say(m.WhereYouAre(placed.number, len(turn.work.steps), placed.step.title))


def _affirm(turn: Turn, answered: Answered) -> None:
    row = question_handler(turn)
    if row.affirm is None:
        turn.refuse(CommandName.AFFIRM, m.NotHere())
    else:
        row.affirm(turn, answered)


def _negative(turn: Turn, answered: Answered) -> None:
    row = question_handler(turn)
    if row.negative is None:
        turn.refuse(CommandName.NEGATIVE, m.NotHere())
    else:
        row.negative(turn)


def _correction(turn: Turn, answered: Answered) -> None:
    row = question_handler(turn)
    if turn.exchange.stage is not f.ExchangeStage.ASKING and row.negative is not None:
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
    turn.reopen(placed, s.TechniciansCorrection())


def _stand_by(turn: Turn, answered: Answered) -> None:
    turn.record(f.StoodBy())
    turn.say(m.StandingBy())


def _carry_on(turn: Turn, answered: Answered) -> None:
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


def _skip(turn: Turn, answered: Answered) -> None:
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
) -> Callable[[Turn, Answered], None]:
    """A command that opens a question of the assistant's own, where that has an answer; a pause is over with it."""

    def ask(turn: Turn, answered: Answered) -> None:
        if not possible(turn):
            turn.refuse(answered.best.text, refusal())
            return
        if turn.visit.stood_by is not None:
            _pause_is_over(turn, turn.visit.stood_by)
        turn.drop()
        turn.open(purpose)

    return ask


def _stop(turn: Turn, answered: Answered) -> None:
    if turn.visit.stood_by is None:  # said again, it makes no pause shorter
        turn.record(f.StoodBy())  # silence, and wait


def _what_can_i_say(turn: Turn, answered: Answered) -> None:
    open_question = question_handler(turn).question(turn)
    messages_of: tuple[Offer | CommandName, ...] = (*open_question.offers, *allowed(turn))
    turn.say(m.Choices(tuple(choice for choice in messages_of if not _is_open(choice))))


def _is_open(choice: Offer | CommandName) -> bool:
    """Whether an offer has no phrase that could be told: numbers, free speech, and the phrase of a hold point."""
    return isinstance(choice, Offer) and choice.meaning in (Amount, FreeSpeech, Passphrase)


def _last_reading(turn: Turn, answered: Answered) -> None:
    readings = turn.visit.readings
    turn.say(m.LastReading(readings[-1].name, readings[-1].quantity) if readings else m.NoReading())


def _compare_visits(turn: Turn, answered: Answered) -> None:
    measures, readings = question_handler(turn).measures, turn.visit.readings
    if measures is not None:
        turn.say(trend_of_reading(turn, measures(turn)))
    else:
        turn.say(trend_of_reading(turn, readings[-1].name) if readings else m.NoReading())


def _what_is_left(turn: Turn, answered: Answered) -> None:
    turn.say(m.WhatIsLeft(turn.steps_open, turn.placed.step.title))


def _dropped(turn: Turn, answered: Answered) -> None:
    turn.record(f.ObjectDropped(turn.placed.place))
    turn.say(m.SomethingDropped())
    if unmet(turn.placed, turn.visit, turn.at) is not None:
        turn.close()  # this very step must wait


def _accounts(found: bool) -> Callable[[Turn, Answered], None]:
    def account(turn: Turn, answered: Answered) -> None:
        place = turn.placed.place
        turn.record(f.ObjectAccounted(place, found))
        if not found:
            turn.record(f.FindingRecorded(place, s.DroppedAndExcused()))
        missing = turn.visit.missing
        turn.say(m.StillMissing(missing) if missing else m.Accounted())
        if turn.exchange.purpose is f.Purpose.FOUND:
            turn.close()

    return account


def _voice(loudness: int, pace: int) -> Callable[[Turn, Answered], None]:
    def change(turn: Turn, answered: Answered) -> None:
        def bounded(value: int) -> int:
            return max(-VOICE_STEPS, min(VOICE_STEPS, value))

        changed = bounded(turn.visit.loudness + loudness), bounded(turn.visit.pace + pace)
        turn.record(f.VoiceChanged(*changed))
        turn.say(m.VoiceIsChanged())

    return change


def _call_for_help(turn: Turn, answered: Answered) -> None:
    turn.record(f.HelpCalled())
    for _ in range(HELP_TIMES):
        turn.say(m.HelpNeeded())


def _tells(messages_of: Callable[[Turn], tuple[m.Message, ...]]) -> Callable[[Turn, Answered], None]:
    """A command that is answered, and changes nothing."""

    def tell(turn: Turn, answered: Answered) -> None:
        for message in messages_of(turn):
            turn.say(message)

    return tell


def _disregard(turn: Turn, answered: Answered) -> None:
    row = question_handler(turn)
    if row.negative is None:
        turn.refuse(CommandName.DISREGARD, m.NotHere())
    else:
        row.negative(turn)


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
    CommandName.END_WORK: SpokenCommand("<commands.end_work>", _asks(f.Purpose.ENDING)),
    CommandName.DISREGARD: SpokenCommand("<commands.disregard>", _disregard),
    CommandName.STOP: SpokenCommand("<commands.stop>", _stop),
    CommandName.WHAT_CAN_I_SAY: SpokenCommand("<commands.what_can_i_say>", _what_can_i_say),
    CommandName.LAST_READING: SpokenCommand("<commands.last_reading>", _last_reading),
    CommandName.COMPARE_VISITS: SpokenCommand("<commands.compare_visits>", _compare_visits),
    CommandName.WHAT_IS_LEFT: SpokenCommand("<commands.what_is_left>", _what_is_left),
    CommandName.NOTE: SpokenCommand("<commands.note>", _asks(f.Purpose.NOTE)),
    CommandName.FINDING: SpokenCommand("<commands.finding>", _asks(f.Purpose.FINDING)),
    CommandName.DROPPED: SpokenCommand("<commands.dropped>", _dropped),
    CommandName.FOUND: SpokenCommand("<commands.found>", _accounts(True), Risk.READING),
    CommandName.EXCUSED: SpokenCommand("<commands.excused>", _accounts(False), Risk.READING),
    CommandName.STEP_WRONG: SpokenCommand("<commands.step_wrong>", _asks(f.Purpose.STEP_WRONG)),
    CommandName.LOUDER: SpokenCommand("<commands.louder>", _voice(1, 0)),
    CommandName.SOFTER: SpokenCommand("<commands.softer>", _voice(-1, 0)),
    CommandName.SLOWER: SpokenCommand("<commands.slower>", _voice(0, -1)),
    CommandName.FASTER: SpokenCommand("<commands.faster>", _voice(0, 1)),
    CommandName.CALL_FOR_HELP: SpokenCommand("<commands.call_for_help>", _call_for_help),
    CommandName.HAND_OVER: SpokenCommand("<commands.hand_over>", _asks(f.Purpose.HAND_OVER)),
    CommandName.WHAT_IS_DUE: SpokenCommand("<commands.what_is_due>", _tells(what_is_due)),
    CommandName.WHAT_DO_I_NEED: SpokenCommand("<commands.what_do_i_need>", _tells(what_is_needed)),
    CommandName.PUT_TASK_OFF: SpokenCommand(
        "<commands.put_task_off>", _asks(f.Purpose.TASK_PUT_OFF, may_be_put_off, m.CannotPutOff)
    ),
    CommandName.ADD_TASK: SpokenCommand(
        "<commands.add_task>", _asks(f.Purpose.TASK_ADDED, may_be_added, m.NoOtherTask)
    ),
    CommandName.OTHER_WORK: SpokenCommand(
        "<commands.other_work>", _asks(f.Purpose.OTHER_WORK, may_come_first, m.NoOtherTask)
    ),
}


def allowed(turn: Turn) -> tuple[CommandName, ...]:
    """The commands that are allowed now."""
    if turn.visit.stood_by is not None:
        return WHILE_STANDING_BY
    missing = WHILE_MISSING if turn.visit.missing else ()
    asks_step = turn.exchange.purpose is f.Purpose.STEP and turn.exchange.stage is f.ExchangeStage.ASKING
    planned = WHILE_PLANNED if turn.work.plan and asks_step else ()
    return tuple(dict.fromkeys((*question_handler(turn).question(turn).commands, *planned, *missing)))


def offers(names: tuple[CommandName, ...]) -> tuple[Offer, ...]:
    """The offers of these commands."""
    return tuple(Offer(COMMANDS[name].rule, Command, COMMANDS[name].risk) for name in names)


def run_command(turn: Turn, command: Command, answered: Answered) -> None:
    """Carry a command out where it is allowed, else refuse it."""
    if command.name not in allowed(turn):
        refusal = None if turn.visit.stood_by else question_handler(turn).refusal
        turn.refuse(command.name, m.NotHere() if refusal is None else refusal(turn))
        return
    COMMANDS[command.name].do(turn, answered)
