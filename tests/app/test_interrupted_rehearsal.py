"""A rehearsal whose power is cut, without sound: many seeds, and what the journal then says.

The same with the real voice and the real ears: `end_to_end/test_interruption.py`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from app.breaks import check_break, check_outcome, the_break
from app.quick import quick_speech_setup
from typer.testing import CliRunner

from assistant.app.demo import PowerSupply, rehearse
from assistant.app.visits import SpeechSetup
from assistant.app.watching import NoWatcher
from assistant.cli import app
from assistant.edge.files.library import order_work
from assistant.edge.files.store import read_session
from assistant.errors import EngineBayError

SEEDS = [*range(1, 7), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(7, 41))]


class Notes(NoWatcher):
    """What was noted beside the conversation."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def note(self, at: float, text: str) -> None:
        self.lines.append(text)


@pytest.fixture(scope="module")
def means() -> Iterator[SpeechSetup]:
    with quick_speech_setup() as means:
        yield means


def interrupted(means: SpeechSetup, seed: int, root: Path) -> tuple[dict[str, Any], list[str]]:
    notes = Notes()
    told = rehearse(means, notes, seed=seed, noise_db=10.0, root=root, interrupt=True)
    return told, notes.lines


@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_technician_goes_on_to_the_end(seed: int, means: SpeechSetup, tmp_path: Path) -> None:
    told, notes = interrupted(means, seed, tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == [Path(told["session"]).name], "it is one session"
    check_outcome(told)
    check_break(Path(told["session"]))
    assert sum("the power is cut" in note for note in notes) == 1


def test_the_moment_comes_from_the_seed(means: SpeechSetup, tmp_path: Path) -> None:
    def moment(seed: int, name: str) -> int:
        told, _ = interrupted(means, seed, tmp_path / name)
        return the_break(read_session(Path(told["session"])))

    first = moment(1, "first")
    assert first == moment(1, "again")
    assert {first, moment(2, "second"), moment(3, "third")} != {first}


def test_without_it_there_is_no_break(means: SpeechSetup, tmp_path: Path) -> None:
    told = rehearse(means, NoWatcher(), seed=1, noise_db=10.0, root=tmp_path)
    check_outcome(told)
    entries = read_session(Path(told["session"])).entries
    assert {entry.envelope.at.boot for entry in entries} == {"rehearsal"}


def test_the_line_of_json_has_all_that_it_had(means: SpeechSetup, tmp_path: Path) -> None:
    told, _ = interrupted(means, 1, tmp_path)
    assert json.loads(json.dumps(told)) == told
    assert set(told) >= {
        *("session", "finished", "steps_done", "readings", "utterances", "accepted_right", "accepted_wrong"),
        *("asked_again", "answer_seconds", "real_seconds"),
    }
    assert told["utterances"] > told["steps_done"], "both parts are counted"


def test_work_without_isolation_cannot_show_it() -> None:
    dialogues = Path(__file__).parents[1] / "dialogues"
    service = order_work("bench", ("service",), "technician", dialogues).work
    assert PowerSupply(service, 1)
    bare = type(service)(service.equipment, service.asset, service.procedures, service.steps[:1], service.index)
    with pytest.raises(EngineBayError, match="no step of"):
        PowerSupply(bare, 1)


@pytest.mark.parametrize("other", ["--live", "--typed"])
def test_only_the_synthetic_technician_is_interrupted(other: str) -> None:
    done = CliRunner().invoke(app, ["demo", "--interrupt", other])
    assert done.exit_code == 2
    assert "--interrupt" in done.stderr
