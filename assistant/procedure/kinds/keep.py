"""Something is kept so while something else is done. It is an instruction that is passed twice."""

from __future__ import annotations

from typing import ClassVar

from pydantic import Field

from assistant.procedure.kinds.instruction import Instruction


class Keep(Instruction):
    """Something is kept so while something else is done. release: spoken after the first `next`; the second ends it."""

    KEY: ClassVar[str] = "keep"
    EXAMPLE: ClassVar[str] = """
        keep: stop-lever
        title: Stop lever
        text: Keep the stop lever up, and crank for five seconds.
        release: Now let the lever go.
    """

    release: str = Field(min_length=1)

    def own_prompts(self) -> tuple[str, ...]:
        return (self.release,)
