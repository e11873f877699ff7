"""The command `enginebay bench hearing`: progress and tables on the terminal. Measures and adds up nothing itself."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn, TimeRemainingColumn
from rich.table import Table

from assistant.errors import EngineBayError
from assistant.rehearsal.measuring.noises import ENGINES, FOR_TUNING, OTHERS
from assistant.rehearsal.measuring.report import write
from assistant.rehearsal.measuring.run import (
    PARTS,
    Options,
    default_folder,
    estimate,
    memory,
    pieces_done,
    render,
    run,
    tasks,
    world_of,
)
from assistant.rehearsal.measuring.speech import SIDES, Store


def measure(options: Options, out: Path, only_render: Path | None, arguments: Sequence[str]) -> None:
    """Renders, measures and reports as the options say; with `only_render` it only renders, into that folder.

    Errors: EngineBayError for a part that is none, and all that rendering and running raise.
    """
    console = Console()
    unknown = [part for part in options.parts if part not in PARTS]
    if unknown:
        raise EngineBayError(f"--part {unknown[0]}", "there is no such part", f"Use some of {', '.join(PARTS)}")
    for side, said in SIDES.items():
        console.print(f"{side}: {said}", highlight=False)
    console.print(f"noise in the tuning: {', '.join(FOR_TUNING)}; held out: {', '.join((*ENGINES, *OTHERS))}")
    with _progress(console) as bars:
        if only_render is None and options.rendered is not None:
            store = Store(options.rendered)
        else:
            bar = bars.add_task("rendering speech")
            folder = only_render or default_folder(options)
            store = render(options, folder, lambda done, of: bars.update(bar, completed=done, total=of))
    console.print(f"{len(store.clips)} utterances, {store.minutes:.0f} minutes of speech")
    if only_render is not None:
        return
    world = world_of(options, store)
    minutes = estimate(tasks(options, world, pieces_done(out)))
    told = ", ".join(f"{name} {each:.1f}" for name, each in minutes.items() if each)
    console.print(f"about {sum(minutes.values()):.0f} minutes of one core: {told}", highlight=False)
    with _progress(console) as bars:
        bar = bars.add_task("measuring")
        facts = run(
            options,
            world,
            out,
            lambda part, done, of: bars.update(bar, completed=done, total=of, description=f"measuring {part}"),
        )
    if not {"ear", "streams"}.issuperset(options.parts):
        facts["memory"] = memory(options)
    for title, said, heads, rows in write(out, facts, arguments):
        table = Table(*heads, title=title, caption=said)
        for row in rows:
            table.add_row(*row)
        console.print(table)
    console.print(f"Written: {out}/hearing.md, hearing.json, hearing.png, and the rows of each part")


def _progress(console: Console) -> Progress:
    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn(), TimeRemainingColumn())
    return Progress(*columns, console=console)
