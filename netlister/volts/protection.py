"""What protects a piece of track or a wire: the trip current of its supply, or of the breaker of its district."""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from typing import TYPE_CHECKING, cast

from netlister.circuit.districts import districts, with_track
from netlister.layout.model import Feed

if TYPE_CHECKING:
    from netlister.layout.model import Layout
    from netlister.volts.solver import Solver


class Protection:
    """The trip currents of a layout, in A."""

    def __init__(self, solver: Solver) -> None:
        self.layout: Layout = solver.network.layout
        self._district = districts(self.layout)
        self._fed: dict[int, set[str]] = defaultdict(set)  # part of the network -> districts that feed it
        self._solver = solver
        if self._district:
            for element in solver.network.elements:
                if element.what == "feed":
                    source = cast(Feed, element.entry).source
                    label = self._district.get(self._bus(source), "")
                    for node in (element.a, element.b):
                        self._fed[solver.part[solver.root[node]]].add(label)

    def _bus(self, source: str) -> str:
        """The bus behind a source of feeds."""
        reverser = self.layout.reversers.get(source)
        return source if reverser is None else reverser.bus

    def of_bus(self, source: str) -> float | None:
        """The smallest trip current before a wire from a bus, supply or reverser."""
        bus = self._bus(source)
        return self._smaller(self._district.get(bus, ""), self._supply(bus))

    def of_piece(self, piece: str, supply: str) -> float | None:
        """The trip current that a short on a piece has to reach: where several districts feed it, the greatest."""
        solver = self._solver
        labels: set[str] = set()
        for (name, _), rail in solver.network.rails.items() if self._district else ():
            if name == piece:
                for node in {rail.middle, *rail.ends.values()}:
                    labels |= self._fed.get(solver.part[solver.root[node]], set())
        trips = [self._smaller(label, supply) for label in labels] or [self._smaller("", supply)]
        known = [t for t in trips if t is not None]
        return max(known) if len(known) == len(trips) else self._smaller("", supply)

    def _smaller(self, district: str, supply: str) -> float | None:
        own = self.layout.supplies[supply].trip if supply in self.layout.supplies else None
        bus = self.layout.buses.get(district)
        breaker = None if bus is None else bus.breaker
        return min((t for t in (own, breaker) if t is not None), default=None)

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
