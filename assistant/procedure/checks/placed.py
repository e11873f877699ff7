"""The steps of a procedure with their paths in its file, and the hold points among them."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.procedure.equipment import Procedure
from assistant.procedure.problem import Path
from assistant.procedure.step import Step
from assistant.procedure.traits import HoldCard


def placed(procedure: Procedure) -> Iterator[tuple[Path, Step]]:
    """Every step in order, with its path."""
    for section in procedure.sections:
        for index, step in enumerate(section.steps):
            yield (section.name, index), step


def hold_points(procedure: Procedure) -> Iterator[tuple[Path, Step, HoldCard]]:
    """Every step that has a card, in order, with its path."""
    for path, step in placed(procedure):
        card = step.hold_card()
        if card is not None:
            yield path, step, card
