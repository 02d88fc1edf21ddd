"""Repairs of causes that were found one by one, held against one another: each by itself, and all of them together."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain, islice, product
from typing import TYPE_CHECKING

from netlister.edits.model import AddFeed, Rewire
from netlister.layout.terminal import owner_of
from netlister.repairs.model import Cause, Repair

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.finding import Finding
    from netlister.repairs.choices import Choices
    from netlister.repairs.model import Choice
    from netlister.repairs.search import Search, Subject

NEAR = 3
"""Joints over which a fault spreads: metal to the next feed."""

SHORTS = frozenset({"pole-short", "gap-clash"})
"""The rules of two poles that meet, by wire or under a wheel."""

MOST_TRIED = 60
"""Choices among equal repairs that are tried together."""


def around(choices: Choices, pieces: Iterable[str]) -> set[str]:
    """Some pieces and those within a few joints of them."""
    found = ring = set(pieces)
    for _ in range(NEAR):
        ring = {
            end[0]
            for name in ring
            for number in choices.joints_of.get(name, ())
            for end in (choices.layout.joints[number].start, choices.layout.joints[number].end)
        }
        found = found | ring
    return found


def agree(search: Search, repairs: dict[int, Repair]) -> bool:
    """Whether repairs made together bring nothing that was not wrong before."""
    choices = tuple(dict.fromkeys(c for repair in repairs.values() for c in repair.choices))
    parts = [part for c in choices for part in c.of]
    if len(parts) != len(set(parts)):
        return False
    judged = search.judge(Repair(choices, 0).edit, ())
    return judged is not None and not judged[0].todo


class Agreeing:
    """The causes of findings with their repairs, changed in place.

    `keys`: by finding its rule, subject and place. `search`: of the whole layout.
    """

    def __init__(self, findings: list[Finding], keys: list[Subject], causes: dict[int, Cause], search: Search) -> None:
        self.findings = findings
        self.keys = keys
        self.causes = causes
        self.search = search

    def run(self) -> None:
        """Tell such repairs first as hold alone and together, and the other hand of turnouts."""
        self._keep_safe()
        self._keep_apart()
        self._other_hands()

    def _keep_safe(self) -> None:
        """Put under one heading what must be mended together, so that no cure by itself brings a short.

        A frog whose contact is crossed does no harm while the track before it is dead: who feeds that track alone
        has a short. Where all cures are feeds nothing of the kind can be.
        """
        if len(self.causes) <= 1 or all(self._only_feeds(cause) for cause in self.causes.values()):
            return
        at: dict[str, list[int]] = {}
        near = {number: around(self.search.choices, pieces) for number, pieces in self.pieces().items()}
        for number in self.causes:
            for name in near[number]:
                at.setdefault(name, []).append(number)
        beside = {
            number: dict.fromkeys(n for name in sorted(near[number]) for n in at[name] if n != number)
            for number in self.causes
        }
        known = self._safe_apart(beside)
        shorted = {finding.cause for finding in self.findings if finding.rule in SHORTS}
        for number in list(self.causes):
            cause, others = self.causes.get(number), beside[number]
            if cause is None or not cause.repairs or not others or number in known:
                continue
            strict = shorted.isdisjoint(others)  # beside a short no train runs before all is mended
            safe = tuple(repair for repair in cause.repairs if self._is_safe(repair, strict=strict))
            if not safe:
                self._merge(number, [n for n in others if n in self.causes], strict=strict)
                continue
            self.causes[number] = cause._replace(repairs=safe)
            if safe[0] is not cause.repairs[0]:
                self._mark_again(number)

    def _keep_apart(self) -> None:
        """Put first such repairs of the causes as bring nothing new when all are made together."""
        firsts = {n: cause.repairs[0] for n, cause in self.causes.items() if cause.repairs}
        if len(firsts) <= 1 or agree(self.search, firsts):
            return
        one_other = ({**firsts, n: repair} for n in firsts for repair in self.causes[n].repairs[1:])
        several = (dict(zip(firsts, made, strict=True)) for made in product(*(self.causes[n].repairs for n in firsts)))
        for made in islice(chain(one_other, several), MOST_TRIED):
            if agree(self.search, made):
                for number, repair in made.items():
                    if repair is not firsts[number]:
                        others = tuple(r for r in self.causes[number].repairs if r is not repair)
                        self.causes[number] = self.causes[number]._replace(repairs=(repair, *others))
                        self._mark_again(number)
                return

    def _safe_apart(self, beside: dict[int, dict[int, None]]) -> set[int]:
        """The causes of which every repair is known to bring no short by itself.

        Tried for many at once, of which no two are beside each other, so that none is made beside another.
        """
        row: dict[int, int] = {}
        for number, others in beside.items():
            taken = {row[n] for n in others if n in row}
            row[number] = next(n for n in range(len(taken) + 1) if n not in taken)
        unsafe: set[int] = set()
        for here in sorted(set(row.values())):
            numbers = [n for n in row if row[n] == here and beside[n] and self.causes[n].repairs]
            for rank in range(max((len(self.causes[n].repairs) for n in numbers), default=0)):
                ranked = {n: self.causes[n].repairs[rank] for n in numbers if rank < len(self.causes[n].repairs)}
                choices = [c for repair in ranked.values() for c in repair.choices]
                parts = [part for c in choices for part in c.of]
                judged = None
                if len(ranked) > 1 and len(parts) == len(set(parts)):
                    judged = self.search.judge(Repair(tuple(choices), 0).edit, ())
                if judged is None or any(key[0] in SHORTS for key in judged[0].todo):
                    unsafe.update(ranked)
        return {n for n in row if n not in unsafe}

    @staticmethod
    def _only_feeds(cause: Cause) -> bool:
        return all(isinstance(c, AddFeed) for repair in cause.repairs for c in repair.edit)

    def pieces(self) -> dict[int, list[str]]:
        """The pieces that the findings and the first repair of each cause speak of."""
        pieces = self.search.choices.layout.pieces
        named: dict[int, dict[str, None]] = {number: {} for number in self.causes}
        for finding in self.findings:
            if finding.cause in named:
                named[finding.cause].update(
                    (name, None) for name in (*finding.parts, finding.subject) if name in pieces
                )
        for number, cause in self.causes.items():
            for change in (change for repair in cause.repairs[:1] for change in repair.edit):
                for name in self.search.choices.names_in(change):
                    named[number].update((part, None) for part in (name, owner_of(name)) if part in pieces)
        return {number: list(names) for number, names in named.items()}

    def _is_safe(self, repair: Repair, *, strict: bool) -> bool:
        """Whether a repair made alone brings no short in any state; if `strict`, none under a wheel, either."""
        judged = self.search.judge(repair.edit, ())
        rules = SHORTS if strict else {"pole-short"}
        return judged is None or not any(key[0] in rules for key in judged[0].todo)

    def _merge(self, number: int, others: list[int], *, strict: bool) -> None:
        """Put a cause under the heading of the one without whose cure its own brings a short."""
        mine = self.causes[number]
        for other in [[n] for n in others] + ([others] if len(others) > 1 else []):
            firsts = [self.causes[n].repairs[0] for n in other if self.causes[n].repairs]
            choices = tuple(dict.fromkeys(c for repair in (*firsts, mine.repairs[0]) for c in repair.choices))
            parts = [part for c in choices for part in c.of]
            repair = Repair(choices, sum(c.weight for c in choices))
            if not firsts or len(parts) != len(set(parts)) or not self._is_safe(repair, strict=strict):
                continue
            gone = [self.causes.pop(n) for n in (*other, number)]
            least = all(cause.least for cause in gone)
            self.causes[other[0]] = Cause((repair,), sum(cause.tried for cause in gone), least)
            for n, finding in enumerate(self.findings):
                if finding.cause and finding.cause in (*other, number):
                    self.findings[n] = replace(finding, cause=other[0])
            self._mark_again(other[0])
            return

    def _mark_again(self, number: int) -> None:
        """Tell the findings of a cause what its first repair says now."""
        mistakes = tuple(one.mistake for one in self.causes[number].repairs[0].choices)
        fix = "; ".join(mistake.fix for mistake in mistakes)
        for n, finding in enumerate(self.findings):
            if finding.cause == number:
                old = {mistake.span for mistake in finding.mistakes}
                where = tuple(dict.fromkeys((*(m.span for m in mistakes), *(s for s in finding.where if s not in old))))
                self.findings[n] = replace(finding, fix=fix, mistakes=mistakes, where=where)

    def _other_hands(self) -> None:
        """Where the throws of a frog's contact are swapped, the turnout may be of the other hand: say so, too."""
        others: dict[int, Choice] = {}
        wanted: dict[int, set[Subject]] = {}
        layout = self.search.choices.layout
        for number, cause in self.causes.items():
            if len(cause.repairs) != 1 or len(cause.repairs[0].choices) != 1:
                continue
            (chosen,) = cause.repairs[0].choices
            if chosen.kind == "throws-swapped" and isinstance(chosen.edit[0], Rewire):
                common = layout.contacts[chosen.edit[0].contact].common or ""
                for other in self.search.choices.of(("pieces", owner_of(common))):
                    if other.kind == "hand":
                        others[number], wanted[number] = other, set()
        for finding, key in zip(self.findings, self.keys, strict=True):
            if finding.cause in wanted and key in self.search.broken:
                wanted[finding.cause].add(key)
        every = tuple(dict.fromkeys(others.values()))
        if len(every) > 1 and self._mends(every, {key for keys in wanted.values() for key in keys}):
            mends = set(others)
        else:
            mends = {number for number, other in others.items() if self._mends((other,), wanted[number])}
        for number in mends:
            cause, other = self.causes[number], others[number]
            self.causes[number] = cause._replace(repairs=(*cause.repairs, Repair((other,), other.weight)))

    def _mends(self, choices: tuple[Choice, ...], wanted: set[Subject]) -> bool:
        """Whether choices take away what they are for, and bring nothing."""
        judged = self.search.judge(Repair(choices, 0).edit, wanted)
        return judged is not None and not judged[0].todo
