"""What is wrong, in groups that hang together, and what was found for each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.layout.terminal import owner_of
from netlister.repairs.agreeing import SHORTS
from netlister.repairs.meant import may_be_meant
from netlister.rules import MENDED
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding
    from netlister.repairs.model import Choice, Repair
    from netlister.repairs.search import Subject
    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken


class Wrong:
    """What breaks rules, and the finding that tells each: `broken` and `findings`, by the same numbers.

    `keys`: by these numbers the subjects. `numbers`: per subject the numbers of its findings, for rules that repairs
    are looked for.
    """

    def __init__(self, analysis: Analysis, broken: list[Broken], findings: list[Finding]) -> None:
        self.analysis = analysis
        self.broken = broken
        self.findings = findings
        self.keys = [one.key for one in broken]
        self.numbers: dict[Subject, list[int]] = {}
        for number, one in enumerate(broken):
            if one.rule in MENDED:
                self.numbers.setdefault(one.key, []).append(number)

    def may_be_meant(self, number: int) -> bool:
        """Whether a finding may be meant, so that no repair is asked for."""
        finding = self.findings[number]
        return may_be_meant(self.analysis, finding.rule, finding.subject, finding.severity)

    def clusters(self) -> list[Problem]:
        """What is to be mended, in groups that share a piece, worst first."""
        targets = [n for key in self.numbers.values() for n in key if not self.may_be_meant(n)]
        pieces = self.analysis.layout.pieces
        head = list(range(len(targets)))
        at: dict[str, int] = {}
        about: list[list[str]] = []
        for i, number in enumerate(targets):
            finding = self.findings[number]
            names = [
                *finding.parts,
                *(owner_of(t) for t in (*finding.path, *finding.terminals)),
                finding.subject,
            ]
            names = [name for name in dict.fromkeys(names) if name in pieces]
            about.append(names)
            for name in names or [f"/{number}"]:
                join(head, i, at.setdefault(name, i))
        groups: dict[int, list[int]] = {}
        for i in range(len(targets)):
            groups.setdefault(find(head, i), []).append(i)
        found = []
        rank = {name: n for n, name in enumerate(MENDED)}
        for members in groups.values():
            members.sort(key=lambda i: (-self.findings[targets[i]].severity, rank[self.findings[targets[i]].rule], i))
            names = list(dict.fromkeys(name for i in members for name in about[i]))
            found.append(Problem([targets[i] for i in members], names, self.keys))
        return found


class Problem:
    """Findings that hang together: their numbers and the pieces they speak of, with what was found for them.

    `subjects`: what is broken. `ties`: repairs of equal weight, as choices of the whole layout; the first is the one
    that is told. `gone`: which subjects each choice of the first takes away by itself; `all_gone`: which all of them
    together. `mends`: the subjects that the repairs are for, all or as many as could be mended. `tried`: edits judged.
    `least`: whether nothing lighter mends it.
    """

    def __init__(self, numbers: list[int], pieces: list[str], keys: list[Subject]) -> None:
        self.numbers = numbers
        self.pieces = pieces
        self.subjects: list[Subject] = list(dict.fromkeys(keys[n] for n in numbers))
        self.ties: list[Repair] = []
        self.gone: dict[Choice, frozenset[Subject]] = {}
        self.all_gone: frozenset[Subject] = frozenset()
        self.mends: list[Subject] = []
        self.tried = 0
        self.least = True

    @classmethod
    def of(cls, problems: Iterable[Problem], keys: list[Subject]) -> Problem:
        """Several problems as one."""
        several = list(problems)
        pieces = list(dict.fromkeys(name for p in several for name in p.pieces))
        return cls([n for p in several for n in p.numbers], pieces, keys)

    @property
    def is_solved(self) -> bool:
        """Whether there is a repair of all of it."""
        return bool(self.ties) and len(self.mends) == len(self.subjects)

    @property
    def is_shorted(self) -> bool:
        """Whether two poles meet in it."""
        return any(key[0] in SHORTS for key in self.subjects)
