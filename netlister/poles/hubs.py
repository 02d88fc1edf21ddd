"""Which poles each net has, in every state at once.

A hub (a net that is always fed) has the poles that always feed it. In a sound layout that is all. Where something joins
hubs of different poles, which is a fault, hubs are solved together: a pole spreads from hub to hub, never through
another pole.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, TypeAlias

from netlister.circuit.numbers import Net, PoleNumber
from netlister.poles.diagram import ALWAYS, NEVER, Diagrams, LimitError
from netlister.poles.flow import flow
from netlister.poles.regions import LIMIT, Region, Regions

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.circuit.numbers import Var
    from netlister.poles.diagram import Function

Has: TypeAlias = "tuple[tuple[PoleNumber, Function], ...]"
"""What a net has: pairs of pole and the function of the states in which it has it. Numbers from the number of
poles up are frog units."""


class UnprovedError(Exception):
    """A question about a net whose region could not be solved within the limit."""


class Hubs(Regions):
    """The regions of a circuit and what feeds them: the poles of every net. Arguments and errors as of `Regions`."""

    def __init__(self, circuit: Circuit, limit: int = LIMIT, diagrams: Diagrams | None = None) -> None:
        super().__init__(circuit, limit, diagrams)
        self._has: dict[Net, Has] = {}
        self._hubs: dict[Net, dict[PoleNumber, Function]] = {}  # hub -> pole -> function, of hubs that others reach
        self._open: set[Net] = set()  # hubs of which it is not known what else reaches them
        self._always: dict[int, dict[PoleNumber, Function]] = {}  # answers of `hub` for the others, by `Nets.fed`
        self._always_has: dict[int, Has] = {}  # the same for `has`
        self._spread(self.regions)

    # -- hubs

    def _region_links(self, region: Region) -> dict[tuple[Net, Net], Function]:
        """Which hubs and poles around a region it joins, and when."""
        links: dict[tuple[Net, Net], Function] = {}
        diagrams = self.diagrams
        for reach in region.reach.values():
            hubs = sorted(hub for hub in reach if hub >= 0)
            for i, a in enumerate(hubs):
                for b in hubs[i + 1 :]:
                    joined = diagrams.both(reach[a], reach[b])
                    if joined != NEVER:
                        links[a, b] = diagrams.either(links.get((a, b), NEVER), joined)
        return links

    def _spread(self, regions: list[Region]) -> None:
        """Let poles spread from hub to hub where these are joined; `regions`: those just solved."""
        fed = self.nets.fed
        diagrams = self.diagrams
        for region in regions:
            diagrams.begin()
            try:
                region.links = self._region_links(region)
            except LimitError:
                region.solved = False
        if any(fed[a] != fed[b] for _, links in self.links() for a, b in links):
            self._spread_faults()

    def _spread_faults(self) -> None:
        """Solve together all hubs that are connected to two which different poles feed and something joins."""
        fed, diagrams = self.nets.fed, self.diagrams
        graph: dict[Net, dict[Net, Function]] = defaultdict(dict)
        waiting: list[Net] = []
        for _, links in self.links():
            for (a, b), when in links.items():
                if fed[a] != fed[b]:
                    waiting += [a, b]
                for here, there in ((a, b), (b, a)):
                    to = graph[here]
                    if there >= self.count:  # nothing flows into a pole, so that nothing passes through it
                        to[there] = diagrams.either(to.get(there, NEVER), when)
        faulty = set(waiting)
        while waiting:
            here = waiting.pop()
            for there in graph[here] if here >= self.count else ():
                if there not in faulty:
                    faulty.add(there)
                    waiting.append(there)
        poles = {hub for hub in graph if hub < self.count}
        part = {hub: {to: f for to, f in graph[hub].items() if to in faulty} for hub in faulty | poles}
        diagrams.begin()
        try:
            reach = {hub: dict(self.hub(hub)) for hub in part}
            flow(diagrams, part, reach)
        except LimitError:
            self._open = {hub for hub in faulty if hub >= self.count}
        else:
            self._hubs = {hub: has for hub, has in reach.items() if hub >= self.count}

    def direct(self, a: Net, b: Net, apart_from: Var) -> Function:
        """When two nets that are always fed are joined directly, by what does not depend on a variable."""
        conductors = self._direct.get((a, b) if a < b else (b, a), ())
        return self.diagrams.any_of(
            self.condition(c.when) for c in conductors if all(v != apart_from for v, _ in c.when)
        )

    def links(self) -> Iterator[tuple[Region | None, dict[tuple[Net, Net], Function]]]:
        """Which hubs and poles are joined, and when: by each region, and by what joins two of them directly."""
        for region in self.regions:
            if region.links:
                yield region, region.links
        for a, b in self._direct:
            yield None, self._direct_links(a, b)

    def _direct_links(self, a: Net, b: Net) -> dict[tuple[Net, Net], Function]:
        return {(a, b): self.diagrams.any_of(self.condition(c.when) for c in self._direct[a, b])}

    # -- answers

    def in_mask(self, mask: int) -> list[PoleNumber]:
        """The poles in a bit mask."""
        return [PoleNumber(Net(pole)) for pole in range(self.count) if mask >> pole & 1]

    def has_unit(self, net: Net) -> bool:
        """Whether a frog unit feeds a net."""
        return net in self._unit_nets

    def hub(self, net: Net) -> dict[PoleNumber, Function]:
        """The poles of a net that is always fed; raises UnprovedError where it is not known what else reaches it."""
        if net in self._open:
            raise UnprovedError
        known = self._hubs.get(net)
        if known is None:
            mask = self.nets.fed[net]
            known = self._always.get(mask)
            if known is None:
                known = self._always[mask] = dict.fromkeys(self.in_mask(mask), ALWAYS)
        return known

    def has(self, net: Net) -> Has:
        """The poles of a net and when it has them; raises UnprovedError where its region was not solved."""
        known = self._has.get(net)
        if known is None:
            known = self._has[net] = self._find(net)
        return known

    def _find(self, net: Net) -> Has:
        if self.nets.fed[net]:
            has = self.hub(net)
            if net in self._hubs:
                return tuple(sorted(has.items()))
            found = self._always_has.get(self.nets.fed[net])
            if found is None:
                found = self._always_has[self.nets.fed[net]] = tuple(sorted(has.items()))
            return found
        region = self.region_of.get(net)
        if region is None:
            return ()
        if not region.solved:
            raise UnprovedError
        diagrams = self.diagrams
        reached: dict[PoleNumber, Function] = {}
        units = []
        for source, function in region.reach[net].items():
            if source < 0:
                units.append((PoleNumber(Net(-1 - source)), function))
                continue
            for pole, there in self.hub(source).items():
                joined = diagrams.both(function, there)
                if joined != NEVER:
                    reached[pole] = diagrams.either(reached.get(pole, NEVER), joined)
        if units:
            real = diagrams.any_of(list(reached.values()))
            for unit, function in units:
                alone = diagrams.without(function, real)
                if alone != NEVER:
                    reached[unit] = alone
        return tuple(sorted(reached.items()))
