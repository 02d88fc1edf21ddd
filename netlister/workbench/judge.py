"""What a change does to the findings, from the session or from two full checks."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from netlister.check import tell
from netlister.finding import Severity
from netlister.formats.text import when_text
from netlister.rules.reading import OF_TEXT
from netlister.workbench.model import BeforeAfter

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding
    from netlister.rules.model import Unproved
    from netlister.session import Delta

FindingKey = tuple[str, str, str]
"""A rule, a subject and a severity."""

MOST_TOLD = 30
"""Findings of one sort that are told; of the rest the number."""


def counts(findings: Iterable[Finding]) -> tuple[int, int, int]:
    """How many errors, warnings and notes there are."""
    found = [f.severity for f in findings]
    return found.count(Severity.ERROR), found.count(Severity.WARNING), found.count(Severity.NOTE)


def keys_of(findings: Iterable[Finding], *, named: bool = True) -> frozenset[FindingKey]:
    """What is broken, by rule, subject and severity; unless `named`, how often in place of the subject.

    What is said of the text alone is left out: only what is written can be read.
    """
    broken = [f for f in findings if f.rule not in OF_TEXT]
    if named:
        return frozenset((f.rule, f.subject, f.severity.label) for f in broken)
    times = Counter((f.rule, f.severity.label) for f in broken)
    return frozenset((rule, str(count), severity) for (rule, severity), count in times.items())


def told_after(delta: Delta) -> list[Finding]:
    """All findings after an edit. One that breaks in the same states as before may be worse now, so all are told."""
    return [tell(delta.analysis, broken)[0] for broken in delta.after.broken]


def compared(before: Iterable[Finding], after: Iterable[Finding], unproved: Iterable[Unproved]) -> BeforeAfter:
    """What differs between the findings before and after a change. `unproved`: what is not proved after it."""
    first, last = list(before), list(after)
    old, new = _by_key(first), _by_key(last)
    gone = [f for key, found in old.items() if key not in new for f in found]
    came = [f for key, found in new.items() if key not in old for f in found]
    moved = [
        f
        for key, found in new.items()
        if key in old and sorted(map(_how, old[key])) != sorted(map(_how, found))
        for f in found
    ]
    left_open = tuple(sorted({f"{u.rule} of {u.subject}" for u in unproved}))
    return BeforeAfter(counts(first), counts(last), tuple(gone), tuple(came), tuple(moved), left_open)


def _how(finding: Finding) -> Any:
    return finding.severity, sorted(finding.when)


def _by_key(findings: Iterable[Finding]) -> dict[tuple[str, str], list[Finding]]:
    found: dict[tuple[str, str], list[Finding]] = {}
    for finding in findings:
        found.setdefault((finding.rule, finding.subject), []).append(finding)
    return found


def verdict_object(verdict: BeforeAfter) -> dict[str, Any]:
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
