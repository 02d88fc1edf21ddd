"""The front for programs: a report that can write itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from netlister import check

if TYPE_CHECKING:
    from netlister.layout.model import Layout


@dataclass(frozen=True, slots=True)
class Report(check.Report):
    """The outcome of a check, with its two ways of being written."""

    def to_json(self) -> dict[str, Any]:
        """The report as the plain values of `--format json`."""
        from netlister.formats.json import report_object

        return report_object(self)

    def to_text(self) -> str:
        """The report as the text that `netlister check` prints."""
        from netlister.formats.text import render

        return render(self)


def checked(layout: Layout, **options: Any) -> Report:
    """Check a layout; `options` are those of `netlister.check.check`."""
    found = check.check(layout, **options)
    return Report(found.layout, found.findings, found.unproved, found.steps, found.causes)
