"""Histories of an asset written by hand: visits as facts, and as session folders."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import samples

from assistant.quantities import parse_limits
from assistant.session import facts as f
from assistant.session import inputs as i

FIRST = datetime(2024, 1, 8, 8, tzinfo=UTC)
LIMITS = "3.0 bar to 6.0 bar"
FOUND, LEFT = f.ReadingStage.AS_FOUND, f.ReadingStage.AS_LEFT

Told = list[tuple[f.Fact, i.Instant]]


def reading(
    value: str,
    name: str = "oil pressure",
    limits: str = LIMITS,
    stage: f.ReadingStage = FOUND,
    doubt: str = "",
    task: str = "service",
) -> f.ReadingRecorded:
    amount = samples.quantity(value)
    side = parse_limits(limits).side(amount) if limits else 0
    verdict = (f.ReadingVerdict.LOW, f.ReadingVerdict.WITHIN, f.ReadingVerdict.HIGH)[side + 1]
    verdict = verdict if limits else f.ReadingVerdict.NO_LIMIT
    place = f.StepPlace(task, name)
    return f.ReadingRecorded(place, name, amount, stage, limits, verdict, 0.95, doubt, None, i.Source.VOICE)


def meter(hours: float, doubt: str = "") -> f.ReadingRecorded:
    return reading(f"{hours} h", "run hours", "", doubt=doubt)


def part(name: str, task: str = "service") -> f.PartFitted:
    return f.PartFitted(f.StepPlace(task, "part"), name, "AB-1", "B 1", "", 0.9, None, i.Source.VOICE)


def withdrawn(fact: f.ReadingRecorded) -> f.ReadingWithdrawn:
    return f.ReadingWithdrawn(fact.place, fact.name, fact.quantity)


def visit(day: float, *facts: f.Fact, wall: Sequence[datetime] = ()) -> Told:
    """A fact a minute, so many days after the first visit. wall: what the clock showed instead."""
    began = FIRST + timedelta(days=day)
    dates = wall or [began + timedelta(minutes=number) for number in range(len(facts))]
    return [
        (fact, i.Instant(date.isoformat(), 60.0 * number, f"boot {day}"))
        for number, (fact, date) in enumerate(zip(facts, dates, strict=True))
    ]


def falling() -> dict[str, Told]:
    """The small series of trade-checks, item 8: 4.2 to 3.6 bar over 1000 h; a visit every 50 days."""
    values = ("4.2 bar", "4.1 bar", "3.9 bar", "3.8 bar", "3.6 bar")
    return {
        f"visit-{number}": visit(50 * number, meter(250.0 * number), reading(value))
        for number, value in enumerate(values)
    }


def save(root: Path, sessions: dict[str, Told], asset: str = "marram-auxiliary") -> Path:
    """The sessions as folders below `root`."""
    for name, told in sessions.items():
        ordered = i.Order(asset, "twin-9", "technician", ("service",), (), True)
        pen = samples.Pen(began=datetime.fromisoformat(told[0][1].wall), boot=told[0][1].boot)
        pen.write(i.WorkOrdered(ordered), f.WorkTakenUp(ordered, "Service", len(told)))
        for fact, _ in told:
            pen.wait(60)
            pen.write(i.ButtonPressed(1), fact)
        pen.save(root / name)
    return root
