"""The table of formulas is complete, and inputs are held against their kind and range in one place."""

from __future__ import annotations

from decimal import Decimal
from inspect import signature

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.calculations import FORMULAS, TOPICS, formula_named
from assistant.calculations.formula import Example, Formula, Noted, QuantityInput
from assistant.errors import CalculationError, EngineBayError, QuantityError
from assistant.quantities import KNOWN_UNITS, Kind, Quantity, parse
from tests.worded import cannot_be, compute, worded

ROWS = list(FORMULAS.values())
STRING = {"force": "30 N", "span": "320 mm", "deflection": "5 mm"}


def faults(row: Formula) -> list[str]:
    """What a row lacks."""
    found = []
    if not row.title or not row.source:
        found.append("no title or no source")
    if not row.examples:
        found.append("no worked example")
    if [each.name for each in row.inputs] != list(signature(row.function).parameters):
        found.append("the function takes other inputs")
    if row.result is not None and row.result not in KNOWN_UNITS:
        found.append("the result's unit is unknown")
    if row.like and row.like not in {each.name for each in row.inputs}:
        found.append("like is no input")
    measured = [each for each in row.inputs if isinstance(each, QuantityInput) and each.unit is not None]
    found += [f"{each.name} has no range" for each in measured if not each.range]
    return found


@pytest.mark.parametrize("row", ROWS, ids=list(FORMULAS))
def test_a_row_is_complete(row: Formula) -> None:
    assert faults(row) == []


@pytest.mark.parametrize(
    ("row", "example"),
    [(row, example) for row in ROWS for example in row.examples],
    ids=[f"{row.name}-{number}" for row in ROWS for number in range(len(row.examples))],
)
def test_a_worked_example_comes_out(row: Formula, example: Example) -> None:
    result = worded(row.compute(example.inputs))
    assert str(result.value) == example.result
    assert len(result.warnings) == example.warnings


def test_a_row_that_lacks_something_is_found() -> None:
    def bare(force: float) -> float:
        return force

    def sourced(force: float) -> float:
        """Force.

        Source: here.
        """
        return force

    force = (QuantityInput("force", "N", low=0),)
    assert faults(Formula("bare", bare, force, "N", (Example({"force": "1 N"}, "1 N"),))) == ["no title or no source"]
    assert faults(Formula("unshown", sourced, force, "N", ())) == ["no worked example"]
    assert faults(Formula("fine", sourced, force, "N", (Example({"force": "1 N"}, "1 N"),))) == []
    assert faults(Formula("open", sourced, (QuantityInput("force", "N"),), "N", (Example({}, ""),))) == [
        "force has no range"
    ]
    assert len(faults(Formula("other", sourced, (QuantityInput("weight", "N", low=0),), "", (Example({}, ""),)))) == 1


def test_no_name_is_used_twice() -> None:
    assert sum(len(rows) for rows in TOPICS.values()) == len(FORMULAS)


@pytest.mark.parametrize("row", ROWS, ids=list(FORMULAS))
def test_every_input_is_asked_for_and_none_is_taken_unknown(row: Formula) -> None:
    shown = row.examples[0].inputs
    with cannot_be("no such input"):
        row.compute({**shown, "colour": "5 mm"})
    for each in row.inputs:
        if each.default is None:
            with cannot_be("is missing"):
                row.compute({name: value for name, value in shown.items() if name != each.name})


@pytest.mark.parametrize("row", ROWS, ids=list(FORMULAS))
@pytest.mark.parametrize(
    "bad", ["", "text", "1e400", "1e400 mm", "5 parsec", "nan N", "9" * 400 + " N", "-300 °C", "5"]
)
def test_bad_input_gets_one_clear_sentence(row: Formula, bad: str) -> None:
    shown = row.examples[0].inputs
    for each in row.inputs:
        if isinstance(each, QuantityInput) and not (bad == "5" and each.kind == "count"):
            with pytest.raises((CalculationError, QuantityError)) as caught:
                row.compute({**shown, each.name: bad})
            assert each.name in caught.value.place
            assert caught.value.cause
            assert caught.value.remedy


def gives_an_answer_or_a_sentence(row: Formula, data: st.DataObject) -> None:
    inputs: dict[str, Quantity | tuple[Quantity, ...] | str] = dict(row.examples[0].inputs)
    for each in row.inputs:
        if isinstance(each, QuantityInput) and data.draw(st.booleans()):
            shown = row.examples[0].inputs.get(each.name)
            unit = parse(shown.split(",")[0], kind=Kind.COUNT).unit if shown else each.unit or "mm"
            numbers = st.decimals(-10_000, 10_000, places=3) | st.sampled_from([Decimal(0), Decimal(10) ** 14])
            value = Quantity(data.draw(numbers), unit)
            inputs[each.name] = tuple([value] * each.many) if each.many else value
    try:
        value = worded(row.compute(inputs)).value
    except EngineBayError as error:
        value = str(error)
    assert value.value.is_finite() if isinstance(value, Quantity) else value


@pytest.mark.parametrize("row", ROWS, ids=list(FORMULAS))
@settings(max_examples=30)
@given(data=st.data())
def test_any_number_in_any_unit_gives_an_answer_or_a_sentence(row: Formula, data: st.DataObject) -> None:
    """Nobody sees a traceback: what is believable, impossible, huge or of another kind."""
    gives_an_answer_or_a_sentence(row, data)


@pytest.mark.long
@pytest.mark.parametrize("row", ROWS, ids=list(FORMULAS))
@settings(max_examples=200)
@given(data=st.data())
def test_many_numbers_in_any_unit_give_an_answer_or_a_sentence(row: Formula, data: st.DataObject) -> None:
    """The same as above."""
    gives_an_answer_or_a_sentence(row, data)


def test_quantities_tuples_and_text_are_taken_alike() -> None:
    as_text = compute("compression-spread", {"readings": "28 bar, 27 bar, 22 bar"})
    as_tuple = compute("compression-spread", {"readings": tuple(map(parse, ("28 bar", "27 bar", "22 bar")))})
    assert as_text == as_tuple
    assert compute("belt-tension-from-deflection", {name: parse(value) for name, value in STRING.items()}) == compute(
        "belt-tension-from-deflection", STRING
    )


def test_one_value_is_one_value() -> None:
    with cannot_be("2 values given"):
        compute("belt-wanted-deflection", {"span": "300 mm, 400 mm"})


@given(st.sampled_from(["mm", "cm", "m", "in", "ft"]), st.sampled_from(["N", "kN", "lbf", "kgf"]))
def test_a_result_does_not_change_with_the_unit_of_an_input(length: str, force: str) -> None:
    inputs = {
        "force": Quantity(parse("30 N").exactly(force), force),
        "span": Quantity(parse("320 mm").exactly(length), length),
        "deflection": parse("5 mm"),
    }
    value = compute("belt-tension-from-deflection", inputs).value
    assert isinstance(value, Quantity)
    assert float(value.value) == pytest.approx(480, rel=1e-8)


@pytest.mark.parametrize(
    ("last", "every", "due"),
    [("1250.4 h", "250 h", "1500.4 h"), ("12345.67 h", "250 h", "12595.67 h"), ("100 h", "33.3 h", "133.3 h")],
)
def test_digits_follow_the_most_precise_input(last: str, every: str, due: str) -> None:
    assert str(compute("next-due-hours", {"last_hours": last, "every_hours": every}).value) == due


def test_an_unknown_name_is_answered_with_the_nearest() -> None:
    with cannot_be("belt-tension-from-deflection"):
        formula_named("belt-tension")
    with cannot_be("enginebay calc lists them"):
        formula_named("zzz")


def test_warnings_name_the_unit_of_the_result() -> None:
    result = compute("samples", {"readings": "7.5 mm, 7.6 mm, 7.4 mm"})
    assert result.warnings == ("Spread (standard deviation) 0.1 mm, 3 readings",)
    assert isinstance(Noted(1.0, ()).value, float)
