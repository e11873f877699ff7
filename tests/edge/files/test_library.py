"""Ordering work: what is not there is named, with what is."""

from __future__ import annotations

import hashlib
import shutil
from pathlib import Path

import pytest

from assistant.edge.files.library import assets, order_visit, order_work, plans_visits, read_files
from assistant.edge.places import procedures
from assistant.errors import ProcedureError

SHIPPED = ("marram-auxiliary", ("oil-and-filter",))


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A copy of the shipped folder of procedures, to be broken."""
    return Path(shutil.copytree(procedures(), tmp_path / "procedures"))


def test_shipped_work_can_be_ordered() -> None:
    asset, names = SHIPPED
    ordered = order_work(asset, names, "technician")
    assert ordered.order.asset == asset
    assert ordered.order.model == "twin-9"
    assert ordered.order.tasks == names
    assert ordered.order.technician == "technician"
    assert ordered.order.demo
    assert [placed.number for placed in ordered.work.steps] == list(range(1, len(ordered.work.steps) + 1))
    assert set(ordered.work.index) == {placed.place for placed in ordered.work.steps}


def test_the_order_names_the_exact_files() -> None:
    ordered = order_work(*SHIPPED, "technician")
    assert [copy.name for copy in ordered.order.copies] == ["equipment.yaml", "oil-and-filter.yaml"]
    for copy in ordered.order.copies:
        assert copy.sha256 == hashlib.sha256(ordered.files[copy.name]).hexdigest()
        assert ordered.files[copy.name] == (procedures() / "twin-9" / copy.name).read_bytes()


def test_what_was_kept_reads_as_the_same_work() -> None:
    ordered = order_work(*SHIPPED, "technician")
    equipment, read = read_files(ordered.files, "kept")
    assert (equipment, read) == (ordered.work.equipment, ordered.work.procedures)


def test_every_asset_has_the_folder_of_its_model() -> None:
    found = assets()
    assert found["marram-auxiliary"] == procedures() / "twin-9"
    assert all((folder / "equipment.yaml").is_file() for folder in found.values())


def test_an_unknown_asset_is_named_with_those_that_are_known() -> None:
    with pytest.raises(ProcedureError) as caught:
        order_work("marram", ("oil-and-filter",), "technician")
    assert "'marram'" in caught.value.place
    assert "marram-auxiliary" in caught.value.remedy


@pytest.mark.parametrize("name", ["oil", "equipment", "../twin-9/oil-and-filter", "oil-and-filter.yaml", ""])
def test_an_unknown_procedure_is_named_with_those_that_are_there(name: str) -> None:
    with pytest.raises(ProcedureError) as caught:
        order_work("marram-auxiliary", (name,), "technician")
    assert repr(name) in caught.value.place
    assert "marram-auxiliary" in caught.value.cause
    assert "oil-and-filter" in caught.value.remedy
    assert "equipment" not in caught.value.remedy


def test_a_procedure_that_is_wrong_is_named_by_its_file(root: Path) -> None:
    path = root / "twin-9" / "oil-and-filter.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("title:", "tittle:", 1), encoding="utf-8")
    with pytest.raises(ProcedureError) as caught:
        order_work(*SHIPPED, "technician", root)
    assert caught.value.place.startswith("twin-9/oil-and-filter.yaml")


@pytest.mark.parametrize("name", ["equipment.yaml", "oil-and-filter.yaml"])
def test_a_file_that_is_no_text_is_told(name: str, root: Path) -> None:
    (root / "twin-9" / name).write_bytes(b"format: 1\ntitle: \xff\xfe\n")
    with pytest.raises(ProcedureError, match="UTF-8") as caught:
        order_work(*SHIPPED, "technician", root)
    assert f"twin-9/{name}" in str(caught.value)


def test_an_empty_folder_of_procedures_is_told(tmp_path: Path) -> None:
    with pytest.raises(ProcedureError) as caught:
        order_work(*SHIPPED, "technician", tmp_path)
    assert caught.value.place == str(tmp_path)
    assert "equipment.yaml" in caught.value.remedy


# --- planned visits ------------------------------------------------------------------------------------------------

VISITS = Path(__file__).parents[2] / "dialogues"


@pytest.fixture
def visits(tmp_path: Path) -> Path:
    """A copy of the small set whose visits are planned, to be broken."""
    shutil.copytree(VISITS / "visits", tmp_path / "root" / "visits")
    return tmp_path / "root"


def test_a_visit_takes_along_all_that_it_may_come_to() -> None:
    ordered = order_visit("shed", ("filter",), "technician", VISITS)
    assert (ordered.order.tasks, ordered.order.planned) == (("filter",), True)
    assert {copy.name for copy in ordered.order.copies} == {path.name for path in (VISITS / "visits").glob("*.yaml")}
    assert [stage.name for stage in ordered.work.plan] == ["opening", "stop", "isolate", "filter", "restore", "ending"]
    assert [placed.number for placed in ordered.work.steps] == list(range(1, len(ordered.work.steps) + 1))


def test_whether_visits_are_planned_is_known() -> None:
    assert plans_visits("shed", VISITS)
    assert not plans_visits("bench", VISITS)
    with pytest.raises(ProcedureError, match="does not say how a visit begins"):
        order_visit("bench", ("service",), "technician", VISITS)


def test_a_task_that_is_not_there_is_named_with_those_that_are() -> None:
    with pytest.raises(ProcedureError, match=r"task 'oil'.*coolant, filter, belt"):
        order_visit("shed", ("oil",), "technician", VISITS)


def test_a_task_whose_procedure_is_missing_cannot_be_ordered_but_others_can(visits: Path) -> None:
    (visits / "visits" / "belt.yaml").unlink()
    assert order_visit("shed", ("filter",), "technician", visits).order.tasks == ("filter",)
    with pytest.raises(ProcedureError, match="procedure 'belt'"):
        order_visit("shed", ("belt",), "technician", visits)


def test_two_steps_of_one_name_are_refused(visits: Path) -> None:
    file = visits / "visits" / "belt.yaml"
    file.write_text(file.read_text(encoding="utf-8").replace("change-belt", "change-filter"), encoding="utf-8")
    with pytest.raises(ProcedureError, match=r"visits/belt\.yaml.* filter\.yaml has a step 'change-filter' too"):
        order_visit("shed", ("filter", "belt"), "technician", visits)


def test_tasks_that_no_order_allows_are_refused_when_they_are_ordered(visits: Path) -> None:
    file = visits / "visits" / "equipment.yaml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("leaves: {cold: yes}, by_itself", "leaves: {open: no}, by_itself"), encoding="utf-8")
    with pytest.raises(ProcedureError, match="nothing leaves `cold: yes`"):
        order_visit("shed", ("coolant",), "technician", visits)
