"""When work is due again: by hours, by the calendar, whichever comes first.

Knows run hours and months. Refuses to know an engine's intervals: they are data of the equipment. Asks for no clock:
the day of today is an input.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import MAXYEAR, date

from assistant.calculations.formula import Day, Example, Formula, Noted, QuantityInput, Refusal, WordInput
from assistant.statements import calculations as s

BANDS = {"oil and filter": ((100, 300), (6, 12)), "fuel filter": ((100, 400), (6, 12)), "other": None}
"""Work -> usual hours and months; outside them an interval is doubted, not refused."""


def months_later(day: date, months: int) -> date:
    """The same day of a later month; the month's last day where it has no such day; the last day that can be written
    where the calendar ends before. Source: the calendar."""
    years, month = divmod(day.month - 1 + months, 12)
    year, month = day.year + years, month + 1
    if year > MAXYEAR:
        return date.max
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def next_due_hours(last_hours: float, every_hours: float) -> float:
    """Run hours at which work is due again.

    Source: the last time and the interval added.
    """
    return last_hours + every_hours


def next_due_day(last_day: date, every_months: float) -> str:
    """Day on which work is due again.

    Source: the calendar; where a month is too short, its last day.
    """
    return _day(last_day, every_months).isoformat()


def next_due(
    last_hours: float | None,
    every_hours: float | None,
    last_day: date | None,
    every_months: float | None,
    hours_now: float | None,
    day_now: date | None,
    work: str,
) -> Noted:
    """When work is due again by hours and by the calendar, whichever comes first; overdue when either is past.

    Source: whichever comes first, as in TM 5-6115-545-12 (oil: 300 h or 6 months; fuel filter: 100 h or 12 months) and
    NAVFAC 1023 (oil: at most 150 h, or yearly); fuel filter at most every 400 h is common practice, no source.
    """
    at: float | None = None
    on: date | None = None
    notes: list[s.CalculationStatement] = []
    if last_hours is not None and every_hours is not None:
        at = next_due_hours(last_hours, every_hours)
        if hours_now is not None and hours_now < last_hours:
            raise Refusal("hours_now", s.LessThanLastTime(), "Read the counter again")
        if hours_now is not None and hours_now > at:
            notes.append(s.OverdueByHours(hours_now - at))
    if last_day is not None and every_months is not None:
        on = _day(last_day, every_months)
        if day_now is not None and day_now < last_day:
            raise Refusal("day_now", s.BeforeLastTime(), "Look at both days again")
        if day_now is not None and day_now > on:
            notes.append(s.OverdueByDays((day_now - on).days))
    if at is None and on is None:
        raise Refusal(
            "last_hours", s.NothingComplete(), "Give last_hours and every_hours, or last_day and every_months"
        )
    bands = BANDS[work]
    for every, band, unit in zip((every_hours, every_months), bands or ((), ()), ("h", "months"), strict=True):
        if every is not None and band and not band[0] <= every <= band[1]:
            notes.append(s.UnusualInterval(every, band[0], band[1], unit))
    return Noted(_due(at, on), tuple(notes))


def _due(at: float | None, on: date | None) -> s.CalculationStatement:
    """When work is due; at least one of the two is known."""
    if at is not None and on is not None:
        return s.DueAtHoursOrOnDay(at, on)
    if at is not None:
        return s.DueAtHours(at)
    assert on is not None
    return s.DueOnDay(on)


def _day(last_day: date, every_months: float) -> date:
    months = round(every_months)
    if abs(every_months - months) > 1e-6:
        raise Refusal("every_months", s.NoWholeMonths(), "Give whole months")
    if last_day.year > 9900:
        raise Refusal("last_day", s.CalendarEnds(), "Look at the year again")
    return months_later(last_day, months)


FORMULAS = (
    Formula(
        "next-due-hours",
        next_due_hours,
        (QuantityInput("last_hours", "h", low=0, high=1e6), QuantityInput("every_hours", "h", above=0, high=1e5)),
        "h",
        (Example({"last_hours": "1250.4 h", "every_hours": "250 h"}, "1500.4 h"),),
    ),
    Formula(
        "next-due-day",
        next_due_day,
        (Day("last_day"), QuantityInput("every_months", "months", low=1, high=240)),
        None,
        (Example({"last_day": "2026-08-31", "every_months": "6 months"}, "2027-02-28"),),
    ),
    Formula(
        "next-due",
        next_due,
        (
            QuantityInput("last_hours", "h", low=0, high=1e6, default=""),
            QuantityInput("every_hours", "h", above=0, high=1e5, default=""),
            Day("last_day", ""),
            QuantityInput("every_months", "months", low=1, high=240, default=""),
            QuantityInput("hours_now", "h", low=0, high=1e6, default=""),
            Day("day_now", ""),
            WordInput("work", tuple(BANDS), "other"),
        ),
        None,
        (
            Example(
                {
                    "last_hours": "1250.4 h",
                    "every_hours": "250 h",
                    "last_day": "2026-03-02",
                    "every_months": "12 months",
                },
                "at 1500.4 h or on 2027-03-02, whichever comes first",
            ),
            Example({"last_hours": "1000 h", "every_hours": "400 h", "work": "oil and filter"}, "at 1400 h", 1),
        ),
    ),
)
