"""What is told of a visit that was attended."""

from __future__ import annotations

import pytest

from assistant.app.visits import in_words


@pytest.mark.parametrize(
    ("steps", "readings", "told"),
    [(0, 0, "0 steps done, 0 readings."), (1, 1, "1 step done, 1 reading."), (2, 2, "2 steps done, 2 readings.")],
)
def test_one_thing_is_not_counted_as_several(steps: int, readings: int, told: str) -> None:
    """It was: "1 steps done, 1 readings"."""
    reading = {"name": "oil pressure", "recorded": 320.0, "true": None, "unit": "kPa", "doubt": ""}
    words = in_words(
        {"finished": True, "steps_done": steps, "readings": [reading] * readings, "session": "there", "ended": True}
    )
    assert words.splitlines()[0] == f"The work is finished: {told}"
