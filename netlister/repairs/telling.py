"""Tell what was found: which choices are the cause of which findings, and where nothing mends them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from netlister.repairs.model import Cause, Repair

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.repairs.model import Choice
    from netlister.repairs.problems import Problem, Wrong
    from netlister.repairs.search import Subject


class Telling:
    """Numbers causes, and gives the findings of `wrong` these numbers, in place.

    `told`: the findings of which a cause is told, or that nothing was found that mends them.
    """

    def __init__(self, wrong: Wrong) -> None:
        self.wrong = wrong
        self.causes: dict[int, Cause] = {}
        self.told: set[int] = set()
        self._numbers: dict[tuple[Choice, ...], int] = {}

    def tell(self, problem: Problem) -> None:
        """Tell a problem: a cause for each group of choices that mends some of its findings by itself."""
        if len(problem.mends) < len(problem.subjects):
            self._give_up(problem)
        if not problem.ties:
            return
        first = problem.ties[0]
        shared = self._shares(first, problem.gone, problem.all_gone | set(problem.mends))
        if len(shared) > 1 and not _is_product(problem.ties, [group for group, _ in shared]):
            shared = [(first.choices, [s for _, subjects in shared for s in subjects])]
        for group, subjects in shared:
            others = [c for c in first.choices if c not in group]
            ties = []
            for tie in problem.ties:
                if all(c in tie.choices for c in others):
                    own = tuple(c for c in tie.choices if c not in others)
                    ties.append(Repair(own, sum(c.weight for c in own)))
            number = self._numbers.get(group)
            if number is None:
                number = self._numbers[group] = len(self.causes) + 1
                self.causes[number] = Cause(tuple(dict.fromkeys(ties)), problem.tried, problem.least)
            else:
                old = self.causes[number]
                both = tuple(tie for tie in old.repairs if tie in ties)
                self.causes[number] = Cause(both, old.tried + problem.tried, old.least and problem.least)
            self._mark(subjects, number, group)

    def _shares(
        self, repair: Repair, alone: dict[Choice, frozenset[Subject]], gone: frozenset[Subject]
    ) -> list[tuple[tuple[Choice, ...], list[Subject]]]:
        """The choices of a repair in groups, each with the subjects that it takes away.

        A choice that takes something away by itself is a group. What only several take away goes to those that do
        nothing by themselves, as one group; where there are none, to the first choice.
        """
        if len(repair.choices) == 1:
            return [(repair.choices, sorted(gone))]
        own: dict[Choice, list[Subject]] = {c: [] for c in repair.choices}
        several: list[Subject] = []
        for subject in sorted(gone):
            for one in repair.choices:
                if subject in alone[one]:
                    own[one].append(subject)
                    break
            else:
                several.append(subject)
        idle = tuple(c for c in repair.choices if not any(self._is_target(s) for s in own[c]))
        found: list[tuple[tuple[Choice, ...], list[Subject]]] = [
            ((c,), own[c]) for c in repair.choices if c not in idle
        ]
        rest = [*several, *(s for c in idle for s in own[c])]
        if idle or several:
            group = idle or repair.choices[:1]
            if idle and rest:
                found.append((group, rest))
            elif found:
                (head, subjects), *tail = found
                found = [((*head, *idle), [*subjects, *rest]), *tail]
        return found

    def _is_target(self, subject: Subject) -> bool:
        return any(not self.wrong.may_be_meant(n) for n in self.wrong.numbers.get(subject, ()))

    def _mark(self, subjects: Iterable[Subject], number: int, choices: tuple[Choice, ...]) -> None:
        """Write cause, cure and place into the findings of some subjects that have no cause yet."""
        findings = self.wrong.findings
        mistakes = tuple(one.mistake for one in choices)
        fix = "; ".join(mistake.fix for mistake in mistakes)
        for subject in subjects:
            for n in self.wrong.numbers.get(subject, ()):
                finding = findings[n]
                if finding.cause:
                    continue
                where = tuple(dict.fromkeys((*(m.span for m in mistakes), *finding.where)))
                findings[n] = replace(finding, cause=number, fix=fix, mistakes=mistakes, where=where)
                self.told.add(n)

    def _give_up(self, problem: Problem) -> None:
        """Say of what nothing mends that this is so."""
        said = f"no repair of a few changes near it was found ({problem.tried} tried)"
        if problem.least:
            said = (
                "no change of the joints, feeds, contacts, options, plugs and wires that bear on it mends it "
                f"({problem.tried} tried)"
            )
        elif problem.is_shorted and len(self.wrong.analysis.layout.feeds) > 1:
            said += (
                "; more mistakes may lie on one another here than are looked for at once: leave one feed in the file "
                "('#' before the lines of the others), check and mend, then let the others in again one by one"
            )
        for n in problem.numbers:
            finding = self.wrong.findings[n]
            if not finding.cause and self.wrong.keys[n] not in problem.mends:
                self.wrong.findings[n] = replace(finding, fix=f"{finding.fix}; {said}")
                self.told.add(n)


def _is_product(ties: list[Repair], groups: list[tuple[Choice, ...]]) -> bool:
    """Whether each tie keeps the choices of all groups but one, so that each group can be told with its own ties."""
    others = [frozenset(c for group in groups if group is not one for c in group) for one in groups]
    return all(any(rest.issubset(tie.choices) for rest in others) for tie in ties)
