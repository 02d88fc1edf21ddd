"""The resistances at nodes of some regions, in a list of states at once.

Matrices are the inverse of the conductances, in ohm; `Solver` knows what always conducts.
"""

from __future__ import annotations

from collections import defaultdict
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from netlister.volts.ways import SHORT

if TYPE_CHECKING:
    from collections.abc import Sequence

    from netlister.volts.grounded import Bools, Floats, Ints
    from netlister.volts.network import Element
    from netlister.volts.solver import Solver, SwitchedRegion


class BitView(NamedTuple):
    """What a bit of rail between the nodes i and j sees, per state: resistances in ohm to the poles, and those poles.

    `poles`: bit n for pole n, (states,).
    """

    ii: Floats
    ij: Floats
    jj: Floats
    poles: Ints


class Overlay:
    """Regions in a list of states, tied to what always conducts: the resistances there.

    `variables`: those that `states` (count, variables) gives values to. Every conductor whose variables are all among
    them is closed as they say. `at`: per node its row in the matrices, hubs first. `poles`: per state and node the
    poles that it has, as bits. `inverse`: (states, nodes, nodes).
    """

    def __init__(
        self, solver: Solver, regions: Sequence[SwitchedRegion], variables: Sequence[int], states: Ints
    ) -> None:
        self.solver = solver
        self.variables = tuple(variables)
        self.states = states
        self.regions = regions
        any_active = any(r.active for r in regions)
        self.hubs = sorted({h for r in regions for h in r.hubs})
        nodes = [*self.hubs, *(n for r in regions for n in r.nodes)]
        self.at = {node: number for number, node in enumerate(nodes)}
        self.count = len(states)
        self._tie = self._hub_ties(together=any_active)
        self._any_active = any_active
        closed = [(e, self._closed(e)) for r in regions for e in r.moving]
        fixed = [e for r in regions for e in r.fixed]
        self.poles = self._labels(fixed, closed)
        self.inverse = self._solve(fixed, closed)

    def _closed(self, e: Element) -> Bools:
        found = np.ones(self.count, bool)
        for variable, values in e.when:
            found &= np.isin(self.states[:, self.variables.index(variable)], values)
        return found

    def _hub_ties(self, *, together: bool) -> Floats:
        """What ties the hubs to the poles, in S: (hubs, hubs), the inverse of their block of the inverse.

        `together`: with what lies between hubs; else each by itself, which does where no region joins two of them.
        """
        solver, hubs = self.solver, self.hubs
        if not together:
            diagonal = solver.grounded.diagonal()
            return np.diag(1 / diagonal[solver.place[hubs]]) if hubs else np.zeros((0, 0))
        block = np.array([[solver.entry(a, b) for b in hubs] for a in hubs]).reshape(len(hubs), len(hubs))
        return np.linalg.inv((block + block.T) / 2)

    def _labels(self, fixed: list[Element], closed: list[tuple[Element, Bools]]) -> Ints:
        """Per state and node the poles that it is joined to, as bits."""
        solver = self.solver
        found = np.zeros((self.count, len(self.at)), np.int64)
        by_part: dict[int, list[int]] = defaultdict(list)
        for hub in self.hubs:
            found[:, self.at[hub]] = solver.poles_of[solver.part[hub]]
            by_part[solver.part[hub]].append(self.at[hub])
        units = [(e, mask) for e, mask in closed if e.what == "unit"]
        others = [(e, mask) for e, mask in closed if e.what != "unit"]
        self._spread(found, fixed, others, list(by_part.values()))
        if units:
            for e, mask in units:  # a unit gives its frog a pole only where nothing else does
                frog = e.b if e.b in self.at else e.a
                np.logical_and(mask, found[:, self.at[frog]] == 0 if frog in self.at else False, out=mask)
            self._spread(found, fixed, closed, list(by_part.values()))
        return found

    def _spread(
        self, found: Ints, fixed: list[Element], closed: list[tuple[Element, Bools]], parts: list[list[int]]
    ) -> None:
        """Spread poles over everything that conducts until nothing changes."""
        earth, at = self.solver.earth_of, self.at
        every = np.ones(self.count, bool)
        ways = [(e, every) for e in fixed] + closed
        while True:
            before = found.copy()
            for e, mask in ways:
                if e.a in earth or e.b in earth:
                    pole, node = (e.a, e.b) if e.a in earth else (e.b, e.a)
                    if node in at:
                        found[mask, at[node]] |= earth[pole]
                else:
                    a, b = at[e.a], at[e.b]
                    both = found[mask, a] | found[mask, b]
                    found[mask, a] = both
                    found[mask, b] = both
            for same in parts:
                if len(same) > 1:
                    found[:, same] = np.bitwise_or.reduce(found[:, same], axis=1)[:, None]
            if np.array_equal(before, found):
                return

    def _solve(self, fixed: list[Element], closed: list[tuple[Element, Bools]]) -> Floats:
        """The inverse of the conductances per state: (states, nodes, nodes)."""
        size = len(self.at)
        matrix = np.zeros((self.count, size, size))
        hubs = len(self.hubs)
        matrix[:, :hubs, :hubs] = self._tie
        for e in fixed:
            self._add(matrix, e, np.full(self.count, 1 / self.solver.ohm(e)))
        for e, mask in closed:
            self._add(matrix, e, mask / max(self.solver.ohm(e), SHORT))
        diagonal = np.arange(size)
        matrix[:, diagonal, diagonal] += self.poles == 0  # what no pole feeds has to be tied to something
        return np.asarray(np.linalg.inv(matrix)) if size else matrix

    def _add(self, matrix: Floats, e: Element, g: Floats) -> None:
        a, b = self.at.get(e.a, -1), self.at.get(e.b, -1)
        for n in (a, b):
            if n >= 0:
                matrix[:, n, n] += g
        if a >= 0 and b >= 0:
            matrix[:, a, b] -= g
            matrix[:, b, a] -= g

    @cached_property
    def _change(self) -> Floats:
        """What the regions change between hubs, in S: (states, hubs, hubs)."""
        hubs = len(self.hubs)
        return self._tie @ self.inverse[:, :hubs, :hubs] @ self._tie - self._tie

    def sight(self, i: int, j: int) -> BitView:
        """What a bit of rail between two nodes sees in each state."""
        solver = self.solver
        if i in solver.earth_of or j in solver.earth_of:
            return self._beside_pole(i, j)
        if i in self.at and j in self.at:
            a, b = self.at[i], self.at[j]
            z = self.inverse
            return BitView(z[:, a, a], z[:, a, b], z[:, b, b], self.poles[:, a])
        poles = np.full(self.count, solver.poles_of[solver.part[i]])
        ends = (int(solver.place[i]), int(solver.place[j]))
        diagonal = solver.grounded.diagonal()
        between = float(solver.grounded.between(*(np.array([e]) for e in ends))[0])
        plain = [np.full(self.count, v) for v in (diagonal[ends[0]], between, diagonal[ends[1]])]
        if self._any_active and self.hubs:
            seen = [np.array([solver.entry(h, n) for h in self.hubs]) for n in (i, j)]
            change = self._change
            plain[0] = plain[0] + np.einsum("h,shk,k->s", seen[0], change, seen[0])
            plain[1] = plain[1] + np.einsum("h,shk,k->s", seen[0], change, seen[1])
            plain[2] = plain[2] + np.einsum("h,shk,k->s", seen[1], change, seen[1])
            for hub in self.hubs:
                if solver.part[hub] == solver.part[i]:
                    poles = poles | self.poles[:, self.at[hub]]
        return BitView(plain[0], plain[1], plain[2], poles)

    def _beside_pole(self, i: int, j: int) -> BitView:
        """What a bit of rail sees that has a pole at one end or at both."""
        earth = self.solver.earth_of
        zero = np.zeros(self.count)
        if i in earth and j in earth:
            return BitView(zero, zero, zero, np.full(self.count, earth[i] | earth[j]))
        other = j if i in earth else i
        pole = i if i in earth else j
        seen = self.sight(other, other)
        poles = seen.poles | earth[pole]
        return BitView(zero, zero, seen.ii, poles) if i in earth else BitView(seen.ii, zero, zero, poles)
