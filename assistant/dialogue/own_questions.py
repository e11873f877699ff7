"""The assistant's own questions: why a step is left out, whether to end the work, how the engine is."""

from __future__ import annotations

from assistant.dialogue import messages as m
from assistant.dialogue.asking import Answered, Asker, Question
from assistant.dialogue.guards import unmet
from assistant.dialogue.steps import EVERYWHERE, STEP_KINDS
from assistant.dialogue.turn import Turn
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import CommandName, Reason
from assistant.session import facts as f

PATIENCE = 20.0  # seconds after which an own question is asked again
YES_OR_NO = (CommandName.AFFIRM, CommandName.NEGATIVE, CommandName.SAY_AGAIN)


def _back_to_step(turn: Turn) -> None:
    turn.close()
    turn.say(m.GoingOn())


def _steps_open(turn: Turn) -> int:
    return sum(placed.place not in turn.visit.outcomes for placed in turn.work.steps)


def _yes_or_no(message: m.Message, more: tuple[CommandName, ...] = ()) -> Question:
    choices = m.Choices((CommandName.AFFIRM, CommandName.NEGATIVE))
    return Question((message,), (message,), (), (*YES_OR_NO, *more), (message, choices), patience=PATIENCE)


# --- the reason for leaving a step out -----------------------------------------------------------------------

_REASONS = Offer("<reasons.reason>", Reason, Risk.READING)


def _reason_question(turn: Turn) -> Question:
    message = m.AskReason(turn.placed.step.title)
    return Question(
        (message,),
        (message,),
        (_REASONS,),
        (CommandName.NEGATIVE, CommandName.SAY_AGAIN),
        (m.Choices((_REASONS, CommandName.NEGATIVE)),),
        patience=PATIENCE,
    )


def _reason_given(turn: Turn, answered: Answered) -> None:
    meaning, placed = answered.best.meaning, turn.placed
    if not isinstance(meaning, Reason):
        turn.refuse(answered.best.text, m.NotHere())
        return
    turn.close()
    turn.record(f.StepSkipped(placed.place, placed.step.title, answered.best.text, answered.clip))
    turn.say(m.Skipped(placed.step.title, answered.best.text))


# --- ending the work -----------------------------------------------------------------------------------------


def _ending_question(turn: Turn) -> Question:
    return _yes_or_no(m.AskEnding(_steps_open(turn)))


def _end(turn: Turn, answered: Answered) -> None:
    turn.close()
    turn.record(f.WorkEnded(False, "the technician ended it"))


# --- the engine's state on the technician's word -------------------------------------------------------------


def _state_question(turn: Turn) -> Question:
    need = unmet(turn.placed, turn.visit, turn.at)
    words = turn.work.state_words(*need) if need else turn.placed.step.title
    return _yes_or_no(m.AskState(words), EVERYWHERE[1:])


def _state_told(turn: Turn, answered: Answered) -> None:
    need = unmet(turn.placed, turn.visit, turn.at)
    turn.close()
    if need is not None:
        variable, value = need
        turn.record(f.StateLearned(variable, f.Known(value.value), "the technician's word", None))


def _state_not_yet(turn: Turn) -> None:
    turn.say(m.NotYet())


OWN_QUESTIONS: dict[f.Purpose, Asker] = {
    f.Purpose.REASON: Asker(question=_reason_question, answered=_reason_given, negative=_back_to_step),
    f.Purpose.ENDING: Asker(question=_ending_question, affirm=_end, negative=_back_to_step),
    f.Purpose.STATE: Asker(question=_state_question, affirm=_state_told, negative=_state_not_yet),
}
"""Who asks in an exchange that is not a step's."""


def asker(turn: Turn) -> Asker:
    """Who asks in the open exchange: a step, or the assistant itself."""
    own = OWN_QUESTIONS.get(turn.exchange.purpose)
    return STEP_KINDS[type(turn.placed.step)] if own is None else own
