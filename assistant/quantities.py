"""Quantities: a decimal value, a unit, and the resolution it was stated with (7.50 is not 7.5).

Knows the units that a technician says or reads and what kind of quantity each measures; pint only converts.
Knows nothing of speech: how a unit is spoken stands in `grammars/<language>/units.yaml`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from functools import cache
from typing import TYPE_CHECKING

from assistant.errors import QuantityError

if TYPE_CHECKING:
    import pint


class Kind(StrEnum):
    """What is measured. Two quantities compare only within one kind."""

    LENGTH = "length"
    FORCE = "force"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    VOLUME = "volume"
    TORQUE = "torque"
    VOLTAGE = "voltage"
    CURRENT = "current"
    FREQUENCY = "frequency"
    SPEED = "rotational speed"
    TIME = "time"
    RUN_HOURS = "run hours"
    TURNS = "turns"
    SHARE = "share"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit. symbol: as written; kind: what it measures; pint: its name in pint's registry."""

    symbol: str
    kind: Kind
    pint: str


UNITS: dict[str, Unit] = {
    unit.symbol: unit
    for unit in (
        Unit("mm", Kind.LENGTH, "millimeter"),
        Unit("m", Kind.LENGTH, "meter"),
        Unit("N", Kind.FORCE, "newton"),
        Unit("kPa", Kind.PRESSURE, "kilopascal"),
        Unit("bar", Kind.PRESSURE, "bar"),
        Unit("psi", Kind.PRESSURE, "psi"),
        Unit("°C", Kind.TEMPERATURE, "degC"),
        Unit("L", Kind.VOLUME, "liter"),
        Unit("mL", Kind.VOLUME, "milliliter"),
        Unit("N.m", Kind.TORQUE, "newton_meter"),
        Unit("V", Kind.VOLTAGE, "volt"),
        Unit("A", Kind.CURRENT, "ampere"),
        Unit("Hz", Kind.FREQUENCY, "hertz"),
        Unit("rpm", Kind.SPEED, "revolutions_per_minute"),
        Unit("s", Kind.TIME, "second"),
        Unit("min", Kind.TIME, "minute"),
        Unit("h", Kind.RUN_HOURS, "hour"),
        Unit("turns", Kind.TURNS, "turn"),
        Unit("%", Kind.SHARE, "percent"),
        Unit("", Kind.COUNT, "dimensionless"),
    )
}

_WRITTEN = re.compile(r"^\s*([-−+]?\d+(?:\.\d+)?)\s*(\D.*?)?\s*$")


@cache
def _registry() -> pint.UnitRegistry[Decimal]:
    import pint  # heavy; loaded when something is converted

    return pint.UnitRegistry(non_int_type=Decimal)


def unit_named(symbol: str, place: str = "unit") -> Unit:
    """The unit with this symbol. Errors: QuantityError for a symbol that is not in `UNITS`."""
    try:
        return UNITS[symbol]
    except KeyError:
        known = ", ".join(sorted(s for s in UNITS if s))
        raise QuantityError(place, f"unknown unit {symbol!r}", f"Use one of {known}") from None


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit. value: finite decimal, its exponent is the resolution; unit: symbol in `UNITS`."""

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        if not self.value.is_finite():
            raise QuantityError("quantity", f"{self.value} is not a number", "Give a finite number")
        unit_named(self.unit, "quantity")

    @property
    def kind(self) -> Kind:
        """What is measured."""
        return UNITS[self.unit].kind

    @property
    def resolution(self) -> Decimal:
        """The smallest step that the statement shows: 7.50 mm has 0.01, in the quantity's unit."""
        exponent = self.value.as_tuple().exponent
        return Decimal((0, (1,), exponent if isinstance(exponent, int) else 0))

    def to(self, symbol: str) -> Quantity:
        """The same quantity in another unit of its kind, with three significant places more than stated.

        Errors: QuantityError when the kinds differ.
        """
        if symbol == self.unit:
            return self
        target = unit_named(symbol, "conversion")
        if target.kind is not self.kind:
            raise QuantityError(
                "conversion",
                f"{self} measures {self.kind}, {symbol or 'a count'} measures {target.kind}",
                f"Use a unit of {self.kind}",
            )
        there = _registry().Quantity(self.value, UNITS[self.unit].pint).to(target.pint)
        digits = max(len(self.value.as_tuple().digits) + 3, 6)
        return Quantity(Decimal(f"{Decimal(there.magnitude):.{digits}g}"), symbol)

    def __str__(self) -> str:
        return f"{plain(self.value)} {self.unit}".rstrip()


def plain(value: Decimal) -> str:
    """The decimal without exponent and with its trailing zeros: `7.50`, `-12`."""
    return f"{value:f}"


def parse(written: str, place: str = "quantity") -> Quantity:
    """`"7.5 mm"` -> Quantity. A number without a unit is refused: a limit without a unit is no limit.

    Errors: QuantityError with what is wrong and what would be right.
    """
    match = _WRITTEN.match(written)
    if not match:
        raise QuantityError(place, f"{written!r} is not a quantity", 'Write a number and a unit, such as "7.5 mm"')
    number, symbol = match[1].replace("−", "-"), (match[2] or "").strip()
    if not symbol:
        raise QuantityError(place, f"{written!r} has no unit", f'Write the unit too, such as "{number} mm"')
    try:
        value = Decimal(number)
    except InvalidOperation:  # pragma: no cover - the pattern admits decimals only
        raise QuantityError(place, f"{number!r} is not a number", "Write it in digits") from None
    return Quantity(value, unit_named(symbol, place).symbol)


@dataclass(frozen=True, slots=True)
class Limits:
    """An interval of one kind, both ends included. None means no limit on that side; at least one is set."""

    low: Quantity | None
    high: Quantity | None

    def __post_init__(self) -> None:
        if self.low is None and self.high is None:
            raise QuantityError(
                "limits", "neither end is set", 'Write "200 kPa to 450 kPa", "at most 5 kPa" or the like'
            )
        if self.low is not None and self.high is not None:
            if self.low.kind is not self.high.kind:
                raise QuantityError("limits", f"{self.low} and {self.high} differ in kind", "Use units of one kind")
            if self.low.value > self.high.to(self.low.unit).value:
                raise QuantityError("limits", f"{self.low} to {self.high} is reversed", "Write the lower one first")

    @property
    def kind(self) -> Kind:
        """What is limited."""
        end = self.low or self.high
        assert end is not None
        return end.kind

    def side(self, quantity: Quantity) -> int:
        """-1 below the low limit, 1 above the high one, 0 within (the ends belong to it)."""
        if self.low is not None and quantity.to(self.low.unit).value < self.low.value:
            return -1
        if self.high is not None and quantity.to(self.high.unit).value > self.high.value:
            return 1
        return 0

    def __str__(self) -> str:
        if self.low is None:
            return f"at most {self.high}"
        if self.high is None:
            return f"at least {self.low}"
        if self.low == self.high:
            return f"exactly {self.low}"
        return f"{self.low} to {self.high}"


def parse_limits(written: str, place: str = "limits") -> Limits:
    """`"200 kPa to 450 kPa"`, `"at most 5 kPa"`, `"at least 9.6 V"` -> Limits. Errors: QuantityError."""
    text = written.strip()
    if text.startswith("at most "):
        return Limits(None, parse(text.removeprefix("at most "), place))
    if text.startswith("at least "):
        return Limits(parse(text.removeprefix("at least "), place), None)
    low, separator, high = text.partition(" to ")
    if not separator:
        raise QuantityError(
            place,
            f"{written!r} is not an interval",
            'Write "200 kPa to 450 kPa", "at most 5 kPa" or "at least 9.6 V"',
        )
    return Limits(parse(low, place), parse(high, place))
