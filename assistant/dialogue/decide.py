"""`decide(work, visit, envelope) -> decision`: one input, all its facts and its effects.

Owns the order of things: an input becomes facts, the visit advances to the next question, and what is to be said and
listened for follows from the visit as it then is. Knows no kind of step: each is a file in `kinds/`.
"""

from __future__ import annotations

from typing import assert_never

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING
from assistant.dialogue.due import next_due
from assistant.dialogue.effects import Cue, Decision, Effect, Finish, Listen, Say, SetVoice, StartTimer
from assistant.dialogue.exchange import (
    expectation,
    question,
    spoken,
    take_button,
    take_doubtful,
    take_heard,
    take_silence,
)
from assistant.dialogue.guards import proves, unmet
from assistant.dialogue.opening import notice_sleep, take_check, watch_clock
from assistant.dialogue.own_questions import question_handler
from assistant.dialogue.turn import Turn
from assistant.dialogue.visiting import announced, plan, planned, settle_finished_stages
from assistant.dialogue.work import Work
from assistant.engine_state import Known
from assistant.procedure.step import ACCOUNTED
from assistant.session import facts as f
from assistant.session.exchange_table import Ask
from assistant.session.inputs import (
    AnswerVerdict,
    ButtonPressed,
    DeviceVanished,
    Envelope,
    Heard,
    HistoryGiven,
    Input,
    OpeningCheck,
    Order,
    PromptPlayed,
    SessionSalvaged,
    Silence,
    TimerRanOut,
    WorkOrdered,
    WorkResumed,
)
from assistant.session.visit import StepOutcome, Visit
from assistant.statements import kinds as s

MISSING = (ACCOUNTED, Known.YES)  # the need that something dropped leaves unmet


def decide(work: Work, visit: Visit, envelope: Envelope) -> Decision:
    """What follows from an input. Pure: the same arguments give the same decision."""
    turn = Turn(work, visit, envelope.at)
    if _is_answered(visit, envelope.input):
        watch_clock(turn)
        if not isinstance(envelope.input, WorkResumed) and notice_sleep(turn) and turn.visit.exchange is not None:
            turn.close()  # what was asked before, and this answer to it, count no more
            if isinstance(envelope.input, Heard | Silence | ButtonPressed):
                return _decision(turn)
    match envelope.input:
        case WorkOrdered(order, check):
            _ordered(turn, order, check)
        case WorkResumed(technician, check):
            _resumed(turn, technician, check)
        case Heard() as heard:
            if not _late(turn, heard.exchange):
                sure = heard.verdict is AnswerVerdict.ACCEPTED and heard.hypotheses
                take = take_heard if sure else take_doubtful
                take(turn, heard)
        case Silence(exchange):
            if not _late(turn, exchange):
                take_silence(turn)
        case ButtonPressed(exchange):
            if not _late(turn, exchange):
                take_button(turn)
        case PromptPlayed(_, said):
            turn.record(f.Spoken(said))
            return Decision(tuple(turn.facts), ())
        case TimerRanOut(timer, run):
            _ran_out(turn, timer, run)
        case HistoryGiven() | SessionSalvaged():  # sessions of their own, in which nobody speaks
            turn.refuse(envelope.input.kind, m.NotHere())
        case DeviceVanished(device, detail):
            turn.record(f.DeviceLost(device, detail))
            turn.say(m.DeviceGone(device))
        case _:
            assert_never(envelope.input)
    return _decision(turn)


def _is_answered(visit: Visit, given: Input) -> bool:
    """Whether something can be said of this input: not of a prompt, of what came too late, nor after the end."""
    match given:
        case PromptPlayed():
            return False
        case Heard(exchange) | Silence(exchange) | ButtonPressed(exchange):
            return visit.exchange is not None and visit.exchange.number == exchange
        case TimerRanOut(timer, run):
            return timer in visit.timers and visit.timers[timer].run == run
        case _:
            return visit.ended is None


def prompt(work: Work, visit: Visit, envelope: Envelope) -> tuple[Effect, ...]:
    """What is to be said and listened for in a visit as it stands, asked in full: after a prompt was lost, say."""
    turn = Turn(work, visit, envelope.at)
    turn.ask = Ask.FULL
    return _effects(turn)


def _decision(turn: Turn) -> Decision:
    _advance(turn)
    return Decision(tuple(turn.facts), _effects(turn))


def _advance(turn: Turn) -> None:
    """Go to the first step that is not done and open its question.

    A step whose needs are not met waits: the step that proves the need is done again, or the technician is asked.
    """
    while turn.visit.exchange is None and turn.visit.order is not None and turn.visit.ended is None:
        if turn.visit.focus is None:
            settle_finished_stages(turn)
            placed = next((placed for placed in turn.work.steps if placed.place not in turn.visit.outcomes), None)
            if placed is None:
                turn.record(f.WorkEnded(True, s.EveryStepDone()))
                return
            turn.record(f.StepReached(placed.place, placed.step.title, placed.part))
            _arrive(turn)
        need = unmet(turn.placed, turn.visit, turn.at)
        if need is None:
            turn.open(f.Purpose.STEP)
            arrive = question_handler(turn).arrive
            if arrive is not NOTHING:
                arrive(turn)
            continue
        prover = proves(turn.work, turn.visit, turn.placed, *need)
        if prover is None:
            turn.open(f.Purpose.FOUND if need == MISSING else f.Purpose.STATE)
            continue
        words = turn.work.state_words(*need)
        turn.say(m.ProveAgain(words, prover.step.title))
        turn.reopen(prover, s.NeededBy(turn.placed.step.title, words))


def _arrive(turn: Turn) -> None:
    """At the first step of a stage the assistant says what begins."""
    stage = turn.work.stage_at(turn.placed.place)
    if stage is not None and turn.placed == turn.work.steps_of(stage)[0]:
        for message in announced(turn, stage):
            turn.say(message)


def _late(turn: Turn, exchange: int) -> bool:
    """An answer to an exchange that is not open is dropped, and the record says so."""
    if turn.visit.exchange is not None and turn.visit.exchange.number == exchange:
        return False
    turn.record(f.LateAnswerDropped(exchange))
    turn.listen = False
    return True


def _ordered(turn: Turn, order: Order, check: OpeningCheck | None) -> None:
    if turn.visit.order is not None:
        turn.refuse("work ordered", m.NotHere())
        return
    stages = planned(turn.work, order.tasks) if order.planned else ()
    work = turn.work.as_planned(stages)
    turn.record(f.WorkTakenUp(order, work.title, len(work.steps)))
    if stages:
        plan(turn, stages, s.AsOrdered())
    turn.say(m.WorkBegins(turn.work.title, turn.work.asset, len(turn.work.steps)))
    if order.demo:
        turn.say(m.DemoData())
    take_check(turn, check)


def _resumed(turn: Turn, technician: str, check: OpeningCheck | None) -> None:
    running = tuple(turn.visit.timers.items())
    turn.record(f.WorkTakenUpAgain(technician))
    for timer, entry in running:  # nobody watched it meanwhile, so it starts again
        turn.record(f.TimerStarted(timer, entry.run + 1, entry.seconds))
    turn.say(m.WorkGoesOn(turn.work.title))
    take_check(turn, check)
    turn.recall()


def _ran_out(turn: Turn, timer: str, run: int) -> None:
    running = turn.visit.timers.get(timer)
    if running is None or running.run != run:
        turn.listen = False  # that run is over
        return
    turn.record(f.TimerEnded(timer, run))
    if turn.visit.focus is not None and turn.visit.focus.step == timer and turn.visit.exchange is not None:
        elapsed = question_handler(turn).elapsed
        if elapsed is not NOTHING:
            elapsed(turn)
            return
    done = (placed for placed in reversed(turn.work.steps) if turn.visit.outcomes.get(placed.place) is StepOutcome.DONE)
    due = next((placed for placed in done if placed.place.step == timer), None)
    if due is not None:  # other work went on meanwhile
        turn.say(m.TimeIsUp(due.step.title))
        turn.leave(due)


def _effects(turn: Turn) -> tuple[Effect, ...]:
    visit = turn.visit
    effects: list[Effect] = []
    if any(isinstance(fact, f.VoiceChanged | f.WorkTakenUpAgain) for fact in turn.facts):
        effects.append(SetVoice(visit.loudness, visit.pace))
    if turn.cue is not None:
        effects.append(Cue(turn.cue))
    said = spoken(turn)
    number = 0 if visit.exchange is None else visit.exchange.number
    if visit.ended is not None:
        if not any(isinstance(fact, f.WorkEnded) for fact in turn.facts):
            return ()  # it was over before this input came
        return (*effects, Say(number, (*said, *_farewell(turn, visit.ended))), Finish())
    if said:
        effects.append(Say(number, said))
    effects.extend(
        StartTimer(fact.timer, fact.run, fact.seconds) for fact in turn.facts if isinstance(fact, f.TimerStarted)
    )
    if visit.exchange is not None and turn.listen:
        waits = visit.stood_by is not None or visit.exchange.manner is f.Manner.MANUAL
        patience = None if waits else question(turn).patience
        effects.append(Listen(number, expectation(turn), patience))
    return tuple(effects)


def _farewell(turn: Turn, ended: f.WorkEnded) -> tuple[m.Message, ...]:
    if not ended.complete:
        return (m.WorkEndedEarly(turn.steps_open),)
    skipped = sum(outcome is StepOutcome.SKIPPED for outcome in turn.visit.outcomes.values())
    return (*next_due(turn), m.WorkComplete(len(turn.visit.readings), skipped, len(turn.visit.findings)))
