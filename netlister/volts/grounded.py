"""Resistances inside a network that is tied to earth: exact, by elimination of many nodes at a time.

Wanted are the voltage that one ampere into a node raises there (the diagonal of the inverse of the conductance matrix)
and at the other end of each conductor (the entries of the inverse at the places of the matrix). Nodes that are no
neighbours of each other are eliminated together (star to mesh), low degrees first, until a small core is left, which is
inverted whole; then the entries are found backwards. Rails and wires make almost a tree, so next to nothing fills in.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Edges = tuple[Ints, Ints, Floats]
"""Conductors: their two ends and their conductances in S, each (e,)."""

CORE = 48
"""From this many nodes down the rest is inverted whole."""

_MOST = 12
"""Nodes of a higher degree than this wait for the core."""

_HASH = np.uint64(0x9E3779B97F4A7C15)
"""Numbers of nodes times this are as good as random: they break ties between nodes of one degree."""


class _Elimination(NamedTuple):
    """Nodes of one degree, eliminated together: their neighbours and the shares of their current that go there.

    `total`: the conductance of all that leaves each node, to earth too, in S.
    """

    nodes: Ints  # (m,)
    around: Ints  # (m, d)
    share: Floats  # (m, d)
    total: Floats  # (m,)


class Grounded:
    """A network of conductances, every part of which is tied to earth.

    `count`: nodes 0 … count-1. `a`, `b`: the ends of each conductor, (e,). `g`: conductances in S, (e,), above zero.
    `earth`: conductance of each node to earth in S, (count,).
    """

    def __init__(self, count: int, a: Ints, b: Ints, g: Floats, earth: Floats) -> None:
        self.count = count
        self._steps: list[_Elimination] = []
        self._rounds: list[tuple[int, Ints, Ints]] = []  # per round its first step, and the edges before it
        self._eliminate(*_merged(count, a, b, g), earth.astype(np.float64).copy())
        self._diagonal: Floats | None = None
        self._keys = np.zeros(0, np.int64)
        self._values = np.zeros(0)

    def _eliminate(self, a: Ints, b: Ints, g: Floats, earth: Floats) -> None:
        count = self.count
        alive = np.ones(count, bool)
        left = count
        order = np.arange(count, dtype=np.uint64) * _HASH
        while left > CORE:
            degree = np.bincount(a, minlength=count) + np.bincount(b, minlength=count)
            low = alive & (degree <= _MOST)
            if not low.any():
                break
            chosen = _apart(low, degree, order, a, b)
            number = int(chosen.sum())
            if number == 0:
                break
            a, b, g = self._round(chosen, degree, (a, b, g), earth)
            alive &= ~chosen
            left -= number
        self._core(np.flatnonzero(alive), a, b, g, earth)

    def _round(self, chosen: Bools, degree: Ints, edges: Edges, earth: Floats) -> Edges:
        """Eliminate the chosen nodes; the edges that are left, with those that take their place."""
        a, b, g = edges
        self._rounds.append((len(self._steps), a, b))
        away = chosen[a] | chosen[b]
        inner = np.where(chosen[a[away]], a[away], b[away])
        outer = np.where(chosen[a[away]], b[away], a[away])
        weight = g[away]
        by_node = np.argsort(inner, kind="stable")
        inner, outer, weight = inner[by_node], outer[by_node], weight[by_node]
        nodes = np.flatnonzero(chosen)
        first = np.searchsorted(inner, nodes)
        new: list[Edges] = [(a[~away], b[~away], g[~away])]
        for d in np.unique(degree[nodes]):
            these = degree[nodes] == d
            mine = nodes[these]
            places = first[these][:, None] + np.arange(d)
            around, conductance = outer[places], weight[places]
            total = conductance.sum(axis=1) + earth[mine]
            share = conductance / total[:, None]
            self._steps.append(_Elimination(mine, around, share, total))
            np.add.at(earth, around, share * earth[mine][:, None])
            if d > 1:
                one, two = np.triu_indices(int(d), 1)
                mesh = (around[:, one].ravel(), around[:, two].ravel(), (share[:, one] * conductance[:, two]).ravel())
                new.append(mesh)
        return _merged(
            self.count,
            np.concatenate([e[0] for e in new]),
            np.concatenate([e[1] for e in new]),
            np.concatenate([e[2] for e in new]),
        )

    def _core(self, nodes: Ints, a: Ints, b: Ints, g: Floats, earth: Floats) -> None:
        self._core_nodes, self._core_edges = nodes, (a, b)
        place = np.zeros(self.count, np.int64)
        place[nodes] = np.arange(len(nodes))
        matrix = np.zeros((len(nodes), len(nodes)))
        one, two = place[a], place[b]
        matrix[one, two] -= g
        matrix[two, one] -= g
        diagonal = earth[nodes].copy()
        np.add.at(diagonal, one, g)
        np.add.at(diagonal, two, g)
        matrix[np.arange(len(nodes)), np.arange(len(nodes))] = diagonal
        self._core_inverse: Floats = np.asarray(np.linalg.inv(matrix)) if len(nodes) else matrix

    # -- answers

    def solve(self, current: Floats) -> Floats:
        """The voltages that currents into the nodes raise, in V: (count,) or (count, k) as `current` in A."""
        x = current.astype(np.float64).reshape(self.count, 1 if current.ndim == 1 else current.shape[1]).copy()
        for step in self._steps:
            np.add.at(x, step.around, step.share[:, :, None] * x[step.nodes][:, None, :])
        core = self._core_nodes
        x[core] = self._core_inverse @ x[core]
        for step in reversed(self._steps):
            inflow = x[step.nodes] / step.total[:, None]
            x[step.nodes] = inflow + np.einsum("md,mdk->mk", step.share, x[step.around])
        return x.reshape(current.shape)

    def column(self, node: int) -> Floats:
        """The voltages that one ampere into a node raises everywhere, in ohm: (count,)."""
        current = np.zeros(self.count)
        current[node] = 1.0
        return self.solve(current)

    def diagonal(self) -> Floats:
        """The resistance from each node to earth, in ohm: (count,)."""
        if self._diagonal is None:
            self._backwards()
        assert self._diagonal is not None
        return self._diagonal

    def between(self, a: Ints, b: Ints) -> Floats:
        """The entries of the inverse, in ohm, at pairs of nodes that a conductor joins (or that are the same)."""
        diagonal = self.diagonal()
        found = diagonal[a].copy()
        other = a != b
        found[other] = self._look(_key(self.count, a[other], b[other]))
        return found

    def _look(self, keys: Ints) -> Floats:
        """The entries of the inverse at pairs of nodes that are known already, by their keys."""
        place = np.searchsorted(self._keys, keys)
        assert np.array_equal(self._keys[place], keys), "a pair that no conductor joins"
        return self._values[place]

    def _backwards(self) -> None:
        """The entries of the inverse at every edge, last round first."""
        diagonal = np.zeros(self.count)
        core = self._core_nodes
        diagonal[core] = np.diag(self._core_inverse)
        place = np.zeros(self.count, np.int64)
        place[core] = np.arange(len(core))
        a, b = self._core_edges
        self._keys = _key(self.count, a, b)
        self._values = self._core_inverse[place[a], place[b]]
        last = len(self._steps)
        for first, a, b in reversed(self._rounds):
            self._undo(self._steps[first:last], a, b, diagonal)
            last = first
        self._diagonal = diagonal

    def _undo(self, steps: list[_Elimination], a: Ints, b: Ints, diagonal: Floats) -> None:
        """Entries at the edges before a round, from those after it."""
        keys, values = [], []
        for nodes, around, share, total in steps:
            d = around.shape[1]
            if d == 0:
                diagonal[nodes] = 1 / total
                continue
            mesh = np.empty((len(nodes), d, d))
            for i in range(d):
                mesh[:, i, i] = diagonal[around[:, i]]
                for j in range(i):
                    mesh[:, i, j] = mesh[:, j, i] = self._look(_key(self.count, around[:, i], around[:, j]))
            entries = np.einsum("md,mde->me", share, mesh)
            diagonal[nodes] = 1 / total + np.einsum("md,md->m", share, entries)
            keys.append(_key(self.count, np.repeat(nodes, d), around.ravel()))
            values.append(entries.ravel())
        before = _key(self.count, a, b)
        new_keys = np.concatenate([*keys, np.zeros(0, np.int64)])
        gone = np.isin(before, new_keys, assume_unique=True)
        kept = before[~gone]
        all_keys = np.concatenate([kept, new_keys])
        all_values = np.concatenate([self._look(kept) if len(kept) else np.zeros(0), *values])
        by_key = np.argsort(all_keys, kind="stable")
        self._keys, self._values = all_keys[by_key], all_values[by_key]


def _key(count: int, a: Ints, b: Ints) -> Ints:
    """Pairs of nodes, in whichever order, as one number each."""
    return np.minimum(a, b) * count + np.maximum(a, b)


def _merged(count: int, a: Ints, b: Ints, g: Floats) -> Edges:
    """Parallel conductors as one, sorted; loops of one node left out."""
    other = a != b
    keys, place = np.unique(_key(count, a[other], b[other]), return_inverse=True)
    return keys // count, keys % count, np.bincount(place, weights=g[other], minlength=len(keys)).astype(np.float64)


def _apart(low: Bools, degree: Ints, order: NDArray[np.uint64], a: Ints, b: Ints) -> Bools:
    """Nodes of low degree of which no two are neighbours: those that come before all their neighbours."""
    rank = (degree.astype(np.uint64) << np.uint64(40)) | (order >> np.uint64(24))
    rank[~low] = np.iinfo(np.uint64).max
    first = np.full(len(rank), np.iinfo(np.uint64).max, np.uint64)
    np.minimum.at(first, a, rank[b])
    np.minimum.at(first, b, rank[a])
    return low & (rank < first)
