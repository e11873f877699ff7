"""Values that are held against limits: measured ones, and those that are worked out of them.

Knows limits, units and rules as a file gives them, and whether they go together. Refuses to judge a value: that needs
the visit (`dialogue/judging.py`).
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Iterator, Mapping
from decimal import Decimal
from enum import StrEnum

from pydantic import Field, model_validator

from assistant.calculations.decision import DecisionRule
from assistant.errors import QuantityError
from assistant.procedure.fields import FileModel, Identifier, LimitsField, QuantityField
from assistant.procedure.problem import Problem
from assistant.quantities import KNOWN_UNITS, UNITS, Limits, Quantity


class Taken(StrEnum):
    """When a reading is taken: before adjustment or after it."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


class Judged(FileModel):
    """A value that may be held against limits.

    name: what it is, for the record and the ear.
    limits: what it is judged by.
    limits_when: what holds instead while a variable of the engine's state is yes, the first that is.
    decision: the rule near a limit.
    uncertainty: expanded, k = 2, which the guarded rule takes from the limits.
    """

    name: str = Field(min_length=1)
    limits: LimitsField | None = None
    limits_when: dict[Identifier, LimitsField] = Field(default_factory=dict)
    decision: DecisionRule = DecisionRule.SIMPLE
    uncertainty: QuantityField | None = None

    @property
    def guarded(self) -> bool:
        """Whether the uncertainty is taken from the limits."""
        return self.decision is DecisionRule.GUARDED

    def every_limits(self) -> tuple[tuple[str, Limits], ...]:
        """All limits that may hold, with the key under which they stand."""
        own = () if self.limits is None else (("limits", self.limits),)
        return (*own, *(("limits_when", limits) for limits in self.limits_when.values()))

    def limits_on_paper(self) -> str:
        """All limits as they are written on a form, with the state in which they hold."""
        return self._limits_of("")

    def _limits_of(self, less: str) -> str:
        """All limits. less: what stands after each of them, where they are of a difference."""
        own = "" if self.limits is None else f"{self.limits}{less}"
        by_state = (f"{state}: {limits}{less}" for state, limits in self.limits_when.items())
        return "; ".join(filter(None, (own, *by_state)))

    def one_kind(self, unit: str) -> None:
        """What it is judged by measures what its unit does. Errors: ValueError in words for the trainer."""
        kind = KNOWN_UNITS[unit].kind
        for key, interval in self.every_limits():
            if interval.kind is not kind:
                raise ValueError(f'"{key}" is given in {interval.kind}, but the reading is in {unit} ({kind})')
        if self.uncertainty is not None:
            _width("uncertainty", self.uncertainty, unit)
        if self.guarded and not self.every_limits():
            raise ValueError('"decision" guarded needs "limits": there is nothing to guard')


def _width(key: str, width: Quantity, unit: str) -> None:
    """A width can stand about a value in this unit. Errors: ValueError in words for the trainer."""
    try:
        about = width.difference_in(unit)
    except QuantityError:
        raise ValueError(f'"{key}" is {width}, but the reading is in {unit} ({KNOWN_UNITS[unit].kind})') from None
    if about < 0:
        raise ValueError(f'"{key}" is {width}: write it without a sign')


class Measured(Judged):
    """A value that is measured.

    unit: in which it is asked for.
    believable: outside it a value is asked again before it is confirmed.
    relative_to: an earlier reading, by its step; the limits are then of the difference to it.
    instrument: a name from the equipment's `instruments`.
    """

    unit: str
    believable: LimitsField
    relative_to: Identifier | None = None
    instrument: Identifier | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Measured:
        if self.unit not in UNITS:
            known = ", ".join(sorted(symbol for symbol in UNITS if symbol))
            raise ValueError(f'"unit" {self.unit!r} is not known: use one of {known}')
        kind = UNITS[self.unit].kind
        if self.believable.kind is not kind:
            raise ValueError(
                f'"believable" is given in {self.believable.kind}, but the reading is in {self.unit} ({kind})'
            )
        if self.relative_to is None:
            self.one_kind(self.unit)
            return self
        if not self.every_limits():
            raise ValueError('"relative_to" needs "limits": how far from it, such as "within 0.4 L"')
        for key, interval in self.every_limits():
            for end in filter(None, (interval.low, interval.high)):
                try:
                    end.difference_in(self.unit)
                except QuantityError:
                    raise ValueError(
                        f'"{key}" is given in {interval.kind}, but the reading is in {self.unit} ({kind})'
                    ) from None
        return self

    def limits_on_paper(self) -> str:
        """The same, with the reading that they are relative to."""
        return self._limits_of(f", less {self.relative_to}" if self.relative_to else "")

    def middle(self) -> Quantity:
        """The middle of what is believable, to try a calculation with; its one end where it has only one."""
        ends = (self.believable.low, self.believable.high)
        low, high = (None if end is None else end.exactly(self.unit) for end in ends)
        middle = (low + high) / 2 if low is not None and high is not None else low or high or Decimal(0)
        return Quantity(middle, self.unit)


class CalculatedValue(Judged):
    """A value that is worked out of earlier readings."""

    @property
    @abstractmethod
    def readings(self) -> Mapping[str, tuple[str, ...]]:
        """The inputs that are readings: input -> identifiers of the steps that take them."""

    @abstractmethod
    def tried(self, taken: Mapping[str, Measured]) -> Iterator[Problem]:
        """What is wrong when it is worked out of values such as these readings may have. Paths are in the step.

        taken: what each step of `readings` measures, by the step's identifier.
        """
