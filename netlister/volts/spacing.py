"""How far it is from a rail to where it is fed: in joiners, and in metres of rail."""

from __future__ import annotations

import heapq
from collections import defaultdict
from typing import TYPE_CHECKING

from netlister.lengths import NO_LENGTH, Metres

if TYPE_CHECKING:
    from collections.abc import Callable

    from netlister.volts.network import Element, Network


def joiners_to(network: Network) -> dict[str, int]:
    """Per piece the most metal joiners in a row between one of its rails and where that is fed.

    Contacts count as closed, whatever their positions. Pieces that nothing feeds are left out.
    """
    far = _distances(network, lambda e: 1.0 if e.what == "joiner" else 0.0)
    found: dict[str, int] = {}
    for (piece, _), rail in network.rails.items():
        for node in {rail.middle, *rail.ends.values(), *(n for _, n in rail.points)}:
            if node in far:
                found[piece] = max(found.get(piece, 0), int(far[node]))
    return found


def metres_to(network: Network) -> dict[str, tuple[Metres, Metres]]:
    """Per piece of plain track the greatest way in m along rails from a place of it to a feed, and that place in m."""
    lengths = _rail_lengths(network)
    far = _distances(network, lambda e: lengths.get((e.a, e.b), 0.0))
    found: dict[str, tuple[Metres, Metres]] = {}
    for (piece, _), rail in network.rails.items():
        for (a, i), (b, j) in zip(rail.points, rail.points[1:], strict=False):
            if i not in far or j not in far:
                continue
            way = min((far[i] + far[j] + b - a) / 2, far[i] + b - a, far[j] + b - a)
            at = min(max(a + way - far[i], a), b)
            if way > found.get(piece, (-1.0, 0.0))[0]:
                found[piece] = Metres(way), Metres(at)
    return found


def _rail_lengths(network: Network) -> dict[tuple[int, int], Metres]:
    found: dict[tuple[int, int], Metres] = {}
    for (piece, _), rail in network.rails.items():
        for (a, i), (b, j) in zip(rail.points, rail.points[1:], strict=False):
            found[i, j] = b - a
        half = Metres((network.layout.pieces[piece].length or NO_LENGTH) / 2)
        for node in rail.ends.values():
            found.setdefault((rail.middle, node), half)
    return found


def _distances(network: Network, weight: Callable[[Element], float]) -> dict[int, float]:
    """The least way from a pole or the end of a wire to each node, by some measure."""
    around: dict[int, list[tuple[int, float]]] = defaultdict(list)
    for e in network.elements:
        around[e.a].append((e.b, weight(e)))
        around[e.b].append((e.a, weight(e)))
    found: dict[int, float] = {}
    heap = [(0.0, n) for n in range(network.earths)]
    while heap:
        way, node = heapq.heappop(heap)
        if node not in found:
            found[node] = way
            for other, more in around[node]:
                if other not in found:
                    heapq.heappush(heap, (way + more, other))
    return found
