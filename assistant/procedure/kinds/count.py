"""A number that must be exactly so: of tools, rags, fasteners."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from pydantic import Field, model_validator

from assistant.procedure.kinds.reading import Reading
from assistant.procedure.traits import Blank, PaperFields
from assistant.quantities import Limits, Quantity

MAX_COUNTED = 9999
"""More than this is not believed."""


class Count(Reading):
    """A number that must be exactly so.

    expected: how many.
    adjust: what to do else.
    """

    KEY: ClassVar[str] = "count"
    EXAMPLE: ClassVar[str] = """
        count: tools
        title: Tools
        text: Count the tools. How many?
        name: tools
        expected: 9
        adjust: Find the one that is missing.
    """

    expected: int = Field(ge=1, le=999)

    @model_validator(mode="before")
    @classmethod
    def _exactly(cls, data: object) -> object:
        if not isinstance(data, dict) or not str(data.get("expected", "")).isdecimal():
            return data
        number = Quantity(Decimal(str(data["expected"])), "")
        most = Quantity(Decimal(MAX_COUNTED), "")
        counted = {
            "unit": "",
            "believable": Limits(Quantity(Decimal(0), ""), most),
            "limits": Limits(number, number),
            "until_within": "yes",
        }
        return {**data, **counted}

    def on_paper(self) -> PaperFields:
        return PaperFields((Blank("Counted", limits=f"{self.expected}"),))
