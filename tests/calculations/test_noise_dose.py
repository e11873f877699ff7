"""Noise dose against 29 CFR 1910.95 and NIOSH."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import noise
from assistant.calculations.formula import Noted
from tests.worded import cannot_be, compute


def dose(answer: float | Noted) -> float:
    value = answer.value if isinstance(answer, Noted) else answer
    assert isinstance(value, float)
    return value


def test_osha() -> None:
    # 29 CFR 1910.95, T = 8 / 2^((L - 90) / 5): 4 h at 95 and 2 h at 90 dB(A)
    assert dose(noise.dose_osha((95, 90), (4, 2))) == pytest.approx(125)
    # its table G-16: 90 dB(A) 8 h, 92 6 h, 95 4 h, 100 2 h, 105 1 h, 110 half an hour (from memory)
    for level, hours in ((90, 8), (95, 4), (100, 2), (105, 1), (110, 0.5)):
        assert dose(noise.dose_osha((level,), (hours,))) == pytest.approx(100)


def test_niosh() -> None:
    # 85 dB(A) and 3 dB
    for level, hours in ((85, 8), (88, 4), (91, 2), (94, 1)):
        assert dose(noise.dose_niosh((level,), (hours,))) == pytest.approx(100)


@given(st.floats(80, 129), st.floats(0.01, 1), st.floats(0.1, 12))
def test_louder_and_longer_is_more(level: float, more: float, hours: float) -> None:
    for by in (noise.dose_osha, noise.dose_niosh):
        here = dose(by((level,), (hours,)))
        assert dose(by((level + more,), (hours,))) > here
        assert dose(by((level,), (hours + more,))) > here
    assert dose(noise.dose_niosh((level + 6,), (hours,))) >= dose(noise.dose_osha((level + 6,), (hours,)))


def test_quiet_is_not_counted() -> None:
    assert dose(noise.dose_osha((79.9,), (8,))) == 0


@pytest.mark.parametrize(
    ("levels", "durations", "told"),
    [
        ("95 dB(A)", "4 h, 2 h", "2 for 1 level"),
        ("95 dB(A), 90 dB(A)", "20 h, 5 h", "more than a day"),
        ("140 dB(A)", "1 h", "outside"),
        ("95 dB(A)", "-1 h", "outside"),
    ],
)
def test_what_is_no_day(levels: str, durations: str, told: str) -> None:
    with cannot_be(told):
        compute("noise-dose-osha", {"levels": levels, "durations": durations})
