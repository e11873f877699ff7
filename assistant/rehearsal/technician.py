"""A synthetic technician: works through a procedure by what the assistant really said to it, with mistakes from a seed.

Knows the printed card (a procedure's phrases and answers, which people learn), its own hands, and hidden true values.
Acts only on messages that were played to it, whole or cut off. Never sees the assistant's state. What passes a step it
knows from the step's own traits (`Step.response`), whatever kind it is.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import assert_never

from assistant.dialogue import messages as m
from assistant.grammar.numbers import DIGITS, say_digits, say_number
from assistant.grammar.spoken import SpokenForms
from assistant.procedure.answers import Then
from assistant.procedure.equipment import Procedure
from assistant.procedure.measured import Measured, Taken
from assistant.procedure.step import Step
from assistant.procedure.traits import (
    ChoosesAnswer,
    LetsTimePass,
    SaysHoldPhrase,
    SaysNext,
    SaysReading,
    SaysReadings,
    SpellsPart,
)
from assistant.quantities import Limits, Quantity


@dataclass(frozen=True, slots=True)
class Speaks:
    """Says this after so many seconds. text: in words."""

    text: str
    after: float


@dataclass(frozen=True, slots=True)
class Types:
    """Types this after so many seconds."""

    text: str
    after: float


@dataclass(frozen=True, slots=True)
class Waits:
    """Does nothing until something is said."""


@dataclass(frozen=True, slots=True)
class Presses:
    """Presses the button."""


Act = Speaks | Types | Waits
Interruption = Speaks | Types | Presses
"""What it does in the middle of a message."""


@dataclass(slots=True)
class Habits:
    """What this technician gets wrong or does differently, by step identifier.

    wrong_number: misreads the gauge at first.
    say_again: did not listen.
    next_at_hold: says `next` where the card's phrase is wanted.
    skips: leaves it out, as a part is missing.
    cuts_off: what it does while its text is spoken.
    cuts_warning: what it does while a warning is spoken, by the warning's text.
    asks: what it asks before it answers, once.
    """

    wrong_number: set[str] = field(default_factory=set)
    say_again: set[str] = field(default_factory=set)
    next_at_hold: set[str] = field(default_factory=set)
    skips: set[str] = field(default_factory=set)
    cuts_off: dict[str, Interruption] = field(default_factory=dict)
    cuts_warning: dict[str, Interruption] = field(default_factory=dict)
    asks: dict[str, str] = field(default_factory=dict)


class Technician:
    """One technician with the procedures of one visit. seed: gives true values, mistakes and pace.

    With every third seed it reads gauges in other units, says gallons without saying whose, and what is guarded is at
    first too near its limit to tell. asks: of a visit of several tasks it asks what is due, and what it needs.
    """

    def __init__(self, procedures: tuple[Procedure, ...], forms: SpokenForms, seed: int, asks: bool = False) -> None:
        self._random = random.Random(seed)
        self._forms = forms
        self._steps: dict[str, Step] = {step.id: step for procedure in procedures for step in procedure.steps()}
        self.truths: dict[str, tuple[Quantity, ...]] = {}
        self._measured: dict[str, int] = {}  # which of the true values holds now
        self._answers: dict[str, tuple[str, ...]] = {}
        self._answered: dict[str, int] = {}
        self._prepare()
        if seed % FOREIGN == 0:
            self._foreign()
        self.habits = _habits(tuple(self._steps.values()), self._random, random.Random(f"interrupts {seed}"))
        if asks:
            steps = self._random.sample([id for id, step in self._steps.items() if _by_hand(step)], 2)
            self.habits.asks = dict(zip(steps, ("what is due", "what do I need"), strict=True))
        self._worked: set[str] = set()
        self._step: Step | None = None
        self._skipping = False
        self._phrase = ""  # of the answer last meant
        self._last = ""  # words last said
        self._digits = False
        self._set_right = True
        self._stopped = False  # whether it said stop, and nothing went on since
        self._prompt: list[tuple[m.Message, bool]] = []
        self.finished = False

    # --- what the world may ask ----------------------------------------------------------------------------------

    def truth(self, step: str, name: str = "") -> Quantity | None:
        """The hidden true value of a reading as it is now; None for what is no reading. For the observer only.

        name: of the reading, where a step has a set of them.
        """
        values = self.truths.get(step) or self.truths.get(f"{step}/{name}")
        return None if values is None else values[min(self._measured.get(step, 0), len(values) - 1)]

    def interrupts(self, message: m.Message) -> Interruption | None:
        """What it does in the middle of this message; None: it listens."""
        match message:
            case m.StepText(step, _):
                done = self.habits.cuts_off.pop(step, None)
            case m.Hazard(_, text):
                done = self.habits.cuts_warning.pop(text, None)
            case _:
                return None
        self._stopped = self._stopped or (isinstance(done, Speaks | Types) and done.text == STOP)
        return done

    def hear(self, message: m.Message, whole: bool) -> None:
        """A message was played, whole or cut off."""
        self._prompt.append((message, whole))

    def act(self) -> Act:
        """What it does now that the assistant is quiet."""
        prompt, self._prompt = self._prompt, []
        act: Act | None = None
        wrong_answer = False
        if any(isinstance(message, m.GoingOn | m.StepText) for message, _ in prompt):
            self._stopped = False
        if self._stopped:
            return self._say("carry on", 2.0)
        for message, whole in prompt:
            match message:
                case m.AnswerTaken(phrase):
                    wrong_answer = phrase != self._phrase
                    if not wrong_answer and self._step is not None:
                        self._answered[self._step.id] = self._answered.get(self._step.id, 0) + 1
                    act = None
                case m.MemberReadBack(name, quantity):
                    self._set_right = self._set_right and quantity == self._true_member(name)
                case m.Reply():
                    act = self._do(self._step)
                case m.StepText(step, _):
                    if wrong_answer and (self._step is None or step != self._step.id):
                        act = self._say("correction")
                    elif not whole:
                        self._step = self._steps[step]
                        act = self._say("say again")
                    else:
                        act = self._do(self._steps[step])
                case _:
                    answer = self._respond(message)
                    again = isinstance(message, m.Choices | m.UseCard | m.NotUnderstood)
                    if answer is not None and not (again and act is not None):  # a question before it is answered
                        act = answer
        return self._do(self._step) if act is None else act

    def unanswered(self) -> Act:
        """What it does when nothing followed what it said."""
        return self._say(self._in_other_words(), 0.5) if self._last else self._do(self._step)

    # --- inside ---------------------------------------------------------------------------------------------------

    def _respond(self, message: m.Message) -> Act | None:
        """What follows from a message that is not a step's text; None when nothing does."""
        match message:
            case m.ReadBack(_, quantity):
                return self._confirm(quantity)
            case m.WhichUnit():
                truth = None if self._step is None else self.truth(self._step.id)
                meant = "" if truth is None else _WHICH.get(truth.unit, "")
                return self._say(meant or "correction")  # else it never said such a word, so it was misheard
            case m.DigitByDigit():
                self._digits = True
                return self._do(self._step)
            case m.AskMember(name):
                return self._member(name)
            case m.AllRight():
                return self._say("affirm" if self._set_right else "negative")
            case m.SetAnew() | m.PartDiffers() | m.SpellPart():
                return self._do(self._step)
            case m.Choices() | m.UseCard() | m.NotUnderstood():
                return self._again()
            case m.SayNumber() | m.AskedAnew() | m.NotBelievable():
                return self._do(self._step)
            case m.HoldStays() | m.AnswerNeeded() | m.NotHere() | m.CannotSkip() | m.NothingToCorrect():
                return self._do(self._step)
            case m.CannotReopen() | m.Details() | m.NoDetails() | m.WhereYouAre():
                return self._do(self._step)
            case m.PutRight() | m.MeasureAgain():
                if self._step is not None:
                    self._measured[self._step.id] = self._measured.get(self._step.id, 0) + 1
                return self._do(self._step)
            case m.UseHands():
                act = self._do(self._step)
                return Types(act.text, 8.0) if isinstance(act, Speaks) else Types(self._last, 8.0)
            case m.AskSubstitute():
                return self._say("disregard")
            case m.AskFound():
                return self._say("found it again", 20.0)
            case m.AskRole() | m.AskPuttingOff() | m.AskWhichTask() | m.AskAdding():
                return self._say("disregard")
            case m.CannotPutOff() | m.NoOtherTask() | m.NothingIsDue() | m.NothingNeeded():
                return self._do(self._step)
            case m.TaskOverdue() | m.TaskDueNow() | m.TaskDueOn() | m.TaskDueAt() | m.TaskDueAtOrOn():
                return self._do(self._step)
            case m.PartsNeeded() | m.SuppliesNeeded() | m.ToolsNeeded() | m.TaskDueByCondition():
                return self._do(self._step)
            case m.SpeakNote() | m.SpeakFinding() | m.SpeakWhatIsWrong():
                return self._say("disregard")
            case m.AskReason():
                return self._say("part is missing" if self._skipping else "negative")
            case m.AskEnding():
                return self._say("negative")
            case m.AskState():
                return self._say("affirm")
            case m.NotYet():
                return self._say("affirm", 30.0)
            case m.StandingBy():
                return self._say("carry on")
            case m.TimerRuns() | m.TimerNotOver():
                return Waits()
            case m.WorkComplete() | m.WorkEndedEarly():
                self.finished = True
                return Waits()
        return None

    def _true_member(self, name: str) -> Quantity | None:
        return None if self._step is None else self.truth(self._step.id, name)

    def _member(self, name: str) -> Act:
        """Says one reading of a set, which it took with it from the panel."""
        self._set_right = True
        value = self._true_member(name)
        return (
            Waits() if value is None or self._step is None else self._say(self._number(value), self._effort(self._step))
        )

    def _again(self) -> Act:
        step = self._step
        if step is not None and isinstance(step.response(), SaysReading | SpellsPart):
            return self._do(step)  # in other words, perhaps
        return self._say(self._in_other_words(), self._random.uniform(0.5, 1.0)) if self._last else self._do(step)

    def _in_other_words(self) -> str:
        """What was not understood, said differently where there is another way."""
        ways = next((ways for ways in _OTHER_WORDS if self._last in ways), (self._last,))
        return ways[(ways.index(self._last) + 1) % len(ways)]

    def _confirm(self, quantity: Quantity) -> Act:
        step = self._step
        truth = self.truth(step.id) if step is not None else None
        if truth is not None and quantity == truth:
            return self._say(self._in_other_words() if self._last in _OTHER_WORDS[0] else "affirm")
        return self._say(self._random.choice(("correction", "negative")))

    def _do(self, step: Step | None) -> Act:
        """Does what a step asks for, and says so."""
        if step is None:
            return Waits()
        if self._step is None or step.id != self._step.id:
            self._digits = self._skipping = False
        self._step = step
        if self._shows(self.habits.say_again, step):
            return self._say("say again")
        if step.id in self.habits.asks:
            return self._say(self.habits.asks.pop(step.id))
        if step.id in self.habits.skips:
            self._skipping = True
            return self._say("skip this step")
        took = self._effort(step)
        match step.response():
            case SaysNext():
                return self._say("next", took)
            case LetsTimePass():
                return Waits()
            case SaysHoldPhrase(phrase):
                return self._say("next" if self._shows(self.habits.next_at_hold, step) else phrase, took)
            case ChoosesAnswer(answers):
                keys = self._answers[step.id]
                self._phrase = answers[keys[min(self._answered.get(step.id, 0), len(keys) - 1)]].phrase
                return self._say(self._phrase, took)
            case SaysReading(measured):
                value = self.truth(step.id)
                assert value is not None
                if self._shows(self.habits.wrong_number, step):
                    value = self._wrong(measured, value)
                return self._say(self._number(value), took)
            case SaysReadings(first):
                return self._member(first)
            case SpellsPart(proof):
                return self._say(" ".join(_SPELLED[sign] for sign in proof), took)
            case response:
                assert_never(response)

    def _shows(self, habit: set[str], step: Step) -> bool:
        """Whether a habit shows itself at this step: once."""
        if step.id not in habit:
            return False
        habit.discard(step.id)
        return True

    def _effort(self, step: Step) -> float:
        """Seconds of work before the answer; none when it was done before."""
        if step.id in self._worked:
            return self._random.uniform(0.6, 1.5)
        self._worked.add(step.id)
        if _by_hand(step):
            return self._random.uniform(25.0, 110.0)
        return self._random.uniform(6.0, 25.0)

    def _say(self, words: str, after: float | None = None) -> Speaks:
        self._last = words
        return Speaks(words, self._random.uniform(0.6, 1.2) if after is None else after)

    def _number(self, quantity: Quantity) -> str:
        digits = self._digits or self._random.random() < 0.3
        words = say_digits(quantity.value) if digits else say_number(quantity.value)
        single, several = _CALLED.get(quantity.unit) or self._forms.units[quantity.unit]
        asked = None if self._step is None else self._step.reading()
        plain = asked is None or quantity.unit == asked.unit
        if self._random.random() < 0.25 and plain:
            return words  # people leave the unit out when it is plain
        return f"{words} {single if quantity.value == 1 else several}".strip()

    def _wrong(self, measured: Measured, value: Quantity) -> Quantity:
        """Another believable value, as when a gauge is misread."""
        unit = value.resolution
        shift = unit * self._random.choice((-7, -5, -3, 3, 5, 7))
        other = Quantity(abs(value.value + shift), value.unit)
        return other if measured.believable.side(other) == 0 else Quantity(value.value + unit, value.unit)

    def _foreign(self) -> None:
        """What is found is read in psi and in gallons, and a guarded value lies on its limit at first."""
        for step in self._steps.values():
            for measurement in step.measurements():
                measured, limits = measurement.measured, measurement.measured.limits
                if measurement.at or limits is None:  # a set is read as it stands there
                    continue
                true = self.truths[step.id][-1]
                ends = [end for end in (limits.low, limits.high) if end is not None]
                if measured.guarded:
                    self.truths[step.id] = (Quantity(ends[0].exactly(measured.unit), measured.unit), true)
                elif measured.unit in _READ_AS and measurement.taken is Taken.AS_FOUND:
                    said = true.restated(*_READ_AS[measured.unit])
                    self.truths[step.id] = (said,) if limits.side(said) == 0 else (true,)

    def _prepare(self) -> None:
        """True values and answers, as they are found; some are not right until they are put right."""
        for step in self._steps.values():
            for measurement in step.measurements():
                measured = measurement.measured
                values: tuple[Quantity, ...] = (
                    _value_within(measured.limits or measured.believable, measured.unit, self._random),
                )
                if measurement.until_within and measured.limits is not None and self._random.random() < 0.7:
                    before = _value_outside(measured.limits, measured.unit, self._random)
                    values = (before, *values) if measured.believable.side(before) == 0 else values
                self.truths[f"{step.id}/{measured.name}" if measurement.at else step.id] = values
            match step.response():
                case ChoosesAnswer(answers):
                    good = [key for key, answer in answers.items() if answer.good and answer.then is Then.GO_ON]
                    again = [key for key, answer in answers.items() if answer.then is Then.AGAIN]
                    first = [self._random.choice(again)] if again and self._random.random() < 0.25 else []
                    self._answers[step.id] = (*first, self._random.choice(good))


def _by_hand(step: Step) -> bool:
    """Whether a step is work that is done before anything is said."""
    match step.response():
        case SaysNext(by_hand):
            return by_hand
    return False


def _habits(steps: tuple[Step, ...], chance: random.Random, interrupting: random.Random) -> Habits:
    """Mistakes of one visit: one of each kind, where the steps have room for it.

    interrupting: by which event each prompt is cut off, and which warnings are.
    """

    def some(candidates: list[str]) -> set[str]:
        return {chance.choice(candidates)} if candidates else set()

    return Habits(
        wrong_number=some([step.id for step in steps if isinstance(step.response(), SaysReading)]),
        say_again=some([step.id for step in steps if not isinstance(step.response(), LetsTimePass)]),
        next_at_hold=some([step.id for step in steps if step.hold_card() is not None]),
        skips=some([step.id for step in steps if _by_hand(step) and step.may_skip and not step.leaves]),
        cuts_off={step: interrupting.choice(_IN_A_STEP) for step in some([s.id for s in steps if _by_hand(s)])},
        cuts_warning=_cut_warnings(steps, interrupting),
    )


def _cut_warnings(steps: tuple[Step, ...], chance: random.Random) -> dict[str, Interruption]:
    """One warning for each way of interrupting one, as far as there are so many."""
    warnings = list(dict.fromkeys(text for step in steps for _, text in step.hazards()))
    ways = (Presses(), chance.choice((Speaks, Types))(STOP, 0.0), chance.choice((Speaks, Types))(WHERE, 0.0))
    return dict(zip(chance.sample(warnings, min(len(ways), len(warnings))), ways, strict=False))


STOP, WHERE = "stop", "where am I"  # the first counts over a warning, the other does not
_IN_A_STEP: tuple[Interruption, ...] = (Presses(), Speaks("say again", 0.0), Types("say again", 0.0))


_OTHER_WORDS = (
    ("affirm", "that is right", "affirmative"),
    ("negative", "not so", "correction"),
    ("skip this step", "leave this step out"),
)
"""Different ways of saying the same, which people try when they are not understood."""

FOREIGN = 3
"""Every how many seeds a technician is one who reads in other units."""

_READ_AS = {"kPa": ("psi", 0), "L": ("imp gal", 1)}
"""Unit -> that which such a technician reads it in, with how many decimals at most."""
_CALLED = {"imp gal": ("gallon", "gallons")}
_WHICH = {"imp gal": "imperial"}
"""What it calls a unit, and what it says when asked which is meant."""

_ALFA = (
    "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa quebec romeo "
    "sierra tango uniform victor whiskey xray yankee zulu"
)
_SPELLED = {word[0].upper(): word for word in _ALFA.split()} | {str(value): word for value, word in enumerate(DIGITS)}
"""How each character of a part number is said (ICAO)."""

_STEPS: Mapping[str, Decimal] = {
    "kPa": Decimal(5),
    "°C": Decimal(1),
    "h": Decimal("0.1"),
    "L": Decimal("0.1"),
    "N.m": Decimal("0.5"),
    "V": Decimal("0.1"),
    "mm": Decimal("0.1"),
}
"""How finely a technician reads an instrument in each unit; others to one."""


def _ends(limits: Limits, unit: str) -> tuple[Decimal, Decimal]:
    low = limits.low.to(unit).value if limits.low else Decimal(0)
    high = limits.high.to(unit).value if limits.high else low + 100
    return low, high


def _value_within(limits: Limits, unit: str, chance: random.Random) -> Quantity:
    low, high = _ends(limits, unit)
    step = _STEPS.get(unit, Decimal(1))
    if unit == "h":
        low, high = Decimal(200), Decimal(4000)  # a set in the middle of its life
    count = int((high - low) / step)
    value = low + step * chance.randint(count // 10, max(count // 10, count - count // 10))
    return Quantity(value.quantize(step) if step < 1 else value.quantize(Decimal(1)), unit)


def _value_outside(limits: Limits, unit: str, chance: random.Random) -> Quantity:
    low, high = _ends(limits, unit)
    step = _STEPS.get(unit, Decimal(1))
    below = limits.low is not None and (limits.high is None or chance.random() < 0.6)
    value = low - step * chance.randint(3, 9) if below else high + step * chance.randint(3, 9)
    return Quantity(max(Decimal(0), value).quantize(step if step < 1 else Decimal(1)), unit)
