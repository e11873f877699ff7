"""What a step speaks and what may be said to it: the hold-phrase check and the grammar rest on these."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from assistant.engine_state import Known
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.instruction import Instruction
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.timer import Timer
from assistant.procedure.step import SignalWord

COMMON = {"id": "a", "title": "Title", "text": "Text.", "details": "Details."}


def test_hazards_come_the_gravest_first_whatever_the_order_in_the_file() -> None:
    step = Instruction.model_validate(
        {**COMMON, "notice": ["n"], "caution": ["c"], "danger": ["d1", "d2"], "warning": ["w"]}
    )
    assert step.hazards() == (
        (SignalWord.DANGER, "d1"),
        (SignalWord.DANGER, "d2"),
        (SignalWord.WARNING, "w"),
        (SignalWord.CAUTION, "c"),
        (SignalWord.NOTICE, "n"),
    )


def test_everything_that_may_be_spoken_counts_as_a_prompt() -> None:
    check = Check.model_validate(
        {
            **COMMON,
            "warning": ["Hot."],
            "answers": {
                "yes": {"phrase": "seal is off", "also": ["it came off"]},
                "no": {"phrase": "still on the engine", "then": "again", "reply": "Peel it away."},
            },
        }
    )
    assert set(check.prompts()) >= {"Title", "Text.", "Details.", "Hot.", "Peel it away."}
    assert check.phrases() == ("seal is off", "it came off", "still on the engine")
    reading = Reading.model_validate(
        {
            **COMMON,
            "name": "plug torque",
            "unit": "N.m",
            "believable": "1 N.m to 90 N.m",
            "limits": "34 N.m to 40 N.m",
            "until_within": True,
            "adjust": "Tighten it.",
        }
    )
    assert set(reading.prompts()) >= {"plug torque", "Tighten it."}
    assert reading.phrases() == ()


@pytest.mark.parametrize(
    ("written", "value", "lasts"),
    [("yes", Known.YES, None), ("no for 90 s", Known.NO, 90.0), ("yes for 30 min", Known.YES, 1800.0)],
)
def test_what_a_step_leaves_may_age(written: str, value: Known, lasts: float | None) -> None:
    step = Instruction.model_validate({**COMMON, "leaves": {"oil-warm": written}})
    assert (step.leaves["oil-warm"].value, step.leaves["oil-warm"].lasts) == (value, lasts)


def test_a_wait_and_a_hold_point_are_not_left_out_unless_it_is_said() -> None:
    assert Instruction.model_validate(COMMON).may_skip
    assert not Timer.model_validate({**COMMON, "lasts": "4 min"}).may_skip
    assert Timer.model_validate({**COMMON, "lasts": "4 min", "may_skip": True}).may_skip
    hold: dict[str, Any] = {**COMMON, "phrase": "dead at both", "card": 1}
    assert not HoldPoint.model_validate(hold).may_skip
    with pytest.raises(ValidationError, match="never skipped"):
        HoldPoint.model_validate({**hold, "may_skip": True})


def test_a_step_is_frozen() -> None:
    step = Instruction.model_validate(COMMON)
    with pytest.raises(ValidationError, match="frozen"):
        step.text = "Other."
