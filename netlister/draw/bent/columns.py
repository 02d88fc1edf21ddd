"""Columns: how far from the left each node stands."""

from __future__ import annotations

from math import sin

from netlister.draw.bent.chains import Chains
from netlister.draw.bent.parts import PAD, RAMP, ROUND, Chain, Junction, Port, TrackRow, beyond_of


class Columns(Chains):
    """Nodes with their places from left to right."""

    def _columns(self) -> None:
        """Places from left to right: each node as far left as its chains from the left allow."""
        arriving: dict[int, int] = {id(n): 0 for n in self.order}
        edges: dict[int, list[tuple[Chain, Junction]]] = {}
        for node in self.order:
            edges[id(node)] = self._rightward(node)
            for _, other in edges[id(node)]:
                arriving[id(other)] += 1
            node.x = max(node.least, node.home)
        ready = [n for n in self.order if arriving[id(n)] == 0]
        done = []
        while ready:
            node = ready.pop(0)
            done.append(node)
            for chain, other in edges[id(node)]:
                other.x = max(other.x, node.x + node.reach(1) + self._room(chain, node, other) + other.reach(-1))
                arriving[id(other)] -= 1
                if arriving[id(other)] == 0:
                    ready.append(other)
        for node in reversed(done):  # what has nothing to its left moves to the right, up to its neighbours
            chains = edges[id(node)]
            alone = not any(
                node.side(p) < 0 and p.chain and p.chain.kind == "straight" and beyond_of(p)
                for p in node.ports.values()
            )
            if alone and chains and not self.settled:
                node.home = node.x = min(o.x - o.reach(-1) - self._room(c, node, o) - node.reach(1) for c, o in chains)

    def _room(self, chain: Chain, one: Junction, two: Junction) -> float:
        ramps = sum(self._ramp(p, chain) for p in (chain.first, chain.last) if p)
        halo = sum(self._halo(n, s) for n, s in ((one, 1), (two, -1)))
        return chain.need + chain.slack + ramps + halo + (0.0 if chain.pieces and ramps else PAD)

    def _halo(self, node: Junction, side: int) -> float:
        """Room beside a node for the loops that turn round there."""
        halo = 0.0
        for port in node.ports.values():
            if port.chain and port.chain.kind == "turn" and node.side(port) == side:
                halo = max(halo, port.chain.need / 2 + 2 * ROUND)
        return halo

    def _ramp(self, port: Port, chain: Chain) -> float:
        """The length in which a leg reaches its row."""
        node, group = port.group.node, port.group
        row = group.row
        target = self._row_of(port, chain)
        if row is None or target is None:
            return RAMP if abs(port.y) > 1 else 0.0
        rise = abs(node.pose(port).y - target.y)
        return 0.0 if rise < 0.5 and abs(sin(port.heading)) < 0.01 else RAMP + 0.75 * rise

    @staticmethod
    def _row_of(port: Port, chain: Chain) -> TrackRow | None:
        if chain.rows is None:
            return port.group.row
        return chain.rows[0] if port is chain.first else chain.rows[1]
