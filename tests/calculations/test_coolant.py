"""Coolant against the handbook, CoolProp and the balance of the glycol."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import FORMULAS, coolant
from assistant.statements import kinds as s
from tests.worded import cannot_be, compute

TOLERANCE = 3.0  # K, between handbook and CoolProp
FLUIDS = {"ethylene glycol": "AEG", "propylene glycol": "APG"}  # by volume; MEG and MPG are by mass
MIX = {"system_volume": "12 L", "present": "35 vol%", "wanted": "50 vol%", "added": "100 vol%"}


@pytest.mark.parametrize(
    ("kind", "points"),
    [
        # CoolProp, AEG and APG, 20 to 60 % by volume
        ("ethylene glycol", {20: -8.98, 30: -15.70, 40: -24.80, 50: -37.11, 60: -52.02}),
        ("propylene glycol", {20: -7.38, 30: -13.11, 40: -21.51, 50: -33.66, 60: -51.06}),
        # handbook, ethylene glycol by volume
        ("ethylene glycol", {10: -3, 20: -8, 30: -16, 40: -25, 50: -37, 60: -55}),
    ],
)
def test_freezing_point_of_published_values(kind: str, points: dict[int, float]) -> None:
    for concentration, celsius in points.items():
        assert coolant.freezing_point(kind, concentration) == pytest.approx(celsius, abs=TOLERANCE)


@pytest.mark.parametrize("kind", FLUIDS)
def test_coolprop_agrees_at_every_percent(kind: str) -> None:
    for percent in range(10, 61):
        reference = PropsSI("T_freeze", "T", 300, "P", 101325, f"INCOMP::{FLUIDS[kind]}[{percent / 100}]") - 273.15
        assert coolant.freezing_point(kind, percent) == pytest.approx(reference, abs=TOLERANCE), percent


@given(st.sampled_from(sorted(FLUIDS)), st.floats(0, 59), st.floats(0.01, 1))
def test_more_glycol_protects_further_up_to_60(kind: str, concentration: float, more: float) -> None:
    assert coolant.freezing_point(kind, concentration + more) < coolant.freezing_point(kind, concentration)


def test_drain_and_replace() -> None:
    # balance of the glycol: 3.6 L from 60 to 50 % with water; 12 L from 35 to 50 % with concentrate
    assert coolant.drain_and_replace(3.6, 60, 50, 0).value == pytest.approx(0.6)
    assert coolant.drain_and_replace(12, 35, 50, 100).value == pytest.approx(2.769, abs=5e-4)


@given(st.floats(1, 100), st.floats(0, 100), st.floats(0, 100), st.floats(0, 1))
def test_after_replacing_the_glycol_is_as_wanted(volume: float, present: float, added: float, share: float) -> None:
    wanted = present + share * (added - present)
    if not min(present, added) <= wanted <= max(present, added):
        return  # rounding has put it beside
    amount = coolant.drain_and_replace(volume, present, wanted, added).value
    assert isinstance(amount, float)
    assert 0 <= amount <= volume * (1 + 1e-9)
    assert present * (volume - amount) + added * amount == pytest.approx(wanted * volume, abs=1e-6)


def test_quantity_of_a_small_set() -> None:
    # 3.5 to 4 L in a small two- or three-cylinder set: common practice, no source. From 40 to 50 % with concentrate.
    amounts = [coolant.drain_and_replace(litres, 40, 50, 100).value for litres in (3.5, 4.0)]
    assert amounts == pytest.approx([0.5833, 0.6667], abs=1e-4)


def test_more_than_60_percent_is_warned_of_or_refused() -> None:
    # TM 9-6115-464-12
    row = FORMULAS["coolant-drain-and-replace"]
    assert s.ProtectsLess() in row.compute(MIX | {"wanted": "65 vol%"}).warnings
    assert s.ProtectsLess() not in row.compute(MIX).warnings
    with cannot_be("protects less"):
        compute("coolant-freezing-point", {"kind": "ethylene glycol", "concentration": "61 vol%"})


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"wanted": "30 vol%"}, "does not lie between"),
        ({"wanted": "50 vol%", "added": "45 vol%"}, "does not lie between"),
        ({"present": "120 vol%"}, "outside"),
        ({"present": "-5 vol%"}, "outside"),
        ({"present": "50 %"}, "measures share, not concentration by volume"),
        ({"present": "50 mass%"}, "measures concentration by mass"),
        ({"system_volume": "0 L"}, "outside"),
        ({"system_volume": "3 gal"}, "can be US gal or imp gal. Say which"),
    ],
)
def test_what_cannot_be_mixed(change: dict[str, str], told: str) -> None:
    with cannot_be(told):
        compute("coolant-drain-and-replace", MIX | change)
