"""What every step has, and the traits that every kind of step must declare.

A kind of step is a class below `Step` in a file of its own (`kinds/NAME.py`): its fields are the layout of the
procedure file, its traits are what the rest of the program knows of it. No trait has a default. A class that lacks one
cannot be defined, so the program does not start with a kind that is half known.

Refuses to know the kinds, and how a step is asked and answered (`dialogue/kinds/` does).
"""

from __future__ import annotations

import re
from abc import abstractmethod
from collections.abc import Iterator
from enum import StrEnum
from typing import Annotated, ClassVar, final

from pydantic import BeforeValidator, Field

from assistant.engine_state import Known
from assistant.procedure.fields import FileModel, Identifier
from assistant.procedure.measured import CalculatedValue, Measured
from assistant.procedure.problem import Problem
from assistant.procedure.traits import AnswerPhrase, HoldCard, Measurement, PaperFields, Response, Wait, Way
from assistant.quantities import parse

ACCOUNTED = "all-accounted"
"""The need of a step that nothing dropped is missing. What fell is counted, so that no break makes it unknown."""


class SignalWord(StrEnum):
    """ANSI Z535: DANGER will, WARNING could kill or injure badly; CAUTION could injure; NOTICE is for property."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


class Leaves(FileModel):
    """What a step leaves of a variable. lasts: seconds after which it is unknown again; None: until it changes."""

    value: Known
    lasts: float | None = None


def _leaves(value: object) -> object:
    if not isinstance(value, str):
        return value
    match = re.fullmatch(r"(yes|no|unknown)(?: for (.+))?", value.strip())
    if not match:
        raise ValueError(f'{value!r} is no state: write yes, no, unknown, or "yes for 30 min"')
    lasts = None if match[2] is None else float(parse(match[2], "leaves").to("s").value)
    return {"value": match[1], "lasts": lasts}


class IncompleteKindError(TypeError):
    """A kind of step does not declare what other code must know of it.

    kind: the name of its class.
    lacking: the traits that are missing.
    """

    def __init__(self, kind: str, lacking: tuple[str, ...]) -> None:
        super().__init__(f"the step kind {kind} does not declare {', '.join(lacking)}; see `Step` in procedure/step.py")
        self.kind = kind
        self.lacking = lacking


class Step(FileModel):
    """What every step has. Each class below it is a kind of step.

    text: spoken when the step is reached.
    details: spoken when asked for.
    danger, warning, caution, notice: spoken before the text, in this order.
    needs: the engine's state without which the step does not begin.
    leaves: what is known of the engine's state afterwards.
    may_skip: whether it may be left out with a reason; each kind says what holds where a file does not.
    """

    id: Identifier
    title: str = Field(min_length=1)
    text: str = Field(min_length=1)
    details: str = ""
    danger: tuple[str, ...] = ()
    warning: tuple[str, ...] = ()
    caution: tuple[str, ...] = ()
    notice: tuple[str, ...] = ()
    needs: dict[Identifier, Known] = Field(default_factory=dict)
    leaves: dict[Identifier, Annotated[Leaves, BeforeValidator(_leaves)]] = Field(default_factory=dict)
    may_skip: bool

    # --- traits: every kind declares each of them, or takes it over from the kind that it is built on -------------

    KEY: ClassVar[str]
    """The key that opens such a step in a procedure file. Every kind has its own."""

    EXAMPLE: ClassVar[str]
    """A step of this kind as it stands in a procedure file. Every kind has its own.

    It may name a reading `oil-out` in litres that comes before it, and a step `wipe-down` that comes after.
    """

    @abstractmethod
    def own_prompts(self) -> tuple[str, ...]:
        """The texts that the assistant may speak at it, besides those that every step has."""

    @abstractmethod
    def answer_phrases(self) -> tuple[AnswerPhrase, ...]:
        """The phrases of its own that the technician may say."""

    @abstractmethod
    def hold_card(self) -> HoldCard | None:
        """The card without which work does not pass it; None where there is none."""

    @abstractmethod
    def measurements(self) -> tuple[Measurement, ...]:
        """The values that are measured at it, in the order in which they are asked for."""

    @abstractmethod
    def works_out(self) -> CalculatedValue | None:
        """The value that it works out of earlier readings; None where there is none."""

    @abstractmethod
    def ways(self) -> tuple[Way, ...]:
        """Where it can lead."""

    @abstractmethod
    def unproved(self) -> str:
        """Why passing it does not prove what it leaves of the engine's state, in words; empty where it does."""

    @abstractmethod
    def wait(self) -> Wait | None:
        """The time that passes by itself; None where it is done as soon as it is answered."""

    @abstractmethod
    def own_problems(self) -> Iterator[Problem]:
        """What is wrong in it by itself and yet reads well: new work is refused, begun work is not."""

    @abstractmethod
    def on_paper(self) -> PaperFields:
        """What is filled in at it on the paper form."""

    @abstractmethod
    def response(self) -> Response:
        """What a careful technician does to pass it."""

    # --- what follows from them -----------------------------------------------------------------------------------

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: object) -> None:
        """Errors: IncompleteKindError when the class lacks a trait."""
        super().__pydantic_init_subclass__(**kwargs)
        own = [name for name in ("KEY", "EXAMPLE") if name not in cls.__dict__]
        defaults = [name for name in ("may_skip",) if cls.model_fields[name].is_required()]
        lacking = (*own, *sorted(cls.__abstractmethods__), *defaults)
        if lacking:
            raise IncompleteKindError(cls.__name__, lacking)

    @final
    def hazards(self) -> tuple[tuple[SignalWord, str], ...]:
        """Every warning with its signal word, the gravest first."""
        return tuple((word, text) for word in SignalWord for text in getattr(self, word.value))

    @final
    def prompts(self) -> tuple[str, ...]:
        """Every text of this step that the assistant may speak."""
        return (self.title, self.text, self.details, *(text for _, text in self.hazards()), *self.own_prompts())

    @final
    def phrases(self) -> tuple[str, ...]:
        """Every phrase of this step's own that the technician may say."""
        return tuple(answer.phrase for answer in self.answer_phrases())

    @final
    def reading(self) -> Measured | None:
        """The one reading that later steps name by this step's identifier; None where it takes none, or a set."""
        return next((each.measured for each in self.measurements() if not each.at), None)

    @final
    def is_circumstance(self) -> bool:
        """Whether what is recorded here says under what later readings are taken."""
        return any(each.circumstance for each in self.measurements())
