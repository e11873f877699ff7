"""Sessions written by hand, line by line: what tests of the record read. No part of the dialogue made them."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from assistant.meanings import Amount, Answer, Command, CommandName, FreeSpeech, Meaning, Passphrase, Reason
from assistant.procedure.kinds.calculation import Calculation
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.instruction import Instruction
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.timer import Timer
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.procedure.step import Step
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import START, write_line

TASK = "oil-and-filter"
FOLDER = Path(__file__).parent / "one_procedure" / "twin-9"  # a whole piece of work, with parts of its own


def quantity(written: str) -> Quantity:
    value, _, unit = written.partition(" ")
    return Quantity(Decimal(value), unit)


@dataclass
class Pen:
    """Writes a journal. clips: the sounds that its lines cite, by hash; their bytes are no real sound."""

    began: datetime = datetime(2025, 5, 13, 7, 41, 8, tzinfo=UTC)
    boot: str = "5f0c"
    seconds: float = 210.0
    data: bytes = b""
    last_hash: str = START
    number: int = 0
    exchange: int = 0
    clips: dict[str, bytes] = field(default_factory=dict)
    _since: float = 210.0

    def wait(self, seconds: float) -> None:
        self.seconds += seconds

    def reboot(self, boot: str, away: float) -> None:
        """The device starts again after `away` seconds; its monotonic clock begins anew."""
        self.began += timedelta(seconds=self.seconds - self._since + away)
        self.boot, self.seconds, self._since = boot, 12.0, 12.0

    def at(self) -> i.Instant:
        wall = self.began + timedelta(seconds=self.seconds - self._since)
        return i.Instant(wall.isoformat(timespec="milliseconds"), round(self.seconds, 3), self.boot)

    def write(self, given: i.Input, *facts: f.Fact) -> None:
        self.number += 1
        line, self.last_hash = write_line(i.Envelope(self.number, self.at(), given), facts, self.last_hash)
        self.data += line

    def clip(self, words: str) -> i.Clip:
        content = b"fLaC" + f"{self.number} {words}".encode()
        sha256 = hashlib.sha256(content).hexdigest()
        self.clips[sha256] = content
        return i.Clip(sha256, round(0.5 + 0.06 * len(words), 2))

    def open(self) -> f.ExchangeOpened:
        self.exchange += 1
        return f.ExchangeOpened(self.exchange, f.Purpose.STEP)

    def heard(self, meaning: Meaning, words: str, confidence: float, clip: i.Clip | None) -> i.Heard:
        verdict = i.AnswerVerdict.ACCEPTED if confidence > 0.4 else i.AnswerVerdict.DOUBTFUL
        return i.Heard(self.exchange, verdict, (i.Hypothesis(meaning, words, confidence),), i.Source.VOICE, clip)

    def command(self, name: CommandName, *facts: f.Fact) -> None:
        self.wait(4)
        self.write(self.heard(Command(name), name.value, 0.97, self.clip(name)), *facts)

    def save(self, folder: Path) -> Path:
        """Lays the session down as a folder, the procedures' copies included."""
        (folder / "clips").mkdir(parents=True)
        (folder / "procedures").mkdir()
        (folder / "journal.jsonl").write_bytes(self.data)
        for sha256, content in self.clips.items():
            (folder / "clips" / f"{sha256}.flac").write_bytes(content)
        for copy in copies():
            (folder / "procedures" / copy.name).write_bytes((FOLDER / copy.name).read_bytes())
        return folder


def copies() -> tuple[i.ProcedureCopy, ...]:
    names = ("equipment.yaml", "oil-and-filter.yaml")
    return tuple(i.ProcedureCopy(name, hashlib.sha256((FOLDER / name).read_bytes()).hexdigest()) for name in names)


def order() -> i.Order:
    return i.Order("marram-auxiliary", "twin-9", "technician", (TASK,), copies(), True)


class Visit:
    """A visit in the order of the shipped procedure. Each kind of step goes well unless it is told otherwise."""

    def __init__(self) -> None:
        self.pen = Pen()
        equipment = read_equipment((FOLDER / "equipment.yaml").read_text(encoding="utf-8"))
        text = (FOLDER / "oil-and-filter.yaml").read_text(encoding="utf-8")
        procedure = read_procedure(text, equipment, "oil-and-filter.yaml")
        self.steps = {step.id: step for step in procedure.steps()}
        self.parts = {step.id: section.name for section in procedure.sections for step in section.steps}
        self.left = list(self.steps)
        self.values: dict[str, Quantity] = {}

    def begin(self) -> None:
        self.pen.write(
            i.WorkOrdered(order()), f.WorkTakenUp(order(), "Oil and filter", len(self.steps)), *self.reached()
        )

    def place(self, step: str) -> f.StepPlace:
        return f.StepPlace(TASK, step)

    def reached(self) -> tuple[f.Fact, ...]:
        """The next step comes into focus."""
        if not self.left:
            return (f.WorkEnded(True, "every step was done or left out"),)
        step = self.steps[self.left[0]]
        facts: tuple[f.Fact, ...] = (
            f.StepReached(self.place(step.id), step.title, self.parts[step.id]),
            self.pen.open(),
        )
        if isinstance(step, Timer):
            facts = (*facts, f.TimerStarted(step.id, 1, step.seconds))
        return facts

    def done(self, step: Step) -> tuple[f.Fact, ...]:
        learned = tuple(f.StateLearned(name, left.value, step.title, left.lasts) for name, left in step.leaves.items())
        self.left.pop(0)
        return (
            f.ExchangeClosed(self.pen.exchange),
            *learned,
            f.StepDone(self.place(step.id), step.title),
            *self.reached(),
        )

    def until(self, step: str) -> None:
        """Everything before the step goes well."""
        while self.left and self.left[0] != step:
            self.well()

    def well(self) -> None:
        step = self.steps[self.left[0]]
        match step:
            case Instruction():
                self.pen.wait(35)
                clip = self.pen.clip("next")
                self.pen.write(self.pen.heard(Command(CommandName.NEXT), "next", 0.98, clip), *self.done(step))
            case Check():
                self.answer(next(key for key, answer in step.answers.items() if answer.good and answer.then == "go on"))
            case HoldPoint():
                self.hold()
            case Timer():
                self.pen.wait(step.seconds)
                run_out = i.TimerRanOut(step.id, 1)
                self.pen.write(run_out, f.TimerEnded(step.id, 1), *self.done(step))
            case Calculation():
                self.worked_out()
            case Reading():
                raise ValueError(f"a value is needed for {step.id}")

    def worked_out(self) -> None:
        """The calculation with the readings that stand."""
        step = self.steps[self.left[0]]
        assert isinstance(step, Calculation)
        given = {
            **step.inputs,
            **{name: tuple(self.values[one] for one in steps) for name, steps in step.readings.items()},
        }
        result = step.row.compute(given).value
        verdict = f.ReadingVerdict.NO_LIMIT
        if step.limits is not None:
            assert isinstance(result, Quantity)
            verdict = (f.ReadingVerdict.LOW, f.ReadingVerdict.WITHIN, f.ReadingVerdict.HIGH)[
                step.limits.side(result) + 1
            ]
        inputs = tuple(
            f.CalculationInput(name, ", ".join(map(str, value)) if isinstance(value, tuple) else value, "")
            for name, value in given.items()
        )
        recorded = f.CalculationRecorded(
            self.place(step.id),
            step.name,
            step.formula,
            inputs,
            result,
            "" if step.limits is None else str(step.limits),
            "",
            verdict,
            step.row.source,
            (),
        )
        self.pen.command(CommandName.NEXT, recorded, *self.done(step))

    def answer(self, key: str, confidence: float = 0.95) -> None:
        step = self.steps[self.left[0]]
        assert isinstance(step, Check)
        answer = step.answers[key]
        self.pen.wait(18)
        clip = self.pen.clip(answer.phrase)
        recorded: tuple[f.Fact, ...] = (
            f.AnswerRecorded(
                self.place(step.id), step.text, key, answer.phrase, answer.good, confidence, clip, i.Source.VOICE
            ),
        )
        if answer.finding:
            recorded = (*recorded, f.FindingRecorded(self.place(step.id), answer.finding))
        if answer.then == "go on":  # noqa: SIM108 - one line of it would be too long
            after = self.done(step)
        else:
            after = (f.ExchangeClosed(self.pen.exchange), self.pen.open())
        self.pen.write(self.pen.heard(Answer(key), answer.phrase, confidence, clip), *recorded, *after)

    def hold(self) -> None:
        step = self.steps[self.left[0]]
        assert isinstance(step, HoldPoint)
        self.pen.wait(25)
        clip = self.pen.clip(step.phrase)
        passed = f.HoldPointPassed(self.place(step.id), step.title, 0.96, clip, i.Source.VOICE)
        self.pen.write(self.pen.heard(Passphrase(step.id), step.phrase, 0.96, clip), passed, *self.done(step))

    def said(self, value: str, words: str, confidence: float = 0.94, doubt: str = "") -> i.Clip:
        """A reading is heard and waits for its confirmation."""
        self.pen.wait(20)
        clip, amount = self.pen.clip(words), quantity(value)
        heard = f.ReadingHeard(self.pen.exchange, amount, confidence, clip, i.Source.VOICE, doubt)
        self.pen.write(self.pen.heard(Amount(amount.value, amount.unit), words, confidence, clip), heard)
        return clip

    def read(
        self, value: str, words: str, confidence: float = 0.94, doubt: str = "", again: bool = False, left: bool = False
    ) -> None:
        """A reading is heard, read back and confirmed. again: it is measured once more afterwards; left: as left."""
        step = self.steps[self.left[0]]
        assert isinstance(step, Reading)
        clip, amount = self.said(value, words, confidence, doubt), quantity(value)
        self.values[step.id] = amount
        verdict = f.ReadingVerdict.NO_LIMIT
        if step.limits is not None:
            side = step.limits.side(amount)
            verdict = (f.ReadingVerdict.LOW, f.ReadingVerdict.WITHIN, f.ReadingVerdict.HIGH)[side + 1]
        recorded = f.ReadingRecorded(
            self.place(step.id),
            step.name,
            amount,
            f.ReadingStage.AS_LEFT if left else f.ReadingStage(step.taken.value),
            "" if step.limits is None else str(step.limits),
            verdict,
            confidence,
            doubt,
            clip,
            i.Source.VOICE,
        )
        facts: tuple[f.Fact, ...] = (recorded,)
        if verdict in (f.ReadingVerdict.LOW, f.ReadingVerdict.HIGH) and not again:
            finding = f"{step.name} {amount}, limits {step.limits}"
            facts = (*facts, f.FindingRecorded(self.place(step.id), finding))
        after = (f.ExchangeClosed(self.pen.exchange), self.pen.open()) if again else self.done(step)
        self.pen.command(CommandName.AFFIRM, *facts, *after)

    def refuse(self, value: str, words: str) -> None:
        """A reading is heard wrong, and its read-back refused."""
        self.said(value, words, 0.61)
        self.pen.command(CommandName.NEGATIVE, f.ReadBackRefused(self.pen.exchange, quantity(value)))

    def fail(self, guess: str, failure: f.Failure = f.Failure.DOUBTFUL) -> None:
        self.pen.wait(9)
        clip = self.pen.clip(guess)
        failed = f.HearingFailed(self.pen.exchange, failure, guess, clip)
        self.pen.write(i.Heard(self.pen.exchange, i.AnswerVerdict.DOUBTFUL, (), i.Source.VOICE, clip), failed)

    def reopen(self, step: str, because: str) -> tuple[f.Fact, ...]:
        """An earlier step comes into focus once more, before whatever was next."""
        self.left.insert(0, step)
        return (
            f.ExchangeClosed(self.pen.exchange),
            f.StepReopened(self.place(step), self.steps[step].title, because),
            *self.reached(),
        )


def eventful_visit() -> Pen:
    """A visit in which much goes otherwise than planned, and which ends complete."""
    visit = Visit()
    pen = visit.pen
    visit.begin()
    pen.command(CommandName.NEXT, f.RequestRefused("next", "HoldStays"))
    visit.until("cold-look")
    visit.answer("leak")
    visit.refuse("1215.4 h", "twelve fifteen point four")
    visit.read("1250.4 h", "one two five zero decimal four", 0.97)
    visit.until("start")
    pen.wait(3)
    cut = (
        i.Said("Hazard", "DANGER. Exhaust gas kills. Open the hatches and run the blower.", True),
        i.Said("Hazard", "WARNING. Turning parts catch sleeves and cables. Stay clear of the belt.", False),
    )
    pen.write(i.PromptPlayed(pen.exchange, cut), f.Spoken(cut))
    visit.until("oil-pressure")
    visit.read("46 psi", "forty six psi", 0.93)
    visit.fail("ninety one degrees")
    visit.read("91 °C", "ninety one degrees", 0.88)
    visit.until("oil-temperature")
    visit.read("66 °C", "sixty six degrees", 0.95, again=True)
    pen.wait(410)
    visit.read("57 °C", "fifty seven degrees", 0.92, left=True)
    visit.until("sample")
    sample = visit.steps["sample"]
    pen.wait(8)
    clip = pen.clip("tool not available")
    visit.left.pop(0)
    pen.write(
        pen.heard(Reason("no_tool"), "tool not available", 0.91, clip),
        f.ExchangeClosed(pen.exchange),
        f.StepSkipped(visit.place("sample"), sample.title, "tool not available", clip),
        *visit.reached(),
    )
    pen.wait(21)
    clip = pen.clip("twenty four litres")
    pen.write(
        pen.heard(Amount(Decimal(24), "L"), "twenty four litres", 0.71, clip),
        f.ReadingQuestioned(pen.exchange, quantity("24 L"), "0.0 L to 6.0 L", clip),
    )
    gallons, clip = Decimal("0.6"), pen.clip("zero decimal six gallons")
    pen.write(
        pen.heard(Amount(gallons, "gallons"), "zero decimal six gallons", 0.9, clip),
        f.UnitAsked(pen.exchange, gallons, "gallons", 0.9, clip, i.Source.VOICE),
    )
    pen.command(CommandName.CORRECTION, f.UnitTakenBack(pen.exchange, gallons, "gallons"))
    visit.read("2.4 L", "two decimal four litres", 0.96)
    visit.fail("looks no more")
    visit.fail("locks")
    pen.write(i.Silence(pen.exchange, 20.0), f.MannerChanged(pen.exchange, f.Manner.CHOICES))
    visit.until("plug-torque")
    visit.read("31 N.m", "thirty one newton metres", 0.94, again=True)
    visit.read("37 N.m", "thirty seven newton metres", 0.95, left=True)
    visit.until("old-filter")
    visit.answer("stuck")
    visit.until("fill")
    pen.command(CommandName.STAND_BY, f.StoodBy())
    pen.wait(760)
    pen.command(CommandName.CARRY_ON, f.CarriedOn(764.0), f.StateForgotten("a long pause"))
    pen.write(i.ButtonPressed(pen.exchange), *visit.reopen("prove-dead", "a long pause"))
    visit.until("oil-in")
    visit.read("2.3 L", "two decimal three litres", 0.93)
    withdrawn = f.ReadingWithdrawn(visit.place("oil-in"), "oil in", quantity("2.3 L"))
    pen.command(CommandName.CORRECTION, withdrawn, *visit.reopen("oil-in", "the technician's correction"))
    visit.read("2.5 L", "two decimal five litres", 0.44, doubt="heard with confidence 0.44")
    visit.until("count")
    visit.answer("missing")
    pen.wait(140)
    visit.until("settle")
    pen.write(
        pen.heard(Command(CommandName.NEXT), "next", 0.9, None),
        f.RequestRefused("next", "TimerNotOver"),
    )
    pen.write(pen.heard(Command(CommandName.NEXT), "next", 0.9, None), f.LateAnswerDropped(pen.exchange - 1))
    visit.until("leaks")
    place, title = visit.place("leaks"), visit.steps["leaks"].title
    pen.command(CommandName.DROPPED, f.ObjectDropped(place))
    pen.command(CommandName.FOUND, f.ObjectAccounted(place, True))
    pen.command(CommandName.CALL_FOR_HELP, f.HelpCalled())
    pen.command(CommandName.LOUDER, f.VoiceChanged(1, 0))
    note = f.NoteKept(place, title, f.Subject.FINDING, "", pen.clip("the sea cock is stiff"))
    pen.write(
        i.Heard(
            pen.exchange, i.AnswerVerdict.ACCEPTED, (i.Hypothesis(FreeSpeech(), "", 1.0),), i.Source.VOICE, note.clip
        ),
        note,
    )
    pen.write(
        pen.heard(Answer("none"), "no sample bottle", 0.9, None),
        f.StepPassedOver(place, title, place, "no sample bottle"),
    )
    part = f.PartFitted(place, "oil filter", "TW9-OF-21", "F21", "", 0.9, None, i.Source.TYPED)
    pen.command(CommandName.NEXT, f.HalfDone(place), f.PartRefused(place, "F29", None), part)
    other = f.PartFitted(place, "oil filter", "", "", "owner asks for it", 0.9, None, i.Source.TYPED)
    collected = f.ReadingCollected(pen.exchange, "pressure", quantity("318 kPa"), 0.9, None, i.Source.TYPED, "", True)
    pen.command(CommandName.NEXT, other, collected, f.SetRefused(pen.exchange))
    pen.command(CommandName.HAND_OVER, f.WorkHandedOver("supervisor"))
    lost = "the loudspeaker"
    pen.write(i.DeviceVanished(lost, "no such device"), f.DeviceLost(lost, "no such device"))
    visit.until("hand-over")
    visit.answer("restricted")
    return pen


def plain_visit() -> Pen:
    """A visit without any event, complete."""
    visit = Visit()
    visit.begin()
    values = {
        "run-hours": "1250.4 h",
        "oil-pressure": "318 kPa",
        "coolant-temperature": "79 °C",
        "oil-temperature": "52 °C",
        "oil-out": "2.4 L",
        "plug-torque": "37 N.m",
        "oil-in": "2.5 L",
    }
    for step, value in values.items():
        visit.until(step)
        visit.read(value, value)
    visit.until("")
    return visit.pen


def ended_early() -> Pen:
    """A visit that the technician ended because the engine was not fit to start."""
    visit = Visit()
    visit.begin()
    visit.until("run-hours")
    visit.read("1250.4 h", "1250.4 h")
    visit.answer("unfit")
    ended = f.WorkEnded(False, "the technician ended it")
    visit.pen.command(CommandName.AFFIRM, f.ExchangeClosed(visit.pen.exchange), ended)
    return visit.pen


def broken_off() -> Pen:
    """A visit that a power cut broke off, that another role took up again, and that nobody ended."""
    visit = Visit()
    visit.begin()
    visit.until("run-hours")
    visit.pen.reboot("77aa", 1800.0)
    visit.pen.write(i.WorkResumed("trainer"), f.WorkTakenUpAgain("trainer"), visit.pen.open())
    visit.read("1250.4 h", "1250.4 h")
    return visit.pen


def judged_values() -> Pen:
    """A visit in which values are inconclusive, a mean of several, worked out, and taken with an instrument."""
    visit = Visit()
    visit.begin()
    visit.until("run-hours")
    pen, place = visit.pen, visit.place("run-hours")
    reading = f.ReadingRecorded(
        place,
        "oil pressure",
        quantity("203 kPa"),
        f.ReadingStage.AS_FOUND,
        "200 kPa to 450 kPa",
        f.ReadingVerdict.INCONCLUSIVE,
        0.95,
        "panel gauge: calibration out of date since 2024-12-31",
        None,
        i.Source.VOICE,
        limits_by="running",
        circumstances=("running", "not isolated"),
        instrument="panel gauge",
    )
    found = f.FindingRecorded(place, "oil pressure 203 kPa, limits 200 kPa to 450 kPa, inconclusive")
    pen.command(CommandName.AFFIRM, replace(reading, quantity=quantity("205 kPa")))
    pen.command(CommandName.AFFIRM, reading, found)
    several = replace(
        reading,
        place=visit.place("oil-out"),
        name="deflection",
        quantity=quantity("7.50 mm"),
        limits="6 mm to 10 mm",
        limits_by="",
        verdict=f.ReadingVerdict.WITHIN,
        doubt="",
        instrument="",
        samples=tuple(quantity(f"{value} mm") for value in ("7.5", "7.6", "7.4")),
        spread=quantity("0.1 mm"),
    )
    balance = f.CalculationRecorded(
        visit.place("oil-balance"),
        "oil balance",
        "oil-balance",
        (f.CalculationInput("oil_in", "2.9 L", "oil in"), f.CalculationInput("oil_out", "2.4 L", "oil out")),
        quantity("0.5 L"),
        "-0.4 L to 0.4 L",
        "",
        f.ReadingVerdict.HIGH,
        "a difference",
        ("oil in is in doubt",),
    )
    pen.command(CommandName.AFFIRM, several)
    pen.command(
        CommandName.NEXT, balance, f.FindingRecorded(balance.place, "oil balance 0.5 L, limits -0.4 L to 0.4 L")
    )
    return pen


def planned_anew() -> Pen:
    """A planned visit of two tasks, of which one is done, and the other added and put off."""
    pen = Pen()
    oil = f.PlannedStage("oil", "oil", "Oil", True, 1, ("first",))
    belt = f.PlannedStage("belt", "belt", "Belt", True)
    drain = f.StepPlace("oil", "drain")
    taken = f.WorkTakenUp(order(), "Oil", 1)
    pen.write(i.WorkOrdered(order()), taken, f.VisitPlanned((oil,), "as ordered", 1))
    pen.write(
        i.WorkOrdered(order()), f.TaskAdded("belt", "Belt", "found worn", None), f.VisitPlanned((oil, belt), "added", 5)
    )
    pen.wait(60)
    pen.write(i.WorkOrdered(order()), f.StepReached(drain, "Drain", "steps"))
    pen.wait(60)
    pen.write(i.WorkOrdered(order()), f.StepDone(drain, "Drain"), f.StageDone(oil))
    put_off = f.TaskPutOff("belt", "Belt", "no time today", None)
    pen.write(i.WorkOrdered(order()), put_off, f.VisitPlanned((oil,), "Belt is put off: no time today", 3))
    return pen


def opened_in_trouble() -> Pen:
    """A visit that began with all that can be found wrong then, in a session that is a salvage."""
    pen = Pen()
    salvaged = f.SalvageMade("2025-05-13T0741-marram-auxiliary-oil-and-filter", "a" * 64, 12, ("line 7 is damaged",))
    pen.write(i.SessionSalvaged("marram-auxiliary", salvaged.source, "b" * 64), salvaged)
    now, before = pen.at().wall, "2025-06-01T10:00:00.000+00:00"
    doubts = [f.ClockDoubted(why, now, before, "another") for why in f.ClockDoubt]
    others = (
        f.WorkedBeside("supervisor", "another", before),
        f.FilesSetAside(("a.flac", "b.flac", "letter.txt"), 2),
        f.CopyReplaced("belt.yaml"),
    )
    pen.write(i.WorkOrdered(order()), f.WorkTakenUp(order(), "Oil and filter", 52), *doubts, *others)
    return pen


def taken_over() -> Pen:
    """A visit, and in it what was done before: a history is a session of its own, and this one only has all words."""
    visit = Visit()
    visit.begin()
    history = f.HistoryTakenOver("marram-auxiliary", "before.csv", "0" * 64, 1)
    before = f.DoneBefore("2025-01-01", Decimal(900), "oil", "oil", "Oil")
    visit.pen.write(i.ButtonPressed(1), history, before)
    return visit.pen
