"""Symbols as people say them, with the English table."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest
import yaml

from assistant.edge.files.grammars import spoken_of
from assistant.edge.places import grammars
from assistant.errors import WordingError
from assistant.grammar.spoken import SpokenForms, spoken, spoken_forms
from assistant.quantities import UNITS


def english_data() -> Any:
    return yaml.safe_load((grammars() / "en" / "spoken.yaml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def english() -> SpokenForms:
    return spoken_of("en")


SAID = [
    ("7.5 mm", "7.5 millimetres"),
    ("7.50 mm.", "7.50 millimetres."),
    ("1 mm", "1 millimetre"),
    ("1.0 mm", "1.0 millimetres"),
    ("10W-30", "ten W thirty"),
    ("Pour 0W-20 in.", "Pour zero W twenty in."),
    ("25W-45", "twenty five W forty five"),
    ("−12 °C", "minus 12 degrees celsius"),
    ("-12 °C", "minus 12 degrees celsius"),
    ("-1 °C", "minus 1 degree celsius"),
    ("below -12", "below minus 12"),
    ("60 N", "60 newtons"),
    ("60N on a 260mm span", "60 newtons on a 260 millimetre span"),
    ("3-4 N.m", "3 to 4 newton metres"),
    ("3–4 N.m.", "3 to 4 newton metres."),
    ("22 to 26 N.m", "22 to 26 newton metres"),
    ("200 kPa to 450 kPa", "200 to 450 kilopascals"),
    ("-25 °C to -37 °C", "minus 25 to minus 37 degrees celsius"),
    ("90 s to 3 min", "90 seconds to 3 minutes"),
    ("50 %", "50 percent"),
    ("50-80% for 20 min", "50 to 80 percent for 20 minutes"),
    ("2.5 L, then 50 mL", "2.5 litres, then 50 millilitres"),
    ("12 V", "12 volts"),
    ("12V DC", "12 volts DC"),
    ("230 V AC", "230 volts AC"),
    ("AC/DC", "AC or DC"),
    ("a 10 A fuse", "a 10 amp fuse"),
    ("52.5 Hz", "52.5 hertz"),
    ("250 h", "250 hours"),
    ("1 h", "1 hour"),
    ("8 h/min", "8 hours per minute"),
    ("20 L/min", "20 litres per minute"),
    ("1500 rpm", "1500 R P M"),
    ("in kPa", "in kilopascals"),
    ("TW9-OF-21", "T W 9, O F, 2 1"),
    ("Take filter TW9-OF-21.", "Take filter T W 9, O F, 2 1."),
    ("PA3", "P A, 3"),
    ("CK-4", "C K, 4"),
    ("M8 bolt", "M 8 bolt"),
    ("M10", "M 10"),
    ("¼ turn after contact", "quarter turn after contact"),
    ("1½ turns", "1 and a half turns"),
    ("5 ± 0.5 mm", "5 plus or minus 0.5 millimetres"),
    ("≤ 5 kPa", "at most 5 kilopascals"),
    ("a 5-7 mm gap", "a 5 to 7 millimetres gap"),
    ("a 10 A.", "a 10 amps."),
    ("½ turn", "half turn"),
    ("Turn it ½ turn.", "Turn it half turn."),
    ("Fit OF-21 ½ turn.", "Fit O F, 2 1 half turn."),  # it was "2 1 and a half"
    ("Pour 10W-30 ½ L.", "Pour ten W thirty half litre."),
    ("Pour ½ L in.", "Pour half litre in."),
    ("½L", "half litre"),
    ("1 ½ L", "1 and a half litres"),
    ("20 L/h or ½ L/h", "20 litres per hour or half litre per hour"),
    ("it½turn", "it half turn"),
    ("(½ turn)", "(half turn)"),
    ("the M10 ½ turn", "the M 10 half turn"),
    ("¼–½ turn", "quarter to half turn"),
    ("1-1½ turns", "1 to 1 and a half turns"),
    ("Put ½ in the tray.", "Put half in the tray."),
    ("3 turns", "3 turns"),
    ("1 turns", "1 turn"),
    ("0.3 in is low. Limit 0.2 in to 0.4 in.", "0.3 inches is low. Limit 0.2 to 0.4 inches."),
    ("5 US gal, or 4 imp gal", "5 U S gallons, or 4 imperial gallons"),
    ("50 MΩ at 500 V", "50 megohms at 500 volts"),
    ("12 lbf.ft", "12 pound feet"),
    ("20 L/h", "20 litres per hour"),
    # what must stay
    ("Put 2 in the tray, 3 in each hole.", "Put 2 in the tray, 3 in each hole."),
    ("Twin 9, step 3 of 12.", "Twin 9, step 3 of 12."),
    ("Wait 5. A moment, please.", "Wait 5. A moment, please."),
    ("2024-05-13", "2024-05-13"),
    ("stand-by set", "stand-by set"),
    ("oil and/or coolant", "oil and/or coolant"),
    ("DANGER", "DANGER"),
    ("Close it - then go on.", "Close it - then go on."),
    ("", ""),
]


@pytest.mark.parametrize(("written", "said"), SAID)
def test_written_as_said(written: str, said: str, english: SpokenForms) -> None:
    assert spoken(written, english) == said


@pytest.mark.parametrize("written", [written for written, _ in SAID])
def test_saying_it_twice_changes_nothing(written: str, english: SpokenForms) -> None:
    once = spoken(written, english)
    assert spoken(once, english) == once


@pytest.mark.parametrize("before", ["it ", "a", "", "(", "1", "2 ", "M10 ", "0.5 mm "])
@pytest.mark.parametrize("sign", ["½", "¼", "¾"])
@pytest.mark.parametrize("behind", [" turn", " L", "L", "turn", ".", ", then", " of the way", " L/h", ""])
def test_a_fraction_joins_no_words(before: str, sign: str, behind: str, english: SpokenForms) -> None:
    """It did: `it ½ turn` was spoken "ithalf", for the blank before a fraction was lost."""
    said = spoken(f"{before}{sign}{behind}", english)
    known = {"it", "a", "M", "and", "of", "the", "way", "then", "turn", "per", "hour", "three", "quarter", "quarters"}
    known |= {"half", "litre", "litres", "millimetres", "1", "2", "10", "0", "5"}
    assert set(re.findall(r"[a-zA-Z]+|\d+", said)) <= known, said
    assert re.fullmatch(r"[A-Za-z0-9 .,()]+", said), said
    assert not re.search(r"\d[a-zA-Z]|[a-zA-Z]\d|\s[.,)]", said), said


def test_every_unit_can_be_said(english: SpokenForms) -> None:
    assert set(UNITS) <= set(english.units)
    for symbol in UNITS:
        if symbol:
            assert spoken(f"4.2 {symbol}", english) == f"4.2 {english.units[symbol][1]}"
            assert spoken(f"1 {symbol}", english) == f"1 {english.units[symbol][0]}"


@pytest.mark.parametrize(
    ("key", "value", "named"),
    [
        ("units", {"mm": ["millimetre"]}, "'mm'"),
        ("units", None, "'units'"),
        ("tens", ["twenty"], "'tens'"),
        ("oil_grade", "W", "'oil_grade'"),
        ("after_number", ["parsec"], "'parsec'"),
        ("minus", 5, "'minus'"),
    ],
)
def test_a_damaged_table_is_named(key: str, value: object, named: str) -> None:
    data = copy.deepcopy(english_data())
    data[key] = value
    with pytest.raises(WordingError, match=named):
        spoken_forms(data, "there.yaml", dict.fromkeys(UNITS, ("unit", "units")))


def test_a_table_that_is_none() -> None:
    with pytest.raises(WordingError, match=r"there\.yaml"):
        spoken_forms(["mm"], "there.yaml")
