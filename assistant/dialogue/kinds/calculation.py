"""A calculation: a value worked out from readings of the visit, spoken, judged like one, and recorded with `next`.

Knows where inputs come from, and that a doubt of a reading is one of the result. Refuses to know formulas:
`calculations/` does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from assistant.calculations.formula import Given, Refusal, written
from assistant.dialogue import judging
from assistant.dialogue import messages as m
from assistant.dialogue.asking import NOTHING, REFUSED, USUAL_WORDS, Question, QuestionHandler, StepKind
from assistant.dialogue.confirmed_readings import record_finding
from assistant.dialogue.judging import JudgedValue, last_reading
from assistant.dialogue.step_questions import DONE_WITH_NEXT, step_of, step_question
from assistant.dialogue.turn import Turn
from assistant.errors import CalculationError, QuantityError
from assistant.procedure.kinds.calculation import Calculation
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.statements import kinds as s


@dataclass(frozen=True, slots=True)
class _Calculated:
    """What came out.

    value: in the step's unit.
    inputs: what was taken for each input.
    caveats: the formula's warnings, then the doubts about the readings it rests on.
    standing: how it stands against the limits; None where it is no quantity.
    """

    value: Quantity | str | s.CalculationStatement
    inputs: tuple[f.CalculationInput, ...]
    caveats: tuple[s.CalculationStatement, ...]
    standing: JudgedValue | None


@dataclass(frozen=True, slots=True)
class _NotCalculated:
    """Nothing came out. because: why not."""

    because: s.CalculationStatement


def _worked_out(turn: Turn, step: Calculation) -> _Calculated | _NotCalculated:
    """The result with the readings as they stand, or why there is none."""
    given: dict[str, Given] = {**step.inputs}
    names: dict[str, str] = {}
    doubts: list[s.CalculationStatement] = []
    for name, steps in step.readings.items():
        readings = []
        for identifier in steps:
            reading = last_reading(turn, identifier)
            if reading is None:
                not_read = turn.work.at(f.StepPlace(turn.placed.place.task, identifier)).step
                return _NotCalculated(s.NotRead(not_read.title))
            readings.append(reading)
        given[name] = tuple(reading.quantity for reading in readings)
        names[name] = ", ".join(reading.name for reading in readings)
        doubts += [s.InDoubt(reading.name) for reading in readings if reading.doubt]
    try:
        result = step.row.compute(given)
        value = step.stated(result.value) if isinstance(result.value, Quantity) else result.value
    except Refusal as refusal:
        return _NotCalculated(refusal.why)
    except (CalculationError, QuantityError):  # the check of the procedure keeps this from happening
        return _NotCalculated(s.InputsDoNotFit())
    inputs = (f.CalculationInput(name, written(read), names.get(name, "")) for name, read in result.inputs.items())
    standing = judging.result_standing(turn, step, value) if isinstance(value, Quantity) else None
    return _Calculated(value, tuple(inputs), (*result.warnings, *doubts), standing)


def _messages(step: Calculation, result: _Calculated | _NotCalculated) -> tuple[m.Message, ...]:
    if isinstance(result, _NotCalculated):
        return (m.NotWorkedOut(step.name, result.because),)
    caveats, standing = tuple(m.Caveat(text) for text in result.caveats), result.standing
    if standing is None or standing.limits is None:
        return (m.WorkedOut(step.name, result.value), *caveats)
    finding = () if standing.settled else (m.FindingNoted(),)
    return (m.NamedMember(step.name), *standing.messages(), *finding, *caveats)


def _question(turn: Turn) -> Question:
    step = step_of(turn, Calculation)
    question = step_question(step, (), DONE_WITH_NEXT)
    messages = _messages(step, _worked_out(turn, step))
    return replace(question, full=(*question.full, *messages), short=(*question.short, *messages))


def _next(turn: Turn) -> None:
    """What was spoken is recorded; without a result the step is left out."""
    step, placed = step_of(turn, Calculation), turn.placed
    result = _worked_out(turn, step)
    if isinstance(result, _NotCalculated):
        turn.close()
        turn.record(f.StepSkipped(placed.place, step.title, result.because, None))
        return
    standing = result.standing
    limits = None if standing is None else standing.limits
    turn.record(
        f.CalculationRecorded(
            placed.place,
            step.name,
            step.formula,
            result.inputs,
            result.value,
            "" if limits is None else str(limits),
            "" if standing is None else standing.by,
            f.ReadingVerdict.NO_LIMIT if standing is None else standing.verdict,
            step.row.source,
            result.caveats,
        )
    )
    if standing is not None and not standing.settled:
        record_finding(turn, step.name, standing)
    turn.complete()


KIND = StepKind(
    Calculation,
    QuestionHandler(
        question=_question,
        answered=REFUSED,
        arrive=NOTHING,
        next=_next,
        affirm=REFUSED,
        negative=REFUSED,
        elapsed=NOTHING,
        measures=NOTHING,
        refusal=USUAL_WORDS,
    ),
)
