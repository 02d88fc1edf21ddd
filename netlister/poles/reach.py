"""Where poles meet, in every state at once, and the same after a change without solving all of it again."""

from __future__ import annotations

from copy import copy
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from netlister.circuit.numbers import Net, PoleNumber
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.hubs import Has, Hubs, UnprovedError
from netlister.poles.regions import LIMIT, Region
from netlister.poles.renet import renet

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.circuit.model import Circuit, Conductor
    from netlister.circuit.numbers import Node
    from netlister.poles.diagram import Diagrams, Function

__all__ = ["LIMIT", "Has", "MeetingPlace", "Poles", "Region", "Short", "Touched", "UnprovedError", "sole_poles"]


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
"""A place where two poles may meet, as what it is and up to two nets.

("net", net, NOWHERE): a net that two poles always feed. ("region", its first net, NOWHERE): within a region.
("direct", net, net): what joins two hubs or poles without a region between. With NOWHERE twice: "bridges", conductors
from pole to pole; "chains", over the rails of a third pole; "diodes", see `DiodePoles`."""


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


class Poles(Hubs):
    """The poles of every net of a circuit and where they meet. Arguments and errors as of `Regions`."""

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

    def _changed(
        self, made: Poles, stale: list[Region], fresh: list[Region], regrouped: set[Net], refed: set[Net]
    ) -> set[Net]:
        """The nets that have other poles than before, and those whose poles are not proved before or after."""
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

    # -- shorts

    def nodes_of(self, nets: Iterable[Net]) -> list[Node]:
        """The nodes of some nets."""
        members = self.nets.members
        return [node for net in nets for node in members[net]]

    def around(self, short: Short) -> set[Net] | None:
        """The nets through which poles meet and the hubs around them, or None where these are spread over places."""
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

    def _chains(self, known: list[Short]) -> list[Short]:
        """Pairs of poles that meet only over the rails of a third one, which each of them reaches at another place.

        `known`: what is told of single places.
        """
        diagrams = self.diagrams
        told: dict[tuple[PoleNumber, PoleNumber], Function] = {}
        for short in known:
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


def sole_poles(diagrams: Diagrams, has: Has) -> Has:
    """Per pole the states in which a net has that pole and no other."""
    found = []
    for pole, f in has:
        one = diagrams.without(f, diagrams.any_of([g for other, g in has if other != pole]))
        if one != NEVER:
            found.append((pole, one))
    return tuple(found)
