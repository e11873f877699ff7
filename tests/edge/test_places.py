"""The program finds its files in a checkout and in an installed wheel, and the wheel carries all of them."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

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
