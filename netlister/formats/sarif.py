"""Findings as SARIF 2.1.0 (OASIS standard, "Static Analysis Results Interchange Format")."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import netlister
from netlister.formats.outcome import on_one_line, posix

if TYPE_CHECKING:
    from netlister.finding import Finding
    from netlister.formats.outcome import Outcome
    from netlister.source import Span

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
MOST = 25_000
"""Results that are written; readers refuse more."""

UNESCAPED = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~/")
"""The unreserved characters of RFC 3986, and the slash."""

UNUSABLE = "unusable-file"


def part(outcome: Outcome) -> list[dict[str, Any]]:
    """The results of one layout."""
    if outcome.error is not None:
        return [
            {
                "ruleId": UNUSABLE,
                "level": "error",
                "message": {"text": fault.message},
                "locations": [{"physicalLocation": _physical(fault.span)}],
                "partialFingerprints": {"netlister/v1": _print(UNUSABLE, outcome.name, fault.message)},
            }
            for fault in outcome.error.faults
        ]
    report = outcome.report
    assert report is not None
    found = [_result(f, report.causes.get(f.cause), outcome) for f in report.findings]
    for rule, subject in report.unproved:
        found.append(
            {
                "ruleId": rule,
                "kind": "open",
                "level": "none",
                "message": {"text": f"not proved for {subject} within the limit of steps"},
                "locations": [{"physicalLocation": {"artifactLocation": {"uri": _uri(outcome.name)}}}],
                "partialFingerprints": {"netlister/v1": _print(rule, outcome.name, f"open {subject}")},
            }
        )
    return found


def whole(parts: list[list[dict[str, Any]]]) -> str:
    """One log with one run. `ruleIndex` of each result points to its rule, with its page as help."""
    from netlister.rules import RULES

    results = [result for one in parts for result in one]
    rules = [
        {
            "id": UNUSABLE,
            "shortDescription": {"text": "The file cannot be used as a layout"},
            "help": {"text": "Mend what is named at each place; nothing was checked."},
        },
        *(
            {
                "id": rule.name,
                "shortDescription": {"text": rule.title},
                "help": {"text": rule.document.strip(), "markdown": rule.document.strip()},
            }
            for rule in RULES
        ),
    ]
    index = {rule["id"]: number for number, rule in enumerate(rules)}
    for result in results:
        result["ruleIndex"] = index[result["ruleId"]]
    driver = {"name": "netlister", "version": netlister.__version__, "rules": rules}
    run: dict[str, Any] = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "results": results[:MOST],
    }
    if len(results) > MOST:
        text = f"{len(results) - MOST} more results are left out; 'netlister check' without --format shows all causes"
        note = {"level": "warning", "message": {"text": text}}
        run["invocations"] = [{"executionSuccessful": True, "toolExecutionNotifications": [note]}]
    log = {"$schema": SCHEMA, "version": "2.1.0", "runs": [run]}
    return json.dumps(log, ensure_ascii=False, indent=1) + "\n"


def _result(finding: Finding, cause: Any, outcome: Outcome) -> dict[str, Any]:
    text = on_one_line(finding) + (f"\n{finding.fix}" if finding.fix else "")
    where = finding.where or ()
    first = where[0] if where else None
    physical = _physical(first) if first else {"artifactLocation": {"uri": _uri(outcome.name)}}
    names = [finding.subject, *(part for part in finding.parts if part != finding.subject)]
    found: dict[str, Any] = {
        "ruleId": finding.rule,
        "level": finding.severity.label,
        "message": {"text": text},
        "locations": [{"physicalLocation": physical, "logicalLocations": [_logical(name) for name in names]}],
        "partialFingerprints": {
            "netlister/v1": _print(finding.rule, outcome.name, finding.subject, *sorted(finding.parts))
        },
        "properties": {"cause": finding.cause, "when": [dict(entry) for entry in finding.when]},
    }
    if len(where) > 1:
        found["relatedLocations"] = [{"id": k, "physicalLocation": _physical(s)} for k, s in enumerate(where[1:], 1)]
    if finding.path:
        steps = [{"location": {"logicalLocations": [_logical(t)], "message": {"text": t}}} for t in finding.path]
        flow = {"message": {"text": "the conducting path"}, "threadFlows": [{"locations": steps}]}
        found["codeFlows"] = [flow]
    fixes = _fixes(cause, outcome) if cause is not None else []
    if fixes:
        found["fixes"] = fixes
    return found


def _fixes(cause: Any, outcome: Outcome) -> list[dict[str, Any]]:
    """The repairs of a cause whose every change can be written into the text, each as one fix."""
    fixes = []
    for repair in cause.repairs:
        edits = outcome.edits_of(repair) if outcome.edits_of else []
        if not any(edits):
            continue
        changes: dict[str, list[dict[str, Any]]] = {}
        for edit in (edit for of in edits for edit in of):
            start, end = edit["start"], edit["end"]
            region = {
                "startLine": start["line"],
                "startColumn": start["column"],
                "endLine": end["line"],
                "endColumn": end["column"],
            }
            replacement = {"deletedRegion": region, "insertedContent": {"text": edit["text"]}}
            changes.setdefault(edit["file"], []).append(replacement)
        fixes.append(
            {
                "description": {"text": "; ".join(one.say for one in repair.choices)},
                "artifactChanges": [
                    {"artifactLocation": {"uri": _uri(file)}, "replacements": of} for file, of in changes.items()
                ],
            }
        )
    return fixes


def _logical(name: str) -> dict[str, str]:
    return {"fullyQualifiedName": name, "kind": "element"}


def _physical(span: Span) -> dict[str, Any]:
    region = {
        "startLine": span.line,
        "startColumn": span.column,
        "endLine": span.end_line,
        "endColumn": span.end_column,
    }
    return {"artifactLocation": {"uri": _uri(span.file)}, "region": region}


def _uri(name: str) -> str:
    """A relative reference by RFC 3986; a first part with a colon would be taken for a scheme."""
    data = posix(name).encode("utf-8", "surrogateescape")
    return "".join(chr(byte) if chr(byte) in UNESCAPED else f"%{byte:02X}" for byte in data)


def _print(*words: str) -> str:
    """A fingerprint of names, not of places: it stays when lines move."""
    return hashlib.sha256("\x00".join(words).encode("utf-8", "surrogateescape")).hexdigest()[:32]
