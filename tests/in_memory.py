"""A journal kept in memory, for tests of what decides without a session folder."""

from __future__ import annotations

from dataclasses import dataclass, field

from assistant.session.applying import fold
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope
from assistant.session.visit import Visit


@dataclass
class Memory:
    """Lines kept in memory."""

    number: int = 0
    entries: list[tuple[Envelope, tuple[Fact, ...]]] = field(default_factory=list)

    def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
        self.number = envelope.number
        self.entries.append((envelope, facts))

    def visit(self) -> Visit:
        return fold((fact, envelope.at) for envelope, facts in self.entries for fact in facts)
