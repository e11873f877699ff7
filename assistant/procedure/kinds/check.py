"""A question with named answers. Its answers say what follows, and whether all was well."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar

from pydantic import Field, model_validator

from assistant.procedure.answers import NamedAnswer, Then
from assistant.procedure.fields import Identifier
from assistant.procedure.problem import Problem
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    AnswerPhrase,
    ChoosesAnswer,
    HoldCard,
    Measurement,
    PaperFields,
    Response,
    Wait,
    Way,
)


class Check(Step):
    """A question with named answers.

    answers: by their keys.
    at_most: how often it may be asked again by its answers; after that the work is to end.
    give_up: what is said then.
    """

    KEY: ClassVar[str] = "check"
    EXAMPLE: ClassVar[str] = """
        check: old-seal
        title: Old seal
        text: Did the old seal come off with the filter?
        answers:
          off: {phrase: seal is off, also: [it came off]}
          on: {phrase: still on the engine, then: again, reply: Peel it away.}
          torn: {phrase: torn to pieces, good: no, finding: the old seal was torn}
        at_most: 3
        give_up: That is too often. Something is wrong with the seal.
    """

    answers: dict[Identifier, NamedAnswer] = Field(min_length=2)
    at_most: int | None = Field(default=None, ge=1)
    give_up: str = ""
    may_skip: bool = True

    @model_validator(mode="after")
    def _giving_up_needs_a_word(self) -> Check:
        if (self.at_most is None) != (not self.give_up):
            raise ValueError('"at_most" and "give_up" belong together: how often, and what is said after that')
        return self

    def own_prompts(self) -> tuple[str, ...]:
        return (self.give_up, *(answer.reply for answer in self.answers.values()))

    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        return tuple(
            AnswerPhrase(("answers", key), key, phrase, taught=phrase == answer.phrase)
            for key, answer in self.answers.items()
            for phrase in (answer.phrase, *answer.also)
        )

    def hold_card(self) -> HoldCard | None:
        return None

    def measurements(self) -> tuple[Measurement, ...]:
        return ()

    def works_out(self) -> None:
        return None

    def ways(self) -> tuple[Way, ...]:
        ways = tuple(Way(("answers", key), answer.then, answer.goes_to) for key, answer in self.answers.items())
        return ways if self.at_most is None else (*ways, Way(("at_most",), Then.END))

    def unproved(self) -> str:
        bad = [key for key, answer in self.answers.items() if not answer.good and answer.then is Then.GO_ON]
        return f"the answer {bad[0]!r} of {self.id!r} is not good and goes on all the same" if bad else ""

    def wait(self) -> Wait | None:
        return None

    def own_problems(self) -> Iterator[Problem]:
        yield from ()

    def on_paper(self) -> PaperFields:
        return PaperFields(boxes=tuple(answer.phrase for answer in self.answers.values()))

    def response(self) -> Response:
        return ChoosesAnswer(self.answers)
