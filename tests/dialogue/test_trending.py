"""A trend by voice: one message for each outcome, and this visit's facts treated as the earlier ones' are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import histories as h
import pytest

from assistant.dialogue import messages as m
from assistant.dialogue.trending import MESSAGE_OF, trend_of_reading
from assistant.dialogue.turn import Turn
from assistant.edge.files.histories import trend_line
from assistant.edge.files.language import english
from assistant.edge.files.library import order_work
from assistant.quantities import parse
from assistant.session import facts as f
from assistant.session.applying import fold
from assistant.session.history import history
from assistant.trends import TrendOutcome, trend

ORDERED = order_work("bench", ("service",), "technician", Path(__file__).parent.parent / "dialogues")
TAKEN_UP = f.WorkTakenUp(ORDERED.order, "Service", 8)
LANGUAGE = english()
FEW = 20  # words; a number counts as one, a unit as another
REACHES = m.TrendReaches("oil pressure", *map(parse, ("3.0 bar", "2033 h", "1716 h", "2495 h")))


def asked(earlier: Mapping[str, h.Told], *now: f.Fact, name: str = "oil pressure", day: float = 250) -> m.Message:
    """What is said of a reading in a visit in which this was recorded."""
    facts = h.visit(day, TAKEN_UP, *now)
    return trend_of_reading(Turn(replace(ORDERED.work, earlier=earlier), fold(facts), facts[-1][1]), name)


def visits(*values: str, limits: str = h.LIMITS, hours: bool = True) -> dict[str, h.Told]:
    """These values, one a visit."""
    return {
        f"visit-{number}": h.visit(
            50 * number, *((h.meter(250 * number),) if hours else ()), h.reading(value, limits=limits)
        )
        for number, value in enumerate(values)
    }


def after(earlier: dict[str, h.Told]) -> m.Message:
    """What is said of these visits, the last of them now."""
    *before, now = earlier
    facts = [fact for fact, _ in earlier[now]]
    return asked({name: earlier[name] for name in before}, *facts, day=50 * len(before))


@pytest.mark.parametrize(
    ("values", "limits", "kind"),
    [
        (("4.2 bar",), h.LIMITS, m.TrendNotYet),
        (("4.2 bar", "4.1 bar"), h.LIMITS, m.TrendNotYet),
        (("4.2 bar", "2.9 bar"), h.LIMITS, m.TrendOut),
        (("4.2 bar", "4.1 bar", "4.2 bar", "4.1 bar"), h.LIMITS, m.TrendUnclear),
        ((*["4.2 bar"] * 6, "3.4 bar", "3.3 bar"), h.LIMITS, m.TrendOfFew),
        (("4.20 bar", "4.10 bar", "4.00 bar", "3.90 bar"), "", m.TrendWithoutLimit),
        (("4.20 bar", "4.10 bar", "4.00 bar", "3.90 bar"), "at most 5 bar", m.TrendAway),
        (("3.50 bar", "3.30 bar", "3.12 bar", "2.92 bar", "3.01 bar"), "at least 3.00 bar", m.TrendPast),
        (("4.200 bar", "4.199 bar", "4.198 bar", "4.195 bar"), h.LIMITS, m.TrendFar),
        (("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar"), h.LIMITS, m.TrendReaches),
        (("4.2 bar", "4.2 bar", "4.1 bar", "4.1 bar", "4.0 bar"), "at least 3.0 bar", m.TrendReachesNotBefore),
    ],
)
@pytest.mark.parametrize("hours", [True, False])
def test_each_outcome_has_its_message(values: tuple[str, ...], limits: str, kind: type[m.Message], hours: bool) -> None:
    all_visits = visits(*values, limits=limits, hours=hours)
    said = after(all_visits)
    assert type(said) is kind
    words = LANGUAGE.wording.text(said)
    if kind not in (m.TrendNotYet, m.TrendReaches):  # these the page puts a little otherwise
        assert words == trend_line(trend(history(all_visits)["oil pressure"][-1]))
    assert len(words.split()) < FEW
    assert "{" not in LANGUAGE.wording.aloud(said)


def test_every_outcome_is_in_the_table() -> None:
    assert set(MESSAGE_OF) == set(TrendOutcome)


def test_a_date_is_said_as_one() -> None:
    said = after(visits("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar", hours=False))
    assert LANGUAGE.wording.text(said).endswith(
        "at about 18 February 2025, between 16 December 2024 and 22 May 2025. Extrapolated."
    )


def test_nothing_was_ever_measured() -> None:
    assert asked({}) == m.TrendNotYet("oil pressure")
    assert asked(h.falling(), name="boost") == m.TrendNotYet("boost")


def test_this_visit_counts_once_it_is_recorded() -> None:
    assert asked(h.falling()) == REACHES
    now = h.meter(1250), h.reading("3.5 bar")
    assert asked(h.falling(), *now) == asked(h.falling() | {"sixth": h.visit(250, *now)}) != REACHES


def test_a_withdrawn_reading_does_not() -> None:
    reading = h.reading("3.5 bar")
    assert asked(h.falling(), h.meter(1250), reading, h.withdrawn(reading)) == REACHES


def test_a_doubtful_one_does() -> None:
    now = h.meter(1250), h.reading("3.5 bar", doubt="mumbled")
    assert asked(h.falling(), *now) == asked(h.falling(), now[0], h.reading("3.5 bar"))


@pytest.mark.parametrize(
    "now",
    [
        (h.part("fresh oil"), h.reading("4.2 bar")),
        (h.part("fresh oil"),),
        (h.reading("3.4 bar"), h.reading("4.2 bar", stage=h.LEFT)),
    ],
    ids=["a part fitted and measured", "a part fitted", "adjusted"],
)
def test_a_new_series_begins_in_this_visit(now: tuple[f.Fact, ...]) -> None:
    assert asked(h.falling(), h.meter(1250), *now) == m.TrendNotYet("oil pressure")
