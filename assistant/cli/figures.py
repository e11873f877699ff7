"""The commands that work something out: calculations, and an asset's trends and plans over its sessions."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from assistant.cli import options as o
from assistant.cli.reporting import DAMAGED, errors_in_words, show, warn, warn_of_damage
from assistant.cli.visits import sessions_folder
from assistant.errors import EngineBayError
from assistant.quantities import counted

if TYPE_CHECKING:
    from assistant.statements.kinds import Statement


@errors_in_words()
def calc(name: o.Calculation = None, inputs: o.Inputs = None, as_json: o.AsDocument = False) -> None:
    """A calculation of the trade, with its source; alone, every one with its inputs."""
    from assistant.calculations import calculate, document, error_in_words, in_words, listing, parse_inputs, table
    from assistant.calculations.formula import Refusal

    def words(statement: Statement | str) -> str:
        from assistant.edge.files.shipped_words import english_words  # only where there is something to word

        return english_words().text(statement)

    if name is None:
        show(listing, table, as_json)
        return
    try:
        row, result = calculate(name, parse_inputs(inputs or []))
    except Refusal as refusal:
        raise error_in_words(refusal, words) from None
    show(lambda: document(row, result, words), lambda: in_words(row, result, words), as_json)


@errors_in_words()
def trend(
    asset: o.Asset,
    reading: o.Reading = None,
    sessions: o.KeptSessions = None,
    as_json: o.AsDocument = False,
    plot: o.Plot = None,
) -> None:
    """Where an asset's readings are going, over all its sessions, and when a limit is reached."""
    from assistant.edge.files.histories import Histories

    histories = Histories.read(sessions_folder(sessions), asset)
    if plot is not None:
        histories.draw(reading, plot)
    show(lambda: histories.document(reading), lambda: histories.in_words(reading), as_json)
    warn_of_damage(histories.wrong)


@errors_in_words()
def plan(
    asset: o.Asset,
    hours: o.Hours = None,
    date: o.Date = None,
    tasks: o.PlannedTasks = None,
    sessions: o.EarlierSessions = None,
    as_json: o.AsDocument = False,
    html: o.Html = None,
) -> None:
    """A visit: what is due and why, the order with the cheapest changes of state, what to bring, how long it takes."""
    from assistant.edge.pages.plans import document, in_words, make_plan, write_page

    if sessions is not None and not sessions.is_dir():
        raise EngineBayError(f"--sessions {sessions}", "there is no such folder", "Name a folder of sessions")
    planned = make_plan(asset, hours, date, tasks or [], sessions_folder(sessions))
    if html is not None:
        write_page(planned, html)
    show(lambda: document(planned), lambda: in_words(planned) if html is None else str(html), as_json)
    if as_json:
        for remark in planned.remarks:
            warn(f"{remark}.")
    if planned.damaged:
        raise typer.Exit(DAMAGED)  # the remarks have said what is


@errors_in_words()
def bring_in(asset: o.Asset, file: o.HistoryFile, sessions: o.Sessions = None, as_json: o.AsJson = False) -> None:
    """Take over what was done on an asset before sessions were kept, so that what is due is known."""
    from assistant.edge.files.bringing_in import bring_in as take_over

    folder, lines = take_over(asset, file, sessions_folder(sessions))
    document = {"session": str(folder), "lines": lines}
    show(lambda: document, lambda: f"{counted(lines, 'line')} taken over, kept in {folder}", as_json)
