"""Journals that were written once open for ever, and fold to what they folded to then.

Beside each `FORMAT-name.jsonl` stands what its fold was, after some of its lines, in `FORMAT-name.json`. A new format
adds a pair of files; none that is here is ever written again. They came out of the program of their time.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from pydantic_core import to_jsonable_python

from assistant.dialogue.wording import MESSAGES
from assistant.edge.pages.record_page import html
from assistant.record import record
from assistant.session.applying import fold
from assistant.session.facts import StepPlace
from assistant.session.journal import read_lines
from assistant.session.visit import Visit
from assistant.statements.kinds import STATEMENTS
from tests.worded import worded

HERE = Path(__file__).parent
STORED = sorted(HERE.glob("*.jsonl"))

FORMAT_1_INPUTS = {
    *("work ordered", "work resumed", "heard", "silence", "prompt played", "button pressed", "timer ran out"),
    "device vanished",
}
FORMAT_1_FACTS = {
    *("work taken up", "work taken up again", "step reached", "step done", "step skipped", "step reopened"),
    *("exchange opened", "exchange closed", "hearing failed", "manner changed", "reading heard", "reading questioned"),
    *("read-back refused", "reading recorded", "reading withdrawn", "answer recorded", "finding recorded"),
    *("hold point passed", "timer started", "timer ended", "state learned", "state forgotten", "stood by"),
    *("carried on", "request refused", "late answer dropped", "spoken", "device lost", "work ended"),
}


FORMAT_2_STATEMENTS = {
    *("as ordered", "task left out", "after tasks", "needed for", "minded for", "left so", "every step done"),
    *("doubts", "far from others", "out of calibration", "in doubt"),
}


def kept(text: object) -> Any:
    """A statement as a journal keeps it, a text as it is."""
    return to_jsonable_python(text)


def told(visit: Visit) -> dict[str, Any]:
    """What a visit says, in words that no later field of it changes."""

    def place(where: StepPlace | None) -> str | None:
        return None if where is None else f"{where.task}/{where.step}"

    return {
        "asset": visit.order and visit.order.asset,
        "focus": place(visit.focus),
        "outcomes": {str(place(where)): outcome.value for where, outcome in visit.outcomes.items()},
        "last done": place(visit.last_done),
        "exchange": visit.exchange
        and [
            visit.exchange.number,
            visit.exchange.purpose.value,
            visit.exchange.stage.value,
            visit.exchange.manner.value,
            visit.exchange.failures,
            visit.exchange.refused,
            visit.exchange.pending and str(visit.exchange.pending.quantity),
            visit.exchange.questioned and str(visit.exchange.questioned),
        ],
        "exchanges": visit.exchanges,
        "state": {
            name: [entry.value.value, kept(entry.because), entry.at.seconds, entry.at.boot, entry.lasts]
            for name, entry in visit.state.items()
        },
        "timers": {name: [timer.run, timer.started.seconds, timer.seconds] for name, timer in visit.timers.items()},
        "elapsed": sorted(visit.elapsed),
        "readings": [
            [
                place(reading.place),
                reading.name,
                str(reading.quantity),
                reading.stage.value,
                reading.limits,
                reading.verdict.value,
                reading.confidence,
                kept(reading.doubt),
                reading.clip and reading.clip.sha256,
                reading.source.value,
            ]
            for reading in visit.readings
        ],
        "findings": [[place(finding.place), kept(finding.finding)] for finding in visit.findings],
        "stood by": visit.stood_by and visit.stood_by.seconds,
        "ended": visit.ended and [visit.ended.complete, kept(visit.ended.because)],
    }


def test_there_is_one_of_every_format() -> None:
    from assistant.session.encoding import FORMAT

    assert {int(path.name.partition("-")[0]) for path in STORED} == set(range(1, FORMAT + 1))


def test_the_first_holds_every_kind_of_its_time() -> None:
    rows = [json.loads(line) for line in (HERE / "1-short-service.jsonl").read_bytes().splitlines()]
    assert {row["format"] for row in rows} == {1}
    assert {row["input"]["kind"] for row in rows} == FORMAT_1_INPUTS
    assert {fact["kind"] for row in rows for fact in row["facts"]} == FORMAT_1_FACTS


def kinds_in(value: object) -> Iterator[str]:
    """The kind of everything that has one, also inside another."""
    if isinstance(value, dict):
        yield from (value["kind"],) if "kind" in value else ()
    inner = value.values() if isinstance(value, dict) else value if isinstance(value, list) else ()
    for other in inner:
        yield from kinds_in(other)


def test_those_of_the_second_hold_statements_and_no_sentence_of_the_program() -> None:
    files = sorted(HERE.glob("2-*.jsonl"))
    rows = [json.loads(line) for file in files for line in file.read_bytes().splitlines()]
    assert {row["format"] for row in rows} == {2}
    assert {kind for row in rows for kind in kinds_in(row["facts"])} >= FORMAT_2_STATEMENTS
    text = "".join(json.dumps(row["facts"]) for row in rows)
    assert not any(words in text for words in ("as ordered, with", "is in doubt", "lies far from", "out of date since"))


def test_every_kind_that_a_journal_may_hold_is_still_known() -> None:
    """A kind that was renamed made old journals unreadable: a line is added to the list, and none is ever taken out."""
    listed = (HERE / "kinds.txt").read_text(encoding="utf-8").splitlines()
    assert set(listed) == {*MESSAGES, *STATEMENTS}
    assert len(set(listed)) == len(listed)


@pytest.mark.parametrize(
    ("name", "sentences"),
    [
        (
            "1-short-service",
            (
                *(
                    "The engine's state had to be proved again: a long pause.",
                    "In doubt: heard with confidence 0.44.",
                ),
                "Opened again: Level needs it: the set is isolated and proved dead.",
                *("“next” was refused: the question wanted an answer.", "every step is done or left out."),
            ),
        ),
        (
            "2-planned-visit",
            (
                "visit: as ordered, with the cheapest changes of the engine's state between the tasks.",
                *("The order of the visit: Air filter is put off: part is missing.", "every step is done or left out."),
            ),
        ),
        (
            "2-samples",
            (
                "In doubt: 9.9 mm lies far from the other readings, and counts",
                "Deflection is in doubt.",
            ),
        ),
    ],
)
def test_its_record_reads_as_it_did(name: str, sentences: tuple[str, ...]) -> None:
    journal = read_lines((HERE / f"{name}.jsonl").read_bytes(), name)
    entries = tuple(replace(entry, facts=worded(entry.facts)) for entry in journal.entries)
    page = " ".join(unescape(re.sub("<[^>]*>", " ", html(record(replace(journal, entries=entries)), {}))).split())
    for sentence in sentences:
        assert sentence in page.replace("\N{NO-BREAK SPACE}", " "), sentence


@pytest.mark.parametrize("path", STORED, ids=lambda path: path.stem)
def test_it_opens_and_folds_to_what_it_was(path: Path) -> None:
    expected = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
    journal = read_lines(path.read_bytes(), path.name)
    assert journal.torn == b""
    assert len(journal.entries) == expected["lines"]
    assert journal.last_hash == expected["last hash"]
    assert len(expected["after"]) >= 5
    visit = Visit()
    for number, entry in enumerate(journal.entries, start=1):
        assert entry.envelope.number == number
        visit = fold(((fact, entry.envelope.at) for fact in entry.facts), visit)
        if str(number) in expected["after"]:
            assert told(visit) == expected["after"][str(number)], f"after line {number}"
    assert told(visit) == expected["after"][str(expected["lines"])]
