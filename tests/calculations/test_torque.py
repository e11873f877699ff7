"""Torque with an extension, against the technical manual."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import torque
from tests.worded import cannot_be, compute


def test_setting() -> None:
    assert torque.with_extension(80, 400, 50, 0) == pytest.approx(71.11, abs=5e-3)  # T L / (L + E)
    assert torque.with_extension(80, 400, 50, 90) == pytest.approx(80)
    assert torque.with_extension(20, 12, 3, 0) == pytest.approx(16)  # TM 9-254, p. 92: lbf.ft and inches


def test_the_answer_comes_in_the_unit_of_the_torque() -> None:
    inputs = {"torque": "20 lbf.ft", "wrench_length": "1 ft", "extension": "3 in"}
    assert str(compute("torque-with-extension", inputs).value) == "16 lbf.ft"


def test_an_extension_turned_back_may_be_too_long() -> None:
    with cannot_be("turned back"):
        torque.with_extension(80, 100, 100, 180)


@given(st.floats(1, 500), st.floats(100, 1000), st.floats(0, 300), st.floats(0, 89))
def test_a_longer_extension_needs_a_lower_setting(
    newton_metres: float, length: float, arm: float, angle: float
) -> None:
    assert torque.with_extension(newton_metres, length, arm + 1, angle) < torque.with_extension(
        newton_metres, length, arm, angle
    )
