"""Which poles each net has, in every state at once.

A net that is always fed is a *hub*. Cut at hubs and poles the rest falls into small regions, most of a single
frog; each is solved for itself. Only where a region joins hubs of different poles, a fault, are hubs solved
together: then a pole spreads from hub to hub, never through another pole.
"""

from __future__ import annotations

from collections import defaultdict
from copy import copy
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from netlister.circuit.numbers import Net, PoleNumber
from netlister.poles.diagram import ALWAYS, NEVER, Diagrams, LimitError
from netlister.poles.flow import flow
from netlister.poles.nets import Edge, contract, edges
from netlister.poles.order import variable_order
from netlister.poles.renet import renet
from netlister.source import Fault, UnusableError
from netlister.union import find, join

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.model import Circuit, Conductor, When
    from netlister.circuit.numbers import Node, Var
    from netlister.layout.model import Value
    from netlister.poles.diagram import Function

LIMIT = 2_000_000
"""Steps of the proof for one region or one rule and subject, unless the user raises it."""

Has: TypeAlias = "tuple[tuple[PoleNumber, Function], ...]"
"""What a net has: pairs of pole and the function of the states in which it has it. Numbers from the number of
poles up are frog units."""


class UnprovedError(Exception):
    """A question about a net whose region could not be solved within the limit."""


class Short(NamedTuple):
    """A place where two poles are joined.

    `function`: in which states. `nets`: the nets through which they meet. `conductors`: those that meet poles
    directly.
    """

    poles: tuple[PoleNumber, PoleNumber]
    function: Function
    nets: tuple[Net, ...]
    conductors: tuple[Conductor, ...] = ()


NOWHERE = Net(0)
"""In place of a net where none is meant: the number of a pole."""

MeetingPlace: TypeAlias = "tuple[str, Net, Net]"
"""A place where two poles may meet: ("net", net, NOWHERE), ("region", its first net, NOWHERE), ("direct", net, net),
or "bridges" or "chains" with NOWHERE twice."""


@dataclass(slots=True)
class Region:
    """Nets that are not always fed, joined by what conducts sometimes, and the hubs and poles around them."""

    nets: list[Net]
    inner: list[Edge] = field(default_factory=list)
    outer: list[tuple[Net, Net, Conductor]] = field(default_factory=list)  # net, hub or pole, conductor
    reach: dict[Net, dict[Net, Function]] = field(default_factory=dict)  # net -> hub, pole or unit -> function
    links: dict[tuple[Net, Net], Function] = field(
        default_factory=dict
    )  # pairs of hubs and poles that it joins -> function
    solved: bool = True


class Touched(NamedTuple):
    """What a change of a circuit may have changed of its poles.

    `nodes`: those that belong to another net, new ones among them. `has`: nets with other poles. `regrouped`: nets
    with other nodes. `refed`: nets that other poles always feed. `places`: where poles may meet otherwise than before.
    Nets and places are those of before and of after.
    """

    nodes: set[Node]
    has: set[Net]
    regrouped: set[Net]
    refed: set[Net]
    places: set[MeetingPlace]


class Poles:
    """The poles of every net of a circuit.

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
        self._has: dict[Net, Has] = {}
        self._literals: dict[tuple[Var, tuple[Value, ...]], Function] = {}
        self.never_groups = self._never_groups()
        self.regions: list[Region] = []
        self.region_of: dict[Net, Region] = {}
        self._direct: dict[tuple[Net, Net], list[Conductor]] = {}
        self._hubs: dict[Net, dict[PoleNumber, Function]] = {}  # hub -> pole -> function, where more than it is fed
        self._open: set[Net] = set()  # hubs of which it is not known what else reaches them
        self._always: dict[int, dict[PoleNumber, Function]] = {}  # by mask
        self._always_has: dict[int, Has] = {}  # by mask
        self._divide()
        for region in self.regions:
            self._solve(region)
        self._spread(self.regions)

    @property
    def whole(self) -> Circuit:
        """The circuit to look for paths in."""
        return self.circuit

    # -- after a change

    def after(self, circuit: Circuit, gone: list[Conductor], came: list[Conductor]) -> tuple[Poles, Touched]:
        """The poles after a change: some conductors went, others came, and `never` may say something else.

        Poles, devices and variables are the same. Only regions that the change touches are solved again.
        """
        made = copy(self)
        made.circuit = circuit
        if circuit.never != self.circuit.never:
            made.never_groups = made._never_groups()
        made.nets, moved, regrouped, refed = renet(self.nets, circuit, gone, came)
        looked = {n for c in (*gone, *came) if c.when for n in (c.a, c.b)} | moved
        for net in refed:
            old = self.nets.fed[net] if net < self.nets.count else 0
            if bool(old) != bool(made.nets.fed[net]):
                looked.update(made.nets.members[net])
        stale, seeds = self._stale(made, looked)
        made._unit_nets = {}
        for number, device in enumerate(self.units):
            made._unit_nets.setdefault(made.nets.of[device.node], []).append(PoleNumber(Net(self.count + number)))
        seeds |= {net for net in made._unit_nets if not made.nets.fed[net]}
        fresh = made._divide_again(stale, seeds)
        pairs = self._redirect(made, looked, gone)
        for region in fresh:
            made._solve(region)
        made._hubs, made._open = {}, set()
        made._spread(fresh)
        changed = self._changed(made, stale, fresh, regrouped, refed)
        places: set[MeetingPlace] = {("region", region.nets[0], NOWHERE) for region in (*stale, *fresh)}
        other = refed | regrouped
        places |= {("net", net, NOWHERE) for net in other}
        places |= {("direct", a, b) for a, b in pairs}
        for region in made.regions:  # what a region joins depends on what feeds the hubs around it
            if region.links and not refed.isdisjoint(hub for pair in region.links for hub in pair):
                places.add(("region", region.nets[0], NOWHERE))
        places |= {("direct", a, b) for a, b in made._direct if a in other or b in other}
        if any(not (c.a >= self.count or c.b >= self.count) for c in (*gone, *came)):
            places.add(("bridges", NOWHERE, NOWHERE))
        return made, Touched(moved, changed, regrouped, refed, places)

    def _stale(self, made: Poles, looked: set[Node]) -> tuple[list[Region], set[Net]]:
        """The regions around some nodes that must be made again, and the nets to make them from."""
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
        """Make the regions anew that hold some nets, in place of the stale ones."""
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

    def _redirect(self, made: Poles, looked: set[Node], gone: list[Conductor]) -> set[tuple[Net, Net]]:
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

    def _changed(
        self, made: Poles, stale: list[Region], fresh: list[Region], regrouped: set[Net], refed: set[Net]
    ) -> set[Net]:
        """The nets that have other poles than before, or whose poles were not proved before or are not now."""
        nets = {net for region in (*stale, *fresh) for net in region.nets} | regrouped
        hubs = {hub for hub in {*self._hubs, *made._hubs} if self._hubs.get(hub) != made._hubs.get(hub)}
        hubs |= (self._open ^ made._open) | refed
        nets |= hubs
        for poles in (self, made):
            for hub in hubs:
                for node in poles.nets.members[hub] if hub < poles.nets.count else ():
                    for other, conductor in poles.circuit.near[node]:
                        region = poles.region_of.get(poles.nets.of[other]) if conductor.when else None
                        if region is not None:
                            nets.update(region.nets)
        made._has = dict(self._has)
        changed = set[Net]()
        for net in nets:
            if net < self.count:
                continue
            made._has.pop(net, None)
            try:
                before = self.has(net) if net < self.nets.count else None
                after = made.has(net)
            except UnprovedError:
                changed.add(net)
                continue
            if before != after:
                changed.add(net)
        return changed

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
            raise UnusableError([Fault(self.circuit.layout.never[0][1], message)])
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
        diagrams = self.diagrams
        links: dict[Net, dict[Net, Function]] = {net: {} for net in region.nets}
        for a, b, conductor in region.inner:
            condition = self.condition(conductor.when)
            links[a][b] = links[b][a] = diagrams.either(links[a].get(b, NEVER), condition)
        flow(diagrams, links, reach)

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
        """Solve together the hubs that are connected to a link between unlike ones."""
        fed, diagrams = self.nets.fed, self.diagrams
        graph: dict[Net, dict[Net, Function]] = defaultdict(dict)
        waiting: list[Net] = []
        for _, links in self.links():
            for (a, b), when in links.items():
                if fed[a] != fed[b]:
                    waiting += [a, b]
                for here, there in ((a, b), (b, a)):
                    to = graph[here]
                    if there >= self.count:  # a pole takes nothing in, so that it passes nothing on
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

    # -- shorts

    def nodes_of(self, nets: Iterable[Net]) -> list[Node]:
        """The nodes of some nets."""
        members = self.nets.members
        return [node for net in nets for node in members[net]]

    def around(self, short: Short) -> set[Net] | None:
        """The nets of a place and the hubs around it, or None where it is spread over several places."""
        if len(short.nets) < 1:
            return None
        region = self.region_of.get(short.nets[0])
        if region is None:
            return None if len(short.nets) > 1 and not short.conductors else set(short.nets)
        return {*short.nets, *(hub for _, hub, _ in region.outer)}

    def places(self) -> Iterator[MeetingPlace]:
        """Every place where poles may meet, or of which it is not known."""
        fed = self.nets.fed
        if self.nets.bridges:
            yield "bridges", NOWHERE, NOWHERE
        for net in map(Net, range(self.count, self.nets.count)):
            if fed[net] & (fed[net] - 1):
                yield "net", net, NOWHERE
        for region in self.regions:
            if region.links or not region.solved:
                yield "region", region.nets[0], NOWHERE
        for a, b in self._direct:
            yield "direct", a, b
        if self._open or self._hubs:
            yield "chains", NOWHERE, NOWHERE

    def is_place(self, place: MeetingPlace) -> bool:
        """Whether `places` yields a place."""
        what, a, b = place
        if what == "region":
            region = self.region_of.get(a)
            return region is not None and region.nets[0] == a and bool(region.links or not region.solved)
        if what == "net":
            return self.count <= a < self.nets.count and bool(self.nets.fed[a] & (self.nets.fed[a] - 1))
        if what == "direct":
            return (a, b) in self._direct
        return bool(self.nets.bridges if what == "bridges" else self._open or self._hubs)

    def unsolved(self, place: MeetingPlace) -> list[Region]:
        """The region of a place, where it could not be solved."""
        what, net, _ = place
        region = self.region_of[net] if what == "region" else None
        return [region] if region is not None and not region.solved else []

    def shorts_at(self, place: MeetingPlace) -> list[Short]:
        """Which poles are joined at a place, and when."""
        what, a, b = place
        if what == "bridges":
            return [Short(_ordered(c.a, c.b), ALWAYS, (), (c,)) for c in self.nets.bridges]
        if what == "net":
            return [Short(pair, ALWAYS, (a,)) for pair in _pairs(self.nets.fed[a])]
        if what == "region":
            region = self.region_of[a]
            return self._shorts_of(region, region.links)
        if what == "direct":
            return self._shorts_of(None, self._direct_links(a, b))
        if self._open:
            raise UnprovedError
        others = [short for other in self.places() if other[0] != "chains" for short in self.shorts_at(other)]
        return self._chains(others)

    def shorts(self) -> list[Short]:
        """Every place where two poles are joined, and when."""
        return [short for place in self.places() for short in self.shorts_at(place)]

    def links(self) -> Iterator[tuple[Region | None, dict[tuple[Net, Net], Function]]]:
        """Which hubs and poles are joined, and when: by each region, and by what joins two of them directly."""
        for region in self.regions:
            if region.links:
                yield region, region.links
        for a, b in self._direct:
            yield None, self._direct_links(a, b)

    def _direct_links(self, a: Net, b: Net) -> dict[tuple[Net, Net], Function]:
        return {(a, b): self.diagrams.any_of(self.condition(c.when) for c in self._direct[a, b])}

    def _shorts_of(self, region: Region | None, links: dict[tuple[Net, Net], Function]) -> list[Short]:
        fed, diagrams = self.nets.fed, self.diagrams
        joined: dict[tuple[PoleNumber, PoleNumber], Function] = {}
        for (a, b), when in links.items():
            known = {*_pairs(fed[a]), *_pairs(fed[b])}
            for pair in _pairs(fed[a] | fed[b]):
                p, q = (1 << number for number in pair)
                across = (fed[a] & p and fed[b] & q) or (fed[a] & q and fed[b] & p)
                if pair not in known and across:
                    joined[pair] = diagrams.either(joined.get(pair, NEVER), when)
        if region is not None:
            return [Short(pair, f, tuple(region.nets)) for pair, f in sorted(joined.items())]
        (ends,) = links
        return [Short(pair, f, ends, tuple(self._direct[ends])) for pair, f in sorted(joined.items())]

    def _chains(self, places: list[Short]) -> list[Short]:
        """Pairs of poles that meet only over a third one's rails, by way of several places."""
        diagrams = self.diagrams
        told: dict[tuple[PoleNumber, PoleNumber], Function] = {}
        for short in places:
            told[short.poles] = diagrams.either(told.get(short.poles, NEVER), short.function)
        missing: dict[tuple[PoleNumber, PoleNumber], tuple[Function, list[Net]]] = {}
        for hub, has in self._hubs.items():
            if hub < self.count:
                continue
            poles = sorted(has)
            for i, p in enumerate(poles):
                for q in poles[i + 1 :]:
                    joined = diagrams.both(has[p], has[q])
                    if diagrams.without(joined, told.get((p, q), NEVER)) != NEVER:
                        function, hubs = missing.get((p, q), (NEVER, []))
                        missing[p, q] = diagrams.either(function, joined), [*hubs, hub]
        return [Short(pair, f, tuple(hubs)) for pair, (f, hubs) in sorted(missing.items())]


def _ordered(a: Node, b: Node) -> tuple[PoleNumber, PoleNumber]:
    return PoleNumber(Net(min(a, b))), PoleNumber(Net(max(a, b)))


def _pairs(mask: int) -> list[tuple[PoleNumber, PoleNumber]]:
    """The pairs of poles in a bit mask."""
    poles = [PoleNumber(Net(i)) for i in range(mask.bit_length()) if mask >> i & 1]
    return [(p, q) for i, p in enumerate(poles) for q in poles[i + 1 :]]
