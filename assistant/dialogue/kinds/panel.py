"""A panel is answered like a check: what it shows is an answer, and so is something else."""

from __future__ import annotations

from assistant.dialogue.asking import StepKind
from assistant.dialogue.kinds import check
from assistant.procedure.kinds.panel import Panel

KIND = StepKind(Panel, check.KIND.handler)
