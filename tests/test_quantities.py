"""Values with units: what is written is what is kept, and nothing is compared across kinds."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import QuantityError
from assistant.quantities import UNITS, Kind, Limits, Quantity, parse, parse_limits, plain, unit_named

SYMBOLS = sorted(symbol for symbol in UNITS if symbol)
VALUES = st.decimals(-10_000, 10_000, allow_nan=False, allow_infinity=False, places=2)


@pytest.mark.parametrize(
    ("written", "value", "unit"),
    [
        ("7.5 mm", "7.5", "mm"),
        ("7.50 mm", "7.50", "mm"),
        ("  7.5mm ", "7.5", "mm"),
        ("-12 °C", "-12", "°C"),
        ("−12 °C", "-12", "°C"),
        ("+3 V", "3", "V"),
        ("0 kPa", "0", "kPa"),
        ("37 N.m", "37", "N.m"),
        ("12 %", "12", "%"),
        ("1250.4 h", "1250.4", "h"),
    ],
)
def test_what_is_written_is_read(written: str, value: str, unit: str) -> None:
    quantity = parse(written)
    assert quantity == Quantity(Decimal(value), unit)
    assert quantity.value.as_tuple() == Decimal(value).as_tuple()


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ("7.5", "has no unit"),
        ("", "is not a quantity"),
        ("mm", "is not a quantity"),
        ("7,5 mm", "unknown unit"),
        ("7.5 furlong", "unknown unit"),
        ("7.5 MM", "unknown unit"),
        ("7.5.1 mm", "unknown unit"),
        ("1e3 mm", "unknown unit"),
        ("nan mm", "is not a quantity"),
        ("1 2 mm", "unknown unit"),
        ("- 5 mm", "is not a quantity"),
    ],
)
def test_what_is_no_quantity_is_told(written: str, told: str) -> None:
    with pytest.raises(QuantityError, match=told) as caught:
        parse(written, "service.yaml, line 7")
    assert caught.value.place == "service.yaml, line 7"
    assert caught.value.remedy


@given(VALUES, st.sampled_from(SYMBOLS))
def test_text_and_back(value: Decimal, unit: str) -> None:
    quantity = Quantity(value, unit)
    again = parse(str(quantity))
    assert again == quantity
    assert again.value.as_tuple() == value.as_tuple()
    assert again.resolution == quantity.resolution


def test_text_never_has_an_exponent() -> None:
    assert str(Quantity(Decimal("1E+3"), "rpm")) == "1000 rpm"
    assert str(Quantity(Decimal("1E-7"), "m")) == "0.0000001 m"
    assert str(Quantity(Decimal("4"), "")) == "4"
    assert plain(Decimal("7.50")) == "7.50"


@pytest.mark.parametrize(
    ("value", "resolution"), [("7.50", "0.01"), ("7.5", "0.1"), ("75", "1"), ("7E+2", "1E+2"), ("-0.0", "0.1")]
)
def test_resolution(value: str, resolution: str) -> None:
    assert Quantity(Decimal(value), "mm").resolution == Decimal(resolution)


@pytest.mark.parametrize("value", ["NaN", "Infinity", "-Infinity", "sNaN"])
def test_what_is_no_number_is_refused(value: str) -> None:
    with pytest.raises(QuantityError, match="not a number"):
        Quantity(Decimal(value), "mm")


def test_an_unknown_unit_is_refused_and_the_known_are_named() -> None:
    with pytest.raises(QuantityError, match="furlong") as caught:
        Quantity(Decimal(1), "furlong")
    assert "kPa" in caught.value.remedy
    with pytest.raises(QuantityError):
        unit_named("kpa")


@pytest.mark.parametrize(
    ("written", "symbol", "value"),
    [
        ("1 bar", "kPa", "100"),
        ("50 psi", "kPa", "344.738"),
        ("2.5 L", "mL", "2500"),
        ("4 min", "s", "240"),
        ("1 m", "mm", "1000"),
        ("30 min", "min", "30"),
    ],
)
def test_conversion(written: str, symbol: str, value: str) -> None:
    assert parse(written).to(symbol) == Quantity(Decimal(value), symbol)


def test_every_unit_is_known_to_the_library_that_converts() -> None:
    """Each to every other of its kind and back, to within a thousandth; each to another kind never."""
    for one in UNITS.values():
        for other in UNITS.values():
            quantity = Quantity(Decimal("12.5"), one.symbol)
            if one.kind is other.kind:
                back = quantity.to(other.symbol).to(one.symbol)
                assert abs(back.value - quantity.value) < Decimal("0.0125"), (one, other)
            else:
                with pytest.raises(QuantityError, match="measures"):
                    quantity.to(other.symbol)


def test_every_kind_has_a_unit() -> None:
    assert {unit.kind for unit in UNITS.values()} == set(Kind)
    assert all(symbol == unit.symbol for symbol, unit in UNITS.items())


class TestLimits:
    @pytest.mark.parametrize(
        ("limits", "quantity", "side"),
        [
            ("200 kPa to 450 kPa", "320 kPa", 0),
            ("200 kPa to 450 kPa", "200 kPa", 0),
            ("200 kPa to 450 kPa", "450.0 kPa", 0),
            ("200 kPa to 450 kPa", "199.9 kPa", -1),
            ("200 kPa to 450 kPa", "450.1 kPa", 1),
            ("200 kPa to 450 kPa", "3.2 bar", 0),
            ("200 kPa to 450 kPa", "1.9 bar", -1),
            ("2 bar to 450 kPa", "460 kPa", 1),
            ("at most 5 kPa", "5 kPa", 0),
            ("at most 5 kPa", "5.01 kPa", 1),
            ("at most 5 kPa", "-100 kPa", 0),
            ("at least 9.6 V", "9.60 V", 0),
            ("at least 9.6 V", "9.59 V", -1),
            ("-30 °C to -5 °C", "-12 °C", 0),
        ],
    )
    def test_side(self, limits: str, quantity: str, side: int) -> None:
        assert parse_limits(limits).side(parse(quantity)) == side

    @pytest.mark.parametrize("written", ["200 kPa to 450 kPa", "at most 5 kPa", "at least 9.6 V", "-30 °C to -5 °C"])
    def test_text_and_back(self, written: str) -> None:
        assert str(parse_limits(written)) == written
        assert parse_limits(str(parse_limits(written))) == parse_limits(written)

    @pytest.mark.parametrize(
        ("written", "told"),
        [
            ("200 to 450 kPa", "has no unit"),
            ("200 kPa to 450", "has no unit"),
            ("200 kPa - 450 kPa", "is not an interval"),
            ("450 kPa to 200 kPa", "reversed"),
            ("3 bar to 200 kPa", "reversed"),
            ("200 kPa to 450 °C", "differ in kind"),
            ("at most 5", "has no unit"),
            ("at least", "is not an interval"),
            ("", "is not an interval"),
        ],
    )
    def test_what_is_no_interval_is_told(self, written: str, told: str) -> None:
        with pytest.raises(QuantityError, match=told) as caught:
            parse_limits(written, "limits of pressure")
        assert caught.value.remedy

    def test_an_interval_without_ends_is_none(self) -> None:
        with pytest.raises(QuantityError, match="neither end"):
            Limits(None, None)

    def test_a_quantity_of_another_kind_is_not_judged(self) -> None:
        with pytest.raises(QuantityError, match="measures"):
            parse_limits("200 kPa to 450 kPa").side(parse("320 °C"))

    @given(st.tuples(VALUES, VALUES).map(sorted), VALUES)
    def test_side_is_where_the_number_lies(self, ends: list[Decimal], value: Decimal) -> None:
        low, high = ends
        limits = Limits(Quantity(low, "kPa"), Quantity(high, "kPa"))
        assert limits.side(Quantity(value, "kPa")) == (-1 if value < low else 1 if value > high else 0)
        assert limits.kind is Kind.PRESSURE
