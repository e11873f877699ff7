"""What is due, against cases worked out by hand; and what is made of meters and clocks that are not to be trusted."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from assistant.planning.due import Due, DueStatus, due
from assistant.planning.past import History, PastVisit, in_order
from tests.planning.equipments import equipment
from tests.worded import worded

NEXT = date(2026, 9, 1)


def visit(day: str | None, hours: str | None = None, *done: str, **more: Any) -> PastVisit:
    return PastVisit(
        None if day is None else date.fromisoformat(day),
        None if hours is None else Decimal(hours),
        frozenset(done),
        **more,
    )


def history_in_words(visits: list[PastVisit], today: date, hours: Decimal | None = None) -> History:
    return worded(in_order(visits, today, hours))


def one(
    task: dict[str, Any], visits: list[PastVisit], today: str, hours: str | None, next_visit: date | None = NEXT
) -> Due:
    """When the one task, named oil, is due."""
    given = equipment({"oil": task})
    day = date.fromisoformat(today)
    now = None if hours is None else Decimal(hours)
    (result,) = due(given, in_order(visits, day, now), now, day, next_visit)
    return worded(result)


HOURS = {"every": {"hours": "180"}}
MONTHS = {"every": {"months": "6"}}
BOTH = {"every": {"hours": "300", "months": "6"}}  # oil and filter after TM 5-6115-545-12
NAVFAC = {"every": {"hours": "150", "months": "12"}}  # oil after NAVFAC 1023
FOLLOWS = {**HOURS, "follows": ["test/look"], "condition": "it is cracked"}
DONE = visit("2026-03-02", "1000", "oil")
FOUND = visit("2026-04-01", "1010", findings={"test/look": "The belt was cracked"})


class TestByHours:
    @pytest.mark.parametrize(
        ("hours", "standing", "words"),
        [
            ("1192.5", DueStatus.OVERDUE, "every 180 h, done 192.5 h ago: overdue by 12.5 h"),
            ("1180", DueStatus.DUE, "every 180 h, done 180 h ago: due at 1180 h"),
            ("1162", DueStatus.DUE, "every 180 h, done 162 h ago: due at 1180 h"),  # a tenth of the interval is left
            ("1161", DueStatus.LATER, "every 180 h, done 161 h ago: due at 1180 h"),
        ],
    )
    def test_overdue_due_and_later(self, hours: str, standing: DueStatus, words: str) -> None:
        # half an hour a day since the last visit at most, so the next one on the next day is in time for 19 h
        result = one(HOURS, [DONE], "2026-08-31", hours)
        assert (result.standing, result.reason, result.hours, result.day) == (standing, words, Decimal(1180), None)

    def test_before_the_next_visit_at_the_rate_so_far(self) -> None:
        """1000 h, 60 days at 1 h a day, 60 days at 3 h a day; done in the middle, 120 of 300 h left."""
        visits = [visit("2026-01-01", "1000"), visit("2026-03-02", "1060", "oil")]
        task = {"every": {"hours": "300"}}

        def standing(next_visit: str) -> tuple[DueStatus, str]:
            result = one(task, visits, "2026-05-01", "1240", date.fromisoformat(next_visit))
            return result.standing, result.reason

        assert standing("2026-06-09") == (
            DueStatus.LATER,
            "every 300 h, done 180 h ago: due at 1360 h",
        )  # 39 days: 117 h
        soon, words = standing("2026-06-10")  # 40 days at 3 h are 120 h
        assert soon is DueStatus.BEFORE_NEXT
        assert words.endswith("due at 1360 h, which may come before the next visit on 2026-06-10 (1.0 to 3.0 h a day)")
        assert "which comes before the next visit" in standing("2026-08-29")[1]  # 120 days at 1 h are 120 h

    def test_hours_that_nobody_read(self) -> None:
        result = one(HOURS, [visit("2026-03-02", None, "oil")], "2026-05-01", None)
        assert (result.standing, result.hours) == (DueStatus.DUE, None)
        assert result.reason == "every 180 h; run hours are not known: read the meter"

    def test_done_at_a_visit_that_did_not_read_the_meter_is_counted_from_the_reading_before(self) -> None:
        visits = [visit("2026-03-02", "1000"), visit("2026-04-01", None, "oil")]
        assert one(HOURS, visits, "2026-05-01", "1090").reason.startswith("every 180 h, done about 90 h ago")


class TestByMonths:
    @pytest.mark.parametrize(
        ("done", "today", "standing", "on"),
        [
            ("2025-08-31", "2026-03-01", DueStatus.OVERDUE, "2026-02-28"),  # a month too short: its last day
            ("2025-08-31", "2026-02-28", DueStatus.DUE, "2026-02-28"),
            ("2025-08-31", "2026-02-10", DueStatus.DUE, "2026-02-28"),  # 18 of 181 days are left
            ("2025-08-31", "2026-02-09", DueStatus.BEFORE_NEXT, "2026-02-28"),
            ("2026-03-02", "2026-03-03", DueStatus.LATER, "2026-09-02"),  # a day after the next visit
        ],
    )
    def test_standing(self, done: str, today: str, standing: DueStatus, on: str) -> None:
        result = one(MONTHS, [visit(done, None, "oil")], today, None)
        assert (result.standing, result.day) == (standing, date.fromisoformat(on))

    def test_it_says_since_when(self) -> None:
        result = one(MONTHS, [visit("2025-08-31", None, "oil")], "2026-03-01", None)
        assert result.reason == "every 6 months, done on 2025-08-31: overdue since 2026-02-28"


class TestWhicheverComesFirst:
    @pytest.mark.parametrize(
        ("task", "today", "hours", "standing", "first"),
        [
            (BOTH, "2026-05-01", "1301", DueStatus.OVERDUE, "every 300 h"),
            (BOTH, "2026-09-03", "1100", DueStatus.OVERDUE, "every 6 months"),
            (BOTH, "2026-05-01", "1100", DueStatus.LATER, "every 300 h"),
            (NAVFAC, "2026-09-03", "1100", DueStatus.LATER, "every 150 h"),
            (NAVFAC, "2026-09-03", "1150.5", DueStatus.OVERDUE, "every 150 h"),
            (NAVFAC, "2027-03-03", "1100", DueStatus.OVERDUE, "every 12 months"),
        ],
    )
    def test_the_more_urgent_is_named_first(
        self, task: dict[str, Any], today: str, hours: str, standing: DueStatus, first: str
    ) -> None:
        result = one(task, [DONE], today, hours, date.fromisoformat(today))
        assert (result.standing, result.reason.startswith(first)) == (standing, True)
        assert result.hours is not None
        assert result.day is not None


def test_never_done() -> None:
    result = one(BOTH, [visit("2026-03-02", "1000", "belt")], "2026-05-01", "1100")
    assert (result.standing, result.hours, result.day) == (DueStatus.DUE, None, None)
    assert result.reason == "every 300 h or 6 months; no visit is known at which it was done"


class TestByConditionAndFinding:
    def test_a_condition_alone_is_no_reason_to_do_it(self) -> None:
        result = one({"every": None, "condition": "it is cracked"}, [], "2026-05-01", None)
        assert (result.standing, result.reason) == (DueStatus.LATER, "when it is cracked")

    def test_a_finding_makes_it_due(self) -> None:
        result = one(FOLLOWS, [DONE, FOUND], "2026-05-01", "1020")
        assert result.standing is DueStatus.DUE
        assert result.reason.startswith("finding of 2026-04-01: The belt was cracked; every 180 h, done 20 h ago")
        assert result.reason.endswith("also when it is cracked")

    @pytest.mark.parametrize(
        "later",
        [visit("2026-04-10", None, "oil"), visit("2026-04-10", cleared=frozenset({"test/look"}))],
        ids=["done", "in order at a later visit"],
    )
    def test_a_finding_that_was_settled_does_not(self, later: PastVisit) -> None:
        assert one(FOLLOWS, [DONE, FOUND, later], "2026-05-01", "1020").standing is not DueStatus.DUE

    def test_found_again_after_it_was_done_is_open_again(self) -> None:
        again = visit("2026-04-20", "1015", "oil", findings={"test/look": "The belt was cracked again"})
        assert "cracked again" in one(FOLLOWS, [DONE, FOUND, again], "2026-05-01", "1020").reason


class TestMetersAndClocks:
    def test_a_meter_that_went_back_was_exchanged(self) -> None:
        """60 h on the old meter in 60 days; then 60 days that no meter shows, by the rate again 60 h: 60 h are left."""
        visits = [visit("2026-01-01", "1000", "oil"), visit("2026-03-02", "1060")]
        day = date(2026, 5, 1)
        history = history_in_words(visits, day, Decimal(12))
        (remark,) = history.remarks
        assert remark.startswith("The hour meter went back, from 1060 h of 2026-03-02 to 12 h of 2026-05-01: exchanged")
        result = one(HOURS, visits, "2026-05-01", "12", date(2026, 5, 2))
        assert (result.standing, result.hours) == (DueStatus.LATER, Decimal(72))
        assert result.reason == "every 180 h, done about 120 h ago: due at 72 h"

    def test_without_a_rate_an_exchanged_meter_makes_it_due(self) -> None:
        result = one(HOURS, [visit("2026-01-01", "1000", "oil")], "2026-05-01", "12")
        assert result.standing is DueStatus.DUE
        assert result.reason == "every 180 h; the hour meter does not tell how long ago it was done"

    def test_what_is_done_after_the_exchange_is_counted_on_the_new_meter(self) -> None:
        visits = [visit("2026-01-01", "1000"), visit("2026-03-02", "12", "oil")]
        assert one(HOURS, visits, "2026-05-01", "52").reason.startswith("every 180 h, done 40 h ago")

    @pytest.mark.parametrize("misread", ["106", "10600"])
    def test_a_misread_meter_is_left_out(self, misread: str) -> None:
        visits = [visit("2026-01-01", "1000", "oil"), visit("2026-02-01", misread), visit("2026-03-02", "1060")]
        history = history_in_words(visits, date(2026, 5, 1), Decimal(1100))
        assert len(history.remarks) == 1
        assert "taken as misread" in history.remarks[0]
        assert history.run == (0, 0, 60, 100)
        assert one(HOURS, visits, "2026-05-01", "1100").reason.startswith("every 180 h, done 100 h ago")

    def test_more_hours_than_a_day_has_are_not_believed(self) -> None:
        history = history_in_words([visit("2026-04-30", "1000")], date(2026, 5, 1), Decimal(1049))
        assert "ran ahead of the clock" in history.remarks[0]
        assert history_in_words([visit("2026-04-30", "1000")], date(2026, 5, 1), Decimal(1048)).remarks == ()

    def test_a_clock_that_woke_in_another_year_is_placed_by_its_hours(self) -> None:
        visits = [visit("1970-01-01", "1030", "oil"), visit("2026-01-01", "1000"), visit("2026-03-02", "1060")]
        history = history_in_words(visits, date(2026, 5, 1))
        assert [(past.day is None, past.hours) for past in history.visits] == [
            (False, Decimal(1000)),
            (True, Decimal(1030)),
            (False, Decimal(1060)),
        ]
        assert history.remarks == ("A visit is dated 1970-01-01, which cannot be: its date is not counted",)
        result = one(BOTH, visits, "2026-05-01", "1100")
        assert result.day == date(2026, 7, 1)  # six months after the last day on which it was certainly not done
        assert "done on an unknown day after 2026-01-01" in result.reason
        assert "done 70 h ago" in result.reason

    def test_a_visit_that_is_still_to_come(self) -> None:
        history = history_in_words([visit("2027-01-01", "1000", "oil")], date(2026, 5, 1))
        assert history.remarks == ("A visit is dated 2027-01-01, which is still to come: its date is not counted",)
        result = one(MONTHS, [visit("2027-01-01", "1000", "oil")], "2026-05-01", None)
        assert result.standing is DueStatus.DUE
        assert result.reason == "every 6 months; the day on which it was done is not known"


class TestRate:
    def test_by_hand(self) -> None:
        """60 h in 60 days, 180 h in 60 days: 1 to 3, and 240 h in 120 days: 2 h a day."""
        rate = history_in_words(
            [visit("2026-01-01", "1000"), visit("2026-03-02", "1060"), visit("2026-05-01", "1240")], date(2026, 5, 1)
        ).rate()
        assert rate is not None
        assert (rate.least, rate.usual, rate.most, rate.spans) == (1, 2, 3, 2)

    def test_days_that_lie_close_are_taken_together(self) -> None:
        """10 h in one day would be no rate for months: 30 h in 10 days are 3 h a day."""
        visits = [visit("2026-01-01", "1000"), visit("2026-01-02", "1010"), visit("2026-01-11", "1030")]
        rate = history_in_words(visits, date(2026, 5, 1)).rate()
        assert rate is not None
        assert (rate.least, rate.most, rate.spans) == (3, 3, 1)

    def test_no_span_reaches_over_an_exchanged_meter(self) -> None:
        visits = [visit("2026-01-01", "1000"), visit("2026-03-02", "5"), visit("2026-03-12", "25")]
        rate = history_in_words(visits, date(2026, 5, 1)).rate()
        assert rate is not None
        assert (rate.usual, rate.spans) == (2, 1)

    def test_one_reading_gives_none(self) -> None:
        assert in_order([visit("2026-01-01", "1000")], date(2026, 5, 1)).rate() is None


class TestNextVisit:
    def test_after_the_median_of_the_spans(self) -> None:
        days = [
            "2026-01-01",
            "2026-01-03",
            "2026-02-02",
            "2026-03-04",
            "2026-09-20",
        ]  # 2 days tell nothing; 30, 30, 200
        history = history_in_words([visit(day) for day in days], date(2026, 9, 20))
        assert history.next_visit(date(2026, 9, 21), 6) == date(2026, 10, 21)

    def test_until_there_are_enough_by_the_equipment_file(self) -> None:
        assert in_order([visit("2026-01-01")], date(2026, 5, 1)).next_visit(date(2026, 5, 31), 3) == date(2026, 8, 31)


@pytest.mark.parametrize("today", [date.max, date.max - timedelta(days=1), date.min])
def test_at_the_ends_of_the_calendar(today: date) -> None:
    """On the last day of the calendar the next visit lay behind its end: an OverflowError."""
    days = (date.max - timedelta(days=90), date.max - timedelta(days=60), date.max - timedelta(days=30))
    past = [PastVisit(day, Decimal(1000 + 10 * number)) for number, day in enumerate(days)]
    for visits in ([], past[:1], past):
        history = history_in_words(visits, today, Decimal(1100))
        assert date.min <= history.next_visit(today, 6) <= date.max
        assert due(equipment({"oil": BOTH}), history, Decimal(1100), today)


@pytest.mark.parametrize("hours", ["1e27", "1e999999999", "-1e999999999", "NaN", "Infinity", "1000001", "-0.1"])
def test_what_no_hour_meter_shows_is_not_counted(hours: str) -> None:
    """A reading of 1e27 h in an old session ended every plan in a decimal.InvalidOperation."""
    visits = [PastVisit(date(2025, 1, 1), Decimal(hours)), PastVisit(date(2025, 6, 1), Decimal(1010))]
    history = history_in_words(visits, date(2026, 1, 1), None)
    assert history.hours == 1010
    assert len(history.remarks) == 1
    assert "2025-01-01 is nothing that an hour meter shows" in history.remarks[0]
    assert len(history.remarks[0]) < 150
