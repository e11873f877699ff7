"""Quantities: a decimal value, a unit, and the resolution it was stated with (7.50 is not 7.5).

Knows the units that a technician says or reads, what kind of quantity each measures, and its size.
A unit is one row of `KNOWN_UNITS`. With a name it can be said and heard; without one it is only written: in files, on
the command line, in results. A word for more than one unit (gallon, horsepower, ton) is a row of `SHARED_NAMES`.
Knows no words of a language: how a unit is said stands in `grammars/<language>/units.jsgf` (see `grammar/units.py`).
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
    """A unit.

    symbol: as it is written and kept.
    kind: what it measures.
    factor: its size in the reference unit of its kind, which is the one of factor 1.
    zero: where the scale's zero lies above absolute zero, for temperatures only.
    name: by which the grammars know it; empty for one that is only written.
    also: what else is heard in a reading that is asked for in it: symbols, words for several units, or `degrees`
        without a scale. Each costs hearing, so there are few, and none sounds like another of them.
    """

    symbol: str
    kind: Kind
    factor: Decimal = Decimal(1)
    zero: Decimal = Decimal(0)
    name: str = ""
    also: tuple[str, ...] = ()


# Exact by definition: NIST Special Publication 811 (2008), appendix B.8, and the footnotes there; a unit made of
# several is worked out from these, to the 28 figures of a decimal.
_THOUSAND, _THOUSANDTH, _MILLION = Decimal(1000), Decimal("0.001"), Decimal(1_000_000)
_INCH = Decimal("25.4")  # mm
_FOOT = 12 * _INCH
_POUND = Decimal("0.45359237")  # kg
_GRAVITY = Decimal("9.80665")  # N/kg, standard; so also N for a kgf
_POUND_FORCE = _POUND * _GRAVITY  # N
_PSI = _POUND_FORCE / (_INCH / 1000) ** 2  # Pa
_FOOT_POUND = _POUND_FORCE * _FOOT / 1000  # J
_HORSEPOWER = 550 * _POUND_FORCE * _FOOT / 1000  # W
_US_GALLON = 231 * (_INCH / 100) ** 3  # L
_IMPERIAL_GALLON = Decimal("4.54609")  # L
_YEAR = Decimal("365.25")  # days; a calendar is not counted by it


KNOWN_UNITS: dict[str, Unit] = {
    unit.symbol: unit
    for unit in (
        Unit("mm", Kind.LENGTH, name="millimetre", also=("in",)),
        Unit("m", Kind.LENGTH, _THOUSAND, name="metre", also=("ft",)),
        Unit("in", Kind.LENGTH, _INCH, name="inch", also=("mm",)),
        Unit("ft", Kind.LENGTH, _FOOT, name="foot", also=("m",)),
        Unit("cm", Kind.LENGTH, Decimal(10)),
        Unit("N", Kind.FORCE, name="newton", also=("lbf", "kgf")),
        Unit("lbf", Kind.FORCE, _POUND_FORCE, name="pound_force", also=("N",)),
        Unit("kgf", Kind.FORCE, _GRAVITY, name="kilogram_force", also=("N",)),
        Unit("kN", Kind.FORCE, _THOUSAND),
        Unit("kPa", Kind.PRESSURE, _THOUSAND, name="kilopascal", also=("bar", "psi")),
        Unit("bar", Kind.PRESSURE, Decimal(100_000), name="bar", also=("kPa", "psi")),
        Unit("psi", Kind.PRESSURE, _PSI, name="pound_per_square_inch", also=("kPa", "bar")),
        Unit("Pa", Kind.PRESSURE),
        Unit("mbar", Kind.PRESSURE, Decimal(100)),
        Unit("MPa", Kind.PRESSURE, _MILLION),
        Unit("kgf/cm²", Kind.PRESSURE, 10_000 * _GRAVITY),
        Unit("°C", Kind.TEMPERATURE, zero=Decimal("273.15"), name="degree_celsius", also=("degrees", "°F")),
        Unit("°F", Kind.TEMPERATURE, Decimal(5) / 9, Decimal("459.67"), "degree_fahrenheit", ("degrees", "°C")),
        Unit("K", Kind.TEMPERATURE_DIFFERENCE, name="kelvin", also=("degrees",)),
        Unit("L", Kind.VOLUME, name="litre", also=("US gal", "imp gal", "gallons", "US qt", "imp qt", "quarts")),
        Unit("mL", Kind.VOLUME, _THOUSANDTH, name="millilitre"),
        Unit("US gal", Kind.VOLUME, _US_GALLON, name="us_gallon", also=("L",)),
        Unit("imp gal", Kind.VOLUME, _IMPERIAL_GALLON, name="imperial_gallon", also=("L",)),
        Unit("US qt", Kind.VOLUME, _US_GALLON / 4, name="us_quart", also=("L",)),
        Unit("imp qt", Kind.VOLUME, _IMPERIAL_GALLON / 4, name="imperial_quart", also=("L",)),
        Unit("US pt", Kind.VOLUME, _US_GALLON / 8),
        Unit("imp pt", Kind.VOLUME, _IMPERIAL_GALLON / 8),
        Unit("N.m", Kind.TORQUE, name="newton_metre", also=("lbf.ft",)),
        Unit("lbf.ft", Kind.TORQUE, _FOOT_POUND, name="pound_foot", also=("N.m",)),
        Unit("kgf.m", Kind.TORQUE, _GRAVITY),
        Unit("lbf.in", Kind.TORQUE, _FOOT_POUND / 12),
        Unit("V", Kind.VOLTAGE, name="volt"),
        Unit("mV", Kind.VOLTAGE, _THOUSANDTH, name="millivolt"),
        Unit("kV", Kind.VOLTAGE, _THOUSAND),
        Unit("A", Kind.CURRENT, name="ampere"),
        Unit("mA", Kind.CURRENT, _THOUSANDTH, name="milliampere"),
        Unit("mΩ", Kind.RESISTANCE, _THOUSANDTH, name="milliohm"),
        Unit("Ω", Kind.RESISTANCE, name="ohm", also=("kΩ",)),
        Unit("kΩ", Kind.RESISTANCE, _THOUSAND, name="kilohm", also=("Ω", "MΩ")),
        Unit("MΩ", Kind.RESISTANCE, _MILLION, name="megohm", also=("kΩ",)),
        Unit("GΩ", Kind.RESISTANCE, _THOUSAND * _MILLION),
        Unit("Hz", Kind.FREQUENCY, name="hertz"),
        Unit("rpm", Kind.SPEED, name="revolution_per_minute"),
        Unit("kW", Kind.POWER, _THOUSAND, name="kilowatt", also=("mechanical hp", "metric hp", "horsepower")),
        Unit("mechanical hp", Kind.POWER, _HORSEPOWER, name="mechanical_horsepower", also=("kW",)),
        Unit("metric hp", Kind.POWER, 75 * _GRAVITY, name="metric_horsepower", also=("kW",)),
        Unit("W", Kind.POWER),
        Unit("kVA", Kind.APPARENT_POWER, _THOUSAND, name="kilovolt_ampere"),
        Unit("VA", Kind.APPARENT_POWER),
        Unit("kWh", Kind.ENERGY, Decimal("3.6"), name="kilowatt_hour"),
        Unit("MJ", Kind.ENERGY),
        Unit("g", Kind.MASS, _THOUSANDTH, name="gram"),
        Unit("kg", Kind.MASS, name="kilogram"),
        Unit("t", Kind.MASS, _THOUSAND, name="metric_ton", also=("short ton", "long ton", "tons")),
        Unit("short ton", Kind.MASS, 2000 * _POUND, name="short_ton", also=("t",)),
        Unit("long ton", Kind.MASS, 2240 * _POUND, name="long_ton", also=("t",)),
        Unit("lb", Kind.MASS, _POUND),
        Unit("kg/L", Kind.DENSITY, _THOUSAND, name="kilogram_per_litre"),
        Unit("kg/m³", Kind.DENSITY),
        Unit("g/mL", Kind.DENSITY, _THOUSAND),
        Unit("L/min", Kind.FLOW, Decimal(60), name="litre_per_minute"),
        Unit("L/h", Kind.FLOW, name="litre_per_hour", also=("US gal/h", "imp gal/h", "gallons/h")),
        Unit("US gal/h", Kind.FLOW, _US_GALLON, name="us_gallon_per_hour", also=("L/h",)),
        Unit("imp gal/h", Kind.FLOW, _IMPERIAL_GALLON, name="imperial_gallon_per_hour", also=("L/h",)),
        Unit("mL/h", Kind.FLOW, _THOUSANDTH),
        Unit("°", Kind.ANGLE, name="degree_of_angle"),
        Unit("s", Kind.TIME, name="second"),
        Unit("min", Kind.TIME, Decimal(60), name="minute"),
        Unit("h", Kind.RUN_HOURS, name="hour"),
        Unit("turns", Kind.TURNS, name="turn"),
        Unit("%", Kind.SHARE, name="percent"),
        Unit("vol%", Kind.CONCENTRATION_BY_VOLUME),
        Unit("mass%", Kind.CONCENTRATION_BY_MASS),
        Unit("kg/m", Kind.MASS_PER_LENGTH),
        Unit("g/m", Kind.MASS_PER_LENGTH, _THOUSANDTH),
        Unit("N.m²", Kind.BENDING_STIFFNESS),
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
        Unit("", Kind.COUNT),
    )
}
"""Every unit. One that has a name can be said and heard."""

UNITS: dict[str, Unit] = {symbol: unit for symbol, unit in KNOWN_UNITS.items() if unit.name or not symbol}
"""Units that can be said and heard, and the count, which has no word."""
WRITTEN_UNITS: dict[str, Unit] = {symbol: unit for symbol, unit in KNOWN_UNITS.items() if symbol not in UNITS}
"""Units that are only written."""


@dataclass(frozen=True, slots=True)
class SharedName:
    """What more than one unit is called; which is meant is asked, never guessed.

    written: how it is written; the last of them is kept when it is heard.
    units: the symbols that it may mean, in the order in which they are offered.
    name: by which the grammars know it, as of a unit; empty where it is only written.
    """

    written: tuple[str, ...]
    units: tuple[str, ...]
    name: str = ""


SHARED_NAMES = (
    SharedName(("gal", "gallon", "gallons"), ("US gal", "imp gal"), "gallons"),
    SharedName(("qt", "quart", "quarts"), ("US qt", "imp qt"), "quarts"),
    SharedName(("pt", "pint", "pints"), ("US pt", "imp pt")),
    SharedName(("gal/h", "gallons/h"), ("US gal/h", "imp gal/h"), "gallons_per_hour"),
    SharedName(("hp", "HP", "horsepower"), ("mechanical hp", "metric hp"), "horsepower"),
    SharedName(("ton", "tons"), ("t", "short ton", "long ton"), "tons"),
    SharedName(("pound", "pounds", "lbs"), ("lb", "lbf")),
    SharedName(("deg", "degree", "degrees"), ("°C", "°F", "°")),
)
AMBIGUOUS: dict[str, tuple[str, ...]] = {written: shared.units for shared in SHARED_NAMES for written in shared.written}
"""What is written -> the units that it may mean. The writer is asked which."""

ALIASES: dict[str, str] = {
    "mohm": "mΩ", "ohm": "Ω", "ohms": "Ω", "kohm": "kΩ", "Mohm": "MΩ", "Gohm": "GΩ",  # m and M are never the same
    "degC": "°C", "degF": "°F", "Nm": "N.m", "N·m": "N.m", "N.m2": "N.m²", "ft.lbf": "lbf.ft", "in.lbf": "lbf.in",
    "kg/m3": "kg/m³", "kgf/cm2": "kgf/cm²", "l": "L", "ml": "mL", "dBA": "dB(A)", "PS": "metric hp",
    "day": "days", "week": "weeks", "month": "months", "year": "years", "turn": "turns",
}  # fmt: skip
"""Other ways to write a unit, for keyboards without the sign; the symbol is what is kept."""

ABSOLUTE_ZERO: dict[str, Decimal] = {unit.symbol: -unit.zero for unit in KNOWN_UNITS.values() if unit.zero}
MAX_DIGITS = 15  # more is no measurement
MAX_CHARACTERS = 60  # of a written quantity
MAX_PLACES, MIN_PLACES = 30, -1100  # powers of ten; a float that is written out exactly goes down to -1074
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
    """A value with its unit.

    value: finite decimal; its exponent is the resolution.
    unit: symbol in `KNOWN_UNITS`.
    """

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        if not self.value.is_finite():
            raise QuantityError("quantity", f"{self.value} is not a number", "Give a finite number")
        if self.value.adjusted() > MAX_PLACES or int(self.value.as_tuple().exponent) < MIN_PLACES:
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

    def restated(self, symbol: str, max_decimals: int = MAX_DIGITS) -> Quantity:
        """The same quantity in another unit of its kind, as finely as it was stated: 45 psi is 310 kPa.

        Its last place is the largest that is no coarser than one step of the statement, and no coarser than ones.
        Errors: QuantityError when the kinds differ.
        """
        if symbol == self.unit:
            return self
        step = abs(Quantity(self.resolution, self.unit).difference_in(symbol))
        last = Decimal((0, (1,), max(min(0, step.adjusted()), -max_decimals)))
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


def counted(number: int, noun: str, plural: str = "") -> str:
    """A count of things: `1 step`, `2 steps`. plural: where it is not the noun with an s."""
    return f"{number} {noun if number == 1 else plural or f'{noun}s'}"


def parse(written: str, place: str = "quantity", kind: Kind | None = None) -> Quantity:
    """`"7.5 mm"` -> Quantity. A number without a unit is refused: a limit without a unit is no limit.

    kind: what is expected, for naming the units to choose from; a count is a number by itself.
    Errors: QuantityError with what is wrong and what would be right.
    """
    if len(written) > MAX_CHARACTERS:
        cause = f"{written[:20]!r} and so on is longer than a quantity is written"
        raise QuantityError(place, cause, 'Write a number and a unit, such as "7.5 mm"')
    match = _WRITTEN.match(written)
    if not match:
        raise QuantityError(place, f"{written!r} is not a quantity", 'Write a number and a unit, such as "7.5 mm"')
    number, symbol = match[1].replace("−", "-"), (match[2] or "").strip().replace("\N{OHM SIGN}", "Ω")
    if _EXPONENT.match(symbol):
        raise QuantityError(place, f"{written!r} is written with an exponent", "Write the number out in digits")
    if sum(map(str.isdecimal, number)) > MAX_DIGITS:
        raise QuantityError(place, "the number has more digits than can be measured", f"Give at most {MAX_DIGITS}")
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
