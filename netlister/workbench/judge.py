"""What a change does to the findings, from the session or from two full checks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from netlister.check import tell
from netlister.finding import Severity
from netlister.formats.text import when_text
from netlister.workbench.model import Verdict

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.check import Report
    from netlister.finding import Finding
    from netlister.session import Delta, Session

Key = tuple[str, str]
"""A rule and a subject."""

MOST_TOLD = 30
"""Findings of one sort that are told; of the rest the number."""


def counts(findings: Iterable[Finding]) -> tuple[int, int, int]:
    """How many errors, warnings and notes there are."""
    found = [f.severity for f in findings]
    return found.count(Severity.ERROR), found.count(Severity.WARNING), found.count(Severity.NOTE)


def keys_of(report: Report) -> frozenset[Key]:
    """What is broken, by rule and subject."""
    return frozenset((f.rule, f.subject) for f in report.findings)


def keys_told(session: Session, delta: Delta) -> frozenset[Key]:
    """What is broken after an edit, as the session has it."""
    assert delta.before is session.state
    return frozenset((b.rule, b.subject) for b in delta.after.broken)


def of_delta(report: Report, delta: Delta) -> Verdict:
    """The verdict of the session on an edit of the layout of a report."""
    before, after = delta.before.analysis, delta.after.analysis
    gone = [tell(before, broken)[0] for broken in delta.gone]
    new = [tell(after, broken)[0] for broken in delta.new]
    changed = {change.key for change in delta.changed}
    was = [tell(before, b)[0] for b in delta.before.broken if b.key in changed]
    moved = [tell(after, b)[0] for b in delta.after.broken if b.key in changed]
    first = counts(report.findings)
    signed = ((gone, -1), (was, -1), (new, 1), (moved, 1))
    last = tuple(n + sum(sign * counts(found)[k] for found, sign in signed) for k, n in enumerate(first))
    unproved = tuple(sorted({f"{u.rule} of {u.subject}" for u in delta.after.unproved}))
    return Verdict(first, (last[0], last[1], last[2]), tuple(gone), tuple(new), tuple(moved), unproved)


def compared(before: Report, after: Report) -> Verdict:
    """What differs between two checks."""
    old, new = _by_key(before), _by_key(after)
    gone = [f for key, found in old.items() if key not in new for f in found]
    came = [f for key, found in new.items() if key not in old for f in found]
    moved = [
        f
        for key, found in new.items()
        if key in old and sorted(o.when for o in old[key]) != sorted(f.when for f in found)
        for f in found
    ]
    unproved = tuple(sorted({f"{u.rule} of {u.subject}" for u in after.unproved}))
    return Verdict(counts(before.findings), counts(after.findings), tuple(gone), tuple(came), tuple(moved), unproved)


def _by_key(report: Report) -> dict[Key, list[Finding]]:
    found: dict[Key, list[Finding]] = {}
    for finding in report.findings:
        found.setdefault((finding.rule, finding.subject), []).append(finding)
    return found


def verdict_object(verdict: Verdict) -> dict[str, Any]:
    """A verdict as plain values, the worst first."""
    return {
        "before": list(verdict.before),
        "after": list(verdict.after),
        "gone": _told(verdict.gone),
        "new": _told(verdict.new),
        "moved": _told(verdict.moved),
        "unproved": list(verdict.unproved[:MOST_TOLD]),
    }


MOST_PATH = 9
"""Terminals of a path that are told."""


def _along(path: tuple[str, ...]) -> str:
    """A path in words, without its middle where it is long."""
    if len(path) > MOST_PATH:
        path = (*path[: MOST_PATH // 2], "…", *path[-MOST_PATH // 2 :])
    return " to ".join(path)


def _told(findings: Iterable[Finding]) -> dict[str, Any]:
    listed = sorted(findings, key=lambda f: (-f.severity, f.rule, f.subject))
    rows = [
        {
            "severity": f.severity.label,
            "rule": f.rule,
            "subject": f.subject,
            "message": f.message,
            "when": when_text(f),
            "path": _along(f.path),
        }
        for f in listed[:MOST_TOLD]
    ]
    return {"rows": rows, "more": len(listed) - len(rows)}
