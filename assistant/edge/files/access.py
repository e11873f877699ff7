"""Files and folders on disk: read within bounds, written whole or not at all, for their owner's eyes only.

Knows descriptors, modes and syncing. Refuses to know what is in a file. Every fault is an `OSError` whose `strerror`
can stand in a sentence for people, so that callers treat it like any other fault of the disk.
"""

from __future__ import annotations

import contextlib
import errno
import os
import stat
import tempfile
from pathlib import Path

FOLDER_MODE, FILE_MODE = 0o700, 0o600


def read_file(path: Path, most: int, follow: bool = True) -> bytes:
    """The bytes of a regular file.

    most: how many it may have.
    follow: whether `path` itself may be a link.

    Errors: OSError, also for what is no regular file (a pipe would never end), for one that is too large, and for a
    link where none may be.
    """
    with os.fdopen(open_regular(path, os.O_RDONLY, follow), "rb") as file:
        data = file.read(most + 1)
    if len(data) > most:
        raise OSError(errno.EFBIG, f"it is larger than {most:,} bytes", str(path))
    return data


def open_regular(path: Path, flags: int, follow: bool = False) -> int:
    """The descriptor of a regular file, opened without ever waiting. flags: of `os.open`; the caller closes it.

    Errors: OSError, also for what is no regular file, and for a link unless `follow`.
    """
    try:
        file = os.open(path, flags | os.O_NONBLOCK | os.O_CLOEXEC | (0 if follow else os.O_NOFOLLOW), FILE_MODE)
    except OSError as error:
        if error.errno == errno.ELOOP and not follow:
            raise OSError(errno.ELOOP, "it is a link", str(path)) from None
        raise
    if not stat.S_ISREG(os.fstat(file).st_mode):
        os.close(file)
        raise OSError(errno.EINVAL, "it is no regular file", str(path))
    os.set_blocking(file, True)
    return file


def write_whole(path: Path, data: bytes) -> None:
    """The file holds all of the data when this returns, also after a power cut; else it is as it was before.

    A file that is there keeps its mode; what is no regular file (`/dev/stdout`) is written to, not replaced. Errors:
    OSError.
    """
    if path.exists() and not path.is_file():
        path.write_bytes(data)
        return
    path = path.resolve()  # through a link, the file that it leads to is replaced, not the link
    descriptor, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name[:100]}.", suffix=".part")
    try:
        with os.fdopen(descriptor, "wb") as file:  # mkstemp has made it with FILE_MODE
            if path.exists():
                os.fchmod(descriptor, stat.S_IMODE(path.stat().st_mode))
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(name)
        raise
    sync_folder(path.parent)


def remedy(error: OSError, otherwise: str) -> str:
    """What to do about a fault of the disk, for people. otherwise: where it is neither full nor are handles used up."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "Make room on the disk, and try again"
    if error.errno in (errno.EMFILE, errno.ENFILE):
        return "End other programs, and try again"
    return otherwise


def make_folder(path: Path) -> None:
    """The folder and those around it, as far as they are missing; what is new is synced. Errors: OSError."""
    if path.is_dir():
        return
    make_folder(path.parent)
    with contextlib.suppress(FileExistsError):  # another process may have been here meanwhile
        path.mkdir(FOLDER_MODE)
        sync_folder(path.parent)
    if not path.is_dir():
        raise NotADirectoryError(errno.ENOTDIR, "it is no folder", str(path))


def sync_folder(path: Path) -> None:
    """What was made, renamed or removed in the folder outlasts a power cut. Errors: OSError."""
    folder = os.open(path, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
