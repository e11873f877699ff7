"""The command line: `enginebay` and its commands. Everything heavy is loaded by the command that needs it.

`options.py` declares what can be asked for, `reporting.py` how a command answers, the others hold the commands.
"""

from __future__ import annotations

import sys

import typer

from assistant.cli.bench import hearing
from assistant.cli.figures import bring_in, calc, plan, trend
from assistant.cli.files import check, export, hear, salvage, words
from assistant.cli.reporting import DAMAGED, FAULT, until_it_is_written
from assistant.cli.visits import demo, resume, work

__all__ = ["DAMAGED", "FAULT", "app", "main"]

app = typer.Typer(
    name="enginebay",
    help="A voice assistant, offline, for the technician who services small diesel generating sets.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)
for command in (demo, work, resume, hear, check, words, export, salvage, calc, trend, plan, bring_in):
    app.command()(command)
bench = typer.Typer(
    help="Measurements, on this machine or from speech that was rendered on another.", no_args_is_help=True
)
bench.command()(hearing)
app.add_typer(bench, name="bench")


def main() -> None:
    """The command `enginebay`."""
    sys.exit(until_it_is_written(app))  # type: ignore[arg-type]  # as typer gave it
