"""A reading in another unit of its kind: the verdict is that of the value, whatever unit it was spoken in."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from assistant.dialogue import messages as m
from assistant.dialogue.asking_numbers import in_unit_asked_for
from assistant.dialogue.decide import decide
from assistant.dialogue.effects import Say
from assistant.edge.files.library import order_work
from assistant.grammar.numbers import can_be_said
from assistant.grammar.units import SHARED_RULES
from assistant.meanings import Amount, Answer, Command, CommandName, Hypothesis, Meaning
from assistant.procedure.kinds.reading import Reading
from assistant.quantities import AMBIGUOUS, KNOWN_UNITS, UNITS, Limits, Quantity
from assistant.session import facts as f
from assistant.session.applying import fold
from assistant.session.inputs import AnswerVerdict, Envelope, Heard, Instant, Source, WorkOrdered
from assistant.session.visit import Visit

ORDERED = order_work("bench", ("units",), "technician", Path(__file__).parent.parent / "dialogues")
AT = Instant("2026-03-02T08:00:00.000+00:00", 0.0, "boot")
PRESSURE = ORDERED.work.steps[0].step
KILOPASCALS = {"kPa": Fraction(1), "bar": Fraction(100), "psi": Fraction("4.4482216152605") / Fraction("0.64516")}
"""What one is in kPa: NIST SP 811, a pound-force on a square inch."""


def visit(*meanings: Meaning) -> tuple[list[f.Fact], list[m.Message]]:
    """The facts and messages of a visit in which these are heard, one after the other."""
    facts: list[f.Fact] = []
    said: list[m.Message] = []
    now = Visit()
    for number, meaning in enumerate((None, *meanings)):
        given_input = (
            WorkOrdered(ORDERED.order)
            if meaning is None
            else Heard(
                now.exchange.number if now.exchange else 0,
                AnswerVerdict.ACCEPTED,
                (Hypothesis(meaning, "words", 0.9),),
                Source.VOICE,
                None,
            )
        )
        decision = decide(ORDERED.work, now, Envelope(number, AT, given_input))
        now = fold(((fact, AT) for fact in decision.facts), now)
        facts += decision.facts
        said += [message for effect in decision.effects if isinstance(effect, Say) for message in effect.messages]
    return facts, said


@settings(max_examples=60, deadline=None)
@given(st.decimals(0, 20_000, places=2), st.sampled_from(sorted(KILOPASCALS)))
def test_a_verdict_does_not_change_with_the_unit(value: Decimal, unit: str) -> None:
    assert isinstance(PRESSURE, Reading)
    assert {PRESSURE.unit, *KNOWN_UNITS[PRESSURE.unit].also} == set(KILOPASCALS)
    kilopascals = Fraction(value) * KILOPASCALS[unit]
    assume(all(abs(kilopascals - end) > Fraction(1, 10**9) for end in (200, 450, 700)))
    amount = Amount(value, unit)
    twice = (amount, amount) if kilopascals > 700 else (amount,)  # what is hard to believe is said twice
    facts, _ = visit(*twice, Command(CommandName.AFFIRM))
    assert sum(isinstance(fact, f.ReadingQuestioned) for fact in facts) == len(twice) - 1
    (reading,) = (fact for fact in facts if isinstance(fact, f.ReadingRecorded))
    assert str(reading.quantity) == f"{value:f} {unit}"
    assert reading.verdict.value == ("low" if kilopascals < 200 else "high" if kilopascals > 450 else "within")


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_every_unit_that_a_reading_hears_can_be_read_back(data: st.DataObject) -> None:
    """In both units, or in the one that was said where the other has no words; `NotBelievable` too."""
    asked = data.draw(st.sampled_from(sorted(symbol for symbol, unit in UNITS.items() if unit.also)))
    others = [unit for unit in UNITS[asked].also if unit in UNITS]
    assume(others)
    other = data.draw(st.sampled_from(others))
    value = data.draw(st.decimals(-99_999, 99_999, places=data.draw(st.integers(0, 3))))
    end = Quantity(Decimal(0), asked)
    step = Reading.model_construct(unit=asked, believable=Limits(end, None))
    converted = in_unit_asked_for(step, Quantity(value, other))
    if converted is not None:
        assert can_be_said(converted.value)
        exact = Quantity(value, other).exactly(asked)
        assert abs(converted.value - exact) <= converted.resolution / 2
    assert in_unit_asked_for(step, Quantity(value, asked)) is None


def test_a_word_for_several_units_is_asked_about_and_its_answer_completes_the_number() -> None:
    pressure = (Amount(Decimal(3), "bar"), Command(CommandName.AFFIRM))
    facts, said = visit(*pressure, Amount(Decimal("0.70"), "gallons"))
    assert isinstance(facts[-1], f.UnitAsked)
    assert isinstance(said[-1], m.WhichUnit)
    assert not any(isinstance(fact, f.ReadingHeard) and fact.quantity.value == Decimal("0.70") for fact in facts)
    facts, said = visit(*pressure, Amount(Decimal("0.70"), "gallons"), Answer("imp gal"))
    assert isinstance(facts[-1], f.ReadingHeard)
    assert str(facts[-1].quantity) == "0.70 imp gal"
    assert said[-1] == m.ReadBack("oil out", facts[-1].quantity, Quantity(Decimal("3.18"), "L"))


@pytest.mark.parametrize("meaning", [Answer("imp qt"), Amount(Decimal(3), "L"), Command(CommandName.AFFIRM)])
def test_no_other_answer_completes_it(meaning: Meaning) -> None:
    pressure = (Amount(Decimal(3), "bar"), Command(CommandName.AFFIRM))
    facts, _ = visit(*pressure, Amount(Decimal("0.70"), "gallons"), meaning)
    assert isinstance(facts[-1], f.RequestRefused)


def test_words_for_several_units_name_units_of_one_kind() -> None:
    """Else an answer could turn a volume into something else."""
    for name in SHARED_RULES:
        assert len({KNOWN_UNITS[symbol].kind for symbol in AMBIGUOUS[name]}) == 1
