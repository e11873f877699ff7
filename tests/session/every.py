"""Every input and every fact, made from the types of their fields: a new class is covered, or it fails here by name.

`examples` gives a few fixed values of a type, `anything` a hypothesis strategy for all of them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import EnumType
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from hypothesis import strategies as st

from assistant.quantities import UNITS, Limits, Quantity, parse_limits
from assistant.session.facts import Fact
from assistant.session.inputs import Input

FACTS: tuple[type, ...] = get_args(Fact)
INPUTS: tuple[type, ...] = get_args(Input)

LIMITS = (parse_limits("200 kPa to 450 kPa"), parse_limits("at most 5.0 mm"), parse_limits("at least 0.40 L"))
QUANTITIES = (Quantity(Decimal("7.50"), "mm"), Quantity(Decimal("-12"), "°C"), Quantity(Decimal("0.0"), ""))
PLAIN: dict[type, tuple[object, ...]] = {
    str: ("", 'says "next", — °C\n', "オイル"),
    int: (0, 3),
    float: (0.0, 12.25),
    bool: (True, False),
    Decimal: (Decimal("7.50"), Decimal("-0.0"), Decimal("1E+2")),
    date: (date(2026, 3, 2),),
    Limits: LIMITS,
    NoneType: (None,),
}


def examples(kind: object) -> Iterator[Any]:
    """Fixed values of a type, each field in turn taking each of its own; a type without any is an error."""
    if kind is Quantity:
        yield from QUANTITIES
    elif isinstance(kind, EnumType):
        yield from kind
    elif isinstance(kind, type) and kind in PLAIN:
        yield from PLAIN[kind]
    elif get_origin(kind) is Literal:
        yield from get_args(kind)
    elif get_origin(kind) in (Union, UnionType):
        for inner in get_args(kind):
            yield from examples(inner)
    elif get_origin(kind) is tuple:
        inner, more = get_args(kind)
        assert more is ..., f"only tuples of any length have examples, not {kind}"
        yield ()
        yield tuple(examples(inner))
    elif isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        own = [tuple(examples(hints[field.name])) for field in fields(kind)]
        for number in range(max(map(len, own), default=1)):
            yield kind(*(values[number % len(values)] for values in own))
    else:
        raise TypeError(f"no example of {kind}: teach tests/session/every.py how to make one")


def anything(kind: object) -> st.SearchStrategy[object]:
    """All values of a type that can occur in a journal."""
    if kind is Quantity:
        return st.builds(Quantity, decimals(), st.sampled_from(sorted(UNITS)))
    if kind is Decimal:
        return decimals()
    if kind is float:
        return st.floats(allow_nan=False, allow_infinity=False)
    if kind is int:
        return st.integers(0, 2**53)
    if isinstance(kind, type) and kind in (str, bool, date):
        return st.from_type(kind)
    if kind is Limits:
        return st.sampled_from(LIMITS)
    if kind is NoneType:
        return st.none()
    if isinstance(kind, EnumType):
        return st.sampled_from(list(kind))
    if get_origin(kind) is Literal:
        return st.sampled_from(get_args(kind))
    if get_origin(kind) in (Union, UnionType):
        return st.one_of([anything(inner) for inner in get_args(kind)])
    if get_origin(kind) is tuple:
        return st.lists(anything(get_args(kind)[0]), max_size=3).map(tuple)
    if isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        return st.builds(kind, **{field.name: anything(hints[field.name]) for field in fields(kind)})
    raise TypeError(f"no strategy for {kind}: teach tests/session/every.py how to make one")


def decimals() -> st.SearchStrategy[Decimal]:
    """Finite decimals as people and instruments give them: trailing zeros, signs, now and then an exponent."""
    return st.builds(
        lambda sign, digits, exponent: Decimal((sign, tuple(digits), exponent)),
        st.integers(0, 1),
        st.lists(st.integers(0, 9), min_size=1, max_size=9),
        st.integers(-6, 3),
    )
