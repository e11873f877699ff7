"""Facts of the trade against which the program is checked: common practice, no source. They stand in this file only.

Invented data must differ from them. The demo had the oil interval, the turns and the grade that are common practice,
and samples had the belt's deflection: nobody could tell an invented value from one that holds for real engines.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any
from unicodedata import numeric

import pytest
import samples
import yaml

from assistant.calculations import FORMULAS, belt, intervals
from assistant.calculations.decision import DecisionRule, LimitVerdict, judge
from assistant.edge.files.grammars import spoken_of
from assistant.edge.places import procedures
from assistant.grammar.spoken import spoken
from assistant.quantities import Kind, Limits, Quantity, parse, parse_limits, unit_named
from assistant.statements import kinds as s

# Common practice, no source.
OIL_HOURS = parse("200 h")  # oil and filter, every
FUEL_HOURS = parse("400 h")  # in-line fuel filter, at most every
OIL = parse("3 L")  # about, of a small set
TURNS = "¾ turn"  # a spin-on oil filter, after its seal touches
GRADE = "15W-40"
DEFLECTION = parse_limits("7 mm to 9 mm")  # alternator belt of a small set, at mid-span under FORCE
FORCE = parse("98 N")
MARK = "common practice, no source"

TESTS = Path(__file__).parent


# --- the program against them --------------------------------------------------------------------------------


@pytest.mark.parametrize(("work", "every"), [("oil and filter", OIL_HOURS), ("fuel filter", FUEL_HOURS)])
def test_usual_intervals_are_not_doubted(work: str, every: Quantity) -> None:
    inputs: dict[str, Quantity | str] = {"last_hours": "1000 h", "every_hours": every, "work": work}
    result = FORMULAS["next-due"].compute(inputs)
    assert (result.value, result.warnings) == (s.DueAtHours(float(1000 + every.value)), ())
    least, most = intervals.BANDS[work][0]  # type: ignore[index]  # both have a band
    assert FORMULAS["next-due"].compute(inputs | {"every_hours": f"{most + 1} h"}).warnings
    assert FORMULAS["next-due"].compute(inputs | {"every_hours": f"{least - 1} h"}).warnings


def test_oil_of_a_small_set() -> None:
    result = FORMULAS["oil-per-hour"].compute({"volume": OIL, "hours": OIL_HOURS}).value
    assert isinstance(result, Quantity)
    assert str(result.to("mL/h")) == "15 mL/h"


def test_tension_of_an_alternator_belt() -> None:
    ends = [end.value for end in (DEFLECTION.low, DEFLECTION.high) if end]
    tensions = [belt.tension_from_deflection(float(FORCE.value), 320, float(sag), 0) for sag in ends]
    assert tensions == pytest.approx([1120, 871.1], abs=0.1)


@pytest.mark.parametrize(
    ("deflection", "simple", "guarded"),
    [
        ("8 mm", LimitVerdict.WITHIN, LimitVerdict.WITHIN),
        ("9 mm", LimitVerdict.WITHIN, LimitVerdict.INCONCLUSIVE),
        ("6.9 mm", LimitVerdict.OUT, LimitVerdict.INCONCLUSIVE),
        ("9.3 mm", LimitVerdict.OUT, LimitVerdict.OUT),
    ],
)
def test_a_belt_near_its_limits(deflection: str, simple: LimitVerdict, guarded: LimitVerdict) -> None:
    assert judge(parse(deflection), DEFLECTION) is simple
    assert judge(parse(deflection), DEFLECTION, DecisionRule.GUARDED, parse("0.2 mm")) is guarded


@pytest.mark.parametrize(
    ("written", "said"),
    [
        (f"{TURNS} after contact", "three quarters turn after contact"),
        (f"Pour {GRADE} in.", "Pour fifteen W forty in."),
        (f"Every {OIL_HOURS}.", "Every 200 hours."),
        (f"{DEFLECTION} under {FORCE}", "7 to 9 millimetres under 98 newtons"),
    ],
)
def test_they_can_be_said(written: str, said: str) -> None:
    assert spoken(written, spoken_of("en")) == said


# --- and invented data, which must differ ----------------------------------------------------------------------

_HOURS = re.compile(r"""\bhours["']?: *["']?(\d+(?:\.\d+)?)\b|\b(\d+(?:\.\d+)?) ?h(?:ours)?\b""")
_TURNS = re.compile(r"(?<![\w./])(\d+/\d+|\d*\.?\d*[½¼¾]?)(?: of an?)? ?turns?\b")
_QUARTERS = re.compile(r"three[ -]quarters?(?: of an?)?[ -]turn", re.IGNORECASE)
_GRADE = re.compile(r"\b15 ?W ?-? ?40\b", re.IGNORECASE)
_SPAN = re.compile(r"(\d+(?:\.\d+)?) ?(mm|cm|m|in)? ?(?:to|-|–) ?(\d+(?:\.\d+)?) ?(mm|cm|m|in)\b")
_TARGET = re.compile(r"\d+(?:\.\d+)? ?(?:mm|cm|m|in) ?± ?\d+(?:\.\d+)? ?(?:mm|cm|m|in)\b")


def coincidences(text: str) -> list[str]:
    """The facts that the text states, in whatever way it writes their values."""
    found = []
    if any(Decimal(one or other) == OIL_HOURS.value for one, other in _HOURS.findall(text)):
        found.append("interval")
    if _QUARTERS.search(text) or any(_turns(written) == _turns(TURNS[0]) for written in _TURNS.findall(text)):
        found.append("turns")
    if _GRADE.search(text):
        found.append("grade")
    spans = [Limits(_length(low, unit or last), _length(high, last)) for low, unit, high, last in _SPAN.findall(text)]
    if any(_ends(limits) == _ends(DEFLECTION) for limits in [*spans, *map(parse_limits, _TARGET.findall(text))]):
        found.append("deflection")
    return found


def _turns(written: str) -> Fraction | None:
    """`¾`, `1½`, `0.75`, `3/4`; None where there is no number."""
    sign = written[-1:]
    if not sign or sign.isdecimal() or sign == ".":
        return Fraction(written) if sign.isdecimal() else None
    return Fraction(written[:-1] or 0) + Fraction(numeric(sign))


def _length(number: str, unit: str) -> Quantity:
    return Quantity(Decimal(number), unit_named(unit, kind=Kind.LENGTH).symbol)


def _ends(limits: Limits) -> list[Decimal | None]:
    return [None if end is None else end.exactly("mm") for end in (limits.low, limits.high)]


def leaves(data: Any, key: str = "") -> Iterator[str]:
    """Each value of a YAML file, with its key before it."""
    if isinstance(data, dict):
        for name, value in data.items():
            yield from leaves(value, str(name))
    elif isinstance(data, list):
        for value in data:
            yield from leaves(value, key)
    else:
        yield f"{key}: {data}"


def unmarked(text: str) -> Iterator[str]:
    """The lines of a test, without those that are marked, on themselves or on the line before."""
    before = ""
    for line in text.splitlines():
        if MARK not in f"{before} {line}".lower():
            yield line
        before = line


def told(path: Path) -> list[str]:
    """What a file states, piece by piece: of YAML its values, of anything else its lines."""
    text = path.read_text(encoding="utf-8")
    return list(leaves(yaml.safe_load(text)) if path.suffix == ".yaml" else unmarked(text))


def files() -> list[Path]:
    below = [
        *procedures().rglob("*.yaml"),
        *(path for kind in ("yaml", "txt", "py") for path in TESTS.rglob(f"*.{kind}")),
    ]
    return sorted(path for path in below if path != Path(__file__))


@pytest.mark.parametrize("path", files(), ids=lambda path: "/".join(path.parts[-3:]))
def test_no_invented_value_is_one_of_them(path: Path) -> None:
    """The demo was serviced every 200 h with 15W-40, its filter turned ¾ turn; samples had a belt of 7 mm to 9 mm."""
    assert {piece: found for piece in told(path) if (found := coincidences(piece))} == {}, (
        f'choose other values in {path.name}; a test that checks the fact says "{MARK}" beside it'
    )


PENS = {
    name: make for name, make in vars(samples).items() if getattr(make, "__annotations__", {}).get("return") == "Pen"
}


@pytest.mark.parametrize("name", sorted(PENS))
def test_no_journal_of_the_samples_has_one(name: str) -> None:
    lines = PENS[name]().data.decode().splitlines()
    assert len(lines) > 1
    assert [found for line in lines if (found := coincidences(line))] == []


def test_demo_and_samples_are_looked_at() -> None:
    """A search that looks at nothing finds nothing."""
    names = {"/".join(path.parts[-2:]) for path in files()}
    assert {"twin-9/equipment.yaml", "set/judged.yaml", "visits/equipment.yaml", "tests/samples.py"} <= names
    assert {"eventful_visit", "judged_values"} <= set(PENS)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("every: {hours: 200, months: 12}", ["interval"]),
        ('{"every": {"hours": "200.0"}}', ["interval"]),
        ("every: 200 h", ["interval"]),
        ("turns: ¾ turn", ["turns"]),
        ("Give it 0.75 turns, or 3/4 turn.", ["turns"]),
        ("three quarters of a turn", ["turns"]),
        ("oil 15w40", ["grade"]),
        ("limits: 7 mm to 9 mm", ["deflection"]),
        ("limits: 0.7 cm to 0.9 cm", ["deflection"]),
        ("a 7-9 mm gap", ["deflection"]),
        ("8 mm ± 1 mm", ["deflection"]),
        ("7.0 to 9.00 mm with 15W-40", ["grade", "deflection"]),
        # and what differs
        ("every: {hours: 180}; 1200 h; 2000 h; 200 kPa", []),
        ("1 turn, 1¾ turns, ½ turn, turn it; in three quarters of an hour", []),
        ("10W-30, 15W-50", []),
        ("6 mm to 10 mm, 17 mm to 9 cm, 7 mm to 9 m, 4.7-9 mm", []),
    ],
)
def test_the_search_compares_values(text: str, found: list[str]) -> None:
    assert coincidences(text) == found


def test_marked_lines_may_state_them() -> None:
    text = f"one 15W-40  # {MARK}\ntwo 15W-40\nthree 15W-40\n# Common practice, no source: four\nfive 15W-40\n"
    assert list(unmarked(text)) == ["three 15W-40"]
