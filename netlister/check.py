"""Check a layout: every rule over every state."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.finding import Finding, Severity
from netlister.poles.diagram import LimitError
from netlister.poles.reach import LIMIT
from netlister.rules import BY_NAME, MENDED, RULES, allowing
from netlister.rules.analysis import Analysis
from netlister.rules.judging import Judging
from netlister.rules.model import Unproved

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from netlister.finding import Positions
    from netlister.layout.model import Layout
    from netlister.repairs.model import Cause, Together
    from netlister.rules.model import Broken, Rule

MOST_ENTRIES = 200
"""How many partial positions of a finding are given at the most."""


FEW = 5
"""Rules that were not run and are still told by name."""


@dataclass(frozen=True, slots=True)
class Report:
    """The outcome of a check.

    `unproved`: pairs of rule and subject that the limit left open, shorts first. `together`: what mends all causes at
    once, where that was looked for. `left_out`: rules of a plain check that were not run.
    """

    layout: Layout
    findings: tuple[Finding, ...]
    unproved: tuple[Unproved, ...]
    steps: int
    causes: dict[int, Cause] = field(default_factory=dict)
    together: Together | None = None
    left_out: tuple[str, ...] = ()

    @property
    def proved(self) -> bool:
        """Whether every question was settled within the limit."""
        return not self.unproved

    @property
    def unseen(self) -> str:
        """The rules of a plain check that were not run: by name, many by their number, or nothing."""
        few = len(self.left_out) <= FEW
        return ", ".join(self.left_out) if few else f"{len(self.left_out)} rules of a plain check"

    def count(self, severity: Severity) -> int:
        """How many findings there are of a severity."""
        return sum(f.severity == severity for f in self.findings)


def chosen(select: Collection[str] = (), ignore: Collection[str] = ()) -> list[Rule]:
    """The rules to run: those of `select` (else every default one) without those of `ignore`."""
    return [r for r in RULES if (r.name in select if select else r.default) and r.name not in ignore]


def check(  # noqa: PLR0913 - each is a matter of its own
    layout: Layout,
    select: Collection[str] = (),
    ignore: Collection[str] = (),
    limit: int = LIMIT,
    *,
    causes: bool = True,
    keep: Collection[str] = (),
) -> Report:
    """Check a layout.

    `select`, `ignore`: names of rules. `limit`: steps of proof for one region or one subject (0: no limit).
    `causes`: whether to look for the one mistake behind several findings; `keep`: names of what no repair may change.
    Raises UnusableError where `never` leaves no state at all.
    """
    return examine(Analysis.of(layout, limit, select), chosen(select, ignore), causes=causes, keep=keep)


def examine(analysis: Analysis, rules: list[Rule], *, causes: bool = True, keep: Collection[str] = ()) -> Report:
    """Check what has been analysed by some rules, as `check` does."""
    layout = analysis.layout
    judging = Judging(analysis, MENDED if causes else ())
    for rule in rules:
        judging.judge(rule)
    told = [tell(analysis, b) for b in judging.broken]
    findings = [finding for finding, _ in told]
    unproved = [*judging.unproved, *(Unproved(f.rule, f.subject) for f, covered in told if not covered)]
    found: dict[int, Cause] = {}
    together = None
    if findings and causes:
        from netlister.repairs.explain import explain

        findings, found, together = explain(judging, rules, findings, keep)
    whole = {r.name for r in rules if not r.more or r.name in analysis.named}
    findings = allowing.apply(findings, layout.allows, BY_NAME.keys(), whole)
    numbered = number_causes(findings)
    ordered = {new: found[old] for new, old in numbered.order.items() if old in found}
    steps = analysis.poles.diagrams.steps
    left_out = tuple(rule.name for rule in RULES if rule.default and rule not in rules)
    return Report(layout, numbered.findings, _shorts_first(unproved), steps, ordered, together, left_out)


SHORTS = ("pole-short", "throw-short", "gap-clash", "districts-joined")
"""The rules that are named first where something was not proved: what they speak of shorts a supply."""


def _shorts_first(unproved: Iterable[Unproved]) -> tuple[Unproved, ...]:
    rank = {name: number for number, name in enumerate((*SHORTS, *(r for r in BY_NAME if r not in SHORTS)))}
    return tuple(sorted(set(unproved), key=lambda one: (rank[one.rule], one.subject)))


def tell(analysis: Analysis, broken: Broken) -> tuple[Finding, bool]:
    """Turn what breaks a rule into a finding, and whether all of its states could be written down."""
    told = BY_NAME[broken.rule].tell(analysis, broken)
    when, complete, states, covered = cover(analysis, broken)
    found = Finding(
        broken.rule,
        told.severity,
        broken.subject,
        told.message,
        told.fix,
        told.parts,
        when,
        complete,
        states,
        told.path,
        told.where,
        told.terminals,
    )
    return found, covered


def cover(analysis: Analysis, broken: Broken) -> tuple[tuple[Positions, ...], bool, int, bool]:
    """The partial positions that cover a function, whether they are all, and (where not) the number of states.

    Last, whether a cover was found within the limit.
    """
    if broken.function == 1:
        return ((),), True, 0, True
    poles, diagrams = analysis.poles, analysis.poles.diagrams
    covered = True
    try:
        cubes = analysis.cubes(broken.function)
    except LimitError:
        covered = False
        some = diagrams.pick(diagrams.both(broken.function, poles.allowed(broken.function)))
        cubes = [tuple(some.items())]
    entries = [analysis.positions(cube) for cube in cubes]
    if not broken.all_states:
        return tuple(entries[:MOST_ENTRIES]), False, 0, True
    if len(entries) <= MOST_ENTRIES and covered:
        return tuple(entries), True, 0, True
    return tuple(entries[:MOST_ENTRIES]), False, diagrams.count(poles.without_never(broken.function)), covered


class Numbered(NamedTuple):
    """Findings in order with their causes numbered anew. `order`: per number the one that the cause had before."""

    findings: tuple[Finding, ...]
    order: dict[int, int]


HARM = (SHORTS, ("floating-net", "dead-track", "expectation"))
"""Rules by the harm that is done where they are broken, the worst first."""


def number_causes(findings: Iterable[Finding]) -> Numbered:
    """Order the findings and number their causes from 1, worst first; those without one get their own.

    Worst are errors before warnings; among these shorts, then clashes, then dead track; then what has most findings.
    """
    from dataclasses import replace

    groups: dict[int, list[Finding]] = {}
    for number, finding in enumerate(findings):
        groups.setdefault(finding.cause or -1 - number, []).append(finding)
    rank = {name: number for number, name in enumerate(BY_NAME)}
    harm = {name: number for number, name in enumerate(name for names in HARM for name in names)}

    def order(finding: Finding) -> tuple[int, int, int, str, tuple[Positions, ...], tuple[str, ...]]:
        worst = harm.get(finding.rule, len(harm))
        return (-finding.severity, worst, rank[finding.rule], finding.subject, finding.when, finding.path)

    listed = [(old, sorted(group, key=order)) for old, group in groups.items()]
    listed.sort(key=lambda one: (order(one[1][0])[:2], -len(one[1]), order(one[1][0]), one[1][0].where))
    numbered = tuple(replace(f, cause=new) for new, (_, group) in enumerate(listed, 1) for f in group)
    return Numbered(numbered, {new: old for new, (old, _) in enumerate(listed, 1)})
