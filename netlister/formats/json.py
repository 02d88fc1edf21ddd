"""Findings as one JSON object, version `netlister-findings/1`."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from netlister.finding import Severity
from netlister.quantity import count_said

if TYPE_CHECKING:
    from netlister.check import Report
    from netlister.finding import Finding
    from netlister.repairs.model import Repair
    from netlister.source import Span, UnusableError

FORMAT = "netlister-findings/1"
MOST_BITS = 14_000
"""Of a number that is written in full; Python writes no more than 4,300 digits."""


EditsOf = Callable[["Repair"], "list[list[dict[str, Any]]]"]
"""From a repair to the edits of the text for each of its changes, as plain values; all of them make the repair."""


def report_object(report: Report, edits_of: EditsOf | None = None) -> dict[str, Any]:
    """The report as plain values. `edits_of`: finds the edits of the text of the layout's file, where there is one."""
    found: dict[str, Any] = {
        "format": FORMAT,
        "layout": report.layout.name,
        "proved": report.proved,
        "variables": {v.name: list(v.positions) for v in report.layout.variables.values()},
        "summary": {s.label: report.count(s) for s in sorted(Severity, reverse=True)},
        "findings": [_finding(f, report.layout.drawn) for f in report.findings],
    }
    if report.causes:
        found["causes"] = [
            {"cause": number, "repairs": [repair_object(repair, edits_of) for repair in cause.repairs]}
            for number, cause in sorted(report.causes.items())
        ]
    if not report.proved:
        found["unproved"] = [{"rule": rule, "subject": subject} for rule, subject in report.unproved]
    return found


def _finding(f: Finding, drawn: dict[str, str]) -> dict[str, Any]:
    found: dict[str, Any] = {
        "rule": f.rule,
        "severity": f.severity.label,
        "subject": f.subject,
        "parts": list(f.parts),
        "cause": f.cause,
        "when": [dict(entry) for entry in f.when],
    }
    if not f.when_complete:
        found["when_complete"] = False
        if f.states:
            found["states"] = str(f.states) if f.states.bit_length() < MOST_BITS else count_said(f.states)
    if f.terminals:
        found["terminals"] = list(f.terminals)
    found["path"] = list(f.path)
    said = {name: drawn[name] for name in (f.subject, *f.parts, *f.path, *f.terminals) if name in drawn}
    if said:
        found["drawn"] = said
    found["message"] = f.message
    found["fix"] = f.fix
    found["where"] = [place(span) for span in f.where]
    return found


def repair_object(repair: Repair, edits_of: EditsOf | None = None) -> dict[str, Any]:
    """A repair as plain values: its changes with the edits of the text, and what it leaves broken."""
    edits = [[] for _ in repair.choices] if edits_of is None else edits_of(repair)
    changes = [
        {"say": one.say, "where": place(one.span), "edits": own} for one, own in zip(repair.choices, edits, strict=True)
    ]
    left = [{"rule": rule, "subject": subject} for rule, subject in repair.left]
    return {"weight": repair.weight, "changes": changes, "left": left}


def edit_object(edit: Any) -> dict[str, Any]:
    """An edit of a text as plain values; lines and columns count from 1, the end is exclusive."""
    start = {"line": edit.line, "column": edit.column}
    end = {"line": edit.end_line, "column": edit.end_column}
    return {"file": edit.file, "start": start, "end": end, "text": edit.text}


def place(span: Span) -> dict[str, Any]:
    """A place as plain values."""
    return {"file": span.file, "line": span.line, "column": span.column}


def unusable_object(name: str, error: UnusableError) -> dict[str, Any]:
    """What is said of a file that cannot be used, as plain values."""
    faults = [{"message": fault.message, "where": [place(fault.span)]} for fault in error.faults]
    return {"format": FORMAT, "layout": name, "unusable": faults}


def dump(value: dict[str, Any]) -> str:
    """JSON text of an object, an entry of each list or mapping of objects on a line of its own."""
    parts = []
    for key, inner in value.items():
        if isinstance(inner, list) and inner and isinstance(inner[0], dict):
            lines = ",\n".join("  " + json.dumps(entry, ensure_ascii=False) for entry in inner)
            parts.append(f"{json.dumps(key)}: [\n{lines}]")
        elif isinstance(inner, dict) and any(isinstance(entry, dict) for entry in inner.values()):
            lines = ",\n".join(
                f"  {json.dumps(k, ensure_ascii=False)}: {json.dumps(v, ensure_ascii=False)}" for k, v in inner.items()
            )
            parts.append(f"{json.dumps(key)}: {{\n{lines}}}")
        else:
            parts.append(f"{json.dumps(key)}: {json.dumps(inner, ensure_ascii=False)}")
    return "{" + ",\n ".join(parts) + "}\n"


def render(report: Report, edits_of: EditsOf | None = None) -> str:
    """The report as JSON text."""
    return dump(report_object(report, edits_of))
