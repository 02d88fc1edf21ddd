"""Repairs of a whole layout: the least of each cause together, each made on paper and checked again in full."""

from __future__ import annotations

from itertools import chain, islice, product
from typing import TYPE_CHECKING, NamedTuple

from netlister.check import Report, check
from netlister.edits.model import ImpossibleError, apply
from netlister.finding import Severity
from netlister.formats.text import TO_DRAW, in_drawing, when_text
from netlister.repairs.model import Repair

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    from netlister.finding import Finding
    from netlister.layout.model import Layout

MOST_REPAIRS = 20

MANY_PIECES = 400
"""From so many pieces on only the repair that is chosen is checked again in full."""


MOST_TOLD = 20
"""Findings that are told where there is nothing to mend, and where something stays; of more the number alone."""


class Mended(NamedTuple):
    """What mends a layout. `least`: whether nothing of less weight mends as much. `wrong`: errors that stay."""

    before: Report
    repairs: tuple[Repair, ...]
    least: bool
    wrong: tuple[Finding, ...]

    def _may_be_meant(self) -> list[str]:
        """What is found where nothing is an error, each with what to do."""
        found = [f for f in self.before.findings if f.severity > Severity.NOTE]
        if not found:
            return ["nothing to mend; 'netlister check' has notes"]
        lines = ["nothing that is wrong in any case; what to look at, since only you know whether it is meant:"]
        for finding in found[:MOST_TOLD]:
            where = f"{finding.where[0]}: " if finding.where else ""
            lines += [f"- {where}{finding.rule}: {finding.message}, {when_text(finding)}", f"    {finding.fix}"]
        more = len(found) - MOST_TOLD
        return [*lines, f"  and {more} more: netlister check"] if more > 0 else lines

    def to_text(self, choose: int = 1, trouble: str = "") -> str:
        """What is told to a person of the repair number `choose`; `trouble`: why the file cannot take it."""
        if not self.before.findings:
            return "nothing to mend\n"
        lines = []
        if self.repairs:
            this = self.repairs[choose - 1]
            for one in this.choices:
                lines += [f"- {one.span}: {one.headline}", f"    {one.say}"]
                names = in_drawing((one.headline, one.say), self.before.layout.drawn)
                lines += [f"    {names}"] if names else []
            others = len(self.repairs) - 1
            if others:
                lines.append(f"{others} other repair{'' if others == 1 else 's'} (--choose 1 to {others + 1}):")
                for number, repair in enumerate(self.repairs, 1):
                    if number != choose:
                        lines.append(
                            f"  {number}: " + "; ".join(c.say for c in repair.choices if c not in this.choices)
                        )
        drawn = self.before.layout.netlist
        if drawn and self.repairs:
            lines.append(TO_DRAW)
        elif trouble:
            lines.append(f"these changes cannot be written into the file: {trouble}")
        if self.wrong:
            lines.append("NOT mended, and no repair was found for it:")
            lines += [f"  {f.rule}: {f.message}" for f in self.wrong[:MOST_TOLD]]
            if len(self.wrong) > MOST_TOLD:
                lines.append(f"  … and {len(self.wrong) - MOST_TOLD} more")
        elif self.repairs and (drawn or not trouble):
            made = "with these changes made on paper" if drawn else "as it would be written"
            lines.append(f"checked {made}, over every position: no error is left")
        elif not self.repairs:
            lines += self._may_be_meant()
        if self.repairs:
            lines.append(
                "before you change the railway: supply off and unplugged; a drawing is no test, so measure as well"
            )
        return "\n".join(lines) + "\n"


def mend(layout: Layout, keep: Collection[str] = (), at_most: int | None = None, chosen: int = 1) -> Mended:
    """Find the repairs of a layout, those of least weight first.

    `keep`: names of what stays as it is. `at_most`: so many changes; where that does not do, those that take away the
    worst. `chosen`: the number, from 1, of the repair that is checked in full whatever the size of the layout. `left`
    of a repair lists what is broken after it. A repair that brings a finding that was not there is not given.
    Raises UnusableError where `never` leaves no state at all.
    """
    before = check(layout, keep=keep)
    repairs: list[Repair] = []
    wrong: dict[Repair, tuple[Finding, ...]] = {}
    known = {(f.rule, f.subject) for f in before.findings}
    whole = None if at_most is not None else before.together
    tries = dict.fromkeys(
        chain(whole.repairs if whole else (), islice(_one_of_each(before, at_most), 3 * MOST_REPAIRS))
    )
    seen: set[frozenset[object]] = set()
    for number, repair in enumerate(tries, 1):
        if len(repairs) >= MOST_REPAIRS:
            break
        if frozenset(repair.edit) in seen or (len(layout.pieces) > MANY_PIECES and number not in (1, chosen)):
            continue
        seen.add(frozenset(repair.edit))
        try:
            after = check(apply(repair.edit, layout), causes=False)
        except ImpossibleError:
            continue
        left = tuple(dict.fromkeys((f.rule, f.subject) for f in after.findings))
        if not after.proved or any(key not in known and key[0] not in _TOLD for key in left):
            continue
        told = repair._replace(left=left)
        wrong[told] = tuple(f for f in after.findings if f.severity == Severity.ERROR)
        repairs.append(told)
    whole_ones = [frozenset(repair.edit) for repair in repairs if not wrong[repair]]
    repairs = [one for one in repairs if not any(edit < frozenset(one.edit) for edit in whole_ones)]
    repairs.sort(key=lambda r: (len(wrong[r]), r.weight))
    first_wrong = wrong[repairs[min(chosen, len(repairs)) - 1]] if repairs else ()
    least = all(cause.least for cause in before.causes.values()) and (whole is not None or _are_apart(before))
    if whole is not None and whole.repairs:
        least = whole.least and bool(repairs) and repairs[0].weight <= whole.repairs[0].weight
    if not repairs:
        return Mended(before, (), least, tuple(f for f in before.findings if f.severity == Severity.ERROR))
    if layout.netlist:
        from netlister.repairs.drawn import told as in_drawing

        repairs = [r._replace(choices=tuple(in_drawing(layout, one) for one in r.choices)) for r in repairs]
    return Mended(before, tuple(repairs), least, first_wrong)


_TOLD = {"feeder-spacing", "unmeasured", "joiner-chain", "blade-fed", "lone-junction", "hand-reversing"}
"""Rules on convenience, which a repair may break, and what is said of a hand reversing switch."""


def _are_apart(report: Report) -> bool:
    """Whether no two causes have a repair at the same place, so that their least weights add up."""
    places = [{part for r in cause.repairs for c in r.choices for part in c.of} for cause in report.causes.values()]
    return sum(len(each) for each in places) == len(set().union(*places))


def _one_of_each(report: Report, at_most: int | None) -> Iterator[Repair]:
    """One repair of each cause, all at once, those that are told first."""
    ties = [cause.repairs for _, cause in sorted(report.causes.items()) if cause.repairs]
    if not ties:
        return
    for parts in product(*ties):
        choices = tuple(dict.fromkeys(one for repair in parts for one in repair.choices))
        if at_most is not None:
            choices = choices[:at_most]
        sets = [part for one in choices for part in one.of]
        if choices and len(sets) == len(set(sets)):
            yield Repair(choices, sum(one.weight for one in choices))
