"""A count is answered like a reading: a number that is read back, and must be exactly so."""

from __future__ import annotations

from assistant.dialogue.asking import StepKind
from assistant.dialogue.kinds import reading
from assistant.procedure.kinds.count import Count

KIND = StepKind(Count, reading.KIND.handler)
