"""Files within bounds, written whole or not at all. Each case failed before: a pipe in the place of a journal hung
`enginebay trend` for ever, a full disk left half a page, and everything was readable for everybody."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from assistant.edge.files.access import make_folder, open_regular, read_file, write_whole


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_a_pipe_is_refused_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "journal.jsonl")
    with pytest.raises(OSError, match="no regular file"):
        read_file(tmp_path / "journal.jsonl", 100)


def test_a_device_without_end_is_refused(tmp_path: Path) -> None:
    (tmp_path / "journal.jsonl").symlink_to("/dev/zero")
    with pytest.raises(OSError, match="no regular file"):
        read_file(tmp_path / "journal.jsonl", 100)


def test_a_link_is_refused_where_none_may_be(tmp_path: Path) -> None:
    (tmp_path / "there").write_bytes(b"data")
    (tmp_path / "link").symlink_to(tmp_path / "there")
    assert read_file(tmp_path / "link", 100) == b"data"
    with pytest.raises(OSError, match="it is a link"):
        read_file(tmp_path / "link", 100, follow=False)


def test_a_file_of_the_greatest_size_is_read_and_a_larger_one_is_not(tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"12345")
    assert read_file(tmp_path / "file", 5) == b"12345"
    with pytest.raises(OSError, match="larger than 4 bytes"):
        read_file(tmp_path / "file", 4)


def test_new_folders_and_files_are_their_owners_alone(tmp_path: Path) -> None:
    make_folder(tmp_path / "a" / "b")
    write_whole(tmp_path / "a" / "b" / "page.html", b"x")
    os.close(open_regular(tmp_path / "a" / "b" / "journal", os.O_CREAT | os.O_WRONLY))
    assert mode(tmp_path / "a") == mode(tmp_path / "a" / "b") == 0o700
    assert mode(tmp_path / "a" / "b" / "page.html") == mode(tmp_path / "a" / "b" / "journal") == 0o600


def test_what_fails_in_the_middle_leaves_the_file_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    page = tmp_path / "page.html"
    write_whole(page, b"before")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        write_whole(page, b"after")
    assert page.read_bytes() == b"before"
    assert list(tmp_path.iterdir()) == [page]


def test_a_link_is_written_through_and_a_device_is_not_replaced(tmp_path: Path) -> None:
    (tmp_path / "real").write_bytes(b"")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write_whole(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"
    write_whole(Path("/dev/null"), b"nothing")
    assert stat.S_ISCHR(os.stat("/dev/null").st_mode)


def test_a_file_in_the_place_of_a_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"")
    with pytest.raises(NotADirectoryError):
        make_folder(tmp_path / "a" / "b")


def test_a_file_that_is_there_keeps_its_mode(tmp_path: Path) -> None:
    (tmp_path / "table").write_bytes(b"")
    (tmp_path / "table").chmod(0o644)
    write_whole(tmp_path / "table", b"new")
    assert mode(tmp_path / "table") == 0o644
