"""Facts: what happened, in the past tense. A closed union of frozen dataclasses; the visit is their fold.

A fact carries all that a reader of the record needs, so that a session stays readable when the procedures
have changed: titles, limits and phrases are copied into it.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Literal

from assistant.quantities import Quantity
from assistant.session.inputs import Clip, Hindrance, Order, Said, Source

Passage = tuple[str, int]
"""A procedure, and which time in the visit it is gone through, from 1."""


@dataclass(frozen=True, slots=True)
class StepPlace:
    """Where a step stands: the procedure's and the step's identifiers. time: which time in the visit that procedure is
    gone through, from 1; a change of the engine's state may be needed again."""

    task: str
    step: str
    time: int = 1

    @property
    def passage(self) -> Passage:
        """Which going through of a procedure it belongs to; that of its stage, in a planned visit."""
        return self.task, self.time


class Purpose(StrEnum):
    """What an exchange is for."""

    STEP = "step"
    REASON = "reason"
    ENDING = "ending"
    STATE = "state"
    FOUND = "found"
    NOTE = "note"
    FINDING = "finding"
    STEP_WRONG = "step wrong"
    HAND_OVER = "hand over"
    SUBSTITUTE = "substitute"
    TASK_PUT_OFF = "task put off"
    TASK_ADDED = "task added"
    TASK_REASON = "task reason"
    OTHER_WORK = "other work"


class Stage(StrEnum):
    """Where an exchange stands: it asks, asks which unit was meant, or has read back and waits for confirmation."""

    ASKING = "asking"
    COMPLETING = "completing"
    CONFIRMING = "confirming"


class Manner(StrEnum):
    """The way of asking. After two failed hearings the next one that the question allows."""

    PLAIN = "plain"
    CHOICES = "choices"
    DIGITS = "digits"
    HANDS = "hands"


class Known(StrEnum):
    """What is known of a variable of the engine's state."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


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
class WorkTakenUp:
    """The visit began. title: of the work; steps: how many steps it has."""

    order: Order
    title: str
    steps: int
    kind: Literal["work taken up"] = "work taken up"


@dataclass(frozen=True, slots=True)
class WorkTakenUpAgain:
    """A broken-off visit went on; nothing that was known of the engine is known any more."""

    technician: str
    kind: Literal["work taken up again"] = "work taken up again"


@dataclass(frozen=True, slots=True)
class PlannedStage:
    """A part of a visit: a task, a change of the engine's state, or how a visit begins and ends.

    name: of the task or change; procedure: that says how; time: as in `StepPlace`; reasons: why it stands there.
    """

    name: str
    procedure: str
    title: str
    is_task: bool
    time: int = 1
    reasons: tuple[str, ...] = ()

    @property
    def passage(self) -> Passage:
        """Which going through of its procedure it is; that of the places of its steps."""
        return self.procedure, self.time


@dataclass(frozen=True, slots=True)
class VisitPlanned:
    """The order of the visit, from its beginning to its end; a later one takes its place. because: in plain words;
    steps: of all stages."""

    stages: tuple[PlannedStage, ...]
    because: str
    steps: int
    kind: Literal["visit planned"] = "visit planned"


@dataclass(frozen=True, slots=True)
class StageDone:
    """Every step of a stage is done, left out or passed over. A task that is done is due anew from now on."""

    stage: PlannedStage
    kind: Literal["stage done"] = "stage done"


@dataclass(frozen=True, slots=True)
class TaskPutOff:
    """A task was left out of the visit, with a reason; it stays due."""

    task: str
    title: str
    reason: str
    clip: Clip | None
    kind: Literal["task put off"] = "task put off"


@dataclass(frozen=True, slots=True)
class TaskChosen:
    """A task is to be added to the visit; the reason is asked for. task: empty when it was taken back."""

    task: str
    kind: Literal["task chosen"] = "task chosen"


@dataclass(frozen=True, slots=True)
class TaskAdded:
    """A task was added to the visit, with a reason."""

    task: str
    title: str
    reason: str
    clip: Clip | None
    kind: Literal["task added"] = "task added"


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
    """A line of such a history. day: ISO 8601; hours: as the meter showed them; task, procedure, title: empty where
    only the meter was read."""

    day: str
    hours: Decimal | None
    task: str
    procedure: str
    title: str
    kind: Literal["done before"] = "done before"


@dataclass(frozen=True, slots=True)
class StepReached:
    """A step came into focus. title: as in the procedure; part: before, between (a change of state), steps or after."""

    place: StepPlace
    title: str
    part: str
    kind: Literal["step reached"] = "step reached"


@dataclass(frozen=True, slots=True)
class StepDone:
    """A step was completed."""

    place: StepPlace
    title: str
    kind: Literal["step done"] = "step done"


@dataclass(frozen=True, slots=True)
class StepSkipped:
    """A step was left out, with a reason. confidence: of the hearing of the reason."""

    place: StepPlace
    title: str
    reason: str
    clip: Clip | None
    kind: Literal["step skipped"] = "step skipped"


@dataclass(frozen=True, slots=True)
class StepReopened:
    """A step counts as not done any more. because: in plain words."""

    place: StepPlace
    title: str
    because: str
    kind: Literal["step reopened"] = "step reopened"


@dataclass(frozen=True, slots=True)
class ExchangeOpened:
    """An exchange began. exchange: counted from 1 within a session."""

    exchange: int
    purpose: Purpose
    kind: Literal["exchange opened"] = "exchange opened"


@dataclass(frozen=True, slots=True)
class ExchangeClosed:
    """An exchange ended; a later answer to it is dropped."""

    exchange: int
    kind: Literal["exchange closed"] = "exchange closed"


class Failure(StrEnum):
    """Why a hearing failed."""

    DOUBTFUL = "doubtful"
    SILENCE = "silence"
    TEEN_OR_TEN = "teen or ten"


@dataclass(frozen=True, slots=True)
class HearingFailed:
    """What was said, if anything, was not understood.

    text: the best guess, for the supervisor; not acted on; hindrance: what was in the way, where that can be told.
    """

    exchange: int
    failure: Failure
    text: str
    clip: Clip | None
    hindrance: Hindrance | None = None
    kind: Literal["hearing failed"] = "hearing failed"


@dataclass(frozen=True, slots=True)
class MannerChanged:
    """The way of asking changed."""

    exchange: int
    manner: Manner
    kind: Literal["manner changed"] = "manner changed"


@dataclass(frozen=True, slots=True)
class UnitAsked:
    """A number was heard with a word that several units are called by (`gallons`), so it is asked which was meant."""

    exchange: int
    value: Decimal
    called: str
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["unit asked"] = "unit asked"


@dataclass(frozen=True, slots=True)
class UnitTakenBack:
    """The technician took a number back before saying which unit was meant."""

    exchange: int
    value: Decimal
    called: str
    kind: Literal["unit taken back"] = "unit taken back"


@dataclass(frozen=True, slots=True)
class ReadingHeard:
    """A reading was heard and waits for its confirmation. doubt: why it is not to be trusted; empty when it is."""

    exchange: int
    quantity: Quantity
    confidence: float
    clip: Clip | None
    source: Source
    doubt: str
    kind: Literal["reading heard"] = "reading heard"


@dataclass(frozen=True, slots=True)
class ReadingQuestioned:
    """A reading outside the believable range was heard; it is asked for again before anything else."""

    exchange: int
    quantity: Quantity
    believable: str
    clip: Clip | None
    kind: Literal["reading questioned"] = "reading questioned"


@dataclass(frozen=True, slots=True)
class ReadBackRefused:
    """The technician said that the value read back is not the one meant."""

    exchange: int
    quantity: Quantity
    kind: Literal["read-back refused"] = "read-back refused"


@dataclass(frozen=True, slots=True)
class ReadingRecorded:
    """A reading was confirmed.

    limits: as they were when it was judged, empty when it had none; limits_by: what chose them, a state of the engine
    or another reading, empty when nothing did. clip: the sound of it. circumstances: what was known of the engine then,
    and what was read off before of load or surroundings. instrument: by its name, where the procedure names one.
    samples: the readings of which it is the mean, and spread their standard deviation; none where it was read once.
    """

    place: StepPlace
    name: str
    quantity: Quantity
    stage: ReadingStage
    limits: str
    verdict: ReadingVerdict
    confidence: float
    doubt: str
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
    """What a calculation took for an input. value: as written; reading: its name, empty where it was none."""

    name: str
    value: str
    reading: str


@dataclass(frozen=True, slots=True)
class CalculationRecorded:
    """Something was worked out.

    formula: its name in the table of formulas; reference: where it is from. limits, limits_by, verdict: as those of a
    reading. warnings: what the formula says of its result, and which of the readings it rests on are in doubt.
    """

    place: StepPlace
    name: str
    formula: str
    inputs: tuple[CalculationInput, ...]
    result: Quantity | str
    limits: str
    limits_by: str
    verdict: ReadingVerdict
    reference: str
    warnings: tuple[str, ...]
    kind: Literal["calculation recorded"] = "calculation recorded"


@dataclass(frozen=True, slots=True)
class AnswerRecorded:
    """A check was answered. good: whether the procedure counts the answer as in order."""

    place: StepPlace
    question: str
    key: str
    phrase: str
    good: bool
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["answer recorded"] = "answer recorded"


@dataclass(frozen=True, slots=True)
class FindingRecorded:
    """Something was wrong that was not the task."""

    place: StepPlace
    finding: str
    kind: Literal["finding recorded"] = "finding recorded"


class Subject(StrEnum):
    """What a spoken note is about."""

    NOTE = "note"
    FINDING = "finding"
    STEP_WRONG = "step wrong"


@dataclass(frozen=True, slots=True)
class NoteKept:
    """Free speech was kept as sound, or as text when it was typed. title: of the step at which it was said."""

    place: StepPlace
    title: str
    subject: Subject
    text: str
    clip: Clip | None
    kind: Literal["note kept"] = "note kept"


@dataclass(frozen=True, slots=True)
class ObjectDropped:
    """Something fell; nothing is started until it is found or excused."""

    place: StepPlace
    kind: Literal["object dropped"] = "object dropped"


@dataclass(frozen=True, slots=True)
class ObjectAccounted:
    """What had fallen was found, or was excused by the technician."""

    place: StepPlace
    found: bool
    kind: Literal["object accounted"] = "object accounted"


@dataclass(frozen=True, slots=True)
class StepPassedOver:
    """A step does not apply after what was answered. by: the step that was answered; because: in plain words."""

    place: StepPlace
    title: str
    by: StepPlace
    because: str
    kind: Literal["step passed over"] = "step passed over"


@dataclass(frozen=True, slots=True)
class HalfDone:
    """The first half of a step was done; its second is asked for."""

    place: StepPlace
    kind: Literal["half done"] = "half done"


@dataclass(frozen=True, slots=True)
class PartFitted:
    """A part was fitted. number: of the part expected, proved by `spoken`: its last three characters, or all of them
    where it was typed in full; empty for a substitute, which has a reason instead."""

    place: StepPlace
    name: str
    number: str
    spoken: str
    reason: str
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["part fitted"] = "part fitted"


@dataclass(frozen=True, slots=True)
class PartRefused:
    """The characters spelled are those of no part expected. spoken: as heard."""

    place: StepPlace
    spoken: str
    clip: Clip | None
    kind: Literal["part refused"] = "part refused"


@dataclass(frozen=True, slots=True)
class ReadingCollected:
    """One reading of a set was heard; the set is confirmed when it is whole. last: whether it is whole now."""

    exchange: int
    name: str
    quantity: Quantity
    confidence: float
    clip: Clip | None
    source: Source
    doubt: str
    last: bool
    kind: Literal["reading collected"] = "reading collected"


@dataclass(frozen=True, slots=True)
class SetRefused:
    """The set read back is not right; it is asked for anew."""

    exchange: int
    kind: Literal["set refused"] = "set refused"


@dataclass(frozen=True, slots=True)
class WorkHandedOver:
    """Another person goes on with the work; nothing that was known of the engine is known any more."""

    technician: str
    kind: Literal["work handed over"] = "work handed over"


@dataclass(frozen=True, slots=True)
class HelpCalled:
    """The technician called for help; the assistant repeated it aloud and reached nobody else."""

    kind: Literal["help called"] = "help called"


@dataclass(frozen=True, slots=True)
class VoiceChanged:
    """The assistant speaks otherwise. loudness: steps of 4 dB from the usual; pace: steps of a tenth."""

    loudness: int
    pace: int
    kind: Literal["voice changed"] = "voice changed"


@dataclass(frozen=True, slots=True)
class HoldPointPassed:
    """A hold point was acknowledged in its set words."""

    place: StepPlace
    title: str
    confidence: float
    clip: Clip | None
    source: Source
    kind: Literal["hold point passed"] = "hold point passed"


@dataclass(frozen=True, slots=True)
class TimerStarted:
    """A timer began. run: counted from 1 for each timer; a restart has a number of its own."""

    timer: str
    run: int
    seconds: float
    kind: Literal["timer started"] = "timer started"


@dataclass(frozen=True, slots=True)
class TimerEnded:
    """A timer ran its whole time."""

    timer: str
    run: int
    kind: Literal["timer ended"] = "timer ended"


@dataclass(frozen=True, slots=True)
class StateLearned:
    """A variable of the engine's state is known, or no longer. lasts: seconds after which it is unknown again."""

    variable: str
    value: Known
    because: str
    lasts: float | None
    kind: Literal["state learned"] = "state learned"


@dataclass(frozen=True, slots=True)
class StateForgotten:
    """Nothing is known of the engine's state any more. because: in plain words."""

    because: str
    kind: Literal["state forgotten"] = "state forgotten"


@dataclass(frozen=True, slots=True)
class StoodBy:
    """The technician asked the assistant to wait."""

    kind: Literal["stood by"] = "stood by"


@dataclass(frozen=True, slots=True)
class CarriedOn:
    """The wait was over. seconds: how long it was."""

    seconds: float
    kind: Literal["carried on"] = "carried on"


@dataclass(frozen=True, slots=True)
class RequestRefused:
    """Something is not allowed here; nothing changed. what: was asked for; because: the name of the message."""

    what: str
    because: str
    kind: Literal["request refused"] = "request refused"


@dataclass(frozen=True, slots=True)
class LateAnswerDropped:
    """An answer came to an exchange that is closed."""

    exchange: int
    kind: Literal["late answer dropped"] = "late answer dropped"


@dataclass(frozen=True, slots=True)
class Spoken:
    """A prompt was played, whole or cut off."""

    said: tuple[Said, ...]
    kind: Literal["spoken"] = "spoken"


@dataclass(frozen=True, slots=True)
class DeviceLost:
    """The assistant lost a device."""

    device: str
    detail: str
    kind: Literal["device lost"] = "device lost"


@dataclass(frozen=True, slots=True)
class WorkEnded:
    """The work ended. complete: false when it was ended before its last step."""

    complete: bool
    because: str
    kind: Literal["work ended"] = "work ended"


class ClockDoubt(StrEnum):
    """Why a clock is not to be trusted."""

    BEFORE_SESSION = "before session"
    BEFORE_PROGRAM = "before program"
    JUMPED = "jumped"


@dataclass(frozen=True, slots=True)
class ClockDoubted:
    """The clock showed what cannot be.

    why: against what it was held.
    shown: ISO 8601, what it showed.
    against: ISO 8601, what it should have shown at least; after a jump, what it would have shown without.
    session: that `against` is of; empty when it is of no other session.
    """

    why: ClockDoubt
    shown: str
    against: str
    session: str
    kind: Literal["clock doubted"] = "clock doubted"


@dataclass(frozen=True, slots=True)
class WorkedBeside:
    """Somebody else was at work on the asset when the work was taken up, and it was taken up all the same."""

    technician: str
    session: str
    since: str
    kind: Literal["worked beside"] = "worked beside"


@dataclass(frozen=True, slots=True)
class FilesSetAside:
    """What no line cites lay in the session's folder, and was set aside.

    names: of the files, as they were called.
    sounds: how many of them are sounds; where there are any, lines may be missing.
    """

    names: tuple[str, ...]
    sounds: int
    kind: Literal["files set aside"] = "files set aside"


@dataclass(frozen=True, slots=True)
class CopyReplaced:
    """A copy of a procedure did not hold; the installed file with the same hash took its place. name: of the copy."""

    name: str
    kind: Literal["copy replaced"] = "copy replaced"


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


Fact = (
    SalvageMade
    | ClockDoubted
    | WorkedBeside
    | FilesSetAside
    | CopyReplaced
    | WorkTakenUp
    | WorkTakenUpAgain
    | VisitPlanned
    | StageDone
    | TaskPutOff
    | TaskChosen
    | TaskAdded
    | HistoryTakenOver
    | DoneBefore
    | StepReached
    | StepDone
    | StepSkipped
    | StepReopened
    | ExchangeOpened
    | ExchangeClosed
    | HearingFailed
    | MannerChanged
    | UnitAsked
    | UnitTakenBack
    | ReadingHeard
    | ReadingQuestioned
    | ReadBackRefused
    | ReadingRecorded
    | ReadingWithdrawn
    | CalculationRecorded
    | AnswerRecorded
    | FindingRecorded
    | NoteKept
    | ObjectDropped
    | ObjectAccounted
    | StepPassedOver
    | HalfDone
    | PartFitted
    | PartRefused
    | ReadingCollected
    | SetRefused
    | WorkHandedOver
    | HelpCalled
    | VoiceChanged
    | HoldPointPassed
    | TimerStarted
    | TimerEnded
    | StateLearned
    | StateForgotten
    | StoodBy
    | CarriedOn
    | RequestRefused
    | LateAnswerDropped
    | Spoken
    | DeviceLost
    | WorkEnded
)
