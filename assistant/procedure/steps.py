"""The kinds of step and what each is made of. Data only: how a step is asked and answered is in `dialogue/kinds/`.

The classes are the layout of the procedure files too: a key that is not a field here is an error there.
"""

from __future__ import annotations

import re
from decimal import Decimal
from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from assistant.calculations import FORMULAS, formula_named
from assistant.calculations.decision import DecisionRule
from assistant.calculations.formula import Formula
from assistant.calculations.formula import QuantityInput as MeasuredInput
from assistant.errors import CalculationError, QuantityError
from assistant.quantities import KNOWN_UNITS, UNITS, Kind, Limits, Quantity, parse, parse_limits

IDENTIFIER = r"^[a-z][a-z0-9-]*$"
WORDS = r"^[a-z][a-z' ]*[a-z]$"
Identifier = Annotated[str, Field(pattern=IDENTIFIER)]
Words = Annotated[str, Field(pattern=WORDS)]
"""What a technician says, in small letters without punctuation."""


def _limits(value: object) -> object:
    return parse_limits(value, "limits") if isinstance(value, str) else _no_layout(value)


def _quantity(value: object) -> object:
    return parse(value, "quantity") if isinstance(value, str) else _no_layout(value)


def _no_layout(value: object) -> object:
    """`{group.name}` without quotes is a mapping in YAML."""
    if value is None or isinstance(value, dict | list):
        raise ValueError('this must be one text, such as "200 kPa to 450 kPa"; a {group.name} stands in quotes')
    return value


LimitsField = Annotated[Limits, BeforeValidator(_limits)]
QuantityField = Annotated[Quantity, BeforeValidator(_quantity)]


ACCOUNTED = "all-accounted"
"""The need of a step that nothing dropped is missing. What fell is counted, so that no break makes it unknown."""


class SignalWord(StrEnum):
    """ANSI Z535: DANGER will, WARNING could kill or injure badly; CAUTION could injure; NOTICE is for property."""

    DANGER = "danger"
    WARNING = "warning"
    CAUTION = "caution"
    NOTICE = "notice"


class Known(StrEnum):
    """A value of a variable of the engine's state, as a step needs or leaves it."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "unknown"


class FileModel(BaseModel):
    """Base of all that stands in a file: frozen, and a key that is not known is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid")


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


class Step(FileModel):
    """What every step has.

    text: spoken when the step is reached; details: spoken when asked for. danger, warning, caution, notice: spoken
    before the text, in this order. needs: the engine's state without which the step does not begin; leaves: what is
    known of it afterwards. may_skip: whether it may be left out with a reason.
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
    may_skip: bool = True

    def hazards(self) -> tuple[tuple[SignalWord, str], ...]:
        """Every warning with its signal word, the gravest first."""
        return tuple((word, text) for word in SignalWord for text in getattr(self, word.value))

    def is_circumstance(self) -> bool:
        """Whether what is recorded here says under what later readings are taken."""
        return False

    def prompts(self) -> tuple[str, ...]:
        """Every text of this step that the assistant may speak."""
        return (self.title, self.text, self.details, *(text for _, text in self.hazards()))

    def phrases(self) -> tuple[str, ...]:
        """Every phrase of this step's own that the technician may say."""
        return ()


class Instruction(Step):
    """Something to do; `next` when it is done."""


class Then(StrEnum):
    """What follows an answer: the next step, the same question again, or the end of the work."""

    GO_ON = "go on"
    AGAIN = "again"
    END = "end"


class NamedAnswer(FileModel):
    """One answer to a check. phrase: its words; also: other words for it; good: in order or not; then: what follows;
    goes_to: the later step that follows, when those between do not apply; reply: what the assistant says to it;
    finding: what goes into the record as wrong."""

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


class Check(Step):
    """A question with named answers.

    at_most: how often it may be asked again by its answers; after that `give_up` is said and the work is to end.
    """

    answers: dict[Identifier, NamedAnswer] = Field(min_length=2)
    at_most: int | None = Field(default=None, ge=1)
    give_up: str = ""

    @model_validator(mode="after")
    def _giving_up_needs_a_word(self) -> Check:
        if (self.at_most is None) != (not self.give_up):
            raise ValueError('"at_most" and "give_up" belong together: how often, and what is said after that')
        return self

    def prompts(self) -> tuple[str, ...]:
        return (*super().prompts(), self.give_up, *(answer.reply for answer in self.answers.values()))

    def phrases(self) -> tuple[str, ...]:
        return tuple(words for answer in self.answers.values() for words in (answer.phrase, *answer.also))


class Taken(StrEnum):
    """When a reading is taken: before adjustment or after it."""

    AS_FOUND = "as found"
    AS_LEFT = "as left"


class Judged(FileModel):
    """A value that may be held against limits.

    name: what it is, for the record and the ear. limits: what it is judged by; limits_when: what holds instead while a
    variable of the engine's state is yes, the first that is. decision: the rule near a limit; uncertainty: expanded,
    k = 2, which the guarded rule takes from the limits.
    """

    name: str = Field(min_length=1)
    limits: LimitsField | None = None
    limits_when: dict[Identifier, LimitsField] = Field(default_factory=dict)
    decision: DecisionRule = DecisionRule.SIMPLE
    uncertainty: QuantityField | None = None

    def every_limits(self) -> tuple[tuple[str, Limits], ...]:
        """All limits that may hold, with the key under which they stand."""
        own = () if self.limits is None else (("limits", self.limits),)
        return (*own, *(("limits_when", limits) for limits in self.limits_when.values()))

    def one_kind(self, unit: str) -> None:
        """What it is judged by measures what its unit does. Errors: ValueError in words for the trainer."""
        kind = KNOWN_UNITS[unit].kind
        for key, interval in self.every_limits():
            if interval.kind is not kind:
                raise ValueError(f'"{key}" is given in {interval.kind}, but the reading is in {unit} ({kind})')
        if self.uncertainty is not None:
            _width("uncertainty", self.uncertainty, unit)
        if self.decision is DecisionRule.GUARDED and not self.every_limits():
            raise ValueError('"decision" guarded needs "limits": there is nothing to guard')


def _width(key: str, width: Quantity, unit: str) -> None:
    """A width can stand about a value in this unit. Errors: ValueError in words for the trainer."""
    try:
        about = width.difference_in(unit)
    except QuantityError:
        raise ValueError(f'"{key}" is {width}, but the reading is in {unit} ({KNOWN_UNITS[unit].kind})') from None
    if about < 0:
        raise ValueError(f'"{key}" is {width}: write it without a sign')


class Measured(Judged):
    """A value that is measured.

    believable: outside it a value is asked again before it is confirmed. relative_to: an earlier reading, by its step;
    the limits are then of the difference to it. instrument: a name from the equipment's `instruments`.
    """

    unit: str
    believable: LimitsField
    relative_to: Identifier | None = None
    instrument: Identifier | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Measured:
        if self.unit not in UNITS:
            known = ", ".join(sorted(symbol for symbol in UNITS if symbol))
            raise ValueError(f'"unit" {self.unit!r} is not known: use one of {known}')
        kind = UNITS[self.unit].kind
        if self.believable.kind is not kind:
            raise ValueError(
                f'"believable" is given in {self.believable.kind}, but the reading is in {self.unit} ({kind})'
            )
        if self.relative_to is None:
            self.one_kind(self.unit)
            return self
        if not self.every_limits():
            raise ValueError('"relative_to" needs "limits": how far from it, such as "within 0.4 L"')
        for key, interval in self.every_limits():
            for end in filter(None, (interval.low, interval.high)):
                try:
                    end.difference_in(self.unit)
                except QuantityError:
                    raise ValueError(
                        f'"{key}" is given in {interval.kind}, but the reading is in {self.unit} ({kind})'
                    ) from None
        return self


class Reading(Measured, Step):
    """A measured value, read back and confirmed.

    until_within: out of limits it is measured again, after `adjust`; too_low, too_high: what to put right where it
    differs. samples: how often it is measured, for the mean of these. circumstance: under it the readings that follow
    are taken (load, ambient temperature), so it is kept beside each of them.
    """

    taken: Taken = Taken.AS_FOUND
    until_within: bool = False
    adjust: str = ""
    too_low: str = ""
    too_high: str = ""
    samples: int = Field(default=1, ge=1, le=9)
    circumstance: bool = False

    @model_validator(mode="after")
    def _loops(self) -> Reading:
        words = self.adjust or (self.too_low and self.too_high)
        if self.until_within and not (self.every_limits() and words):
            raise ValueError(
                '"until_within" needs "limits", and "adjust" (or "too_low" and "too_high"): '
                "what to put right before measuring again"
            )
        return self

    def is_circumstance(self) -> bool:
        return self.circumstance

    def prompts(self) -> tuple[str, ...]:
        return (*super().prompts(), self.name, self.adjust, self.too_low, self.too_high)


class Choice(Check):
    """A question whose answer selects the step that follows."""

    @model_validator(mode="after")
    def _chooses(self) -> Choice:
        if not any(answer.goes_to for answer in self.answers.values()):
            raise ValueError('a choice needs an answer with "goes_to": the step that follows it')
        return self


class Panel(Check):
    """Finding something on a panel: what it should show, and a way back when it shows something else.

    otherwise: what to do then; the question comes again after it.
    """

    otherwise: str = Field(min_length=1)

    @model_validator(mode="before")
    @classmethod
    def _something_else(cls, data: object) -> object:
        if not isinstance(data, dict) or not isinstance(data.get("answers"), dict):
            return data
        other = {"phrase": "something else", "then": "again", "reply": data.get("otherwise", "")}
        return {**data, "answers": {**data["answers"], "something-else": other}}


class Repeat(Check):
    """Work that is done again and again until something is so. until: the phrase for that; again: what to do else."""

    until: Words
    again: str = Field(min_length=1)

    @model_validator(mode="before")
    @classmethod
    def _until_or_again(cls, data: object) -> object:
        if not isinstance(data, dict) or "until" not in data or "answers" in data:
            return data
        answers = {
            "so": {"phrase": data["until"]},
            "not-yet": {"phrase": "not yet", "then": "again", "reply": data.get("again", "")},
        }
        return {**data, "answers": answers}


class Count(Reading):
    """A number that must be exactly so: of tools, rags, fasteners. expected: how many; adjust: what to do else."""

    expected: int = Field(ge=1, le=999)

    @model_validator(mode="before")
    @classmethod
    def _exactly(cls, data: object) -> object:
        if not isinstance(data, dict) or not str(data.get("expected", "")).isdecimal():
            return data
        number = Quantity(Decimal(str(data["expected"])), "")
        most = Quantity(Decimal(9999), "")
        counted = {
            "unit": "",
            "believable": Limits(Quantity(Decimal(0), ""), most),
            "limits": Limits(number, number),
            "until_within": "yes",
        }
        return {**data, **counted}


class Member(Measured):
    """One reading of a set."""


class ReadingSet(Step):
    """Readings that are announced together, taken away from the engine, and confirmed as a set."""

    members: tuple[Member, ...] = Field(min_length=2, max_length=5)
    taken: Taken = Taken.AS_FOUND

    def prompts(self) -> tuple[str, ...]:
        return (*super().prompts(), *(member.name for member in self.members))


class Calculation(Judged, Step):
    """A value worked out from readings of the visit, told, and judged like one.

    formula: a name that `enginebay calc` lists. inputs: of the formula, each the identifier of an earlier reading's
    step, several with commas between, or a value as it is written. unit, decimals: of the result; left out: as the
    formula gives it.
    """

    formula: str
    inputs: dict[str, str]
    unit: str = ""
    decimals: int | None = Field(default=None, ge=0, le=6)

    @property
    def row(self) -> Formula:
        """The formula."""
        return FORMULAS[self.formula]

    @property
    def readings(self) -> dict[str, tuple[str, ...]]:
        """The inputs that are readings: input -> identifiers of their steps."""
        measured = {each.name for each in self.row.inputs if isinstance(each, MeasuredInput)}
        named = {name: tuple(one.strip() for one in text.split(",")) for name, text in self.inputs.items()}
        return {
            name: steps
            for name, steps in named.items()
            if name in measured and all(re.fullmatch(IDENTIFIER, step) for step in steps)
        }

    @model_validator(mode="after")
    def _can_be_worked_out(self) -> Calculation:
        try:
            row = formula_named(self.formula)
        except CalculationError as error:
            raise ValueError(f'"formula" {self.formula!r}: {error.cause}; {error.remedy}') from None
        names = [each.name for each in row.inputs]
        for name in self.inputs:
            if name not in names:
                raise ValueError(f'"inputs": there is no input {name!r}; {self.formula} has {", ".join(names)}')
        for each in row.inputs:
            if each.name not in self.inputs and each.default is None:
                raise ValueError(f'"inputs": {each.name!r} is missing')
            if each.name in self.inputs and each.name not in self.readings:
                try:
                    each.read(self.inputs[each.name], each.name)
                except (CalculationError, QuantityError) as error:
                    raise ValueError(f'"inputs": {each.name!r}: {error.cause}; {error.remedy}') from None
        return self

    def stated(self, result: Quantity) -> Quantity:
        """The result in this step's unit, rounded unless that moves it over a limit.

        Errors: QuantityError when it measures something else.
        """
        exact = result.to(self.unit) if self.unit else result
        if self.decimals is None:
            return exact
        rounded = Quantity(round(exact.value, self.decimals) + 0, exact.unit)  # no minus zero
        same = all(limits.side(rounded) == limits.side(exact) for _, limits in self.every_limits())
        return rounded if same else exact

    def prompts(self) -> tuple[str, ...]:
        return (*super().prompts(), self.name)


class Keep(Instruction):
    """Something is kept so while something else is done. release: spoken after the first `next`; the second ends it."""

    release: str = Field(min_length=1)

    def prompts(self) -> tuple[str, ...]:
        return (*super().prompts(), self.release)


class ExpectedPart(FileModel):
    """A part that may be fitted. name: as people call it; number: ends in three letters or digits that prove it."""

    name: str = Field(min_length=1)
    number: str = Field(pattern=r"^.*[A-Z0-9]-?[A-Z0-9]-?[A-Z0-9]$")

    @property
    def proof(self) -> str:
        """The last three characters of the number, without dashes."""
        return self.signs[-3:]

    @property
    def signs(self) -> str:
        """The whole number in capitals, without dashes and blanks."""
        return "".join(sign for sign in self.number.upper() if sign.isalnum())


class FittedPart(Step):
    """A part is fitted: one of those expected, proved by the last three characters of its number; else a substitute."""

    expected: tuple[ExpectedPart, ...] = Field(min_length=1)

    def prompts(self) -> tuple[str, ...]:
        return (*super().prompts(), *(part.name for part in self.expected))


class Timer(Step):
    """A wait that is not shortened: `next` does not pass it, its end does. lasts: how long.

    meanwhile: other work goes on while it runs. Its end is spoken when it is due, and what it leaves is so only then; a
    step that needs that waits for the rest of the time.
    """

    lasts: QuantityField
    meanwhile: bool = False
    may_skip: bool = False

    @model_validator(mode="after")
    def _is_time(self) -> Timer:
        if self.lasts.kind is not Kind.TIME:
            raise ValueError(f'"lasts" is {self.lasts}, and that is no time: write "4 min" or "30 s"')
        return self

    @property
    def seconds(self) -> float:
        """How long, in seconds."""
        return float(self.lasts.to("s").value)


class HoldPoint(Step):
    """Work does not pass until its own phrase is said. No prompt speaks it; it stands on the card under `card`."""

    phrase: Words
    card: int = Field(ge=1)
    may_skip: bool = False

    @model_validator(mode="after")
    def _never_skipped(self) -> HoldPoint:
        if self.may_skip:
            raise ValueError('"may_skip" does not go with a hold point: it is never skipped')
        if len(self.phrase.split()) < 2:
            raise ValueError('"phrase" of a hold point needs two words or more: one short word is easily misheard')
        return self

    def phrases(self) -> tuple[str, ...]:
        return (self.phrase,)


class SecondPerson(HoldPoint):
    """Work does not go on without a second person, who says the phrase. role: who that is."""

    role: str = Field(min_length=1)


KINDS: dict[str, type[Step]] = {
    "instruction": Instruction,
    "check": Check,
    "reading": Reading,
    "timer": Timer,
    "hold": HoldPoint,
    "person": SecondPerson,
    "choice": Choice,
    "panel": Panel,
    "repeat": Repeat,
    "count": Count,
    "readings": ReadingSet,
    "calculation": Calculation,
    "keep": Keep,
    "part": FittedPart,
}
"""The key that opens a step in a procedure file, and its class."""
