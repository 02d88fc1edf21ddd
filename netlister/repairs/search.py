"""The least repairs: a best-first tree over the choices that a broken rule leaves.

A node is a set of choices. It is judged by a session; where something is still broken (or newly so), the clause with
the fewest choices is branched on. The weight of a node and the least choices of clauses that have nothing in common
are a lower bound, so the first node with nothing broken is a least repair, and all others of its weight follow.
"""

from __future__ import annotations

import heapq
from typing import TYPE_CHECKING, NamedTuple

from netlister.edits.model import ImpossibleError
from netlister.poles.diagram import NEVER, LimitError
from netlister.poles.reach import Short
from netlister.repairs.clauses import Clauses
from netlister.repairs.meant import may_stay
from netlister.repairs.model import Repair
from netlister.rules import pole_short
from netlister.rules.floating_net import Floating
from netlister.source import UnusableError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.edits.model import Edit
    from netlister.poles.diagram import Function
    from netlister.repairs.choices import Choices
    from netlister.repairs.model import Choice
    from netlister.rules.analysis import Analysis
    from netlister.rules.model import Broken
    from netlister.session.session import Delta, JudgedLayout, Session

Subject = tuple[str, str, str]
"""A rule, a subject and what tells places of one subject apart: see `Broken.key`."""

MOST_TIES = 20

STEPS = 100
"""Steps of proof that count as much as one more edit judged."""

MOST_CLAUSES = 8
"""Broken rules of a node that are looked at for the bound."""


class Found(NamedTuple):
    """The least repairs (none: there are none). `least`: whether that is proved; `tried`: edits judged."""

    repairs: tuple[Repair, ...]
    least: bool
    tried: int


class Judged(NamedTuple):
    """What is still or newly broken after an edit, with the broken places themselves, and what is gone."""

    todo: dict[Subject, Broken]
    gone: frozenset[Subject]


class Search:
    """Repairs of the layout of a session. `choices` are written against that layout."""

    def __init__(self, session: Session, choices: Choices) -> None:
        self.session = session
        self.choices = choices
        self.clauses = Clauses(choices.layout, choices)
        self.tried = 0
        self.spent = 0
        self.doubtful = 0  # edits of which it could not be proved what they do
        self._renewals = session.renewals
        self._base = by_subject(session, session.broken)
        self._clauses: dict[tuple[Subject, Function], list[Choice]] = {}  # of what is broken before any edit

    @property
    def broken(self) -> dict[Subject, Function]:
        """What is broken, with the states."""
        return self._base

    def judge(self, edit: Edit, targets: Iterable[Subject]) -> tuple[Judged, Session] | None:
        """What an edit leaves of the targets and what it breaks; None where that is not known."""
        self.tried += 1
        if not edit:
            return self._unchanged(set(targets)), self.session.fork()
        try:
            delta = self.session.attempt(edit)
        except (ImpossibleError, UnusableError):
            return None
        self.spent += 1 + delta.steps // STEPS
        if self.session.renewals != self._renewals:  # functions have other numbers
            self._renewals = self.session.renewals
            self._base = by_subject(self.session, self.session.broken)
            self._clauses.clear()
        if delta.unproved:
            self.doubtful += 1
            return None
        after = delta.after
        diagrams, poles = self.session.diagrams, after.analysis.poles
        found: dict[Subject, list[Broken]] = {}
        touched = {b.key for b in (*delta.gone, *delta.new)} | {c.key for c in delta.changed}
        wanted = set(targets)
        for broken in after.broken:
            key = broken.key
            if key in touched or key in wanted:
                found.setdefault(key, []).append(broken)
        moved = _moved(delta)
        todo: dict[Subject, Broken] = {}
        try:
            for key, places in found.items():
                if key in wanted:
                    todo[key] = places[0]
                elif key in touched:
                    before = diagrams.any_of([self._base.get(k, NEVER) for k in (key, *moved.get(key, ()))])
                    for place in places:
                        diagrams.begin()
                        if poles.possible(diagrams.without(place.function, before)):
                            todo[key] = place
            for key, olds in moved.items():
                if not wanted.isdisjoint(olds):
                    todo[key] = found[key][0]
            floating = self._floating(after, [key for key in (*wanted, *touched) if key not in found])
            todo |= {key: broken for key, broken in floating.items() if key in wanted}
            meant = _meant(after, todo, wanted)
        except LimitError:
            self.doubtful += 1
            return None
        still = {*found, *floating, *(old for olds in moved.values() for old in olds)}
        gone = frozenset(key for key in touched if key in self._base and key not in still)
        left = {key: broken for key, broken in todo.items() if key not in meant}
        return Judged(left, gone | meant), delta.session()

    def _unchanged(self, wanted: set[Subject]) -> Judged:
        """What is broken of the targets before any edit."""
        self.spent += 1
        state = self.session.state
        todo: dict[Subject, Broken] = {}
        for broken in state.broken:
            if broken.key in wanted:
                todo.setdefault(broken.key, broken)
        meant = _meant(state, todo, wanted)
        return Judged({key: broken for key, broken in todo.items() if key not in meant}, meant)

    def clause(self, analysis: Analysis, broken: Broken) -> list[Choice]:
        """The choices of which at least one must be made, those nearest first."""
        if analysis is not self.session.analysis:
            return self.clauses.of(analysis, broken)
        key = broken.key, broken.function
        found = self._clauses.get(key)
        if found is None:
            found = self._clauses[key] = self.clauses.of(analysis, broken)
        return found

    def gone(self, edit: Edit, wanted: Iterable[Subject]) -> frozenset[Subject]:
        """What an edit takes away, with what is wanted and then dead only in positions in which that may be meant."""
        judged = self.judge(edit, wanted := tuple(wanted))
        if judged is None:
            return frozenset()
        (todo, gone), session = judged
        return gone | {key for key in wanted if key in todo and may_stay(session.analysis, todo[key])}

    def _floating(self, after: JudgedLayout, gone: Iterable[Subject]) -> dict[Subject, Broken]:
        """Nets without a pole that are only named otherwise now, since they are joined to another that has none."""
        names = {key[1]: key for key in gone if key[0] == "floating-net"}
        found: dict[Subject, Broken] = {}
        if names:
            for broken in after.broken:
                if isinstance(broken.about, Floating):
                    for node in broken.about.nodes:
                        key = names.get(after.analysis.circuit.names[node])
                        if key is not None and key in self._base:
                            found[key] = broken
        return found

    def apart(self, targets: Iterable[Subject]) -> list[list[Subject]]:
        """The targets in groups, such that no choice changes anything in two of them."""
        wanted = set(targets)
        first: dict[Subject, Broken] = {}
        for broken in self.session.broken:
            first.setdefault(broken.key, broken)
        groups: list[tuple[list[Subject], set[object]]] = []
        for key, broken in first.items():
            if key not in wanted:
                continue
            parts = {part for c in self.clause(self.session.analysis, broken) for part in c.of}
            near = [group for group in groups if not parts.isdisjoint(group[1])]
            groups = [group for group in groups if all(group is not other for other in near)]
            keys = [k for group in near for k in group[0]]
            groups.append(([*keys, key], parts.union(*(group[1] for group in near))))
        order = {key: n for n, key in enumerate(targets)}
        return sorted((sorted(keys, key=order.__getitem__) for keys, _ in groups), key=lambda keys: order[keys[0]])

    def least(self, targets: Iterable[Subject], budget: int, most: int = 12, given: tuple[Choice, ...] = ()) -> Found:
        """The least repairs after which no target is broken, and nothing else that was not.

        `budget`: edits to judge at the most. `most`: the weight to go up to. `given`: choices made in any case.
        """
        wanted = [t for t in targets if t in self._base]
        heap: list[tuple[int, int, int, tuple[Choice, ...]]] = [(0, 0, 0, given)]
        seen: set[frozenset[Choice]] = set()
        repairs: list[Repair] = []
        count, start, spent, best = 0, self.tried, self.spent, most
        doubtful = self.doubtful
        complete = True
        while heap and heap[0][0] <= best:
            bound, _, _, chosen = heapq.heappop(heap)
            if self.spent - spent >= budget or len(repairs) >= 2 * MOST_TIES:
                complete = False
                break
            repair = Repair(chosen, sum(c.weight for c in chosen))
            judged = self.judge(repair.edit, wanted)
            if judged is None:
                continue
            (todo, gone), session = judged
            if not todo:
                if len(chosen) > len(given):
                    best = repair.weight
                    repairs.append(repair)
                continue
            taken = frozenset(part for c in chosen for part in c.of)
            clauses = []
            for broken in list(todo.values())[:MOST_CLAUSES]:
                listed = [c for c in self.clause(session.analysis, broken) if not c.of & taken]
                clauses.append(listed)
                if not listed:
                    break
            clauses.sort(key=len)
            if not clauses[0]:
                continue  # nothing that is left can mend this
            rest = _others(clauses)
            for each in clauses[0]:
                made = (*chosen, each)
                key = frozenset(made)
                if key in seen:
                    continue
                seen.add(key)
                count += 1
                weight = repair.weight + each.weight
                value = max(bound, weight + rest)
                if value <= best:
                    heapq.heappush(heap, (value, len(todo) - len(gone), count, made))
        complete = complete and self.doubtful == doubtful
        return Found(tuple(_ranked(_smallest(repairs))[:MOST_TIES]), complete, self.tried - start)


def by_subject(session: Session, broken: Iterable[Broken]) -> dict[Subject, Function]:
    """The states in which each subject is broken."""
    found: dict[Subject, Function] = {}
    diagrams = session.diagrams
    for each in broken:
        found[each.key] = diagrams.either(found.get(each.key, NEVER), each.function)
    return found


def _meant(after: JudgedLayout, todo: dict[Subject, Broken], wanted: set[Subject]) -> frozenset[Subject]:
    """What was to be mended and is only dead in positions in which that may be meant, where nothing else is left."""
    if all(key in wanted and may_stay(after.analysis, broken) for key, broken in todo.items()):
        return frozenset(todo)
    return frozenset()


def _moved(delta: Delta) -> dict[Subject, list[Subject]]:
    """By short at a new place those that were at other places before and are it: places that share a terminal."""
    new = [b for b in delta.new if b.rule == "pole-short"]
    if not new:
        return {}
    gone = [(b, terminals_at(delta.before.analysis, b)) for b in delta.gone if b.rule == "pole-short"]
    found: dict[Subject, list[Subject]] = {}
    for broken in new:
        here = terminals_at(delta.after.analysis, broken)
        olds = [old.key for old, there in gone if old.subject == broken.subject and not here.isdisjoint(there)]
        if olds:
            found[broken.key] = olds
    return found


def terminals_at(analysis: Analysis, broken: Broken) -> frozenset[str]:
    """The terminals at the place of a short."""
    if isinstance(broken.about, Short):
        return pole_short.terminals_at(analysis, broken.about)
    return frozenset({broken.mark, *broken.subject.split("/")})


def _others(clauses: list[list[Choice]]) -> int:
    """The least weight of what has nothing in common with the first clause, nor with one another."""
    used = set(clauses[0])
    weight = 0
    for clause in clauses[1:]:
        if used.isdisjoint(clause):
            used.update(clause)
            weight += min(c.weight for c in clause)
    return weight


def _smallest(repairs: list[Repair]) -> list[Repair]:
    """Without those that do all that another does, and more."""
    found: list[Repair] = []
    edits = [(repair, set(repair.edit)) for repair in repairs]
    for repair, edit in edits:
        if not any(other < edit for _, other in edits) and not any(set(kept.edit) == edit for kept in found):
            found.append(repair)
    return found


def _ranked(repairs: list[Repair]) -> list[Repair]:
    """The commonest mistakes first, then as they were come upon; last those by which a turnout is of the other hand."""
    from netlister.repairs.model import weights

    rank = {kind: number for number, kind in enumerate(weights())}

    def order(repair: Repair) -> tuple[int, bool, int, list[int]]:
        kinds = [c.kind for c in repair.choices]
        return repair.weight, "hand" in kinds, len(kinds), sorted(rank[kind] for kind in kinds)

    return sorted(repairs, key=order)
