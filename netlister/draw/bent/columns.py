"""Columns: how far from the left each junction stands."""

from __future__ import annotations

from math import sin

from netlister.draw.bent.chains import Chains
from netlister.draw.bent.parts import PAD, RAMP, ROUND, Chain, Junction, Port, TrackRow, beyond_of


class ColumnPlan(Chains):
    """Junctions with their places from left to right."""

    def _columns(self) -> None:
        """Places from left to right: each junction as far left as its chains from the left allow."""
        arriving: dict[int, int] = {id(n): 0 for n in self.order}
        edges: dict[int, list[tuple[Chain, Junction]]] = {}
        for junction in self.order:
            edges[id(junction)] = self._rightward(junction)
            for _, other in edges[id(junction)]:
                arriving[id(other)] += 1
            junction.x = max(junction.least, junction.home)
        ready = [n for n in self.order if arriving[id(n)] == 0]
        done = []
        while ready:
            junction = ready.pop(0)
            done.append(junction)
            for chain, other in edges[id(junction)]:
                other.x = max(
                    other.x, junction.x + junction.reach(1) + self._room(chain, junction, other) + other.reach(-1)
                )
                arriving[id(other)] -= 1
                if arriving[id(other)] == 0:
                    ready.append(other)
        for junction in reversed(done):  # what has nothing to its left moves to the right, up to its neighbours
            chains = edges[id(junction)]
            alone = not any(
                junction.side(p) < 0 and p.chain and p.chain.kind == "straight" and beyond_of(p)
                for p in junction.ports.values()
            )
            if alone and chains and not self.settled:
                junction.home = junction.x = min(
                    o.x - o.reach(-1) - self._room(c, junction, o) - junction.reach(1) for c, o in chains
                )

    def _room(self, chain: Chain, one: Junction, two: Junction) -> float:
        """How far apart a chain keeps the two junctions that it joins."""
        ramps = sum(self._ramp(p, chain) for p in (chain.first, chain.last) if p)
        halo = sum(self._halo(n, s) for n, s in ((one, 1), (two, -1)))
        return chain.need + chain.slack + ramps + halo + (0.0 if chain.pieces and ramps else PAD)

    def _halo(self, junction: Junction, side: int) -> float:
        """Room beside a junction for the loops that turn round there."""
        halo = 0.0
        for port in junction.ports.values():
            if port.chain and port.chain.kind == "turn" and junction.side(port) == side:
                halo = max(halo, port.chain.need / 2 + 2 * ROUND)
        return halo

    def _ramp(self, port: Port, chain: Chain) -> float:
        """The length in which a leg reaches its row."""
        junction, group = port.group.junction, port.group
        row = group.row
        target = self._row_of(port, chain)
        if row is None or target is None:
            return RAMP if abs(port.y) > 1 else 0.0
        rise = abs(junction.pose(port).y - target.y)
        return 0.0 if rise < 0.5 and abs(sin(port.heading)) < 0.01 else RAMP + 0.75 * rise

    @staticmethod
    def _row_of(port: Port, chain: Chain) -> TrackRow | None:
        """The row on which a chain arrives at one of its ports, where rows are known."""
        if chain.rows is None:
            return port.group.row
        return chain.rows[0] if port is chain.first else chain.rows[1]
