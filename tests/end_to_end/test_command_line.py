"""Odd surroundings of the command: each ended with a traceback, or said nothing. Each case runs the real command."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from assistant.cli import FAULT

SET = Path(__file__).parents[1] / "dialogues" / "set"
COMMANDS = [("calc",), ("check", str(SET)), ("--help",)]


def enginebay(*words: str, **more: object) -> subprocess.CompletedProcess[bytes]:
    options: dict[str, object] = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    return subprocess.run([sys.executable, "-m", "assistant", *words], timeout=120, **(options | more))  # type: ignore[call-overload,no-any-return]  # options by name


def told(done: subprocess.CompletedProcess[bytes]) -> str:
    """What it said on standard error, which is never a traceback."""
    said = done.stderr.decode()
    assert "Traceback" not in said
    assert "Exception ignored" not in said
    return said


def work(root: Path, **more: object) -> subprocess.CompletedProcess[bytes]:
    return enginebay("work", "marram-auxiliary", "oil-and-filter", "--typed", "--sessions", str(root), **more)


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What is shown of a typed visit with a line that is no text, and in which the work stands by for a while."""
    typed = b"where \xfe am i\nwhere am i\nstop\ncarry on\n"
    done = work(tmp_path_factory.mktemp("sessions"), stdin=None, input=typed)
    assert done.returncode == 0, told(done)
    return done.stdout.decode()


def test_bytes_that_are_no_text_are_told_and_the_visit_goes_on(shown: str) -> None:
    assert "That line was not plain text, or too long. Type it again." in shown
    assert shown.index("Not understood.") < shown.index("Step 1 of")


def test_no_standard_input(tmp_path: Path) -> None:
    script = 'exec "$0" -m assistant work marram-auxiliary oil-and-filter --typed --sessions "$1" <&-'
    done = subprocess.run(["sh", "-c", script, sys.executable, str(tmp_path)], capture_output=True, timeout=120)
    assert done.returncode == 2
    assert "standard input is closed" in told(done)


@pytest.mark.parametrize("command", COMMANDS)
def test_a_full_disk_behind_the_output(command: tuple[str, ...]) -> None:
    with open("/dev/full", "wb") as full:
        done = enginebay(*command, stdout=full)
    assert done.returncode != 0
    assert "cannot be written (No space left on device)" in told(done)


def test_a_full_disk_behind_the_screen_of_a_typed_visit(tmp_path: Path) -> None:
    """The visit can be taken up again: there was nothing else to show it on."""
    with open("/dev/full", "wb") as full:
        done = work(tmp_path, stdout=full, stdin=None, input=b"where am i\n" * 50)
    assert done.returncode == 2
    assert "cannot be written" in told(done)


def test_whoever_reads_the_output_may_leave() -> None:
    read, write = os.pipe()
    os.close(read)
    done = enginebay("calc", stdout=write)
    os.close(write)
    assert done.returncode == 1
    assert told(done) == ""


def test_a_fault_of_the_program_is_told_as_one(tmp_path: Path) -> None:
    """Whatever was not foreseen ended in a traceback."""
    program = (
        "import assistant.calculations as c, assistant.cli as cli, sys\n"
        "def broken(*_): raise ZeroDivisionError('foreseen by nobody')\n"
        "c.table = broken\n"
        "sys.argv[1:] = ['calc']\n"
        "cli.main()"
    )
    home = os.environ | {"XDG_CACHE_HOME": str(tmp_path)}
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, timeout=120, env=home)
    assert done.returncode == FAULT
    said = told(done)
    assert "a fault in the program (ZeroDivisionError: foreseen by nobody)" in said
    (kept,) = tmp_path.rglob("fault.txt")
    assert str(kept) in said
    assert "Traceback" in kept.read_text()


@pytest.mark.parametrize("command", COMMANDS)
def test_a_closed_output(command: tuple[str, ...]) -> None:
    """It ended with a traceback."""
    full = ["sh", "-c", 'exec "$0" -m assistant "$@" >&-', sys.executable, *command]
    done = subprocess.run(full, capture_output=True, timeout=120, stdin=subprocess.DEVNULL)
    assert told(done) == ""


def test_a_visit_that_could_not_write_its_record_does_not_end_well(tmp_path: Path) -> None:
    """It said "I cannot write the record", and then ended as if all were well."""
    script = 'trap "" XFSZ; ulimit -f 40; exec "$0" -m assistant work marram-auxiliary belt --typed --sessions "$1"'
    done = subprocess.run(
        ["bash", "-c", script, sys.executable, str(tmp_path)],
        capture_output=True,
        timeout=120,
        input=b"say again\n" * 400,
    )
    assert "I cannot write the record." in done.stdout.decode()
    assert done.returncode == 2
    assert "the last answer is not in the record" in told(done)


def test_no_role_that_is_no_text(tmp_path: Path) -> None:
    """It ended with a traceback of the journal's encoding, and left a session."""
    done = enginebay("work", "marram-auxiliary", "--typed", "--sessions", str(tmp_path / "s"), "--technician", "\udcff")
    assert done.returncode == 2
    assert "--technician: it is no plain text" in told(done)
    assert not (tmp_path / "s").exists()


def test_stop_shows_that_the_assistant_waits(shown: str) -> None:
    """In a typed visit nothing was shown after `stop`: it looked as if it hung."""
    assert "waiting; type: carry on" in shown
