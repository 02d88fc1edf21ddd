"""The place and the state in which each piece of track is worst off: the greatest loop resistance, exactly.

Along a bit of rail the resistance to the poles is a quadratic in place, so is the loop of both rails, and its maximum
is known in closed form. Left and right rail belong to two poles, between which nothing else conducts, so the loop is
the sum of both.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from netlister.circuit.build import setting_when
from netlister.circuit.numbers import Var
from netlister.layout.model import Value
from netlister.lengths import NO_LENGTH, Metres
from netlister.volts.allowed import Allowed
from netlister.volts.overlay import Overlay
from netlister.volts.profile import (
    CLOSE,
    Case,
    Coefficients,
    LoopTable,
    Profile,
    Supplies,
    bit_shares,
    peak,
    quadratic,
    route_bits,
)
from netlister.volts.quick import Quick
from netlister.volts.solver import STATES, WEIGHT, all_states, states_of
from netlister.volts.ways import LoopWay, both, ways

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from netlister.circuit.model import When
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece
    from netlister.volts.grounded import Floats
    from netlister.volts.network import RailBit
    from netlister.volts.overlay import BitView
    from netlister.volts.profile import Bit
    from netlister.volts.solver import Solver, SwitchedRegion


def profiles(solver: Solver) -> Iterator[Profile]:
    """The profile of every route of every piece, in the order of the layout."""
    network = solver.network
    quick = Quick(solver)
    slow = Slow(solver)
    todo = []
    for piece in network.layout.pieces.values():
        for route in piece.kind.routes:
            length, left, right = network.parts(piece, route)
            along = list(route_bits(left, right))
            todo.append((piece, route, length, along))
            quick.offer(piece, route, length, along)
    found = quick.solve()
    for piece, route, length, along in todo:
        known = found.get((piece.name, route.name))
        yield known if known is not None else slow.profile(piece, route, length, along)


def loop_curve(
    solver: Solver, piece: Piece, state: Sequence[int], steps: int
) -> tuple[Metres, list[tuple[Metres, float]], str]:
    """The loops along a piece in one state: its length in m, pairs of place in m and ohm, and the supply.

    The route is the one that is set; no pairs and no supply where the piece has no voltage.
    """
    network = solver.network
    slow = Slow(solver)
    length = NO_LENGTH
    for route in piece.kind.routes:
        length, left, right = network.parts(piece, route)
        condition = setting_when(network.circuit, piece.name, route.when)
        if all(state[v] in values for v, values in condition):
            found, supply = slow.along(list(route_bits(left, right)), state, steps)
            if supply:
                return length, found, supply
    return length, [], ""


class Slow:
    """Pieces that depend on positions, one at a time."""

    def __init__(self, solver: Solver) -> None:
        self.solver = solver
        self.network = solver.network
        self.supplies = Supplies(solver.network)
        self.allowed = Allowed(solver.network)
        self._overlays: dict[tuple[tuple[int, ...], tuple[int, ...]], Overlay] = {}

    def profile(self, piece: Piece, route: Route, length: Metres, stretch: list[Bit]) -> Profile:
        """The profile of a route: by all its states, else by ways."""
        solver = self.solver
        root = solver.root
        condition = setting_when(self.network.circuit, piece.name, route.when)
        ports = sorted({root[n] for bit in stretch for part in (bit.left, bit.right) for n in (part.i, part.j)})
        every = solver.relevant(ports)
        own = tuple(solver.own(ports))
        for regions in (every, tuple(r for r in every if r in own)):
            variables = sorted({v for r in regions for v in r.variables} | {v for v, _ in condition})
            if self._few(regions, variables):
                overlay = self._overlay(regions, tuple(variables))
                exact = len(regions) == len(every)
                return Profile(piece.name, route.name, length, [], exact, self._table(overlay, stretch, condition))
        return self._by_ways(
            Profile(piece.name, route.name, length, [], exact=len(own) == len(every)), stretch, condition
        )

    def _few(self, regions: Sequence[SwitchedRegion], variables: Sequence[int]) -> bool:
        states = states_of(self.network, variables)
        size = sum(len(r.nodes) + len(r.hubs) for r in regions)
        return states <= STATES and states * size * size <= WEIGHT

    def _overlay(self, regions: tuple[SwitchedRegion, ...], variables: tuple[int, ...]) -> Overlay:
        key = (tuple(r.number for r in regions), variables)
        found = self._overlays.get(key)
        if found is None:
            if len(self._overlays) > 8:  # noqa: PLR2004 - neighbours use the same ones
                self._overlays.clear()
            states = self.allowed.among(variables, all_states(self.network, variables))
            found = self._overlays[key] = Overlay(self.solver, regions, variables, states)
        return found

    def _table(self, overlay: Overlay, stretch: list[Bit], condition: When) -> LoopTable:
        """The worst place in each state of an overlay in which the route is set and has voltage."""
        loop, at, supply = self._loops(overlay, stretch)
        for variable, values in condition:
            loop[~np.isin(overlay.states[:, overlay.variables.index(variable)], values)] = np.nan
        return LoopTable(overlay.variables, overlay.states, loop, at, supply)

    def _loops(self, overlay: Overlay, stretch: list[Bit]) -> tuple[Floats, Floats, list[str]]:
        """Per state the greatest loop along the bits (not a number: no voltage), its place and its supply."""
        count = overlay.count
        loop, at = np.full(count, np.nan), np.zeros(count)
        supply = [""] * count
        for bit in stretch:
            seen = [self._sight(overlay, part) for part in (bit.left, bit.right)]
            names = [
                self.supplies.of(a, b) for a, b in zip(seen[0].poles.tolist(), seen[1].poles.tolist(), strict=True)
            ]
            live = np.array([bool(name) for name in names])
            if not live.any():
                continue
            sides = (self._coefficients(s, p, bit) for s, p in zip(seen, (bit.left, bit.right), strict=True))
            ohm, t = peak(*(one + two for one, two in zip(*sides, strict=True)))
            more = live & ~(ohm <= loop * (1 + CLOSE))
            loop[more] = ohm[more]
            at[more] = (bit.start + t * (bit.stop - bit.start))[more]
            for state in np.flatnonzero(more):
                supply[state] = names[state]
        return loop, at, supply

    def along(self, stretch: list[Bit], state: Sequence[int], steps: int) -> tuple[list[tuple[Metres, float]], str]:
        """The loops at places along the bits of a route in one state, and the supply."""
        root = self.solver.root
        ports = {root[n] for bit in stretch for part in (bit.left, bit.right) for n in (part.i, part.j)}
        regions = self.solver.relevant(ports)
        variables = sorted({v for r in regions for v in r.variables})
        overlay = Overlay(self.solver, regions, variables, np.array([[state[v] for v in variables]], np.int64))
        found: list[tuple[Metres, float]] = []
        supply = ""
        for bit in stretch:
            seen = [self._sight(overlay, part) for part in (bit.left, bit.right)]
            name = self.supplies.of(int(seen[0].poles[0]), int(seen[1].poles[0]))
            if name:
                supply = name
                sides = (self._coefficients(s, p, bit) for s, p in zip(seen, (bit.left, bit.right), strict=True))
                c0, c1, c2 = (float((one + two)[0]) for one, two in zip(*sides, strict=True))
                bit_shares = [n / steps for n in range(steps + 1)] if bit.stop > bit.start else [0.0]
                found += [(bit.start + t * (bit.stop - bit.start), c0 + t * (c1 + t * c2)) for t in bit_shares]
        return found, supply

    def _sight(self, overlay: Overlay, part: RailBit) -> BitView:
        root = self.solver.root
        return overlay.sight(root[part.i], root[part.j])

    def _coefficients(self, sight: BitView, part: RailBit, bit: Bit) -> Coefficients:
        first, last = (np.array(share) for share in bit_shares(part, bit.start, bit.stop))
        ohm = np.array(part.ohm.high if self.solver.high else part.ohm.low)
        return quadratic(sight[:3], ohm, (first, last))

    # -- where the states are too many

    def _by_ways(self, profile: Profile, stretch: list[Bit], condition: When) -> Profile:
        """Loops by the ways that lead to a piece; exact where a state is found that has only the worst of them."""
        conditions = {v: frozenset(values) for v, values in condition}
        found: dict[tuple[float, str], tuple[Bit, dict[Var, frozenset[Value]]]] = {}
        for bit in stretch:
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
            profile.exact = profile.exact and self._attained(profile, stretch, condition)
        return profile

    def _ways(self, part: RailBit) -> list[LoopWay]:
        """Ways from both ends of a part, the resistance of what is always fed included."""
        solver = self.solver
        found = []
        for node in {solver.root[part.i], solver.root[part.j]}:
            region = solver.region_of.get(node)
            listed = [LoopWay(node, 0.0, {})] if region is None else list(ways(solver, region.elements, node))
            found += [way._replace(ohm=way.ohm + solver.entry(way.end, way.end)) for way in listed]
        return found

    def _poles(self, node: int) -> int:
        solver = self.solver
        return solver.earth_of[node] if node in solver.earth_of else solver.poles_of[solver.part[node]]

    def _attained(self, profile: Profile, stretch: list[Bit], condition: When) -> bool:
        """Whether the worst case is that of a real state: then it is no mere bound."""
        worst = profile.worst()
        assert worst is not None
        ports = {self.solver.root[n] for bit in stretch for part in (bit.left, bit.right) for n in (part.i, part.j)}
        regions = self.solver.own(ports)
        variables = sorted({Var(v) for r in regions for v in r.variables} | {v for v, _ in (*condition, *worst.when)})
        chosen = self.allowed.complete({v: values[0] for v, values in worst.when})
        assert chosen is not None
        state = np.array([[chosen.get(v, Value(0)) for v in variables]], np.int64)
        loop, _, supply = self._loops(Overlay(self.solver, regions, variables, state), stretch)
        return bool(supply[0] == worst.supply and abs(loop[0] - worst.loop) <= CLOSE * worst.loop)


def worst_of(found: Iterable[Profile]) -> dict[str, tuple[Profile, Case | None]]:
    """Per piece the profile of its worst route and its worst case; None where it has no voltage in any state."""
    best: dict[str, tuple[Profile, Case | None]] = {}
    for profile in found:
        case = profile.worst()
        known = best.get(profile.piece)
        if known is None or (case is not None and (known[1] is None or case.loop > known[1].loop)):
            best[profile.piece] = (profile, case)
    return best
