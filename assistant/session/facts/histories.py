"""Facts of sessions in which nobody speaks: what was done before, and what was salvaged."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal


@dataclass(frozen=True, slots=True)
class HistoryTakenOver:
    """What was done before sessions were kept was taken over. lines: how many are told of."""

    asset: str
    source: str
    sha256: str
    lines: int
    kind: Literal["history taken over"] = "history taken over"


@dataclass(frozen=True, slots=True)
class DoneBefore:
    """A line of such a history.

    day: ISO 8601.
    hours: as the meter showed them.
    task, procedure, title: empty where only the meter was read.
    """

    day: str
    hours: Decimal | None
    task: str
    procedure: str
    title: str
    kind: Literal["done before"] = "done before"


@dataclass(frozen=True, slots=True)
class SalvageMade:
    """The decisions after this one are those that could be verified of a damaged session.

    source: name of its folder.
    last_hash: of its last line that holds.
    lines: how many hold.
    gaps: where lines are damaged or missing, a sentence each.
    """

    source: str
    last_hash: str
    lines: int
    gaps: tuple[str, ...]
    kind: Literal["salvage made"] = "salvage made"


HistoryFact = HistoryTakenOver | DoneBefore | SalvageMade
