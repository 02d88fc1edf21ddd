"""Findings as annotations of a run in a forge's CI: workflow commands.

Source: the forge's documentation, "Workflow commands", setting a notice, warning or error message.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.formats.outcome import on_one_line, posix

if TYPE_CHECKING:
    from netlister.formats.outcome import Outcome
    from netlister.source import Span

MOST = 10
"""Annotations of one word that a step shows."""

ORDER = ("error", "warning", "notice")
WORDS = {"error": "error", "warning": "warning", "note": "notice"}


def part(outcome: Outcome) -> str:
    """One line per finding, fault or open question."""
    if outcome.error is not None:
        return "".join(_line("error", "file cannot be used", f.message, f.span) for f in outcome.error.faults)
    report = outcome.report
    assert report is not None
    lines = []
    for finding in report.findings:
        text = on_one_line(finding) + (f"\n{finding.fix}" if finding.fix else "")
        lines.append(
            _line(
                WORDS[finding.severity.label],
                finding.rule,
                text,
                finding.where[0] if finding.where else None,
                outcome.name,
            )
        )
    for rule, subject in report.unproved:
        lines.append(_line("error", rule, f"not proved: {subject}", None, outcome.name))
    return "".join(lines)


def whole(parts: list[str]) -> str:
    """All of them, errors first, since only so many are shown; where there are more, a line says so."""
    lines = [line for one in parts for line in one.splitlines(keepends=True)]
    lines.sort(key=lambda line: ORDER.index(line[2:].partition(" ")[0]))
    counts = [sum(line.startswith(f"::{word} ") for line in lines) for word in ORDER]
    if max(counts) > MOST:
        errors, warnings, notices = counts
        lines.append(
            f"{errors} errors, {warnings} warnings, {notices} notices; a step shows {MOST} of each, this log has all\n"
        )
    return "".join(lines)


def _line(word: str, title: str, text: str, span: Span | None = None, name: str = "") -> str:
    places = {"title": f"netlister: {title}"}
    if span is not None:
        name = span.file
        places |= {"line": str(span.line), "col": str(span.column)}
        if span.end_line == span.line:  # columns only count within one line
            places["endColumn"] = str(span.end_column)
    places = {"file": posix(name), **places}
    fields = ",".join(f"{key}={_field(value)}" for key, value in places.items())
    return f"::{word} {fields}::{_data(text)}\n"


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _field(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
