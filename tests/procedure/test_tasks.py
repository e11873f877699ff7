"""The tasks of an equipment file: what is wrong in them is found, each with its line."""

from __future__ import annotations

import pytest

from assistant.procedure.checks.between_files import unused
from assistant.procedure.equipment import Procedure
from assistant.procedure.reading import examine_equipment, read_equipment

EQUIPMENT = """\
format: 1
model: small-set
name: Small set
assets: {set-a: the first set}
state:
  isolated: {yes: it is isolated, no: it can start}
data:
  oil: {grade: 10W-30}
tasks:
  oil:
    title: Oil
    every: {hours: 180, months: 12}
    takes: 30 min to 60 min
    does: [drips]
    needs: {isolated: yes}
    parts: [{name: filter, number: OF-1}]
    consumables: [{name: "oil {oil.grade}", amount: 2.5 L}]
  belt:
    title: Belt
    condition: it is slack
    takes: 10 min to 20 min
    does: [fits]
    consumables: [{name: cloth, amount: 3}]
changes:
  isolate: {title: Isolate, takes: 5 min to 6 min, leaves: {isolated: yes}}
precautions:
  dry: {doing: drips, before: fits, because: it drips}
"""


def told(text: str) -> list[tuple[int, str]]:
    return [(fault.line, fault.cause) for fault in examine_equipment(text).tree.faults if "hazards" not in fault.cause]


def told_of(old: str, new: str) -> list[tuple[int, str]]:
    assert EQUIPMENT.count(old) == 1
    before = {cause for _, cause in told(EQUIPMENT)}
    return [one for one in told(EQUIPMENT.replace(old, new)) if one[1] not in before]


def test_a_right_one_reads() -> None:
    equipment = read_equipment(EQUIPMENT)
    oil, belt = equipment.tasks.values()
    assert oil.minutes == (30, 60)
    assert [(one.name, str(one.amount)) for one in oil.consumables] == [("oil 10W-30", "2.5 L")]
    assert [(one.name, str(one.amount)) for one in belt.consumables] == [("cloth", "3")]
    assert [precaution.because for precaution in equipment.minded("oil")] == ["it drips"]
    assert equipment.procedure_of("oil") == "oil"


def test_files_from_before_there_were_tasks_read() -> None:
    old = read_equipment(EQUIPMENT.split("tasks:")[0])
    assert (old.tasks, old.changes, old.precautions) == ({}, {}, {})


@pytest.mark.parametrize(
    ("old", "new", "line", "cause"),
    [
        ("every: {hours: 180, months: 12}", "every: {}", 12, '"hours" or "months" is wanted'),
        ("every: {hours: 180, months: 12}", "every: {hours: none}", 12, "'hours' is not right"),
        ("    condition: it is slack\n", "", 18, '"every" or "condition" is wanted'),
        ("30 min to 60 min", "30 min", 13, "'30 min' is not an interval"),
        ("30 min to 60 min", "at most 60 min", 13, '"takes" is a range of time'),
        ("30 min to 60 min", "1 L to 2 L", 13, '"takes" is a range of time'),
        ("amount: 2.5 L", "amount: much", 17, "'much' is not a quantity"),
        ("{oil.grade}", "{oil.colour}", 17, "refers to nothing in the equipment's data"),
        ("needs: {isolated: yes}", "needs: {isolatd: yes}", 15, "'isolatd' is no variable of the engine's state"),
        ("needs: {isolated: yes}", "needs: {isolated: no}", 15, "nothing leaves `isolated: no`"),
        ("leaves: {isolated: yes}", "leaves: {running: yes}", 25, "'running' is no variable"),
        ("before: fits", "before: fitss", 27, "no task does 'fitss'"),
        ("does: [drips]", "does: [drips, fits]", 14, "by the precautions 'oil' comes before itself"),
        ("before: fits,", "", 27, 'a precaution needs "before" or "needs"'),
        (
            "name: cloth, amount: 3",
            'name: "oil {oil.grade}", amount: 3',
            23,
            "is given as 3 here and as 2.5 L elsewhere",
        ),
    ],
)
def test_what_is_wrong_is_found_with_its_line(old: str, new: str, line: int, cause: str) -> None:
    found = told_of(old, new)
    assert any(where == line and cause in words for where, words in found), found


def test_a_task_that_needs_what_a_precaution_forbids_is_found() -> None:
    again = "  dry: {doing: drips, before: fits, because: it drips}\n"
    found = told_of(again, again + "  off: {doing: drips, needs: {isolated: no}, because: it is so}\n")
    assert (15, "'oil' needs isolated: yes, and a precaution isolated: no") in found


def test_a_circle_of_precautions_is_found() -> None:
    again = "  dry: {doing: drips, before: fits, because: it drips}\n"
    found = told_of(again, again + "  wet: {doing: fits, before: drips, because: it is wet}\n")
    assert (26, "by the precautions each of these comes before another: oil, belt") in found


def test_procedures_and_steps_that_are_not_there_are_noted() -> None:
    equipment = read_equipment(EQUIPMENT.replace("does: [fits]", "does: [fits]\n    follows: [oil/leaks]"))
    oil = Procedure.model_validate({"format": 1, "procedure": "oil", "title": "Oil", "sections": []})
    causes = [problem.cause for problem in unused(equipment, [oil], ())]
    assert causes[:2] == [
        "there is no procedure 'belt' for this yet",
        "there is no step 'leaks' in a procedure 'oil'",
    ]
    assert not any("isolated" in cause for cause in causes)  # a task needs it
