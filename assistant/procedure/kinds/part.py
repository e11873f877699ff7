"""A part is fitted: one of those expected, proved by the last characters of its number."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from pydantic import Field

from assistant.procedure.fields import FileModel
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
    SpellsPart,
    Wait,
    Way,
)


class ExpectedPart(FileModel):
    """A part that may be fitted.

    name: as people call it.
    number: ends in three letters or digits that prove it.
    """

    name: str = Field(min_length=1)
    number: str = Field(pattern=r"^.*[A-Z0-9]-?[A-Z0-9]-?[A-Z0-9]$")

    @property
    def proof(self) -> str:
        """The last three characters of the number, without dashes."""
        return self.signs[-3:]

    @property
    def signs(self) -> str:
        """The whole number in capitals, without dashes and blanks."""
        return "".join(sign for sign in self.number.upper() if sign.isalnum())


class FittedPart(Step):
    """A part is fitted. expected: those that may be; any other is a substitute, which needs a reason."""

    KEY: ClassVar[str] = "part"
    EXAMPLE: ClassVar[str] = """
        part: filter
        title: Filter
        text: Fit the new filter.
        expected:
          - {name: oil filter, number: TW9-OF-21}
          - {name: fine oil filter, number: TW9-OF-34}
    """

    expected: tuple[ExpectedPart, ...] = Field(min_length=1)
    may_skip: bool = True

    def own_prompts(self) -> tuple[str, ...]:
        return tuple(part.name for part in self.expected)

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
        return f"{self.id!r} goes on with any value"

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        """The last three characters of a number prove one part only."""
        seen: dict[str, str] = {}
        for index, part in enumerate(self.expected):
            if part.proof in seen:
                cause = f"{part.number!r} ends in {part.proof} as {seen[part.proof]!r} does"
                remedy = "Take one of them out; it can still be fitted as a substitute"
                yield Problem(("expected", index), cause, remedy)
            seen.setdefault(part.proof, part.number)

    def on_paper(self) -> PaperFields:
        return PaperFields((Blank("Part fitted", limits=" or ".join(part.number for part in self.expected)),))

    def response(self) -> Response:
        return SpellsPart(self.expected[0].proof)
