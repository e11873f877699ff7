"""What `hardware/start` tells when something cannot be had, and what it leaves as it was; what the locks hold.

Wiring: stand-ins for id, dpkg-query, apt-get, sudo and Python come first on the path, so nothing is installed.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import signal
import subprocess
import time
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
START = ROOT / "hardware" / "start"
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


# Python packages

STAND_IN = r"""#!/bin/sh
# Python as far as hardware/start asks for it. $TRIAL is where the test lies: calls are written there, and `fault` there
# says what goes wrong.
said="$(cat "$TRIAL/fault" 2> /dev/null)"
case "$*" in
    "-c "*) ;;
    --version) echo "Python 3.11.2" ;;
    *"pip --version") [ ! -e "$(dirname "$0")/damaged" ] ;;
    "-m venv "*)
        mkdir -p "$3/bin" && cp "$TRIAL/python3" "$3/bin/python" && echo new > "$3/pyvenv.cfg" ;;
    *" download "*)
        echo "$*" >> "$TRIAL/calls"
        case "$said" in fetching:*) echo "${said#fetching:}"; exit 1 ;; esac ;;
    *" install "*)
        echo "$*" >> "$TRIAL/calls"
        case "$*" in *" setuptools") exit 0 ;; esac
        rm -f "$(dirname "$0")/enginebay"
        case "$said" in
            installing:*) echo "${said#installing:}"; exit 1 ;;
            waiting) touch "$TRIAL/waits"; sleep 600 ;;
        esac
        printf '#!/bin/sh\necho "%s $*"\n' "$(cat "$TRIAL/version")" > "$(dirname "$0")/enginebay"
        chmod 755 "$(dirname "$0")/enginebay" ;;
    "-m pytest"*) echo "tests ran" ;;
esac
"""


class Checkout:
    """A copy of the script with stand-ins for everything that it calls."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.root = folder / "checkout"
        self.venv = self.root / ".venv"
        (self.root / "hardware").mkdir(parents=True)
        for name in ("hardware/start", "hardware/requirements.lock", "hardware/requirements-test.lock"):
            shutil.copy(ROOT / name, self.root / name)
        (self.root / "pyproject.toml").write_text("first\n")
        self.becomes("first")
        self._program("python3", STAND_IN)
        self._program("dpkg", "#!/bin/sh\necho amd64\n")
        self._program("dpkg-query", '#!/bin/sh\nshift 2\nfor name; do echo "installed $name"; done\n')
        self._program("apt-get", "#!/bin/sh\nexit 100\n")

    def _program(self, name: str, script: str) -> None:
        program = self.folder / name
        program.write_text(script)
        program.chmod(0o755)

    def becomes(self, version: str) -> None:
        """The program as it is installed from now on; its requirements change with it."""
        (self.folder / "version").write_text(version)
        (self.root / "pyproject.toml").write_text(version)

    def fails(self, fault: str) -> None:
        (self.folder / "fault").write_text(fault)

    def command(self, *arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [str(self.root / "hardware" / "start"), *arguments],
            env=os.environ | {"PATH": f"{self.folder}:{os.environ['PATH']}", "TRIAL": str(self.folder)},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )

    def start(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        process = self.command(*arguments)
        out, err = process.communicate(timeout=60)
        return subprocess.CompletedProcess(arguments, process.returncode, out, err)

    def calls(self) -> list[str]:
        """What pip was called with since this was asked last."""
        calls = self.folder / "calls"
        told = calls.read_text().splitlines() if calls.exists() else []
        calls.unlink(missing_ok=True)
        return told

    def environment(self) -> dict[str, str]:
        """.venv, file by file, and whether anything was left beside it."""
        return {
            str(path.relative_to(self.root)): hashlib.sha256(path.read_bytes()).hexdigest()
            for path in self.root.rglob("*")
            if path.is_file() and path.relative_to(self.root).parts[0].startswith(".venv")
        }


@pytest.fixture
def checkout(tmp_path: Path) -> Checkout:
    return Checkout(tmp_path)


OFFLINE = "fetching:Temporary failure in name resolution"


@pytest.mark.parametrize(
    ("verb", "locks"), [("run", ["requirements"]), ("test", ["requirements", "requirements-test"])]
)
def test_all_is_fetched_by_the_locks_and_then_installed_without_the_network(
    verb: str, locks: list[str], checkout: Checkout
) -> None:
    """Two installations a year apart were different: pip took the newest of everything, and setuptools besides."""
    checkout.start(verb)
    calls = [call for call in checkout.calls() if not call.endswith(" setuptools")]
    assert [" download " in call for call in calls] == [True] * len(locks) + [False] * (len(locks) + 1)
    files = [str(checkout.root / "hardware" / f"{lock}.lock") for lock in locks]
    assert [call.split(" -r ")[1] for call in calls[:-1]] == files * 2
    assert all("--require-hashes" in call and "--no-deps" in call for call in calls[:-1])
    assert all("--no-index" in call for call in calls if " install " in call)
    assert "--no-deps" in calls[-1]
    assert calls[-1].endswith(f"--no-build-isolation -e {checkout.root}")


def test_what_is_installed_is_not_installed_again(checkout: Checkout) -> None:
    assert checkout.start("run", "hello").stdout == "first hello\n"
    assert checkout.calls()
    before = checkout.environment()
    again = checkout.start("run", "hello")
    assert (again.stdout, again.stderr) == ("first hello\n", "")
    assert checkout.calls() == []
    assert checkout.environment() == before
    assert not [path for path in before if not path.startswith(".venv/")]


@pytest.mark.parametrize("changed", ["pyproject.toml", "hardware/requirements.lock", "hardware/requirements-test.lock"])
def test_a_change_of_the_requirements_is_installed(changed: str, checkout: Checkout) -> None:
    checkout.start("run")
    checkout.becomes("first")
    with (checkout.root / changed).open("a") as file:
        file.write("# changed\n")
    (checkout.folder / "version").write_text("second")
    assert checkout.start("run", "hello").stdout == "second hello\n"


def test_without_the_network_a_working_installation_runs_on(checkout: Checkout) -> None:
    """When pyproject.toml had changed and the registry could not be reached, the program could not be run any more."""
    checkout.start("run")
    before = checkout.environment()
    checkout.becomes("second")
    checkout.fails(OFFLINE)
    for arguments in (("run", "hello"), ("demo",)):
        done = checkout.start(*arguments)
        assert done.stdout == f"first {'hello' if arguments[0] == 'run' else 'demo'}\n"
        assert "the package registry cannot be reached" in done.stderr
        assert "going on with the installation that is there, of an earlier version of the requirements" in done.stderr
        assert checkout.environment() == before
    checkout.fails("")
    assert checkout.start("run", "hello").stdout == "second hello\n"


def test_without_the_network_the_tests_do_not_run_on_other_requirements(checkout: Checkout) -> None:
    checkout.start("test")
    before = checkout.environment()
    checkout.becomes("second")
    checkout.fails(OFFLINE)
    done = checkout.start("test")
    assert done.returncode == 1
    assert "Remedy: connect this machine to the internet" in done.stderr
    assert checkout.environment() == before


def test_without_the_network_a_damaged_pip_costs_nothing(checkout: Checkout) -> None:
    """.venv was cleared because its pip did not run, before anything could be had for a new one."""
    checkout.start("run")
    (checkout.venv / "bin" / "damaged").touch()
    checkout.becomes("second")
    before = checkout.environment()
    checkout.fails(OFFLINE)
    assert checkout.start("run", "hello").stdout == "first hello\n"
    assert checkout.environment() == before
    checkout.fails("")
    assert checkout.start("run", "hello").stdout == "second hello\n"
    assert not (checkout.venv / "bin" / "damaged").exists()


def test_a_moved_folder_gets_a_new_environment_and_keeps_the_old_one_until_then(checkout: Checkout) -> None:
    """The commands of a moved .venv name the folder that it was made in."""
    checkout.start("run")
    checkout.root = checkout.root.rename(checkout.folder / "moved")
    checkout.venv = checkout.root / ".venv"
    (checkout.venv / "old").touch()
    before = checkout.environment()
    checkout.fails(OFFLINE)
    done = checkout.start("run", "hello")
    assert done.returncode == 1
    assert "the package registry cannot be reached" in done.stderr
    assert checkout.environment() == before
    checkout.fails("installing:No space left on device")
    assert "the disk is full" in checkout.start("run", "hello").stderr
    assert checkout.environment() == before
    checkout.fails("")
    assert checkout.start("run", "hello").stdout == "first hello\n"
    assert ".venv/old" not in checkout.environment()


def test_an_installation_that_fails_halfway_is_undone(checkout: Checkout) -> None:
    """A disk that became full while pip installed left neither the old nor the new program."""
    checkout.start("run")
    before = checkout.environment()
    checkout.becomes("second")
    checkout.fails("installing:No space left on device")
    done = checkout.start("run", "hello")
    assert done.stdout == "first hello\n"
    assert "the disk is full" in done.stderr
    assert checkout.environment() == before


@pytest.mark.parametrize("end", [signal.SIGTERM, signal.SIGINT, signal.SIGKILL])
def test_an_installation_that_is_broken_off_is_undone(end: signal.Signals, checkout: Checkout) -> None:
    """Ctrl-C, or a power cut, while pip installed left neither the old nor the new program."""
    checkout.start("run")
    before = checkout.environment()
    checkout.becomes("second")
    checkout.fails("waiting")
    process = checkout.command("run", "hello")
    while not (checkout.folder / "waits").exists():
        assert process.poll() is None
        time.sleep(0.02)
    os.killpg(process.pid, end)
    process.communicate(timeout=60)
    if end != signal.SIGKILL:
        assert checkout.environment() == before
    checkout.fails(OFFLINE)
    assert checkout.start("run", "hello").stdout == "first hello\n"
    assert checkout.environment() == before


def test_what_is_not_what_was_locked_is_refused(checkout: Checkout) -> None:
    checkout.fails("fetching:ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.")
    done = checkout.start("run", "hello")
    assert done.returncode == 1
    assert "a package that came is not the one that was locked" in done.stderr
    assert not checkout.venv.exists()


def test_the_first_installation_without_the_network_says_what_to_do(checkout: Checkout) -> None:
    checkout.fails(OFFLINE)
    done = checkout.start("demo")
    assert done.returncode == 1
    assert "Remedy: connect this machine to the internet" in done.stderr
    assert checkout.environment() == {}


def test_a_folder_that_is_no_environment_is_left_alone(checkout: Checkout) -> None:
    checkout.venv.mkdir()
    (checkout.venv / "letter").write_text("mine")
    assert "is no Python environment" in checkout.start("run").stderr
    assert (checkout.venv / "letter").read_text() == "mine"


# the requirements and their locks

PYPROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
BUILD = PYPROJECT["build-system"]["requires"]
RUN = PYPROJECT["project"]["dependencies"]
EXTRAS = PYPROJECT["project"]["optional-dependencies"]


def locked(name: str) -> dict[str, tuple[Requirement, list[str]]]:
    """What a lock holds, by name: the version, and the hashes of its files."""
    text = (ROOT / "hardware" / f"{name}.lock").read_text(encoding="utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    found = {}
    for line in lines:
        requirement, *hashes = line.split(" --hash=")
        found[canonicalize_name(Requirement(requirement.strip()).name)] = (Requirement(requirement.strip()), hashes)
    assert len(found) == len(lines)
    return found


@pytest.mark.parametrize("text", sorted({*BUILD, *RUN, *(line for extra in EXTRAS.values() for line in extra)}))
def test_every_requirement_has_an_upper_bound(text: str) -> None:
    """`onnxruntime>=1.20` became a release that reports to its maker."""
    operators = {specifier.operator for specifier in Requirement(text).specifier}
    assert operators & {"<", "<=", "=="}, "give it the next release that may be incompatible"


@pytest.mark.parametrize(
    ("lock", "wanted"), [("requirements", BUILD + RUN), ("requirements-test", BUILD + RUN + EXTRAS["test"])]
)
def test_every_requirement_is_locked_within_its_range(lock: str, wanted: list[str]) -> None:
    """Nothing was locked. When this fails, the head of the lock says the command that makes it anew."""
    held = locked(lock)
    for requirement in map(Requirement, wanted):
        version, _ = held[canonicalize_name(requirement.name)]
        (exact,) = version.specifier
        assert exact.operator == "=="
        assert requirement.specifier.contains(exact.version, prereleases=True), str(requirement)


@pytest.mark.parametrize("lock", ["requirements", "requirements-test"])
def test_every_line_of_a_lock_has_hashes_and_no_address(lock: str) -> None:
    for requirement, hashes in locked(lock).values():
        assert requirement.url is None
        assert hashes
        assert all(re.fullmatch(r"sha256:[0-9a-f]{64}\s*", value) for value in hashes), str(requirement)
    text = (ROOT / "hardware" / f"{lock}.lock").read_text(encoding="utf-8")
    assert "://" not in text
    assert "uv pip compile --universal --python-version 3.11 --fork-strategy fewest --generate-hashes" in text


def test_the_locks_agree() -> None:
    more = locked("requirements-test")
    assert {name: more.get(name) for name in locked("requirements")} == locked("requirements")


@pytest.mark.skipif(shutil.which("shellcheck") is None, reason="shellcheck is not installed")
def test_shellcheck_finds_nothing() -> None:
    scripts = [str(START), str(START.parents[1] / ".ci" / "run")]
    done = subprocess.run(["shellcheck", *scripts], capture_output=True, text=True)
    assert done.stdout == ""
    assert done.returncode == 0
