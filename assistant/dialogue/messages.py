"""What the assistant can say: a closed union of messages, each a name and typed arguments.

The wording stands in `grammars/<language>/wording.yaml` under the class's name; a message knows no language.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from assistant.grammar.expectation import Offer
from assistant.meanings import CommandName
from assistant.quantities import Limits, Quantity


@dataclass(frozen=True, slots=True)
class WorkBegins:
    """The work is taken up."""

    title: str
    asset: str
    steps: int


@dataclass(frozen=True, slots=True)
class WorkGoesOn:
    """A visit that broke off goes on."""

    title: str


@dataclass(frozen=True, slots=True)
class DemoData:
    """The values of this equipment are invented."""


@dataclass(frozen=True, slots=True)
class Hazard:
    """A warning before a step. signal: danger, warning, caution or notice."""

    signal: str
    text: str


@dataclass(frozen=True, slots=True)
class StepText:
    """What a step asks for. step: its identifier, for a listener that is a program."""

    step: str
    text: str


@dataclass(frozen=True, slots=True)
class Details:
    """The longer explanation of a step."""

    text: str


@dataclass(frozen=True, slots=True)
class NoDetails:
    """There is no longer explanation."""


@dataclass(frozen=True, slots=True)
class WhereYouAre:
    """The place in the work."""

    number: int
    total: int
    title: str


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """What was said was not understood."""


@dataclass(frozen=True, slots=True)
class NoiseInTheWay:
    """The noise is nearly as loud as the voice: what helps."""


@dataclass(frozen=True, slots=True)
class VoiceTooFaint:
    """The voice hardly reaches the microphone: what helps."""


@dataclass(frozen=True, slots=True)
class VoiceTooLoud:
    """The voice is more than the microphone can take: what helps."""


@dataclass(frozen=True, slots=True)
class Choices:
    """What may be said here. choices: offers and commands; their phrases are the grammar's."""

    choices: tuple[Offer | CommandName, ...]


@dataclass(frozen=True, slots=True)
class SayNumber:
    """What may be said where a reading is asked for."""

    name: str
    unit: str


@dataclass(frozen=True, slots=True)
class UseCard:
    """What may be said at a hold point; its phrase is never spoken by the assistant."""

    card: int


@dataclass(frozen=True, slots=True)
class DigitByDigit:
    """A reading is to be said digit by digit."""

    name: str


@dataclass(frozen=True, slots=True)
class UseHands:
    """Hearing does not work here: button or keyboard."""


@dataclass(frozen=True, slots=True)
class ReadBack:
    """A reading read back digit by digit, for confirmation. converted: in the step's unit, if said in another."""

    name: str
    quantity: Quantity
    converted: Quantity | None = None


@dataclass(frozen=True, slots=True)
class WhichUnit:
    """A word that several units are called by was said. choices: those units."""

    choices: tuple[Offer | CommandName, ...]


@dataclass(frozen=True, slots=True)
class NotBelievable:
    """A reading outside the believable range is asked for again. converted: as in `ReadBack`."""

    name: str
    quantity: Quantity
    believable: Limits
    converted: Quantity | None = None


@dataclass(frozen=True, slots=True)
class AskedAnew:
    """A reading is asked for again after its read-back was refused."""

    name: str


@dataclass(frozen=True, slots=True)
class WithinLimits:
    """A value is within its limits."""

    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class TooLow:
    """A value is below its limits."""

    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class TooHigh:
    """A value is above its limits."""

    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class Inconclusive:
    """A value is too near a limit for the instrument to tell on which side it is."""

    quantity: Quantity
    limits: Limits


@dataclass(frozen=True, slots=True)
class MeasureAgain:
    """An inconclusive reading is taken once more."""


@dataclass(frozen=True, slots=True)
class FindingNoted:
    """A value that is not within its limits goes into the record as a finding, and the work goes on."""


@dataclass(frozen=True, slots=True)
class OutOfDate:
    """The calibration of a reading's instrument is out of date; the reading is marked."""

    instrument: str


@dataclass(frozen=True, slots=True)
class AskSample:
    """The next of several readings of one thing. number: from 1."""

    name: str
    number: int
    total: int


@dataclass(frozen=True, slots=True)
class MeanTold:
    """The mean of repeated readings and their spread."""

    mean: Quantity
    spread: Quantity


@dataclass(frozen=True, slots=True)
class SampleDoubted:
    """One of repeated readings lies far from the others; it counts all the same."""

    quantity: Quantity


@dataclass(frozen=True, slots=True)
class WorkedOut:
    """A calculation's result."""

    name: str
    result: Quantity | str


@dataclass(frozen=True, slots=True)
class Caveat:
    """What is to be known of a calculation's result."""

    text: str


@dataclass(frozen=True, slots=True)
class NotWorkedOut:
    """A calculation cannot be done. because: in words."""

    name: str
    because: str


@dataclass(frozen=True, slots=True)
class Recorded:
    """A confirmed reading has no limits."""


@dataclass(frozen=True, slots=True)
class PutRight:
    """What to put right before measuring again, or before the question is asked again."""

    text: str


@dataclass(frozen=True, slots=True)
class Reply:
    """What the procedure says to an answer."""

    text: str


@dataclass(frozen=True, slots=True)
class AnswerTaken:
    """A named answer as it was taken, so that a wrong one can be corrected."""

    phrase: str


@dataclass(frozen=True, slots=True)
class AnswerNeeded:
    """`next` does not answer a question."""


@dataclass(frozen=True, slots=True)
class HoldStays:
    """`next` does not pass a hold point."""

    card: int


@dataclass(frozen=True, slots=True)
class TimerRuns:
    """A wait has begun. seconds: its whole length."""

    seconds: float


@dataclass(frozen=True, slots=True)
class TimerNotOver:
    """A wait is not over. seconds: what is left."""

    seconds: float


@dataclass(frozen=True, slots=True)
class TimeIsUp:
    """A wait is over."""

    title: str


@dataclass(frozen=True, slots=True)
class NotHere:
    """What was asked for is not possible now."""


@dataclass(frozen=True, slots=True)
class NothingToCorrect:
    """There is nothing that `correction` could take back."""


@dataclass(frozen=True, slots=True)
class CannotReopen:
    """The last step cannot be opened again, for the engine is not as it needs it."""

    title: str
    state: str


@dataclass(frozen=True, slots=True)
class Reopened:
    """A step counts as not done any more."""

    title: str


@dataclass(frozen=True, slots=True)
class CannotSkip:
    """A step may not be left out."""

    title: str


@dataclass(frozen=True, slots=True)
class AskReason:
    """Why is the step left out?"""

    title: str


@dataclass(frozen=True, slots=True)
class Skipped:
    """The step is left out."""

    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class AskEnding:
    """Is the work to end unfinished? open: how many steps are not done."""

    open: int


@dataclass(frozen=True, slots=True)
class GoingOn:
    """A request was taken back, or a pause is over."""


@dataclass(frozen=True, slots=True)
class StandingBy:
    """The assistant waits."""


@dataclass(frozen=True, slots=True)
class LongPause:
    """The pause was long: what was known of the engine is not known any more."""


@dataclass(frozen=True, slots=True)
class ProveAgain:
    """A step needs a state that is not proved; the step that proves it comes first. state: in words."""

    state: str
    title: str


@dataclass(frozen=True, slots=True)
class AskState:
    """A step needs a state that only the technician's word can tell. state: in words."""

    state: str


@dataclass(frozen=True, slots=True)
class NotYet:
    """The state that the step needs is not so yet."""


@dataclass(frozen=True, slots=True)
class AskMember:
    """The next reading of a set."""

    name: str


@dataclass(frozen=True, slots=True)
class MemberReadBack:
    """One reading of a set, read back digit by digit. converted: as in `ReadBack`."""

    name: str
    quantity: Quantity
    converted: Quantity | None = None


@dataclass(frozen=True, slots=True)
class AllRight:
    """Is the whole set right?"""


@dataclass(frozen=True, slots=True)
class SetAnew:
    """The set is asked for from its beginning."""


@dataclass(frozen=True, slots=True)
class MemberTold:
    """How one reading of a set stands against its limits: the message for the side it is on follows."""

    name: str


@dataclass(frozen=True, slots=True)
class SpellPart:
    """How a part is proved: the last three characters of its number, spelled."""


@dataclass(frozen=True, slots=True)
class PartProved:
    """The part fitted is one of those expected."""

    name: str


@dataclass(frozen=True, slots=True)
class PartDiffers:
    """The part spelled is none of those expected. spoken: the characters heard, one by one."""

    spoken: str


@dataclass(frozen=True, slots=True)
class AskSubstitute:
    """Why is a substitute fitted?"""


@dataclass(frozen=True, slots=True)
class SubstituteFitted:
    """A substitute is fitted, for a reason."""

    reason: str


@dataclass(frozen=True, slots=True)
class LastDone:
    """The steps that were done last, before a break. titles: in order."""

    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LastReading:
    """The reading that was recorded last."""

    name: str
    quantity: Quantity


@dataclass(frozen=True, slots=True)
class NoReading:
    """Nothing was measured yet."""


@dataclass(frozen=True, slots=True)
class TrendNotYet:
    """Nothing can be said of a reading's trend yet."""

    name: str


@dataclass(frozen=True, slots=True)
class TrendOut:
    """The newest reading is out of its limits, so its trend matters no more. limits: as written."""

    name: str
    newest: Quantity
    limits: str


@dataclass(frozen=True, slots=True)
class TrendUnclear:
    """The readings show no clear trend. readings: how many, in words."""

    name: str
    readings: str


@dataclass(frozen=True, slots=True)
class TrendOfFew:
    """The trend rests on a few of the readings."""

    name: str


@dataclass(frozen=True, slots=True)
class TrendWithoutLimit:
    """A reading moves and has no limit. moves: in words; per: the time in which it changes so much, in words."""

    name: str
    moves: str
    change: Quantity
    per: str


@dataclass(frozen=True, slots=True)
class TrendAway:
    """A reading moves away from its only limit."""

    name: str
    moves: str


@dataclass(frozen=True, slots=True)
class TrendPast:
    """By its trend a reading is at its limit already."""

    name: str
    limit: Quantity


@dataclass(frozen=True, slots=True)
class TrendFar:
    """A reading moves towards a limit that is too far off to say when."""

    name: str
    moves: str
    limit: Quantity


@dataclass(frozen=True, slots=True)
class TrendReaches:
    """When a reading reaches its limit: run hours or dates, with the range."""

    name: str
    limit: Quantity
    at: Quantity | date
    earliest: Quantity | date
    latest: Quantity | date


@dataclass(frozen=True, slots=True)
class TrendReachesNotBefore:
    """As `TrendReaches`, where the end of the range is too far off to say."""

    name: str
    limit: Quantity
    at: Quantity | date
    earliest: Quantity | date


@dataclass(frozen=True, slots=True)
class WhatIsLeft:
    """How many steps are open and which comes next."""

    open: int
    title: str


@dataclass(frozen=True, slots=True)
class SpeakNote:
    """A note is to be spoken now."""


@dataclass(frozen=True, slots=True)
class SpeakFinding:
    """A finding is to be spoken now."""


@dataclass(frozen=True, slots=True)
class SpeakWhatIsWrong:
    """What is wrong with the step is to be spoken now; it goes to the trainer."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What was spoken is kept as sound."""


@dataclass(frozen=True, slots=True)
class KeptAsText:
    """What was typed is kept as it was written: there is no sound of it."""


@dataclass(frozen=True, slots=True)
class SomethingDropped:
    """Nothing is started until what fell is found or excused."""


@dataclass(frozen=True, slots=True)
class AskFound:
    """What fell must be found or excused before this goes on."""


@dataclass(frozen=True, slots=True)
class Accounted:
    """What fell was found or excused, and nothing is missing any more."""


@dataclass(frozen=True, slots=True)
class StillMissing:
    """One thing that fell was found or excused; others are still missing. number: how many."""

    number: int


@dataclass(frozen=True, slots=True)
class HelpNeeded:
    """An alarm, spoken aloud again and again; it reaches nobody else."""


@dataclass(frozen=True, slots=True)
class VoiceIsChanged:
    """The assistant speaks louder, softer, slower or faster now."""


@dataclass(frozen=True, slots=True)
class AskRole:
    """Who goes on with the work?"""


@dataclass(frozen=True, slots=True)
class HandedOver:
    """Another person goes on; the engine's state is not known any more."""

    technician: str


@dataclass(frozen=True, slots=True)
class TaskBegins:
    """A task of the visit begins."""

    title: str


@dataclass(frozen=True, slots=True)
class WaitsFor:
    """What comes about by itself, and is waited for. reason: what it is for, in the planner's words."""

    reason: str


@dataclass(frozen=True, slots=True)
class Meanwhile:
    """Tasks that may be done while it comes about."""

    titles: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NothingMeanwhile:
    """No task may be done while it comes about."""


@dataclass(frozen=True, slots=True)
class NothingIsDue:
    """No task is due before the next visit."""


@dataclass(frozen=True, slots=True)
class TaskOverdue:
    """A task is overdue."""

    title: str


@dataclass(frozen=True, slots=True)
class TaskDueNow:
    """A task is due."""

    title: str


@dataclass(frozen=True, slots=True)
class TaskDueAt:
    """A task is due again at these run hours."""

    title: str
    hours: Quantity


@dataclass(frozen=True, slots=True)
class TaskDueOn:
    """A task is due again on this day."""

    title: str
    day: date


@dataclass(frozen=True, slots=True)
class TaskDueAtOrOn:
    """A task is due again at these run hours or on this day, whichever comes first."""

    title: str
    hours: Quantity
    day: date


@dataclass(frozen=True, slots=True)
class TaskDueByCondition:
    """A task is due again when the engine asks for it."""

    title: str


@dataclass(frozen=True, slots=True)
class PartsNeeded:
    """Parts for the tasks still to be done."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SuppliesNeeded:
    """What is used up by the tasks still to be done."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToolsNeeded:
    """Tools for the tasks still to be done."""

    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class NothingNeeded:
    """Nothing is needed for what is still to be done."""


@dataclass(frozen=True, slots=True)
class AskPuttingOff:
    """For what reason is a task left out of the visit?"""

    title: str


@dataclass(frozen=True, slots=True)
class TaskIsPutOff:
    """A task is left out of the visit and stays due."""

    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class CannotPutOff:
    """No task can be put off now: what was begun is finished."""


@dataclass(frozen=True, slots=True)
class AskWhichTask:
    """Which of these tasks is meant? choices: what each is called."""

    choices: tuple[Offer, ...]


@dataclass(frozen=True, slots=True)
class NoOtherTask:
    """There is no task that can be chosen here."""


@dataclass(frozen=True, slots=True)
class AskAdding:
    """For what reason is a task added to the visit?"""

    title: str


@dataclass(frozen=True, slots=True)
class TaskIsAdded:
    """A task is added to the visit."""

    title: str
    reason: str


@dataclass(frozen=True, slots=True)
class TaskComesFirst:
    """A task is done before all others that are left."""

    title: str


@dataclass(frozen=True, slots=True)
class NoSuchOrder:
    """The tasks cannot be brought in such an order."""


@dataclass(frozen=True, slots=True)
class WorkComplete:
    """The last step is done."""

    readings: int
    skipped: int
    findings: int


@dataclass(frozen=True, slots=True)
class WorkEndedEarly:
    """The work ends unfinished."""

    open: int


@dataclass(frozen=True, slots=True)
class DeviceGone:
    """A device does not answer any more."""

    device: str


@dataclass(frozen=True, slots=True)
class ClockBeforeVisit:
    """The clock shows less than an earlier visit did. shown, visit: days of the two."""

    shown: date
    visit: date


@dataclass(frozen=True, slots=True)
class ClockBeforeProgram:
    """The clock shows a day on which the program was not made yet."""

    shown: date


@dataclass(frozen=True, slots=True)
class ClockHasJumped:
    """The clock was set, or went wrong, during the visit."""


@dataclass(frozen=True, slots=True)
class SomebodyBeside:
    """Somebody else is at work on the asset too. technician: the role."""

    technician: str


@dataclass(frozen=True, slots=True)
class RecordMayLackLines:
    """There are sounds that no line of the journal cites."""


@dataclass(frozen=True, slots=True)
class CannotRecord:
    """The record cannot be written, so the work stands by."""


Message = (
    WorkBegins
    | WorkGoesOn
    | DemoData
    | Hazard
    | StepText
    | Details
    | NoDetails
    | WhereYouAre
    | NotUnderstood
    | NoiseInTheWay
    | VoiceTooFaint
    | VoiceTooLoud
    | Choices
    | SayNumber
    | UseCard
    | DigitByDigit
    | UseHands
    | ReadBack
    | WhichUnit
    | NotBelievable
    | AskedAnew
    | WithinLimits
    | TooLow
    | TooHigh
    | Inconclusive
    | MeasureAgain
    | FindingNoted
    | OutOfDate
    | AskSample
    | MeanTold
    | SampleDoubted
    | WorkedOut
    | Caveat
    | NotWorkedOut
    | Recorded
    | PutRight
    | Reply
    | AnswerTaken
    | AnswerNeeded
    | HoldStays
    | TimerRuns
    | TimerNotOver
    | TimeIsUp
    | NotHere
    | NothingToCorrect
    | CannotReopen
    | Reopened
    | CannotSkip
    | AskReason
    | Skipped
    | AskEnding
    | GoingOn
    | StandingBy
    | LongPause
    | ProveAgain
    | AskState
    | NotYet
    | AskMember
    | MemberReadBack
    | AllRight
    | SetAnew
    | MemberTold
    | SpellPart
    | PartProved
    | PartDiffers
    | AskSubstitute
    | SubstituteFitted
    | LastDone
    | LastReading
    | NoReading
    | TrendNotYet
    | TrendOut
    | TrendUnclear
    | TrendOfFew
    | TrendWithoutLimit
    | TrendAway
    | TrendPast
    | TrendFar
    | TrendReaches
    | TrendReachesNotBefore
    | WhatIsLeft
    | SpeakNote
    | SpeakFinding
    | SpeakWhatIsWrong
    | Kept
    | KeptAsText
    | SomethingDropped
    | AskFound
    | Accounted
    | StillMissing
    | HelpNeeded
    | VoiceIsChanged
    | AskRole
    | HandedOver
    | TaskBegins
    | WaitsFor
    | Meanwhile
    | NothingMeanwhile
    | NothingIsDue
    | TaskOverdue
    | TaskDueNow
    | TaskDueAt
    | TaskDueOn
    | TaskDueAtOrOn
    | TaskDueByCondition
    | PartsNeeded
    | SuppliesNeeded
    | ToolsNeeded
    | NothingNeeded
    | AskPuttingOff
    | TaskIsPutOff
    | CannotPutOff
    | AskWhichTask
    | NoOtherTask
    | AskAdding
    | TaskIsAdded
    | TaskComesFirst
    | NoSuchOrder
    | WorkComplete
    | WorkEndedEarly
    | DeviceGone
    | ClockBeforeVisit
    | ClockBeforeProgram
    | ClockHasJumped
    | SomebodyBeside
    | RecordMayLackLines
    | CannotRecord
)
