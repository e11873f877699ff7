"""A second person is answered like a hold point: by a phrase of its own and nothing else."""

from __future__ import annotations

from assistant.dialogue.asking import StepKind
from assistant.dialogue.kinds import hold_point
from assistant.procedure.kinds.second_person import SecondPerson

KIND = StepKind(SecondPerson, hold_point.KIND.handler)
