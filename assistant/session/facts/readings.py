"""Facts of values: measured, worked out, withdrawn."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from assistant.quantities import Quantity
from assistant.session.facts.places import StepPlace
from assistant.session.facts.texts import CalculationText, DoubtText
from assistant.session.inputs import Clip, Source


class ReadingStage(StrEnum):
    """Before or after adjustment, as in calibration practice."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


class ReadingVerdict(StrEnum):
    """A reading against its limits."""

    WITHIN = "within"
    LOW = "low"
    HIGH = "high"
    INCONCLUSIVE = "inconclusive"
    NO_LIMIT = "no limit"


@dataclass(frozen=True, slots=True)
class ReadingRecorded:
    """A reading was confirmed.

    limits: as they were when it was judged, empty when it had none.
    doubt: why it is not to be trusted; empty when it is.
    clip: the sound of it.
    limits_by: what chose the limits, a state of the engine or another reading, empty when nothing did.
    circumstances: what was known of the engine then, and what was read off before of load or surroundings.
    instrument: by its name, where the procedure names one.
    samples: the readings of which it is the mean; none where it was read once.
    spread: their standard deviation.
    """

    place: StepPlace
    name: str
    quantity: Quantity
    stage: ReadingStage
    limits: str
    verdict: ReadingVerdict
    confidence: float
    doubt: DoubtText
    clip: Clip | None
    source: Source
    kind: Literal["reading recorded"] = "reading recorded"
    limits_by: str = ""
    circumstances: tuple[str, ...] = ()
    instrument: str = ""
    samples: tuple[Quantity, ...] = ()
    spread: Quantity | None = None


@dataclass(frozen=True, slots=True)
class ReadingWithdrawn:
    """A recorded reading was taken back by the technician; it stays in the record, marked."""

    place: StepPlace
    name: str
    quantity: Quantity
    kind: Literal["reading withdrawn"] = "reading withdrawn"


@dataclass(frozen=True, slots=True)
class CalculationInput:
    """What a calculation took for an input.

    value: as written.
    reading: its name, empty where it was none.
    """

    name: str
    value: str
    reading: str


@dataclass(frozen=True, slots=True)
class CalculationRecorded:
    """Something was worked out.

    formula: its name in the table of formulas.
    limits, limits_by, verdict: as those of a reading.
    reference: where the formula is from.
    warnings: what the formula says of its result, and which of the readings it rests on are in doubt.
    """

    place: StepPlace
    name: str
    formula: str
    inputs: tuple[CalculationInput, ...]
    result: Quantity | CalculationText
    limits: str
    limits_by: str
    verdict: ReadingVerdict
    reference: str
    warnings: tuple[CalculationText, ...]
    kind: Literal["calculation recorded"] = "calculation recorded"


ReadingFact = ReadingRecorded | ReadingWithdrawn | CalculationRecorded
