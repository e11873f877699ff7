"""`enginebay calc`: what it prints, and how it refuses."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from assistant.calculations import FORMULAS
from assistant.cli import app
from tests.test_heavy_imports import HEAVY, loaded

BELT = ("belt-tension-from-deflection", "force=30 N", "span=320 mm", "deflection=5 mm")


def run(*arguments: str) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    done = CliRunner().invoke(app, ["calc", *arguments])
    return done.exit_code, done.stdout, done.stderr


def test_alone_it_lists_every_formula_with_inputs_result_and_source() -> None:
    code, said, _ = run()
    assert code == 0
    for row in FORMULAS.values():
        assert f"\n{row.name}\n" in said
        assert row.source in said
        assert all(each.name in said for each in row.inputs)


def test_alone_as_json() -> None:
    listed = json.loads(run("--json")[1])
    assert [each["name"] for each in listed] == list(FORMULAS)
    assert all(set(each) == {"name", "title", "inputs", "result", "source"} for each in listed)


def test_a_result_in_words() -> None:
    code, said, _ = run(*BELT)
    assert code == 0
    assert ": 480 N\n" in said
    assert "Source: " in said


def test_a_result_as_json() -> None:
    document = json.loads(run(*BELT, "--json")[1])
    assert list(document) == ["name", "inputs", "result", "unit", "source", "warnings"]
    assert document["inputs"] == {"force": "30 N", "span": "320 mm", "deflection": "5 mm", "stiffness": "0 N.m²"}
    assert (document["result"], document["unit"], document["warnings"]) == (480.0, "N", [])


def test_a_list_and_a_text_result() -> None:
    document = json.loads(run("compression-spread", "readings=28 bar, 27 bar, 22 bar", "--json")[1])
    assert (document["inputs"], document["result"], document["unit"]) == (
        {"readings": "28 bar, 27 bar, 22 bar"},
        14.3,
        "%",
    )
    document = json.loads(run("decision", "reading=103.6 kPa", "high=105 kPa", "--json")[1])
    assert (document["result"], document["unit"]) == ("within", None)


@pytest.mark.parametrize("name", FORMULAS)
def test_every_example_on_the_command_line(name: str) -> None:
    example = FORMULAS[name].examples[0]
    code, said, _ = run(name, *(f"{key}={value}" for key, value in example.inputs.items()), "--json")
    assert code == 0
    document = json.loads(said)
    assert f"{document['result']} {document['unit'] or ''}".strip().replace(".0 ", " ").removesuffix(".0") == (
        example.result
    )
    assert len(document["warnings"]) == example.warnings


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("belt",), "there is no such calculation"),
        ((*BELT[:3],), "it is missing"),
        ((*BELT, "colour=red"), "there is no such input"),
        ((*BELT, "force=31 N"), "it is given twice"),
        ((*BELT[:3], "5 mm"), "it is no input"),
        ((*BELT[:3], "deflection=5 furlong"), "unknown unit 'furlong'"),
        ((*BELT[:3], "deflection=five mm"), "is not a quantity"),
        ((*BELT[:3], "deflection=1e400"), "written with an exponent"),
        ((*BELT[:3], "deflection=5"), "has no unit"),
        ((*BELT[:3], "deflection=5 kPa"), "measures pressure, not length"),
        (("insulation-to-40", "resistance=80 MΩ", "temperature=-300 °C"), "below absolute zero"),
        (("coolant-freezing-point", "kind=ethylene glycol", "concentration=130 vol%"), "outside"),
        (("fuel-per-hour", "volume=3 gallon", "hours=8 h"), "can be US gal or imp gal. Say which"),
        (("next-due-hours", "last_hours=-3 h", "every_hours=250 h"), "outside"),
    ],
)
def test_bad_input_gets_one_sentence_and_exit_code_2(arguments: tuple[str, ...], told: str) -> None:
    code, said, error = run(*arguments)
    assert (code, said) == (2, "")
    assert told in error
    assert error.startswith("enginebay: ")
    assert error.count("\n") == 1


def test_neither_the_list_nor_a_calculation_without_conversion_loads_anything_heavy() -> None:
    for arguments in (["calc"], ["calc", *BELT]):
        said, modules = loaded(arguments)
        assert said
        assert modules & HEAVY <= {"pydantic"}  # typer itself takes it to read a command's options
