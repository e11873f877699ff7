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
from app.stand_ins import Notes
from typer.testing import CliRunner

from assistant.app.demo import PowerSupply, rehearse
from assistant.app.visits import SpeechSetup
from assistant.app.watching import NoWatcher
from assistant.cli import app
from assistant.edge.files.library import order_work
from assistant.edge.files.store import read_session
from assistant.errors import EngineBayError

SEEDS = [*range(1, 7), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(7, 41))]


class Interrupted:
    """Visits whose power is cut, each made once: its report, and what was noted beside the conversation."""

    def __init__(self, means: SpeechSetup, place: Path) -> None:
        self._means = means
        self._place = place
        self._made: dict[int, tuple[dict[str, Any], list[str]]] = {}

    def at(self, seed: int) -> tuple[dict[str, Any], list[str]]:
        if seed not in self._made:
            self._made[seed] = self.anew(seed, self.root_of(seed))
        return self._made[seed]

    def anew(self, seed: int, root: Path) -> tuple[dict[str, Any], list[str]]:
        watcher = Notes()
        report = rehearse(self._means, watcher, seed=seed, noise_db=10.0, root=root, interrupt=True)
        return report, watcher.notes

    def root_of(self, seed: int) -> Path:
        return self._place / str(seed)


@pytest.fixture(scope="module")
def means() -> Iterator[SpeechSetup]:
    with quick_speech_setup() as means:
        yield means


@pytest.fixture(scope="module")
def interrupted(means: SpeechSetup, tmp_path_factory: pytest.TempPathFactory) -> Interrupted:
    return Interrupted(means, tmp_path_factory.mktemp("interrupted"))


@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_technician_goes_on_to_the_end(seed: int, interrupted: Interrupted) -> None:
    report, notes = interrupted.at(seed)
    there = [path.name for path in interrupted.root_of(seed).iterdir()]
    assert there == [Path(report["session"]).name], "it is one session"
    check_outcome(report)
    check_break(Path(report["session"]))
    assert sum("the power is cut" in note for note in notes) == 1


def test_the_moment_comes_from_the_seed(interrupted: Interrupted, tmp_path: Path) -> None:
    def moment(report: dict[str, Any]) -> int:
        return the_break(read_session(Path(report["session"])))

    first, second, third = (moment(interrupted.at(seed)[0]) for seed in (1, 2, 3))
    again, _ = interrupted.anew(1, tmp_path)
    assert first == moment(again)
    assert {first, second, third} != {first}


def test_without_it_there_is_no_break(means: SpeechSetup, tmp_path: Path) -> None:
    report = rehearse(means, NoWatcher(), seed=1, noise_db=10.0, root=tmp_path)
    check_outcome(report)
    entries = read_session(Path(str(report["session"]))).entries
    assert {entry.envelope.at.boot for entry in entries} == {"rehearsal"}


def test_the_line_of_json_has_all_that_it_had(interrupted: Interrupted) -> None:
    report, _ = interrupted.at(1)
    assert json.loads(json.dumps(report)) == report
    assert set(report) >= {
        *("session", "finished", "steps_done", "readings", "utterances", "accepted_right", "accepted_wrong"),
        *("asked_again", "answer_seconds", "real_seconds"),
    }
    assert report["utterances"] > report["steps_done"], "both parts are counted"


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
