"""What is said of a series: against values computed by hand and with statsmodels, and in words."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import histories as h
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from assistant.dialogue.trending import MESSAGE_OF
from assistant.edge.files.histories import trend_line
from assistant.quantities import Limits, Quantity
from assistant.session.history import history
from assistant.trends import (
    FOR_THE_PAGE,
    Axis,
    Movement,
    Trend,
    TrendOutcome,
    document,
    in_words,
    trend_arguments,
)
from assistant.trends import trend as trend_of


def trend(*values: str, every: float = 250, limits: str = h.LIMITS, name: str = "oil pressure") -> Trend:
    """The trend of values, one a visit, so many hours and 50 days apart."""
    sessions = {
        f"visit-{number:02}": h.visit(50 * number, h.meter(every * number), h.reading(value, name, limits))
        for number, value in enumerate(values)
    }
    return newest(sessions, name)


def newest(sessions: dict[str, h.Told], name: str = "oil pressure") -> Trend:
    return trend_of(history(sessions)[name][-1])


def test_the_small_series() -> None:
    # trade-checks item 8, recomputed with statsmodels
    found = newest(h.falling())
    assert found.outcome is TrendOutcome.REACHES
    assert found.axis is Axis.HOURS
    assert found.line is not None
    assert found.line.slope == pytest.approx(-0.0006)
    assert found.median_slope == pytest.approx(-0.0006)
    assert found.line.at(1500) == pytest.approx(3.320)
    assert found.line.margin(1500) == pytest.approx(0.1684, abs=5e-5)
    assert found.meeting is not None
    assert found.meeting.at == pytest.approx(2033.3, abs=0.05)
    assert trend_line(found) == "Oil pressure reaches 3.0 bar at about 2033 h, between 1716 and 2495 h. Extrapolated."
    assert in_words(found) == (
        "Oil pressure: 5 readings (0 h to 1000 h), the newest 3.6 bar. It falls by 0.60 bar in 1000 h (Theil and "
        "Sen: 0.60 bar). It reaches its limit of 3.0 bar at about 2033 h, with 95 % probability between 1716 and "
        "2495 h. This is an extrapolation beyond the last reading, 1000 h."
    )
    for edge, sign in ((found.meeting.earliest, -1), (found.meeting.latest, 1)):  # where the interval meets the limit
        assert found.line.at(edge) + sign * found.line.margin(edge) == pytest.approx(3.0)


def test_by_dates_where_no_hours_were_read() -> None:
    values = ("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar")
    found = newest({f"visit-{n}": h.visit(50 * n, h.reading(value)) for n, value in enumerate(values)})
    assert found.axis is Axis.DAYS
    assert found.meeting is not None
    # 250 h of the small series are 50 days here: 2033.3 h are 406.7 days after the first
    assert found.meeting.at == pytest.approx(h.FIRST.toordinal() + 8 / 24 + 2033.33 / 5, abs=0.01)
    assert document(found, "")["at"] == (h.FIRST + timedelta(days=406.67)).date().isoformat() == "2025-02-18"
    assert trend_line(found) == (
        "Oil pressure reaches 3.0 bar at about 18 February 2025, "
        "between 16 December 2024 and 22 May 2025. Extrapolated."
    )
    assert "falls by 1.1 bar in one year" in in_words(found)


# --- nothing can be said -------------------------------------------------------------------------------------


def test_one_reading_and_two() -> None:
    for found, count in ((trend("4.2 bar"), "one reading"), (trend("4.2 bar", "4.1 bar"), "2 readings")):
        assert found.outcome is TrendOutcome.FEW
        assert (found.line, found.meeting) == (None, None)
        assert trend_line(found) == f"Oil pressure: nothing can be said yet, from {count}."
        assert "takes three readings" in in_words(found)


def test_three_readings_at_one_time_are_few() -> None:
    assert trend("4.2 bar", "4.1 bar", "4.0 bar", every=0).outcome is TrendOutcome.FEW


@pytest.mark.parametrize(
    ("values", "limits", "outcome"),
    [
        (("4.2 bar",) * 5, h.LIMITS, TrendOutcome.FLAT),
        (("4.2 bar", "4.1 bar", "4.2 bar", "4.1 bar"), h.LIMITS, TrendOutcome.FLAT),
        (("4.20 bar", "4.10 bar", "4.00 bar", "3.90 bar"), "at most 5 bar", TrendOutcome.AWAY),
        (("4.20 bar", "4.10 bar", "4.00 bar", "3.90 bar"), "", TrendOutcome.NO_LIMIT),
        (("4.20 bar", "4.10 bar", "4.00 bar", "2.90 bar"), h.LIMITS, TrendOutcome.OUT),
        (("2.9 bar",), h.LIMITS, TrendOutcome.OUT),
        (("3.50 bar", "3.30 bar", "3.12 bar", "2.92 bar", "3.01 bar"), "at least 3.00 bar", TrendOutcome.PAST),
        (("3.50 bar", "3.40 bar", "3.32 bar", "3.20 bar"), "at least 3.00 bar", TrendOutcome.REACHES),
        (("4.200 bar", "4.199 bar", "4.198 bar", "4.195 bar"), h.LIMITS, TrendOutcome.FAR),
        ((*["4.2 bar"] * 6, "3.4 bar", "3.3 bar"), h.LIMITS, TrendOutcome.BENT),
    ],
)
def test_what_can_be_said(values: tuple[str, ...], limits: str, outcome: TrendOutcome) -> None:
    found = trend(*values, limits=limits)
    assert found.outcome is outcome
    assert ("at" in trend_arguments(found)[1]) == (outcome is TrendOutcome.REACHES)


def test_readings_scatter_by_their_resolution_at_least() -> None:
    """Five readings in a perfect line have no scatter; the interval would be of no width, which no reading earns."""
    found = trend("4.2 bar", "4.1 bar", "4.0 bar", "3.9 bar", "3.8 bar")
    assert found.line is not None
    assert found.line.residual == pytest.approx(0.1 / 12**0.5)
    assert found.meeting is not None
    assert found.meeting.latest - found.meeting.earliest > 500


def test_nothing_is_said_past_the_horizon() -> None:
    found = trend("4.2 bar", "4.2 bar", "4.1 bar", "4.1 bar", "4.0 bar", limits="at least 3.0 bar")
    assert found.meeting is not None
    assert found.meeting.latest > found.horizon
    assert document(found, "")["latest"] is None
    assert "not before" in trend_line(found)


# --- what is not in order ------------------------------------------------------------------------------------


def test_a_meter_that_went_backwards_is_left_out_and_told() -> None:
    found = newest(h.falling() | {"misread": h.visit(120, h.meter(9000), h.reading("5.9 bar"))})
    assert found.meeting is not None
    assert found.meeting.at == pytest.approx(2033.3, abs=0.05)
    assert [point.session for point in found.left_out] == ["misread"]
    assert "Left out: one reading, as the hour meter contradicts the order of the visits." in in_words(found)


def test_a_new_meter_turns_the_trend_to_dates() -> None:
    hours = (1000, 1250, 1500, 3, 250)
    values = ("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar")
    found = newest(
        {
            f"visit-{n}": h.visit(50 * n, h.meter(read), h.reading(value))
            for n, (read, value) in enumerate(zip(hours, values, strict=True))
        }
    )
    assert found.axis is Axis.DAYS
    assert len(found.used) == 5
    assert "By dates, as the hour meter contradicts the order of the visits." in in_words(found)


def test_an_untrusted_clock_is_told_where_hours_serve_and_left_out_where_not() -> None:
    jump = [h.FIRST - timedelta(days=400), h.FIRST + timedelta(days=70)]
    by_hours = newest(h.falling() | {"set": h.visit(0, h.meter(375), h.reading("4.0 bar"), wall=jump)})
    assert len(by_hours.used) == 6
    assert "a clock is not to be trusted" in in_words(by_hours)
    found = {f"visit-{n}": h.visit(50 * n, h.reading(value)) for n, value in enumerate(["4 bar"] * 3)}
    by_dates = newest(found | {"set": h.visit(0, h.reading("4 bar"), h.reading("4 bar", "boost"), wall=jump)})
    assert [point.session for point in by_dates.left_out] == ["set"]
    assert "Left out: one reading, as the clock of the visit is not to be trusted." in in_words(by_dates)


def test_a_doubtful_reading_counts_and_is_told() -> None:
    found = newest(h.falling() | {"sixth": h.visit(250, h.meter(1250), h.reading("3.5 bar", doubt="mumbled"))})
    assert len(found.used) == 6
    assert "Of these, one reading counted although the reading is in doubt." in in_words(found)


def test_a_visit_without_hours_is_left_out_of_hours() -> None:
    found = newest(h.falling() | {"short": h.visit(60, h.reading("5.9 bar"))})
    assert found.axis is Axis.HOURS
    assert "as no run hours were read in the visit" in in_words(found)


def test_no_reading_that_can_be_used() -> None:
    found = newest({"lost": h.visit(0, h.reading("4 bar"), wall=[h.FIRST.replace(year=1970)])})
    assert found.outcome is TrendOutcome.FEW
    assert found.used == ()
    assert in_words(found).startswith("Oil pressure: no reading that can be used.")


def test_a_new_series_is_told() -> None:
    again = h.visit(260, h.meter(1250), h.reading("3.4 bar"), h.reading("4.2 bar", stage=h.LEFT))
    found = newest(h.falling() | {"adjusted": again})
    assert found.outcome is TrendOutcome.FEW
    assert "This series began anew: adjusted, 24 September 2024." in in_words(found)


# --- units ---------------------------------------------------------------------------------------------------


def test_two_units_in_one_series() -> None:
    found = trend("420 kPa", "4.1 bar", "390 kPa", "3.8 bar", "3.6 bar")
    assert found.unit == "bar"
    assert found.values == pytest.approx((4.2, 4.1, 3.9, 3.8, 3.6))
    assert found.meeting is not None
    assert found.meeting.at == pytest.approx(2033.3, abs=0.05)


def test_a_limit_in_another_unit() -> None:
    found = trend("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar", limits="300 kPa to 600 kPa")
    assert found.limit is not None
    assert (float(found.limit.value), found.limit.unit) == (3.0, "bar")
    assert found.meeting is not None
    assert found.meeting.at == pytest.approx(2033.3, abs=0.05)


@pytest.mark.parametrize("limits", ["five bar", "10 mm to 12 mm"])
def test_limits_that_read_no_more_are_none(limits: str) -> None:
    sessions = h.falling()
    spoilt = replace(h.reading("3.5 bar", limits=""), limits=limits)
    assert newest(sessions | {"last": h.visit(250, h.meter(1250), spoilt)}).outcome is TrendOutcome.NO_LIMIT


def test_a_change_of_temperature_is_in_kelvin() -> None:
    found = trend("80.0 °C", "81.0 °C", "82.1 °C", "83.0 °C", limits="70 °C to 88 °C", name="coolant temperature")
    assert "rises by 4.0 K in 1000 h" in in_words(found)
    assert found.limit == Quantity(Decimal(88), "°C")


SCATTERED = st.lists(st.integers(-40, 40), min_size=4, max_size=12)


@given(SCATTERED, st.integers(-30, 30), st.lists(st.sampled_from(["bar", "psi", "kPa"]), min_size=12, max_size=12))
def test_the_unit_does_not_matter(noise: list[int], slope: int, units: list[str]) -> None:
    """Values of 5 bar with a slope and noise in hundredths, each found in any unit."""
    plain = [Quantity(Decimal(500 + slope * n + off).scaleb(-2), "bar") for n, off in enumerate(noise)]
    plain = [max(value, Quantity(Decimal("0.10"), "bar"), key=lambda q: q.value) for value in plain]
    mixed = [value.to(unit) for value, unit in zip(plain, units, strict=False)]
    one, other = (trend(*map(str, values), limits="0.5 bar to 9 bar") for values in (plain, mixed))
    if one.line is None or other.line is None:
        assert one.outcome is other.outcome
        return
    factor = float(Quantity(Decimal(1), one.unit).exactly(other.unit))
    assert other.line.slope == pytest.approx(one.line.slope * factor, rel=1e-4, abs=1e-6 * factor)
    assert other.median_slope == pytest.approx((one.median_slope or 0) * factor, rel=1e-4, abs=1e-6 * factor)
    assume(one.line.residual > 0.01 and one.meeting is not None and one.outcome is TrendOutcome.REACHES)
    assert one.meeting is not None
    assume(other.meeting is not None)  # a slope at the edge of clear may fall on either side by rounding
    assert other.meeting is not None
    assert other.meeting.at == pytest.approx(one.meeting.at, rel=1e-2)


# --- words ---------------------------------------------------------------------------------------------------

EXAMPLES = (
    trend("4.2 bar"),
    trend("2.9 bar"),
    trend(*["4.2 bar"] * 5),
    trend(*["4.2 bar"] * 6, "3.4 bar", "3.3 bar"),
    trend("4.20 bar", "4.10 bar", "4.00 bar", "3.90 bar", limits=""),
    trend("4.20 bar", "4.10 bar", "4.00 bar", "3.90 bar", limits="at most 5 bar"),
    trend("3.50 bar", "3.30 bar", "3.10 bar", "2.90 bar", "2.70 bar", "3.00 bar", limits="at least 3.00 bar"),
    trend("4.200 bar", "4.199 bar", "4.198 bar", "4.195 bar"),
    newest(h.falling()),
)


def test_every_outcome_has_its_words() -> None:
    assert {found.outcome for found in EXAMPLES} == set(TrendOutcome) == set(MESSAGE_OF) == set(FOR_THE_PAGE)


@pytest.mark.parametrize("found", EXAMPLES, ids=lambda found: found.outcome.value)
def test_the_ear_is_told_in_under_20_words(found: Trend) -> None:
    longer = trend_of(type(found.series)("raw water pressure", found.series.begun, found.series.points))
    for said in (trend_line(found), trend_line(longer)):
        assert len(said.split()) < 20
        assert "{" not in said
    assert in_words(found).endswith(".")


def test_arguments_for_a_message_are_typed() -> None:
    outcome, said = trend_arguments(newest(h.falling()))
    assert outcome is TrendOutcome.REACHES
    assert said["limit"] == Quantity(Decimal("3.0"), "bar")
    assert said["at"] == Quantity(Decimal(2033), "h")
    assert (said["readings"], said["moves"], said["per"]) == (5, Movement.FALLS, Axis.HOURS)
    assert isinstance(said["limits"], Limits)
    _, by_dates = trend_arguments(
        newest({f"visit-{n}": h.visit(50 * n, h.reading(f"{4.2 - n / 10:.1f} bar")) for n in range(5)})
    )
    assert isinstance(by_dates["at"], date)
