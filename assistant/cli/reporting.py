"""How a command answers: its result in words or as JSON, its errors as sentences, its end as an exit status.

Knows standard output, standard error and the exit statuses. Refuses to know what any command does.
"""

from __future__ import annotations

import errno
import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager

import typer

from assistant.errors import AudioError, EngineBayError, RecogniserError, VoiceError

REFUSED = 2  # exit status: it could not be done, and standard error says why
DAMAGED = 3  # exit status: it was done, but something that it was read from is damaged
FAULT = 4  # exit status: a fault of the program itself
STOPPED = 130  # exit status: the user stopped it
_UNWRITABLE = (errno.EPIPE, errno.ENOSPC, errno.EDQUOT, errno.EIO)


def show(document: Callable[[], object], words: Callable[[], str], as_json: bool) -> None:
    """Print a result, as one line of JSON or in words."""
    print(json.dumps(document(), ensure_ascii=False) if as_json else words())


def warn(text: object) -> None:
    """Print a line for people on standard error."""
    print(f"enginebay: {text}", file=sys.stderr)


def warn_of_damage(sentences: Iterable[str]) -> None:
    """Damage is said, and the exit status reports it: what was shown is only what holds."""
    found = list(sentences)
    for sentence in found:
        warn(sentence)
    if found:
        raise typer.Exit(DAMAGED)


@contextmanager
def errors_in_words(instead: str = "") -> Iterator[None]:
    """Errors meant for people are told as such; nobody sees a traceback of them. Decorates a command.

    instead: what there still is when an engine, a voice or a device is not.
    """
    try:
        yield
    except EngineBayError as error:
        warn(error)
        if instead and isinstance(error, AudioError | RecogniserError | VoiceError):
            warn(instead)
        raise typer.Exit(REFUSED) from None
    except KeyboardInterrupt:
        print("\nenginebay: stopped; what was confirmed is in the session's folder.", file=sys.stderr)
        raise typer.Exit(STOPPED) from None
    except (typer.Exit, typer.Abort):
        raise
    except Exception as error:
        if isinstance(error, OSError) and error.errno in _UNWRITABLE:
            raise  # `until_it_is_written` says so
        warn(_fault(error))
        raise typer.Exit(FAULT) from None


def _fault(error: Exception) -> str:
    """A fault of the program itself, for people; the traceback goes into a file for those who mend it."""
    import traceback

    from assistant.edge import places
    from assistant.edge.files.access import make_folder, write_whole

    kept = ""
    try:
        path = places.cache() / "fault.txt"
        make_folder(path.parent)
        write_whole(path, "".join(traceback.format_exception(error)).encode())
        kept = f" Send {path} to those who maintain the program."
    except (OSError, EngineBayError):
        pass  # what can be said is said
    return f"a fault in the program ({type(error).__name__}: {error}). What was confirmed in a visit is kept.{kept}"


def until_it_is_written(run: Callable[[], object]) -> object:
    """Run a program that prints. What it prints reaches its end, or that is said and the exit status reports it.

    Gives the exit status.
    """
    status: object = 0
    try:
        try:
            run()
        except SystemExit as ended:
            status = ended.code
        if sys.stdout is not None:
            sys.stdout.flush()
    except BrokenPipeError:  # whoever read it wants no more
        _drop_output()
        status = status or 1
    except OSError as error:
        _drop_output()
        warn(EngineBayError("output", f"it cannot be written ({error.strerror})", "Make room for it, and try again"))
        status = status or REFUSED
    except ValueError:  # it is closed
        status = status or REFUSED
    return status


def _drop_output() -> None:
    """Python would try once more at its end, and complain."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
