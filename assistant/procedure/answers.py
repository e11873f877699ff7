"""Named answers, and what follows them."""

from __future__ import annotations

from enum import StrEnum

from pydantic import model_validator

from assistant.procedure.fields import FileModel, Identifier, Words


class Then(StrEnum):
    """What follows an answer: the next step, the same question again, or the end of the work."""

    GO_ON = "go on"
    AGAIN = "again"
    END = "end"


class NamedAnswer(FileModel):
    """One answer to a check.

    phrase: its words.
    also: other words for it.
    good: in order or not.
    then: what follows.
    goes_to: the later step that follows, when those between do not apply.
    reply: what the assistant says to it.
    finding: what goes into the record as wrong.
    """

    phrase: Words
    also: tuple[Words, ...] = ()
    good: bool = True
    then: Then = Then.GO_ON
    goes_to: Identifier | None = None
    reply: str = ""
    finding: str = ""

    @model_validator(mode="after")
    def _again_needs_a_word(self) -> NamedAnswer:
        if self.then is not Then.GO_ON and not self.reply:
            raise ValueError('an answer after which the work does not go on needs a "reply": what to do now')
        if self.goes_to and self.then is not Then.GO_ON:
            raise ValueError('an answer with "goes_to" goes on there: it cannot have another "then"')
        if not self.good and not self.finding:
            raise ValueError('an answer that is not good needs a "finding": what goes into the record')
        return self
