"""A calculation of a procedure: its inputs from the readings of the visit, its result.

Knows where inputs come from, and that a doubt of a reading is one of the result. Refuses to know formulas
(`calculations/` does) and what is said.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.calculations.formula import Given, Refusal, written
from assistant.dialogue.judging import last_reading
from assistant.dialogue.turn import Turn
from assistant.errors import CalculationError, QuantityError
from assistant.procedure.steps import Calculation
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.statements import kinds as s


@dataclass(frozen=True, slots=True)
class Calculated:
    """What came out.

    caveats: the formula's warnings, then the doubts about the readings it rests on.
    """

    result: Quantity | str | s.CalculationStatement
    inputs: tuple[f.CalculationInput, ...]
    caveats: tuple[s.CalculationStatement, ...]


@dataclass(frozen=True, slots=True)
class NotCalculated:
    """Nothing came out. because: why not."""

    because: s.CalculationStatement


def calculated(turn: Turn, step: Calculation) -> Calculated | NotCalculated:
    """The result with the readings as they stand, or why there is none."""
    given: dict[str, Given] = {**step.inputs}
    names: dict[str, str] = {}
    doubts: list[s.CalculationStatement] = []
    for name, steps in step.readings.items():
        readings = []
        for identifier in steps:
            reading = last_reading(turn, identifier)
            if reading is None:
                step_not_read = turn.work.at(f.StepPlace(turn.placed.place.task, identifier)).step
                return NotCalculated(s.NotRead(step_not_read.title))
            readings.append(reading)
        given[name] = tuple(reading.quantity for reading in readings)
        names[name] = ", ".join(reading.name for reading in readings)
        doubts += [s.InDoubt(reading.name) for reading in readings if reading.doubt]
    try:
        result = step.row.compute(given)
        value = step.stated(result.value) if isinstance(result.value, Quantity) else result.value
    except Refusal as refusal:
        return NotCalculated(refusal.why)
    except (CalculationError, QuantityError):  # the check of the procedure keeps this from happening
        return NotCalculated(s.InputsDoNotFit())
    inputs = (f.CalculationInput(name, written(read), names.get(name, "")) for name, read in result.inputs.items())
    return Calculated(value, tuple(inputs), (*result.warnings, *doubts))
