"""The plan of a visit: which tasks are in it, what they need together, and how long they take."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from assistant.edge.places import procedures
from assistant.errors import ProcedureError
from assistant.planning.due import DueStatus
from assistant.planning.past import PastVisit
from assistant.planning.visit import Plan, plan
from assistant.procedure.equipment import Equipment
from assistant.procedure.reading import read_equipment
from tests.planning.equipments import equipment
from tests.worded import worded

TODAY = date(2026, 5, 1)


@pytest.fixture(scope="module")
def twin_9() -> Equipment:
    return read_equipment((procedures() / "twin-9" / "equipment.yaml").read_text(encoding="utf-8"))


def two(**more: Any) -> Equipment:
    """Two tasks that share supplies, parts and tools."""
    return equipment(
        {
            "oil": {
                "parts": [{"name": "washer", "number": "WA-1", "quantity": "2"}, {"name": "filter", "number": "OF-1"}],
                "consumables": [{"name": "oil", "amount": "2.5 L"}, {"name": "cloth", "amount": "4"}],
                "waste": [{"name": "oily cloths", "amount": "300 g"}],
                "tools": ["tray", "wrench"],
                "second_person": "one watches the bilge",
                **more,
            },
            "fuel": {
                "parts": [{"name": "washer", "number": "WA-1"}],
                "consumables": [{"name": "cloth", "amount": "2"}, {"name": "oil", "amount": "150 mL"}],
                "waste": [{"name": "oily cloths", "amount": "0.2 kg"}],
                "tools": ["wrench", "lamp"],
                "second_person": "one watches the bilge",
                "licence": "electrician",
            },
        }
    )


def planned(given: Equipment, *visits: PastVisit, **more: Any) -> Plan:
    return worded(plan(given, "set-a", visits, TODAY, **more))


def test_what_to_bring_is_added_up() -> None:
    result = planned(two())
    assert [(part.number, part.quantity) for part in result.parts] == [("WA-1", 3), ("OF-1", 1)]
    assert [(one.name, str(one.amount)) for one in result.consumables] == [("oil", "2.650 L"), ("cloth", "6")]
    assert [(one.name, str(one.amount)) for one in result.waste] == [("oily cloths", "500 g")]
    assert result.tools == ("tray", "wrench", "lamp")
    both = ("Task oil", "Task fuel")
    assert [(one.what, one.why, one.tasks) for one in result.people] == [
        ("second person", "one watches the bilge", both),
        ("licence", "electrician", both[1:]),
    ]


def test_only_what_is_due_before_the_next_visit_is_in_it() -> None:
    visit = PastVisit(date(2026, 4, 25), Decimal(1000), frozenset({"oil"}))
    result = planned(two(every={"months": "60"}), visit)
    assert result.tasks == ("fuel",)
    assert [(one.task, one.standing) for one in result.dues] == [("fuel", DueStatus.DUE), ("oil", DueStatus.LATER)]
    assert [part.number for part in result.parts] == ["WA-1"]


def test_what_is_asked_for_is_in_it_though_not_due() -> None:
    visit = PastVisit(date(2026, 4, 25), Decimal(1000), frozenset({"oil"}))
    assert planned(two(every={"months": "60"}), visit, tasks=["oil"]).tasks == ("oil",)


def test_where_nothing_is_due_there_is_no_order() -> None:
    visit = PastVisit(date(2026, 4, 25), Decimal(1000), frozenset({"oil", "fuel"}))
    result = plan(two(every={"months": "60"}), "set-a", [visit], date(2026, 4, 26), tasks=None)
    assert [one.standing for one in result.dues] == [DueStatus.BEFORE_NEXT, DueStatus.LATER]
    yearly = equipment({"oil": {"every": {"months": "12"}}})
    result = planned(yearly, visit)
    assert (result.stages, result.takes, result.parts) == ((), (0, 0), ())


def test_minutes_are_those_of_enough_past_visits() -> None:
    def visits(*minutes: float) -> list[PastVisit]:
        return [
            PastVisit(date(2026, 4, day), None, frozenset({"oil"}), minutes={"oil": taken})
            for day, taken in enumerate(minutes, start=1)
        ]

    assert planned(two(), *visits(33, 41)).minutes["oil"] == (10, 20)
    assert planned(two(), *visits(33, 41, 35)).minutes["oil"] == (33, 41)
    assert planned(two(), *visits(90, 33, 41, 35, 36, 37)).minutes["oil"] == (33, 41)  # the latest five
    result = planned(two(), *visits(33, 41, 35), tasks=["oil"])
    assert result.takes == (33, 41)


class TestRunHours:
    VISITS = (PastVisit(date(2026, 3, 2), Decimal(1000)), PastVisit(date(2026, 4, 1), Decimal(1060)))

    def test_as_read(self) -> None:
        result = planned(two(), *self.VISITS, hours=Decimal("1130.5"))
        assert (result.hours, result.estimated, result.remarks) == (Decimal("1130.5"), False, ())

    def test_estimated_by_the_rate(self) -> None:
        """60 h in 30 days: 2 h a day; 30 days later 1120 h."""
        result = planned(two(), *self.VISITS)
        assert (result.hours, result.estimated) == (Decimal(1120), True)
        assert result.remarks == ("Run hours are estimated: 1060 h on 2026-04-01, and 2.0 h a day since",)

    def test_not_known(self) -> None:
        result = planned(two())
        assert (result.hours, result.estimated) == (None, False)
        assert result.remarks == ("Run hours are not known: no visit has read the meter",)

    def test_without_a_rate_those_read_last(self) -> None:
        result = planned(two(), self.VISITS[0])
        assert result.hours == 1000
        assert result.remarks == ("Run hours are those read last, 1000 h: how much it runs is not known",)


def test_findings_that_no_task_follows_are_named() -> None:
    visit = PastVisit(date(2026, 4, 1), None, findings={"test/look": "A hose was cracked", "test/belt": "Slack"})
    result = planned(two(follows=["test/belt"]), visit)
    assert result.findings == ("A hose was cracked (2026-04-01, test/look)",)


def test_a_task_that_is_not_there_is_named() -> None:
    with pytest.raises(ProcedureError, match=r"task 'oli': there is none for set-a\. Did you mean 'oil'"):
        planned(two(), tasks=["oli"])
    with pytest.raises(ProcedureError, match=r"task 'zzz': there is none for set-a\. Use one of oil, fuel"):
        planned(two(), tasks=["zzz"])


def test_equipment_without_tasks_cannot_be_planned() -> None:
    with pytest.raises(ProcedureError, match="holds no tasks"):
        planned(equipment({}))


def test_what_is_due_next_changes_once(twin_9: Equipment) -> None:
    """After a visit that did the oil, and again after the next: 180 h from each, and nothing between changes it."""
    done = PastVisit(date(2026, 3, 2), Decimal(1000), frozenset({"oil-and-filter"}))
    between = PastVisit(date(2026, 4, 1), Decimal(1060))

    def due(*visits: PastVisit, hours: int) -> tuple[Decimal | None, date | None]:
        result = plan(twin_9, "marram-auxiliary", visits, TODAY, Decimal(hours))
        return next((one.hours, one.day) for one in result.dues if one.task == "oil-and-filter")

    assert due(done, hours=1100) == (1180, date(2027, 3, 2))
    assert due(done, between, hours=1110) == (1180, date(2027, 3, 2))
    again = PastVisit(date(2026, 4, 30), Decimal(1110), frozenset({"oil-and-filter"}))
    assert due(done, between, again, hours=1111) == (1290, date(2027, 4, 30))
