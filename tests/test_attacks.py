"""The attacks find what they are there for, and nothing else: a few of each, and the same on a program made worse.

The hour itself is `python -m tests.attacks`.
"""

from __future__ import annotations

import json
import subprocess
import sys
import textwrap
from pathlib import Path

from tests.attacks import ATTACKS

ROOT = Path(__file__).resolve().parents[1]
WORSE = {
    "flip": (
        "the journal is read up to the first damage only",
        """
        import assistant.edge.files.evidence as evidence
        whole = evidence.read_what_holds
        def short(data, name):
            journal = whole(data, name)
            if journal.gaps:
                lines = data.splitlines(keepends=True)[: journal.gaps[0].line - 1]
                return replace(journal, entries=whole(b"".join(lines), name).entries)
            return journal
        evidence.read_what_holds = short
        """,
    ),
    "cut": (
        "sounds that no line cites are deleted",
        """
        import assistant.edge.files.store as store
        store._set_aside = lambda folder, path: path.unlink()
        """,
    ),
    "links": (
        "links are followed",
        """
        import assistant.edge.files.store as store
        store._refuse_links = lambda folder: None
        store._inside = lambda folder: sorted(folder.iterdir()) if folder.is_dir() else []
        """,
    ),
    "full_disk": (
        "a part of a line stays",
        """
        import assistant.edge.files.store as store
        store.SessionFolder._restore = lambda self: None
        """,
    ),
    "full_disk_export": (
        "a record is written in its place",
        """
        import assistant.edge.files.evidence as evidence
        evidence.write_whole = lambda path, data: path.write_bytes(data)
        """,
    ),
    "clocks": (
        "a jump is not seen",
        """
        import assistant.dialogue.decide as decide
        decide.watch_clock = lambda turn: None
        """,
    ),
    "strangers": (
        "a pipe is waited for",
        """
        import assistant.edge.files.store as store, assistant.edge.files.histories as histories
        def opens(path):
            with path.open("rb") as file:
                return store.read_lines(file.readline(), path.name).entries[0].envelope.input
        histories.first_input = opens
        """,
    ),
}
PROGRAM = """
import json, sys, tempfile
from dataclasses import replace
from pathlib import Path
from tests import attacks

def made_worse(name, worse):
    def attack(arena, chance):
        exec(worse, {"replace": replace})
        attacks.ATTACKS[name](arena, chance)
    return attack

asked = json.loads(sys.argv[1])
with tempfile.TemporaryDirectory() as place:
    arena = attacks.prepare(Path(place))
    found = {}
    for name, worse, trials in asked:
        if worse:
            attacks.ATTACKS[f"worse {name}"] = made_worse(name, worse)
        for trial in range(trials):
            told = attacks.one_trial(f"worse {name}" if worse else name, trial, arena, 20.0 if worse else 120.0)
            found[name] = found.get(name) or told
            if told:
                break
    print(json.dumps(found))
"""


def run(asked: list[tuple[str, str, int]]) -> dict[str, str]:
    """What was found first by each attack, empty where nothing was. asked: attack, what is done to the program before,
    and how often it is tried at most."""
    program = [sys.executable, "-c", PROGRAM, json.dumps(asked)]
    done = subprocess.run(program, capture_output=True, text=True, cwd=ROOT, timeout=500)
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout.splitlines()[-1])
    assert isinstance(found, dict)
    return found


def test_one_of_each_finds_nothing() -> None:
    assert run([(name, "", 1) for name in ATTACKS]) == dict.fromkeys(ATTACKS, "")


def test_what_is_made_worse_is_found() -> None:
    """A search that cannot fail would prove nothing."""
    found = run([(name, textwrap.dedent(worse), 40) for name, (_, worse) in WORSE.items()])
    assert [what for name, (what, _) in WORSE.items() if not found[name]] == []
