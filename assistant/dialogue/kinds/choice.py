"""A choice is answered like a check: each of its answers leads on, or passes steps over."""

from __future__ import annotations

from assistant.dialogue.asking import StepKind
from assistant.dialogue.kinds import check
from assistant.procedure.kinds.choice import Choice

KIND = StepKind(Choice, check.KIND.handler)
