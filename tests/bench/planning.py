"""The order of a visit, measured on one core: 20 tasks, and small cases beside trying every order.

    python -m tests.bench.planning [--json FILE]

Twenty tasks are those of the Twin 9 and sixteen more such as a yearly service of a set has, over the same changes and
some more (fuel and sea cock shut, battery off, the cooling water drained). Harder ones are drawn at random: 20 tasks
that need and leave up to two of eight variables each, ten changes. Reasons are found too, which takes an order of its
own for each pair of neighbours. Nothing here asserts: absolute times belong to a machine.
"""

from __future__ import annotations

import argparse
import datetime
import json
import os
import platform
import random
import statistics
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from assistant.edge.places import procedures
from assistant.errors import ProcedureError
from assistant.planning.order import OrderedStage, order
from assistant.procedure.equipment import Equipment
from assistant.procedure.reading import read_equipment
from tests.planning.equipments import equipment, exhaustive

RANDOM_CASES = 20
SMALL_CASES = 5

AFTER = {"closed-up": "no", "tried-out": "no", "looked-over": "no"}
MORE: dict[str, dict[str, Any]] = {
    "fuel-filter": {"needs": {"isolated": "yes", "cold": "yes", "fuel-shut": "yes"}, "leaves": {**AFTER, "bled": "no"}},
    "water-separator": {"needs": {"isolated": "yes", "cold": "yes"}, "leaves": {**AFTER}},
    "air-element": {"needs": {"isolated": "yes"}, "leaves": {"closed-up": "no"}},
    "raw-water-impeller": {"needs": {"isolated": "yes", "sea-shut": "yes"}, "leaves": {**AFTER}},
    "anode": {"needs": {"isolated": "yes", "sea-shut": "yes", "cold": "yes"}, "leaves": {**AFTER}},
    "strainer": {"needs": {"sea-shut": "yes", "running": "no"}, "leaves": {}},
    "heat-exchanger": {"needs": {"isolated": "yes", "sea-shut": "yes", "cold": "yes"}, "leaves": {**AFTER}},
    "battery": {"needs": {"isolated": "yes", "battery-off": "yes"}, "leaves": {}},
    "starter-cables": {"needs": {"isolated": "yes", "battery-off": "yes"}, "leaves": {"tried-out": "no"}},
    "charger": {"needs": {"battery-off": "no", "running": "yes"}, "leaves": {}},
    "mounts": {"needs": {"isolated": "yes", "guard-on": "no"}, "leaves": {**AFTER}},
    "winding": {"needs": {"isolated": "yes", "battery-off": "yes", "cold": "yes"}, "leaves": {}},
    "exhaust-elbow": {"needs": {"isolated": "yes", "cold": "yes"}, "leaves": {**AFTER}},
    "valve-clearance": {"needs": {"isolated": "yes", "cold": "yes"}, "leaves": {**AFTER, "oil-warm": "no"}},
    "alarms": {"needs": {"running": "yes"}, "leaves": {}},
    "governor": {"needs": {"running": "yes", "guard-on": "yes"}, "leaves": {}},
}
MORE_CHANGES: dict[str, dict[str, Any]] = {
    "shut-fuel": {"needs": {"running": "no"}, "leaves": {"fuel-shut": "yes"}},
    "open-fuel": {"needs": {}, "leaves": {"fuel-shut": "no"}},
    "shut-sea": {"needs": {"running": "no"}, "leaves": {"sea-shut": "yes"}},
    "open-sea": {"needs": {}, "leaves": {"sea-shut": "no"}},
    "battery-away": {"needs": {"isolated": "yes"}, "leaves": {"battery-off": "yes"}},
    "battery-on": {"needs": {"isolated": "yes"}, "leaves": {"battery-off": "no"}},
    "bleed": {"needs": {"fuel-shut": "no", "isolated": "yes"}, "leaves": {"bled": "yes"}},
}


def yearly() -> Equipment:
    """The Twin 9 with twenty tasks."""
    base = read_equipment((procedures() / "twin-9" / "equipment.yaml").read_text(encoding="utf-8"))
    data = base.model_dump(mode="json")
    shipped = {name: {**task.model_dump(mode="json"), "takes": "10 min to 20 min"} for name, task in base.tasks.items()}
    for task in shipped.values():
        task.update(consumables=[], waste=[])
    changes = {
        name: {**change.model_dump(mode="json"), "takes": f"{change.minutes[0]:g} min to {change.minutes[1]:g} min"}
        for name, change in base.changes.items()
    }
    changes["run"]["needs"] |= {"fuel-shut": "no", "sea-shut": "no", "battery-off": "no", "bled": "yes"}
    more = {
        name: {**task, "does": ["touches-engine"] if "tried-out" in task["leaves"] else []}
        for name, task in MORE.items()
    }
    visit = data["visit"]
    for key in ("found", "left"):
        visit[key] |= {"fuel-shut": "no", "sea-shut": "no", "battery-off": "no", "bled": "yes"}
    return equipment({**shipped, **more}, {**changes, **MORE_CHANGES}, data["precautions"], visit)


def drawn(chance: random.Random, tasks: int, variables: int, changes: int) -> Equipment:
    """An equipment model by chance."""
    names = "abcdefgh"[:variables]

    def state(values: tuple[str, ...], least: int, most: int) -> dict[str, str]:
        return {name: chance.choice(values) for name in chance.sample(names, chance.randint(least, most))}

    every = {f"{name}-{value}": {"leaves": {name: value}} for name in names for value in ("yes", "no")}
    picked = chance.sample(sorted(every), min(changes, len(every)))
    return equipment(
        {
            f"t{number}": {"needs": state(("yes", "no"), 0, 2), "leaves": state(("yes", "no", "unknown"), 0, 2)}
            for number in range(tasks)
        },
        {
            name: {
                **every[name],
                "needs": state(("yes", "no"), 0, 1),
                "takes": f"{chance.randint(1, 30)} min to 30 min",
            }
            for name in picked
        },
        visit={"found": {name: chance.choice(("yes", "no")) for name in names}},
    )


def search(given: Equipment, tasks: tuple[str, ...]) -> tuple[OrderedStage, ...] | None:
    """The order without its reasons; None when there is none."""
    try:
        return order(given, tasks, with_reasons=False)
    except ProcedureError:
        return None


def seconds(work: Callable[[], object]) -> float:
    """How long it takes, best of three."""
    taken = []
    for _ in range(3):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def possible(chance: random.Random, tasks: int, variables: int, changes: int) -> tuple[Equipment, tuple[str, ...]]:
    """One drawn by chance that has an order."""
    while True:
        given = drawn(chance, tasks, variables, changes)
        names = tuple(given.tasks)
        if search(given, names) is not None:
            return given, names


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--json", type=Path, help="write the figures here too")
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {sorted(os.sched_getaffinity(0))[0]})
    whole = yearly()
    names = tuple(whole.tasks)
    stages = order(whole, names)
    rows: list[dict[str, object]] = []

    def row(name: str, taken: float, aim: float | None = None, **more: object) -> None:
        rows.append({"name": name, "seconds": round(taken, 4), **({"aim": aim} if aim else {}), **more})

    changes = len(stages) - len(names)
    row("20 tasks, the order alone", seconds(lambda: search(whole, names)), 1.0)
    row("20 tasks, with reasons", seconds(lambda: order(whole, names)), 1.0, changes=changes)
    chance = random.Random(1)
    hard = [possible(chance, 20, 8, 10) for _ in range(RANDOM_CASES)]
    taken = [seconds(partial(search, *case)) for case in hard]
    full = [seconds(partial(order, *case)) for case in hard]
    row(f"20 tasks by chance, median of {RANDOM_CASES}", statistics.median(taken), 1.0)
    row(f"20 tasks by chance, slowest of {RANDOM_CASES}", max(taken), 1.0)
    row("the same with reasons, median", statistics.median(full), 1.0)
    row("the same with reasons, slowest", max(full), 1.0)
    small = [possible(chance, 5, 5, 6) for _ in range(SMALL_CASES)]
    ours = sum(seconds(partial(search, *case)) for case in small)
    theirs = sum(seconds(partial(exhaustive, *case)) for case in small)
    row(f"5 tasks, {SMALL_CASES} cases", ours)
    row(f"5 tasks, {SMALL_CASES} cases, trying every order", theirs, times_the_search=round(theirs / ours, 1))
    machine = f"{platform.machine()}, one core, Python {platform.python_version()}"
    print(f"{datetime.date.today()}, {machine}")
    for one in rows:
        extra = {key: value for key, value in one.items() if key not in ("name", "seconds")}
        print(f"{one['name']:<52}{one['seconds']:>9.4f} s  {extra or ''}")
    if options.json:
        report = {"date": str(datetime.date.today()), "machine": machine, "figures": rows}
        options.json.write_text(json.dumps(report, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
