"""What a screen shows of a trend in a line, where it is not what is spoken (`dialogue/messages/trends.py`)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from assistant.quantities import Quantity


@dataclass(frozen=True, slots=True)
class NothingYet:
    """Nothing can be said of a reading's trend yet."""

    name: str
    readings: int
    kind: Literal["nothing yet"] = "nothing yet"


@dataclass(frozen=True, slots=True)
class ReachesLimit:
    """When a reading reaches its limit: run hours or dates, with the range."""

    name: str
    limit: Quantity
    at: Quantity | date
    earliest: Quantity | date
    latest: Quantity | date
    kind: Literal["reaches limit"] = "reaches limit"


TrendStatement = NothingYet | ReachesLimit
