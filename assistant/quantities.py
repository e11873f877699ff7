"""Quantities: a decimal value, a unit, and the resolution it was stated with (7.50 is not 7.5).

Knows the units that a technician says or reads, what kind of quantity each measures, and its size.
`UNITS` can be said and heard, `WRITTEN_UNITS` only be written: in files, on the command line, in results. A unit that
more than one thing is called by (gallon, horsepower, ton) is asked about, never guessed.
Knows nothing of speech: how a unit is spoken stands in `grammars/<language>/`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from assistant.errors import QuantityError


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
    TEMPERATURE_DIFFERENCE = "temperature difference"
    RESISTANCE = "resistance"
    POWER = "power"
    APPARENT_POWER = "apparent power"
    ENERGY = "energy"
    MASS = "mass"
    DENSITY = "density"
    CONCENTRATION_BY_VOLUME = "concentration by volume"
    CONCENTRATION_BY_MASS = "concentration by mass"
    MASS_PER_LENGTH = "mass per length"
    BENDING_STIFFNESS = "bending stiffness"
    FLOW = "flow"
    VOLUME_PER_ENERGY = "volume per energy"
    MASS_PER_ENERGY = "mass per energy"
    CALORIFIC_VALUE = "calorific value"
    ANGLE = "angle"
    SOUND_LEVEL = "sound level"
    CALENDAR_TIME = "calendar time"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit. symbol: as written; kind: what it measures.

    factor: its size in the reference unit of its kind, which is the one of factor 1; zero: where the scale's zero
    lies above absolute zero, for temperatures only.
    """

    symbol: str
    kind: Kind
    factor: Decimal = Decimal(1)
    zero: Decimal = Decimal(0)


# Exact by definition: NIST Special Publication 811 (2008), appendix B.8, and the footnotes there; a unit made of
# several is worked out from these, to the 28 figures of a decimal.
_THOUSAND, _THOUSANDTH, _MILLION = Decimal(1000), Decimal("0.001"), Decimal(1_000_000)
_INCH = Decimal("25.4")  # mm
_FOOT = 12 * _INCH
_POUND = Decimal("0.45359237")  # kg
_GRAVITY = Decimal("9.80665")  # N/kg, standard; so also N for a kgf
_POUND_FORCE = _POUND * _GRAVITY  # N
_US_GALLON = 231 * (_INCH / 100) ** 3  # L
_IMPERIAL_GALLON = Decimal("4.54609")  # L
_YEAR = Decimal("365.25")  # days; a calendar is not counted by it


UNITS: dict[str, Unit] = {
    unit.symbol: unit
    for unit in (
        Unit("mm", Kind.LENGTH),
        Unit("m", Kind.LENGTH, _THOUSAND),
        Unit("N", Kind.FORCE),
        Unit("kPa", Kind.PRESSURE, _THOUSAND),
        Unit("bar", Kind.PRESSURE, Decimal(100_000)),
        Unit("psi", Kind.PRESSURE, _POUND_FORCE / (_INCH / 1000) ** 2),
        Unit("°C", Kind.TEMPERATURE, zero=Decimal("273.15")),
        Unit("L", Kind.VOLUME),
        Unit("mL", Kind.VOLUME, _THOUSANDTH),
        Unit("N.m", Kind.TORQUE),
        Unit("V", Kind.VOLTAGE),
        Unit("A", Kind.CURRENT),
        Unit("Hz", Kind.FREQUENCY),
        Unit("rpm", Kind.SPEED),
        Unit("s", Kind.TIME),
        Unit("min", Kind.TIME, Decimal(60)),
        Unit("h", Kind.RUN_HOURS),
        Unit("turns", Kind.TURNS),
        Unit("%", Kind.SHARE),
        Unit("in", Kind.LENGTH, _INCH),
        Unit("ft", Kind.LENGTH, _FOOT),
        Unit("lbf", Kind.FORCE, _POUND_FORCE),
        Unit("kgf", Kind.FORCE, _GRAVITY),
        Unit("°F", Kind.TEMPERATURE, Decimal(5) / 9, Decimal("459.67")),
        Unit("K", Kind.TEMPERATURE_DIFFERENCE),
        Unit("US gal", Kind.VOLUME, _US_GALLON),
        Unit("imp gal", Kind.VOLUME, _IMPERIAL_GALLON),
        Unit("US qt", Kind.VOLUME, _US_GALLON / 4),
        Unit("imp qt", Kind.VOLUME, _IMPERIAL_GALLON / 4),
        Unit("lbf.ft", Kind.TORQUE, _POUND_FORCE * _FOOT / 1000),
        Unit("mV", Kind.VOLTAGE, _THOUSANDTH),
        Unit("mA", Kind.CURRENT, _THOUSANDTH),
        Unit("mΩ", Kind.RESISTANCE, _THOUSANDTH),
        Unit("Ω", Kind.RESISTANCE),
        Unit("kΩ", Kind.RESISTANCE, _THOUSAND),
        Unit("MΩ", Kind.RESISTANCE, _MILLION),
        Unit("kW", Kind.POWER, _THOUSAND),
        Unit("mechanical hp", Kind.POWER, 550 * _POUND_FORCE * _FOOT / 1000),
        Unit("metric hp", Kind.POWER, 75 * _GRAVITY),
        Unit("kVA", Kind.APPARENT_POWER, _THOUSAND),
        Unit("kWh", Kind.ENERGY, Decimal("3.6")),
        Unit("g", Kind.MASS, _THOUSANDTH),
        Unit("kg", Kind.MASS),
        Unit("t", Kind.MASS, _THOUSAND),
        Unit("short ton", Kind.MASS, 2000 * _POUND),
        Unit("long ton", Kind.MASS, 2240 * _POUND),
        Unit("kg/L", Kind.DENSITY, _THOUSAND),
        Unit("L/min", Kind.FLOW, Decimal(60)),
        Unit("L/h", Kind.FLOW),
        Unit("US gal/h", Kind.FLOW, _US_GALLON),
        Unit("imp gal/h", Kind.FLOW, _IMPERIAL_GALLON),
        Unit("°", Kind.ANGLE),
        Unit("", Kind.COUNT),
    )
}
"""Units that can be said and heard: each has a rule in the grammar and a spoken form."""

WRITTEN_UNITS: dict[str, Unit] = {
    unit.symbol: unit
    for unit in (
        Unit("cm", Kind.LENGTH, Decimal(10)),
        Unit("kN", Kind.FORCE, _THOUSAND),
        Unit("Pa", Kind.PRESSURE),
        Unit("mbar", Kind.PRESSURE, Decimal(100)),
        Unit("MPa", Kind.PRESSURE, _MILLION),
        Unit("kgf/cm²", Kind.PRESSURE, 10_000 * _GRAVITY),
        Unit("US pt", Kind.VOLUME, _US_GALLON / 8),
        Unit("imp pt", Kind.VOLUME, _IMPERIAL_GALLON / 8),
        Unit("kgf.m", Kind.TORQUE, _GRAVITY),
        Unit("lbf.in", Kind.TORQUE, _POUND_FORCE * _INCH / 1000),
        Unit("kV", Kind.VOLTAGE, _THOUSAND),
        Unit("GΩ", Kind.RESISTANCE, _THOUSAND * _MILLION),
        Unit("W", Kind.POWER),
        Unit("VA", Kind.APPARENT_POWER),
        Unit("MJ", Kind.ENERGY),
        Unit("lb", Kind.MASS, _POUND),
        Unit("kg/m³", Kind.DENSITY),
        Unit("g/mL", Kind.DENSITY, _THOUSAND),
        Unit("vol%", Kind.CONCENTRATION_BY_VOLUME),
        Unit("mass%", Kind.CONCENTRATION_BY_MASS),
        Unit("kg/m", Kind.MASS_PER_LENGTH),
        Unit("g/m", Kind.MASS_PER_LENGTH, _THOUSANDTH),
        Unit("N.m²", Kind.BENDING_STIFFNESS),
        Unit("mL/h", Kind.FLOW, _THOUSANDTH),
        Unit("L/kWh", Kind.VOLUME_PER_ENERGY),
        Unit("mL/kWh", Kind.VOLUME_PER_ENERGY, _THOUSANDTH),
        Unit("g/kWh", Kind.MASS_PER_ENERGY, _THOUSANDTH),
        Unit("kg/kWh", Kind.MASS_PER_ENERGY),
        Unit("MJ/kg", Kind.CALORIFIC_VALUE),
        Unit("kWh/kg", Kind.CALORIFIC_VALUE, Decimal("3.6")),
        Unit("dB(A)", Kind.SOUND_LEVEL),  # a level is never converted
        Unit("days", Kind.CALENDAR_TIME),
        Unit("weeks", Kind.CALENDAR_TIME, Decimal(7)),
        Unit("months", Kind.CALENDAR_TIME, _YEAR / 12),  # a twelfth of a year; dates are counted by the calendar
        Unit("years", Kind.CALENDAR_TIME, _YEAR),
    )
}
"""Units that are only written. A row moves to `UNITS` with its spoken form and its rule in the grammar."""

KNOWN_UNITS: dict[str, Unit] = UNITS | WRITTEN_UNITS

AMBIGUOUS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("gal", "gallon", "gallons"), ("US gal", "imp gal")),
    **dict.fromkeys(("qt", "quart", "quarts"), ("US qt", "imp qt")),
    **dict.fromkeys(("pt", "pint", "pints"), ("US pt", "imp pt")),
    **dict.fromkeys(("gal/h", "gallons/h"), ("US gal/h", "imp gal/h")),
    **dict.fromkeys(("hp", "HP", "horsepower"), ("mechanical hp", "metric hp")),
    **dict.fromkeys(("ton", "tons"), ("t", "short ton", "long ton")),
    **dict.fromkeys(("pound", "pounds", "lbs"), ("lb", "lbf")),
    **dict.fromkeys(("deg", "degree", "degrees"), ("°C", "°F", "°")),
}
"""What is written -> the units that it may mean. The writer is asked which."""

ALIASES: dict[str, str] = {
    "mohm": "mΩ", "ohm": "Ω", "ohms": "Ω", "kohm": "kΩ", "Mohm": "MΩ", "Gohm": "GΩ",  # m and M are never the same
    "degC": "°C", "degF": "°F", "Nm": "N.m", "N·m": "N.m", "N.m2": "N.m²", "ft.lbf": "lbf.ft", "in.lbf": "lbf.in",
    "kg/m3": "kg/m³", "kgf/cm2": "kgf/cm²", "l": "L", "ml": "mL", "dBA": "dB(A)", "PS": "metric hp",
    "day": "days", "week": "weeks", "month": "months", "year": "years", "turn": "turns",
}  # fmt: skip
"""Other ways to write a unit, for keyboards without the sign; the symbol is what is kept."""

ABSOLUTE_ZERO: dict[str, Decimal] = {unit.symbol: -unit.zero for unit in KNOWN_UNITS.values() if unit.zero}
MOST_DIGITS = 15  # more is no measurement
MOST_CHARACTERS = 60  # of a written quantity
MOST_PLACES, LEAST_PLACES = 30, -1100  # powers of ten; a float that is written out exactly goes down to -1074
_EXPONENT = re.compile(r"[eE][-+]?\d")
_WRITTEN = re.compile(r"^\s*([-−+]?\d+(?:\.\d+)?)\s*(\D.*?)?\s*$")


def unit_named(symbol: str, place: str = "unit", kind: Kind | None = None) -> Unit:
    """The unit with this symbol. kind: what is expected, for naming the units to choose from.

    Errors: QuantityError for a symbol that is not in `KNOWN_UNITS`, and for one that could mean several.
    """
    if symbol in KNOWN_UNITS:
        return KNOWN_UNITS[symbol]
    if choices := AMBIGUOUS.get(symbol):
        raise QuantityError(place, f"{symbol!r} can be {' or '.join(choices)}", "Say which")
    near = sorted(known for known in KNOWN_UNITS if known.casefold() == symbol.casefold())
    if near:
        remedy = f"Capitals count: write {' or '.join(near)}"
    else:
        choices = tuple(u.symbol for u in KNOWN_UNITS.values() if u.kind is kind) if kind else tuple(UNITS)
        remedy = f"Use one of {', '.join(sorted(filter(None, choices)))}"
    raise QuantityError(place, f"unknown unit {symbol!r}", remedy)


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value with its unit. value: finite decimal, its exponent is the resolution; unit: symbol in `KNOWN_UNITS`."""

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        if not self.value.is_finite():
            raise QuantityError("quantity", f"{self.value} is not a number", "Give a finite number")
        if self.value.adjusted() > MOST_PLACES or int(self.value.as_tuple().exponent) < LEAST_PLACES:
            raise QuantityError("quantity", f"{self.value:.3g} is nothing that can be measured", "Measure again")
        unit_named(self.unit, "quantity")

    @property
    def kind(self) -> Kind:
        """What is measured."""
        return KNOWN_UNITS[self.unit].kind

    @property
    def resolution(self) -> Decimal:
        """The smallest step that the statement shows: 7.50 mm has 0.01, in the quantity's unit."""
        exponent = self.value.as_tuple().exponent
        return Decimal((0, (1,), exponent if isinstance(exponent, int) else 0))

    def exactly(self, symbol: str) -> Decimal:
        """The value in another unit of its kind, unrounded: for comparing, not for showing.

        Errors: QuantityError when the kinds differ.
        """
        if symbol == self.unit:
            return self.value
        target = unit_named(symbol, "conversion")
        if target.kind is not self.kind:
            raise QuantityError(
                "conversion",
                f"{self} measures {self.kind}, {symbol or 'a count'} measures {target.kind}",
                f"Use a unit of {self.kind}",
            )
        own = KNOWN_UNITS[self.unit]
        return (self.value + own.zero) * own.factor / target.factor - target.zero

    def difference_in(self, symbol: str) -> Decimal:
        """As a difference: 5 K are 5 in °C, 1 °C is 1.8 in °F. Elsewhere the same as `exactly`.

        Errors: QuantityError when the kinds differ.
        """
        scale = "°C" if self.unit == "K" and unit_named(symbol).kind is Kind.TEMPERATURE else self.unit
        return Quantity(self.value, scale).exactly(symbol) - Quantity(Decimal(0), scale).exactly(symbol)

    def to(self, symbol: str) -> Quantity:
        """The same quantity in another unit of its kind, with three significant places more than stated.

        Errors: QuantityError when the kinds differ.
        """
        if symbol == self.unit:
            return self
        digits = max(len(self.value.as_tuple().digits) + 3, 6)
        return Quantity(Decimal(f"{self.exactly(symbol):.{digits}g}"), symbol)

    def restated(self, symbol: str, most_decimals: int = MOST_DIGITS) -> Quantity:
        """The same quantity in another unit of its kind, as finely as it was stated: 45 psi is 310 kPa.

        Its last place is the largest that is no coarser than one step of the statement, and no coarser than ones.
        Errors: QuantityError when the kinds differ.
        """
        if symbol == self.unit:
            return self
        step = abs(Quantity(self.resolution, self.unit).difference_in(symbol))
        last = Decimal((0, (1,), max(min(0, step.adjusted()), -most_decimals)))
        return Quantity(self.exactly(symbol).quantize(last), symbol)

    def __str__(self) -> str:
        return f"{plain(self.value)} {self.unit}".rstrip()


def _exceeds(value: Decimal, other: Decimal) -> bool:
    """Whether a value is larger, by more than what a conversion there and back may change in its last places."""
    return value - other > Decimal("1e-15") * max(Decimal(1), abs(value), abs(other))


def significant(value: float, unit: str, digits: int) -> Quantity:
    """A number that was worked out, to so many significant digits. Errors: QuantityError when it is not finite."""
    return Quantity(Decimal(f"{value:.{digits}g}"), unit)


def plain(value: Decimal) -> str:
    """The decimal without exponent and with its trailing zeros: `7.50`, `-12`."""
    return f"{value:f}"


def counted(number: int, one: str, several: str = "") -> str:
    """A count of things: `1 step`, `2 steps`. several: where it is not the word with an s."""
    return f"{number} {one if number == 1 else several or f'{one}s'}"


def parse(written: str, place: str = "quantity", kind: Kind | None = None) -> Quantity:
    """`"7.5 mm"` -> Quantity. A number without a unit is refused: a limit without a unit is no limit.

    kind: what is expected, for naming the units to choose from; a count is a number by itself.
    Errors: QuantityError with what is wrong and what would be right.
    """
    if len(written) > MOST_CHARACTERS:
        cause = f"{written[:20]!r} and so on is longer than a quantity is written"
        raise QuantityError(place, cause, 'Write a number and a unit, such as "7.5 mm"')
    match = _WRITTEN.match(written)
    if not match:
        raise QuantityError(place, f"{written!r} is not a quantity", 'Write a number and a unit, such as "7.5 mm"')
    number, symbol = match[1].replace("−", "-"), (match[2] or "").strip().replace("\N{OHM SIGN}", "Ω")
    if _EXPONENT.match(symbol):
        raise QuantityError(place, f"{written!r} is written with an exponent", "Write the number out in digits")
    if sum(map(str.isdecimal, number)) > MOST_DIGITS:
        raise QuantityError(place, "the number has more digits than can be measured", f"Give at most {MOST_DIGITS}")
    if not symbol and kind is not Kind.COUNT:
        raise QuantityError(place, f"{written!r} has no unit", f'Write the unit too, such as "{number} mm"')
    unit = unit_named(ALIASES.get(symbol, symbol), place, kind)
    value = Decimal(number)
    if value < ABSOLUTE_ZERO.get(unit.symbol, value):
        lowest = f"{plain(ABSOLUTE_ZERO[unit.symbol])} {unit.symbol}"
        raise QuantityError(place, f"{written!r} is below absolute zero, {lowest}", "Measure again")
    return Quantity(value, unit.symbol)


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
            if _exceeds(self.low.value, self.high.exactly(self.low.unit)):
                raise QuantityError("limits", f"{self.low} to {self.high} is reversed", "Write the lower one first")

    @property
    def kind(self) -> Kind:
        """What is limited."""
        end = self.low or self.high
        assert end is not None
        return end.kind

    def side(self, quantity: Quantity) -> int:
        """-1 below the low limit, 1 above the high one, 0 within (the ends belong to it)."""
        if self.low is not None and _exceeds(self.low.value, quantity.exactly(self.low.unit)):
            return -1
        if self.high is not None and _exceeds(quantity.exactly(self.high.unit), self.high.value):
            return 1
        return 0

    def around(self, quantity: Quantity) -> Limits:
        """These limits of a difference, placed about a quantity: within 0.4 L of 2.4 L is 2.0 L to 2.8 L.

        Errors: QuantityError when the kinds differ.
        """
        low, high = (
            None if end is None else Quantity(quantity.value + end.difference_in(quantity.unit), quantity.unit)
            for end in (self.low, self.high)
        )
        return Limits(low, high)

    def restate(self, quantity: Quantity) -> Quantity:
        """The quantity in the unit of these limits, rounded as it was stated unless that moves it over an end."""
        end = self.low or self.high
        assert end is not None
        rounded = quantity.restated(end.unit)
        return rounded if self.side(rounded) == self.side(quantity) else quantity.to(end.unit)

    def compared(self, quantity: Quantity) -> str:
        """As it was stated, and in the unit of these limits where that is another: `45 psi (310 kPa)`."""
        restated = self.restate(quantity)
        return str(quantity) if restated.unit == quantity.unit else f"{quantity} ({restated})"

    def __str__(self) -> str:
        if self.low is None:
            return f"at most {self.high}"
        if self.high is None:
            return f"at least {self.low}"
        if self.low == self.high:
            return f"exactly {self.low}"
        return f"{self.low} to {self.high}"


def parse_limits(written: str, place: str = "limits") -> Limits:
    """`"200 kPa to 450 kPa"`, `"at most 5 kPa"`, `"at least 9.6 V"`, `"37 N.m ± 3 N.m"` -> Limits.

    `"within 0.4 L"`, of a difference, is -0.4 L to 0.4 L. Errors: QuantityError.
    """
    text = written.strip()
    target, either_way, tolerance = text.partition("±")
    if text.startswith("within ") or either_way:
        tolerated = parse(tolerance if either_way else text.removeprefix("within "), place)
        if tolerated.value < 0:
            raise QuantityError(place, f"{tolerated} is no tolerance", "Write it without a sign")
        middle = parse(target, place) if either_way else Quantity(Decimal(0), tolerated.unit)
        return Limits(Quantity(-tolerated.value, tolerated.unit), tolerated).around(middle)
    if text.startswith("at most "):
        return Limits(None, parse(text.removeprefix("at most "), place))
    if text.startswith("at least "):
        return Limits(parse(text.removeprefix("at least "), place), None)
    low, separator, high = text.partition(" to ")
    if not separator:
        raise QuantityError(
            place,
            f"{written!r} is not an interval",
            'Write "200 kPa to 450 kPa", "at most 5 kPa", "at least 9.6 V" or "37 N.m ± 3 N.m"',
        )
    return Limits(parse(low, place), parse(high, place))
