"""The nets that are fed sometimes, in regions: each is solved for itself.

A net that is always fed is a *hub*. Cut at hubs and poles the rest falls into small regions, most of a single frog.
What a region is, which conductors it has and from which hubs and poles a path leads to each of its nets is here;
nothing here knows which poles a hub has.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from netlister.circuit.numbers import Net, PoleNumber
from netlister.poles.diagram import ALWAYS, NEVER, Diagrams, LimitError
from netlister.poles.flow import flow
from netlister.poles.nets import Edge, contract, edges
from netlister.poles.order import variable_order
from netlister.source import FileFault, UnusableError
from netlister.union import find, join

if TYPE_CHECKING:
    from netlister.circuit.model import Circuit, Conductor, When
    from netlister.circuit.numbers import Node, Var
    from netlister.layout.model import Value
    from netlister.poles.diagram import Function

LIMIT = 2_000_000
"""Steps of the proof for one region or one rule and subject, unless the user raises it."""


@dataclass(slots=True)
class Region:
    """Nets that are not always fed, joined by what conducts sometimes, and the hubs and poles around them."""

    nets: list[Net]
    inner: list[Edge] = field(default_factory=list)
    outer: list[tuple[Net, Net, Conductor]] = field(default_factory=list)  # net, hub or pole, conductor
    reach: dict[Net, dict[Net, Function]] = field(
        default_factory=dict
    )  # net -> hub, pole or frog unit (as -1 - its number) -> function
    links: dict[tuple[Net, Net], Function] = field(
        default_factory=dict
    )  # pairs of hubs and poles that it joins -> function; see `Hubs`
    solved: bool = True


class Regions:
    """The regions of a circuit.

    `limit`: steps per region; 0 for none. Functions are numbers of `diagrams`, which may be those of another circuit
    with the same variables. Raises UnusableError where `never` leaves no state at all.
    """

    def __init__(self, circuit: Circuit, limit: int = LIMIT, diagrams: Diagrams | None = None) -> None:
        self.circuit = circuit
        self.nets = contract(circuit)
        if diagrams is None:
            arities = [len(v.positions) for v in circuit.variables]
            diagrams = Diagrams(arities, variable_order(self.nets, edges(circuit, self.nets), len(arities)), limit)
        self.diagrams = diagrams
        self.count = len(circuit.poles)
        self._unit_nets: dict[Net, list[PoleNumber]] = {}
        for number, device in enumerate(d for d in circuit.devices if d.kind == "unit"):
            self._unit_nets.setdefault(self.nets.of[device.node], []).append(PoleNumber(Net(self.count + number)))
        self.units = [d for d in circuit.devices if d.kind == "unit"]
        self._literals: dict[tuple[Var, tuple[Value, ...]], Function] = {}
        self.never_groups = self._never_groups()
        self.regions: list[Region] = []
        self.region_of: dict[Net, Region] = {}
        self._direct: dict[tuple[Net, Net], list[Conductor]] = {}  # pairs of hubs and poles -> what joins them directly
        self._divide()
        for region in self.regions:
            self._solve(region)

    # -- conditions

    def condition(self, when: When) -> Function:
        """The function of a condition."""
        if len(when) == 1:
            found = self._literals.get(when[0])
            if found is None:
                found = self._literals[when[0]] = self.diagrams.literal(*when[0])
            return found
        return self.diagrams.condition(when)

    def allowed(self, function: Function) -> Function:
        """The states that `never` leaves, as far as it speaks of what the function depends on."""
        if not self.never_groups:
            return ALWAYS
        support = self.diagrams.support(function)
        result = ALWAYS
        for variables, free in self.never_groups:
            if variables & support:
                result = self.diagrams.both(result, free)
        return result

    def _never_groups(self) -> list[tuple[set[Var], Function]]:
        """The states that `never` leaves, per group of variables that its entries tie together."""
        groups: list[tuple[set[Var], list[Function]]] = []
        for cube in self.circuit.never:
            variables = {variable for variable, _ in cube}
            functions = [self.diagrams.cube(cube)]
            apart = []
            for group in groups:
                if group[0] & variables:
                    variables |= group[0]
                    functions += group[1]
                else:
                    apart.append(group)
            groups = [*apart, (variables, functions)]
        free = [(v, self.diagrams.negate(self.diagrams.any_of(f))) for v, f in groups]
        if any(function == NEVER for _, function in free):
            message = "'never' rules out every combination of positions, so nothing is left to check; drop an entry"
            raise UnusableError([FileFault(self.circuit.layout.never[0][1], message)])
        return free

    def without_never(self, function: Function) -> Function:
        """The function without every state that `never` rules out."""
        for _, free in self.never_groups:
            function = self.diagrams.both(function, free)
        return function

    def possible(self, function: Function) -> bool:
        """Whether a function is true in some state that `never` leaves."""
        return self.diagrams.both(function, self.allowed(function)) != NEVER

    # -- regions

    def _divide(self) -> None:
        """Find the regions: nets that are not always fed, connected by what conducts sometimes."""
        nets = self.nets
        fed = nets.fed
        head: dict[Net, Net] = {}
        sometimes = edges(self.circuit, nets)
        for a, b, _ in sometimes:
            if not fed[a] and not fed[b]:
                join(head, head.setdefault(a, a), head.setdefault(b, b))
        by_root: dict[Net, Region] = {}

        def region(net: Net) -> Region:
            found = self.region_of.get(net)
            if found is None:
                root = find(head, head.setdefault(net, net))
                found = by_root.get(root)
                if found is None:
                    found = by_root[root] = Region([])
                    self.regions.append(found)
                found.nets.append(net)
                self.region_of[net] = found
            return found

        for edge in sometimes:
            a, b, conductor = edge
            if fed[a]:
                if fed[b]:
                    self._direct.setdefault((a, b) if a < b else (b, a), []).append(conductor)
                else:
                    region(b).outer.append((b, a, conductor))
            elif fed[b]:
                region(a).outer.append((a, b, conductor))
            else:
                region(a).inner.append(edge)
                region(b)
        for net in self._unit_nets:
            if not fed[net]:
                region(net)

    def _solve(self, region: Region) -> None:
        """Find for each net of a region from which hubs and poles around it, and when, a path leads to it."""
        self.diagrams.begin()
        try:
            reach = self._sources(region)
            if region.inner:
                self._propagate(region, reach)
        except LimitError:
            region.solved = False
            reach = {net: {} for net in region.nets}
        region.reach = reach

    def _sources(self, region: Region) -> dict[Net, dict[Net, Function]]:
        """Per net of a region the hubs, poles and frog units that reach it directly, and when."""
        diagrams = self.diagrams
        reach: dict[Net, dict[Net, Function]] = {net: {} for net in region.nets}
        for net, hub, conductor in region.outer:
            here = reach[net]
            condition = self.condition(conductor.when)
            here[hub] = diagrams.either(here[hub], condition) if hub in here else condition
        if self._unit_nets:
            for net in region.nets:
                for unit in self._unit_nets.get(net, ()):
                    reach[net][Net(-1 - unit)] = ALWAYS  # no net has such a number
        return reach

    def _propagate(self, region: Region, reach: dict[Net, dict[Net, Function]]) -> None:
        """Add what reaches each net over others of its region."""
        diagrams = self.diagrams
        links: dict[Net, dict[Net, Function]] = {net: {} for net in region.nets}
        for a, b, conductor in region.inner:
            condition = self.condition(conductor.when)
            links[a][b] = links[b][a] = diagrams.either(links[a].get(b, NEVER), condition)
        flow(diagrams, links, reach)

    # -- after a change: `made` is what these regions become by it

    def _stale(self, made: Regions, looked: set[Node]) -> tuple[list[Region], set[Net]]:
        """The regions of some nodes and their neighbours, to be found again; and the nets to begin with."""
        of_old, of, fed = self.nets.of, made.nets.of, made.nets.fed
        stale: dict[int, Region] = {}
        seeds: set[Net] = set()

        def look(node: Node) -> None:
            if node < self.count:
                return
            for net in (*of_old[node : node + 1], of[node]):  # before, if it was there, and now
                region = self.region_of.get(net)
                if region is not None:
                    stale[id(region)] = region
            seeds.add(of[node])

        for node in looked:
            if node >= self.count:
                look(node)
                for other, conductor in made.circuit.near[node]:
                    if conductor.when:
                        look(other)
        for region in stale.values():
            seeds.update(region.nets)
        return list(stale.values()), {net for net in seeds if not fed[net] and made.nets.members[net]}

    def _divide_again(self, stale: list[Region], seeds: set[Net]) -> list[Region]:
        """Drop the stale regions, and find those that hold the seeds."""
        of, fed, members, near = self.nets.of, self.nets.fed, self.nets.members, self.circuit.near
        self.region_of = dict(self.region_of)
        dropped = {id(region) for region in stale}
        for region in stale:
            for net in region.nets:
                self.region_of.pop(net, None)
        fresh: list[Region] = []
        for seed in sorted(seeds):
            if seed in self.region_of:
                continue
            region = Region([])
            waiting = [seed]
            seen = {seed}
            while waiting:
                net = waiting.pop()
                region.nets.append(net)
                for node in members[net]:
                    for other, conductor in near[node]:
                        there = of[other]
                        if not conductor.when or there == net:
                            continue
                        if fed[there]:
                            region.outer.append((net, there, conductor))
                            continue
                        if conductor.a == node:
                            region.inner.append(Edge(net, there, conductor))
                        if there not in seen:
                            seen.add(there)
                            waiting.append(there)
            if region.inner or region.outer or any(net in self._unit_nets for net in region.nets):
                region.nets.sort()
                for net in region.nets:
                    assert net not in self.region_of
                    self.region_of[net] = region
                fresh.append(region)
        self.regions = [*(region for region in self.regions if id(region) not in dropped), *fresh]
        return fresh

    def _redirect(self, made: Regions, looked: set[Node], gone: list[Conductor]) -> set[tuple[Net, Net]]:
        """What joins two hubs directly after a change; returns the pairs where that is something else."""
        direct = dict(self._direct)
        pairs: set[tuple[Net, Net]] = set()
        before = {id(c): c for c in gone if c.when}
        after: dict[int, Conductor] = {}
        for node in looked:
            after.update((id(c), c) for _, c in made.circuit.near[node] if c.when)
        nodes = len(self.nets.of)
        before.update((i, c) for i, c in after.items() if c.a < nodes and c.b < nodes)
        for conductors, nets, put_in in ((before, self.nets, False), (after, made.nets, True)):
            for conductor in conductors.values():
                a, b = sorted((nets.of[conductor.a], nets.of[conductor.b]))
                if a == b or not nets.fed[a] or not nets.fed[b]:
                    continue
                listed = list(direct.get((a, b), ()))
                if put_in:
                    listed.append(conductor)
                elif conductor in listed:
                    listed.remove(conductor)
                else:
                    continue  # it came only now
                pairs.add((a, b))
                direct[a, b] = listed
                if not listed:
                    del direct[a, b]
        made._direct = direct
        return pairs
