"""What is measured and worked out: limits, instruments, and the earlier readings that a value refers to.

Knows what readings may be. Refuses to know formulas: a value that is worked out tries itself (`CalculatedValue.tried`).
"""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping
from dataclasses import replace

from assistant.errors import QuantityError
from assistant.procedure.checks.placed import placed
from assistant.procedure.checks.state import no_variable
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.measured import Judged, Measured
from assistant.procedure.problem import Path, Problem
from assistant.quantities import Quantity


def believable_limits(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What a reading is judged by lies in what is believed of it."""
    for path, step in placed(procedure):
        for taken in step.measurements():
            measured = taken.measured
            if measured.relative_to is not None:
                continue  # the limits are of a difference
            ends = ((key, end) for key, limits in measured.every_limits() for end in (limits.low, limits.high))
            for key, end in ends:
                if end is not None and measured.believable.side(end) != 0:
                    yield Problem(
                        (*path, *taken.at, key),
                        f"the limit {end} lies outside what is believable ({measured.believable})",
                        "Widen `believable` or correct `limits`",
                    )


def judging(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What limits, rules and instruments refer to is there."""
    earlier: dict[str, Measured] = {}
    for path, step in placed(procedure):
        for taken in step.measurements():
            where, measured = (*path, *taken.at), taken.measured
            yield from _by_state(where, measured, equipment)
            yield from _relative(where, measured, earlier)
            yield from _with_instrument(where, measured, equipment)
            instrument = equipment.instruments.get(measured.instrument or "")
            width = measured.uncertainty or (instrument.uncertainty if instrument else None)
            yield from _guarded(where, measured, width)
        worked_out = step.works_out()
        if worked_out is not None:
            yield from _by_state(path, worked_out, equipment)
            yield from _guarded(path, worked_out, worked_out.uncertainty)
        reading = step.reading()
        if reading is not None:
            earlier[step.id] = reading


def _by_state(path: Path, judged: Judged, equipment: Equipment) -> Iterator[Problem]:
    for name in judged.limits_when:
        if name not in equipment.state:
            yield no_variable((*path, "limits_when", name), name, equipment)


def _guarded(path: Path, judged: Judged, width: Quantity | None) -> Iterator[Problem]:
    """width: what the guarded rule takes from the limits."""
    if judged.guarded and width is None:
        cause = f"the guarded rule of {judged.name!r} needs an uncertainty"
        yield Problem((*path, "decision"), cause, "Give `uncertainty`, or an `instrument` that has one")


def _relative(path: Path, measured: Measured, earlier: Mapping[str, Measured]) -> Iterator[Problem]:
    if measured.relative_to is None:
        return
    other = earlier.get(measured.relative_to)
    where = (*path, "relative_to")
    if other is None:
        yield _no_reading(where, measured.relative_to, earlier)
    elif other.believable.kind is not measured.believable.kind:
        cause = f"{measured.name!r} is {measured.believable.kind}, {other.name!r} is {other.believable.kind}"
        yield Problem(where, cause, "Compare readings of one kind")


def _no_reading(path: Path, step: str, earlier: Mapping[str, Measured]) -> Problem:
    near = difflib.get_close_matches(step, earlier, n=1)
    remedy = f"Did you mean {near[0]!r}" if near else "Name the step of a reading that comes before"
    return Problem(path, f"no step {step!r} takes a reading before this one", remedy)


def _with_instrument(path: Path, measured: Measured, equipment: Equipment) -> Iterator[Problem]:
    name = measured.instrument
    if name is None:
        return
    instrument, where = equipment.instruments.get(name), (*path, "instrument")
    if instrument is None:
        near = difflib.get_close_matches(name, equipment.instruments, n=1)
        remedy = f"Did you mean {near[0]!r}" if near else "Add it under `instruments` in equipment.yaml"
        yield Problem(where, f"there is no instrument {name!r}", remedy)
    elif instrument.uncertainty is not None and not _is_width(instrument.uncertainty, measured.unit):
        cause = f"the uncertainty of {name!r}, {instrument.uncertainty}, is none of a reading in {measured.unit}"
        yield Problem(where, cause, "Name the instrument that reads this")


def _is_width(width: Quantity, unit: str) -> bool:
    try:
        return width.difference_in(unit) >= 0
    except QuantityError:
        return False


def calculations(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """What is worked out rests on readings that come before it, and comes out with values such as they may have."""
    earlier: dict[str, Measured] = {}
    for path, step in placed(procedure):
        reading, worked_out = step.reading(), step.works_out()
        if reading is not None:
            earlier[step.id] = reading
        if worked_out is None:
            continue
        inputs = [(name, other) for name, steps in worked_out.readings.items() for other in steps]
        missing = [(name, other) for name, other in inputs if other not in earlier]
        yield from (_no_reading((*path, "inputs", name), other, earlier) for name, other in missing)
        if not missing:
            yield from (replace(found, path=(*path, *found.path)) for found in worked_out.tried(earlier))
