"""Files are written whole or not at all."""

from __future__ import annotations

import os
import stat
import subprocess

import pytest

from netlister.edits import write
from netlister.edits.write import WriteError, unified, write_layout
from netlister.source import Source, read_source


def file_of(tmp_path, data=b"a: 1\r\nb: 2\r\n"):
    path = tmp_path / "layout.yaml"
    path.write_bytes(data)
    return path


def test_a_file_is_written_and_the_old_one_kept_once(tmp_path):
    path = file_of(tmp_path)
    path.chmod(0o640)
    kept = write_layout(str(path), read_source(str(path)), "a: 3\r\nb: 2\r\n")
    assert kept == tmp_path / "layout.yaml.orig"
    assert kept.read_bytes() == b"a: 1\r\nb: 2\r\n"
    assert path.read_bytes() == b"a: 3\r\nb: 2\r\n"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert write_layout(str(path), read_source(str(path)), "a: 4\n") is None
    assert kept.read_bytes() == b"a: 1\r\nb: 2\r\n"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["layout.yaml", "layout.yaml.orig"]


def test_a_byte_order_mark_stays(tmp_path):
    path = file_of(tmp_path, b"\xef\xbb\xbfa: 1\n")
    write_layout(str(path), read_source(str(path)), "a: 2\n")
    assert path.read_bytes() == b"\xef\xbb\xbfa: 2\n"


def test_a_link_stays_a_link(tmp_path):
    path = file_of(tmp_path)
    link = tmp_path / "link.yaml"
    link.symlink_to(path)
    write_layout(str(link), read_source(str(link)), "a: 5\n")
    assert link.is_symlink()
    assert path.read_bytes() == b"a: 5\n"


def test_what_changed_meanwhile_is_left(tmp_path):
    path = file_of(tmp_path)
    source = read_source(str(path))
    path.write_bytes(b"a: mine\n")
    with pytest.raises(WriteError, match="was changed while this went on"):
        write_layout(str(path), source, "a: 5\n")
    assert path.read_bytes() == b"a: mine\n"
    assert [p.name for p in tmp_path.iterdir()] == ["layout.yaml"]


def test_what_changes_at_the_last_moment_is_left(tmp_path, monkeypatch):
    path = file_of(tmp_path)
    source = read_source(str(path))
    keep = write._keep

    def slow(target, data):
        found = keep(target, data)
        target.write_bytes(b"a: mine\n")
        return found

    monkeypatch.setattr(write, "_keep", slow)
    with pytest.raises(WriteError, match="was changed"):
        write_layout(str(path), source, "a: 5\n")
    assert path.read_bytes() == b"a: mine\n"


def test_pipes_folders_and_missing_files_are_refused(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    source = Source("x", "a: 1\n")
    for path in (pipe, tmp_path, tmp_path / "none", "-"):
        with pytest.raises(WriteError):
            write_layout(str(path), source, "a: 5\n")
    assert [p.name for p in tmp_path.iterdir()] == ["pipe"]


def test_a_full_disk_leaves_the_file(tmp_path, monkeypatch):
    path = file_of(tmp_path)
    source = read_source(str(path))

    def full(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(WriteError, match="No space left"):
        write_layout(str(path), source, "a: 5\n")
    assert path.read_bytes() == b"a: 1\r\nb: 2\r\n"
    assert [p.name for p in tmp_path.iterdir()] == ["layout.yaml"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("a\nb\nc\n", "a\nB\nc\n"),
        ("a\r\nb\r\n", "a\r\nx\r\nb\r\n"),
        ("a\nb", "a\nb\nc"),
        ("a\nb", "a\nb\n"),
        ("", "a\n"),
    ],
)
def test_the_difference_is_one_that_patch_takes(tmp_path, old, new):
    """The program patch, which shares no code with this, makes the new file of the old one."""
    path = file_of(tmp_path, old.encode())
    diff = unified(Source("layout.yaml", old), new)
    subprocess.run(["patch", "--binary", "-s", path.name], input=diff.encode(), check=True, cwd=tmp_path)
    assert path.read_bytes() == new.encode()
    assert unified(Source("layout.yaml", new), new) == ""


def test_a_read_only_file_is_left(tmp_path):
    path = file_of(tmp_path)
    path.chmod(0o444)
    with pytest.raises(WriteError, match="read-only"):
        write_layout(str(path), read_source(str(path)), "a: 5\n")
    assert [p.name for p in tmp_path.iterdir()] == ["layout.yaml"]
