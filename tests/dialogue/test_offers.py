"""All that may be said at every step of the shipped procedures compiles, and each phrase means what the step asks."""

from __future__ import annotations

from decimal import Decimal

import pytest

from assistant.dialogue.asking_numbers import teen_or_ten
from assistant.dialogue.exchange import expectation, question, ways_of_asking
from assistant.dialogue.turn import Turn
from assistant.dialogue.work import PlacedStep, Work
from assistant.edge.files.language import Language, english
from assistant.edge.files.library import assets, order_work
from assistant.edge.places import procedures
from assistant.grammar.numbers import say_digits, say_number
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Passphrase
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.reading_set import ReadingSet
from assistant.quantities import Quantity
from assistant.session import facts as f
from assistant.session.inputs import Instant, Source
from assistant.session.visit import Exchange, Pending, Visit

AT = Instant("2026-03-02T08:00:00.000+00:00", 0.0, "boot")


def shipped() -> list[tuple[Work, PlacedStep]]:
    """Every step of every shipped procedure, once a model."""
    models = {folder: asset for asset, folder in assets().items()}
    found = []
    for folder, asset in models.items():
        for path in sorted(folder.glob("*.yaml")):
            if path.stem != "equipment":
                work = order_work(asset, (path.stem,), "technician").work
                found += [(work, placed) for placed in work.steps]
    assert folder.parent == procedures()
    return found


STEPS = shipped()
EVERY_STEP = pytest.mark.parametrize(
    ("work", "placed"), STEPS, ids=[f"{placed.place.task}-{placed.place.step}" for _, placed in STEPS]
)


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


def asked(work: Work, placed: PlacedStep, **changes: object) -> Turn:
    """A turn in which the step's question is open."""
    exchange = Exchange(1, f.Purpose.STEP, **changes)  # type: ignore[arg-type]  # each test names its own fields
    return Turn(work, Visit(focus=placed.place, exchange=exchange, exchanges=1), AT)


def means(turn: Turn, language: Language, words: str) -> list[Meaning]:
    return [typed.meaning for typed in language.typed(language.graph(expectation(turn)), words)]


def numbers(step: Reading) -> list[Decimal]:
    """Values at the ends, inside and outside of what is believable, in the reading's unit."""
    found = {Decimal(0), Decimal("7.5"), Decimal("12.06"), Decimal(15), Decimal(50), Decimal("318"), Decimal("1250.4")}
    for limits in (step.believable, step.limits or step.believable):
        found |= {end.to(step.unit).value for end in (limits.low, limits.high) if end is not None}
    return sorted(found)


@EVERY_STEP
def test_each_phrase_means_one_thing(work: Work, placed: PlacedStep, language: Language) -> None:
    turn, step = asked(work, placed), placed.step
    if isinstance(step, Check):
        for key, answer in step.answers.items():
            for phrase in (answer.phrase, *answer.also):
                assert means(turn, language, phrase) == [Answer(key)], phrase
    elif isinstance(step, HoldPoint):
        assert means(turn, language, step.phrase) == [Passphrase(step.id)]
    elif isinstance(step, Reading):
        units = language.wording.forms.units.get(step.unit, ("", ""))
        for value in numbers(step):
            for unit, words in ((None, ""), (step.unit, f" {units[1]}")):
                assert means(turn, language, say_number(value) + words) == [Amount(value, unit)]
    for name, words in (("next", "next"), ("say again", "say again"), ("skip", "skip this step")):
        allowed = CommandName(name) in question(turn).commands
        assert means(turn, language, words) == ([Command(CommandName(name))] if allowed else [])
    assert means(turn, language, "open the pod bay doors") == []


@EVERY_STEP
def test_every_way_of_asking_can_be_answered(work: Work, placed: PlacedStep, language: Language) -> None:
    step = placed.step
    ways = ways_of_asking(question(asked(work, placed)))
    assert ways[0] is f.Manner.PLAIN
    assert ways[-1] is f.Manner.MANUAL
    assert (f.Manner.DIGITS in ways) is isinstance(step, Reading | ReadingSet)
    for manner in ways:
        turn = asked(work, placed, manner=manner)
        assert language.graph(expectation(turn)).words
        if isinstance(step, HoldPoint):
            assert means(turn, language, step.phrase) == [Passphrase(step.id)]
        if isinstance(step, Reading) and manner is f.Manner.DIGITS:
            for value in numbers(step):
                assert means(turn, language, say_digits(value)) == [Amount(value, None)]
            assert means(turn, language, "forty two") == []  # only digits now


@EVERY_STEP
def test_a_read_back_takes_no_number(work: Work, placed: PlacedStep, language: Language) -> None:
    step = placed.step
    if not isinstance(step, Reading):
        assert question(asked(work, placed)).full
        return
    pending = Pending(Quantity(Decimal("7.5"), step.unit), 0.9, None, Source.VOICE, "")
    turn = asked(work, placed, stage=f.ExchangeStage.CONFIRMING, pending=pending)
    for words, name in (("affirm", CommandName.AFFIRM), ("not so", CommandName.NEGATIVE)):
        assert means(turn, language, words) == [Command(name)]
    assert means(turn, language, "seven decimal five") == []
    assert means(turn, language, "next") == []


@EVERY_STEP
def test_what_is_spoken_of_a_step_has_words(work: Work, placed: PlacedStep, language: Language) -> None:
    asks = question(asked(work, placed))
    for message in (*asks.full, *asks.short, *asks.choices, *asks.digits_message):
        assert language.wording.aloud(message)


@pytest.mark.parametrize(
    ("one", "other", "confused"),
    [
        ("15", "50", True),
        ("50", "15", True),
        ("13", "30", True),
        ("19", "90", True),
        ("113", "130", True),
        ("1215", "1250", True),
        ("14.5", "40.5", True),
        ("15.0", "50", True),
        ("15", "15", False),
        ("15", "60", False),
        ("12", "20", False),
        ("10", "100", False),
        ("11", "10", False),
        ("14.5", "40.6", False),
        ("113", "230", False),
        ("115", "50", False),
        ("0", "0", False),
        ("5", "50", False),
    ],
)
def test_teen_or_ten(one: str, other: str, confused: bool) -> None:
    assert teen_or_ten(Decimal(one), Decimal(other)) is confused
    assert teen_or_ten(Decimal(other), Decimal(one)) is confused


def test_teen_or_ten_below_zero() -> None:
    """-15 °C and -50 °C sound as alike as 15 and 50."""
    assert teen_or_ten(Decimal(-15), Decimal(-50))
    assert teen_or_ten(Decimal("-14.5"), Decimal("-40.5"))
    assert not teen_or_ten(Decimal(-15), Decimal(50))
    assert not teen_or_ten(Decimal(15), Decimal(-50))
