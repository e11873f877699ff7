"""A wait: it begins when the step is reached, and only its end passes it. Meanwhile other work may go on."""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, Question, QuestionHandler, StepKind
from assistant.dialogue.commands import WHILE_ASKING
from assistant.dialogue.step_questions import opening, step_of
from assistant.dialogue.turn import Turn
from assistant.meanings import CommandName
from assistant.procedure.kinds.timer import Timer
from assistant.session import facts as f


def _question(turn: Turn) -> Question:
    step = step_of(turn, Timer)
    return Question(
        full=(*opening(step), m.TimerRuns(turn.visit.remaining(step.id, turn.at))),
        short=(m.TimerNotOver(turn.visit.remaining(step.id, turn.at)),),
        offers=(),
        commands=WHILE_ASKING,
        choices=(m.Choices((CommandName.WHERE_AM_I, CommandName.STAND_BY, CommandName.END_WORK)),),
    )


def _arrive(turn: Turn) -> None:
    step = step_of(turn, Timer)
    if step.id in turn.visit.elapsed:  # it ran out while the assistant asked something else
        _elapsed(turn)
    elif step.id not in turn.visit.timers:
        turn.record(f.TimerStarted(step.id, turn.visit.timer_runs.get(step.id, 0) + 1, step.seconds))
        if step.meanwhile:
            for message in (*opening(step), m.TimerRuns(step.seconds)):
                turn.say(message)
            turn.complete(leaving=False)


def _elapsed(turn: Turn) -> None:
    turn.say(m.TimeIsUp(step_of(turn, Timer).title))
    turn.complete()


def _not_over(turn: Turn) -> m.Message:
    return m.TimerNotOver(turn.visit.remaining(step_of(turn, Timer).id, turn.at))


KIND = StepKind(
    Timer,
    QuestionHandler(
        question=_question,
        answered=REFUSED,
        arrive=_arrive,
        next=REFUSED,
        affirm=REFUSED,
        negative=REFUSED,
        elapsed=_elapsed,
        measures=NOTHING,
        refusal=_not_over,
    ),
)
