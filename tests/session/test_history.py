"""The fold of an asset's sessions: what stands in a series, where a new one begins, what is not believed."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import histories as h
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.session.facts import ReadingRecorded, ReadingStage
from assistant.session.history import Mark, Series, history

FOUND, LEFT = h.FOUND, h.LEFT


def belt(value: str, stage: ReadingStage = FOUND) -> ReadingRecorded:
    return h.reading(value, "belt deflection", "at most 12 mm", stage)


def torque(value: str) -> ReadingRecorded:
    return h.reading(value, "plug torque", "34 N.m to 40 N.m", LEFT)


def values(series: Series) -> list[str]:
    return [str(point.reading.quantity) for point in series.points]


def marked(series: Series, mark: Mark) -> list[str]:
    return [point.session for point in series.points if mark in point.marks]


def test_readings_stand_by_name_with_hours_and_dates() -> None:
    found = h.falling()
    (series,) = history(found)["oil pressure"]
    assert values(series) == ["4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar"]
    assert [point.hours for point in series.points] == [0, 250, 500, 750, 1000]
    assert [point.date for point in series.points][1] == h.FIRST + timedelta(days=50, minutes=1)
    assert all(point.marks == () for point in series.points)
    assert list(history(found)) == ["oil pressure"]  # the meter is no series


@given(st.randoms(use_true_random=False))
def test_the_order_of_the_sessions_does_not_matter(chance: random.Random) -> None:
    sessions = h.falling() | {
        "wrong-meter": h.visit(120, h.meter(9000), h.reading("3.9 bar")),
        "no-meter": h.visit(130, h.reading("3.9 bar")),
        "no-clock": h.visit(0, h.meter(600), h.reading("3.9 bar"), wall=[datetime(1970, 1, 1, tzinfo=UTC)] * 2),
    }
    names = list(sessions)
    chance.shuffle(names)
    assert history({name: sessions[name] for name in names}) == history(sessions)


def test_what_was_withdrawn_is_left_out_and_what_is_in_doubt_stays_marked() -> None:
    wrong = h.reading("9.9 bar")
    found = history(
        {
            "one": h.visit(0, h.meter(100), wrong, h.withdrawn(wrong), h.reading("4.2 bar")),
            "two": h.visit(50, h.meter(300, "mumbled"), h.reading("4.1 bar", doubt="heard with confidence 0.44")),
        }
    )
    (series,) = found["oil pressure"]
    assert values(series) == ["4.2 bar", "4.1 bar"]
    assert marked(series, Mark.IN_DOUBT) == ["two"]
    assert marked(series, Mark.HOURS_IN_DOUBT) == ["two"]
    assert series.points[1].hours == 300


def test_a_meter_read_again_counts_as_read_last() -> None:
    first = h.meter(100)
    found = history({"one": h.visit(0, first, h.withdrawn(first), h.reading("4.2 bar"), h.meter(110))})
    assert found["oil pressure"][0].points[0].hours == 110


# --- where a new series begins -------------------------------------------------------------------------------


def test_an_adjustment_begins_a_new_series() -> None:
    found = history(
        {
            "one": h.visit(0, h.meter(0), belt("9 mm")),
            "two": h.visit(50, h.meter(250), belt("11 mm"), belt("8 mm", LEFT)),
            "three": h.visit(100, h.meter(500), belt("9 mm")),
        }
    )
    before, after = found["belt deflection"]
    assert (values(before), before.begun) == (["9 mm", "11 mm"], "")
    assert (values(after), after.begun) == (["8 mm", "9 mm"], "adjusted")
    assert [point.reading.stage for point in after.points] == [LEFT, FOUND]


def test_what_was_left_at_first_and_put_right_is_not_what_was_left() -> None:
    found = history(
        {
            "one": h.visit(0, h.meter(0), torque("31 N.m"), torque("37 N.m")),
            "two": h.visit(50, h.meter(250), torque("36 N.m")),
        }
    )
    (series,) = found["plug torque"]
    assert values(series) == ["37 N.m", "36 N.m"]


def test_a_part_begins_a_new_series_of_the_readings_that_it_names() -> None:
    found = history(
        {
            "one": h.visit(0, h.meter(0), belt("9 mm"), h.reading("4.2 bar")),
            "two": h.visit(50, h.meter(250), h.part("alternator belt"), h.part("oil filter"), h.reading("4.1 bar")),
            "three": h.visit(100, h.meter(500), belt("7 mm"), h.reading("3.9 bar")),
        }
    )
    before, after = found["belt deflection"]
    assert (values(before), values(after)) == (["9 mm"], ["7 mm"])
    assert before.ended == after.begun == "alternator belt fitted"
    assert len(found["oil pressure"]) == 1  # a filter is fitted at every oil change


def test_a_part_ends_a_series_before_anything_is_read_of_it() -> None:
    found = history(
        {
            "one": h.visit(0, h.meter(0), belt("9 mm"), h.reading("4.2 bar")),
            "two": h.visit(50, h.meter(250), h.part("alternator belt")),
        }
    )
    assert [series.ended for series in found["belt deflection"]] == ["alternator belt fitted"]
    assert [series.ended for series in found["oil pressure"]] == [""]


def test_another_kind_of_quantity_begins_a_new_series() -> None:
    found = history(
        {
            "one": h.visit(0, h.meter(0), h.reading("480 N", "belt tension", "")),
            "two": h.visit(50, h.meter(250), h.reading("60 Hz", "belt tension", "")),
        }
    )
    assert [series.begun for series in found["belt tension"]] == ["", "measured as frequency"]


# --- what is not believed ------------------------------------------------------------------------------------


@pytest.mark.parametrize("wrong", [9000.0, 1.0])
def test_one_misread_meter_among_many_is_found(wrong: float) -> None:
    (series,) = history(h.falling() | {"misread": h.visit(120, h.meter(wrong), h.reading("3.9 bar"))})["oil pressure"]
    assert marked(series, Mark.HOURS_WRONG) == ["misread"]
    assert [point.hours for point in series.points] == [0, 250, 500, None, 750, 1000]
    assert series.points[3].read == wrong  # what was read stays in sight


def test_of_two_meters_that_contradict_each_other_neither_is_believed() -> None:
    readings = [0, 250, 500, 750, 740]
    sessions = {
        f"visit-{number}": h.visit(50 * number, h.meter(hours), h.reading("4 bar"))
        for number, hours in enumerate(readings)
    }
    (series,) = history(sessions)["oil pressure"]
    assert marked(series, Mark.HOURS_WRONG) == ["visit-3", "visit-4"]


def test_a_new_meter_makes_the_fewer_hours_unusable() -> None:
    readings = [1000, 1250, 1500, 3, 250]
    sessions = {
        f"visit-{number}": h.visit(50 * number, h.meter(hours), h.reading("4 bar"))
        for number, hours in enumerate(readings)
    }
    (series,) = history(sessions)["oil pressure"]
    assert [point.hours for point in series.points] == [1000, 1250, 1500, None, None]


def test_a_clock_that_was_set_during_a_visit_is_not_trusted_and_its_hours_are() -> None:
    jump = [h.FIRST - timedelta(days=400), h.FIRST + timedelta(days=70)]
    sessions = h.falling() | {"set": h.visit(0, h.meter(375), h.reading("4 bar"), wall=jump)}
    (series,) = history(sessions)["oil pressure"]
    assert marked(series, Mark.DATE_WRONG) == ["set"]
    point = series.points[2]  # by its hours, not by its date
    assert (point.session, point.hours, point.day) == ("set", 375, None)


def test_a_board_that_woke_in_1970_is_not_trusted() -> None:
    woke = [datetime(1970, 1, 1, 0, minute, tzinfo=UTC) for minute in (1, 2)]
    (series,) = history(h.falling() | {"woke": h.visit(0, h.meter(600), h.reading("4 bar"), wall=woke)})["oil pressure"]
    assert marked(series, Mark.DATE_WRONG) == ["woke"]
    assert [point.hours for point in series.points] == [0, 250, 500, 600, 750, 1000]


def test_a_clock_that_stood_still_between_visits_is_found_by_the_hours() -> None:
    """A board without a battery goes on from where it was switched off: 150 h more on the meter, one day later."""
    (series,) = history(h.falling() | {"stood": h.visit(101, h.meter(650), h.reading("3.9 bar"))})["oil pressure"]
    assert marked(series, Mark.DATE_WRONG) == ["visit-2", "stood"]  # one of the two
    assert all(point.hours is not None for point in series.points)


def test_hours_that_the_time_allows_are_believed() -> None:
    """A set that runs day and night, its meter read in whole hours."""
    sessions = {
        f"visit-{number}": h.visit(day, h.meter(hours), h.reading("4 bar"))
        for number, (day, hours) in enumerate([(0, 0), (10, 242), (10.1, 245), (20, 483)])
    }
    (series,) = history(sessions)["oil pressure"]
    assert all(point.marks == () for point in series.points)


def test_a_visit_without_meter_stands_by_its_date() -> None:
    (series,) = history(h.falling() | {"short": h.visit(60, h.reading("4 bar"))})["oil pressure"]
    assert [point.session for point in series.points][:4] == ["visit-0", "visit-1", "short", "visit-2"]
    assert (series.points[2].hours, series.points[2].marks) == (None, ())


def test_a_visit_with_neither_hours_nor_date_stands_first_and_nowhere_in_time() -> None:
    woke = [datetime(1970, 1, 1, tzinfo=UTC)]
    (series,) = history(h.falling() | {"lost": h.visit(0, h.reading("4 bar"), wall=woke)})["oil pressure"]
    assert (series.points[0].session, series.points[0].hours, series.points[0].day) == ("lost", None, None)


def test_a_broken_visit_that_goes_on_after_a_boot_is_trusted() -> None:
    told = h.visit(0, h.meter(5), h.reading("4 bar"))
    later = h.visit(2, h.reading("4.1 bar", "boost pressure"))
    found = history({"one": [*told, *later]})
    assert found["boost pressure"][0].points[0].marks == ()
    assert found["boost pressure"][0].points[0].hours == 5


def test_nothing_comes_of_nothing() -> None:
    assert history({}) == {}
    assert history({"empty": [], "hours only": h.visit(0, h.meter(5))}) == {}
