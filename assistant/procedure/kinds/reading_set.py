"""Readings that are announced together, taken away from the engine, and confirmed as a set."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from pydantic import Field

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
    SaysReadings,
    Wait,
    Way,
)


class Member(Measured):
    """One reading of a set."""


class ReadingSet(Step):
    """Several readings, confirmed as a set.

    members: in the order in which they are asked for.
    taken: before adjustment or after it, of all of them.
    """

    KEY: ClassVar[str] = "readings"
    EXAMPLE: ClassVar[str] = """
        readings: panel-readings
        title: Panel readings
        text: Read pressure and temperature, then step away.
        members:
          - {name: oil pressure, unit: kPa, believable: 0 kPa to 700 kPa, limits: 200 kPa to 450 kPa}
          - {name: coolant temperature, unit: °C, believable: -10 °C to 130 °C}
    """

    members: tuple[Member, ...] = Field(min_length=2, max_length=5)
    taken: Taken = Taken.AS_FOUND
    may_skip: bool = True

    def own_prompts(self) -> tuple[str, ...]:
        return tuple(member.name for member in self.members)

    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        return ()

    def hold_card(self) -> HoldCard | None:
        return None

    def measurements(self) -> tuple[Measurement, ...]:
        return tuple(
            Measurement(("members", index), member, self.taken, samples=1, until_within=False, circumstance=False)
            for index, member in enumerate(self.members)
        )

    def works_out(self) -> None:
        return None

    def ways(self) -> tuple[Way, ...]:
        return ON_TO_THE_NEXT

    def unproved(self) -> str:
        return f"{self.id!r} goes on with any value"

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        return PaperFields(tuple(Blank(each.name, each.unit, each.limits_on_paper()) for each in self.members))

    def response(self) -> Response:
        return SaysReadings(self.members[0].name)
