"""The open exchange: what is asked, what may be said, and what an utterance, silence or the button does to it.

Its stages and what is asked after each event are rows of `session/exchange_table.py`; nothing here changes a stage but
by recording a fact. Whoever asks (a step, or the assistant itself) supplies the question and what its answers do. After
failed hearings the way of asking changes.
"""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import REFUSED, Answered, Question
from assistant.dialogue.commands import allowed, offers, run_command
from assistant.dialogue.effects import CueSound
from assistant.dialogue.own_questions import question_handler
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Expectation
from assistant.meanings import Command
from assistant.session import facts as f
from assistant.session.exchange_table import Ask
from assistant.session.inputs import AudioProblem, Heard

MAX_FAILED_HEARINGS = 2  # in one way of asking
REMIND_EVERY = 3  # times that something was in the way of hearing


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


def ways_of_asking(open_question: Question) -> tuple[f.Manner, ...]:
    """The ways of asking that a question has, in the order in which they are tried."""
    digits = (f.Manner.DIGITS,) if open_question.digits else ()
    return (f.Manner.PLAIN, f.Manner.CHOICES, *digits, f.Manner.MANUAL)


def take_heard(turn: Turn, heard: Heard) -> None:
    """An utterance that was understood for sure: a command, or an answer."""
    answered = Answered(heard.hypotheses[0], heard.hypotheses[1:], heard.clip, heard.source)
    turn.cue = CueSound.HEARD
    meaning = answered.best.meaning
    if isinstance(meaning, Command):
        run_command(turn, meaning, answered, question_handler(turn))
        return
    take_answer = question_handler(turn).answered
    confirming = turn.exchange.stage is f.ExchangeStage.CONFIRMING  # what is read back is answered by commands only
    if take_answer is REFUSED or confirming or turn.visit.stood_by is not None:
        turn.refuse(answered.best.text, m.NotHere())
        return
    take_answer(turn, answered)


def take_doubtful(turn: Turn, heard: Heard) -> None:
    """An utterance that may have meant something else, or nothing."""
    turn.cue = CueSound.UNCLEAR
    guess = heard.hypotheses[0].text if heard.hypotheses else ""
    _failed(turn, f.HearingFailed(turn.exchange.number, f.Failure.DOUBTFUL, guess, heard.clip, heard.hindrance))


def take_silence(turn: Turn) -> None:
    """Nobody said anything. While the assistant waits nobody need."""
    if turn.visit.stood_by is None:
        _failed(turn, f.HearingFailed(turn.exchange.number, f.Failure.SILENCE, "", None))


def take_button(turn: Turn) -> None:
    """The button was pressed: the question is asked once more, in the plain way."""
    if turn.exchange.manner is not f.Manner.PLAIN:
        turn.record(f.MannerChanged(turn.exchange.number, f.Manner.PLAIN))
    turn.ask = Ask.FULL


def _failed(turn: Turn, failure: f.HearingFailed) -> None:
    turn.record(failure)
    if turn.visit.stood_by is not None:
        return  # nobody need answer while the assistant waits
    exchange = turn.exchange
    enough = exchange.failures >= MAX_FAILED_HEARINGS
    if not enough and failure.failure is f.Failure.DOUBTFUL:
        turn.say(m.NotUnderstood())
    _say_what_helps(turn, failure)
    if not enough:
        return
    ways = ways_of_asking(question(turn))
    position = ways.index(exchange.manner) if exchange.manner in ways else 0
    following = ways[min(position + 1, len(ways) - 1)]
    if following is not exchange.manner:
        turn.record(f.MannerChanged(exchange.number, following))


def _say_what_helps(turn: Turn, failure: f.HearingFailed) -> None:
    """The first time that something is in the way of hearing, and now and then after."""
    if failure.hindrance is not None and turn.visit.audio_problems % REMIND_EVERY == 1:
        turn.say(WHAT_HELPS[failure.hindrance])


WHAT_HELPS: dict[AudioProblem, m.Message] = {
    AudioProblem.NOISE: m.NoiseInTheWay(),
    AudioProblem.FAINT: m.VoiceTooFaint(),
    AudioProblem.CLIPPED: m.VoiceTooLoud(),
}


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
        f.Manner.MANUAL: (m.UseHands(),),
    }
    return said + ways[turn.exchange.manner]
