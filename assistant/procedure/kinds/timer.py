"""A wait that is not shortened. It ends by itself, which proves nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from pydantic import model_validator

from assistant.procedure.fields import QuantityField
from assistant.procedure.problem import Problem
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    ON_TO_THE_NEXT,
    AnswerPhrase,
    Blank,
    HoldCard,
    LetsTimePass,
    Measurement,
    PaperFields,
    Response,
    Wait,
    Way,
)
from assistant.quantities import Kind


class Timer(Step):
    """A wait that is not shortened: `next` does not pass it, its end does.

    lasts: how long.
    meanwhile: other work goes on while it runs. Its end is spoken when it is due, and what it leaves is so only then; a
        step that needs that waits for the rest of the time.
    """

    KEY: ClassVar[str] = "timer"
    EXAMPLE: ClassVar[str] = """
        timer: settle
        title: Settle
        text: The oil settles.
        lasts: 4 min
    """

    lasts: QuantityField
    meanwhile: bool = False
    may_skip: bool = False

    @model_validator(mode="after")
    def _is_time(self) -> Timer:
        if self.lasts.kind is not Kind.TIME:
            raise ValueError(f'"lasts" is {self.lasts}, and that is no time: write "4 min" or "30 s"')
        return self

    @property
    def seconds(self) -> float:
        """How long, in seconds."""
        return float(self.lasts.to("s").value)

    def own_prompts(self) -> tuple[str, ...]:
        return ()

    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        return ()

    def hold_card(self) -> HoldCard | None:
        return None

    def measurements(self) -> tuple[Measurement, ...]:
        return ()

    def works_out(self) -> None:
        return None

    def ways(self) -> tuple[Way, ...]:
        return ON_TO_THE_NEXT

    def unproved(self) -> str:
        return f"the timer {self.id!r} ends by itself"

    def wait(self) -> Wait:
        return Wait(self.lasts, self.seconds, self.meanwhile)

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        return PaperFields((Blank("From"), Blank("To", limits=str(self.lasts))))

    def response(self) -> Response:
        return LetsTimePass()
