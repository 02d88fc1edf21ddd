"""Resistances from any place of the network to the poles, in every state that matters to it.

What always conducts is solved once (`Grounded`). Nets that only moving contacts feed, and those contacts, fall into
regions, most of them a single frog. A region is *active* where in some state it joins two places of what always
conducts: only then does it change anything there; else only its own nets depend on it. Poles are ideal, so nothing
passes through them.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from math import prod
from typing import TYPE_CHECKING

import numpy as np

from netlister.union import find, join, set_heads
from netlister.volts.grounded import Grounded
from netlister.volts.ways import ways

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from netlister.volts.grounded import Floats, Ints
    from netlister.volts.network import Element, Network

STATES = 4096
"""More states than this are not gone through one by one."""

WEIGHT = 40_000_000
"""Nor more entries of matrices than this at once."""


@dataclass(eq=False)
class SwitchedRegion:
    """Nets that are not always fed, with the contacts between them: `nodes`, what conducts, the variables of it.

    `hubs`: nodes of what always conducts that its contacts reach. `earths`: poles that they reach.
    """

    number: int
    nodes: list[int] = field(default_factory=list)
    fixed: list[Element] = field(default_factory=list)
    moving: list[Element] = field(default_factory=list)
    hubs: list[int] = field(default_factory=list)
    earths: list[int] = field(default_factory=list)
    active: bool = False

    @property
    def elements(self) -> tuple[Element, ...]:
        """All that conducts in it."""
        return (*self.fixed, *self.moving)

    @cached_property
    def variables(self) -> tuple[int, ...]:
        """The variables that its contacts depend on, in order."""
        return tuple(sorted({variable for e in self.moving for variable, _ in e.when}))


class Solver:
    """The solved network, by the greatest resistances that the sources allow, or with `high=False` by the least.

    `root`: per node the least of those joined to it without resistance. `earth_of`: per pole its bit, of poles that are
    joined all their bits. `part`: per node its part of what always conducts, cut at the poles; `poles_of`: per part the
    bits of the poles that feed it. `place`: per node that is always fed its number in `grounded`, else -1. `regions`:
    the rest.
    """

    def __init__(self, network: Network, *, high: bool = True) -> None:
        self.network = network
        self.high = high
        self.root = _contract(network)
        self._split()
        self._regions()
        self._columns: dict[int, Floats] = {}

    def ohm(self, element: Element) -> float:
        """The resistance of an element."""
        return element.ohm.high if self.high else element.ohm.low

    # -- what always conducts

    def _split(self) -> None:
        """Find the parts of the network that always conduct, cut at the poles, and solve those that a pole feeds."""
        network, root = self.network, self.root
        count = len(network.names)
        self.earth_of: dict[int, int] = defaultdict(int)  # pole -> bits of the poles that are one with it
        for pole in range(network.earths):
            self.earth_of[root[pole]] |= 1 << pole
        fixed = [e._replace(a=root[e.a], b=root[e.b]) for e in network.elements if not e.when]
        fixed = [e for e in fixed if e.a != e.b]
        earths = self.earth_of
        self.part = set_heads(count, ((e.a, e.b) for e in fixed if e.a not in earths and e.b not in earths))
        self.poles_of: dict[int, int] = defaultdict(int)  # part -> bits of the poles that feed it
        for e in fixed:
            for here, there in ((e.a, e.b), (e.b, e.a)):
                if there in self.earth_of and here not in self.earth_of:
                    self.poles_of[self.part[here]] |= self.earth_of[there]
        self.place = np.full(count, -1, np.int64)
        fed = [n for n in range(count) if root[n] == n and n not in self.earth_of and self.part[n] in self.poles_of]
        self.place[fed] = np.arange(len(fed))
        self.fixed = fixed
        ground = np.zeros(len(fed))
        ends: list[tuple[int, int, float]] = []
        for e in fixed:
            a, b = int(self.place[e.a]), int(self.place[e.b])
            g = 1 / self.ohm(e)
            if a >= 0 and b >= 0:
                ends.append((a, b, g))
            elif a >= 0:
                ground[a] += g
            elif b >= 0:
                ground[b] += g
        a_, b_, g_ = (np.array(column) for column in zip(*ends, strict=True)) if ends else (np.zeros(0),) * 3
        self.grounded = Grounded(len(fed), a_.astype(np.int64), b_.astype(np.int64), g_.astype(float), ground)

    def fed(self, node: int) -> bool:
        """Whether a node is a pole or always fed."""
        return node in self.earth_of or bool(self.place[node] >= 0)

    # -- regions

    def _regions(self) -> None:
        """Divide what is not always fed into regions."""
        root = self.root
        moving = [e._replace(a=root[e.a], b=root[e.b]) for e in self.network.elements if e.when]
        moving = [e for e in moving if e.a != e.b and all(values for _, values in e.when)]
        group = list(range(len(self.network.names)))
        for e in (*self.fixed, *moving):
            if not self.fed(e.a) and not self.fed(e.b):
                join(group, e.a, e.b)
        found: dict[int, SwitchedRegion] = {}
        self.regions: list[SwitchedRegion] = []

        def region(key: int) -> SwitchedRegion:
            if key not in found:
                found[key] = SwitchedRegion(len(self.regions))
                self.regions.append(found[key])
            return found[key]

        for node in range(len(group)):
            if root[node] == node and not self.fed(node):
                region(find(group, node)).nodes.append(node)
        for e in self.fixed:
            if not self.fed(e.a) and not self.fed(e.b):
                region(find(group, e.a)).fixed.append(e)
        for number, e in enumerate(moving):
            key = next((find(group, n) for n in (e.a, e.b) if not self.fed(n)), -1 - number)
            region(key).moving.append(e)
        self.region_of = {node: r for r in self.regions for node in r.nodes}
        for r in self.regions:
            ends = sorted({n for e in r.moving for n in (e.a, e.b) if self.fed(n)})
            r.earths = [n for n in ends if n in self.earth_of]
            r.hubs = [n for n in ends if n not in self.earth_of]
            r.active = self._active(r)
        self._clusters()

    def _active(self, region: SwitchedRegion) -> bool:
        """Whether in some state the region joins two places that are always fed (a pole counts as one place)."""
        if not region.hubs or len(region.hubs) + bool(region.earths) < 2:  # noqa: PLR2004
            return False
        if count_states(self.network, region.variables) > STATES:
            return self._leads_across(region)
        earth = region.earths[0] if region.earths else -1
        nodes = [*region.nodes, *region.hubs, *region.earths[:1]]
        at = {node: number for number, node in enumerate(nodes)}
        for values in _states(self.network, region.variables):
            chosen = dict(zip(region.variables, values, strict=True))
            head = list(range(len(nodes)))
            for e in (*region.fixed, *(m for m in region.moving if _closed(m, chosen))):
                a, b = (at[earth if n in self.earth_of else n] for n in (e.a, e.b))
                join(head, a, b)
            ends = [find(head, at[h]) for h in (*region.hubs, *region.earths[:1])]
            if len(set(ends)) < len(ends):
                return True
        return False

    def _leads_across(self, region: SwitchedRegion) -> bool:
        """Whether some way through the region leads from one fed place to another, its positions not contradicting."""
        for hub in region.hubs:
            for way in ways(self, region.elements, hub):
                if way.end != hub:
                    return True
        return False

    def _clusters(self) -> None:
        """Gather the parts that active regions join into clusters, with the regions that join them."""
        active = [r for r in self.regions if r.active]
        heads = set_heads(len(self.part), ((self.part[h], self.part[r.hubs[0]]) for r in active for h in r.hubs[1:]))
        self._cluster_of = [heads[part] for part in self.part]
        self._cluster: dict[int, list[SwitchedRegion]] = defaultdict(list)
        for r in active:
            self._cluster[self._cluster_of[r.hubs[0]]].append(r)

    def active_at(self, nodes: Iterable[int]) -> list[SwitchedRegion]:
        """The active regions that change something at nodes that are always fed."""
        keys = {self._cluster_of[n] for n in nodes if n not in self.earth_of}
        return [r for key in keys for r in self._cluster.get(key, [])]

    def own(self, ports: Iterable[int]) -> list[SwitchedRegion]:
        """The regions that nodes lie in."""
        return list({id(r): r for r in (self.region_of.get(n) for n in ports) if r is not None}.values())

    def relevant(self, ports: Iterable[int]) -> tuple[SwitchedRegion, ...]:
        """Every region that the resistances at nodes depend on."""
        ports = list(ports)
        own = self.own(ports)
        reached = [n for n in ports if self.fed(n)] + [h for r in own for h in r.hubs]
        found = {r.number: r for r in (*own, *self.active_at(reached))}
        return tuple(found[number] for number in sorted(found))

    # -- entries of the inverse, in what always conducts

    def entry(self, a: int, b: int) -> float:
        """The entry of the inverse for two nodes that are always fed, in ohm."""
        if a in self.earth_of or b in self.earth_of or self.part[a] != self.part[b]:
            return 0.0
        if a == b:
            return float(self.grounded.diagonal()[self.place[a]])
        return float(self.column(a)[self.place[b]])

    def column(self, node: int) -> Floats:
        """The column of the inverse of a node that is always fed."""
        found = self._columns.get(node)
        if found is None:
            found = self._columns[node] = self.grounded.column(int(self.place[node]))
        return found


def all_states(network: Network, variables: Sequence[int]) -> Ints:
    """Every combination of values of some variables: (count, variables)."""
    found = list(_states(network, variables))
    return np.array(found, np.int64).reshape(len(found), len(variables))


def _states(network: Network, variables: Sequence[int]) -> Iterable[tuple[int, ...]]:
    return product(*(range(network.variables[v]) for v in variables))


def count_states(network: Network, variables: Iterable[int]) -> int:
    """How many combinations of values some variables have."""
    return prod(network.variables[v] for v in variables)


def _closed(e: Element, chosen: dict[int, int]) -> bool:
    return all(chosen[variable] in values for variable, values in e.when)


def _contract(network: Network) -> list[int]:
    """Nodes that always conduct without any resistance as one, numbered as the least of them."""
    same = ((e.a, e.b) for e in network.elements if not e.when and e.ohm.high == 0)
    return set_heads(len(network.names), same)
