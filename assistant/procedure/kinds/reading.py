"""A measured value. Later steps may name it, to compare theirs with it or to work something out of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from pydantic import Field, model_validator

from assistant.procedure.measured import Measured, Taken
from assistant.procedure.problem import Problem
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    ON_TO_THE_NEXT,
    AnswerPhrase,
    Blank,
    HoldCard,
    Measurement,
    PaperFields,
    Response,
    SaysReading,
    Wait,
    Way,
)


class Reading(Measured, Step):
    """A measured value, read back and confirmed.

    taken: before adjustment or after it.
    until_within: out of limits it is measured again, after `adjust`.
    adjust: what to put right then.
    too_low, too_high: what to put right, where it differs.
    samples: how often it is measured, for the mean of these.
    circumstance: under it the readings that follow are taken (load, ambient temperature), so it is kept beside each.
    """

    KEY: ClassVar[str] = "reading"
    EXAMPLE: ClassVar[str] = """
        reading: plug-torque
        title: Drain plug
        text: Tighten the plug. What torque?
        name: plug torque
        unit: N.m
        believable: 0 N.m to 90 N.m
        limits: 37 N.m ± 3 N.m
        until_within: yes
        adjust: Use the wrench once more.
        too_low: Tighten it further.
        too_high: Begin again with a new washer.
    """

    taken: Taken = Taken.AS_FOUND
    until_within: bool = False
    adjust: str = ""
    too_low: str = ""
    too_high: str = ""
    samples: int = Field(default=1, ge=1, le=9)
    circumstance: bool = False
    may_skip: bool = True

    @model_validator(mode="after")
    def _loops(self) -> Reading:
        words = self.adjust or (self.too_low and self.too_high)
        if self.until_within and not (self.every_limits() and words):
            raise ValueError(
                '"until_within" needs "limits", and "adjust" (or "too_low" and "too_high"): '
                "what to put right before measuring again"
            )
        return self

    def own_prompts(self) -> tuple[str, ...]:
        return (self.name, self.adjust, self.too_low, self.too_high)

    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        return ()

    def hold_card(self) -> HoldCard | None:
        return None

    def measurements(self) -> tuple[Measurement, ...]:
        return (Measurement((), self, self.taken, self.samples, self.until_within, self.circumstance),)

    def works_out(self) -> None:
        return None

    def ways(self) -> tuple[Way, ...]:
        return ON_TO_THE_NEXT

    def unproved(self) -> str:
        return "" if self.until_within and self.every_limits() else f"{self.id!r} goes on with any value"

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        if self.samples == 1:
            return PaperFields((Blank(self.name, self.unit, self.limits_on_paper()),))
        several = (Blank(f"{self.name}, {number}", self.unit) for number in range(1, self.samples + 1))
        return PaperFields((*several, Blank(f"{self.name}, mean", self.unit, self.limits_on_paper())))

    def response(self) -> Response:
        return SaysReading(self)
