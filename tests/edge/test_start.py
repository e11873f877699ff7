"""What `hardware/start` tells when something cannot be had.

Wiring: stand-ins for id, dpkg-query, apt-get and sudo come first on the path, so nothing is installed.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path

import pytest

START = Path(__file__).parents[2] / "hardware" / "start"
SUDO = '[ "$1" = -n ] && exit 0\nexec "$@"'


def start(tmp_path: Path, stand_ins: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    programs = {"dpkg-query": "exit 1", "apt-get": "exit 100", "sudo": "exit 1", "id": "echo 1000"} | stand_ins
    for name, script in programs.items():
        program = tmp_path / name
        program.write_text(f"#!/bin/sh\n{script}\n")
        program.chmod(0o755)
    surroundings = os.environ | {"PATH": f"{tmp_path}:{os.environ['PATH']}"}
    return subprocess.run(
        [str(START), *arguments], env=surroundings, stdin=subprocess.DEVNULL, capture_output=True, text=True
    )


def test_without_the_right_to_install_the_command_for_the_administrator_is_told(tmp_path: Path) -> None:
    done = start(tmp_path, {}, "run", "hello")
    assert done.returncode == 1
    assert "may not install them: python3 python3-venv espeak-ng" in done.stderr
    assert "have an administrator run 'apt-get install python3" in done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("said", "remedy"),
    [
        ("Temporary failure in name resolution", "connect this machine to the internet"),
        ("E: You don't have enough free space in /var", "free at least"),
        ("No space left on device", "free at least"),
        ("E: Unable to locate package flite", "use Debian 12 or Raspberry Pi OS"),
        ("Certificate verification failed: not trusted", "clock is right"),
        ("something new", "read the lines above"),
    ],
)
def test_what_apt_says_becomes_a_remedy(said: str, remedy: str, tmp_path: Path) -> None:
    done = start(tmp_path, {"sudo": SUDO, "apt-get": f'echo "{said}"; exit 100'}, "run", "hello")
    assert done.returncode == 1
    assert "error: apt-get install failed" in done.stderr
    assert remedy in done.stderr


def test_only_what_is_missing_is_installed(tmp_path: Path) -> None:
    there = "\n".join(
        f"echo 'installed {name}'" for name in ("python3", "python3-venv", "libespeak-ng1:amd64", "libportaudio2:amd64")
    )
    done = start(
        tmp_path,
        {"id": "echo 0", "dpkg-query": f"{there}\necho 'not-installed flite'", "apt-get": 'echo "APT $*"; exit 100'},
        "run",
        "hello",
    )
    install = next(line for line in done.stderr.splitlines() if line.startswith("APT") and " install " in line)
    assert install.endswith("--no-install-recommends espeak-ng flite")


def test_a_processor_of_another_kind_is_refused(tmp_path: Path) -> None:
    done = start(tmp_path, {"dpkg": "echo armhf"}, "demo")
    assert done.returncode == 1
    assert "install the 64-bit Raspberry Pi OS" in done.stderr


@pytest.mark.parametrize("arguments", [(), ("launch",)])
def test_a_wrong_word_shows_the_right_ones(arguments: tuple[str, ...], tmp_path: Path) -> None:
    done = start(tmp_path, {}, *arguments)
    assert done.returncode == 1
    assert "hardware/start demo [ARGS]" in done.stderr
    assert "say demo, test or run" in done.stderr


@pytest.mark.skipif(shutil.which("shellcheck") is None, reason="shellcheck is not installed")
def test_shellcheck_finds_nothing() -> None:
    scripts = [str(START), str(START.parents[1] / ".ci" / "run")]
    done = subprocess.run(["shellcheck", *scripts], capture_output=True, text=True)
    assert done.stdout == ""
    assert done.returncode == 0
