"""Facts of the engine's state."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from assistant.engine_state import Known
from assistant.session.facts.texts import WorkText


@dataclass(frozen=True, slots=True)
class StateLearned:
    """A variable of the engine's state is known, or no longer.

    because: a statement, or the title of the step that left it so.
    lasts: seconds after which it is unknown again.
    """

    variable: str
    value: Known
    because: WorkText
    lasts: float | None
    kind: Literal["state learned"] = "state learned"


@dataclass(frozen=True, slots=True)
class StateForgotten:
    """Nothing is known of the engine's state any more."""

    because: WorkText
    kind: Literal["state forgotten"] = "state forgotten"


EngineFact = StateLearned | StateForgotten
