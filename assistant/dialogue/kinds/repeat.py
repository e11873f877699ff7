"""Repeated work is answered like a check: it is so, or not yet."""

from __future__ import annotations

from assistant.dialogue.asking import StepKind
from assistant.dialogue.kinds import check
from assistant.procedure.kinds.repeat import Repeat

KIND = StepKind(Repeat, check.KIND.handler)
