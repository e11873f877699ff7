"""Finding something on a panel: what it should show, and a way back when it shows something else."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field, model_validator

from assistant.procedure.kinds.check import Check


class Panel(Check):
    """Finding something on a panel.

    otherwise: what to do when it shows something else; the question comes again after it.
    """

    KEY: ClassVar[str] = "panel"
    EXAMPLE: ClassVar[str] = """
        panel: hours-page
        title: Hours page
        text: Press until the hours appear. What does it show?
        answers: {hours: {phrase: the hours}}
        otherwise: Press the left key twice.
    """

    otherwise: str = Field(min_length=1)

    @model_validator(mode="before")
    @classmethod
    def _something_else(cls, data: object) -> object:
        if not isinstance(data, dict) or not isinstance(data.get("answers"), dict):
            return data
        other = {"phrase": "something else", "then": "again", "reply": data.get("otherwise", "")}
        return {**data, "answers": {**data["answers"], "something-else": other}}
