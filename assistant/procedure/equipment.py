"""An equipment model, the tasks that are done on it, and a procedure for it, as data."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import BeforeValidator, Field, SerializeAsAny, model_validator

from assistant.engine_state import Known
from assistant.procedure.fields import FileModel, Identifier, LimitsField, QuantityField, Words
from assistant.procedure.step import SignalWord, Step
from assistant.quantities import Kind, Quantity, parse


class StateVariable(FileModel):
    """A variable of the engine's state in words: how it sounds when it is so (yes) and when it is not (no).

    proved: when it is not known, the step that proves it is done again; else the technician's word is enough.
    rules_out: states that cannot be while this one is so; a variable that rules something out is an isolation.
    """

    yes: str
    no: str
    proved: bool = False
    rules_out: dict[Identifier, Known] = Field(default_factory=dict)


class EquipmentHazard(FileModel):
    """What can hurt, and what must be spoken before it does.

    A step meets it that leaves `state`, or whose text says one of `words`; where both are given, whose text says so
    while the state is so. It speaks `signal` or a graver word before its text, in a sentence that says one of `about`.
    A step that only needs the state comes after one that left it, and relies on the warning of that.
    """

    signal: SignalWord
    about: tuple[Words, ...] = Field(min_length=1)
    state: dict[Identifier, Known] = Field(default_factory=dict)
    words: tuple[Words, ...] = ()

    @model_validator(mode="after")
    def _can_be_met(self) -> EquipmentHazard:
        if not self.state and not self.words:
            raise ValueError('a hazard needs "state" or "words": where a step meets it')
        return self


def _amount(value: object) -> object:
    return parse(value, "amount", Kind.COUNT) if isinstance(value, str) else value


AmountField = Annotated[Quantity, BeforeValidator(_amount)]
"""So much of something: `2.8 L`, or a number of pieces."""


class TimeTaking(FileModel):
    """What takes time. takes: from the shortest to the longest that is usual, such as `40 min to 60 min`."""

    takes: LimitsField

    @model_validator(mode="after")
    def _takes_time(self) -> TimeTaking:
        low, high = self.takes.low, self.takes.high
        if low is None or high is None or self.takes.kind is not Kind.TIME:
            raise ValueError('"takes" is a range of time: write "40 min to 60 min"')
        return self

    @property
    def minutes(self) -> tuple[float, float]:
        """The shortest and the longest, in minutes."""
        assert self.takes.low is not None
        assert self.takes.high is not None
        return float(self.takes.low.exactly("min")), float(self.takes.high.exactly("min"))


class Interval(FileModel):
    """When a task is due again: after so many run hours or so many months, whichever comes first."""

    hours: Decimal | None = Field(default=None, gt=0, le=1_000_000)
    months: int | None = Field(default=None, ge=1, le=240)

    @model_validator(mode="after")
    def _is_one(self) -> Interval:
        if self.hours is None and self.months is None:
            raise ValueError('"hours" or "months" is wanted, or both')
        return self


class Supply(FileModel):
    """Something that is brought or taken away by the amount."""

    name: str = Field(min_length=1)
    amount: AmountField


class NeededPart(FileModel):
    """A part to bring. quantity: pieces."""

    name: str = Field(min_length=1)
    number: str = Field(min_length=1)
    quantity: int = Field(default=1, ge=1, le=9999)


class Task(TimeTaking):
    """Work that comes again.

    procedure: the file that says how, without its ending; None: it is named like the task.
    called: what it is called when it is asked for aloud; None: its title.
    every, condition: when it is due.
    does: what it does that a precaution speaks of.
    needs, leaves: the engine's state where the work itself begins and ends, without what the visit does once for all
        tasks.
    follows: steps, as `procedure/step`, whose open findings call for it.
    second_person, licence: who else is wanted, or what the technician must be licensed for.
    """

    title: str = Field(min_length=1)
    procedure: Identifier | None = None
    called: Words | None = None
    every: Interval | None = None
    condition: str = ""
    does: tuple[Identifier, ...] = ()
    needs: dict[Identifier, Known] = Field(default_factory=dict)
    leaves: dict[Identifier, Known] = Field(default_factory=dict)
    parts: tuple[NeededPart, ...] = ()
    consumables: tuple[Supply, ...] = ()
    tools: tuple[str, ...] = ()
    waste: tuple[Supply, ...] = ()
    second_person: str = ""
    licence: str = ""
    follows: tuple[Annotated[str, Field(pattern=r"^[a-z0-9-]+/[a-z0-9-]+$")], ...] = ()

    @model_validator(mode="after")
    def _is_due_at_some_time(self) -> Task:
        if self.every is None and not self.condition:
            raise ValueError('"every" or "condition" is wanted: when the task is due')
        return self


class Change(TimeTaking):
    """A change of the engine's state, done for tasks.

    procedure: as that of a task.
    by_itself: it comes about while other work goes on.
    """

    title: str = Field(min_length=1)
    procedure: Identifier | None = None
    needs: dict[Identifier, Known] = Field(default_factory=dict)
    leaves: dict[Identifier, Known] = Field(min_length=1)
    by_itself: bool = False


class Precaution(FileModel):
    """What a task that does something has to mind.

    doing: see `Task.does`.
    because: why, as a sentence without its stop.
    before: every task that does this comes later in the visit.
    needs: the engine's state that such a task needs too.
    """

    doing: Identifier
    because: str = Field(min_length=1)
    before: Identifier | None = None
    needs: dict[Identifier, Known] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _asks_something(self) -> Precaution:
        if self.before is None and not self.needs:
            raise ValueError('a precaution needs "before" or "needs": what has to be minded')
        return self


class Instrument(FileModel):
    """What readings are taken with.

    uncertainty: expanded, k = 2.
    calibrated_until: the last day on which it is.
    """

    name: str = Field(min_length=1)
    uncertainty: QuantityField | None = None
    calibrated_until: date | None = None

    def out_of_date(self, day: date) -> date | None:
        """Since when its calibration is out of date on a day; None while it is not, or where none is wanted."""
        return None if self.calibrated_until is None or day <= self.calibrated_until else self.calibrated_until


class VisitSettings(FileModel):
    """How a visit finds and leaves the engine.

    months: between visits, until enough of them are known.
    opening, ending: the procedures with which every visit begins and ends.
    """

    months: int = Field(default=6, ge=1, le=60)
    opening: Identifier | None = None
    ending: Identifier | None = None
    found: dict[Identifier, Known] = Field(default_factory=dict)
    left: dict[Identifier, Known] = Field(default_factory=dict)


class Equipment(FileModel):
    """One model of generating set.

    data: values that the procedures refer to as `{group.name}`.
    demo: whether the data is invented.
    tasks, changes, precautions, visit: what a visit is planned from; without tasks nothing is.
    """

    format: int = Field(ge=1, le=1)
    model: Identifier
    name: str
    demo: bool = False
    assets: dict[Identifier, str]
    state: dict[Identifier, StateVariable]
    hazards: dict[Identifier, EquipmentHazard] = Field(default_factory=dict)
    data: dict[str, dict[str, str]] = Field(default_factory=dict)
    instruments: dict[Identifier, Instrument] = Field(default_factory=dict)
    tasks: dict[Identifier, Task] = Field(default_factory=dict)
    changes: dict[Identifier, Change] = Field(default_factory=dict)
    precautions: dict[Identifier, Precaution] = Field(default_factory=dict)
    visit: VisitSettings = VisitSettings()

    def procedure_of(self, stage: str) -> str:
        """The procedure file of a task or a change, without its ending. Errors: KeyError when there is no such one."""
        return (self.tasks.get(stage) or self.changes[stage]).procedure or stage

    def called(self, task: str) -> str:
        """What a task is called aloud, in small letters. Errors: KeyError when there is no such task."""
        return self.tasks[task].called or self.tasks[task].title.lower()

    def needs_of(self, stage: str) -> dict[str, Known]:
        """What a task, by the precautions too, or a change needs. Errors: KeyError when there is no such one."""
        if stage not in self.tasks:
            return dict(self.changes[stage].needs)
        needs = dict(self.tasks[stage].needs)
        for precaution in self.minded(stage):
            needs |= precaution.needs
        return needs

    def leaves_of(self, stage: str) -> dict[str, Known]:
        """What a task or a change leaves. Errors: KeyError when there is no such one."""
        return (self.tasks.get(stage) or self.changes[stage]).leaves

    def stages_of(self, procedure: str) -> tuple[str, ...]:
        """The tasks and changes that a procedure file says how to do."""
        return tuple(stage for stage in (*self.tasks, *self.changes) if self.procedure_of(stage) == procedure)

    def minded(self, task: str) -> tuple[Precaution, ...]:
        """The precautions that a task has to mind, in the order of the file."""
        return tuple(each for each in self.precautions.values() if each.doing in self.tasks[task].does)


SECTIONS = ("before", "steps", "after")
"""The three parts of a procedure: what must be true first, the work, putting back into service."""


class ProcedureHeader(FileModel):
    """What stands at the top of a procedure file. title: what the task is called aloud and in the record."""

    format: int = Field(ge=1, le=1)
    procedure: Identifier
    title: str


class Section(FileModel):
    """One part of a procedure. name: one of `SECTIONS`."""

    name: str
    steps: tuple[SerializeAsAny[Step], ...]


class Procedure(ProcedureHeader):
    """One task: its parts in the order of the work."""

    sections: tuple[Section, ...]

    def steps(self) -> tuple[Step, ...]:
        """All steps in order."""
        return tuple(step for section in self.sections for step in section.steps)
