"""What a formula is: named inputs, each of one kind and within a range, a result, a source, worked examples.

Here, once for every formula, inputs are read, converted and held against their kind and range, and the result is given
its unit and its digits: five significant ones, or as many as the most precisely stated input has, at most nine; a row
may fix fewer; zeros at the end are left out. A formula's function gets plain floats in the units of its row. Knows no
formula itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from math import inf, isfinite
from typing import TypeAlias

from assistant.errors import CalculationError, OtherKindError
from assistant.quantities import KNOWN_UNITS, Kind, Quantity, counted, parse
from assistant.statements import calculations as s

Given: TypeAlias = Quantity | tuple[Quantity, ...] | str
"""What a caller gives for an input; text is read as on the command line: `"30 N"`, `"28 bar, 27 bar"`."""

MIN_DIGITS, MAX_DIGITS = 5, 9


class Refusal(CalculationError):
    """A formula does not hold for these inputs.

    why: as a statement, for a listener; `cause` is its kind. `refused` puts it into words.
    """

    def __init__(self, place: str, why: s.CalculationStatement, remedy: str) -> None:
        super().__init__(place, why.kind, remedy)
        self.why = why


Answer: TypeAlias = float | str | s.CalculationStatement
"""What a formula's function gives: a number in the unit of its row, a name such as `G2`, or a statement."""


@dataclass(frozen=True, slots=True)
class Noted:
    """An answer with warnings. `unit` of a warning is left empty: it is filled in with that of the result."""

    value: Answer
    warnings: tuple[s.CalculationStatement, ...]


Argument: TypeAlias = float | tuple[float, ...] | str | date | None


@dataclass(frozen=True, slots=True)
class QuantityInput:
    """An input that is a quantity.

    unit: in which the function gets it; None: any, but all such inputs of a formula are of one kind and come in the
        unit of the first.
    low, high: the valid range in that unit, ends included.
    above: it must be more than this.
    default: as written; "" lets it be left out (the function gets None); None: it must be given.
    many: the least number of values of a list; 0: it is one value.
    difference: a width, not a place on the scale.
    """

    name: str
    unit: str | None
    low: float = -inf
    high: float = inf
    above: float = -inf
    default: str | None = None
    many: int = 0
    difference: bool = False

    def read(self, given: Given, place: str) -> Quantity | tuple[Quantity, ...]:
        """The quantities as stated. Errors: QuantityError, CalculationError for too few or too many."""
        kind = None if self.unit is None else KNOWN_UNITS[self.unit].kind
        if isinstance(given, str):
            given = tuple(parse(value, place, kind) for value in given.split(","))
        stated = given if isinstance(given, tuple) else (given,)
        if self.many:
            if len(stated) < self.many:
                raise CalculationError(place, f"{len(stated)} given", f"Give at least {self.many}, with commas between")
            return stated
        if len(stated) != 1:
            raise CalculationError(place, f"{counted(len(stated), 'value')} given", "Give one value")
        return stated[0]

    def number(self, quantity: Quantity, unit: str, place: str) -> float:
        """The value in the function's unit. Errors: CalculationError for another kind or outside the range."""
        wanted = KNOWN_UNITS[unit].kind
        if quantity.kind is Kind.TIME and wanted is Kind.RUN_HOURS:
            value = float(quantity.exactly("min")) / 60
        elif quantity.kind is wanted:
            value = float(quantity.difference_in(unit) if self.difference else quantity.exactly(unit))
        elif self.difference and wanted is Kind.TEMPERATURE and quantity.kind is Kind.TEMPERATURE_DIFFERENCE:
            value = float(quantity.difference_in(unit))
        else:
            symbols = ", ".join(
                sorted(known.symbol or "no unit" for known in KNOWN_UNITS.values() if known.kind is wanted)
            )
            raise OtherKindError(place, f"{quantity} measures {quantity.kind}, not {wanted}", f"Use one of {symbols}")
        if not (self.low <= value <= self.high and value > self.above):
            raise Refusal(place, s.OutsideFormula(quantity), f"It holds {self.range}")
        return value

    @property
    def kind(self) -> str:
        """What it measures, in words."""
        return "any quantity" if self.unit is None else str(KNOWN_UNITS[self.unit].kind)

    @property
    def range(self) -> str:
        """The valid range in words; empty when everything is valid."""
        low = (
            f"above {self.above:.10g}"
            if isfinite(self.above)
            else f"from {self.low:.10g}"
            if isfinite(self.low)
            else ""
        )
        ends = f"{low} up to {self.high:.10g}" if isfinite(self.high) else low
        return f"{ends} {self.unit or ''}".strip() if ends else ""


@dataclass(frozen=True, slots=True)
class WordInput:
    """An input that is one of several words. default: as `QuantityInput`; capitals, hyphens and spaces do not count."""

    name: str
    options: tuple[str, ...]
    default: str | None = None

    def read(self, given: Given, place: str) -> str:
        """The option. Errors: CalculationError naming the options."""
        found = [option for option in self.options if _plain(option) == _plain(str(given))]
        if not found:
            raise CalculationError(place, f"{str(given)!r} is none of its choices", f"Use {' or '.join(self.options)}")
        return found[0]

    @property
    def kind(self) -> str:
        """The options in words."""
        return " | ".join(self.options)

    range = ""


@dataclass(frozen=True, slots=True)
class Day:
    """An input that is a day of the calendar, written 2026-03-02. default: as `QuantityInput`."""

    name: str
    default: str | None = None

    def read(self, given: Given, place: str) -> date:
        """The day. Errors: CalculationError."""
        try:
            return date.fromisoformat(str(given))
        except ValueError:
            raise CalculationError(
                place, f"{str(given)!r} is no day", "Write year, month and day: 2026-03-02"
            ) from None

    kind = "day"
    range = ""


Input: TypeAlias = QuantityInput | WordInput | Day
Read: TypeAlias = Quantity | tuple[Quantity, ...] | str | date


@dataclass(frozen=True, slots=True)
class Result:
    """What a calculation gives. inputs: as they were read, with the defaults that were used."""

    value: Quantity | str | s.CalculationStatement
    warnings: tuple[s.CalculationStatement, ...]
    inputs: Mapping[str, Read] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example: inputs and the result as they are written, and how many warnings there are."""

    inputs: Mapping[str, str]
    result: str
    warnings: int = 0


@dataclass(frozen=True, slots=True)
class Formula:
    """A row of the table.

    function: takes the inputs by their names and gives an `Answer`, or one that is `Noted`; the first line of its
        docstring is the title, and what follows "Source:" the source.
    result: unit of the function's answer; None: text, or, with `like`, the unit of an input that has none of its own.
    like: the input whose unit the result is given in.
    digits: significant digits, where the method allows no more.
    """

    name: str
    function: Callable[..., Answer | Noted]
    inputs: tuple[Input, ...]
    result: str | None
    examples: tuple[Example, ...]
    like: str = ""
    digits: int | None = None

    @property
    def title(self) -> str:
        """What it gives, in a line."""
        return (self.function.__doc__ or "").strip().partition("\n")[0].removesuffix(".")

    @property
    def source(self) -> str:
        """Where the formula and its numbers are from."""
        return " ".join((self.function.__doc__ or "").partition("Source:")[2].split()).removesuffix(".")

    @property
    def gives(self) -> str:
        """What the result is, in words: its unit, the input whose unit it takes, or text."""
        return (
            f"in the unit of {self.like}" if self.like else "text" if self.result is None else self.result or "a number"
        )

    def compute(self, inputs: Mapping[str, Given]) -> Result:
        """The result for these inputs; what is left out takes its default.

        Errors: CalculationError for an input that is unknown, missing or of another kind; Refusal for one that is
        outside its range, and where the formula does not hold; QuantityError for text that is no quantity.
        """
        read = self._read(inputs)
        shared = self._shared_unit(read)
        arguments = {each.name: self._argument(each, read.get(each.name), shared) for each in self.inputs}
        try:
            answer = self.function(**arguments)
        except Refusal as refusal:
            raise Refusal(f"{self.name}, {refusal.place}", refusal.why, refusal.remedy) from None
        except CalculationError as error:
            raise type(error)(f"{self.name}, {error.place}", error.cause, error.remedy) from None
        value, warnings = (answer.value, answer.warnings) if isinstance(answer, Noted) else (answer, ())
        if not isinstance(value, float | int):
            return Result(value, tuple(_in_unit(warning, shared) for warning in warnings), read)
        quantity = self._quantity(value, read, shared)
        return Result(quantity, tuple(_in_unit(warning, quantity.unit) for warning in warnings), read)

    def _read(self, inputs: Mapping[str, Given]) -> dict[str, Read]:
        names = [each.name for each in self.inputs]
        for name in inputs:
            if name not in names:
                raise CalculationError(f"{self.name}, {name}", "there is no such input", f"Use {', '.join(names)}")
        read: dict[str, Read] = {}
        for each in self.inputs:
            given = inputs.get(each.name, each.default)
            if given is None:
                what = each.kind + (f", {each.range}" if each.range else "")
                raise CalculationError(f"{self.name}, {each.name}", "it is missing", f"Give it ({what})")
            if given != "" or each.name in inputs:
                read[each.name] = each.read(given, f"{self.name}, {each.name}")
        return read

    def _shared_unit(self, read: Mapping[str, Read]) -> str:
        """The unit of the first input that has none of its own; empty when there is no such input."""
        for each in self.inputs:
            if isinstance(each, QuantityInput) and each.unit is None and each.name in read:
                stated = read[each.name]
                return _first(stated).unit
        return ""

    def _argument(self, each: Input, read: Read | None, shared: str) -> Argument:
        if isinstance(read, str | date) or read is None:
            return read
        assert isinstance(each, QuantityInput)
        unit, place = shared if each.unit is None else each.unit, f"{self.name}, {each.name}"
        if isinstance(read, tuple):
            return tuple(each.number(quantity, unit, place) for quantity in read)
        return each.number(read, unit, place)

    def _quantity(self, value: float, read: Mapping[str, Read], shared: str) -> Quantity:
        if not isfinite(value):
            raise Refusal(self.name, s.NoFiniteAnswer(), "Look at the numbers again")
        own = shared if self.result is None else self.result
        asked = _first(read[self.like]).unit if self.like else own
        exact = float(Quantity(Decimal(value), own).exactly(asked))
        return Quantity(Decimal(f"{exact + 0.0:.{self.digits or _digits(read)}g}"), asked)


def _in_unit(warning: s.CalculationStatement, unit: str) -> s.CalculationStatement:
    """The warning with the unit of the result, where it tells one."""
    return replace(warning, unit=unit) if isinstance(warning, s.InUnitOfResult) else warning


def _first(read: Read) -> Quantity:
    first = read[0] if isinstance(read, tuple) else read
    assert isinstance(first, Quantity)
    return first


def _digits(read: Mapping[str, Read]) -> int:
    stated = [value for each in read.values() for value in (each if isinstance(each, tuple) else (each,))]
    most = max((len(value.value.as_tuple().digits) for value in stated if isinstance(value, Quantity)), default=0)
    return min(max(most, MIN_DIGITS), MAX_DIGITS)


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace("-", " ").replace("_", " ").split())


def written(read: Read) -> str:
    """An input as it is written on the command line."""
    return ", ".join(map(str, read)) if isinstance(read, tuple) else str(read)
