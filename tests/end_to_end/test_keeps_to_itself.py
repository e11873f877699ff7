"""A whole visit asks nothing of the network and writes nowhere but into its own folders; one that breaks off goes on.

Wiring: strace watches the demonstration by sound and every process that it starts; all folders are temporary ones. The
power is cut in it, so that the one visit shows that too; `test_interruption.py` has more of them.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from app.breaks import check_break, check_outcome

ROOT = Path(__file__).parents[2]
SOCKETS = "socket connect bind sendto sendmsg sendmmsg io_uring_setup"  # nothing done through io_uring would be seen
CHANGES = (
    "creat mkdir mkdirat mknod mknodat rename renameat renameat2 unlink unlinkat rmdir symlink symlinkat link linkat "
    "truncate"
)
OPENINGS = "open openat openat2"
LOCAL = ("AF_UNIX", "AF_NETLINK")  # within this machine: its sound server, its kernel
CALL = re.compile(r"^\d+ +(\w+)\((.*)")
PATH = re.compile(r'(?:\w+<([^<>]*)>, )?"((?:[^"\\]|\\.)*)"')  # the folder that it is relative to, and the path


@dataclass(frozen=True)
class Folders:
    """What the program may write to, each for its purpose."""

    home: Path
    cache: Path
    data: Path
    sessions: Path
    temporary: Path
    work: Path


def run(folder: Path, *command: str) -> tuple[Folders, str, list[str]]:
    """Runs a command of Python under watch. Gives its folders, its output, and what strace wrote.

    folder: an empty one.
    """
    assert shutil.which("strace"), "install it: sudo apt install strace"
    folders = Folders(*(folder / name for name in ("home", "cache", "data", "sessions", "temporary", "work")))
    for path in vars(folders).values():
        path.mkdir()
    surroundings = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("XDG_", "ENGINEBAY_", "PULSE_")) and name != "ORT_DISABLE_TELEMETRY"
    } | {
        "HOME": str(folders.home),
        "XDG_CACHE_HOME": str(folders.cache),
        "XDG_DATA_HOME": str(folders.data),
        "ENGINEBAY_SESSIONS": str(folders.sessions),
        "TMPDIR": str(folders.temporary),
        "PYTHONPATH": str(ROOT),
        "PYTHONDONTWRITEBYTECODE": "1",  # byte code lies beside the program, by Python's hand, once an installation
    }
    calls = ",".join(f"?{name}" for name in f"{SOCKETS} {CHANGES} {OPENINGS}".split())  # no processor has all of them
    watch = ["strace", "-f", "--seccomp-bpf", "-qq", "-y", "-e", f"trace={calls}", "-e", "signal=none"]
    log = folder / "calls"
    done = subprocess.run(
        [*watch, "-o", str(log), sys.executable, *command],
        cwd=folders.work,
        env=surroundings,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    return folders, done.stdout, log.read_text(errors="replace").splitlines()


def offences(lines: list[str], allowed: list[Path]) -> list[str]:
    """The calls that reach out of this machine, or write anywhere but below what is allowed."""
    found = []
    for line in lines:
        call = CALL.match(line)
        if call is None:  # the end of a call, or of a process
            continue
        name, arguments = call.groups()
        if name in SOCKETS.split():
            abroad = name == "socket" and not arguments.startswith(LOCAL)
            if abroad or name == "io_uring_setup" or re.search(r"sa_family=(?!AF_UNIX|AF_NETLINK)", arguments):
                found.append(line)
        elif name in CHANGES.split() or re.search(r"O_WRONLY|O_RDWR|O_CREAT|O_TRUNC", arguments):
            paths = [Path(os.path.normpath(Path(base or "/", path))) for base, path in PATH.findall(arguments)]
            if name.startswith("symlink"):
                paths = paths[-1:]  # where it leads to is text
            assert paths, line
            if not all(any(path.is_relative_to(folder) for folder in allowed) for path in paths):
                found.append(line)
    return found


@dataclass(frozen=True)
class WatchedVisit:
    """A visit by sound that broke off and went on.

    report: the line of JSON.
    calls: what strace wrote.
    """

    folders: Folders
    report: dict[str, Any]
    calls: list[str]


@pytest.fixture(scope="module")
def visit(tmp_path_factory: pytest.TempPathFactory) -> WatchedVisit:
    words = ("-m", "assistant", "demo", "--seed", "1", "--interrupt", "--json")
    folders, output, calls = run(tmp_path_factory.mktemp("watched"), *words)
    return WatchedVisit(folders, json.loads(output.splitlines()[-1]), calls)


def test_a_whole_visit_keeps_to_itself(visit: WatchedVisit) -> None:
    """onnxruntime asked the name server for its maker's collector over and over, and wrote a device id into a cache
    folder; espeak-ng's search for a sound server made a folder in the home folder and one in the temporary folder."""
    folders = visit.folders
    assert visit.report["finished"]
    assert visit.report["ended"]
    assert any("onnxruntime" in line for line in visit.calls), "the recogniser was not at work"
    assert any("libespeak-ng" in line for line in visit.calls), "the voice was not at work"
    devices = [Path("/dev/null"), Path("/dev/tty"), Path("/proc/self")]
    assert offences(visit.calls, [*vars(folders).values(), *devices]) == []
    left = {name: sorted(path.name for path in folder.iterdir()) for name, folder in vars(folders).items()}
    assert left == {
        "home": [],
        "cache": ["engine-bay-assistant"],
        "data": [],
        "sessions": [Path(visit.report["session"]).name],
        "temporary": [],
        "work": [],
    }
    assert [path.name for path in (folders.cache / "engine-bay-assistant").iterdir()] == ["speech"]


def test_the_power_is_cut_and_the_same_technician_goes_on(visit: WatchedVisit) -> None:
    """Heard in noise from end to end: nothing is known after the break, and isolation is proved again."""
    check_outcome(visit.report)
    check_break(Path(visit.report["session"]))
    assert visit.report["utterances"] > visit.report["steps_done"]


@pytest.mark.parametrize(
    ("script", "seen"),
    [
        ("import socket; socket.socket(socket.AF_INET)", "socket(AF_INET,"),
        ("import socket; socket.socket(socket.AF_INET6, socket.SOCK_DGRAM)", "socket(AF_INET6,"),
        ("import os; os.spawnlp(os.P_WAIT, 'sh', 'sh', '-c', 'echo > ../outside')", "outside"),
        ("open('../outside', 'a')", "outside"),
        ("import os; os.mkdir('../outside')", "outside"),
        ("import os; os.symlink('/dev/null', '../outside')", "outside"),
        ("import os; open('inside', 'w'); os.rename('inside', '../outside')", "outside"),
        ("import os; os.open('outside', os.O_CREAT | os.O_RDWR, dir_fd=os.open('..', os.O_RDONLY))", "outside"),
    ],
)
def test_the_watch_sees_what_it_is_there_for(script: str, seen: str, tmp_path: Path) -> None:
    """Otherwise the visit above would prove nothing."""
    folders, _, lines = run(tmp_path, "-c", script)
    found = offences(lines, [*vars(folders).values(), Path("/dev/null")])
    assert len(found) == 1
    assert seen in found[0]


@pytest.mark.parametrize("wanted", ["0", ""])
def test_reports_are_off_whatever_the_environment_says(wanted: str) -> None:
    """onnxruntime 1.32 reports to its maker once it is imported, also in the program's child processes."""
    script = (
        "import assistant, subprocess, sys; "
        "subprocess.run([sys.executable, '-c', 'import os; print(os.environ[\"ORT_DISABLE_TELEMETRY\"])'], check=True)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        env=os.environ | {"ORT_DISABLE_TELEMETRY": wanted, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == "1\n"
