"""The program finds its files in a checkout and in an installed wheel, and the wheel carries all of them."""

from __future__ import annotations

import pwd
import tomllib
from pathlib import Path
from typing import NoReturn

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.edge import places
from assistant.errors import EngineBayError

CHECKOUT = Path(__file__).parents[2]


def test_in_a_checkout() -> None:
    assert (places.grammars() / "en" / "spoken.yaml").is_file()
    assert places.procedures() == CHECKOUT / "procedures"


def test_in_a_wheel_they_lie_inside_the_package(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    package = tmp_path / "site-packages" / "assistant"
    (package / "grammars").mkdir(parents=True)
    monkeypatch.setattr(places, "_PACKAGE", package)
    assert places.grammars() == package / "grammars"
    with pytest.raises(EngineBayError, match="Install the program again"):
        places.procedures()


def test_a_strange_folder_beside_an_installed_package_is_not_ours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "assistant"
    (package / "grammars").mkdir(parents=True)
    (tmp_path / "grammars").mkdir()
    monkeypatch.setattr(places, "_PACKAGE", package)
    assert places.grammars() == package / "grammars"


def test_without_a_home_folder_there_is_one_sentence(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Without HOME, for a user who is not in the list of users, every command ended in a traceback."""

    def unknown(uid: int) -> NoReturn:
        raise KeyError(uid)

    for name in ("HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "ENGINEBAY_SESSIONS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(pwd, "getpwuid", unknown)
    with pytest.raises(EngineBayError, match=r"home folder: there is none .* Set HOME, or XDG_CACHE_HOME"):
        places.cache()
    for arguments in (
        ["plan", "marram-auxiliary"],
        ["trend", "marram-auxiliary"],
        ["work", "marram-auxiliary", "--typed"],
    ):
        done = CliRunner().invoke(app, arguments)
        assert done.exit_code == 2, done.output
        assert "home folder: there is none for this user" in done.stderr
        assert done.stderr.count("\n") == 1
    monkeypatch.setenv("ENGINEBAY_SESSIONS", "~nobody-at-all/visits")
    with pytest.raises(EngineBayError, match="no such home folder"):
        places.sessions()
    monkeypatch.setenv("ENGINEBAY_SESSIONS", str(tmp_path))
    assert CliRunner().invoke(app, ["plan", "marram-auxiliary"]).exit_code == 0


def test_a_home_folder_that_cannot_be_written_is_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where no session can be kept, one sentence names the folder."""
    for name in ("XDG_DATA_HOME", "ENGINEBAY_SESSIONS"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", "/proc")  # of which not even the administrator can write
    (tmp_path / "history.csv").write_text("date,hours,task\n2025-06-01,10,belt\n")
    done = CliRunner().invoke(app, ["bring-in", "marram-auxiliary", str(tmp_path / "history.csv")])
    assert done.exit_code == 2, done.output
    assert "/proc/.local" in done.stderr


def test_cache_and_sessions_follow_the_environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("XDG_CACHE_HOME", "XDG_DATA_HOME", "ENGINEBAY_SESSIONS"):
        monkeypatch.delenv(name, raising=False)
    assert places.cache() == tmp_path / ".cache" / "engine-bay-assistant"
    assert places.sessions() == tmp_path / ".local/share" / "engine-bay-assistant" / "sessions"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative/is/ignored")
    assert places.cache() == tmp_path / ".cache" / "engine-bay-assistant"
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert places.sessions() == tmp_path / "data" / "engine-bay-assistant" / "sessions"
    monkeypatch.setenv("ENGINEBAY_SESSIONS", str(tmp_path / "visits"))
    assert places.sessions() == tmp_path / "visits"


def test_the_wheel_is_told_of_every_package_and_of_the_data() -> None:
    setuptools = tomllib.loads((CHECKOUT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    code = {".".join(file.parent.relative_to(CHECKOUT).parts) for file in (CHECKOUT / "assistant").rglob("*.py")}
    assert set(setuptools["packages"]) == code | {"assistant.grammars", "assistant.procedures"}
    assert setuptools["package-dir"]["assistant.grammars"] == "grammars"
    assert setuptools["package-dir"]["assistant.procedures"] == "procedures"
    carried = setuptools["package-data"]
    assert carried["assistant.grammars"] == carried["assistant.procedures"] == ["**/*"]
    told = {
        file
        for package, patterns in carried.items()
        if package.split(".")[-1] not in ("grammars", "procedures")
        for pattern in patterns
        for file in CHECKOUT.joinpath(*package.split(".")).glob(pattern)
    }
    data = {
        file
        for file in (CHECKOUT / "assistant").rglob("*")
        if file.is_file() and file.suffix not in (".py", ".pyc") and not file.name.startswith(".")
    }
    assert data <= told
