"""Whether any reading in any state can tell a fault: looked at where the fault is, over every state that matters there.

Only the two-connected parts of the metal that a damage touches can change what beeps to what, and only the variables in
them decide. Poles cut the metal: in a sound design no state joins two of them.
"""

from __future__ import annotations

from itertools import combinations, product
from math import prod
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.model import holds
from netlister.layout.model import Value
from netlister.probe.scene import FEEDS_OFF, PAPER, Acts
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.circuit.model import State
    from netlister.circuit.numbers import Var
    from netlister.probe.detail import Detail, FineConductor
    from netlister.probe.faults import Damage

MOST_STATES = 4096
"""States of one place that are looked at; where there are more, the fault is told as not settled."""


class Sight(NamedTuple):
    """A way to see a damage: acts, and positions of some variables (the others do not matter)."""

    acts: tuple[str, ...]
    where: tuple[tuple[Var, Value], ...]


class Settled(NamedTuple):
    """The ways to see a damage, and whether all ways were looked at."""

    sights: tuple[Sight, ...]
    proved: bool


class _FaultRegion(NamedTuple):
    """A connected component of what conducts at times, cut at hubs: its conductors and the hub nodes at it."""

    edges: tuple[int, ...]
    hubs: frozenset[int]


class _CutNets:
    """The circuit after some acts, with what always conducts made one net, cut at the nets that always have a pole."""

    def __init__(self, made: Detail, acts: Acts, pole: list[int]) -> None:
        self.made, self.acts, self.pole = made, acts, pole
        self.always: list[list[tuple[int, int]]] = [[] for _ in made.names]
        self.times: list[int] = []
        for n, c in enumerate(made.conductors):
            if n in acts.gone:
                continue
            if c.when:
                self.times.append(n)
            else:
                self.always[c.a].append((c.b, n))
                self.always[c.b].append((c.a, n))
        self.net = [-1] * len(made.names)
        self.members: list[list[int]] = []
        for node in range(len(made.names)):
            if self.net[node] < 0:
                self.members.append(self._fill(node, self.net, len(self.members), frozenset()))
        self.hub = [next((pole[n] for n in group if pole[n] >= 0), -1) for group in self.members]
        self.regions: list[_FaultRegion] = []
        self.region_of: dict[int, int] = {}
        self.touching: dict[int, list[int]] = {}  # per net the regions that it is a hub of
        self.tying: dict[int, list[int]] = {}  # of these those with another hub of the same pole
        self._find_regions()

    def _fill(self, start: int, label: list[int] | dict[int, int], number: int, without: frozenset[int]) -> list[int]:
        label[start] = number
        group = [start]
        for node in group:
            for other, n in self.always[node]:
                if n not in without and (label[other] if isinstance(label, list) else label.get(other, -1)) < 0:
                    label[other] = number
                    group.append(other)
        return group

    def _find_regions(self) -> None:
        conductors, net, hub = self.made.conductors, self.net, self.hub
        near: dict[int, list[int]] = {}
        for n in self.times:
            for end in (conductors[n].a, conductors[n].b):
                if hub[net[end]] < 0:
                    near.setdefault(net[end], []).append(n)
        for n in self.times:
            if n in self.region_of:
                continue
            edges, hubs, stack = [n], set(), [n]
            self.region_of[n] = len(self.regions)
            while stack:
                c = conductors[stack.pop()]
                for end in (c.a, c.b):
                    if hub[net[end]] >= 0:
                        hubs.add(end)
                        continue
                    for m in near[net[end]]:
                        if m not in self.region_of:
                            self.region_of[m] = len(self.regions)
                            edges.append(m)
                            stack.append(m)
            nets = {net[end] for end in hubs}
            for k in nets:
                self.touching.setdefault(k, []).append(len(self.regions))
                if any(other != k and hub[other] == hub[k] for other in nets):
                    self.tying.setdefault(k, []).append(len(self.regions))
            self.regions.append(_FaultRegion(tuple(edges), frozenset(hubs)))
        self.by_net: dict[int, list[int]] = {}
        for n in self.times:
            for end in (conductors[n].a, conductors[n].b):
                self.by_net.setdefault(net[end], []).append(n)

    def around(  # noqa: C901, PLR0912
        self, damage: Damage, points: frozenset[int], acts: Acts
    ) -> tuple[dict[int, FineConductor], set[int], set[int]]:
        """The conductors, between nets, that decide what a damage changes; which of them it does; nets with a point.

        `acts`: those that the nets were made after, and papers more, which take away only what conducts at times.
        """
        conductors, net = self.made.conductors, self.net
        out = [n for n in damage.out if n not in acts.gone]
        into = [c for c in damage.into if not acts.takes(c)]
        if not out and not into:
            return {}, set(), set()
        without = frozenset(out)
        split: dict[int, int] = {}
        parts: dict[int, int] = {}
        size = len(self.members)
        for k in sorted({net[conductors[n].a] for n in out if not conductors[n].when}):
            for node in self.members[k]:
                if node not in split:
                    self._fill(node, split, size, without)
                    parts[size] = k
                    size += 1

        def rep(node: int) -> int:
            return split.get(node, net[node])

        def pole_of(group: int) -> int:
            return self.hub[parts.get(group, group)]

        edges: dict[int, FineConductor] = {}
        for n in out:
            edges[n] = conductors[n]
        for k, c in enumerate(into):
            edges[-1 - k] = c
        edited = set(edges)
        taken: set[int] = set()
        groups: set[int] = set()
        todo = [end for c in edges.values() for end in (c.a, c.b)]
        waiting: list[int] = []
        for n in out:
            if n in self.region_of:
                waiting.append(self.region_of[n])
        for end in todo:
            groups.add(rep(end))
            if pole_of(rep(end)) < 0:
                waiting += [self.region_of[n] for n in self.by_net.get(net[end], ())]
        open_groups = set(groups)
        while waiting or open_groups:
            while waiting:
                r = waiting.pop()
                if r in taken:
                    continue
                taken.add(r)
                for end in self.regions[r].hubs:
                    if rep(end) not in groups:
                        groups.add(rep(end))
                        open_groups.add(rep(end))
            if open_groups:
                group = open_groups.pop()
                beside = self.touching.get(parts[group], ()) if group in parts else self.tying.get(group, ())
                for r in beside:
                    if r not in taken and self._ties(r, rep, pole_of, group):
                        waiting.append(r)
        for r in sorted(taken):
            for n in self.regions[r].edges:
                if n not in acts.gone:
                    edges.setdefault(n, conductors[n])
        edges = {n: c._replace(a=rep(c.a), b=rep(c.b)) for n, c in edges.items()}
        shown = set()
        for c in edges.values():
            for group in (c.a, c.b):
                members = self.members[parts.get(group, group)]
                if any(node in points and rep(node) == group for node in members):
                    shown.add(group)
        return edges, edited, shown

    def _ties(self, r: int, rep: Callable[[int], int], pole_of: Callable[[int], int], group: int) -> bool:
        """Whether a region may join a hub to another of the same pole."""
        here = {rep(end) for end in self.regions[r].hubs}
        return group in here and any(g != group and pole_of(g) == pole_of(group) for g in here)


class FaultEffects:
    """Looks at faults where they are."""

    def __init__(self, made: Detail) -> None:
        self.made = made
        self.papered = frozenset(n for n in made.blades if made.layout.pieces[n].kind.blades)
        self.points = frozenset(made.points)
        self.tagged = self.points | frozenset(made.tags)
        self._nets: dict[tuple[str, ...], _CutNets] = {}
        self.pole = self._poles()

    def _poles(self) -> list[int]:
        """Per node the pole that it always has with the bus on, or -1."""
        nets = _CutNets(self.made, Acts(self.made, ()), [-1] * len(self.made.names))
        found = [-1] * len(self.made.names)
        for pole in range(len(self.made.circuit.poles)):
            for node in nets.members[nets.net[pole]]:
                found[node] = pole
        return found

    def _after(self, acts: Acts) -> _CutNets:
        """The nets after some acts; papers share those without them, as long as blades conduct at times only."""
        papers = [a for a in acts.acts if a.startswith(PAPER)]
        blades = [n for a in papers for n in self.made.blades.get(a.removeprefix(PAPER), ())]
        key = acts.acts
        if papers and all(self.made.conductors[n].when for n in blades):
            key = tuple(a for a in acts.acts if a not in papers)
        if key not in self._nets:
            if len(self._nets) > 16:  # noqa: PLR2004
                self._nets = {a: n for a, n in self._nets.items() if len(a) <= 1}
            self._nets[key] = _CutNets(self.made, acts if key == acts.acts else Acts(self.made, key), self.pole)
        return self._nets[key]

    def settle(self, damage: Damage, *, tags: bool = True) -> Settled:
        """Find ways to see a damage with the bus on, with feeds off, with paper too: the first that shows it."""
        proved = True
        for acts in self._choices(damage):
            found, all_looked = self.seen(damage, acts, tags=tags)
            if found:
                return Settled(tuple(found), proved and all_looked)
            proved &= all_looked
        return Settled((), proved)

    def _choices(self, damage: Damage) -> Iterator[Acts]:
        yield Acts(self.made, ())
        off = Acts(self.made, (FEEDS_OFF,))
        yield off
        pieces = sorted({c.owner for c in self.around(damage, off)[0].values() if c.owner in self.papered})
        for size in range(1, min(len(pieces), 2) + 1):
            for some in combinations(pieces[:6], size):
                yield Acts(self.made, (FEEDS_OFF, *(PAPER + p for p in some)))
        if len(pieces) > 2:  # noqa: PLR2004
            yield Acts(self.made, (FEEDS_OFF, *(PAPER + p for p in pieces)))

    def around(
        self, damage: Damage, acts: Acts, *, tags: bool = True
    ) -> tuple[dict[int, FineConductor], set[int], set[int]]:
        """The conductors that decide what a damage changes, which of them it does, and the nets with a point."""
        edges, edited, shown = self._after(acts).around(damage, self.tagged if tags else self.points, acts)
        if not edited:
            return {}, set(), set()
        blocks = _blocks(edges)
        of: dict[int, int] = {n: k for k, block in enumerate(blocks) for n in block}
        at: dict[int, set[int]] = {}
        for n, c in edges.items():
            at.setdefault(c.a, set()).add(of[n])
            at.setdefault(c.b, set()).add(of[n])
        taken = {of[n] for n in edited}
        todo = list(taken)
        while todo:
            for n in blocks[todo.pop()]:
                for end in (edges[n].a, edges[n].b):
                    if end not in shown:
                        for k in at[end] - taken:
                            taken.add(k)
                            todo.append(k)
        return {n: edges[n] for k in sorted(taken) for n in sorted(blocks[k])}, edited, shown

    def seen(self, damage: Damage, acts: Acts, *, tags: bool) -> tuple[list[Sight], bool]:
        """The positions in which a damage shows after some acts, and whether all were looked at."""
        edges, edited, points = self.around(damage, acts, tags=tags)
        if not edited:
            return [], True
        made = self.made
        variables = sorted({v for c in edges.values() for v, _ in c.when})
        counts = [len(made.circuit.variables[v].positions) for v in variables]
        shown = sorted({end for c in edges.values() for end in (c.a, c.b)} & points)
        good = [c for n, c in edges.items() if n >= 0]
        bad = [c for n, c in edges.items() if n not in damage.out]
        found: list[Sight] = []
        settled = prod(counts) <= MOST_STATES
        for number, state in enumerate(product(*(map(Value, range(k)) for k in counts))):
            if number >= MOST_STATES:
                break
            place = dict(zip(variables, state, strict=True))
            if _parts(good, place, shown) != _parts(bad, place, shown):
                where = tuple(place.items())
                if allowed(made, where) is not None:
                    found.append(Sight(acts.acts, where))
                    if len(found) >= 16:  # noqa: PLR2004
                        break
        return found, settled or bool(found)


def _parts(conductors: list[FineConductor], place: dict[Var, Value], shown: list[int]) -> list[int]:
    """Per point shown the first point that it beeps with."""
    head: dict[int, int] = {}
    for c in conductors:
        if not c.when or holds(c.when, place):
            join(head, head.setdefault(c.a, c.a), head.setdefault(c.b, c.b))
    first: dict[int, int] = {}
    return [first.setdefault(find(head, head.setdefault(node, node)), node) for node in shown]


def allowed(made: Detail, where: tuple[tuple[Var, Value], ...], start: State | None = None) -> State | None:
    """A state that has some positions and that `never` does not rule out, near to `start`; None where there is none."""
    state = list(start or made.first)
    fixed = dict(where)
    for v, x in where:
        state[v] = x
    never = made.circuit.never

    def mend(free: dict[Var, Value]) -> bool:
        for cube in never:
            if all(state[v] == x for v, x in cube):
                for v, x in cube:
                    if v in free:
                        continue
                    for other in made.circuit.variables[v].values:
                        if other != x:
                            before, state[v] = state[v], other
                            if mend({**free, v: other}):
                                return True
                            state[v] = before
                return False
        return True

    return tuple(state) if mend(fixed) else None


def _blocks(edges: dict[int, FineConductor]) -> list[list[int]]:
    """The two-connected parts of a graph, as lists of edges (Hopcroft and Tarjan, CACM 16, 1973)."""
    near: dict[int, list[tuple[int, int]]] = {}
    for n, c in edges.items():
        near.setdefault(c.a, []).append((n, c.b))
        near.setdefault(c.b, []).append((n, c.a))
    depth: dict[int, int] = {}
    low: dict[int, int] = {}
    blocks: list[list[int]] = []
    used: set[int] = set()
    for root in near:
        if root in depth:
            continue
        depth[root] = low[root] = 0
        stack: list[tuple[int, int]] = [(root, 0)]
        trail: list[int] = []
        starts: dict[int, int] = {}
        parent: dict[int, int] = {}
        while stack:
            node, at = stack.pop()
            if at < len(near[node]):
                stack.append((node, at + 1))
                n, other = near[node][at]
                if n in used:
                    continue
                used.add(n)
                if other == node:
                    blocks.append([n])
                    continue
                trail.append(n)
                if other in depth:
                    low[node] = min(low[node], depth[other])
                else:
                    depth[other] = low[other] = depth[node] + 1
                    starts[other] = len(trail) - 1
                    parent[other] = node
                    stack.append((other, 0))
            elif node in parent:
                above = parent[node]
                low[above] = min(low[above], low[node])
                if low[node] >= depth[above]:
                    blocks.append(trail[starts[node] :])
                    del trail[starts[node] :]
    return blocks
