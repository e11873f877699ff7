"""Compression: which cylinder is looked into."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import compression
from assistant.calculations.formula import Noted
from tests.worded import compute


@pytest.mark.parametrize(
    ("readings", "under", "warned"),
    [
        # TM 1-1500-204-23-1: 20 % under the mean
        ("30 bar, 30 bar, 30 bar, 22 bar", 21.4, ("Cylinder 4",)),
        ("28 bar, 27 bar, 22 bar", 14.3, ()),
        # two cylinders: with the higher one; common practice, no source
        ("28 bar, 22.4 bar", 20, ("Cylinder 2",)),
        ("28 bar, 22.5 bar", 19.6, ()),
        ("28 bar, 28 bar", 0, ()),
    ],
)
def test_spread(readings: str, under: float, warned: tuple[str, ...]) -> None:
    result = compute("compression-spread", {"readings": readings})
    assert float(str(result.value).removesuffix(" %")) == pytest.approx(under, abs=0.05)
    assert len(result.warnings) == len(warned)
    assert all(which in warning for which, warning in zip(warned, result.warnings, strict=True))


@given(st.lists(st.floats(500, 5000), min_size=2, max_size=12), st.floats(0.1, 10))
def test_the_unit_does_not_matter(readings: list[float], scale: float) -> None:
    def value(of: list[float]) -> float:
        answer = compression.spread(tuple(of))
        number = answer.value if isinstance(answer, Noted) else answer
        assert isinstance(number, float)
        return number

    assert value(readings) == pytest.approx(value([scale * one for one in readings]), abs=1e-9)
