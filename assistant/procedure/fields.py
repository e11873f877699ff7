"""How values stand in a procedure or an equipment file: identifiers, words, limits, quantities.

Knows layout only. Refuses to know what a field is for.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from assistant.quantities import Limits, Quantity, parse, parse_limits

IDENTIFIER = r"^[a-z][a-z0-9-]*$"
WORDS = r"^[a-z][a-z' ]*[a-z]$"
Identifier = Annotated[str, Field(pattern=IDENTIFIER)]
Words = Annotated[str, Field(pattern=WORDS)]
"""What a technician says, in small letters without punctuation."""


def _limits(value: object) -> object:
    return parse_limits(value, "limits") if isinstance(value, str) else _no_layout(value)


def _quantity(value: object) -> object:
    return parse(value, "quantity") if isinstance(value, str) else _no_layout(value)


def _no_layout(value: object) -> object:
    """`{group.name}` without quotes is a mapping in YAML."""
    if value is None or isinstance(value, dict | list):
        raise ValueError('this must be one text, such as "200 kPa to 450 kPa"; a {group.name} stands in quotes')
    return value


LimitsField = Annotated[Limits, BeforeValidator(_limits)]
QuantityField = Annotated[Quantity, BeforeValidator(_quantity)]


class FileModel(BaseModel):
    """Base of all that stands in a file: frozen, and a key that is not known is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")
