"""What breaks off goes on: a process that is killed at random instants, and a rehearsal whose power is cut, by sound.

Wiring: the killed visit is a process of its own with the real store and journal; three of the short instants (and all
of the long ones) have no sound, one has the real voice and ears. A whole one by sound in the short run is that of
`test_keeps_to_itself.py`.
"""

from __future__ import annotations

import hashlib
import os
import random
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import pytest
from app.breaks import check_break, check_outcome

from assistant.app.demo import rehearse, speech_setup
from assistant.app.visits import SpeechSetup, take_up
from assistant.app.watching import NoWatcher
from assistant.dialogue.effects import Listen, Say
from assistant.edge.clock import HandClock
from assistant.edge.files.store import CLIPS, read_session
from assistant.engine_state import Known
from assistant.errors import RecordError
from assistant.session.applying import fold
from assistant.session.inputs import Heard, WorkResumed

PROGRAM = Path(__file__).parents[1] / "app" / "killed_visit.py"
DECISIONS = 140  # of a whole visit, nearly
LATER = "2027-01-01T08:00:00+00:00"
SHORT, LONG = 4, 100


@dataclass(frozen=True)
class Instant:
    """When a process is killed: after it has acknowledged so many decisions, and so many seconds more."""

    seed: int
    decisions: int
    seconds: float
    how: str = "quick"


def instants(count: int, last_is_real: bool) -> list[Instant]:
    """Spread over a visit, each at a random place in its part of it."""
    chance = random.Random(count)
    part = DECISIONS / count
    found = [
        Instant(number % 20 + 1, int(part * (number + chance.random())), chance.uniform(0.0, 0.03))
        for number in range(count)
    ]
    if last_is_real:
        found[-1] = Instant(3, chance.randint(3, 12), chance.uniform(0.0, 1.0), "real")
    return found


INSTANTS = [
    *(pytest.param(instant, id=f"short-{number}") for number, instant in enumerate(instants(SHORT, True))),
    *(
        pytest.param(instant, id=f"long-{number}", marks=pytest.mark.long)
        for number, instant in enumerate(instants(LONG, False))
    ),
]


def kill_at(instant: Instant, root: Path) -> int:
    """Runs a visit until that instant; returns the number of the last decision that it acknowledged."""
    acknowledged, pipe = os.pipe()
    words = [sys.executable, PROGRAM, root, pipe, instant.seed, instant.how]
    with subprocess.Popen([str(word) for word in words], pass_fds=(pipe,)) as process:
        os.close(pipe)
        numbers = [-1]
        with os.fdopen(acknowledged, "rb", buffering=0) as bell:
            while numbers[-1] < instant.decisions and (line := bell.readline()):
                numbers.append(int(line))
            time.sleep(instant.seconds)
            process.kill()
            process.wait()
            numbers += [int(line) for line in bell.readlines()]
    assert numbers[-1] >= instant.decisions, "the visit ended, or failed, before it was to be killed"
    assert numbers == list(range(-1, numbers[-1] + 1))
    return numbers[-1]


@pytest.mark.parametrize("instant", INSTANTS)
def test_nothing_acknowledged_is_lost_when_the_process_is_killed(instant: Instant, tmp_path: Path) -> None:
    acknowledged = kill_at(instant, tmp_path)
    folders = list(tmp_path.iterdir())
    if not folders:
        assert acknowledged == 0
        return
    (session,) = folders
    left = read_session(session)
    assert [entry.envelope.number for entry in left.entries] == list(range(1, len(left.entries) + 1))
    assert acknowledged <= len(left.entries) <= acknowledged + 1, "one line may be whole and not yet acknowledged"
    cited = {
        entry.envelope.input.clip.sha256
        for entry in left.entries
        if isinstance(entry.envelope.input, Heard) and entry.envelope.input.clip is not None
    }
    for clip in cited:
        assert hashlib.sha256((session / CLIPS / f"{clip}.flac").read_bytes()).hexdigest() == clip
    visit = fold(left.facts())
    if visit.order is None or visit.ended is not None:
        with pytest.raises(RecordError, match=r"nothing was begun|has ended"):
            take_up(session, HandClock(LATER, boot="another"))
        return

    owner, folder, _ = take_up(session, HandClock(LATER, boot="another"))
    assert owner.visit == visit
    assert [path.read_bytes() for path in session.glob("torn-*.part")] == ([left.torn] if left.torn else [])
    assert {path.stem for path in (session / CLIPS).iterdir()} == cited
    effects = owner.take(WorkResumed("supervisor")).effects
    folder.close()
    assert any(isinstance(effect, Say) for effect in effects)
    assert isinstance(effects[-1], Listen)
    again = read_session(session)
    assert again.torn == b""
    assert again.entries[: len(left.entries)] == left.entries
    assert [entry.envelope.input for entry in again.entries[len(left.entries) :]] == [WorkResumed("supervisor")]
    assert {value.value for value in owner.visit.state.values()} <= {Known.UNKNOWN}


@pytest.fixture(scope="module")
def means() -> SpeechSetup:
    return speech_setup()


@pytest.mark.long
@pytest.mark.parametrize("seed", range(1, 7))
def test_the_power_is_cut_and_the_same_technician_goes_on(seed: int, means: SpeechSetup, tmp_path: Path) -> None:
    """Heard in noise from end to end: nothing is known after the break, and isolation is proved again."""
    told = rehearse(means, NoWatcher(), seed=seed, noise_db=10.0, root=tmp_path, interrupt=True)
    check_outcome(told)
    check_break(Path(told["session"]))
    assert told["utterances"] > told["steps_done"]
