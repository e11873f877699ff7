"""The record for other programs: the document is as its schema says, and no cell of the table can act."""

from __future__ import annotations

import copy
import csv
import io
import json
from collections.abc import Callable
from dataclasses import fields
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import samples
from jsonschema import Draft202012Validator
from typer.testing import CliRunner

from assistant.cli import DAMAGED, app
from assistant.edge.files.language import english
from assistant.edge.pages.exports import export_csv, export_json, harmless, schema, table
from assistant.errors import RecordError
from assistant.quantities import UNITS
from assistant.record import record
from assistant.record.concerns import ConcernKind
from assistant.record.counts import Counts
from assistant.record.document import UNPUBLISHED, document, members_of_entry
from assistant.record.entries import RecordEntry
from assistant.record.header import Chain, RecordHeader
from assistant.record.stages import StageSummary, StepSummary
from assistant.record.summary import Record
from assistant.record.table import COLUMNS, NUMBERS
from assistant.session import facts as f
from assistant.session import inputs as i
from assistant.session.journal import read_lines
from tests.dialogues.kept import kept

STORED = Path(__file__).parents[2] / "journals" / "1-short-service.jsonl"  # came out of the program, not by hand
SESSIONS: dict[str, Callable[[], bytes]] = {
    "eventful": lambda: samples.eventful_visit().data,
    "plain": lambda: samples.plain_visit().data,
    "ended early": lambda: samples.ended_early().data,
    "broken off": lambda: samples.broken_off().data,
    "torn": lambda: samples.plain_visit().data + b'{"format":1,',
    "judged": lambda: samples.judged_values().data,
    "planned anew": lambda: samples.planned_anew().data,
    "stored": STORED.read_bytes,
}
VALIDATOR = Draft202012Validator(json.loads(schema()))


@cache
def judged(data: bytes) -> Record:
    return record(read_lines(data))


def exported(data: bytes) -> Any:
    """The document as another program reads it."""
    return json.loads(json.dumps(document(judged(data), {}), allow_nan=False))


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture(scope="module")
def eventful() -> Any:
    return exported(samples.eventful_visit().data)


# --- JSON ----------------------------------------------------------------------------------------------------


def test_the_schema_is_a_schema() -> None:
    Draft202012Validator.check_schema(json.loads(schema()))


def test_the_schema_lists_every_kind_of_concern() -> None:
    published = json.loads(schema())["$defs"]["concern"]["properties"]["kind"]
    assert published["examples"] == [kind.value for kind in ConcernKind]


@pytest.mark.parametrize("name", SESSIONS)
def test_every_session_is_as_the_schema_says(name: str) -> None:
    exports = exported(SESSIONS[name]())
    assert [error.message for error in VALIDATOR.iter_errors(exports)] == []
    assert exports["format"] == 1
    assert len(exports["entries"]) == len(judged(SESSIONS[name]()).entries) > 0


def facts_of(document: Any, kind: str) -> list[Any]:
    return [entry["fact"] for entry in document["entries"] if entry["fact"]["kind"] == kind]


DAMAGE: dict[str, Callable[[Any], object]] = {
    "no format": lambda d: d.pop("format"),
    "another format": lambda d: d.update(format=2),
    "no header": lambda d: d.pop("header"),
    "a time without its offset": lambda d: d["header"].update(started="2025-05-13T07:41:08"),
    "a count below zero": lambda d: d["counts"].update(findings=-1),
    "a count that is missing": lambda d: d["counts"].pop("clips"),
    "a hash cut short": lambda d: d["chain"].update(last_hash="abc"),
    "a value as a number": lambda d: facts_of(d, "reading recorded")[0]["quantity"].update(value=1250.4),
    "a value with an exponent": lambda d: facts_of(d, "reading recorded")[0]["quantity"].update(value="1E+3"),
    "a value without a unit": lambda d: facts_of(d, "reading recorded")[0]["quantity"].pop("unit"),
    "an unknown verdict": lambda d: facts_of(d, "reading recorded")[0].update(verdict="fine"),
    "a reading without its name": lambda d: facts_of(d, "reading recorded")[0].pop("name"),
    "an answer that is neither": lambda d: facts_of(d, "answer recorded")[0].update(good="yes"),
    "a hold point without a place": lambda d: facts_of(d, "hold point passed")[0].pop("place"),
    "left out without a reason": lambda d: facts_of(d, "step skipped")[0].update(reason=""),
    "a finding without words": lambda d: facts_of(d, "finding recorded")[0].pop("finding"),
    "a confidence above one": lambda d: facts_of(d, "answer recorded")[0].update(confidence=1.5),
    "an unknown fate": lambda d: d["entries"][0].update(fate="gone"),
    "a step that ended in no way": lambda d: d["steps"][0].update(outcome="perhaps"),
    "a concern that is no entry's": lambda d: d["concerns"][0].update(entry="first"),
}


@pytest.mark.parametrize("name", DAMAGE)
def test_what_is_not_as_it_should_be_is_refused(name: str, eventful: Any) -> None:
    damaged = copy.deepcopy(eventful)
    DAMAGE[name](damaged)
    assert not VALIDATOR.is_valid(damaged)


def test_a_kind_of_fact_that_is_not_described_may_come(eventful: Any) -> None:
    later = copy.deepcopy(eventful)
    later["entries"][0]["fact"] = {"kind": "oil tasted", "verdict": "awful"}
    assert VALIDATOR.is_valid(later)


@pytest.mark.parametrize(
    ("part", "kind"),
    [
        *(
            ("header", RecordHeader),
            ("counts", Counts),
            ("chain", Chain),
            ("step", StepSummary),
        ),
        *(("stage of the visit", StageSummary), ("planned stage", f.PlannedStage)),
    ],
)
def test_the_schema_wants_every_member(part: str, kind: type) -> None:
    """A field that is added to the record is described before it is published."""
    assert set(json.loads(schema())["$defs"][part]["required"]) == {field.name for field in fields(kind)}


def test_the_schema_wants_every_member_of_an_entry(eventful: Any) -> None:
    """Also those that the program calls otherwise inside."""
    required = set(json.loads(schema())["$defs"]["entry"]["required"])
    assert required == set(members_of_entry().values()) == set(eventful["entries"][0])
    assert set(members_of_entry()) == {field.name for field in fields(RecordEntry)} - UNPUBLISHED
    assert {"fate", "troubles", "later", "settled"} <= required


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned visit of three tasks, of which one was put off."""
    return kept("visit_put_off", tmp_path_factory.mktemp("sessions"), english())


def test_a_planned_visit_has_its_stages_and_what_is_due(planned: Path) -> None:
    read = json.loads(export_json(planned).read_text(encoding="utf-8"))
    assert [error.message for error in VALIDATOR.iter_errors(read)] == []
    stages = [(row["stage"]["title"], row["stage"]["is_task"], row["outcome"], row["reason"]) for row in read["stages"]]
    assert stages[0] == ("Arrival", False, "done", "")
    assert stages[4:] == [
        ("Coolant", True, "done", ""),
        ("Belt", True, "done", ""),
        ("Close it up", False, "done", ""),
        ("Handing over", False, "done", ""),
        ("Air filter", True, "put off", "part is missing"),
    ]
    assert {due["task"]: (due["done"], due["standing"], due["hours"], due["date"]) for due in read["due"]} == {
        "coolant": (True, "later", "1205", "2028-03-02"),
        "belt": (True, "later", None, "2028-03-02"),
        "filter": (False, "due", None, None),
    }


DAMAGE_OF_A_PLAN: dict[str, Callable[[Any], object]] = {
    "a stage that ended in no way": lambda d: d["stages"][0].update(outcome="perhaps"),
    "a stage without its title": lambda d: d["stages"][0]["stage"].pop("title"),
    "a stage gone through for the noughth time": lambda d: d["stages"][0]["stage"].update(time=0),
    "a task due without a word whether it was done": lambda d: d["due"][0].pop("done"),
    "hours as a number": lambda d: d["due"][0].update(hours=1205),
    "a date as it is spoken": lambda d: d["due"][0].update(date="2 March 2028"),
    "a standing that is none": lambda d: d["due"][0].update(standing="soon"),
    "put off without a reason": lambda d: facts_of(d, "task put off")[0].update(reason=""),
    "a plan without its reason": lambda d: facts_of(d, "visit planned")[0].pop("because"),
    "an end of no stage": lambda d: facts_of(d, "stage done")[0].pop("stage"),
}


@pytest.mark.parametrize("name", DAMAGE_OF_A_PLAN)
def test_what_is_not_as_it_should_be_of_a_plan_is_refused(name: str, planned: Path) -> None:
    damaged = json.loads(export_json(planned).read_text(encoding="utf-8"))
    assert VALIDATOR.is_valid(damaged)
    DAMAGE_OF_A_PLAN[name](damaged)
    assert not VALIDATOR.is_valid(damaged)


def test_values_keep_their_resolution_and_have_their_unit_beside() -> None:
    visit = samples.Visit()
    visit.begin()
    visit.until("run-hours")
    visit.read("1250.40 h", "one two five zero decimal four zero")
    (reading,) = facts_of(exported(visit.pen.data), "reading recorded")
    assert reading["quantity"] == {"value": "1250.40", "unit": "h"}


def test_a_concern_names_its_entry(eventful: Any) -> None:
    of_readings = [concern for concern in eventful["concerns"] if concern["kind"] == "out of limits"]
    assert [eventful["entries"][concern["entry"]]["fact"]["name"] for concern in of_readings] == ["coolant temperature"]
    assert all(concern["grave"] for concern in of_readings)


# --- CSV -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SESSIONS)
def test_a_row_for_each_that_was_recorded_in_time_order(name: str) -> None:
    visit = judged(SESSIONS[name]())
    shown = {
        f.ReadingRecorded: "reading",
        f.CalculationRecorded: "calculation",
        f.AnswerRecorded: "answer",
        f.HoldPointPassed: "hold point",
        f.PartFitted: "part",
        f.NoteKept: "note",
        f.StepSkipped: "left out",
        f.FindingRecorded: "finding",
        f.TaskPutOff: "task put off",
        f.TaskAdded: "task added",
        f.StageDone: "task done",
    }
    done = [(entry, entry.fact) for entry in visit.of(f.StageDone)]
    changes = [entry for entry, fact in done if isinstance(fact, f.StageDone) and not fact.stage.is_task]
    told = [entry for entry in visit.entries if type(entry.fact) in shown and entry not in changes]
    wanted = [(str(entry.line), shown[type(entry.fact)]) for entry in told]
    assert [(row["line"], row["what"]) for row in rows(table(visit))] == wanted
    assert wanted


def test_a_reading_in_the_table() -> None:
    visit = judged(samples.eventful_visit().data)
    readings = [row for row in rows(table(visit)) if row["what"] == "reading"]
    (torque, again) = (row for row in readings if row["name"] == "plug torque")
    told = ("value", "unit", "low", "high", "limits", "judged", "stage", "fate", "source")
    assert [torque[key] for key in told] == [
        *("31", "N.m", "34", "40", "34 N.m to 40 N.m", "low", "as left", "repeated", "voice"),
    ]
    assert (again["value"], again["judged"], again["fate"]) == ("37", "within", "stands")
    assert len(torque["sound"]) == 64
    hours = next(row for row in readings if row["name"] == "run hours")
    assert (hours["value"], hours["low"], hours["limits"], hours["judged"]) == ("1250.4", "", "", "no limit")


def test_the_table_of_a_planned_visit_names_the_stage(planned: Path) -> None:
    text = export_csv(planned).read_bytes().decode("utf-8")
    told = [(row["what"], row["name"], row["visit_stage"], row["visit_time"], row["reason"]) for row in rows(text)]
    assert told == [
        ("answer", "Look at it. Anything wrong?", "Arrival", "1", ""),
        ("reading", "run hours", "Arrival", "1", ""),
        ("hold point", "Proof", "Isolate it", "1", ""),
        ("task put off", "Air filter", "Air filter", "1", "part is missing"),
        ("reading", "block temperature", "Let it cool", "1", ""),
        ("reading", "cap temperature", "Coolant", "1", ""),
        ("task done", "Coolant", "Coolant", "1", ""),
        ("task done", "Belt", "Belt", "1", ""),
        ("answer", "What is your word on it?", "Handing over", "1", ""),
    ]
    assert {(row["visit_stage"], row["visit_time"]) for row in rows(table(judged(STORED.read_bytes())))} == {("", "")}


def test_the_table_is_as_the_standard_says() -> None:
    """RFC 4180: a header, every record ends with CRLF and has as many fields."""
    text = table(judged(samples.eventful_visit().data))
    assert text.endswith("\r\n")
    assert "\n" not in text.replace("\r\n", "")
    records = list(csv.reader(io.StringIO(text, newline=""), strict=True))
    assert tuple(records[0]) == COLUMNS
    assert {len(row) for row in records} == {len(COLUMNS)}


EVIL = [
    "=1+2",
    '=HYPERLINK("http://x","y")',
    "+1",
    "-1+1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    " =1",
    "\N{NO-BREAK SPACE}=1",
    "＝1",
    "-",
]


@pytest.mark.parametrize("text", EVIL)
def test_what_a_spreadsheet_would_take_for_a_formula_is_made_harmless(text: str) -> None:
    assert harmless(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", " ", "all good", "2.2 L to 2.8 L", "a=b", "a\n=b", "'=1", "10W-30", "½", "'"])
def test_what_is_harmless_stays_as_it_is(text: str) -> None:
    assert harmless(text) == text


def with_words(words: str, value: str = "-12.50 °C", limits: str = "-37 °C to -25 °C") -> Record:
    """A visit in which every text that a person or a file can set is these words."""
    visit = samples.Visit()
    visit.begin()
    pen, place = visit.pen, f.StepPlace(words, words)
    amount = samples.quantity(value)
    pen.write(
        i.Silence(1, 1.0),
        f.StepReached(place, words, words),
        f.ReadingRecorded(
            *(place, words, amount, f.ReadingStage.AS_LEFT, limits, f.ReadingVerdict.HIGH, 0.5, words, None),
            i.Source.TYPED,
        ),
        f.AnswerRecorded(place, words, words, words, True, 0.5, None, i.Source.TYPED),
        f.FindingRecorded(place, words),
        f.HoldPointPassed(place, words, 0.5, None, i.Source.TYPED),
        f.PartFitted(place, words, words, words, words, 0.5, None, i.Source.TYPED),
        f.NoteKept(place, words, f.Subject.NOTE, words, None),
        f.StepSkipped(place, words, words, None),
    )
    return judged(pen.data)


@pytest.mark.parametrize("words", EVIL)
def test_no_cell_of_the_table_begins_a_formula(words: str) -> None:
    found = rows(table(with_words(words)))
    assert len(found) == 7
    for row in found:
        for column, cell in row.items():
            if column not in NUMBERS:
                assert cell == "" or (cell[0] not in "=+-@\t\r\n＝" and cell.lstrip()[:1] not in "=+-@＝"), (
                    column,
                    cell,
                )
    assert [row["title"] for row in found] == [f"'{words}"] * 7  # nothing of it is lost


def test_a_number_below_zero_stays_a_number() -> None:
    """An apostrophe before it would make it text, with which no spreadsheet reckons."""
    text = table(with_words("=1"))
    reading = rows(text)[0]
    assert [reading[key] for key in ("value", "low", "high")] == ["-12.50", "-37", "-25"]
    assert reading["limits"] == "'-37 °C to -25 °C"  # the same as text, which could be anything
    assert ",-12.50," in text  # bare, and so a number


def test_columns_of_numbers_hold_numbers_and_all_text_is_quoted() -> None:
    """A program that takes another separator would cut unquoted text in pieces, and a piece could be a formula."""
    for name in SESSIONS:
        for row in rows(table(judged(SESSIONS[name]()))):
            for column in NUMBERS:
                assert row[column] == "" or Decimal(row[column]).is_finite()
    text = table(with_words("a;=1"))
    bare = [cell for cell in text.replace("\r\n", ",").split(",") if cell and not cell.startswith('"')]
    assert bare
    assert all(Decimal(cell).is_finite() for cell in bare)


def test_a_great_number_is_written_out() -> None:
    text = table(with_words("x", value="1E+3 °C"))
    assert rows(text)[0]["value"] == "1000"


@pytest.mark.parametrize("limits", ["", "about right", "2 L to 3 L", "at least -5 °C"])
def test_limits_that_are_none_leave_the_numbers_empty(limits: str) -> None:
    reading = rows(table(with_words("x", limits=limits)))[0]
    assert (reading["low"], reading["high"]) == ("-5" if "least" in limits else "", "")
    assert reading["limits"] == limits


def test_every_unit_may_stand_in_the_table() -> None:
    assert [unit for unit in UNITS if harmless(unit) != unit] == []


# --- files and the command -----------------------------------------------------------------------------------


def test_both_are_written_into_the_session(tmp_path: Path) -> None:
    pen = samples.eventful_visit()
    session = pen.save(tmp_path / "visit")
    missing = sorted(pen.clips)[0]
    (session / "clips" / f"{missing}.flac").unlink()
    page, sheet = export_json(session), export_csv(session)
    assert (page, sheet) == (session / "record.json", session / "record.csv")
    read = json.loads(page.read_bytes().decode("utf-8"))
    assert VALIDATOR.is_valid(read)
    assert [sound["sha256"] for sound in read["sounds"] if sound["file"] is None] == [missing]
    assert all((session / sound["file"]).is_file() for sound in read["sounds"] if sound["file"])
    assert read["faults"] == [f"The sound {missing[:12]} is not in the session folder."]
    assert sheet.read_bytes().decode("utf-8") == table(judged(pen.data))


def test_a_damaged_journal_is_exported_as_far_as_it_holds(tmp_path: Path) -> None:
    pen = samples.plain_visit()
    session = pen.save(tmp_path / "visit")
    lines = pen.data.splitlines(keepends=True)
    (session / "journal.jsonl").write_bytes(b"".join([*lines[:9], lines[9].replace(b"0", b"1"), *lines[10:]]))
    read = json.loads(export_json(session).read_text(encoding="utf-8"))
    assert VALIDATOR.is_valid(read)
    assert read["chain"]["lines"] == len(lines) - 1
    assert "line 10" in read["chain"]["damage"]
    assert [(gap["line"], gap["after"], gap["lost"]) for gap in read["chain"]["gaps"]] == [(10, 9, 1)]


@pytest.mark.parametrize("form", ["html", "json", "csv"])
def test_damage_is_said_and_reported_by_the_exit_code(form: str, tmp_path: Path) -> None:
    """An export of a damaged journal exited with 0 and said nothing."""
    pen = samples.plain_visit()
    session = pen.save(tmp_path / "visit")
    lines = pen.data.splitlines(keepends=True)
    (session / "journal.jsonl").write_bytes(b"".join([*lines[:9], lines[9].replace(b"0", b"1"), *lines[10:]]))
    result = CliRunner().invoke(app, ["export", str(session), "--to", form])
    assert result.exit_code == DAMAGED
    assert result.stdout.replace("\n", "") == str(session / f"record.{form}"), "what holds is exported all the same"
    assert "line 10: the line is damaged" in result.stderr


@pytest.mark.parametrize("export", [export_json, export_csv])
def test_what_is_no_session_is_told(export: Callable[[Path], Path], tmp_path: Path) -> None:
    with pytest.raises(RecordError, match="no session"):
        export(tmp_path)


@pytest.mark.long
def test_a_demonstration_by_voice_is_as_the_schema_says(tmp_path: Path) -> None:
    """Takes the minute that the demonstration takes; the stored session stands for it otherwise."""
    played = CliRunner().invoke(app, ["demo", "--json", "--sessions", str(tmp_path)])
    assert played.exit_code == 0, played.output
    (journal,) = tmp_path.glob("*/journal.jsonl")
    read = json.loads(export_json(journal.parent).read_text(encoding="utf-8"))
    assert [error.message for error in VALIDATOR.iter_errors(read)] == []
    assert read["faults"] == []
    assert read["header"]["complete"]
    found = rows(export_csv(journal.parent).read_bytes().decode("utf-8"))
    assert sum(row["what"] == "reading" for row in found) >= read["counts"]["readings"] >= 7


@pytest.mark.parametrize("form", ["html", "json", "csv"])
def test_the_command_prints_where_it_wrote(form: str, tmp_path: Path) -> None:
    session = samples.ended_early().save(tmp_path / "visit")
    result = CliRunner().invoke(app, ["export", str(session), "--to", form])
    assert result.exit_code == 0
    written = Path(result.output.replace("\n", ""))
    assert written == session / f"record.{form}"
    assert written.stat().st_size > 0


def test_the_command_prints_the_schema_without_a_session() -> None:
    result = CliRunner().invoke(app, ["export", "--to", "schema"])
    assert result.exit_code == 0
    assert json.loads(result.output) == json.loads(schema())


@pytest.mark.parametrize(("arguments", "told"), [(["--to", "xml", "x"], "html, json, csv"), (["--to", "csv"], "Name")])
def test_the_command_tells_what_it_wants(arguments: list[str], told: str) -> None:
    result = CliRunner().invoke(app, ["export", *arguments])
    assert result.exit_code == 2
    assert told in result.output
