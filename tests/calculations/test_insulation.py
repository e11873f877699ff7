"""Insulation against IEEE 43-2013, as others quote it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import insulation
from tests.worded import cannot_be, compute


def test_to_40_celsius() -> None:
    assert insulation.to_40(80, 25) == pytest.approx(28.28, abs=5e-3)  # IEEE 43-2013 via others, recomputed
    assert insulation.to_40(80, 40) == pytest.approx(80)
    assert insulation.to_40(80, 50) == pytest.approx(160)


@pytest.mark.parametrize(
    ("winding", "kilovolts", "least"),
    [
        ("old or field winding", 0.4, 1.4),
        ("old or field winding", 6, 7),
        ("form-wound", 6, 100),
        ("random-wound", 0.4, 5),
    ],
)
def test_minimum(winding: str, kilovolts: float, least: float) -> None:
    assert insulation.minimum(winding, kilovolts) == pytest.approx(least)  # IEEE 43-2013 via others


@pytest.mark.parametrize(
    ("after_10", "insulation_class", "warned"), [("200", "F", 0), ("199", "F", 1), ("150", "A", 0), ("149", "A", 1)]
)
def test_polarisation_index(after_10: str, insulation_class: str, warned: int) -> None:
    # IEEE 43-2013 via others: at least 2.0, class A 1.5
    result = compute(
        "insulation-polarisation-index",
        {"after_1_min": "100 MΩ", "after_10_min": f"{after_10} Mohm", "insulation_class": insulation_class},
    )
    assert len(result.warnings) == warned


def test_polarisation_index_above_5000_megohms_is_refused() -> None:
    with cannot_be("means nothing"):
        compute("insulation-polarisation-index", {"after_1_min": "5.1 GΩ", "after_10_min": "20 GΩ"})


def test_test_voltage_below_one_kilovolt() -> None:
    assert insulation.voltage_of_test(0.4) == 500  # IEEE 43-2013 via others
    with cannot_be("below 1 kV"):
        insulation.voltage_of_test(1.0)
    with cannot_be("less than 1 kV"):
        insulation.minimum("random-wound", 1.0)


def test_milli_is_never_mega() -> None:
    mega = compute("insulation-to-40", {"resistance": "80 Mohm", "temperature": "40 °C"})
    assert str(mega.value) == "80 MΩ"
    milli = compute("insulation-to-40", {"resistance": "80 mohm", "temperature": "40 °C"})
    assert str(milli.value) == "80 mΩ"


@given(st.floats(0.1, 1e5), st.floats(-10, 79), st.floats(0.01, 1))
def test_the_same_reading_taken_warmer_is_worth_more(megohms: float, celsius: float, warmer: float) -> None:
    assert insulation.to_40(megohms, celsius + warmer) > insulation.to_40(megohms, celsius)
