"""An equipment model and a procedure for it, as data."""

from __future__ import annotations

from pydantic import Field, SerializeAsAny

from assistant.procedure.steps import Identifier, Part, Step


class StateVariable(Part):
    """A variable of the engine's state in words: how it sounds when it is so (yes) and when it is not (no).

    proved: when it is not known, the step that proves it is done again; else the technician's word is enough.
    """

    yes: str
    no: str
    proved: bool = False


class Equipment(Part):
    """One model of generating set. data: values that the procedures refer to as `{group.name}`; demo: invented data."""

    format: int = Field(ge=1, le=1)
    model: Identifier
    name: str
    demo: bool = False
    assets: dict[Identifier, str]
    state: dict[Identifier, StateVariable]
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
