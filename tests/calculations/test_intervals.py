"""When work is due again."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.calculations import intervals
from tests.worded import cannot_be, compute

LAST = {"last_hours": "1000 h", "every_hours": "250 h", "last_day": "2026-03-02", "every_months": "12 months"}


def test_whichever_comes_first() -> None:
    result = compute("next-due", LAST)
    assert (result.value, result.warnings) == ("at 1250 h or on 2027-03-02, whichever comes first", ())


@pytest.mark.parametrize(
    ("now", "warnings"),
    [
        ({"hours_now": "1250 h", "day_now": "2027-03-02"}, ()),
        ({"hours_now": "1250.5 h", "day_now": "2026-09-01"}, ("Overdue by 0.5 h",)),
        ({"hours_now": "1100 h", "day_now": "2027-03-05"}, ("Overdue by 3 days",)),
        ({"hours_now": "1100 h", "day_now": "2027-03-03"}, ("Overdue by 1 day",)),
    ],
)
def test_overdue_by_either(now: dict[str, str], warnings: tuple[str, ...]) -> None:
    assert compute("next-due", LAST | now).warnings == warnings


@pytest.mark.parametrize(
    ("work", "hours", "months", "warned"),
    [
        ("oil and filter", 300, 6, 0),  # TM 5-6115-545-12
        ("oil and filter", 150, 12, 0),  # NAVFAC 1023
        ("fuel filter", 100, 12, 0),  # TM 5-6115-545-12
        ("oil and filter", 500, 12, 1),
        ("oil and filter", 50, 24, 2),
        ("other", 5000, 24, 0),
    ],
)
def test_bands(work: str, hours: int, months: int, warned: int) -> None:
    inputs = LAST | {"every_hours": f"{hours} h", "every_months": f"{months} months", "work": work}
    assert len(compute("next-due", inputs).warnings) == warned


@pytest.mark.parametrize(
    ("day", "months", "due"),
    [
        (date(2026, 1, 31), 1, date(2026, 2, 28)),
        (date(2027, 12, 31), 2, date(2028, 2, 29)),
        (date(2026, 3, 2), 12, date(2027, 3, 2)),
        (date(2026, 12, 15), 1, date(2027, 1, 15)),
    ],
)
def test_months_of_the_calendar(day: date, months: int, due: date) -> None:
    assert intervals.months_later(day, months) == due


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)), st.integers(1, 240))
def test_months_later_is_later_by_as_many_months(day: date, months: int) -> None:
    due = intervals.months_later(day, months)
    assert (due.year - day.year) * 12 + due.month - day.month == months
    assert due.day <= day.day


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"last_day": "2 March"}, "is no day"),
        ({"last_day": "2026-02-30"}, "is no day"),
        ({"last_hours": "-5 h"}, "outside"),
        ({"hours_now": "900 h"}, "less than the hours at the last time"),
        ({"day_now": "2026-01-01"}, "before the day"),
        ({"every_months": "6 weeks"}, "no whole number of months"),
        ({"work": "painting"}, "none of its choices"),
    ],
)
def test_what_is_never_due(change: dict[str, str], told: str) -> None:
    with cannot_be(told):
        compute("next-due", LAST | change)


def test_neither_hours_nor_months() -> None:
    with cannot_be("neither hours nor months"):
        compute("next-due", {"last_hours": "100 h"})
