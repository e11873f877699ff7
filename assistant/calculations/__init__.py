"""The table of named formulas, and how it is shown: one file a topic, one row a formula.

`FORMULAS[name].compute({"force": "30 N", ...})` gives a `Result`. Procedures, the dialogue and `enginebay calc` name a
formula and give quantities; dimensions and limits of validity are held in `formula.py`. Loads nothing heavy.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from difflib import get_close_matches

from assistant.calculations import (
    battery,
    belt,
    compression,
    consumption,
    coolant,
    decision,
    generator,
    insulation,
    intervals,
    noise,
    torque,
    trend,
)
from assistant.calculations.formula import Formula, Given, Refusal, Result, written
from assistant.errors import CalculationError
from assistant.quantities import Quantity
from assistant.statements import calculations as s

TOPICS: dict[str, tuple[Formula, ...]] = {
    "belt": belt.FORMULAS,
    "coolant": coolant.FORMULAS,
    "battery": battery.FORMULAS,
    "insulation": insulation.FORMULAS,
    "generator": generator.FORMULAS,
    "torque": torque.FORMULAS,
    "oil and fuel": consumption.FORMULAS,
    "compression": compression.FORMULAS,
    "noise": noise.FORMULAS,
    "intervals": intervals.FORMULAS,
    "decisions": decision.FORMULAS,
    "trends": trend.FORMULAS,
}

FORMULAS: dict[str, Formula] = {row.name: row for rows in TOPICS.values() for row in rows}


def formula_named(name: str) -> Formula:
    """The row of this name. Errors: CalculationError with the names nearest to it."""
    if name in FORMULAS:
        return FORMULAS[name]
    near = [each for each in FORMULAS if name and name.casefold() in each] or get_close_matches(name, FORMULAS, 3)
    remedy = f"Use {' or '.join(near)}" if near else "enginebay calc lists them"
    raise CalculationError(name or "calc", "there is no such calculation", remedy)


def parse_inputs(words: list[str]) -> dict[str, Given]:
    """`["force=30 N", ...]` -> inputs by name. Errors: CalculationError for a word without "=", for one given twice."""
    inputs: dict[str, Given] = {}
    for word in words:
        name, separator, value = word.partition("=")
        if not separator or not name.strip():
            raise CalculationError(word, "it is no input", 'Write name=value, such as force="30 N"')
        if name.strip() in inputs:
            raise CalculationError(name.strip(), "it is given twice", "Give it once")
        inputs[name.strip()] = value.strip()
    return inputs


PutIntoWords = Callable[[s.CalculationStatement | str], str]
"""A statement in a language's words."""


def document(row: Formula, result: Result, words: PutIntoWords) -> dict[str, object]:
    """A result for a program: name, inputs, result, unit, source, warnings. unit is None where the result is text."""
    measured = result.value if isinstance(result.value, Quantity) else None
    return {
        "name": row.name,
        "inputs": {name: written(read) for name, read in result.inputs.items()},
        "result": _shown(result, words) if measured is None else float(measured.value),
        "unit": measured.unit if measured else None,
        "source": row.source,
        "warnings": [words(warning) for warning in result.warnings],
    }


def in_words(row: Formula, result: Result, words: PutIntoWords) -> str:
    """A result for a person."""
    notes = [f"Note: {words(warning)}." for warning in result.warnings]
    return "\n".join([f"{row.name}: {_shown(result, words)}", f"{row.title}.", *notes, f"Source: {row.source}."])


def error_in_words(refusal: Refusal, words: PutIntoWords) -> CalculationError:
    """The same error with its cause in words."""
    return CalculationError(refusal.place, words(refusal.why), refusal.remedy)


def _shown(result: Result, words: PutIntoWords) -> str:
    return str(result.value) if isinstance(result.value, Quantity | str) else words(result.value)


def listing() -> list[dict[str, object]]:
    """Every formula for a program: name, title, inputs, result, source."""
    return [
        {
            "name": row.name,
            "title": row.title,
            "inputs": [
                {"name": each.name, "kind": each.kind, "range": each.range, "default": each.default}
                for each in row.inputs
            ],
            "result": row.gives,
            "source": row.source,
        }
        for row in FORMULAS.values()
    ]


def table() -> str:
    """Every formula for a person, by topic: inputs with kind, range and default, result, source."""
    lines = []
    for topic, rows in TOPICS.items():
        lines += [topic.upper(), ""]
        for row in rows:
            lines += [row.name, f"    {row.title}"]
            for each in row.inputs:
                lines.append(f"    {each.name:<18} {_described(each.kind, each.range, each.default)}")
            lines += [f"    {'result':<18} {row.gives}", f"    {'source':<18} {row.source}", ""]
    return "\n".join([*lines, 'Values with their unit: enginebay calc belt-wanted-deflection span="400 mm"'])


def _described(kind: str, valid: str, default: str | None) -> str:
    left_out = "" if default is None else "may be left out" if default == "" else f"else {default}"
    return ", ".join(filter(None, (kind, valid, left_out)))


def calculate(name: str, inputs: Mapping[str, Given]) -> tuple[Formula, Result]:
    """The row of this name and its result for these inputs. Errors: CalculationError, QuantityError."""
    row = formula_named(name)
    return row, row.compute(inputs)
