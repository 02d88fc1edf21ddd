"""Look for the one mistake behind several findings.

A repair is believed only when the layout with it made, checked again over every state, has lost findings and gained
none. What one repair takes away has one cause.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.causes.repairs import Repair, repairs
from netlister.rules.model import Analysis

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.rules.model import Broken, Rule

Key = tuple[str, str, str]

TRIALS = 400
"""Repairs tried at the most; fewer on a large layout."""

WORK = 400_000
"""Conductors checked again at the most, over all trials."""

TRIAL_LIMIT = 200_000
"""Steps of proof for one region or subject in a trial."""

TRIED_RULES = ("pole-short", "floating-net", "dead-track", "gap-clash", "expectation")


def explain(
    analysis: Analysis, rules: Iterable[Rule], broken: list[Broken], findings: list[Finding]
) -> list[Finding]:
    """Give findings with one cause the same number, with the cause's words and place; the rest get none (0)."""
    tried = [rule for rule in rules if rule.name in TRIED_RULES]
    size = len(analysis.circuit.conductors) + 1
    search = _Search(analysis.layout, tried, max(12, min(TRIALS, WORK // size)))
    by_key = {b.key: number for number, b in enumerate(broken) if b.rule in TRIED_RULES}
    result = list(findings)
    left = dict(by_key)
    current = {key: analysis.poles.diagrams.count(broken[n].function) for key, n in by_key.items()}
    cause = 0
    for key in sorted(by_key, key=lambda k: findings[by_key[k]].order()[1:]):
        if key not in left:
            continue
        found = search.best(key, findings[by_key[key]], current)
        if found is None:
            left.pop(key)
            continue
        repair, after = found
        cause += 1
        for other in [k for k in left if k not in after]:
            number = left.pop(other)
            where = tuple(dict.fromkeys((repair.span, *result[number].where)))
            result[number] = replace(
                result[number], cause=cause, headline=repair.headline, fix=repair.fix, where=where
            )
        search.layout = repair.apply(search.layout)
        current = after
    return result


class _Search:
    """Tries repairs on a layout that gets better from one found cause to the next."""

    def __init__(self, layout: Layout, rules: list[Rule], trials: int) -> None:
        self.layout = layout
        self.rules = rules
        self.trials = trials

    def best(self, key: Key, finding: Finding, current: dict[Key, int]) -> tuple[Repair, dict[Key, int]] | None:
        """The repair that takes away most findings, `key` among them, and brings none."""
        best: tuple[Repair, dict[Key, int]] | None = None
        for repair in repairs(self.layout, self._near(finding), (finding.subject,)):
            if self.trials <= 0:
                break
            self.trials -= 1
            after = self._check(repair.apply(self.layout))
            if after is None or key in after or not _only_better(current, after):
                continue
            if best is None or len(after) < len(best[1]):
                best = repair, after
            if not after:
                break
        return best

    def _near(self, finding: Finding) -> list[str]:
        """The pieces of a finding and those joined to them."""
        parts = [p for p in finding.parts if p in self.layout.pieces]
        if not parts:
            parts = [t.split(".")[0] for t in finding.terminals if t.split(".")[0] in self.layout.pieces]
        near = dict.fromkeys(parts)
        if len(parts) <= 3:  # noqa: PLR2004 - a long path has its suspects on it
            for joint in self.layout.joints:
                if joint.start[0] in parts:
                    near[joint.end[0]] = None
                elif joint.end[0] in parts:
                    near[joint.start[0]] = None
        return list(near)

    def _check(self, layout: Layout) -> dict[Key, int] | None:
        """What is broken in a layout and in how many states; None where the limit left something open."""
        analysis = Analysis.of(layout, TRIAL_LIMIT)
        found = {b.key: b.function for rule in self.rules for b in rule.find(analysis)}
        if analysis.unproved:
            return None
        return {key: analysis.poles.diagrams.count(function) for key, function in found.items()}


def _only_better(before: dict[Key, int], after: dict[Key, int]) -> bool:
    """Whether nothing is broken after that was not before, or in more states."""
    totals: dict[tuple[str, str], int] = {}
    for (rule, subject, _), states in before.items():
        totals[rule, subject] = totals.get((rule, subject), 0) + states
    for (rule, subject, _), states in after.items():
        totals[rule, subject] = totals.get((rule, subject), 0) - states
    return all(left >= 0 for left in totals.values()) and len(after) < len(before)
