"""Which visits are believed: held against every explanation there is, and the same for trends and for the plan."""

from __future__ import annotations

import random
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import combinations, pairwise

import histories as h
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.planning.past import History, done_before, in_order
from assistant.session import facts as f
from assistant.session.history import Mark, history
from assistant.session.inputs import Order
from assistant.session.trust import Distrust, VisitClaim, claimed, goes_on, hours_fit_days, trust

DAY = date(2026, 1, 1)
TAKEN_UP = f.WorkTakenUp(Order("set", "model", "technician", ("service",), (), True), "Service", 3)
OF_HOURS = {Distrust.NO_METER_SHOWS, Distrust.HOURS_CONTRADICT}


def claims(*told: tuple[int, str | int]) -> list[VisitClaim]:
    """Day after the first, and hours, of each visit, which is named by its place."""
    return [VisitClaim(str(place), DAY + timedelta(day), Decimal(hours)) for place, (day, hours) in enumerate(told)]


def doubts(*told: tuple[int, str | int], today: date | None = None) -> dict[str, tuple[Distrust, ...]]:
    return trust(claims(*told), today).doubts


# --- the rules -----------------------------------------------------------------------------------------------


def test_what_agrees_is_believed() -> None:
    found = trust(claims((0, 0), (50, 250), (100, 500)))
    assert (found.hours, found.dates, found.doubts) == ({"0", "1", "2"}, {"0", "1", "2"}, {})
    assert set(found.meters.values()) == {0}


@pytest.mark.parametrize("misread", [9000, 1])
def test_one_misread_meter_is_found_among_many(misread: int) -> None:
    assert doubts((0, 5), (50, 250), (60, misread), (100, 500)) == {"2": (Distrust.HOURS_CONTRADICT,)}


def test_of_two_that_contradict_each_other_neither_is_believed() -> None:
    assert set(doubts((0, 0), (50, 250), (100, 500), (150, 750), (200, 740))) == {"3", "4"}


def test_one_reading_is_no_new_meter_and_two_are() -> None:
    assert set(doubts((0, 1000), (50, 1250), (100, 3))) == {"2"}
    found = trust(claims((0, 1000), (50, 1250), (100, 1500), (150, 3), (200, 250)))
    assert found.doubts == {}
    assert found.meters == {"0": 0, "1": 0, "2": 0, "3": 1, "4": 1}
    assert found.main_meter == {"0", "1", "2"}


def test_more_hours_than_passed_are_the_clock_s_fault() -> None:
    """A board without a battery goes on from where it was switched off: 150 h on the meter in one day."""
    found = trust(claims((0, 0), (50, 250), (100, 500), (101, 650), (150, 750), (200, 1000)))
    assert found.doubts == dict.fromkeys(("2", "3"), (Distrust.MORE_HOURS_THAN_PASSED,))
    assert found.hours == {"0", "1", "2", "3", "4", "5"}


def test_what_no_meter_shows_is_not_believed() -> None:
    assert doubts((0, "1e27"), (50, "NaN"), (100, "-1")) == dict.fromkeys("012", (Distrust.NO_METER_SHOWS,))


def test_a_day_on_which_there_was_no_visit_is_not_believed_and_its_hours_are() -> None:
    told = [
        VisitClaim("woke", date(1970, 1, 1), Decimal(5)),
        VisitClaim("to come", DAY + timedelta(9), Decimal(6)),
        VisitClaim("set", DAY, Decimal(7), clock_holds=False),
        VisitClaim("none", None, Decimal(8)),
    ]
    found = trust(told, DAY)
    assert (found.dates, found.hours) == (frozenset(), {"woke", "to come", "set", "none"})
    assert found.doubts == {
        "woke": (Distrust.BEFORE_ALL_VISITS,),
        "to come": (Distrust.STILL_TO_COME,),
        "set": (Distrust.CLOCK_SET,),
    }
    assert trust(told).dates == {"to come"}  # whoever does not know the day cannot say


TOLD = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 300)), max_size=7)


@given(TOLD)
def test_believed_is_what_every_simplest_explanation_believes(told: list[tuple[int, int]]) -> None:
    """Each explanation: which readings are believed. Two for each, two less for an exchange, one less for a gap."""

    def gain(believed: Sequence[VisitClaim]) -> int:
        steps = list(pairwise(believed))
        exchanges = sum(not goes_on(early, late) for early, late in steps)
        gaps = sum(goes_on(early, late) and not hours_fit_days(early, late) for early, late in steps)
        return 2 * len(believed) - 2 * exchanges - gaps

    ordered = sorted(claims(*told), key=lambda claim: (claim.day, claim.hours, claim.name))
    explanations = [chosen for size in range(len(ordered) + 1) for chosen in combinations(ordered, size)]
    best = max(map(gain, explanations))
    simplest = [{claim.name for claim in chosen} for chosen in explanations if gain(chosen) == best]
    assert trust(ordered).hours == set.intersection(*simplest)


@given(TOLD, st.randoms(use_true_random=False))
def test_the_order_in_which_they_are_given_does_not_matter(told: list[tuple[int, int]], chance: random.Random) -> None:
    ordered = claims(*told)
    shuffled = chance.sample(ordered, len(ordered))
    found, other = trust(ordered), trust(shuffled)
    assert (found.hours, found.dates, found.meters, found.doubts) == (
        *(other.hours, other.dates, other.meters, other.doubts),
    )


# --- trends and the plan -------------------------------------------------------------------------------------

Sessions = dict[str, h.Told]


def sessions(*told: tuple[int, int, bool]) -> Sessions:
    """Day after the first visit, hours, and whether the clock was set during the visit."""
    return {
        f"visit-{place}": h.visit(
            day,
            *(TAKEN_UP, h.meter(hours), h.reading("4 bar")),
            wall=[h.FIRST + timedelta(days=day, seconds=second) for second in ((0, 9_000, 60) if was_set else ())],
        )
        for place, (day, hours, was_set) in enumerate(told)
    }


def of_trends(found: Sessions, today: date) -> tuple[set[float], set[float]]:
    """Hours of the visits whose hours, and of those whose dates, trends do not believe."""
    series = history(found, today).get("oil pressure", ())
    points = [point for one_series in series for point in one_series.points]
    wrong, dates = (
        {point.read for point in points if mark in point.marks and point.read is not None}
        for mark in (Mark.HOURS_WRONG, Mark.DATE_WRONG)
    )
    everything = trust([claim for name, facts in found.items() for claim in claimed(name, facts)], today)
    other = everything.hours - everything.main_meter  # believed, and on another axis
    return wrong - {point.read for point in points if point.session in other and point.read is not None}, dates


def of_plan(found: Sessions, today: date) -> tuple[set[float], set[float]]:
    """The same of the plan."""
    past: History = in_order(done_before(found.values(), "set"), today)
    reasons = {float(past.visits[place].hours or 0): set(why) for place, why in past.doubts.items()}
    return {hours for hours, why in reasons.items() if why & OF_HOURS}, {
        hours for hours, why in reasons.items() if why - OF_HOURS
    }


@pytest.mark.parametrize(
    "told",
    [
        # the plan took 1100 h for a new meter and believed all three; trends believed neither 1250 nor 1100
        ((0, 1000, False), (50, 1250, False), (100, 1100, False)),
        # the plan believed the date of a visit in which the clock was set; trends did not
        ((0, 1000, False), (50, 1250, True), (100, 1500, False)),
        # trends believed the date of a visit that is still to come; the plan did not
        ((0, 1000, False), (50, 1250, False), (900, 1500, False)),
    ],
)
def test_three_visits_of_which_they_doubted_different_ones(
    told: tuple[tuple[int, int, bool], ...],
) -> None:
    found, today = sessions(*told), h.FIRST.date() + timedelta(200)
    assert of_trends(found, today) == of_plan(found, today)
    assert of_plan(found, today) != (set(), set())


@given(
    st.lists(st.tuples(st.integers(0, 300), st.integers(1, 3000), st.booleans()), max_size=7, unique_by=lambda v: v[1]),
    st.integers(0, 300),
)
def test_trends_and_the_plan_never_disagree(told: list[tuple[int, int, bool]], today: int) -> None:
    found, day = sessions(*told), h.FIRST.date() + timedelta(today)
    assert of_trends(found, day) == of_plan(found, day)


def test_a_history_that_was_taken_over_counts_for_both() -> None:
    """Trends did not look at it: a meter that contradicts it was believed."""
    days = (("2024-01-01", 10), ("2024-02-01", 90), ("2024-02-20", 95))
    lines = [f.DoneBefore(day, Decimal(hours), "", "", "") for day, hours in days]
    taken = h.visit(0, f.HistoryTakenOver("set", "history.csv", "0" * 64, 3), *lines)
    found = {"before": taken, **sessions((60, 20, False), (120, 150, False))}
    today = h.FIRST.date() + timedelta(200)
    assert of_trends(found, today) == of_plan(found, today) == ({20.0}, set())
