"""What limits, rules, instruments and calculations of a procedure refer to is there, or the file is refused."""

from __future__ import annotations

import pytest

from assistant.errors import ProcedureError
from assistant.procedure.kinds.calculation import Calculation
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.quantities import parse

EQUIPMENT = """\
format: 1
model: small-set
name: Small set
assets: {set-a: the first set}
state:
  running: {yes: it runs, no: it stands}
instruments:
  gauge: {name: gauge, uncertainty: 5 kPa, calibrated_until: 2026-01-31}
  can: {name: marked can}
"""

PROCEDURE = """\
format: 1
procedure: oil
title: Oil
before:
  - reading: hours
    title: Hours
    text: Read the hours.
    name: run hours
    unit: h
    believable: 0 h to 99999 h
  - reading: pressure
    title: Pressure
    text: Read the pressure.
    name: pressure
    unit: kPa
    believable: 0 kPa to 700 kPa
    limits: 300 kPa ± 50 kPa
    limits_when: {running: 200 kPa to 450 kPa}
    instrument: gauge
    decision: guarded
steps:
  - reading: out
    title: Out
    text: How much came out?
    name: oil out
    unit: L
    believable: 0 L to 6 L
    instrument: can
  - reading: in
    title: In
    text: How much went in?
    name: oil in
    unit: L
    believable: 0 L to 6 L
    limits: within 0.4 L
    relative_to: out
  - calculation: balance
    title: Balance
    text: In less out.
    name: balance
    formula: oil-balance
    inputs: {oil_in: in, oil_out: out}
    unit: mL
    limits: within 400 mL
  - calculation: due
    title: Due
    text: The next time.
    name: next time
    formula: next-due
    inputs: {last_hours: hours, every_hours: 180 h, work: other}
"""


def read(procedure: str, equipment: str = EQUIPMENT) -> None:
    read_procedure(procedure, read_equipment(equipment), "oil.yaml")


def test_a_right_file_is_read() -> None:
    read(PROCEDURE)


@pytest.mark.parametrize(
    ("old", "new", "cause"),
    [
        ("limits_when: {running:", "limits_when: {runing:", "'runing' is no variable of the engine's state"),
        ("limits_when: {running: 200 kPa", "limits_when: {running: 900 kPa", "is reversed"),
        ("200 kPa to 450 kPa}", "200 L to 450 L}", "given in volume, but the reading is in kPa"),
        ("300 kPa ± 50 kPa", "300 kPa ± 5 L", "measures volume"),
        ("300 kPa ± 50 kPa", "680 kPa ± 50 kPa", "lies outside what is believable"),
        ("instrument: gauge", "instrument: gouge", "there is no instrument 'gouge'. Did you mean 'gauge'"),
        ("instrument: gauge", "instrument: can", "the guarded rule of 'pressure' needs an uncertainty"),
        ("instrument: gauge", "uncertainty: 2 L", "the reading is in kPa"),
        ("instrument: gauge", "uncertainty: -2 kPa", "without a sign"),
        ("instrument: can", "instrument: gauge", "5 kPa, is none of a reading in L"),
        ("instrument: can", "decision: guarded", "there is nothing to guard"),
        ("relative_to: out", "relative_to: balance", "no step 'balance' takes a reading before this one"),
        ("relative_to: out", "relative_to: in", "no step 'in' takes a reading before this one"),
        ("relative_to: out", "relative_to: pressure", "'oil in' is volume, 'pressure' is pressure"),
        ("    limits: within 0.4 L\n", "", "how far from it"),
        ("formula: oil-balance", "formula: oil-balanse", "there is no such calculation; Use oil-balance"),
        ("oil_in: in,", "oil_inn: in,", "there is no input 'oil_inn'"),
        ("oil_in: in, ", "", "'oil_in' is missing"),
        ("oil_in: in,", "oil_in: into,", "no step 'into' takes a reading before this one. Did you mean 'in'"),
        ("oil_in: in,", "oil_in: pressure,", "measures pressure, not volume"),
        ("oil_in: in,", "oil_in: 3 kPa,", "measures pressure, not volume"),
        ("oil_in: in,", "oil_in: 3 litres,", "unknown unit 'litres'"),
        ("unit: mL", "unit: kPa", "kPa measures pressure"),
        ("limits: within 400 mL", "limits: within 400 kPa", "the reading is in mL"),
        ("work: other", "work: paint", "is none of its choices"),
        ("inputs: {last_hours:", "limits: 3 h to 4 h\n    inputs: {last_hours:", "the result of next-due is text"),
    ],
)
def test_what_refers_to_nothing_or_to_another_kind_is_refused(old: str, new: str, cause: str) -> None:
    assert PROCEDURE.count(old) == 1
    with pytest.raises(ProcedureError) as caught:
        read(PROCEDURE.replace(old, new))
    assert cause in str(caught.value)


def test_a_calculation_before_its_reading_is_refused() -> None:
    before, balance, due = PROCEDURE.partition("  - calculation: due")
    with pytest.raises(ProcedureError, match="no step 'hours' takes a reading before this one"):
        read(before.replace("before:\n", f"before:\n{balance}{due}"))


@pytest.mark.parametrize(
    ("result", "stated"),
    [("0.22695 L", "227 mL"), ("0.4004 L", "400.4 mL"), ("0.3996 L", "400 mL"), ("-0.0004 L", "0 mL")],
)
def test_a_result_is_rounded_unless_that_moves_it_over_a_limit(result: str, stated: str) -> None:
    text = PROCEDURE.replace("unit: mL", "unit: mL\n    decimals: 0")
    steps = read_procedure(text, read_equipment(EQUIPMENT), "oil.yaml").steps()
    step = next(step for step in steps if isinstance(step, Calculation))
    assert str(step.stated(parse(result))) == stated


@pytest.mark.parametrize(
    ("old", "new", "cause"),
    [
        ("2026-01-31", "2026-02-31", "calibrated_until"),
        ("uncertainty: 5 kPa", "uncertainty: 5", "has no unit"),
    ],
)
def test_an_instrument_that_does_not_read_is_refused(old: str, new: str, cause: str) -> None:
    with pytest.raises(ProcedureError, match=cause):
        read(PROCEDURE, EQUIPMENT.replace(old, new))
