"""Work that is done again and again until something is so."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field, model_validator

from assistant.procedure.fields import Words
from assistant.procedure.kinds.check import Check


class Repeat(Check):
    """Work that is done again and again.

    until: the phrase that ends it.
    again: what to do else.
    """

    KEY: ClassVar[str] = "repeat"
    EXAMPLE: ClassVar[str] = """
        repeat: pump
        title: Pump
        text: Pump ten strokes. Is the sump empty?
        until: it is empty
        again: Pump ten strokes more.
    """

    until: Words
    again: str = Field(min_length=1)

    @model_validator(mode="before")
    @classmethod
    def _until_or_again(cls, data: object) -> object:
        if not isinstance(data, dict) or "until" not in data or "answers" in data:
            return data
        answers = {
            "so": {"phrase": data["until"]},
            "not-yet": {"phrase": "not yet", "then": "again", "reply": data.get("again", "")},
        }
        return {**data, "answers": answers}
