"""Findings that no repair is looked for, but which a cure takes away: they belong under its heading."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.circuit.build import build
from netlister.edits.model import ImpossibleError, apply
from netlister.finding import Severity
from netlister.repairs.agreeing import around
from netlister.rules.analysis import Analysis
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.edits.model import Edit
    from netlister.repairs.agreeing import Agreeing
    from netlister.rules.model import Rule

MOST_CAUSES = 12
"""Causes near a finding of which each is tried by itself."""


def follow(analysis: Analysis, rules: Iterable[Rule], agreed: Agreeing) -> None:
    """Give findings without a cause the number of the one whose cure takes them away, in place.

    A cure that brings a rule a new subject takes nothing away of that rule: what was found has only moved. What only
    several cures take away together is told under the first of them that is near.
    """
    findings, causes = agreed.findings, agreed.causes
    cures = {number: cause.repairs[0].edit for number, cause in causes.items() if cause.repairs}
    left = [n for n, f in enumerate(findings) if not f.cause and f.severity > Severity.NOTE]
    names = {findings[n].rule for n in left}
    looked = [rule for rule in rules if rule.name in names]
    if not left or not cures:
        return
    known = {(f.rule, f.subject) for f in findings}
    together = tuple(dict.fromkeys(change for edit in cures.values() for change in edit))
    gone = _gone(analysis, looked, known, together)
    alone: dict[int, set[tuple[str, str]]] = {}
    spread = {n: around(agreed.search.choices, pieces) for n, pieces in agreed.pieces().items()} if gone else {}
    for n in left:
        finding = findings[n]
        if (finding.rule, finding.subject) not in gone:
            continue
        parts = {finding.subject, *finding.parts}
        near = [number for number in cures if not parts.isdisjoint(spread[number])]
        if len(cures) > 1 and len(near) <= MOST_CAUSES:
            for number in near:
                if number not in alone:
                    alone[number] = _gone(analysis, looked, known, cures[number])
            near = [number for number in near if (finding.rule, finding.subject) in alone[number]] or near[:1]
        elif len(cures) == 1:
            near = list(cures)
        if len(near) >= 1:
            mistakes = tuple(one.mistake for one in causes[near[0]].repairs[0].choices)
            fix = "; ".join(mistake.fix for mistake in mistakes)
            findings[n] = replace(finding, cause=near[0], fix=fix, mistakes=mistakes)


def _gone(analysis: Analysis, rules: list[Rule], known: set[tuple[str, str]], edit: Edit) -> set[tuple[str, str]]:
    """What some rules find no more after an edit."""
    try:
        after = Analysis(build(apply(edit, analysis.layout)), analysis.limit, analysis.named)
        after.poles  # noqa: B018 - may leave no state
    except (ImpossibleError, UnusableError):
        return set()
    gone: set[tuple[str, str]] = set()
    for rule in rules:
        verdicts = [verdict for _, verdict in rule.verdicts(after)]
        found = {(b.rule, b.subject) for verdict in verdicts for b in verdict.broken}
        if found <= known and not any(verdict.unproved for verdict in verdicts):
            gone |= {key for key in known if key[0] == rule.name and key not in found}
    return gone
