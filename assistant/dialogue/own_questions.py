"""The assistant's own questions: why a step is left out, whether to end the work, how the engine is, and others.

Each is asked in an exchange of its own. Refuses to know the kinds of step: in a step's exchange the step asks.
"""

from __future__ import annotations

from collections.abc import Callable

from assistant.dialogue import messages as m
from assistant.dialogue.asking import (
    NOTHING,
    REFUSED,
    USUAL_WORDS,
    AnswerAction,
    Answered,
    Question,
    QuestionHandler,
    TurnAction,
)
from assistant.dialogue.commands import EVERYWHERE, WHATEVER_IS_ASKED
from assistant.dialogue.guards import unmet
from assistant.dialogue.kinds import STEP_KINDS
from assistant.dialogue.turn import Turn
from assistant.dialogue.visiting import add, do_first, may_be_added, may_be_put_off, may_come_first, put_off
from assistant.errors import ProcedureError
from assistant.grammar.expectation import Offer, Risk
from assistant.meanings import Answer, CommandName, FreeSpeech, Reason, Role
from assistant.session import facts as f
from assistant.statements import kinds as s

PATIENCE = 20.0  # seconds after which an own question is asked again
YES_OR_NO = (CommandName.AFFIRM, CommandName.NEGATIVE, CommandName.DISREGARD, CommandName.SAY_AGAIN)
TAKEN_BACK = (CommandName.DISREGARD, CommandName.SAY_AGAIN, *WHATEVER_IS_ASKED)


def _back_to_step(turn: Turn) -> None:
    turn.drop()
    turn.say(m.GoingOn())


def _yes_or_no(message: m.Message, more: tuple[CommandName, ...] = ()) -> Question:
    choices = m.Choices((CommandName.AFFIRM, CommandName.NEGATIVE))
    return Question((message,), (message,), (), (*YES_OR_NO, *more), (message, choices), patience=PATIENCE)


def _question_of_rule(offer: Offer, message: m.Message, more: tuple[CommandName, ...] = ()) -> Question:
    """A question whose answers are those of one rule; it can be taken back."""
    choices = m.Choices((offer, CommandName.DISREGARD))
    return Question((message,), (message,), (offer,), (*more, *TAKEN_BACK), (choices,), patience=PATIENCE)


# --- the reason for leaving a step out -----------------------------------------------------------------------

_REASONS = Offer("<reasons.reason>", Reason, Risk.READING)


def _reason_question(turn: Turn) -> Question:
    return _question_of_rule(_REASONS, m.AskReason(turn.placed.step.title), (CommandName.NEGATIVE,))


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
    return _yes_or_no(m.AskEnding(turn.steps_open), (CommandName.STOP, CommandName.CALL_FOR_HELP))


def _end(turn: Turn, answered: Answered) -> None:
    turn.close()
    turn.record(f.WorkEnded(False, s.EndedByTechnician()))


# --- the engine's state on the technician's word -------------------------------------------------------------


def _state_question(turn: Turn) -> Question:
    need = unmet(turn.placed, turn.visit, turn.at)
    words = turn.work.state_words(*need) if need else turn.placed.step.title
    return _yes_or_no(m.AskState(words), EVERYWHERE[1:])


def _state_affirmed(turn: Turn, answered: Answered) -> None:
    need = unmet(turn.placed, turn.visit, turn.at)
    turn.close()
    if need is not None:
        variable, value = need
        turn.record(f.StateLearned(variable, value, s.TechniciansWord(), None))


def _state_not_yet(turn: Turn) -> None:
    turn.say(m.NotYet())


# --- something dropped is still missing ----------------------------------------------------------------------


def _found_question(turn: Turn) -> Question:
    message = m.AskFound()
    commands = (CommandName.FOUND, CommandName.EXCUSED, CommandName.NOTE, *EVERYWHERE)
    choices = m.Choices((CommandName.FOUND, CommandName.EXCUSED))
    return Question((message,), (message,), (), commands, (message, choices))


# --- a note, a finding, what is wrong with a step: free speech, kept as sound ----------------------------------

_SPEECH = Offer("", FreeSpeech, Risk.COMMAND)


def _speaking(message: m.Message) -> Callable[[Turn], Question]:
    commands = (CommandName.DISREGARD, *WHATEVER_IS_ASKED)
    question = Question((message,), (message,), (_SPEECH,), commands, (message,))
    return lambda turn: question


def _keeps(subject: f.Subject) -> Callable[[Turn, Answered], None]:
    def keep(turn: Turn, answered: Answered) -> None:
        placed = turn.placed
        if answered.best.meaning != FreeSpeech():
            turn.refuse(answered.best.text, m.NotHere())
            return
        turn.close()
        turn.record(f.NoteKept(placed.place, placed.step.title, subject, answered.best.text, answered.clip))
        if subject is f.Subject.FINDING:
            turn.record(f.FindingRecorded(placed.place, answered.best.text or s.SpokenFinding()))
        turn.say(m.KeptAsText() if answered.clip is None else m.Kept())

    return keep


# --- why a substitute is fitted -----------------------------------------------------------------------------------


def _substitute_question(turn: Turn) -> Question:
    return _question_of_rule(_REASONS, m.AskSubstitute())


def _substitute_given(turn: Turn, answered: Answered) -> None:
    placed, best = turn.placed, answered.best
    if not isinstance(best.meaning, Reason):
        turn.refuse(best.text, m.NotHere())
        return
    turn.record(
        f.PartFitted(
            placed.place, placed.step.title, "", "", best.text, best.confidence, answered.clip, answered.source
        )
    )
    turn.record(f.FindingRecorded(placed.place, s.SubstituteUsed(placed.step.title, best.text)))
    turn.say(m.SubstituteFitted(best.text))
    turn.complete()


# --- a task is put off, added, or done first ---------------------------------------------------------------------


def _put_off_question(turn: Turn) -> Question:
    stage = may_be_put_off(turn)
    return _question_of_rule(_REASONS, m.AskPuttingOff("" if stage is None else stage.title))


def _planned_anew(turn: Turn, answered: Answered, change: Callable[[], None]) -> bool:
    """Whether the visit could be planned anew; else that is said."""
    try:
        change()
    except ProcedureError:
        turn.refuse(answered.best.text, m.NoSuchOrder())
        return False
    return True


def _put_off_given(turn: Turn, answered: Answered) -> None:
    stage, best = may_be_put_off(turn), answered.best
    if stage is None or not isinstance(best.meaning, Reason):
        turn.refuse(best.text, m.NotHere())
        return
    turn.close()
    if not _planned_anew(turn, answered, lambda: put_off(turn, stage.name, best.text)):
        return
    turn.record(f.TaskPutOff(stage.name, stage.title, best.text, answered.clip))
    turn.say(m.TaskIsPutOff(stage.title, best.text))


def _which_task(tasks: Callable[[Turn], tuple[str, ...]]) -> Callable[[Turn], Question]:
    def question(turn: Turn) -> Question:
        called = turn.work.equipment.called
        offers = tuple(Offer(called(task), Answer, Risk.READING, task) for task in tasks(turn))
        message = (m.AskWhichTask(offers),)
        return Question(message, message, offers, TAKEN_BACK, message, patience=PATIENCE)

    return question


def _task_chosen(turn: Turn, answered: Answered) -> None:
    meaning = answered.best.meaning
    if not isinstance(meaning, Answer) or meaning.key not in may_be_added(turn):
        turn.refuse(answered.best.text, m.NotHere())
        return
    turn.close()
    turn.record(f.TaskChosen(meaning.key))
    turn.open(f.Purpose.TASK_REASON)


def _adding_question(turn: Turn) -> Question:
    return _question_of_rule(_REASONS, m.AskAdding(turn.work.equipment.tasks[turn.visit.chosen].title))


def _adding_given(turn: Turn, answered: Answered) -> None:
    task, best = turn.visit.chosen, answered.best
    if not isinstance(best.meaning, Reason):
        turn.refuse(best.text, m.NotHere())
        return
    title = turn.work.equipment.tasks[task].title
    turn.close()
    if not _planned_anew(turn, answered, lambda: add(turn, task, best.text)):
        turn.record(f.TaskChosen(""))
        return
    turn.record(f.TaskAdded(task, title, best.text, answered.clip))
    turn.say(m.TaskIsAdded(title, best.text))


def _other_work_chosen(turn: Turn, answered: Answered) -> None:
    meaning = answered.best.meaning
    if not isinstance(meaning, Answer) or meaning.key not in may_come_first(turn):
        turn.refuse(answered.best.text, m.NotHere())
        return
    turn.close()
    if _planned_anew(turn, answered, lambda: do_first(turn, meaning.key)):
        turn.say(m.TaskComesFirst(turn.work.equipment.tasks[meaning.key].title))


# --- another person takes over -----------------------------------------------------------------------------------

_ROLES = Offer("<roles.role>", Role, Risk.READING)


def _role_question(turn: Turn) -> Question:
    return _question_of_rule(_ROLES, m.AskRole())


def _role_named(turn: Turn, answered: Answered) -> None:
    meaning = answered.best.meaning
    if not isinstance(meaning, Role):
        turn.refuse(answered.best.text, m.NotHere())
        return
    turn.close()
    turn.record(f.WorkHandedOver(meaning.key))
    turn.say(m.HandedOver(meaning.key))
    turn.recall()


def _handler(
    question: Callable[[Turn], Question],
    *,
    answered: AnswerAction | None,
    affirm: AnswerAction | None,
    negative: TurnAction | None,
) -> QuestionHandler:
    """A question of the assistant's own: nothing is measured or timed in it, and `next` does not pass it."""
    return QuestionHandler(
        question=question,
        answered=answered,
        arrive=NOTHING,
        next=REFUSED,
        affirm=affirm,
        negative=negative,
        elapsed=NOTHING,
        measures=NOTHING,
        refusal=USUAL_WORDS,
    )


def _answerable(question: Callable[[Turn], Question], answered: AnswerAction) -> QuestionHandler:
    """A question with answers of its own, which can be taken back."""
    return _handler(question, answered=answered, affirm=REFUSED, negative=_back_to_step)


OWN_QUESTIONS: dict[f.Purpose, QuestionHandler] = {
    f.Purpose.REASON: _answerable(_reason_question, _reason_given),
    f.Purpose.ENDING: _handler(_ending_question, answered=REFUSED, affirm=_end, negative=_back_to_step),
    f.Purpose.STATE: _handler(_state_question, answered=REFUSED, affirm=_state_affirmed, negative=_state_not_yet),
    f.Purpose.FOUND: _handler(_found_question, answered=REFUSED, affirm=REFUSED, negative=REFUSED),
    f.Purpose.NOTE: _answerable(_speaking(m.SpeakNote()), _keeps(f.Subject.NOTE)),
    f.Purpose.FINDING: _answerable(_speaking(m.SpeakFinding()), _keeps(f.Subject.FINDING)),
    f.Purpose.STEP_WRONG: _answerable(_speaking(m.SpeakWhatIsWrong()), _keeps(f.Subject.STEP_WRONG)),
    f.Purpose.SUBSTITUTE: _answerable(_substitute_question, _substitute_given),
    f.Purpose.TASK_PUT_OFF: _answerable(_put_off_question, _put_off_given),
    f.Purpose.TASK_ADDED: _answerable(_which_task(may_be_added), _task_chosen),
    f.Purpose.TASK_REASON: _answerable(_adding_question, _adding_given),
    f.Purpose.OTHER_WORK: _answerable(_which_task(may_come_first), _other_work_chosen),
    f.Purpose.HAND_OVER: _answerable(_role_question, _role_named),
}
"""Who asks in an exchange that is not a step's."""


def question_handler(turn: Turn) -> QuestionHandler:
    """Who asks in the open exchange: a step, or the assistant itself."""
    own = OWN_QUESTIONS.get(turn.exchange.purpose)
    return STEP_KINDS[type(turn.placed.step)] if own is None else own
