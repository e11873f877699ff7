"""What is stated of readings: why one is doubted, and what was found by one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from assistant.quantities import Limits, Quantity


@dataclass(frozen=True, slots=True)
class OutsideBelievable:
    """A value was hard to believe and was said twice."""

    believable: Limits
    kind: Literal["outside believable"] = "outside believable"


@dataclass(frozen=True, slots=True)
class HeardUnsurely:
    """It was heard with little confidence."""

    confidence: float
    kind: Literal["heard unsurely"] = "heard unsurely"


@dataclass(frozen=True, slots=True)
class ConfirmedUnsurely:
    """Its confirmation was heard with little confidence."""

    confidence: float
    kind: Literal["confirmed unsurely"] = "confirmed unsurely"


@dataclass(frozen=True, slots=True)
class ReadBackWrong:
    """It was heard wrong before. times: how often."""

    times: int
    kind: Literal["read back wrong"] = "read back wrong"


@dataclass(frozen=True, slots=True)
class FarFromOthers:
    """One of the samples lies far from the others, and counts."""

    quantity: Quantity
    kind: Literal["far from others"] = "far from others"


@dataclass(frozen=True, slots=True)
class OutOfCalibration:
    """The calibration of its instrument is out of date."""

    instrument: str
    since: date
    kind: Literal["out of calibration"] = "out of calibration"


Doubt = OutsideBelievable | HeardUnsurely | ConfirmedUnsurely | ReadBackWrong | FarFromOthers | OutOfCalibration


@dataclass(frozen=True, slots=True)
class Doubts:
    """Why a reading is not to be trusted, each reason; a text is one of an old journal."""

    doubts: tuple[Doubt | str, ...]
    kind: Literal["doubts"] = "doubts"


ReadingStatement = Doubt | Doubts
