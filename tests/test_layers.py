"""Who may import whom, and who may touch the world: the table, and the program held against it.

A layer is a module or a package directly below `assistant`. A new one fails here until it has a row.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import assistant

_BELOW_DIALOGUE = "errors engine_state quantities meanings statements grammar session calculations procedure"
_DOMAIN = f"{_BELOW_DIALOGUE} hearing dialogue planning record trends"

MAY_IMPORT: dict[str, str] = {
    "errors": "",
    "engine_state": "",  # what a step needs and what a visit knows are the same three values
    "yaml_text": "",
    "quantities": "errors",
    "meanings": "errors quantities",
    "statements": "errors quantities",  # below all that state something, and below the journal that keeps it
    "grammar": "errors quantities meanings",
    "session": "errors engine_state quantities meanings statements",  # never procedure: an old journal opens always
    "hearing": "errors quantities meanings grammar",
    "calculations": "errors quantities statements",
    "procedure": "errors engine_state yaml_text quantities meanings grammar calculations",
    "dialogue": f"{_BELOW_DIALOGUE} trends planning",  # a trend, and what is due, is told from the facts at hand
    "floor": "meanings grammar session hearing dialogue",  # no procedure: it knows no step
    "planning": "errors engine_state quantities statements session calculations procedure",
    "record": "errors engine_state quantities session",  # never procedure: an old record reads without it
    "trends": "errors quantities session calculations",
    "rehearsal": "errors quantities grammar procedure dialogue",  # never session: it knows only what was played
    "edge": f"{_DOMAIN} yaml_text",
    "rehearsal.adapting": f"{_DOMAIN} rehearsal edge",  # it asks an engine how a text is written
    "rehearsal.measuring": f"{_DOMAIN} rehearsal rehearsal.adapting edge",  # it measures the ear itself
    "app": f"{_DOMAIN} floor rehearsal edge",
    "cli": f"{_DOMAIN} rehearsal rehearsal.measuring edge app",
    "__main__": "cli",
}
"""Each layer and the layers that it may import, besides itself."""

TOUCH_THE_WORLD = {"edge", "app", "rehearsal", "rehearsal.adapting", "rehearsal.measuring", "cli", "__main__"}
"""Only these know threads, clocks, sockets, files, programs, audio and databases."""

PURE_LIBRARIES = {
    *("__future__", "abc", "collections", "dataclasses", "datetime", "decimal", "difflib", "enum", "functools"),
    *("bisect", "calendar", "hashlib", "heapq", "itertools", "json", "math", "re", "string", "typing"),
    *("lark", "numpy", "pydantic", "rapidfuzz", "scipy", "yaml"),
}
"""All that the other layers may import from outside. What is not here touches the world, or wants a reason first."""

WALKS_ITS_FOLDER = {
    "procedure.kinds": {"importlib", "pkgutil", "types"},
    "dialogue.kinds": {"importlib", "pkgutil"},
}
"""These packages find their modules by walking their own folder, so that no list of them can be incomplete."""

WORLDLY_CALLS = {"open", "print", "input", "exec", "eval", "__import__", "breakpoint"}
CLOCK_CALLS = {"now", "utcnow", "today"}
WITHOUT_ANY = {"session", "dialogue"}

ROOT = Path(assistant.__file__).parent


def layer_of(name: str) -> str:
    """The layer of a module by its name below the package: a folder in a folder may have a row of its own."""
    parts = name.split(".")
    inner = ".".join(parts[:2])
    return inner if inner in MAY_IMPORT else parts[0]


def modules() -> Iterator[tuple[str, str, str]]:
    """Every module of the program: name below the package, layer, source."""
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        name = ".".join(parts[:-1] if parts[-1] == "__init__" else parts)
        if name:
            yield name, layer_of(name), path.read_text(encoding="utf-8")


def imported(tree: ast.AST, name: str) -> Iterator[str]:
    """The full names of all modules that a module imports, wherever in it. name: its own, for relative imports."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = ["assistant", *name.split(".")][: -node.level] if node.level else []
            origin = ".".join([*above, *([node.module] if node.module else [])])
            if origin == "assistant":  # `from assistant import edge` imports a layer
                yield from (f"assistant.{alias.name}" for alias in node.names)
            else:
                yield origin


def offences(name: str, layer: str, source: str) -> Iterator[str]:
    """What a module does that its layer may not."""
    tree = ast.parse(source)
    allowed = {layer, *MAY_IMPORT[layer].split()}
    for full in imported(tree, name):
        top, _, rest = full.partition(".")
        if top == "assistant":
            other = layer_of(rest)
            if other not in allowed:
                yield f"{name} imports {full}"
        elif layer not in TOUCH_THE_WORLD and top not in PURE_LIBRARIES | WALKS_ITS_FOLDER.get(name, set()):
            yield f"{name} imports {full}, which is not among the pure libraries"
    for node in ast.walk(tree):
        if layer not in TOUCH_THE_WORLD and isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id in WORLDLY_CALLS:
                yield f"{name} calls {called.id}, line {node.lineno}"
            if isinstance(called, ast.Attribute) and called.attr in CLOCK_CALLS:
                yield f"{name} asks for the time, line {node.lineno}"
        if layer in WITHOUT_ANY and (
            (isinstance(node, ast.Name) and node.id == "Any")
            or (isinstance(node, ast.Attribute) and node.attr == "Any")
            or (isinstance(node, ast.alias) and node.name == "Any")
        ):
            yield f"{name} says Any, line {getattr(node, 'lineno', '?')}"


MODULES = list(modules())


def test_every_layer_has_a_row_and_every_row_a_layer() -> None:
    assert {layer for _, layer, _ in MODULES} == set(MAY_IMPORT) - {"__init__"}


def test_the_table_has_no_circle() -> None:
    rest = {layer: set(others.split()) for layer, others in MAY_IMPORT.items()}
    assert set().union(*rest.values()) <= set(rest)
    while rest:
        bottom = {layer for layer, others in rest.items() if not others}
        assert bottom, f"these layers import each other in a circle: {sorted(rest)}"
        rest = {layer: others - bottom for layer, others in rest.items() if layer not in bottom}


@pytest.mark.parametrize(("name", "layer", "source"), MODULES, ids=[name for name, _, _ in MODULES])
def test_module_stays_in_its_layer(name: str, layer: str, source: str) -> None:
    assert list(offences(name, layer, source)) == []


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("session.visit", "from assistant.procedure.step import Step"),
        ("session.visit", "import assistant.procedure.step"),
        ("session.visit", "from assistant import procedure"),
        ("session.visit", "from ..procedure import step"),
        (
            "session.visit",
            "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    from assistant.procedure import step",
        ),
        ("dialogue.decide", "def decide():\n    from assistant.edge.files.store import SessionFolder"),
        ("dialogue.decide", "from assistant.hearing.judgement import Verdict"),
        ("hearing.decoding", "from assistant.dialogue.effects import Listen"),
        ("rehearsal.technician", "from assistant.session.visit import Visit"),
        ("rehearsal.technician", "from assistant.edge.files.language import Language"),
        ("rehearsal.technician", "from assistant.rehearsal.measuring.states import states"),
        ("rehearsal.measuring.run", "from assistant.app.demo import rehearse"),
        ("record.steps", "from assistant.dialogue.messages import Message"),
        ("edge.store", "from assistant.app.visit_owner import Attendance"),
        ("edge.store", "from assistant import cli"),
        ("app.demo", "from assistant.cli import main"),
        *(
            ("dialogue.decide", f"import {library}")
            for library in (
                *("threading", "time", "socket", "pathlib", "os", "io", "subprocess", "queue", "asyncio"),
                *("multiprocessing", "random", "sqlite3", "soundfile", "sounddevice", "sqlalchemy", "logging", "sys"),
            )
        ),
        ("dialogue.decide", "import os.path as place"),
        ("procedure.reading", "def read():\n    from pathlib import Path"),
        ("procedure.reading", "from importlib import import_module"),
        ("procedure.kinds.reading", "import pkgutil"),
        ("grammar.jsgf", "text = open('commands.jsgf').read()"),
        ("dialogue.decide", "print('said')"),
        ("session.visit", "from datetime import datetime\nthis_moment = datetime.now()"),
        ("record.phrases", "import datetime\nthis_moment = datetime.datetime.utcnow()"),
        ("session.facts", "from typing import Any"),
        ("dialogue.turn", "import typing\nthing: typing.Any = None"),
    ],
)
def test_an_offence_is_found(name: str, source: str) -> None:
    assert len(list(offences(name, layer_of(name), source))) >= 1


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("session.visit", "from assistant.quantities import Quantity\nfrom assistant.session import facts"),
        ("edge.clock", "import time\nfrom datetime import datetime\nthis_moment = datetime.now()"),
        ("app.demo", "from typing import Any\nfrom assistant.rehearsal.technician import Technician"),
        ("record.phrases", "from datetime import datetime\nmoment = datetime.fromisoformat('2026-03-02')"),
    ],
)
def test_what_is_allowed_is_no_offence(name: str, source: str) -> None:
    assert list(offences(name, layer_of(name), source)) == []
