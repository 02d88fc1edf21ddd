"""A changed file on the disk: shown as a difference first, written whole or not at all, the old file kept beside it."""

from __future__ import annotations

import os
import re
import stat
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from netlister.source import Source

_WRITABLE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\r|\n|$)")


class WriteError(Exception):
    """A file that was not written, and is as it was; says why."""


def unified(source: Source, text: str) -> str:
    """The difference between the text of a source and a new one, as a unified diff; nothing where there is none."""
    from difflib import unified_diff

    old, new = _lines(source.text), _lines(text)
    made = []
    for line in unified_diff(old, new, source.name, source.name, lineterm="\n"):
        if line.endswith("\n"):
            made.append(line)
        elif line.endswith("\r"):
            made.append(line + "\n")
        else:
            made.append(line + "\n\\ No newline at end of file\n")
    return "".join(made)


def _lines(text: str) -> list[str]:
    return [line for line in _LINE.findall(text) if line]


def write_layout(path: str, source: Source, text: str) -> Path | None:
    """Write a new text over the file that `source` was read from.

    The text is written beside the file, forced to the disk and put in its place in one step, with the permissions of
    the old file; a link stays a link. The old file is kept as `NAME.orig` unless there is one already. Returns the
    path of what was kept, or None. Raises WriteError where the file is no plain file, is read-only, was changed
    since it was read, or cannot be written; then it is as it was.
    """
    if path == "-":
        raise WriteError("what came from standard input cannot be written back; name a file with --output")
    try:
        target = Path(path).resolve(strict=True)
        if not stat.S_ISREG(target.stat().st_mode):
            message = f"'{path}' is no plain file and is not written to; name a file with --output"
            raise WriteError(message)
        if not target.stat().st_mode & _WRITABLE:
            message = f"'{path}' is read-only and is not written to; name a file with --output"
            raise WriteError(message)
        data = target.read_bytes()
    except OSError as error:
        message = f"'{path}' cannot be written: {error.strerror}"
        raise WriteError(message) from None
    mark = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    if data != mark + source.text.encode("utf-8"):
        message = f"'{path}' was changed while this went on, so nothing is written; run the command again"
        raise WriteError(message)
    try:
        kept = _keep(target, data)
        _replace(target, mark + text.encode("utf-8"), data)
    except OSError as error:
        message = f"'{path}' cannot be written: {error.strerror}"
        raise WriteError(message) from None
    return kept


def written_beside(target: Path, data: bytes) -> Path:
    """Write a hidden file beside a file (or where there is none yet), whole and forced to the disk; gives its place.

    It has the permissions of the file. Raises OSError, and then there is none.
    """
    beside = target.with_name(f".{target.name[:100]}.{os.getpid()}")
    _write_new(beside, data, stat.S_IMODE(target.stat().st_mode) if target.exists() else None)
    return beside


def _write_new(path: Path, data: bytes, mode: int | None) -> None:
    """Write a file that is not there yet, with permissions. Raises FileExistsError, or OSError: then there is none."""
    file = path.open("xb")
    try:
        with file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            path.chmod(mode)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def _keep(target: Path, data: bytes) -> Path | None:
    """Keep the old file beside the new one, once."""
    beside = target.with_name(f"{target.name}.orig")
    try:
        _write_new(beside, data, stat.S_IMODE(target.stat().st_mode))
    except FileExistsError:
        return None
    return beside


def _replace(target: Path, data: bytes, old: bytes) -> None:
    """Put new bytes in the place of a file in one step."""
    beside = written_beside(target, data)
    try:
        if target.read_bytes() != old:  # the last look before the step that cannot be undone
            message = f"'{target.name}' was changed while this went on, so nothing is written"
            raise WriteError(message)  # noqa: TRY301
        beside.replace(target)
    except BaseException:
        beside.unlink(missing_ok=True)
        raise
    folder = os.open(target.parent, os.O_RDONLY) if hasattr(os, "O_DIRECTORY") else None
    if folder is not None:
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
