"""A hold point: work does not pass until its own phrase is said, which proves what it leaves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from pydantic import Field, model_validator

from assistant.procedure.fields import Words
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
    SaysHoldPhrase,
    Wait,
    Way,
)


class HoldPoint(Step):
    """Work does not pass until its own phrase is said. No prompt speaks it; it stands on the card under `card`."""

    KEY: ClassVar[str] = "hold"
    EXAMPLE: ClassVar[str] = """
        hold: isolate
        title: Isolation
        text: Isolate the set and prove it dead. Then use the card.
        phrase: dead at both poles
        card: 1
    """

    phrase: Words
    card: int = Field(ge=1)
    may_skip: bool = False

    @model_validator(mode="after")
    def _never_skipped(self) -> HoldPoint:
        if self.may_skip:
            raise ValueError('"may_skip" does not go with a hold point: it is never skipped')
        if len(self.phrase.split()) < 2:
            raise ValueError('"phrase" of a hold point needs two words or more: one short word is easily misheard')
        return self

    def own_prompts(self) -> tuple[str, ...]:
        return ()

    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        return (AnswerPhrase(("phrase",), self.id, self.phrase),)

    def hold_card(self) -> HoldCard:
        return HoldCard(self.card, self.phrase)

    def measurements(self) -> tuple[Measurement, ...]:
        return ()

    def works_out(self) -> None:
        return None

    def ways(self) -> tuple[Way, ...]:
        return ON_TO_THE_NEXT

    def unproved(self) -> str:
        return ""

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        return PaperFields((Blank("Time and initials", limits=f"card {self.card}"),))

    def response(self) -> Response:
        return SaysHoldPhrase(self.phrase)
