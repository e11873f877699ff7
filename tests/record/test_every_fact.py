"""Every fact has its entry in a record: a sentence, and cells and concerns that pages and exports know."""

from __future__ import annotations

from typing import get_args, get_type_hints

import samples

from assistant.record import record
from assistant.record.entries import Cells
from assistant.record.table import COLUMNS, NUMBERS
from assistant.session import facts as f
from assistant.session.facts import Fact
from assistant.session.journal import read_lines


def test_every_kind_of_fact_that_is_listed_has_words() -> None:
    """A fact without words would leave an empty row for the supervisor."""
    silent = (f.StepReached, f.ExchangeOpened, f.ExchangeClosed, f.ReadingHeard, f.TaskChosen)
    described: set[type[Fact]] = set()
    pens = [samples.eventful_visit(), samples.broken_off(), samples.ended_early(), samples.planned_anew()]
    for pen in (*pens, samples.taken_over(), samples.opened_in_trouble()):
        for entry in record(read_lines(pen.data)).entries:
            description = entry.description
            assert description.sentences, entry.fact
            for words in (*(sentence.words for sentence in description.sentences), *description.concerns.values()):
                assert words.strip(" ."), entry.fact
            described.add(type(entry.fact))
    assert described == set(get_args(Fact)) - set(silent)


def test_every_cell_has_a_column_of_its_kind() -> None:
    """A cell without a column would be lost without a word."""
    cells = get_type_hints(Cells)
    assert set(cells) <= set(COLUMNS)
    assert {column for column, kind in cells.items() if kind is not str} == NUMBERS & set(cells)
