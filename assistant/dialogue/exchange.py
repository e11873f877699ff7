"""The exchange: the one small machine for asking. It owns the transitions and holds them as a table.

    ask -> hear -> which unit, if several are called so -> read back -> confirm / correct / refuse, and a new way of
    asking after two failed hearings.

Whoever asks (a step, or the assistant itself) supplies the question and what its answers do.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered, Question
from assistant.dialogue.commands import allowed, offers, run_command
from assistant.dialogue.effects import CueSound
from assistant.dialogue.own_questions import question_handler
from assistant.dialogue.turn import Ask, Turn
from assistant.grammar.expectation import Expectation
from assistant.meanings import Command
from assistant.session import facts as f
from assistant.session.inputs import AudioProblem, Heard

FAILURES_IN_A_MANNER = 2


class Event(StrEnum):
    """What can happen to an open exchange."""

    ACCEPTED = "accepted"
    DOUBTFUL = "doubtful"
    SILENT = "silent"
    BUTTON = "button"


@dataclass(frozen=True, slots=True)
class Transition:
    """What an event does in a stage. to: the stages in which it can leave the exchange; None: closed."""

    do: Callable[[Turn, Heard | None], None]
    to: tuple[f.ExchangeStage | None, ...]


def question(turn: Turn) -> Question:
    """The question of the open exchange, as it stands now."""
    return question_handler(turn).question(turn)


def expectation(turn: Turn) -> Expectation:
    """What may be said now."""
    if turn.visit.stood_by is not None:
        return Expectation(offers(allowed(turn, question_handler(turn))))
    open_question = question(turn)
    own = open_question.offers
    if turn.exchange.manner is f.Manner.DIGITS and open_question.digits:
        own = open_question.digits
    return Expectation((*own, *offers(allowed(turn, question_handler(turn)))))


def manners(open_question: Question) -> tuple[f.Manner, ...]:
    """The ways of asking that a question has, in the order in which they are tried."""
    digits = (f.Manner.DIGITS,) if open_question.digits else ()
    return (f.Manner.PLAIN, f.Manner.CHOICES, *digits, f.Manner.HANDS)


def _accepted(turn: Turn, heard: Heard | None) -> None:
    assert heard is not None
    answered = Answered(heard.hypotheses[0], heard.hypotheses[1:], heard.clip, heard.source)
    turn.cue = CueSound.HEARD
    meaning = answered.best.meaning
    if isinstance(meaning, Command):
        run_command(turn, meaning, answered, question_handler(turn))
        return
    row = question_handler(turn)
    if turn.visit.stood_by is not None or turn.exchange.stage is f.ExchangeStage.CONFIRMING or row.answered is None:
        turn.refuse(answered.best.text, m.NotHere())
        return
    row.answered(turn, answered)


def _doubtful(turn: Turn, heard: Heard | None) -> None:
    assert heard is not None
    turn.cue = CueSound.UNCLEAR
    guess = heard.hypotheses[0].text if heard.hypotheses else ""
    _failed(turn, f.HearingFailed(turn.exchange.number, f.Failure.DOUBTFUL, guess, heard.clip, heard.hindrance))


def _silent(turn: Turn, heard: Heard | None) -> None:
    if turn.visit.stood_by is None:
        _failed(turn, f.HearingFailed(turn.exchange.number, f.Failure.SILENCE, "", None))


def _failed(turn: Turn, failure: f.HearingFailed) -> None:
    turn.record(failure)
    if turn.visit.stood_by is not None:
        return  # nobody need answer while the assistant waits
    exchange = turn.exchange
    turn.ask = Ask.SHORT
    enough = exchange.failures >= FAILURES_IN_A_MANNER
    if not enough and failure.failure is f.Failure.DOUBTFUL:
        turn.say(m.NotUnderstood())
    _say_what_helps(turn, failure)
    if not enough:
        return
    ways = manners(question(turn))
    position = ways.index(exchange.manner) if exchange.manner in ways else 0
    following = ways[min(position + 1, len(ways) - 1)]
    if following is not exchange.manner:
        turn.record(f.MannerChanged(exchange.number, following))


def _say_what_helps(turn: Turn, failure: f.HearingFailed) -> None:
    """The first time that something is in the way of hearing, and every third time after."""
    if failure.hindrance is not None and turn.visit.hindered % 3 == 1:
        turn.say(WHAT_HELPS[failure.hindrance])


WHAT_HELPS: dict[AudioProblem, m.Message] = {
    AudioProblem.NOISE: m.NoiseInTheWay(),
    AudioProblem.FAINT: m.VoiceTooFaint(),
    AudioProblem.CLIPPED: m.VoiceTooLoud(),
}


def _button(turn: Turn, heard: Heard | None) -> None:
    if turn.exchange.manner is not f.Manner.PLAIN:
        turn.record(f.MannerChanged(turn.exchange.number, f.Manner.PLAIN))
    turn.ask = Ask.FULL


_ASKING, _COMPLETING, _CONFIRMING = f.ExchangeStage.ASKING, f.ExchangeStage.COMPLETING, f.ExchangeStage.CONFIRMING

TRANSITIONS: dict[tuple[f.ExchangeStage, Event], Transition] = {
    (_ASKING, Event.ACCEPTED): Transition(_accepted, (_ASKING, _COMPLETING, _CONFIRMING, None)),
    (_ASKING, Event.DOUBTFUL): Transition(_doubtful, (_ASKING,)),
    (_ASKING, Event.SILENT): Transition(_silent, (_ASKING,)),
    (_ASKING, Event.BUTTON): Transition(_button, (_ASKING,)),
    (_COMPLETING, Event.ACCEPTED): Transition(_accepted, (_ASKING, _COMPLETING, _CONFIRMING, None)),
    (_COMPLETING, Event.DOUBTFUL): Transition(_doubtful, (_COMPLETING,)),
    (_COMPLETING, Event.SILENT): Transition(_silent, (_COMPLETING,)),
    (_COMPLETING, Event.BUTTON): Transition(_button, (_COMPLETING,)),
    (_CONFIRMING, Event.ACCEPTED): Transition(_accepted, (_ASKING, _CONFIRMING, None)),
    (_CONFIRMING, Event.DOUBTFUL): Transition(_doubtful, (_CONFIRMING,)),
    (_CONFIRMING, Event.SILENT): Transition(_silent, (_CONFIRMING,)),
    (_CONFIRMING, Event.BUTTON): Transition(_button, (_CONFIRMING,)),
}


def dispatch(turn: Turn, event: Event, heard: Heard | None = None) -> None:
    """An event happens to the open exchange."""
    TRANSITIONS[turn.exchange.stage, event].do(turn, heard)


def spoken(turn: Turn) -> tuple[m.Message, ...]:
    """What is spoken at the end of a turn: its own messages, then as much of the open question as it asks for."""
    said = tuple(turn.messages)
    if turn.visit.exchange is None or turn.visit.stood_by is not None or turn.ask is Ask.NOTHING:
        return said
    open_question = question(turn)
    if turn.ask is Ask.FULL:
        return said + open_question.full
    ways = {
        f.Manner.PLAIN: open_question.short,
        f.Manner.CHOICES: open_question.choices,
        f.Manner.DIGITS: open_question.digits_message,
        f.Manner.HANDS: (m.UseHands(),),
    }
    return said + ways[turn.exchange.manner]
