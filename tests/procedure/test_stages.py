"""Procedures that are stages of a visit: each begins with what the stage needs, and leaves what is planned on."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from assistant.edge.checking.models import check

VISITS = Path(__file__).parents[1] / "dialogues" / "visits"  # a small set whose visits are planned, all of it right


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(VISITS, tmp_path / "visits"))


def told(folder: Path) -> list[tuple[str, str, str]]:
    """File, severity and cause of everything that is found."""
    return [(Path(fault.file).name, fault.severity.value, fault.cause) for fault in check(folder).faults]


def broken(file: Path, old: str, new: str) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.count(old) == 1
    file.write_text(text.replace(old, new), encoding="utf-8")


def test_nothing_is_found_in_right_ones(folder: Path) -> None:
    assert told(folder) == []


def test_the_same_steps_outside_a_visit_have_nothing_to_begin_with(folder: Path) -> None:
    """What is right in a stage is wrong in a procedure that is none: nothing before it has isolated the set."""
    text = (folder / "filter.yaml").read_text(encoding="utf-8")
    (folder / "grease.yaml").write_text(text.replace("procedure: filter", "procedure: grease"), encoding="utf-8")
    assert ("grease.yaml", "wrong", "'look-inside' needs isolated: yes, but the steps before leave it unknown") in told(
        folder
    )


def test_a_step_needs_no_more_than_its_stage_does(folder: Path) -> None:
    broken(folder / "cool.yaml", "    leaves: {cold", "    needs: {isolated: yes}\n    leaves: {cold")
    assert told(folder) == [
        ("cool.yaml", "wrong", "'surface' needs isolated: yes, but the steps before leave it unknown")
    ]


def test_what_has_to_be_proved_is_proved_by_the_stage_itself(folder: Path) -> None:
    """The precaution has the coolant's visit planned cold; who opens it measures all the same."""
    broken(folder / "coolant.yaml", "    leaves: {cold: yes for 30 min}\n", "")
    assert told(folder) == [
        ("coolant.yaml", "wrong", "'change-coolant' needs cold: yes, but the steps before leave it unknown")
    ]


def test_two_stages_of_one_procedure_begin_with_what_both_need(folder: Path) -> None:
    """The belt is done by the coolant's steps here: isolated in both, and cold in one of them only."""
    broken(folder / "equipment.yaml", "    title: Belt\n", "    title: Belt\n    procedure: coolant\n")
    (folder / "belt.yaml").unlink()
    assert told(folder) == []
    broken(folder / "equipment.yaml", "    does: [fits-belt]\n    needs: {isolated: yes}", "    does: [fits-belt]")
    assert ("coolant.yaml", "wrong", "'cap' needs isolated: yes, but the steps before leave it unknown") in told(folder)


def test_a_stage_leaves_what_the_visit_is_planned_on(folder: Path) -> None:
    broken(folder / "filter.yaml", "leaves: {open: yes}", "leaves: {open: no}")
    assert told(folder) == [
        ("filter.yaml", "wrong", "a visit is planned as if 'filter' left open: yes, but its steps leave it no")
    ]


def test_a_stage_that_leaves_more_than_it_is_planned_to_is_found(folder: Path) -> None:
    """The plan would go on as if the set could not start."""
    broken(folder / "filter.yaml", "leaves: {open: yes}", "leaves: {open: yes, isolated: no}")
    causes = [cause for file, _, cause in told(folder) if file == "filter.yaml"]
    assert causes == ["a visit is planned as if 'filter' left isolated: yes, but its steps leave it no"]


def test_an_isolation_that_is_planned_is_proved_by_a_step(folder: Path) -> None:
    broken(folder / "isolate.yaml", "    leaves: {isolated: yes}\n", "")
    assert told(folder) == [
        ("isolate.yaml", "wrong", "a visit is planned as if 'isolate' left isolated: yes, but no step of it does")
    ]


def test_an_isolation_may_outlast_its_stage_and_is_never_proved_by_next(folder: Path) -> None:
    broken(folder / "isolate.yaml", "  - hold: prove", "  - instruction: prove")
    broken(folder / "isolate.yaml", "    phrase: nothing moves here\n    card: 1\n", "")
    assert told(folder) == [
        (
            "isolate.yaml",
            "wrong",
            "isolated: yes is never proved: `next` is enough to pass the instruction 'prove'",
        )
    ]


class TestCards:
    """A technician carries the cards of a whole visit, so they are counted over all its procedures."""

    SECOND = """
  - hold: word-given
    title: Permission
    text: Ask the person in charge, then use the card.
    phrase: master agrees
    card: 2
"""

    def test_two_files_with_a_card_each(self, folder: Path) -> None:
        with (folder / "opening.yaml").open("a", encoding="utf-8") as file:
            file.write(self.SECOND)
        assert told(folder) == []

    def test_a_number_that_no_procedure_has(self, folder: Path) -> None:
        with (folder / "opening.yaml").open("a", encoding="utf-8") as file:
            file.write(self.SECOND.replace("card: 2", "card: 4"))
        assert told(folder) == [("equipment.yaml", "note", "there is a card 4, but none with the number 2, 3")]

    def test_one_number_for_two(self, folder: Path) -> None:
        with (folder / "opening.yaml").open("a", encoding="utf-8") as file:
            file.write(self.SECOND.replace("card: 2", "card: 1"))
        (fault,) = told(folder)
        assert fault == (
            "opening.yaml",
            "wrong",
            "'prove' of isolate.yaml and 'word-given' have one card, number 1",
        )

    def test_a_phrase_that_another_procedure_speaks_or_has(self, folder: Path) -> None:
        """Read out over the loudspeaker it could pass the hold point; as an answer it would be learned for another."""
        broken(folder / "ending.yaml", "What is your word on it?", "Nothing moves here. What is your word?")
        wrong = ("wrong", "'word' of ending.yaml has or speaks the phrase 'nothing moves here' of 'prove'")
        assert [fault[1:] for fault in told(folder)] == [wrong]
        broken(folder / "ending.yaml", "Nothing moves here. What", "What")
        broken(folder / "ending.yaml", "fit for service", "nothing moves here")
        assert [fault[1:] for fault in told(folder)] == [wrong]

    def test_without_planned_visits_each_procedure_has_its_own(self, folder: Path) -> None:
        broken(folder / "equipment.yaml", "  opening: opening\n  ending: ending\n", "")
        broken(folder / "isolate.yaml", "card: 1", "card: 2")
        assert told(folder) == [("isolate.yaml", "note", "there is a card 2, but none with the number 1")]


@pytest.mark.parametrize("name", ["opening", "ending", "cool", "filter"])
def test_a_stage_without_its_procedure_is_noted(name: str, folder: Path) -> None:
    (folder / f"{name}.yaml").unlink()
    assert ("equipment.yaml", "note", f"there is no procedure '{name}' for this yet") in told(folder)
