"""Calculations, measured on one core: 10,000 readings summarised, and the start of `enginebay calc`.

    python -m tests.bench.calculations [--json FILE]

A summary is mean, spread, Grubbs' doubt, least squares with a prediction, Theil and Sen's line. A start is the median
of new processes, beside that of `python -c pass` in the same run. Nothing here asserts: absolute times belong to a
machine.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import numpy as np

from assistant.calculations import FORMULAS
from assistant.quantities import Quantity

READINGS, SERIES = 10_000, 100
STARTS = 11
BELT = ("belt-tension-from-deflection", "force=30 N", "span=320 mm", "deflection=5 mm")
COMMANDS: dict[str, tuple[str, ...]] = {
    "python -c pass": ("-c", "pass"),
    "enginebay calc": ("-m", "assistant", "calc"),
    "enginebay calc, no conversion": ("-m", "assistant", "calc", *BELT),
    "enginebay calc, converted": ("-m", "assistant", "calc", *BELT[:2], "span=12 in", "deflection=5 mm"),
    "enginebay calc, a trend (scipy, numpy)": (
        *("-m", "assistant", "calc", "trend-limit", "hours=0 h,250 h,500 h,750 h,1000 h"),
        *("readings=4.2 bar,4.1 bar,3.9 bar,3.8 bar,3.6 bar", "limit=3.0 bar"),
    ),
}


def seconds(work: Callable[[], object]) -> float:
    """How long it takes, best of three after one to load what it needs."""
    work()
    taken = []
    for _ in range(3):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def starts() -> dict[str, float]:
    """Median seconds of a new process for each command; the commands take turns."""
    taken: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(STARTS):
        for name, arguments in COMMANDS.items():
            begun = time.perf_counter()
            subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
            taken[name].append(time.perf_counter() - begun)
    return {name: statistics.median(each) for name, each in taken.items()}


def readings(count: int, unit: str) -> tuple[tuple[Quantity, ...], tuple[Quantity, ...]]:
    """Hours and readings of a slowly falling pressure, with noise."""
    chance = np.random.default_rng(1)
    hours = np.sort(chance.uniform(0, 10_000, count))
    values = 60 - 0.001 * hours + chance.normal(0, 0.5, count)
    return (
        tuple(Quantity(Decimal(f"{hour:.1f}"), "h") for hour in hours),
        tuple(Quantity(Decimal(f"{value:.1f}"), unit) for value in values),
    )


def summarise(hours: tuple[Quantity, ...], values: tuple[Quantity, ...]) -> None:
    """What the table of formulas says of a series."""
    at = Quantity(Decimal(12_000), "h")
    FORMULAS["samples"].compute({"readings": values})
    FORMULAS["trend-prediction"].compute({"hours": hours, "readings": values, "at": at})


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--json", type=Path, help="write the figures here too")
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {sorted(os.sched_getaffinity(0))[0]})
    one = readings(READINGS, "psi")
    mixed = (one[0], (Quantity(Decimal("410.0"), "kPa"), *one[1][1:]))  # all are brought to the unit of the first
    short = [readings(READINGS // SERIES, "psi")] * SERIES
    rows = [
        {
            "name": f"{READINGS} readings summarised, one series",
            "seconds": seconds(lambda: summarise(*one)),
            "aim": 1.0,
        },
        {"name": "the same, each converted from psi to kPa", "seconds": seconds(lambda: summarise(*mixed)), "aim": 1.0},
        {
            "name": f"{READINGS} readings, {SERIES} series",
            "seconds": seconds(lambda: [summarise(*each) for each in short]),
            "aim": 1.0,
        },
    ]
    begun = starts()
    bare = begun["python -c pass"]
    rows += [
        {"name": f"start: {name}", "seconds": taken, "times python -c pass": round(taken / bare, 1), "aim": 1.0}
        for name, taken in begun.items()
    ]
    machine = f"{platform.machine()}, one core, Python {platform.python_version()}, numpy {np.__version__}"
    print(f"{datetime.date.today()}, {machine}")
    for row in rows:
        row["seconds"] = round(float(str(row["seconds"])), 3)
        ratio = f"{row['times python -c pass']} x" if "times python -c pass" in row else ""
        print(f"{row['name']:<52}{row['seconds']:>8.3f} s  {ratio:<8} aim {row['aim']:g} s")
    if options.json:
        report = {"date": str(datetime.date.today()), "machine": machine, "starts": STARTS, "figures": rows}
        options.json.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
