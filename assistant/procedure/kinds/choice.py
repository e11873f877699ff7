"""A question whose answer selects the step that follows."""

from __future__ import annotations

from typing import ClassVar

from pydantic import model_validator

from assistant.procedure.kinds.check import Check


class Choice(Check):
    """A question whose answer selects the step that follows."""

    KEY: ClassVar[str] = "choice"
    EXAMPLE: ClassVar[str] = """
        choice: cooling
        title: Cooling
        text: How is it cooled?
        answers:
          air: {phrase: by air, goes_to: wipe-down}
          water: {phrase: by sea water}
    """

    @model_validator(mode="after")
    def _chooses(self) -> Choice:
        if not any(answer.goes_to for answer in self.answers.values()):
            raise ValueError('a choice needs an answer with "goes_to": the step that follows it')
        return self
