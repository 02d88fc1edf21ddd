"""The two-connected parts of a graph of conductors: those that stay in one piece whichever single node is taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from netlister.probe.detail import FineConductor


def two_connected(edges: dict[int, FineConductor]) -> list[list[int]]:
    """The two-connected parts of a graph, as lists of edges (Hopcroft and Tarjan, CACM 16, 1973)."""
    near: dict[int, list[tuple[int, int]]] = {}
    for n, c in edges.items():
        near.setdefault(c.a, []).append((n, c.b))
        near.setdefault(c.b, []).append((n, c.a))
    depth: dict[int, int] = {}
    low: dict[int, int] = {}
    blocks: list[list[int]] = []
    used: set[int] = set()
    for root in near:
        if root in depth:
            continue
        depth[root] = low[root] = 0
        stack: list[tuple[int, int]] = [(root, 0)]
        trail: list[int] = []
        starts: dict[int, int] = {}
        parent: dict[int, int] = {}
        while stack:
            node, at = stack.pop()
            if at < len(near[node]):
                stack.append((node, at + 1))
                n, other = near[node][at]
                if n in used:
                    continue
                used.add(n)
                if other == node:
                    blocks.append([n])
                    continue
                trail.append(n)
                if other in depth:
                    low[node] = min(low[node], depth[other])
                else:
                    depth[other] = low[other] = depth[node] + 1
                    starts[other] = len(trail) - 1
                    parent[other] = node
                    stack.append((other, 0))
            elif node in parent:
                above = parent[node]
                low[above] = min(low[above], low[node])
                if low[node] >= depth[above]:
                    blocks.append(trail[starts[node] :])
                    del trail[starts[node] :]
    return blocks
