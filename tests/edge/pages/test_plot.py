"""A trend as a picture: well-formed, complete, and readable without colour."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from datetime import timedelta

import histories as h
import pytest

from assistant.edge.pages.plot import svg
from assistant.session.history import history
from assistant.trends import in_words, trend

NAMESPACE = "{http://www.w3.org/2000/svg}"


def picture(sessions: dict[str, h.Told], name: str = "oil pressure", asset: str = "marram-auxiliary") -> str:
    *earlier, newest = history(sessions)[name]
    return svg(asset, trend(newest), earlier)


def texts(drawn: str) -> list[str]:
    return [element.text or "" for element in ElementTree.fromstring(drawn).iter(f"{NAMESPACE}text")]


def shapes(drawn: str, tag: str, name: str) -> list[ElementTree.Element]:
    return [one for one in ElementTree.fromstring(drawn).iter(f"{NAMESPACE}{tag}") if one.get("class") == name]


def adjusted() -> dict[str, h.Told]:
    again = h.visit(260, h.meter(1250), h.reading("3.4 bar"), h.reading("4.2 bar", stage=h.LEFT))
    return h.falling() | {"adjusted": again}


def test_the_small_series_is_drawn_with_all_that_is_said_of_it() -> None:
    drawn = picture(h.falling())
    words = texts(drawn)
    assert "Oil pressure, marram-auxiliary" in words
    assert {"low limit 3.0 bar", "high limit 6.0 bar", "2033 h", "run hours", "bar"} <= set(words)
    assert len(shapes(drawn, "circle", "found")) == 5 + 1  # and one in the legend
    assert len(shapes(drawn, "line", "limit")) == 2
    assert len(shapes(drawn, "polygon", "band")) == 1
    root = ElementTree.fromstring(drawn)
    assert root.findtext(f"{NAMESPACE}desc") == in_words(trend(history(h.falling())["oil pressure"][-1]))
    assert in_words(trend(history(h.falling())["oil pressure"][-1])) in " ".join(words).replace(
        "\N{NO-BREAK SPACE}", " "
    )


def test_points_stand_where_their_values_are() -> None:
    drawn = picture(h.falling())
    marks = shapes(drawn, "circle", "found")[:5]
    x = [float(mark.get("cx", "nan")) for mark in marks]
    y = [float(mark.get("cy", "nan")) for mark in marks]
    low, high = (float(line.get("y1", "nan")) for line in reversed(shapes(drawn, "line", "limit")))
    for hours, at in zip((0, 250, 500, 750, 1000), x, strict=True):
        assert at == pytest.approx(x[0] + (x[4] - x[0]) * hours / 1000, abs=0.11)
    for value, at in zip((4.2, 4.1, 3.9, 3.8, 3.6), y, strict=True):
        assert at == pytest.approx(low + (high - low) * (value - 3) / 3, abs=0.11)


def test_found_and_left_differ_by_shape_and_an_earlier_series_is_told() -> None:
    drawn = picture(adjusted())
    assert len(shapes(drawn, "path", "left")) == 1 + 1
    words = texts(drawn)
    assert {"reading as left", "pale: an earlier series", "a new series: adjusted"} <= set(words)
    assert "reading as found" not in words  # none in the newest series


def test_what_is_not_there_has_no_place_in_the_legend() -> None:
    words = texts(picture({"one": h.visit(0, h.meter(5), h.reading("4 bar", limits=""))}))
    assert "reading as found" in words
    assert not {"reading as left", "ringed: in doubt", "dotted: an extrapolation"} & set(words)
    assert not any("limit" in one and "limits" not in one for one in words[:8])


def test_a_doubtful_reading_is_ringed() -> None:
    drawn = picture(h.falling() | {"sixth": h.visit(250, h.meter(1250), h.reading("3.5 bar", doubt="mumbled"))})
    assert len(shapes(drawn, "circle", "doubt")) == 1 + 1
    assert "ringed: in doubt" in texts(drawn)


def test_dates_stand_below_where_no_hours_were_read() -> None:
    values = ("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar")
    words = texts(picture({f"visit-{n}": h.visit(50 * n, h.reading(value)) for n, value in enumerate(values)}))
    assert "date" in words
    assert "18 February 2025" in words
    assert 2 <= len([word for word in words if re.fullmatch(r"[A-Z][a-z]{2} \d{4}", word)]) <= 5


@pytest.mark.parametrize("days", [0, 0.01, 3, 40, 400, 4000])
def test_any_span_of_dates_has_ticks_and_keeps_them_in_the_field(days: float) -> None:
    sessions = {f"visit-{n}": h.visit(days * n / 2, h.reading("4 bar")) for n in range(3)}
    places = re.findall(r'<text x="([\d.]+)"[^>]*text-anchor="middle">([^<]+)</text>', picture(sessions))
    assert 1 <= len(places) <= 5
    assert all(56 <= float(x) <= 444 for x, _ in places)


def test_readings_that_cannot_be_placed_or_compared_are_not_drawn() -> None:
    sessions = {
        "one": h.visit(0, h.meter(0), h.reading("480 N", "belt tension", "")),
        "two": h.visit(50, h.meter(250), h.reading("60 Hz", "belt tension", "")),
        "three": h.visit(100, h.reading("61 Hz", "belt tension", "")),
    }
    assert len(shapes(picture(sessions, "belt tension"), "circle", "found")) == 2 + 1
    lost = {"lost": h.visit(0, h.reading("4 bar"), wall=[h.FIRST - timedelta(days=20_000)])}
    assert shapes(picture(lost), "circle", "found") == []


def test_names_cannot_act() -> None:
    hostile = '<script>alert("1")</script>'
    drawn = picture({"one": h.visit(0, h.meter(5), h.reading("4 bar", hostile))}, hostile, hostile)
    assert "<script" not in drawn
    assert "<script>" in " ".join(texts(drawn))
