"""Look for the one mistake behind several findings.

A repair is believed only when the layout with it made, checked again over every state, has lost findings and gained
none. What one repair takes away has one cause.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.causes.repairs import repairs
from netlister.finding import Mistake, Severity
from netlister.rules.model import Analysis

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.causes.model import Repair
    from netlister.finding import Finding
    from netlister.layout.model import Layout
    from netlister.rules.model import Broken, Rule
    from netlister.source import Span

Key = tuple[str, str, str]

WORK = 1_500_000
"""How much may be checked again over all trials: steps of proof, and for each conductor as much as EACH."""

EACH = 8

TRIAL_LIMIT = 200_000
"""Steps of proof for one region or subject in a trial."""

DEPTH = 3
"""Mistakes in one place that are looked for together."""

TRIED_RULES = (
    *("pole-short", "floating-net", "dead-track", "gap-clash", "expectation"),
    *("districts-joined", "reversers-abut", "frog-outside-section"),
)


def explain(analysis: Analysis, rules: Iterable[Rule], broken: list[Broken], findings: list[Finding]) -> list[Finding]:
    """Give findings with one cause the same number, with the mistake's words and place; the rest keep 0."""
    tried = [rule for rule in rules if rule.name in TRIED_RULES]
    search = _Search(analysis.layout, tried)
    left = {b.key: number for number, b in enumerate(broken) if b.rule in TRIED_RULES}
    current = {key: analysis.poles.diagrams.count(broken[n].function) for key, n in left.items()}
    result = list(findings)
    cause = 0
    for key in sorted(left, key=lambda k: (-findings[left[k]].severity, k)):
        if key not in left or _mild(result[left[key]]):
            continue
        found = search.best(key, result[left[key]], current, DEPTH)
        if found is None:
            left.pop(key)
            continue
        cause += 1
        search.layout, current, mistakes = found
        for other in [k for k in left if k not in current]:
            number = left.pop(other)
            where = tuple(dict.fromkeys((*(m.span for m in mistakes), *result[number].where)))
            fix = "; ".join(m.fix for m in mistakes)
            result[number] = replace(result[number], cause=cause, fix=fix, mistakes=mistakes, where=where)
    return _grouped_by_place(_grouped_by_net(_grouped_by_loop(_grouped_by_design(analysis, result, left, cause))))


def _grouped_by_place(findings: list[Finding]) -> list[Finding]:
    """Put all locomotives that stop at one place under one number."""
    cause = max((f.cause for f in findings), default=0)
    numbers: dict[Span, int] = {}
    for number, finding in enumerate(findings):
        if finding.rule == "stall" and not finding.cause:
            cause += finding.where[0] not in numbers
            findings[number] = replace(finding, cause=numbers.setdefault(finding.where[0], cause))
    return findings


def _grouped_by_loop(findings: list[Finding]) -> list[Finding]:
    """Put a reversing route under the number of the mistake that stands at its section."""
    for number, finding in enumerate(findings):
        if finding.rule == "reversing-route" and not finding.cause:
            for other in findings:
                if other.cause and any(m.span in finding.where for m in other.mistakes):
                    findings[number] = replace(finding, cause=other.cause, fix=other.fix, mistakes=other.mistakes)
                    break
    return findings


def _grouped_by_net(findings: list[Finding]) -> list[Finding]:
    """Put a net without a pole, and the track that is dead for it, under one number where no repair did so."""
    cause = max((f.cause for f in findings), default=0)
    numbers: dict[str, int] = {}
    for number, finding in enumerate(findings):
        if finding.rule == "floating-net" and not finding.cause:
            known = next((numbers[part] for part in finding.parts if part in numbers), 0)
            cause += not known
            findings[number] = replace(finding, cause=known or cause)
            numbers.update(dict.fromkeys(finding.parts, known or cause))
    for number, finding in enumerate(findings):
        if finding.rule == "dead-track" and not finding.cause and finding.subject in numbers:
            findings[number] = replace(finding, cause=numbers[finding.subject])
    return findings


def _mild(finding: Finding) -> bool:
    """Whether a finding may be meant: track that is dead because a turnout or switch stands so."""
    return finding.rule == "dead-track" and finding.severity < Severity.ERROR


def _grouped_by_design(analysis: Analysis, findings: list[Finding], left: dict[Key, int], cause: int) -> list[Finding]:
    """Put track that is dead by the same turnouts or switches under one number."""
    numbers: dict[int, int] = {}
    groups: dict[int, list[int]] = {}
    for number in left.values():
        finding = findings[number]
        region = _region(analysis, finding.subject) if _mild(finding) else None
        if region is not None:
            groups.setdefault(numbers.setdefault(region, number), []).append(number)
    for members in groups.values():
        cause += 1
        names = [findings[n].subject for n in members]
        said = ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")  # noqa: PLR2004
        verb = "has" if len(names) == 1 else "have"
        headline = f"{said} {verb} power only while turnouts and switches stand for it"
        fix = (
            "if that is meant, say so under 'expect' (is: dead, with its 'when'); "
            "if not, insulate the frog's rails and feed the track beyond them"
        )
        first = findings[members[0]]
        mistake = Mistake(headline, fix, first.where[0])
        for number in members:
            findings[number] = replace(findings[number], cause=cause, fix=fix, mistakes=(mistake,))
    return findings


def _region(analysis: Analysis, piece: str) -> int | None:
    """A number for the region that a rail of the piece is in, or None where all are always fed or never."""
    for rail in analysis.layout.pieces[piece].kind.rails:
        region = analysis.poles.region_of.get(analysis.net(f"{piece}.{rail}"))
        if region is not None:
            return min(region.nets)
    return None


class _Search:
    """Tries repairs on a layout that gets better from one found cause to the next."""

    def __init__(self, layout: Layout, rules: list[Rule]) -> None:
        self.layout = layout
        self.rules = rules
        self.work = WORK

    def best(
        self, key: Key, finding: Finding, current: dict[Key, int], depth: int
    ) -> tuple[Layout, dict[Key, int], tuple[Mistake, ...]] | None:
        """The repair that takes away most findings, `key` among them, and brings none.

        Where no single one does, the one that takes away most of the states of `key`, with what mends the rest.
        Returns the layout mended, what is still broken in it, and the mistakes.
        """
        if self.work <= 0:
            return None
        best: tuple[Repair, dict[Key, int]] | None = None
        step: tuple[Repair, dict[Key, int]] | None = None
        for repair in repairs(self.layout, self._near(finding), (finding.subject,)):
            if self.work <= 0:
                break
            after = self._check(repair.apply(self.layout))
            if after is None or not _no_worse(current, after):
                continue
            if key not in after and len(after) < len(current):
                if best is None or len(after) < len(best[1]):
                    best = repair, after
                if not after:
                    break
            elif after.get(key, current[key]) < current[key] and (
                step is None or sum(after.values()) < sum(step[1].values())
            ):
                step = repair, after
        if best is not None:
            repair, after = best
            return repair.apply(self.layout), after, (repair.mistake,)
        if step is None or depth <= 1:
            return None
        return self._more(key, finding, step, depth)

    def _more(
        self, key: Key, finding: Finding, step: tuple[Repair, dict[Key, int]], depth: int
    ) -> tuple[Layout, dict[Key, int], tuple[Mistake, ...]] | None:
        """Look for a further mistake in a place where mending the first was not enough."""
        repair, after = step
        before, self.layout = self.layout, repair.apply(self.layout)
        found = self.best(key, finding, after, depth - 1)
        if found is None:
            self.layout = before
            return None
        return found[0], found[1], (repair.mistake, *found[2])

    def _near(self, finding: Finding) -> list[str]:
        """The pieces of a finding and those joined to them."""
        pieces = self.layout.pieces
        parts = [p for p in finding.parts if p in pieces]
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
        verdicts = [verdict for rule in self.rules for _, verdict in rule.verdicts(analysis)]
        found = {b.key: b.function for verdict in verdicts for b in verdict.broken}
        diagrams = analysis.poles.diagrams
        self.work -= EACH * len(analysis.circuit.conductors) + diagrams.steps
        if any(verdict.unproved for verdict in verdicts):
            return None
        return {key: diagrams.count(function) for key, function in found.items()}


def _no_worse(before: dict[Key, int], after: dict[Key, int]) -> bool:
    """Whether nothing is broken after that was not before, or in more states."""
    totals: dict[tuple[str, str], int] = {}
    for (rule, subject, _), states in before.items():
        totals[rule, subject] = totals.get((rule, subject), 0) + states
    for (rule, subject, _), states in after.items():
        totals[rule, subject] = totals.get((rule, subject), 0) - states
    return all(left >= 0 for left in totals.values())
