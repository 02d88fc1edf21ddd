"""The place and the state in which each piece of track is worst off: the greatest loop resistance, exactly.

Along a bit of rail the resistance to the poles is a quadratic in place, so is the loop of both rails, and its maximum
is known in closed form. Left and right rail belong to two poles, between which nothing else conducts, so the loop is
the sum of both.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from netlister.circuit.build import setting_when
from netlister.volts.solver import STATES, WEIGHT, Overlay, all_states, states_of
from netlister.volts.ways import Way, both, ways

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from netlister.circuit.model import When
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.volts.grounded import Floats, Ints
    from netlister.volts.network import Network, Part
    from netlister.volts.solver import Region, Sight, Solver

CLOSE = 1e-9
"""Loops that differ by less than this share of themselves are the same."""


Coefficients = tuple["Floats", "Floats", "Floats"]


class Case(NamedTuple):
    """A loop resistance in ohm at a place in m along a route, while `when` holds. `supply`: whose poles it is."""

    loop: float
    at: float
    when: When
    supply: str


class Table(NamedTuple):
    """Loops by state: `states` (count, variables), `loop` in ohm (not a number: no voltage), `at` in m, `supply`."""

    variables: tuple[int, ...]
    states: Ints
    loop: Floats
    at: Floats
    supply: list[str]


@dataclass(slots=True)
class Profile:
    """The loop resistances of a route through a piece: the worst place in each of its states.

    `length`: of the route in m. `exact`: false where the loops are no less than the true ones, and may be more.
    They are in `table`, or where there is none in `cases`.
    """

    piece: str
    route: str
    length: float
    cases: list[Case]
    exact: bool = True
    table: Table | None = None

    def worst(self) -> Case | None:
        """The greatest loop; of several the one nearest to the start. None where no state has voltage."""
        if self.table is not None:
            return self._worst_row(self.table)
        if not self.cases:
            return None
        most = max(c.loop for c in self.cases)
        return min((c for c in self.cases if c.loop >= most * (1 - CLOSE)), key=lambda c: (c.at, len(c.when), c.when))

    @staticmethod
    def _worst_row(table: Table) -> Case | None:
        if np.isnan(table.loop).all():
            return None
        most = float(np.nanmax(table.loop))
        same = np.flatnonzero(table.loop >= most * (1 - CLOSE))
        first = int(same[np.argmin(table.at[same])])
        when = _primes(table.states, same[:1] * 0 + first, table.variables, same)[0]
        return Case(float(table.loop[first]), float(table.at[first]), when, table.supply[first])

    def beyond(self, limits: Mapping[str, float]) -> list[When]:
        """Partial positions that cover the states whose loop is above the limit in ohm of its supply."""
        if self.table is None:
            return [c.when for c in self.cases if c.loop > limits.get(c.supply, np.inf)]
        most = np.array([limits.get(name, np.inf) for name in self.table.supply])
        rows = np.flatnonzero(np.nan_to_num(self.table.loop, nan=0.0) > most)
        return _primes(self.table.states, rows, self.table.variables, rows)


class _Bit(NamedTuple):
    """A bit of route with one part of rail on each side."""

    start: float
    stop: float
    left: Part
    right: Part


def profiles(solver: Solver) -> Iterator[Profile]:
    """The profile of every route of every piece, in the order of the layout."""
    network = solver.network
    quick = _Quick(solver)
    slow = _Slow(solver)
    todo: list[tuple[Piece, Route, float, list[_Bit]]] = []
    for piece in network.layout.pieces.values():
        for route in piece.kind.routes:
            length, left, right = network.parts(piece, route)
            todo.append((piece, route, length, list(_bits(left, right))))
    for piece, route, length, bits in todo:
        if not quick.takes(piece, bits):
            continue
        quick.add(piece, route, length, bits)
    found = quick.solve()
    for piece, route, length, bits in todo:
        known = found.get((piece.name, route.name))
        yield known if known is not None else slow.profile(piece, route, length, bits)


def curve(
    solver: Solver, piece: Piece, state: Sequence[int], steps: int
) -> tuple[float, list[tuple[float, float]], str]:
    """The loops along a piece in one state: its length in m, pairs of place in m and ohm, and the supply.

    The route is the one that is set; no pairs and no supply where the piece has no voltage.
    """
    network = solver.network
    slow = _Slow(solver)
    length = 0.0
    for route in piece.kind.routes:
        length, left, right = network.parts(piece, route)
        condition = setting_when(network.circuit, piece.name, route.when)
        if all(state[v] in values for v, values in condition):
            found, supply = slow.along(list(_bits(left, right)), state, steps)
            if supply:
                return length, found, supply
    return length, [], ""


def _bits(left: list[Part], right: list[Part]) -> Iterator[_Bit]:
    """The bits of a route; a part without length is set against everything at its place."""
    for one in left:
        for two in right:
            start, stop = max(one.start, two.start), min(one.stop, two.stop)
            if start < stop or (start == stop and (one.start == one.stop or two.start == two.stop)):
                yield _Bit(start, stop, one, two)


def _shares(part: Part, start: float, stop: float) -> tuple[float, float]:
    """The shares of a part at which a bit of it begins and ends."""
    if part.stop == part.start:
        return part.first, part.last
    slope = (part.last - part.first) / (part.stop - part.start)
    return part.first + slope * (start - part.start), part.first + slope * (stop - part.start)


def _quadratic(seen: tuple[Floats, Floats, Floats], ohm: Floats, shares: tuple[Floats, Floats]) -> Coefficients:
    """The resistance along a bit of rail, as coefficients of 1, t, t² for t from 0 to 1.

    `seen`: the entries of the inverse at its ends i and j: ii, ij, jj. `shares`: where on the way from i to j it lies.
    """
    (ii, ij, jj), (first, last) = seen, shares
    c1 = 2 * (ij - ii) + ohm
    c2 = ii - 2 * ij + jj - ohm
    way = last - first
    return ii + first * (c1 + first * c2), way * (c1 + 2 * first * c2), way * way * c2


def _peak(c0: Floats, c1: Floats, c2: Floats) -> tuple[Floats, Floats]:
    """The greatest value of a quadratic between 0 and 1, and where it is."""
    bends = c2 < 0
    t = np.clip(np.where(bends, -c1 / np.where(bends, 2 * c2, 1), 0), 0, 1)
    t = np.where(bends, t, np.where(c1 + c2 > 0, 1.0, 0.0))
    t = np.where(t < CLOSE, 0.0, np.where(t > 1 - CLOSE, 1.0, t))
    return c0 + t * (c1 + t * c2), t


class _Supplies:
    """Which supply two rails belong to, from the bits of their poles."""

    def __init__(self, network: Network) -> None:
        self.names: dict[tuple[int, int], str] = {}
        layout = network.layout
        index = {name: n for n, name in enumerate(network.names[: network.earths])}
        for supply in layout.supplies.values():
            a, b = (1 << index[pole] for pole in supply.poles)
            self.names.setdefault((a, b), supply.name)
            self.names.setdefault((b, a), supply.name)

    def of(self, left: int, right: int) -> str:
        """The supply, or nothing where the two have no voltage."""
        return self.names.get((left, right), "")


class _Quick:
    """Pieces that nothing moving has to do with, all at once."""

    def __init__(self, solver: Solver) -> None:
        self.solver = solver
        self.supplies = _Supplies(solver.network)
        self.routes: list[tuple[Piece, Route, float, str]] = []
        self.rows: list[tuple[int, _Bit]] = []

    def takes(self, piece: Piece, bits: list[_Bit]) -> bool:
        """Whether every node of a piece is always fed, no pole itself, and changed by nothing."""
        solver, root = self.solver, self.solver.root
        if piece.kind.bars:
            return False
        nodes = {root[n] for bit in bits for part in (bit.left, bit.right) for n in (part.i, part.j)}
        if not all(solver.place[n] >= 0 for n in nodes):
            return False
        return not solver.active_at(nodes)

    def add(self, piece: Piece, route: Route, length: float, bits: list[_Bit]) -> None:
        """Note a piece to be solved."""
        solver = self.solver
        if not bits:
            return
        left, right = (solver.poles_of[solver.part[solver.root[part.i]]] for part in (bits[0].left, bits[0].right))
        supply = self.supplies.of(left, right)
        number = len(self.routes)
        self.routes.append((piece, route, length, supply))
        if supply:
            self.rows += [(number, bit) for bit in bits]

    def solve(self) -> dict[tuple[str, str], Profile]:
        """The profiles of all that was noted."""
        found = {(p.name, r.name): Profile(p.name, r.name, length, [], exact=True) for p, r, length, _ in self.routes}
        if not self.rows:
            return found
        sides = (self._side(s) for s in (0, 1))
        c0, c1, c2 = (one + two for one, two in zip(*sides, strict=True))
        loop, t = _peak(c0, c1, c2)
        start, stop = (np.array([bit[end] for _, bit in self.rows]) for end in (0, 1))
        at = start + t * (stop - start)
        for (number, _), ohm, place in zip(self.rows, loop.tolist(), at.tolist(), strict=True):
            piece, route, _, supply = self.routes[number]
            cases = found[piece.name, route.name].cases
            if not cases or ohm > cases[0].loop * (1 + CLOSE):
                cases[:] = [Case(ohm, place, (), supply)]
        return found

    def _side(self, side: int) -> Coefficients:
        solver = self.solver
        bits = [bit for _, bit in self.rows]
        parts = [bit.right if side else bit.left for bit in bits]
        root = solver.root
        i = solver.place[[root[p.i] for p in parts]]
        j = solver.place[[root[p.j] for p in parts]]
        ohm = np.array([p.ohm.high if solver.high else p.ohm.low for p in parts])
        shares = np.array([_shares(part, bit.start, bit.stop) for part, bit in zip(parts, bits, strict=True)])
        first, last = shares[:, 0], shares[:, 1]
        diagonal = solver.grounded.diagonal()
        return _quadratic((diagonal[i], solver.grounded.between(i, j), diagonal[j]), ohm, (first, last))


class _Slow:
    """Pieces that depend on positions, one at a time."""

    def __init__(self, solver: Solver) -> None:
        self.solver = solver
        self.network = solver.network
        self.supplies = _Supplies(solver.network)
        self.allowed = Allowed(solver.network)
        self._overlays: dict[tuple[tuple[int, ...], tuple[int, ...]], Overlay] = {}

    def profile(self, piece: Piece, route: Route, length: float, bits: list[_Bit]) -> Profile:
        """The profile of a route: by all its states, else by ways."""
        solver = self.solver
        root = solver.root
        condition = setting_when(self.network.circuit, piece.name, route.when)
        ports = sorted({root[n] for bit in bits for part in (bit.left, bit.right) for n in (part.i, part.j)})
        every = solver.relevant(ports)
        own = tuple(solver.own(ports))
        for regions in (every, tuple(r for r in every if r in own)):
            variables = sorted({v for r in regions for v in r.variables} | {v for v, _ in condition})
            if self._few(regions, variables):
                overlay = self._overlay(regions, tuple(variables))
                exact = len(regions) == len(every)
                return Profile(piece.name, route.name, length, [], exact, self._table(overlay, bits, condition))
        return self._by_ways(Profile(piece.name, route.name, length, [], exact=len(own) == len(every)), bits, condition)

    def _few(self, regions: Sequence[Region], variables: Sequence[int]) -> bool:
        states = states_of(self.network, variables)
        size = sum(len(r.nodes) + len(r.hubs) for r in regions)
        return states <= STATES and states * size * size <= WEIGHT

    def _overlay(self, regions: tuple[Region, ...], variables: tuple[int, ...]) -> Overlay:
        key = (tuple(r.number for r in regions), variables)
        found = self._overlays.get(key)
        if found is None:
            if len(self._overlays) > 8:  # noqa: PLR2004 - neighbours use the same ones
                self._overlays.clear()
            states = self.allowed.among(variables, all_states(self.network, variables))
            found = self._overlays[key] = Overlay(self.solver, regions, variables, states)
        return found

    def _table(self, overlay: Overlay, bits: list[_Bit], condition: When) -> Table:
        """The worst place in each state of an overlay in which the route is set and has voltage."""
        loop, at, supply = self._loops(overlay, bits)
        for variable, values in condition:
            loop[~np.isin(overlay.states[:, overlay.variables.index(variable)], values)] = np.nan
        return Table(overlay.variables, overlay.states, loop, at, supply)

    def _loops(self, overlay: Overlay, bits: list[_Bit]) -> tuple[Floats, Floats, list[str]]:
        """Per state the greatest loop along the bits (not a number: no voltage), its place and its supply."""
        count = overlay.count
        loop, at = np.full(count, np.nan), np.zeros(count)
        supply = [""] * count
        for bit in bits:
            seen = [self._sight(overlay, part) for part in (bit.left, bit.right)]
            names = [
                self.supplies.of(a, b) for a, b in zip(seen[0].poles.tolist(), seen[1].poles.tolist(), strict=True)
            ]
            live = np.array([bool(name) for name in names])
            if not live.any():
                continue
            sides = (self._coefficients(s, p, bit) for s, p in zip(seen, (bit.left, bit.right), strict=True))
            ohm, t = _peak(*(one + two for one, two in zip(*sides, strict=True)))
            more = live & ~(ohm <= loop * (1 + CLOSE))
            loop[more] = ohm[more]
            at[more] = (bit.start + t * (bit.stop - bit.start))[more]
            for state in np.flatnonzero(more):
                supply[state] = names[state]
        return loop, at, supply

    def along(self, bits: list[_Bit], state: Sequence[int], steps: int) -> tuple[list[tuple[float, float]], str]:
        """The loops at places along the bits of a route in one state, and the supply."""
        root = self.solver.root
        ports = {root[n] for bit in bits for part in (bit.left, bit.right) for n in (part.i, part.j)}
        regions = self.solver.relevant(ports)
        variables = sorted({v for r in regions for v in r.variables})
        overlay = Overlay(self.solver, regions, variables, np.array([[state[v] for v in variables]], np.int64))
        found: list[tuple[float, float]] = []
        supply = ""
        for bit in bits:
            seen = [self._sight(overlay, part) for part in (bit.left, bit.right)]
            name = self.supplies.of(int(seen[0].poles[0]), int(seen[1].poles[0]))
            if name:
                supply = name
                sides = (self._coefficients(s, p, bit) for s, p in zip(seen, (bit.left, bit.right), strict=True))
                c0, c1, c2 = (float((one + two)[0]) for one, two in zip(*sides, strict=True))
                shares = [n / steps for n in range(steps + 1)] if bit.stop > bit.start else [0.0]
                found += [(bit.start + t * (bit.stop - bit.start), c0 + t * (c1 + t * c2)) for t in shares]
        return found, supply

    def _sight(self, overlay: Overlay, part: Part) -> Sight:
        root = self.solver.root
        return overlay.sight(root[part.i], root[part.j])

    def _coefficients(self, sight: Sight, part: Part, bit: _Bit) -> Coefficients:
        first, last = (np.array(share) for share in _shares(part, bit.start, bit.stop))
        ohm = np.array(part.ohm.high if self.solver.high else part.ohm.low)
        return _quadratic(sight[:3], ohm, (first, last))

    # -- where the states are too many

    def _by_ways(self, profile: Profile, bits: list[_Bit], condition: When) -> Profile:
        """Loops by the ways that lead to a piece; exact where a state is found that has only the worst of them."""
        conditions = {v: frozenset(values) for v, values in condition}
        found: dict[tuple[float, str], tuple[_Bit, dict[int, frozenset[int]]]] = {}
        for bit in bits:
            for left in self._ways(bit.left):
                for right in self._ways(bit.right):
                    when = both(conditions, tuple((v, tuple(s)) for v, s in left.when.items()))
                    when = when if when is None else both(when, tuple((v, tuple(s)) for v, s in right.when.items()))
                    supply = self.supplies.of(self._poles(left.end), self._poles(right.end))
                    if when is not None and supply:
                        found.setdefault((left.ohm + right.ohm, supply), (bit, when))
        for (loop, supply), (bit, when) in sorted(found.items(), key=lambda item: -item[0][0])[:200]:
            chosen = self.allowed.complete({v: min(s) for v, s in when.items()})
            if chosen is not None:
                at = max(bit.start, bit.stop)
                profile.cases.append(Case(loop, at, tuple((v, (min(s),)) for v, s in sorted(when.items())), supply))
        if profile.cases:
            profile.exact = profile.exact and self._attained(profile, bits, condition)
        return profile

    def _ways(self, part: Part) -> list[Way]:
        """Ways from both ends of a part, the resistance of what is always fed included."""
        solver = self.solver
        found = []
        for node in {solver.root[part.i], solver.root[part.j]}:
            region = solver.region_of.get(node)
            listed = [Way(node, 0.0, {})] if region is None else list(ways(solver, region, node))
            found += [way._replace(ohm=way.ohm + solver.entry(way.end, way.end)) for way in listed]
        return found

    def _poles(self, node: int) -> int:
        solver = self.solver
        return solver.earth_of[node] if node in solver.earth_of else solver.poles_of[solver.part[node]]

    def _attained(self, profile: Profile, bits: list[_Bit], condition: When) -> bool:
        """Whether the worst case is that of a real state: then it is no mere bound."""
        worst = profile.worst()
        assert worst is not None
        ports = {self.solver.root[n] for bit in bits for part in (bit.left, bit.right) for n in (part.i, part.j)}
        regions = self.solver.own(ports)
        variables = sorted({v for r in regions for v in r.variables} | {v for v, _ in (*condition, *worst.when)})
        chosen = self.allowed.complete({v: values[0] for v, values in worst.when})
        assert chosen is not None
        state = np.array([[chosen.get(v, 0) for v in variables]], np.int64)
        loop, _, supply = self._loops(Overlay(self.solver, regions, variables, state), bits)
        return bool(supply[0] == worst.supply and abs(loop[0] - worst.loop) <= CLOSE * worst.loop)


class Allowed:
    """States that `never` does not rule out."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.cubes = [dict(cube) for cube in network.circuit.never]

    def among(self, variables: Sequence[int], states: Ints) -> Ints:
        """Those of some states that can be completed to one that is not ruled out."""
        if not self.cubes:
            return states
        kept = [s for s in states.tolist() if self.complete(dict(zip(variables, s, strict=True))) is not None]
        return np.array(kept, np.int64).reshape(len(kept), len(variables))

    def complete(self, chosen: dict[int, int]) -> dict[int, int] | None:
        """Values for more variables, so that nothing is ruled out; None where that cannot be."""
        for cube in self.cubes:
            if all(chosen.get(v, value) == value for v, value in cube.items()):
                open_ = [v for v in cube if v not in chosen]
                for v in open_:
                    for value in range(self.network.variables[v]):
                        found = self.complete({**chosen, v: value}) if value != cube[v] else None
                        if found is not None:
                            return found
                return None
        return chosen


def _primes(states: Ints, rows: Ints, variables: Sequence[int], same: Ints) -> list[When]:
    """Partial positions that cover some rows of the states, and besides only rows of `same`; not always the fewest."""
    left = set(rows.tolist())
    inside = np.zeros(len(states), bool)
    inside[same] = True
    found: list[When] = []
    for row in rows.tolist():
        if row not in left:
            continue
        kept = list(range(len(variables)))
        for column in range(len(variables)):
            fewer = [c for c in kept if c != column]
            matching = (states[:, fewer] == states[row, fewer]).all(axis=1)
            if inside[matching].all():
                kept = fewer
        matching = (states[:, kept] == states[row, kept]).all(axis=1)
        left -= set(np.flatnonzero(matching).tolist())
        found.append(tuple((variables[c], (int(states[row, c]),)) for c in kept))
    return found


def worst_of(found: Iterable[Profile]) -> dict[str, tuple[Profile, Case | None]]:
    """Per piece the profile of its worst route and its worst case; None where it has no voltage in any state."""
    best: dict[str, tuple[Profile, Case | None]] = {}
    for profile in found:
        case = profile.worst()
        known = best.get(profile.piece)
        if known is None or (case is not None and (known[1] is None or case.loop > known[1].loop)):
            best[profile.piece] = (profile, case)
    return best
