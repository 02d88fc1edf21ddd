"""What came of one layout of several: its report, or why its file cannot be used."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from netlister.check import Report
    from netlister.finding import Finding, Positions
    from netlister.formats.json import EditsOf
    from netlister.source import UnusableError


class Outcome(NamedTuple):
    """The outcome of a check of one file. One of `report` and `error` is None."""

    name: str
    report: Report | None
    error: UnusableError | None = None
    edits_of: EditsOf | None = None


def posix(name: str) -> str:
    """The name of a file with plain slashes."""
    return PurePath(name).as_posix()


def when_said(finding: Finding) -> str:
    """The states of a finding on one line."""
    if finding.when == ((),):
        return "in every position"
    shown = "; or ".join(_cube(entry) for entry in finding.when[:3])
    more = len(finding.when) - 3
    return f"with {shown}" + (f"; and {more} more" if more > 0 else "")


def _cube(entry: Positions) -> str:
    return ", ".join(f"{name} {position}" for name, position in entry)


def on_one_line(finding: Finding) -> str:
    """A finding on one line: what is wrong and in which states."""
    return f"{finding.message} ({when_said(finding)})"
