"""How values stand: the words of a verdict, the rule near a limit, what the record keeps."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.dialogue import messages as m
from assistant.dialogue.judging import JudgedValue, mean
from assistant.edge.files.language import english
from assistant.edge.places import procedures
from assistant.procedure.kinds.calculation import Calculation
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.reading_set import Member, ReadingSet
from assistant.procedure.measured import Judged
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.quantities import UNITS, Limits, Quantity, parse, parse_limits
from assistant.session.facts import ReadingVerdict

LANGUAGE = english()
FEW = 20  # words; a number counts as one, as in Simplified Technical English (from memory)


def shipped() -> Iterator[tuple[Judged, Limits, str]]:
    """Every value that a shipped procedure judges, with each of its limits and its unit."""
    for file in sorted(procedures().glob("*/equipment.yaml")):
        equipment = read_equipment(file.read_text(encoding="utf-8"))
        for path in sorted(file.parent.glob("*.yaml")):
            if path == file:
                continue
            for step in read_procedure(path.read_text(encoding="utf-8"), equipment, path.name).steps():
                judged = step.members if isinstance(step, ReadingSet) else (step,)
                for value in judged:
                    if isinstance(value, Judged):
                        for _, limits in value.every_limits():
                            end = limits.low or limits.high
                            assert end is not None
                            yield value, limits, end.unit


JUDGED = list(shipped())


def spoken(value: Judged, verdict: ReadingVerdict, quantity: Quantity, limits: Limits) -> tuple[m.Message, ...]:
    """The verdict and what to do, as the dialogue says them."""
    said = JudgedValue(quantity, verdict, limits, "").messages()
    match verdict:
        case ReadingVerdict.WITHIN:
            return said
        case ReadingVerdict.INCONCLUSIVE:
            return (*said, m.MeasureAgain())
        case _ if isinstance(value, Reading) and value.until_within:
            words = value.too_low if verdict is ReadingVerdict.LOW else value.too_high
            return (*said, m.PutRight(words or value.adjust))
        case _:
            return (*said, m.FindingNoted())


@pytest.mark.parametrize("verdict", [verdict for verdict in ReadingVerdict if verdict is not ReadingVerdict.NO_LIMIT])
@pytest.mark.parametrize(("value", "limits", "unit"), JUDGED, ids=[value.name for value, _, _ in JUDGED])
def test_a_verdict_is_number_limit_verdict_and_what_to_do_in_under_twenty_words(
    value: Judged, limits: Limits, unit: str, verdict: ReadingVerdict
) -> None:
    quantity = Quantity(Decimal("123.4"), unit)
    aloud = " ".join(LANGUAGE.wording.aloud(message) for message in spoken(value, verdict, quantity, limits))
    assert "123.4" in aloud
    assert ("is " + verdict.value) in aloud
    for end in filter(None, (limits.low, limits.high)):
        assert str(abs(end.value)) in aloud
    assert re.search(r"Go on|[Mm]easure again", aloud)
    assert len(aloud.split()) < FEW, aloud


def test_shipped_procedures_judge_readings_and_a_calculation() -> None:
    kinds = {type(value) for value, _, _ in JUDGED}
    assert kinds == {Reading, Member, Calculation}
    assert len(JUDGED) >= 6


@settings(deadline=None)  # the first one loads scipy
@given(st.lists(st.decimals("-99.9", "99.9", places=1), min_size=2, max_size=9))
def test_a_mean_lies_between_its_samples_and_counts_them_all(values: list[Decimal]) -> None:
    found = mean(tuple(Quantity(value, "mm") for value in values), "mm")
    assert min(values) <= found.value.value <= max(values)
    assert abs(found.value.value - sum(values) / len(values)) <= Decimal("0.005")
    assert found.value.resolution == Decimal("0.01")


def test_samples_in_two_units_have_their_mean_in_the_units_of_the_step() -> None:
    found = mean((parse("1 in"), parse("26.4 mm")), "mm")
    assert found.value == parse("25.90 mm")
    assert found.spread.unit == "mm"


def test_a_sample_that_is_doubted_is_counted() -> None:
    """Grubbs, two-sided 5 %, n = 6: 1.887 (recomputed with scipy); nothing is thrown out."""
    samples = tuple(parse(f"{value} mm") for value in ("7.5", "7.6", "7.4", "7.5", "7.6", "9.9"))
    found = mean(samples, "mm")
    assert found.doubted == parse("9.9 mm")
    assert found.value == parse("7.92 mm")
    assert mean(samples[:-1], "mm").doubted is None


@given(
    st.decimals("-50", "50", places=1), st.decimals("0", "9", places=1), st.sampled_from(["L", "kPa", "°C", "US gal"])
)
def test_limits_about_a_reading_hold_what_is_no_farther_from_it(middle: Decimal, far: Decimal, unit: str) -> None:
    width = "K" if unit == "°C" else unit
    limits = parse_limits(f"within {far} {width}").around(Quantity(middle, unit))
    assert limits == parse_limits(f"{middle} {unit} ± {far} {width}")
    assert limits.side(Quantity(middle + far, unit)) == 0 == limits.side(Quantity(middle - far, unit))
    assert limits.side(Quantity(middle + far + Decimal("0.1"), unit)) == 1
    assert limits.side(Quantity(middle - far - Decimal("0.1"), unit)) == -1


@pytest.mark.parametrize(
    "written", ["37 N.m ± -3 N.m", "within -3 L", "37 ± 3 N.m", "± 3 N.m", "within", "3 L ± 2 kPa"]
)
def test_a_tolerance_that_is_none_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match=r"tolerance|not a quantity|no unit|not an interval|measures"):
        parse_limits(written)


def test_a_target_keeps_its_resolution() -> None:
    assert str(parse_limits("37.50 N.m ± 2.5 N.m")) == "35.00 N.m to 40.00 N.m"
    assert str(parse_limits("20 °C ± 5 K")) == "15 °C to 25 °C"
    assert str(parse_limits("2 bar ± 10 kPa").high) == "2.1 bar"


def test_a_verdict_has_words_for_every_unit() -> None:
    for unit in filter(None, UNITS):
        limits = Limits(Quantity(Decimal(1), unit), Quantity(Decimal(2), unit))
        standing = JudgedValue(Quantity(Decimal(3), unit), ReadingVerdict.HIGH, limits, "")
        (message,) = standing.messages()
        assert LANGUAGE.wording.aloud(message)
        assert replace(standing, limits=None).messages() == ()
