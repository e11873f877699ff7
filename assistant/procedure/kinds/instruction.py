"""Something to do. It is passed by `next`, which proves nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from assistant.procedure.problem import Problem
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    NOTHING_TO_FILL_IN,
    ON_TO_THE_NEXT,
    AnswerPhrase,
    HoldCard,
    Measurement,
    PaperFields,
    Response,
    SaysNext,
    Wait,
    Way,
)


class Instruction(Step):
    """Something to do; `next` when it is done."""

    KEY: ClassVar[str] = "instruction"
    EXAMPLE: ClassVar[str] = """
        instruction: drain
        title: Drain
        text: Put the pan under the engine. Unscrew the drain plug.
        details: The plug is on the starboard side, at the bottom.
        caution: [Hot oil burns.]
    """

    may_skip: bool = True

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
        return f"`next` is enough to pass the instruction {self.id!r}"

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        return NOTHING_TO_FILL_IN

    def response(self) -> Response:
        return SaysNext(by_hand=True)
