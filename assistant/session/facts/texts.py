"""The types of texts in facts: a statement, or a text that the program did not word.

A plain text is a person's, a procedure's, or that of a journal from before statements were kept (format 1). In a
journal a statement is an object with its kind and arguments.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from assistant.statements import kinds as s

_BY_KIND = Field(discriminator="kind")

CalculationText = Annotated[s.CalculationStatement, _BY_KIND] | str
DoubtText = s.Doubts | str
FindingText = Annotated[s.FindingStatement, _BY_KIND] | str
PlanText = Annotated[s.PlanStatement, _BY_KIND] | str
WorkText = Annotated[s.WorkStatement, _BY_KIND] | str
