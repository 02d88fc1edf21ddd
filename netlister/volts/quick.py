"""Pieces whose volts depend on one moving contact at most: all of them at once."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

import numpy as np

from netlister.circuit.build import setting_when
from netlister.circuit.numbers import Var
from netlister.layout.model import Value
from netlister.volts.profile import CLOSE, Case, Profile, Supplies, bit_shares, peak, quadratic
from netlister.volts.ways import SHORT

if TYPE_CHECKING:
    from netlister.circuit.model import When
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.lengths import Metres
    from netlister.volts.network import RailBit
    from netlister.volts.profile import Bit, Coefficients
    from netlister.volts.solver import Solver, SwitchedRegion

ChosenValues: TypeAlias = "dict[Var, Value]"
RailView = tuple[float, float, float, int]
"""What a bit of rail sees: entries ii, ij, jj of the inverse in ohm, and the poles as bits (0: none)."""

_NONE: RailView = (0.0, 0.0, 0.0, 0)


class _SeenBit(NamedTuple):
    key: tuple[str, str]
    when: When
    supply: str
    bit: Bit
    left: RailView
    right: RailView


class Quick:
    """Takes what it can, and solves it all at once.

    It takes pieces whose nets are always fed or are fed by single contacts, where no active region affects them and no
    combination of positions beyond the piece's own matters.
    """

    def __init__(self, solver: Solver) -> None:
        self.solver = solver
        self.supplies = Supplies(solver.network)
        self.profiles: dict[tuple[str, str], Profile] = {}
        self.rows: list[_SeenBit] = []
        self._diagonal: list[float] = solver.grounded.diagonal().tolist()
        self._place: list[int] = solver.place.tolist()
        self._between = self._edges()

    def _edges(self) -> dict[tuple[int, int], float]:
        """The entries of the inverse between the ends of what always conducts."""
        solver, place = self.solver, self._place
        pairs = [(e.a, e.b) for e in solver.fixed if place[e.a] >= 0 and place[e.b] >= 0]
        if not pairs:
            return {}
        a, b = (np.array([place[n] for n in column]) for column in zip(*pairs, strict=True))
        found = solver.grounded.between(a, b).tolist()
        both = dict(zip(pairs, found, strict=True))
        both.update(zip(((j, i) for i, j in pairs), found, strict=True))
        return both

    def offer(self, piece: Piece, route: Route, length: Metres, stretch: list[Bit]) -> None:
        """Take a route through a piece, or leave it."""
        states = self._states(piece, route, stretch)
        if states is None:
            return
        key = (piece.name, route.name)
        rows = []
        for when, state in states:
            for bit in stretch:
                left, right = self._seen(bit.left, state), self._seen(bit.right, state)
                if left is None or right is None:
                    return
                supply = self.supplies.of(left[3], right[3])
                if supply:
                    rows.append(_SeenBit(key, when, supply, bit, left, right))
        self.profiles[key] = Profile(piece.name, route.name, length, [])
        self.rows += rows

    def _states(self, piece: Piece, route: Route, stretch: list[Bit]) -> list[tuple[When, ChosenValues]] | None:
        """The states that matter to a route, and how each is named; None where it is not for here."""
        solver, root = self.solver, self.solver.root
        ports = {root[n] for bit in stretch for part in (bit.left, bit.right) for n in (part.i, part.j)}
        own = [r for r in (solver.region_of.get(n) for n in ports) if r is not None]
        if not all(_single(r) for r in own):
            return None
        reached = [n for n in ports if solver.fed(n)] + [h for r in own for h in r.hubs]
        if solver.active_at(reached):
            return None
        condition = setting_when(solver.network.circuit, piece.name, route.when)
        if not own and not condition:
            return [((), {})]
        if solver.network.circuit.never or any(len(values) != 1 for _, values in condition):
            return None
        fixed = {v: values[0] for v, values in condition}
        free = {v for r in own for v in r.variables} - fixed.keys()
        if not free:
            return [(condition, fixed)]
        if fixed or len(free) > 1:
            return None
        (number,) = free
        variable = Var(number)
        return [(((variable, (x,)),), {variable: x}) for x in map(Value, range(solver.network.variables[number]))]

    def _seen(self, part: RailBit, state: ChosenValues) -> RailView | None:
        """What a part sees in a state; None where it is not for here."""
        root = self.solver.root
        i, j = root[part.i], root[part.j]
        one = self._node(i, state)
        if one is None or i == j:
            return None if one is None else (one[0], one[0], one[0], one[1])
        two = self._node(j, state)
        if two is None or self._place[i] < 0 or self._place[j] < 0:
            earth = self.solver.earth_of
            if two is None or not (self.solver.fed(i) and self.solver.fed(j)):
                return None
            poles = one[1] | two[1]
            return (0.0 if i in earth else one[0], 0.0, 0.0 if j in earth else two[0], poles)
        return one[0], self._between[i, j], two[0], one[1]

    def _node(self, node: int, state: ChosenValues) -> tuple[float, int] | None:
        """The resistance from a node to its pole, and that pole; None where it is not for here."""
        solver = self.solver
        if node in solver.earth_of:
            return 0.0, solver.earth_of[node]
        if self._place[node] >= 0:
            return self._diagonal[self._place[node]], solver.poles_of[solver.part[node]]
        conductance: dict[int, float] = defaultdict(float)
        for e in solver.region_of[node].moving:
            if all(state[v] in values for v, values in e.when):
                conductance[e.b if e.a == node else e.a] += 1 / max(solver.ohm(e), SHORT)
        if not conductance:
            return 0.0, 0
        if len(conductance) > 1:
            return None
        ((fed, g),) = conductance.items()
        known = self._node(fed, state)
        return None if known is None else (known[0] + 1 / g, known[1])

    # -- solving

    def solve(self) -> dict[tuple[str, str], Profile]:
        """The profiles of all that was taken."""
        if self.rows:
            sides = (self._side(side) for side in (0, 1))
            c0, c1, c2 = (one + two for one, two in zip(*sides, strict=True))
            loop, t = peak(c0, c1, c2)
            start, stop = (np.array([row.bit[end] for row in self.rows]) for end in (0, 1))
            at = start + t * (stop - start)
            self._cases(loop.tolist(), at.tolist())
        return self.profiles

    def _side(self, side: int) -> Coefficients:
        parts = [(row.bit.right if side else row.bit.left, row.bit) for row in self.rows]
        ohm = np.array([part.ohm.high if self.solver.high else part.ohm.low for part, _ in parts])
        first, last = np.array([bit_shares(part, bit.start, bit.stop) for part, bit in parts]).T
        ii, ij, jj, _ = np.array([row.right if side else row.left for row in self.rows]).T
        return quadratic((ii, ij, jj), ohm, (first, last))

    def _cases(self, loops: list[float], places: list[Metres]) -> None:
        """The worst place of each state, told once where all states are the same."""
        best: dict[tuple[tuple[str, str], When], Case] = {}
        for row, loop, at in zip(self.rows, loops, places, strict=True):
            known = best.get((row.key, row.when))
            if known is None or loop > known.loop * (1 + CLOSE):
                best[row.key, row.when] = Case(loop, at, row.when, row.supply)
        for (key, _), case in best.items():
            self.profiles[key].cases.append(case)
        for profile in self.profiles.values():
            _merge(profile, self.solver)


def _merge(profile: Profile, solver: Solver) -> None:
    """One case in place of one for each value of a variable, where they are the same."""
    cases = profile.cases
    if len(cases) > 1:
        (variable, _), *more = cases[0].when
        first = cases[0]
        same = all(
            abs(c.loop - first.loop) <= CLOSE * first.loop and c.at == first.at and c.supply == first.supply
            for c in cases
        )
        if same and not more and len(cases) == solver.network.variables[variable]:
            profile.cases = [first._replace(when=())]


def _single(region: SwitchedRegion) -> bool:
    """Whether a region is one net that contacts join to what is always fed, one at a time."""
    return (
        not region.active
        and len(region.nodes) == 1
        and not region.fixed
        and all(e.what != "unit" for e in region.moving)
    )
