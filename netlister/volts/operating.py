"""Voltages everywhere in one state, with trains as loads: what a meter would read."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from netlister.circuit.model import holds
from netlister.union import find, join, set_heads
from netlister.volts.grounded import Grounded

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from netlister.circuit.model import State, When
    from netlister.layout.model import Layout, Supply
    from netlister.volts.grounded import Floats
    from netlister.volts.network import Network, RailSpot


class Load(NamedTuple):
    """A current in A from the spot `start` to the spot `end`."""

    start: RailSpot
    end: RailSpot
    amps: float


class Operating:
    """The network in one state.

    `state`: a value for each variable of the network, those of automatic devices last. `source`: whether the supplies'
    own resistances count. `high`: which resistances.
    """

    def __init__(self, network: Network, state: State, *, source: bool = False, high: bool = True) -> None:
        self.network = network
        self.state = state
        self.high = high
        closed = [e for e in network.elements if holds(e.when, state)]
        ohms = [e.ohm.high if high else e.ohm.low for e in closed]
        edges = [(e.a, e.b, ohm) for e, ohm in zip(closed, ohms, strict=True)]
        held = potentials(network)
        count = len(network.names)
        if source:
            for supply in network.layout.supplies.values():
                pole = _own_pole(network.layout, supply)
                if supply.resistance and pole is not None:
                    node = network.names.index(pole)
                    edges.append((count, node, supply.resistance))
                    held[count] = held.pop(node)
                    count += 1
        self._solve(count, edges, held)

    def _solve(self, count: int, edges: list[tuple[int, int, float]], held: dict[int, float]) -> None:
        root = set_heads(count, ((a, b) for a, b, ohm in edges if ohm == 0))
        self.root = root
        self.held: dict[int, float] = {root[n]: v for n, v in held.items()}
        part = list(range(count))
        live = [(root[a], root[b], 1 / ohm) for a, b, ohm in edges if ohm and root[a] != root[b]]
        for a, b, _ in live:
            if a not in self.held and b not in self.held:
                join(part, a, b)
        fed = {find(part, n) for a, b, _ in live for n, m in ((a, b), (b, a)) if m in self.held and n not in self.held}
        nodes = sorted(n for n in set(root) if n not in self.held and find(part, n) in fed)
        self.place = {n: i for i, n in enumerate(nodes)}
        earth, inflow = np.zeros(len(nodes)), np.zeros(len(nodes))
        inner: list[tuple[int, int, float]] = []
        for a, b, g in live:
            i, j = self.place.get(a, -1), self.place.get(b, -1)
            if i >= 0 and j >= 0:
                inner.append((i, j, g))
            elif max(i, j) >= 0:
                earth[max(i, j)] += g
                inflow[max(i, j)] += g * self.held[b if i >= 0 else a]
        columns = np.array(inner).reshape(len(inner), 3)
        self._grounded = Grounded(
            len(nodes), columns[:, 0].astype(np.int64), columns[:, 1].astype(np.int64), columns[:, 2], earth
        )
        self._inflow = inflow

    def closed(self, when: When) -> bool:
        """Whether what depends on `when` conducts in this state."""
        return holds(when, self.state)

    def voltages(self, loads: Iterable[Load] = ()) -> Floats:
        """The voltage of every node against pole B of its supply (or of the one it is tied to); not a number: none."""
        inflow = self._inflow.copy()
        for load in loads:
            for spot, sign in ((load.start, -1), (load.end, 1)):
                for node, share in ((spot.i, 1 - spot.share), (spot.j, spot.share)):
                    place = self.place.get(self.root[node], -1)
                    if place >= 0:
                        inflow[place] += sign * share * load.amps
        solved = self._grounded.solve(inflow)
        found = np.full(len(self.network.names), np.nan)
        for node in range(len(found)):
            root = self.root[node]
            if root in self.held:
                found[node] = self.held[root]
            elif root in self.place:
                found[node] = solved[self.place[root]]
        return found

    def at(self, voltages: Floats, spot: RailSpot, loads: Sequence[Load] = ()) -> float:
        """The voltage at a spot; loads at other spots of the same bit of rail count along it."""
        ohm = spot.ohm.high if self.high else spot.ohm.low
        found = (1 - spot.share) * voltages[spot.i] + spot.share * voltages[spot.j]
        for load in loads:
            for other, sign in ((load.start, -1), (load.end, 1)):
                if (other.i, other.j) == (spot.i, spot.j):
                    near, far = sorted((spot.share, other.share))
                    found += sign * load.amps * near * (1 - far) * ohm
        return float(found)


def potentials(network: Network) -> dict[int, float]:
    """The voltage of each pole: B of the supply that others are tied to is 0 V."""
    layout = network.layout
    found: dict[str, float] = {}
    left = list(layout.supplies.values())
    while left:
        known = next((s for s in left if found.keys() & set(s.poles)), left[0])
        left.remove(known)
        a, b = known.poles
        if a in found:
            found.setdefault(b, found[a] - known.voltage)
        found.setdefault(b, 0.0)
        found.setdefault(a, found[b] + known.voltage)
    return {network.names.index(pole): volts for pole, volts in found.items()}


def _own_pole(layout: Layout, supply: Supply) -> str | None:
    """A pole that a supply shares with no other."""
    others = {pole for s in layout.supplies.values() if s.name != supply.name for pole in s.poles}
    return next((pole for pole in supply.poles if pole not in others), None)
