"""Name the mistakes behind findings: the least repairs, proved in the whole layout before they are told."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from netlister.repairs import grouping
from netlister.repairs.agreeing import Agreeing
from netlister.repairs.consequences import follow
from netlister.repairs.problems import Wrong
from netlister.repairs.solving import Solving
from netlister.repairs.telling import Telling
from netlister.rules import MENDED

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding, Mistake
    from netlister.layout.model import Layout
    from netlister.repairs.model import Cause, Together
    from netlister.rules.judging import Judging
    from netlister.rules.model import Rule


class Explained(NamedTuple):
    """Findings with the numbers of their causes, the causes, and what mends all at once, where that is known."""

    findings: list[Finding]
    causes: dict[int, Cause]
    together: Together | None = None


def explain(judging: Judging, rules: Iterable[Rule], findings: list[Finding], keep: Iterable[str] = ()) -> Explained:
    """Give findings with one cause the same number, with the mistake's words and place; the rest keep 0.

    `findings`: those of what is broken, in the same order. `keep`: names of what no repair may change.
    """
    analysis, broken = judging.analysis, judging.broken
    wrong = Wrong(analysis, broken, list(findings))
    told = Telling(wrong)
    together = None
    problems = wrong.clusters()
    if problems:
        tried = [rule for rule in rules if rule.name in MENDED]
        solving = Solving(judging, tried, wrong, frozenset(keep))
        for problem in solving.run(problems):
            told.tell(problem)
        together = solving.together
        agreed = Agreeing(wrong.findings, wrong.keys, told.causes, solving.whole)
        agreed.run()
        follow(analysis, [rule for rule in rules if rule.name not in MENDED], agreed)
    left = {b.key: n for n, b in enumerate(broken) if b.rule in MENDED and n not in told.told}
    found = Explained(grouping.grouped(analysis, wrong.findings, left), told.causes, together)
    return _in_a_drawing(analysis.layout, found) if analysis.layout.netlist else found


def _in_a_drawing(layout: Layout, found: Explained) -> Explained:
    """The same with what to do in the words of the drawing that the layout comes from."""
    from netlister.repairs.drawn import told

    causes: dict[int, Cause] = {}
    said: dict[Mistake, Mistake] = {}
    for number, cause in found.causes.items():
        words = {one: told(layout, one) for repair in cause.repairs for one in repair.choices}
        said |= {one.mistake: word.mistake for one, word in words.items()}
        repairs = tuple(r._replace(choices=tuple(words[one] for one in r.choices)) for r in cause.repairs)
        causes[number] = cause._replace(repairs=repairs)
    findings = []
    for finding in found.findings:
        mistakes = tuple(said.get(mistake, mistake) for mistake in finding.mistakes)
        fix = "; ".join(mistake.fix for mistake in mistakes) if mistakes else finding.fix
        findings.append(replace(finding, mistakes=mistakes, fix=fix))
    return found._replace(findings=findings, causes=causes)
