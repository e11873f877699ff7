"""Where the files are: shipped grammars and procedures, the cache, the sessions.

Knows a checkout and an installed wheel. Refuses to make folders or to read what is in them.
"""

from __future__ import annotations

import os
from pathlib import Path

from assistant.errors import EngineBayError

_PACKAGE = Path(__file__).resolve().parents[1]
_PROGRAM = "engine-bay-assistant"


def grammars() -> Path:
    """The folder of the shipped grammars, one folder a language. Errors: EngineBayError when missing."""
    return _shipped("grammars")


def procedures() -> Path:
    """The folder of the shipped procedures, one folder a model. Errors: EngineBayError when missing."""
    return _shipped("procedures")


def cache() -> Path:
    """The folder for what can be made again, after the XDG base directories. It may not exist yet.

    Errors: EngineBayError when there is no home folder.
    """
    return _xdg("XDG_CACHE_HOME", ".cache") / _PROGRAM


def sessions() -> Path:
    """Where session folders lie: `$ENGINEBAY_SESSIONS`, else the XDG data folder. It may not exist yet.

    Errors: EngineBayError when there is no home folder.
    """
    chosen = os.environ.get("ENGINEBAY_SESSIONS")
    if not chosen:
        return _xdg("XDG_DATA_HOME", ".local/share") / _PROGRAM / "sessions"
    try:
        return Path(chosen).expanduser()
    except RuntimeError:
        cause = "there is no such home folder"
        raise EngineBayError(f"ENGINEBAY_SESSIONS={chosen}", cause, "Write the folder out, from `/`") from None


def _shipped(name: str) -> Path:
    checkout = _PACKAGE.parent
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    installed = _PACKAGE / name  # setuptools lays them there in a wheel
    if installed.is_dir():
        return installed
    raise EngineBayError(
        str(installed), f"the {name} that belong to the program are not there", "Install the program again"
    )


def _xdg(variable: str, default: str) -> Path:
    """The specification wants an absolute path; anything else is ignored."""
    chosen = Path(os.environ.get(variable, ""))
    if chosen.is_absolute():
        return chosen
    try:
        return Path.home() / default
    except RuntimeError:
        cause = "there is none for this user, so there is no place for the program's files"
        raise EngineBayError(
            "home folder", cause, f"Set HOME, or {variable}, to a folder that can be written"
        ) from None
