"""An equipment model and a procedure for it, as data."""

from __future__ import annotations

from pydantic import Field, SerializeAsAny, model_validator

from assistant.procedure.steps import Identifier, Known, Part, SignalWord, Step, Words


class StateVariable(Part):
    """A variable of the engine's state in words: how it sounds when it is so (yes) and when it is not (no).

    proved: when it is not known, the step that proves it is done again; else the technician's word is enough.
    rules_out: states that cannot be while this one is so; a variable that rules something out is an isolation.
    """

    yes: str
    no: str
    proved: bool = False
    rules_out: dict[Identifier, Known] = Field(default_factory=dict)


class Hazard(Part):
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
    def _can_be_met(self) -> Hazard:
        if not self.state and not self.words:
            raise ValueError('a hazard needs "state" or "words": where a step meets it')
        return self


class Equipment(Part):
    """One model of generating set. data: values that the procedures refer to as `{group.name}`; demo: invented data."""

    format: int = Field(ge=1, le=1)
    model: Identifier
    name: str
    demo: bool = False
    assets: dict[Identifier, str]
    state: dict[Identifier, StateVariable]
    hazards: dict[Identifier, Hazard] = Field(default_factory=dict)
    data: dict[str, dict[str, str]] = Field(default_factory=dict)


SECTIONS = ("before", "steps", "after")
"""The three parts of a procedure: what must be true first, the work, putting back into service."""


class Header(Part):
    """What stands at the top of a procedure file. title: what the task is called aloud and in the record."""

    format: int = Field(ge=1, le=1)
    procedure: Identifier
    title: str


class Section(Part):
    """One part of a procedure. name: one of `SECTIONS`."""

    name: str
    steps: tuple[SerializeAsAny[Step], ...]


class Procedure(Header):
    """One task: its parts in the order of the work."""

    sections: tuple[Section, ...]

    def steps(self) -> tuple[Step, ...]:
        """All steps in order."""
        return tuple(step for section in self.sections for step in section.steps)
