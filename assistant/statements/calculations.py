"""What the formulas state: of a result, and why there is none.

Knows no formula. `unit` is that of the result: `Formula.compute` fills it in.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from assistant.quantities import Quantity


@dataclass(frozen=True, slots=True)
class Decided:
    """A reading was held against its limits. verdict: within, out or inconclusive."""

    verdict: str
    kind: Literal["decided"] = "decided"


@dataclass(frozen=True, slots=True)
class NoClass:
    """A generating set reaches none of the classes."""

    kind: Literal["no class"] = "no class"


@dataclass(frozen=True, slots=True)
class DueAtHours:
    """When work is due again, by hours alone."""

    hours: float
    kind: Literal["due at hours"] = "due at hours"


@dataclass(frozen=True, slots=True)
class DueOnDay:
    """When work is due again, by the calendar alone."""

    day: date
    kind: Literal["due on day"] = "due on day"


@dataclass(frozen=True, slots=True)
class DueAtHoursOrOnDay:
    """When work is due again, by hours and by the calendar."""

    hours: float
    day: date
    kind: Literal["due at hours or on day"] = "due at hours or on day"


@dataclass(frozen=True, slots=True)
class LossTooHigh:
    """A starter cable loses more than it may."""

    kind: Literal["loss too high"] = "loss too high"


@dataclass(frozen=True, slots=True)
class RuleOfThumb:
    """The equipment's own data comes before a rule of thumb."""

    kind: Literal["rule of thumb"] = "rule of thumb"


@dataclass(frozen=True, slots=True)
class MoreThanCharts:
    """An engine uses more fuel than makers' charts have."""

    kind: Literal["more than charts"] = "more than charts"


@dataclass(frozen=True, slots=True)
class ProtectsLess:
    """So much glycol protects less."""

    kind: Literal["protects less"] = "protects less"


@dataclass(frozen=True, slots=True)
class SameKindOfCoolant:
    """Kinds of coolant are never mixed."""

    kind: Literal["same kind of coolant"] = "same kind of coolant"


@dataclass(frozen=True, slots=True)
class BetterInstrument:
    """What to do about an inconclusive reading."""

    kind: Literal["better instrument"] = "better instrument"


@dataclass(frozen=True, slots=True)
class TooCoarse:
    """The guard bands leave nothing of the limits."""

    kind: Literal["too coarse"] = "too coarse"


@dataclass(frozen=True, slots=True)
class Spread:
    """How far repeated readings lie apart: their standard deviation."""

    spread: float
    readings: int
    unit: str = ""
    kind: Literal["spread"] = "spread"


@dataclass(frozen=True, slots=True)
class FarOut:
    """One of repeated readings lies far out by Grubbs' test. number: from 1."""

    number: int
    value: float
    unit: str = ""
    kind: Literal["far out"] = "far out"


@dataclass(frozen=True, slots=True)
class WiderBand:
    """A set of few cylinders was allowed a wider frequency band."""

    kind: Literal["wider band"] = "wider band"


@dataclass(frozen=True, slots=True)
class BeyondClass:
    """What keeps a set from the lowest class. figures: keys of the word table `figure`."""

    figures: tuple[str, ...]
    kind: Literal["beyond class"] = "beyond class"


@dataclass(frozen=True, slots=True)
class DampOrDirty:
    """The polarisation index is too low."""

    least: float
    kind: Literal["damp or dirty"] = "damp or dirty"


@dataclass(frozen=True, slots=True)
class OverdueByHours:
    """Work is overdue by run hours."""

    hours: float
    kind: Literal["overdue by hours"] = "overdue by hours"


@dataclass(frozen=True, slots=True)
class OverdueByDays:
    """Work is overdue by the calendar."""

    days: int
    kind: Literal["overdue by days"] = "overdue by days"


@dataclass(frozen=True, slots=True)
class UnusualInterval:
    """An interval lies outside what is usual. unit: h or months."""

    every: float
    low: int
    high: int
    interval_unit: str
    kind: Literal["unusual interval"] = "unusual interval"


@dataclass(frozen=True, slots=True)
class DoseAboveLimit:
    """The noise was more than the day's limit."""

    kind: Literal["dose above limit"] = "dose above limit"


@dataclass(frozen=True, slots=True)
class DoseAtAction:
    """The noise reaches the dose from which on something is done. dose: in %."""

    dose: float
    kind: Literal["dose at action"] = "dose at action"


@dataclass(frozen=True, slots=True)
class CylinderUnderMean:
    """A cylinder lies far under the mean of all."""

    cylinder: int
    kind: Literal["cylinder under mean"] = "cylinder under mean"


@dataclass(frozen=True, slots=True)
class CylinderUnderOther:
    """Of two cylinders one lies far under the other."""

    cylinder: int
    kind: Literal["cylinder under other"] = "cylinder under other"


@dataclass(frozen=True, slots=True)
class ProbablyBetween:
    """The interval in which a reading lies with 95 %."""

    low: float
    high: float
    unit: str = ""
    kind: Literal["probably between"] = "probably between"


@dataclass(frozen=True, slots=True)
class ProbablyBetweenHours:
    """The hours between which it is so with 95 %."""

    low: float
    high: float
    kind: Literal["probably between hours"] = "probably between hours"


@dataclass(frozen=True, slots=True)
class Extrapolated:
    """There are no readings so far out."""

    kind: Literal["extrapolated"] = "extrapolated"


@dataclass(frozen=True, slots=True)
class OneReadingBends:
    """Least squares and the median slope do not agree."""

    kind: Literal["one reading bends"] = "one reading bends"


@dataclass(frozen=True, slots=True)
class StandardError:
    """The standard error of a slope, in 1000 h."""

    error: float
    unit: str = ""
    kind: Literal["standard error"] = "standard error"


@dataclass(frozen=True, slots=True)
class HalfACell:
    """A battery has whole cells."""

    kind: Literal["half a cell"] = "half a cell"


@dataclass(frozen=True, slots=True)
class SmallIsLarger:
    """The smaller pulley is given as the larger one."""

    kind: Literal["small is larger"] = "small is larger"


@dataclass(frozen=True, slots=True)
class PulleysOverlap:
    """The pulleys stand nearer than they are large."""

    kind: Literal["pulleys overlap"] = "pulleys overlap"


@dataclass(frozen=True, slots=True)
class StifferThanBent:
    """The belt bends more than its stiffness lets it."""

    kind: Literal["stiffer than bent"] = "stiffer than bent"


@dataclass(frozen=True, slots=True)
class StifferThanSounded:
    """The belt sounds lower than its stiffness lets it."""

    kind: Literal["stiffer than sounded"] = "stiffer than sounded"


@dataclass(frozen=True, slots=True)
class DeflectionTooLarge:
    """The formula holds for small deflections."""

    kind: Literal["deflection too large"] = "deflection too large"


@dataclass(frozen=True, slots=True)
class TooLittleFuel:
    """The engine would have no losses."""

    kind: Literal["too little fuel"] = "too little fuel"


@dataclass(frozen=True, slots=True)
class MoreEnergyOut:
    """The engine would make energy."""

    kind: Literal["more energy out"] = "more energy out"


@dataclass(frozen=True, slots=True)
class TooStrong:
    """The table of freezing points ends before."""

    kind: Literal["too strong"] = "too strong"


@dataclass(frozen=True, slots=True)
class NotBetweenMixtures:
    """What is wanted cannot be mixed."""

    kind: Literal["not between mixtures"] = "not between mixtures"


@dataclass(frozen=True, slots=True)
class UncertaintyNeeded:
    """The guarded rule needs the instrument's uncertainty."""

    kind: Literal["uncertainty needed"] = "uncertainty needed"


@dataclass(frozen=True, slots=True)
class NoLimitGiven:
    """There is nothing to hold it against."""

    kind: Literal["no limit given"] = "no limit given"


@dataclass(frozen=True, slots=True)
class LimitsReversed:
    """The low limit lies above the high one."""

    kind: Literal["limits reversed"] = "limits reversed"


@dataclass(frozen=True, slots=True)
class VoltagesTooUnequal:
    """Three voltages between lines make no triangle."""

    kind: Literal["voltages too unequal"] = "voltages too unequal"


@dataclass(frozen=True, slots=True)
class HigherIsLower:
    """The higher value lies under the lower one."""

    kind: Literal["higher is lower"] = "higher is lower"


@dataclass(frozen=True, slots=True)
class ThreeNeeded:
    """Three values are needed. given: how many there were."""

    given: int
    kind: Literal["three needed"] = "three needed"


@dataclass(frozen=True, slots=True)
class NoMinimumSoHigh:
    """The minimum of random-wound coils holds below 1 kV."""

    kind: Literal["no minimum so high"] = "no minimum so high"


@dataclass(frozen=True, slots=True)
class IndexMeaningless:
    """A good winding has no index."""

    kind: Literal["index meaningless"] = "index meaningless"


@dataclass(frozen=True, slots=True)
class NoTestSoHigh:
    """The voltage of the test is known below 1 kV."""

    kind: Literal["no test so high"] = "no test so high"


@dataclass(frozen=True, slots=True)
class LessThanLastTime:
    """The meter shows less than it did."""

    kind: Literal["less than last time"] = "less than last time"


@dataclass(frozen=True, slots=True)
class BeforeLastTime:
    """Today lies before the last time."""

    kind: Literal["before last time"] = "before last time"


@dataclass(frozen=True, slots=True)
class NothingComplete:
    """Neither of two pairs is given whole."""

    kind: Literal["nothing complete"] = "nothing complete"


@dataclass(frozen=True, slots=True)
class NoWholeMonths:
    """A part of a month has no length."""

    kind: Literal["no whole months"] = "no whole months"


@dataclass(frozen=True, slots=True)
class CalendarEnds:
    """The last year that can be written comes first."""

    kind: Literal["calendar ends"] = "calendar ends"


@dataclass(frozen=True, slots=True)
class LevelsAndDurations:
    """There are not as many durations as levels."""

    durations: int
    levels: int
    kind: Literal["levels and durations"] = "levels and durations"


@dataclass(frozen=True, slots=True)
class MoreThanADay:
    """The durations are not those of one day."""

    kind: Literal["more than a day"] = "more than a day"


@dataclass(frozen=True, slots=True)
class TurnedBack:
    """An extension reaches back over the whole wrench."""

    kind: Literal["turned back"] = "turned back"


@dataclass(frozen=True, slots=True)
class AwayFromLimit:
    """The trend never meets the limit."""

    kind: Literal["away from limit"] = "away from limit"


@dataclass(frozen=True, slots=True)
class NoClearTrend:
    """The slope cannot be told from none."""

    kind: Literal["no clear trend"] = "no clear trend"


@dataclass(frozen=True, slots=True)
class ReadingsAndTimes:
    """There are not as many readings as times."""

    readings: int
    times: int
    kind: Literal["readings and times"] = "readings and times"


@dataclass(frozen=True, slots=True)
class TooFewForTrend:
    """A line needs three readings."""

    readings: int
    kind: Literal["too few for trend"] = "too few for trend"


@dataclass(frozen=True, slots=True)
class AllAtOneTime:
    """A line needs several times."""

    kind: Literal["all at one time"] = "all at one time"


@dataclass(frozen=True, slots=True)
class OutsideFormula:
    """A value lies outside what the formula holds for."""

    quantity: Quantity
    kind: Literal["outside formula"] = "outside formula"


@dataclass(frozen=True, slots=True)
class NoFiniteAnswer:
    """The formula has no finite answer."""

    kind: Literal["no finite answer"] = "no finite answer"


@dataclass(frozen=True, slots=True)
class InputsDoNotFit:
    """A formula was given what it does not take."""

    kind: Literal["inputs do not fit"] = "inputs do not fit"


@dataclass(frozen=True, slots=True)
class NotRead:
    """A reading that a calculation rests on was not taken. title: of its step."""

    title: str
    kind: Literal["not read"] = "not read"


@dataclass(frozen=True, slots=True)
class InDoubt:
    """A reading that a calculation rests on is in doubt."""

    name: str
    kind: Literal["in doubt"] = "in doubt"


CalculationStatement = (
    Decided
    | NoClass
    | DueAtHours
    | DueOnDay
    | DueAtHoursOrOnDay
    | LossTooHigh
    | RuleOfThumb
    | MoreThanCharts
    | ProtectsLess
    | SameKindOfCoolant
    | BetterInstrument
    | TooCoarse
    | Spread
    | FarOut
    | WiderBand
    | BeyondClass
    | DampOrDirty
    | OverdueByHours
    | OverdueByDays
    | UnusualInterval
    | DoseAboveLimit
    | DoseAtAction
    | CylinderUnderMean
    | CylinderUnderOther
    | ProbablyBetween
    | ProbablyBetweenHours
    | Extrapolated
    | OneReadingBends
    | StandardError
    | HalfACell
    | SmallIsLarger
    | PulleysOverlap
    | StifferThanBent
    | StifferThanSounded
    | DeflectionTooLarge
    | TooLittleFuel
    | MoreEnergyOut
    | TooStrong
    | NotBetweenMixtures
    | UncertaintyNeeded
    | NoLimitGiven
    | LimitsReversed
    | VoltagesTooUnequal
    | HigherIsLower
    | ThreeNeeded
    | NoMinimumSoHigh
    | IndexMeaningless
    | NoTestSoHigh
    | LessThanLastTime
    | BeforeLastTime
    | NothingComplete
    | NoWholeMonths
    | CalendarEnds
    | LevelsAndDurations
    | MoreThanADay
    | TurnedBack
    | AwayFromLimit
    | NoClearTrend
    | ReadingsAndTimes
    | TooFewForTrend
    | AllAtOneTime
    | OutsideFormula
    | NoFiniteAnswer
    | InputsDoNotFit
    | NotRead
    | InDoubt
)

InUnitOfResult = Spread | FarOut | ProbablyBetween | StandardError
"""Those that tell a value in the unit of the result."""
