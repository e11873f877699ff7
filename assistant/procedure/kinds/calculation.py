"""A value worked out from readings of the visit, by a named formula."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import ClassVar

from pydantic import Field, model_validator

from assistant.calculations import FORMULAS, formula_named
from assistant.calculations.formula import Formula, Given
from assistant.calculations.formula import QuantityInput as MeasuredInput
from assistant.errors import CalculationError, OtherKindError, QuantityError
from assistant.procedure.fields import IDENTIFIER
from assistant.procedure.measured import CalculatedValue, Measured
from assistant.procedure.problem import Problem
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    ON_TO_THE_NEXT,
    AnswerPhrase,
    Blank,
    HoldCard,
    Measurement,
    PaperFields,
    Response,
    SaysNext,
    Wait,
    Way,
)
from assistant.quantities import Quantity


class Calculation(CalculatedValue, Step):
    """A value worked out from readings of the visit, told, and judged like one.

    formula: a name that `enginebay calc` lists.
    inputs: of the formula, each the identifier of an earlier reading's step, several with commas between, or a value as
        it is written.
    unit, decimals: of the result; left out: as the formula gives it.
    """

    KEY: ClassVar[str] = "calculation"
    EXAMPLE: ClassVar[str] = """
        calculation: balance
        title: Balance
        text: Oil in, less oil out.
        name: oil balance
        formula: oil-balance
        inputs: {oil_in: 2.7 L, oil_out: oil-out}
        unit: L
        limits: within 0.2 L
    """

    formula: str
    inputs: dict[str, str]
    unit: str = ""
    decimals: int | None = Field(default=None, ge=0, le=6)
    may_skip: bool = True

    @property
    def row(self) -> Formula:
        """The formula."""
        return FORMULAS[self.formula]

    @property
    def readings(self) -> Mapping[str, tuple[str, ...]]:
        measured = {each.name for each in self.row.inputs if isinstance(each, MeasuredInput)}
        named = {name: tuple(step.strip() for step in text.split(",")) for name, text in self.inputs.items()}
        return {
            name: steps
            for name, steps in named.items()
            if name in measured and all(re.fullmatch(IDENTIFIER, step) for step in steps)
        }

    @model_validator(mode="after")
    def _can_be_worked_out(self) -> Calculation:
        try:
            row = formula_named(self.formula)
        except CalculationError as error:
            raise ValueError(f'"formula" {self.formula!r}: {error.cause}; {error.remedy}') from None
        names = [each.name for each in row.inputs]
        for name in self.inputs:
            if name not in names:
                raise ValueError(f'"inputs": there is no input {name!r}; {self.formula} has {", ".join(names)}')
        for each in row.inputs:
            if each.name not in self.inputs and each.default is None:
                raise ValueError(f'"inputs": {each.name!r} is missing')
            if each.name in self.inputs and each.name not in self.readings:
                try:
                    each.read(self.inputs[each.name], each.name)
                except (CalculationError, QuantityError) as error:
                    raise ValueError(f'"inputs": {each.name!r}: {error.cause}; {error.remedy}') from None
        return self

    def stated(self, result: Quantity) -> Quantity:
        """The result in this step's unit, rounded unless that moves it over a limit.

        Errors: QuantityError when it measures something else.
        """
        exact = result.to(self.unit) if self.unit else result
        if self.decimals is None:
            return exact
        rounded = Quantity(round(exact.value, self.decimals) + 0, exact.unit)  # no minus zero
        same = all(limits.side(rounded) == limits.side(exact) for _, limits in self.every_limits())
        return rounded if same else exact

    def tried(self, taken: Mapping[str, Measured]) -> Iterator[Problem]:
        """The formula takes readings of these kinds, and gives what is judged. It is tried with the middle of each."""
        given: dict[str, Given] = {**self.inputs}
        for name, steps in self.readings.items():
            given[name] = tuple(taken[step].middle() for step in steps)
        try:
            value = self.row.compute(given).value
        except OtherKindError as error:
            yield Problem(("inputs",), f"{error.place}: {error.cause}", error.remedy)
            return
        except CalculationError:
            return  # a value out of range says nothing of other values
        if not isinstance(value, Quantity):
            if self.unit or self.every_limits():
                cause = f"the result of {self.formula} is text, which has no unit and no limits"
                yield Problem(("formula",), cause, "Take unit and limits out, or name another formula")
            return
        try:
            self.one_kind(value.unit if not self.unit else value.to(self.unit).unit)
        except (QuantityError, ValueError) as error:
            cause = error.cause if isinstance(error, QuantityError) else str(error).replace('"', "`")
            yield Problem(("unit",), cause, "Give unit and limits in what the formula gives")

    def own_prompts(self) -> tuple[str, ...]:
        return (self.name,)

    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        return ()

    def hold_card(self) -> HoldCard | None:
        return None

    def measurements(self) -> tuple[Measurement, ...]:
        return ()

    def works_out(self) -> CalculatedValue:
        return self

    def ways(self) -> tuple[Way, ...]:
        return ON_TO_THE_NEXT

    def unproved(self) -> str:
        return f"{self.id!r} goes on with any value"

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        return PaperFields((Blank(self.name, self.unit, self.limits_on_paper()),))

    def response(self) -> Response:
        return SaysNext(by_hand=False)
