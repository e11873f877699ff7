"""Work is ordered through the same gate as `enginebay check`, and only the model of the asset is read."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.app.visits import kept_work
from assistant.cli import app
from assistant.edge.checking.models import Checked, check, examine_model, words_of
from assistant.edge.files.bringing_in import bring_in
from assistant.edge.files.library import assets, folder_of, order_visit, order_work, read_files
from assistant.edge.files.store import SessionFolder
from assistant.edge.pages.plans import make_plan
from assistant.edge.places import procedures
from assistant.errors import EngineBayError, ProcedureError
from assistant.procedure.checks import REFUSED, STEP_BY_STEP
from assistant.procedure.checks.structure import within_a_step
from assistant.procedure.problem import Severity

VISITS = Path(__file__).parents[2] / "dialogues" / "visits"  # a small set whose visits are planned, all of it right
SECOND_CARD = """
  - hold: word-given
    title: Permission
    text: Ask the person in charge, then use the card.
    phrase: master agrees
    card: 1
"""
ENDLESS = """
  - timer: dry
    title: Dry
    text: It dries.
    lasts: 99999 min
"""


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A folder of procedures with the small set in it, to be broken."""
    shutil.copytree(VISITS, tmp_path / "root" / "visits")
    return tmp_path / "root"


@pytest.fixture
def model(root: Path) -> Path:
    return root / "visits"


def changed(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")


def appended(file: Path, text: str) -> None:
    with file.open("a", encoding="utf-8") as opened:
        opened.write(text)


def wrong(checked: Checked) -> list[tuple[str, str]]:
    """File and cause of what is wrong."""
    return [(Path(one.file).name, one.cause) for one in checked.faults if one.severity is Severity.WRONG]


# --- one gate ------------------------------------------------------------------------------------------------------

BREAKS = {  # what: the file that is changed, from, to; the file where it is wrong, part of the cause
    "a warning is missing": ("filter", "Look into the", "Drain the coolant. Look into the", "filter", "hazard 'hot'"),
    "a hold phrase that another file speaks": (
        *("ending", "What is your word on it?", "Nothing moves here. And?"),
        *("isolate", "'word' of ending.yaml has or speaks the phrase 'nothing moves here'"),
    ),
    "a card's number in two files": ("ending", "", SECOND_CARD, "isolate", "have one card, number 1"),
    "a step's identifier in two files": (
        *("ending", "check: word", "check: change-filter"),
        *("filter", "ending.yaml has a step 'change-filter' too"),
    ),
    "an answer that sounds like a command": (
        *("ending", "fit for service", "text"),
        *("ending", "sounds too much like the command 'next'"),
    ),
    "the name of another file": (
        *("filter", "procedure: filter", "procedure: sieve"),
        *("filter", "lies in the file 'filter.yaml'"),
    ),
    "a text without a word": ("filter", "title: Air filter", 'title: "..."', "filter", "'title' says nothing"),
    "a bell in a text": ("filter", "title: Air filter", 'title: "Air\\afilter"', "filter", "U+0007"),
    "a task that cannot be said": (
        "equipment",
        "title: Air filter",
        "title: Air (filter",
        "equipment",
        "cannot be said",
    ),
    "two tasks called the same": ("equipment", "title: Belt", "title: Coolant", "equipment", "is called 'coolant' too"),
    "hours that no set has run": ("equipment", "{hours: 180}", "{hours: 2e5}", "equipment", "more than a set"),
    "a state that lasts for no time": ("coolant", "yes for 30 min", "yes for 0 min", "coolant", "known for no time"),
    "a wait without an end": ("coolant", "", ENDLESS, "coolant", "a wait of 99999 min is none"),
    "no assets": ("equipment", "assets:\n  shed: the set in the shed", "assets: {}", "equipment", "no assets"),
}


def broken(model: Path, what: str) -> tuple[str, str]:
    """Breaks the model; the file where it is then wrong, and part of the cause."""
    file, old, new, where, cause = BREAKS[what]
    if old:
        changed(model / f"{file}.yaml", old, new)
    else:
        appended(model / f"{file}.yaml", new)
    return f"{where}.yaml", cause


@pytest.mark.parametrize("what", BREAKS)
def test_work_refuses_what_check_calls_wrong(what: str, root: Path) -> None:
    """`work` ran with what `check` called wrong: a warning missing, a hold phrase spoken, one card or step in two
    files. Some of these neither of them saw, and they ended a visit in its middle."""
    file, cause = broken(root / "visits", what)
    found = wrong(check(root / "visits"))
    assert any(name == file and cause in said for name, said in found), found
    if what == "no assets":
        return  # nobody can ask for one
    with pytest.raises(ProcedureError) as caught:
        order_visit("shed", ("coolant", "filter"), "technician", root)
    assert f"visits/{file}, line " in str(caught.value)
    assert cause in str(caught.value)


@pytest.mark.parametrize("typed", [True, False])
def test_the_command_refuses_before_anything_is_begun(
    typed: bool, root: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """`enginebay work` began a session with a procedure that lacked a warning."""
    monkeypatch.setattr("assistant.edge.places.procedures", lambda: root)
    broken(root / "visits", "a warning is missing")
    sessions = tmp_path / "sessions"
    result = CliRunner().invoke(app, ["work", "shed", "filter", "--sessions", str(sessions), *(["--typed"] * typed)])
    assert result.exit_code == 2
    assert "visits/filter.yaml, line 7" in result.output
    assert not sessions.exists()


def test_the_first_faults_are_named_and_how_many_more_there_are(root: Path) -> None:
    """`work` named one fault, so that a trainer came back for each of the others."""
    model = root / "visits"
    for what in ("a warning is missing", "a text without a word", "a step's identifier in two files"):
        broken(model, what)
    changed(model / "ending.yaml", "phrase: tagged out", "phrase: text")
    with pytest.raises(ProcedureError) as caught:
        order_visit("shed", ("filter",), "technician", root)
    said = str(caught.value)
    assert len(wrong(check(model))) == 4
    assert said.count(", line ") == 3
    assert said.endswith(f"And 1 more: run `enginebay check {model}`.")


def test_notes_refuse_nothing(root: Path) -> None:
    """A note is worth a look, and once everything was made wrong nobody could work."""
    changed(root / "visits" / "isolate.yaml", "card: 1", "card: 2")
    assert [fault.severity for fault in check(root / "visits").faults] == [Severity.NOTE]
    assert order_visit("shed", ("filter",), "technician", root).order.tasks == ("filter",)


def test_a_wrong_draft_that_the_visit_does_not_use_stops_nobody(root: Path) -> None:
    """Whoever wrote at the belt's procedure kept everybody from changing a filter. A draft of no task is not looked at;
    one of a task that may be added is left out, and that is said."""
    model = root / "visits"
    shutil.copy(model / "filter.yaml", model / "draft.yaml")
    changed(model / "draft.yaml", "title: Look inside", "titel: Look inside")
    assert order_visit("shed", ("filter",), "technician", root).left_out == ()
    (model / "belt.yaml").write_text("format: 1\nprocedure: [\n", encoding="utf-8")
    ordered = order_visit("shed", ("filter",), "technician", root)
    assert "belt.yaml" not in ordered.files
    assert {"coolant.yaml", "filter.yaml"} <= set(ordered.files)
    (fault,) = ordered.left_out
    assert fault.place.startswith("visits/belt.yaml, line ")
    with pytest.raises(ProcedureError, match=r"visits/belt\.yaml"):
        order_visit("shed", ("belt",), "technician", root)


def test_what_is_left_out_is_said_by_the_command(root: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """That a task could not be added would have come out in the middle of the visit."""
    monkeypatch.setattr("assistant.edge.places.procedures", lambda: root)
    (root / "visits" / "belt.yaml").write_text("a: [\n", encoding="utf-8")
    result = CliRunner().invoke(
        app, ["work", "shed", "filter", "--typed", "--sessions", str(tmp_path / "sessions")], input=""
    )
    assert result.exit_code == 0
    assert "a further task cannot be added at this visit. visits/belt.yaml, line " in result.output


def test_an_old_session_is_taken_up_again_with_what_a_check_calls_wrong_by_now(root: Path, tmp_path: Path) -> None:
    """A rule that came later would have kept people from ending the work that they had begun."""
    broken(root / "visits", "a warning is missing")
    with pytest.raises(ProcedureError):
        order_visit("shed", ("filter",), "technician", root)
    begun = order_visit("shed", ("filter",), "technician", root, as_it_is=True)  # as it was begun then
    session = SessionFolder.create(tmp_path / "sessions", "old", begun.files)
    session.close()
    work = kept_work(session.folder, begun.order)
    assert work.procedures == begun.work.procedures
    assert read_files(begun.files, "kept")[1] == begun.work.procedures


def test_a_broken_wording_refuses_work(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A lone brace in a message ended `work` with a traceback, and a message without words was spoken as silence."""
    from assistant.edge.places import grammars

    shutil.copytree(grammars(), tmp_path / "grammars")
    changed(tmp_path / "grammars" / "en" / "wording.yaml", 'Recorded: "Noted."', 'Recorded: "Noted}."')
    monkeypatch.setattr("assistant.edge.places.grammars", lambda: tmp_path / "grammars")
    with pytest.raises(EngineBayError, match=r"en/wording\.yaml, line \d+, column 1: Recorded: a brace is wrong"):
        order_work("marram-auxiliary", ("oil-and-filter",), "technician")


# --- one model -----------------------------------------------------------------------------------------------------


@pytest.fixture
def two(root: Path) -> Path:
    """Another model beside the small set, of somebody else."""
    shutil.copytree(root / "visits", root / "other")
    changed(root / "other" / "equipment.yaml", "model: visits", "model: other")
    changed(root / "other" / "equipment.yaml", "  shed: the set in the shed", "  barn: the set in the barn")
    return root


@pytest.mark.parametrize(
    "text", ["a: [\n", "[" * 100_000, "", "\xff\xfe", "model: other\nassets: {barn: x}\nstate: 7\n", "&a [*a, *a]"]
)
def test_anothers_broken_draft_stops_nobody(text: str, two: Path, tmp_path: Path) -> None:
    """`work`, `plan`, `words`, `bring-in` and `trend` of one asset read the equipment of every model, and one that did
    not read stopped them all."""
    (two / "other" / "equipment.yaml").write_bytes(text.encode("latin-1"))
    assert order_visit("shed", ("filter",), "technician", two).order.model == "visits"
    assert make_plan("shed", "100", "2026-03-02", (), tmp_path / "sessions", two).tasks
    history = tmp_path / "history.csv"
    history.write_text("date,hours,task\n2025-01-01,10,filter\n", encoding="utf-8")
    assert bring_in("shed", history, tmp_path / "sessions", two)[1] == 1


def test_an_endless_pipe_beside_stops_nobody(two: Path) -> None:
    """Reading an equipment file that was a pipe never came back."""
    (two / "other" / "equipment.yaml").unlink()
    os.mkfifo(two / "other" / "equipment.yaml")
    assert order_visit("shed", ("filter",), "technician", two).order.model == "visits"
    assert ("equipment.yaml", "it cannot be read (it is no regular file)") in wrong(check(two))


def test_an_unknown_asset_lists_all_that_could_be_read(two: Path) -> None:
    """With one broken equipment file the answer was that file's fault, and no asset was named."""
    with pytest.raises(ProcedureError, match="Use one of barn, shed"):
        folder_of("yard", two)
    changed(two / "other" / "equipment.yaml", "model: other", "model: [")
    with pytest.raises(ProcedureError, match=r"Use one of shed\. Or put right .* other/equipment\.yaml, line"):
        folder_of("yard", two)
    assert set(assets(two)) == {"shed"}


def test_an_asset_of_two_models_is_wrong_and_refused(two: Path) -> None:
    """The model whose folder came last in the alphabet was taken, and nobody was told."""
    changed(two / "other" / "equipment.yaml", "  barn:", "  shed: another one\n  barn:")
    assert ("equipment.yaml", "the model in the folder 'visits' has the asset 'shed' too") in wrong(
        check(two / "other")
    )
    assert len(wrong(check(two))) == 2
    with pytest.raises(ProcedureError, match="the models in the folders other and visits both have it"):
        order_visit("shed", ("filter",), "technician", two)
    assert order_visit("barn", ("filter",), "technician", two).order.model == "other"


def test_a_model_in_two_folders_is_wrong_and_refused(two: Path) -> None:
    """A copy of a folder was worked by as if it were another model of that name."""
    changed(two / "other" / "equipment.yaml", "model: other", "model: visits")
    assert ("equipment.yaml", "the folder 'other' has the model 'visits' too") in wrong(check(two))
    with pytest.raises(ProcedureError, match="has the model 'visits' too"):
        order_visit("shed", ("filter",), "technician", two)


def test_a_file_that_ends_otherwise_is_wrong(root: Path) -> None:
    """A file saved as `belt.yml` was not read, and nobody said so."""
    model = root / "visits"
    (model / "belt.yaml").rename(model / "belt.yml")
    (fault,) = [one for one in check(model).faults if one.severity is Severity.WRONG]
    assert (Path(fault.file).name, fault.remedy) == ("belt.yml", "Rename it to belt.yaml")
    assert order_visit("shed", ("filter",), "technician", root).order.tasks == ("filter",)
    with pytest.raises(ProcedureError, match=r"visits/belt\.yml: .*Rename it to belt\.yaml"):
        order_visit("shed", ("belt",), "technician", root)


def test_an_equipment_file_that_ends_otherwise_is_wrong(root: Path) -> None:
    """A folder whose equipment file was `equipment.yml` was passed over when all were checked."""
    model = root / "visits"
    (model / "equipment.yaml").rename(model / "equipment.yml")
    found = wrong(check(root))
    assert ("equipment.yml", "its name ends in '.yml', so it is not read") in found
    assert ("equipment.yaml", "it is not there") in found


@pytest.mark.parametrize("name", ["belt.yml", "Belt.yaml", "BELT.YAML"])
def test_two_files_of_one_name_are_wrong_and_the_task_is_refused(name: str, root: Path) -> None:
    """Which of `belt.yaml` and `Belt.yaml` was worked by, the writing of a name decided."""
    model = root / "visits"
    shutil.copy(model / "belt.yaml", model / name)
    assert any("is called the same" in cause for _, cause in wrong(check(model)))
    with pytest.raises(ProcedureError, match=r"is called the same|is not read"):
        order_visit("shed", ("belt",), "technician", root)
    assert order_visit("shed", ("filter",), "technician", root).order.tasks == ("filter",)


def test_one_procedure_in_two_files_is_wrong(root: Path) -> None:
    """A copy of a file was taken for another procedure."""
    model = root / "visits"
    shutil.copy(model / "belt.yaml", model / "belt-copy.yaml")
    assert ("belt-copy.yaml", "the procedure 'belt' lies in the file 'belt-copy.yaml'") in wrong(check(model))
    assert ("belt-copy.yaml", "belt.yaml is the procedure 'belt' too") in wrong(check(model))


def test_one_file_is_held_against_those_beside_it(root: Path) -> None:
    """Of a file alone `check` said that nothing was wrong, when another one had the same step."""
    broken(root / "visits", "a step's identifier in two files")
    checked = check(root / "visits" / "filter.yaml")
    assert wrong(checked) == [("filter.yaml", "ending.yaml has a step 'change-filter' too")]
    assert checked.files == (root / "visits" / "filter.yaml",)


def test_procedures_that_are_ordered_together_are_told_apart() -> None:
    """Only planned visits were looked at: two procedures ordered one after another shared their timers."""
    known, there = words_of("en"), Path(__file__).parents[2] / "dialogues" / "set"
    assert not examine_model(there, known, ("service",)).wrong
    alone = examine_model(there, known, ("service", "kinds"))
    assert not alone.wrong
    notes = [fault.cause for found in alone.faults.values() for fault in found if "one card" in fault.cause]
    assert len(notes) == 1
    together = examine_model(there, known, ("service", "kinds"), together=True)
    assert [fault.cause for fault in together.wrong if "one card" in fault.cause] == notes


def test_what_is_shipped_passes() -> None:
    """The gate is of no use if the shipped work does not pass it."""
    tasks = ("test-run", "oil-and-filter", "coolant", "belt")
    ordered = order_visit("marram-auxiliary", tasks, "technician")
    assert ordered.left_out == ()
    assert len(ordered.files) == len(list((procedures() / "twin-9").glob("*.yaml")))


def test_a_file_of_neither_a_model_nor_a_language_is_not_passed(root: Path) -> None:
    """`check notes.txt` said "0 wrong" of a file that was never looked at."""
    notes = root / "visits" / "notes.txt"
    notes.write_text("x")
    with pytest.raises(ProcedureError, match="no file of a model"):
        check(notes)


def test_two_parts_that_end_alike_are_wrong_but_do_not_stop_begun_work() -> None:
    """A check that is newer than a session refused to read the session's own copies."""
    assert within_a_step in STEP_BY_STEP
    assert within_a_step not in REFUSED


def test_a_procedure_that_is_called_otherwise_is_told_when_another_task_is_ordered(root: Path) -> None:
    """`belt.yml` was passed over in silence: the task could just not be added."""
    model = root / "visits"
    (model / "belt.yaml").rename(model / "belt.yml")
    ordered = order_visit("shed", ("filter",), "technician", root)
    assert [(error.place, error.remedy) for error in ordered.left_out] == [
        ("visits/belt.yml", "Rename it to belt.yaml")
    ]


def test_a_sign_without_words_is_noted(root: Path) -> None:
    """Signs that the language has no words for stayed in what was given to the voice."""
    file = next((root / "visits").glob("belt.yaml"))
    text = file.read_text(encoding="utf-8")
    title = next(line for line in text.splitlines() if line.strip().startswith("title:") and line.startswith(" "))
    file.write_text(text.replace(title, f"{title} ≈ 5", 1), encoding="utf-8")
    assert any("'≈' has no words" in fault.cause for fault in check(root / "visits").faults)
