"""`enginebay plan`: from session folders to text, JSON and a page with forms to fill in; and how it refuses."""

from __future__ import annotations

import json
import re
import shutil
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import samples
from markupsafe import escape
from typer.testing import CliRunner

from assistant.cli import DAMAGED, app
from assistant.edge.files.library import order_visit
from assistant.edge.pages.plans import document, form_parts, in_words, make_plan, write_page
from assistant.edge.places import procedures
from assistant.errors import ProcedureError
from assistant.procedure.kinds.calculation import Calculation
from assistant.procedure.kinds.check import Check
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.reading import Reading
from assistant.session import facts as f
from assistant.session import inputs as i
from tests.histories import FIRST, meter, reading
from tests.test_heavy_imports import HEAVY, loaded

ASSET = "marram-auxiliary"
KEYS = ["asset", "hours", "date", "tasks", "order", "parts", "consumables", "tools", "waste", "people"]


def run(*arguments: str) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    done = CliRunner().invoke(app, ["plan", *arguments])
    return done.exit_code, done.stdout, done.stderr


def keep(root: Path, name: str, day: int, hours: float, *tasks: str, asset: str = ASSET) -> Path:
    """A whole visit as a session folder, so many days after 2024-01-08."""
    order = i.Order(asset, "twin-9", "technician", tasks, (), True)
    pen = samples.Pen(began=FIRST + timedelta(days=day), boot=name)
    pen.write(i.WorkOrdered(order), f.WorkTakenUp(order, ", ".join(tasks), 3))
    pen.write(i.ButtonPressed(1), meter(hours))
    pen.write(i.ButtonPressed(1), f.WorkEnded(True, "done"))
    return pen.save(root / name)


@pytest.fixture
def sessions(tmp_path: Path) -> Path:
    """Oil done at 1000 h on 2024-01-08; 60 h in the 60 days after it; another set's visit between them."""
    root = tmp_path / "sessions"
    keep(root, "one", 0, 1000, "oil-and-filter", "coolant", "belt", "make-safe-and-test-run")
    keep(root, "two", 60, 1060, "make-safe-and-test-run")
    keep(root, "other", 30, 5000, "oil-and-filter", asset="other-set")
    return root


def planned(sessions: Path, *more: str) -> dict[str, Any]:
    code, said, told = run(ASSET, "--sessions", str(sessions), "--json", *more)
    assert code == 0, told
    document = json.loads(said)
    assert isinstance(document, dict)
    return document


def test_the_json_of_a_plan(sessions: Path) -> None:
    """1170 h on 2024-04-07: the oil has 10 of 180 h left, the run a day of its month, the belt 230 of 400 h, which are
    run in 63 days of the 91 to the next visit at 110 h in the last 30 days; the coolant's 830 h are not."""
    document = planned(sessions, "--hours", "1170", "--date", "2024-04-07")
    assert list(document) == KEYS
    assert (document["asset"], document["hours"], document["date"]) == (ASSET, 1170.0, "2024-04-07")
    tasks = document["tasks"]
    assert isinstance(tasks, list)
    assert all(list(task) == ["id", "title", "due", "overdue", "reason", "minutes"] for task in tasks)
    by_name = {task["id"]: task for task in tasks}
    oil = by_name["oil-and-filter"]
    assert oil["due"] == {"standing": "due", "hours": 1180.0, "date": "2025-01-08"}
    assert oil["reason"].startswith("every 180 h, done 170 h ago: due at 1180 h")
    assert (oil["overdue"], oil["minutes"]) == (False, [45.0, 70.0])
    assert by_name["test-run"]["due"] == {"standing": "due", "hours": None, "date": "2024-04-08"}
    assert by_name["belt"]["due"]["standing"] == "due before the next visit"
    assert by_name["belt"]["reason"].split("; ")[0] == (
        "every 400 h, done 170 h ago: due at 1400 h, "
        "which may come before the next visit on 2024-07-07 (1.0 to 3.7 h a day)"
    )
    assert by_name["coolant"]["due"] == {"standing": "later", "hours": 2000.0, "date": "2026-01-08"}
    assert [(one["kind"], one["id"]) for one in document["order"] if one["kind"] == "task"] == [
        ("task", "test-run"),
        ("task", "oil-and-filter"),
        ("task", "belt"),
    ]
    assert {"number": "TW9-OF-21", "name": "oil filter", "quantity": 1} in document["parts"]
    assert {"name": "engine oil 10W-30", "value": "2.8", "unit": "L"} in document["consumables"]


def test_overdue(sessions: Path) -> None:
    document = planned(sessions, "--hours", "1192.5 h", "--date", "2024-04-09")
    tasks = document["tasks"]
    assert isinstance(tasks, list)
    overdue = {task["id"]: task["reason"] for task in tasks if task["overdue"]}
    assert set(overdue) == {"test-run", "oil-and-filter"}
    assert "overdue by 12.5 h" in overdue["oil-and-filter"]
    assert "overdue since 2024-04-08" in overdue["test-run"]


def test_without_hours_they_are_estimated(sessions: Path) -> None:
    code, said, _ = run(ASSET, "--sessions", str(sessions), "--date", "2024-04-07")
    assert code == 0
    assert "2024-04-07, 1090 h (estimated)" in said
    assert "Run hours are estimated: 1060 h on 2024-03-08, and 1.0 h a day since." in said


def test_tasks_that_are_asked_for(sessions: Path) -> None:
    for asked in (["--tasks", "belt,coolant"], ["--tasks", "belt", "--tasks", "coolant"]):
        document = planned(sessions, "--date", "2024-04-07", *asked)
        assert [one["id"] for one in document["order"] if one["kind"] == "task"] == ["coolant", "belt"]


def test_the_text_says_everything(sessions: Path) -> None:
    code, said, _ = run(ASSET, "--sessions", str(sessions), "--hours", "1170", "--date", "2024-04-07")
    assert code == 0
    said = " ".join(said.split())
    for words in (
        "Demonstration data",
        "Due: Oil and filter",
        "Later: Coolant",
        "OIL AND FILTER, 45 to 70 min",
        "The set is isolated and proved dead: for oil and filter and belt.",
        "1 × oil filter, TW9-OF-21",
        "2.8 L engine oil 10W-30",
        "2.8 L used oil",
    ):
        assert words in said


def test_a_damaged_session_is_named_and_counts_as_far_as_it_holds(sessions: Path) -> None:
    """All of it was left out for one damaged line, and the exit status said that all was well."""
    journal = sessions / "two" / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b"1060", b"1070"))
    code, said, _ = run(ASSET, "--sessions", str(sessions), "--hours", "1170", "--date", "2024-04-07")
    assert code == DAMAGED
    assert "The session two: read as far as it holds. journal.jsonl, line" in " ".join(said.split())
    assert "Overdue: Make safe and test run" not in said, "that it was done holds, only the hours are damaged"


def test_the_page_has_a_form_for_every_step(sessions: Path, tmp_path: Path) -> None:
    plan = make_plan(ASSET, "1170", "2024-04-07", ["oil-and-filter", "belt"], sessions)
    page = write_page(plan, tmp_path / "plan.html").read_text(encoding="utf-8")
    work = order_visit(ASSET, ("oil-and-filter", "belt"), "technician").work
    forms = page.split('class="form"')[1:]
    assert len(forms) == len(work.plan)
    assert len(re.findall(r'<td class="tick"><span class="box">', "".join(forms))) == len(work.steps)
    whole = ["", "".join(forms)]
    for placed in work.steps:
        step, forms = placed.step, whole
        assert f"<strong>{escape(step.title)}.</strong>" in forms[1]
        if isinstance(step, Reading):
            assert f"<span>{step.unit}</span>" in forms[1]
            assert step.limits is None or str(step.limits) in forms[1]
        if isinstance(step, Calculation):
            assert step.name.capitalize() in forms[1]
        if isinstance(step, Check):
            assert all(f'<span class="box">{one.phrase}</span>' in forms[1] for one in step.answers.values())
        if isinstance(step, HoldPoint):
            assert f"card {step.card}" in forms[1]
            assert step.phrase not in page  # it stands on the card, and nowhere else


SMALL = Path(__file__).parents[2] / "dialogues"  # a piece of equipment whose visits are planned


def test_the_whole_visit_stands_there_from_its_beginning_to_its_end(tmp_path: Path) -> None:
    """The opening and the ending stood on the form only, under other titles, and the order began in mid-visit."""
    plan = make_plan("shed", "205", "2026-03-02", ["coolant", "filter"], tmp_path, SMALL)
    planned = order_visit("shed", plan.tasks, "technician", SMALL).work.plan
    titles = [stage.title for stage in planned]
    assert (titles[0], titles[-1]) == ("Arrival", "Handing over")
    text = in_words(plan, SMALL)
    told = re.findall(r"^ +(\d+)\. ([^,\n]+)", text, flags=re.MULTILINE)
    wanted = [(number, stage.title, stage.is_task) for number, stage in enumerate(planned, start=1)]
    assert told == [(str(number), title.upper() if is_task else title) for number, title, is_task in wanted]
    assert "in all, without its beginning and end" in text
    page = write_page(plan, tmp_path / "plan.html", SMALL).read_text(encoding="utf-8")
    order = page[page.index('id="order"') : page.index("</table>", page.index('id="order"'))]
    assert [one.split("<")[0] for one in order.split('<th scope="row">')[1:]] == titles
    assert re.findall(r'aria-label="Form: ([^"]+)"', page) == [f"{number}. {title}" for number, title, _ in wanted]
    assert page.count("Technician, signature") == page.count("Technician, date and time") == 1
    assert page.count("<h3>Findings</h3>") == len(plan.tasks) + 1  # after each task, and at the end
    kinds = [(one["kind"], one["id"]) for one in json.loads(json.dumps(document(plan)))["order"]]
    assert kinds == [("task" if stage.is_task else "change", stage.name) for stage in planned[1:-1]]


def test_where_nothing_is_due_nothing_is_begun(tmp_path: Path) -> None:
    root = Path(shutil.copytree(SMALL / "visits", tmp_path / "procedures" / "visits")).parent
    file = root / "visits" / "equipment.yaml"
    text = re.sub(r"\n    every: .*", "\n    condition: it is worn", file.read_text(encoding="utf-8"))
    file.write_text(text, encoding="utf-8")
    plan = make_plan("shed", "205", "2026-03-02", [], tmp_path / "none", root)
    assert "Nothing is due before the next visit." in in_words(plan, root)
    assert "Arrival" not in in_words(plan, root)
    assert 'class="form"' not in write_page(plan, tmp_path / "plan.html", root).read_text(encoding="utf-8")


def test_a_procedure_that_is_not_written_yet_has_room_to_write(tmp_path: Path) -> None:
    root = Path(shutil.copytree(SMALL / "visits", tmp_path / "procedures" / "visits")).parent
    (root / "visits" / "belt.yaml").unlink()
    plan = make_plan("shed", "205", "2026-03-02", ["belt"], tmp_path / "none", root)
    page = write_page(plan, tmp_path / "plan.html", root).read_text(encoding="utf-8")
    assert page.count("The procedure for this is not written yet.") == 1


def test_paper_asks_for_every_sample_and_has_the_limits_of_every_state() -> None:
    """A form is filled in where nothing listens: what the assistant would choose stands there to be chosen."""
    dialogues = Path(__file__).parents[2] / "dialogues" / "set"
    equipment = samples.read_equipment((dialogues / "equipment.yaml").read_text(encoding="utf-8"))
    procedure = samples.read_procedure((dialogues / "judged.yaml").read_text(encoding="utf-8"), equipment, "")
    rows = [row for _, rows in form_parts(procedure) for row in rows]
    blanks = {step.id: row.blanks for step, row in zip(procedure.steps(), rows, strict=True)}
    assert blanks["filled"] == (("Oil in", "L", "-0.4 L to 0.4 L, less drained"),)
    assert blanks["charge"] == (("Voltage", "V", "at least 12.5 V; running: 13.5 V to 14.5 V"),)
    assert blanks["balance"] == (("Oil balance", "", "-0.2 L to 0.2 L"),)
    assert [name for name, _, _ in blanks["deflection"]] == [
        *("Deflection, 1", "Deflection, 2", "Deflection, 3", "Deflection, mean")
    ]


def test_the_command_writes_the_page_where_it_is_told(tmp_path: Path) -> None:
    file = tmp_path / "visit.html"
    code, said, _ = run(ASSET, "--sessions", str(tmp_path), "--html", str(file))
    assert (code, said.split()) == (0, [str(file)])
    assert "Demonstration data" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["nobody"], "asset 'nobody': no equipment file knows it. Use one of "),
        ([ASSET, "--hours", "many"], "--hours many: "),
        (
            [ASSET, "--hours", "-1"],
            "--hours -1: these are no run hours from 0 to 1000000. Write what the hour meter shows",
        ),
        ([ASSET, "--hours", "999999999999"], "--hours 999999999999: these are no run hours from 0 to 1000000."),
        ([ASSET, "--hours", "1e27"], "--hours 1e27: '1e27 h' is written with an exponent."),
        ([ASSET, "--hours", "9" * 10_000], "and so on is longer than a quantity is written."),
        ([ASSET, "--hours", "3 kPa"], "--hours 3 kPa: "),
        ([ASSET, "--date", "tomorrow"], "--date tomorrow: it is no date. Write it as 2026-03-02."),
        ([ASSET, "--date", "9999-12-31"], "--date 9999-12-31: no visit is planned for that day"),
        ([ASSET, "--date", "0001-01-01"], "--date 0001-01-01: no visit is planned for that day"),
        ([ASSET, "--tasks", "oil-and-filte"], "Did you mean 'oil-and-filter'."),
        ([ASSET, "--sessions", "no/such/folder"], "--sessions no/such/folder: there is no such folder."),
        ([ASSET, "--html", "no/such/folder/plan.html"], "the plan cannot be written"),
    ],
)
def test_bad_input_gives_one_clear_sentence(
    arguments: list[str], told: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The last day of the calendar ended in a traceback; hours that no meter shows were planned with, and 10,000 digits
    were said back."""
    monkeypatch.setenv("ENGINEBAY_SESSIONS", str(tmp_path))
    code, said, error = run(*arguments)
    assert (code, said) == (2, "")
    assert error.startswith("enginebay: ")
    assert told in error
    assert error.count("\n") == 1
    assert len(error) < 300


def test_an_unknown_name_lists_the_assets_of_all_models(tmp_path: Path) -> None:
    """An unknown name has to tell every asset that there is, of each model."""
    text = (procedures() / "twin-9" / "equipment.yaml").read_text(encoding="utf-8")
    for model, assets in (("first", "set-a: Set A\n  set-b: Set B"), ("second", "set-c: Set C")):
        (tmp_path / model).mkdir()
        named = re.sub(rf"{ASSET}: .*", assets, text).replace("model: twin-9", f"model: {model}")
        (tmp_path / model / "equipment.yaml").write_text(named, encoding="utf-8")
    with pytest.raises(ProcedureError, match="Use one of set-a, set-b, set-c"):
        make_plan("nobody", None, None, [], tmp_path / "none", tmp_path)


def test_an_equipment_file_without_tasks_loads_and_has_no_plan(tmp_path: Path) -> None:
    folder = Path(shutil.copytree(procedures() / "twin-9", tmp_path / "twin-9"))
    file = folder / "equipment.yaml"
    file.write_text(file.read_text(encoding="utf-8").split("\ntasks:")[0], encoding="utf-8")
    with pytest.raises(Exception, match="holds no tasks"):
        make_plan(ASSET, None, "2024-04-07", [], tmp_path / "none", tmp_path)


def test_its_help_loads_nothing_heavy() -> None:
    said, modules = loaded(["plan", "--help"])
    assert "--hours" in said
    assert modules & HEAVY <= {"pydantic"}


@pytest.mark.parametrize("value", ["1e31", "1e999999999", "1e27"])
def test_readings_that_nothing_measures_in_an_old_session(value: str, sessions: Path) -> None:
    """Readings of 1e27 and 1e999999999 in a session ended `plan` and `trend` in a traceback, or filled the memory."""
    absurd = (meter(1100), reading("4 bar"))
    for fact in absurd:
        object.__setattr__(fact.quantity, "value", Decimal(value))
    pen = samples.Pen(began=FIRST + timedelta(days=65), boot="whole")
    for pressure in ("4.1 bar", "4.0 bar", "3.9 bar"):
        order = i.Order(ASSET, "twin-9", "technician", ("belt",), (), True)
        pen.write(i.WorkOrdered(order), f.WorkTakenUp(order, "Belt", 3), reading(pressure))
    pen.save(sessions / "whole")
    order = i.Order(ASSET, "twin-9", "technician", ("belt",), (), True)
    pen = samples.Pen(began=FIRST + timedelta(days=70), boot="absurd")
    pen.write(i.WorkOrdered(order), f.WorkTakenUp(order, "Belt", 3))
    pen.write(i.ButtonPressed(1), *absurd)
    pen.save(sessions / "absurd")
    code, said, error = run(ASSET, "--sessions", str(sessions), "--date", "2024-04-07")
    lost = "read as far as it holds" in said  # a line with what is no quantity does not read
    assert (code, error) == (DAMAGED if lost else 0, "")
    assert lost or "nothing that an hour meter shows" in said
    assert len(said) < 10_000
    for more in ([], ["oil pressure"], ["oil pressure", "--json"]):
        done = CliRunner().invoke(app, ["trend", ASSET, *more, "--sessions", str(sessions)])
        assert done.exit_code == code, done.output
        assert len(done.output) < 10_000
