"""What protects a piece of track or a wire: the trip current of its supply, or of the breaker of its district."""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple, cast

from netlister.circuit.districts import districts, with_track
from netlister.layout.model import Feed
from netlister.layout.schema import PROTECTING
from netlister.union import find, join

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.volts.network import Element
    from netlister.volts.solver import Solver


class Guard(NamedTuple):
    """What protects a wire: the current in A at which it acts, and what it is, in words."""

    trip: float
    name: str


def guard_of(layout: Layout, source: str) -> Guard | None:
    """What acts first before a wire from a bus, supply or reverser: the supply or a breaker on the way."""
    reverser = layout.reversers.get(source)
    return min(_guards(layout, source if reverser is None else reverser.bus), default=None)


def _guards(layout: Layout, bus: str) -> list[Guard]:
    """What protects a bus, or what hangs on a supply."""
    found = []
    buses = layout.buses
    while bus in buses:
        breaker = buses[bus].breaker
        if breaker is not None:
            found.append(Guard(breaker, f"the breaker of '{bus}'"))
        if not buses[bus].parent:
            bus = buses[bus].supply
            break
        bus = buses[bus].parent
    supply = layout.supplies.get(bus)
    if supply is not None and supply.trip is not None:
        found.append(Guard(supply.trip, f"'{bus}'"))
    return found


class Protection:
    """The trip currents of a layout, in A."""

    def __init__(self, solver: Solver) -> None:
        self.layout: Layout = solver.network.layout
        self._district = districts(self.layout)
        self._fed: dict[int, set[str]] = defaultdict(set)  # metal of the track -> districts that feed it
        self._buses: dict[int, set[str]] = defaultdict(set)  # metal of the track -> buses that feed it
        self._before: dict[str, set[str]] = {}  # breaker in a wire -> what it hangs on
        self._behind: dict[int, set[str]] = {}  # metal of the track that only moving contacts feed -> their districts
        self._parts: dict[str, set[int]] = defaultdict(set)  # piece -> metal that its rails are
        network = solver.network
        group = list(range(len(network.names)))
        wiring = {*range(network.earths), *network.taps.values()}
        for e in network.elements:
            if not e.when and e.a not in wiring and e.b not in wiring and not self._rated(e):
                join(group, e.a, e.b)
        for (piece, _), rail in network.rails.items():
            self._parts[piece] |= {find(group, n) for n in {rail.middle, *rail.ends.values()}}
        loose = list(group)  # the same over what moves, for track that only contacts and plugs feed
        for e in network.elements:
            if e.when and e.a not in wiring and e.b not in wiring:
                join(loose, e.a, e.b)
        behind: dict[int, set[str]] = defaultdict(set)
        self._doors: dict[int, set[tuple[str, str]]] = defaultdict(set)  # metal over what moves -> letter, district
        letters = {node: letter for (_, letter, _), node in network.taps.items()}
        letters |= {node: network.names[node][-1] for node in range(network.earths)}
        for e in network.elements:
            if e.what != "feed" and (e.a in wiring) == (e.b in wiring):
                continue
            node = e.b if e.what == "feed" or e.a in wiring else e.a
            for bus in self._sources(e):
                part = find(group, node)
                label = self._district.get(bus, "")
                if self._rated(e):
                    self._before[e.owner] = {label}
                    label = e.owner
                self._fed[part].add(label)
                self._buses[part] |= self._upward(bus)
                behind[find(loose, node)].add(label)
                self._doors[find(loose, node)].add((letters.get(e.a if node == e.b else e.b, ""), label))
        self._solver, self._group, self._loose = solver, group, loose
        inner = [e for e in network.elements if self._rated(e) and e.a not in wiring and e.b not in wiring]
        self._pass_breakers([(find(group, e.a), find(group, e.b), e.owner) for e in inner])
        for parts in self._parts.values():
            for part in parts:
                if part not in self._fed and behind.get(find(loose, part)):
                    self._behind[part] = behind[find(loose, part)]

    def _rated(self, e: Element) -> bool:
        """Whether an element is a breaker or fuse in a wire that acts at a known current."""
        component = self.layout.components.get(e.owner) if e.what == "component" else None
        return component is not None and component.kind in PROTECTING and component.rating is not None

    def _pass_breakers(self, breakers: list[tuple[int, int, str]]) -> None:
        """What is fed through breakers in wires alone, one after the other."""
        changed = True
        while changed:
            changed = False
            for a, b, name in breakers:
                for here, there in ((a, b), (b, a)):
                    if self._fed.get(here) and not self._fed.get(there):
                        self._before[name] = set(self._fed[here])
                        self._fed[there] = {name}
                        self._buses[there] |= self._buses[here]
                        changed = True

    def _sources(self, e: Element) -> list[str]:
        """The buses from whose poles a feed, wire, pin, component or lead of a contact comes."""
        if e.what == "feed":
            return [self._bus(cast(Feed, e.entry).source)]
        entry = self.layout.components.get(e.owner) if e.what == "component" else e.entry
        buses = getattr(entry, "buses", ()) if e.what in {"wire", "plug", "component", "lead", "contact"} else ()
        return sorted({bus for bus in buses if bus})

    def _bus(self, source: str) -> str:
        """The bus behind a source of feeds."""
        reverser = self.layout.reversers.get(source)
        return source if reverser is None else reverser.bus

    def _upward(self, bus: str) -> set[str]:
        """A bus and those that it branches from."""
        found = {bus}
        while bus in self.layout.buses and self.layout.buses[bus].parent:
            bus = self.layout.buses[bus].parent
            found.add(bus)
        return found

    def serves(self, bus: str, piece: str) -> bool:
        """Whether a piece is fed from a bus or its branches; true where only moving contacts feed the piece."""
        known = set().union(*(self._buses.get(part, set()) for part in self._parts[piece]))
        return not known or bus in known

    def of_bus(self, source: str) -> float | None:
        """The smallest trip current before a wire from a bus, supply or reverser, of the supply and all breakers."""
        found = guard_of(self.layout, source)
        return None if found is None else found.trip

    def of_piece(self, piece: str, supply: str) -> float | None:
        """The trip current that a short on a piece has to reach: where several districts feed it, the greatest."""
        parts = self._parts[piece] if self._district or self._before else set()
        fed = {part: found for part in parts if (found := self._fed.get(part) or self._behind.get(part))}
        labels = [found | self._at_times(part) for part, found in fed.items()]
        if not self.layout.pieces[piece].kind.plain:
            labels = [set().union(*labels)] if labels else []
        rails = [self._greatest(found, supply) for found in labels] or [self._smaller("", supply)]
        known = [t for t in rails if t is not None]  # a short goes through both rails of plain track
        return min(known) if len(known) == len(rails) else self._smaller("", supply)

    def _greatest(self, labels: set[str], supply: str) -> float | None:
        """The trip current of what several districts feed: the greatest, None where one has none."""
        trips = [self._smaller(label, supply) for label in labels]
        known = [t for t in trips if t is not None]
        return max(known) if len(known) == len(trips) else None

    def before(self, node: int, supply: str) -> Guard | None:
        """What acts first before a wire beyond a junction; where several feed it, that which trips last of them.

        `node`: of the network, at either end of the wire.
        """
        labels = self._fed.get(find(self._group, node), {""}) | self._at_times(node)
        guards = [self._first(label, supply, fuses=True) for label in sorted(labels)]
        return max((g for g in guards if g is not None), default=None) if None not in guards else None

    def _at_times(self, node: int) -> set[str]:
        """The districts that feed the pole of a node, over contacts in some state or all the time."""
        solver, names = self._solver, self._solver.network.names
        root = solver.root[node]
        bits = solver.earth_of[root] if root in solver.earth_of else solver.poles_of.get(solver.part[root], 0)
        own = {names[n][-1] for n in range(bits.bit_length()) if bits >> n & 1}
        return {label for letter, label in self._doors.get(find(self._loose, node), ()) if letter in own}

    def _smaller(self, district: str, supply: str) -> float | None:
        """The smallest trip current of a supply and of the breakers on the way to a district."""
        guard = self._first(district, supply)
        return None if guard is None else guard.trip

    def _first(self, district: str, supply: str, *, fuses: bool = False) -> Guard | None:
        """What acts first of a supply and of the breakers on the way to a district.

        `fuses`: the fuses, too. They keep a wire from burning, but a short has to be far above their rating for them
        to act in time, so that what a short must reach is told by the breakers alone.
        """
        buses = self.layout.buses
        if district in self._before:
            component = self.layout.components[district]
            ahead = [self._first(label, supply, fuses=fuses) for label in sorted(self._before[district])]
            counts = component.rating is not None and (fuses or component.kind != "fuse")
            own = [Guard(component.rating or 0.0, f"the {component.kind} '{district}'")] if counts else []
            return min((g for g in (*ahead, *own) if g is not None), default=None)
        guards = _guards(self.layout, district) if district in buses and buses[district].breaker is not None else []
        trip = self.layout.supplies[supply].trip if supply in self.layout.supplies else None
        return min([*guards, *([] if trip is None else [Guard(trip, f"'{supply}'")])], default=None)

    def _supply(self, bus: str) -> str:
        """The supply of a bus, or a supply itself."""
        buses = self.layout.buses
        while bus in buses and buses[bus].parent:
            bus = buses[bus].parent
        return buses[bus].supply if bus in buses else bus

    def breakers(self) -> dict[str, tuple[str, float]]:
        """The districts behind a breaker: their supply and its trip current."""
        found = {}
        for bus in self.layout.buses.values():
            if bus.breaker is not None:
                found[bus.name] = (self._supply(bus.name), bus.breaker)
        return found

    def feeds_track(self, district: str) -> bool:
        """Whether something leads from a district to a rail: a feed, a wire, a contact or a plug."""
        return district in self._with_track

    @cached_property
    def _with_track(self) -> frozenset[str]:
        return with_track(self.layout)
