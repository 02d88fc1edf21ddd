"""Check the wiring of a two-rail model railway over every combination of turnout positions.

`netlister.check_file("layout.yaml").findings` lists what is wrong: each finding has `severity`, `rule`, `subject`,
`when` (the states), `path`, `message` and `fix`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.source import UnusableError

if TYPE_CHECKING:
    from netlister.front import Report
    from netlister.layout.model import Layout

__version__ = "0.1.0"

__all__ = ["UnusableError", "check_file", "check_text", "read_file", "read_text"]


def read_file(path: str) -> Layout:
    """Read a layout file. Raises `netlister.source.UnusableError`, which lists every fault with its place."""
    from pathlib import Path

    from netlister.netlists.any import read_any
    from netlister.source import read_source

    return read_any(read_source(path), None if path == "-" else Path(path).resolve().parent)


def read_text(text: str, name: str = "layout.yaml") -> Layout:
    """Read a layout from text; `name` is what places are named after. Raises UnusableError as `read_file` does."""
    from netlister.netlists.any import read_any
    from netlister.source import Source

    return read_any(Source(name, text))


def check_file(path: str, **options: Any) -> Report:
    """Read and check a layout file; `options` are those of `netlister.check.check`."""
    from netlister.front import checked

    return checked(read_file(path), **options)


def check_text(text: str, name: str = "layout.yaml", **options: Any) -> Report:
    """Read and check a layout given as text."""
    from netlister.front import checked

    return checked(read_text(text, name), **options)
