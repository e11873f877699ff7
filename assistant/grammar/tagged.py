"""Tags along a path become a typed meaning, once; and the offers that a reading makes.

Knows the tags of the shipped grammars. Refuses to know how anything was heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from assistant.errors import GrammarError
from assistant.grammar.expectation import Offer, Risk
from assistant.grammar.numbers import fold, is_number_tag
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Passphrase, Reason, Role, Spelled
from assistant.quantities import AMBIGUOUS, UNITS, unit_named

UNIT_RULES: dict[str, str] = {
    "mm": "millimetre",
    "m": "metre",
    "in": "inch",
    "ft": "foot",
    "N": "newton",
    "lbf": "pound_force",
    "kgf": "kilogram_force",
    "kPa": "kilopascal",
    "bar": "bar",
    "psi": "pound_per_square_inch",
    "°C": "degree_celsius",
    "°F": "degree_fahrenheit",
    "K": "kelvin",
    "L": "litre",
    "mL": "millilitre",
    "US gal": "us_gallon",
    "imp gal": "imperial_gallon",
    "US qt": "us_quart",
    "imp qt": "imperial_quart",
    "N.m": "newton_metre",
    "lbf.ft": "pound_foot",
    "V": "volt",
    "mV": "millivolt",
    "A": "ampere",
    "mA": "milliampere",
    "mΩ": "milliohm",
    "Ω": "ohm",
    "kΩ": "kilohm",
    "MΩ": "megohm",
    "Hz": "hertz",
    "rpm": "revolution_per_minute",
    "kW": "kilowatt",
    "mechanical hp": "mechanical_horsepower",
    "metric hp": "metric_horsepower",
    "kVA": "kilovolt_ampere",
    "kWh": "kilowatt_hour",
    "g": "gram",
    "kg": "kilogram",
    "t": "metric_ton",
    "short ton": "short_ton",
    "long ton": "long_ton",
    "kg/L": "kilogram_per_litre",
    "L/min": "litre_per_minute",
    "L/h": "litre_per_hour",
    "US gal/h": "us_gallon_per_hour",
    "imp gal/h": "imperial_gallon_per_hour",
    "°": "degree_of_angle",
    "s": "second",
    "min": "minute",
    "h": "hour",
    "turns": "turn",
    "%": "percent",
}
"""The public rule of `units.jsgf` for each unit symbol; a count has none."""

AMBIGUOUS_RULES: dict[str, str] = {
    "gallons": "gallons",
    "quarts": "quarts",
    "gallons/h": "gallons_per_hour",
    "horsepower": "horsepower",
    "tons": "tons",
}
"""The public rule of `units.jsgf` for each word that names several units: keys of `AMBIGUOUS`."""

_DEGREES = "degrees"  # the rule without a tag: the scale that was asked for

ALSO_SAID: dict[str, tuple[str, ...]] = {
    "mm": ("in",),
    "in": ("mm",),
    "m": ("ft",),
    "ft": ("m",),
    "N": ("lbf", "kgf"),
    "lbf": ("N",),
    "kgf": ("N",),
    "kPa": ("bar", "psi"),
    "bar": ("kPa", "psi"),
    "psi": ("kPa", "bar"),
    "°C": (_DEGREES, "°F"),
    "°F": (_DEGREES, "°C"),
    "K": (_DEGREES,),
    "L": ("US gal", "imp gal", "gallons", "US qt", "imp qt", "quarts"),
    "US gal": ("L",),
    "imp gal": ("L",),
    "US qt": ("L",),
    "imp qt": ("L",),
    "N.m": ("lbf.ft",),
    "lbf.ft": ("N.m",),
    "Ω": ("kΩ",),
    "kΩ": ("Ω", "MΩ"),
    "MΩ": ("kΩ",),
    "kW": ("mechanical hp", "metric hp", "horsepower"),
    "mechanical hp": ("kW",),
    "metric hp": ("kW",),
    "t": ("short ton", "long ton", "tons"),
    "short ton": ("t",),
    "long ton": ("t",),
    "L/h": ("US gal/h", "imp gal/h", "gallons/h"),
    "US gal/h": ("L/h",),
    "imp gal/h": ("L/h",),
}
"""What else may be said in a reading that is asked for in a unit. Each entry costs hearing, so the lists are short,
and no list holds both milliohms and megohms, metres and millimetres, or another pair that sounds alike."""

_OWN, _OTHER = 8, 1  # how much likelier the unit that was asked for is than each other one


def meaning(offer: Offer, tags: Sequence[str]) -> Meaning:
    """What a path through this offer means.

    Errors: GrammarError when the tags do not fit the offer's type (a fault of the grammar, not of the speaker).
    """
    place = f"offer {offer.rule!r}"
    if offer.meaning is Amount:
        symbols = [tag for tag in tags if not is_number_tag(tag)]
        if len(symbols) > 1 or any(symbol not in UNITS and symbol not in AMBIGUOUS_RULES for symbol in symbols):
            raise GrammarError(place, f"its tags {list(tags)} are no amount", "Use <numbers.*> and one of <units.*>")
        return Amount(fold(tag for tag in tags if is_number_tag(tag)), symbols[0] if symbols else None)
    key = " ".join(tags) if tags else offer.key
    if not key:
        raise GrammarError(place, "it has neither a tag nor a key", "Give the offer a key")
    if offer.meaning is Command:
        try:
            return Command(CommandName(key))
        except ValueError:
            known = ", ".join(CommandName)
            raise GrammarError(place, f"{key!r} is no command", f"Use one of {known}") from None
    if offer.meaning is Answer:
        return Answer(key)
    if offer.meaning is Spelled:
        return Spelled("".join(tags))
    if offer.meaning is Role:
        return Role(key)
    return Passphrase(key) if offer.meaning is Passphrase else Reason(key)


def sense(offer: Offer | None, words: Sequence[str], tags: Sequence[str]) -> object:
    """What two paths share when they mean the same, for comparing hearings; usable as a key.

    Without an offer: the tags, digits and tens added up where they are numbers; the words where there is no tag.
    """
    if offer is not None:
        return meaning(offer, tags)
    if not tags:
        return tuple(words)
    parts: list[object] = []
    number: list[str] = []
    for tag in (*tags, ""):
        if tag and is_number_tag(tag):
            number.append(tag)
            continue
        if number:
            parts.append(fold(number) if any(t.isdecimal() for t in number) else tuple(number))
            number = []
        parts.append(tag)
    return tuple(parts[:-1])


def reading_offer(symbol: str) -> str:
    """The rule of a reading as people say it, its unit optional, or another of the kind.

    Errors: QuantityError for an unknown unit.
    """
    return _amount("number", symbol)


def digits_offer(symbol: str) -> str:
    """The rule of a reading digit by digit, its unit optional. Errors: QuantityError for an unknown unit."""
    return _amount("digits", symbol)


def which_offers(ambiguous: str) -> tuple[tuple[Offer, Offer], ...]:
    """For each unit that this word may name: what is told, the unit in full, and what is heard, a short answer too."""
    pairs = []
    for rule in (UNIT_RULES[symbol] for symbol in AMBIGUOUS[ambiguous]):
        offer = Offer(f"<units.{rule}>", Answer, Risk.READING)
        pairs.append((offer, replace(offer, rule=f"<units.{rule}> | <which.{rule}>")))
    return tuple(pairs)


def _amount(rule: str, symbol: str) -> str:
    """A number, then perhaps a unit: that which is asked for, or one of its kind that people say instead."""
    unit_named(symbol, "offer")
    if symbol not in UNIT_RULES:
        return f"<numbers.{rule}>"
    rules = UNIT_RULES | AMBIGUOUS_RULES | {_DEGREES: _DEGREES}
    others = "".join(f" | /{_OTHER}/ <units.{rules[other]}>" for other in ALSO_SAID.get(symbol, ()))
    return f"<numbers.{rule}> [/{_OWN}/ <units.{UNIT_RULES[symbol]}>{others}]"
