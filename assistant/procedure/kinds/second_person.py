"""A hold point that a second person passes."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field

from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.traits import Blank, PaperFields


class SecondPerson(HoldPoint):
    """Work does not go on without a second person, who says the phrase. role: who that is."""

    KEY: ClassVar[str] = "person"
    EXAMPLE: ClassVar[str] = """
        person: watcher
        title: Second person
        text: A second person watches from the door. They say the phrase of card one.
        role: watcher
        phrase: watching the door
        card: 1
    """

    role: str = Field(min_length=1)

    def on_paper(self) -> PaperFields:
        return PaperFields((Blank(self.role),))
