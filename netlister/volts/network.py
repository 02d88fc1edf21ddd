"""A layout as a network of resistances: every place where something is joined is a node of its own."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.stretches import stretches
from netlister.lengths import NO_LENGTH, Metres
from netlister.volts.values import NOTHING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.circuit.model import Circuit, Entry, When
    from netlister.kinds.model import Route
    from netlister.layout.model import Layout, Piece
    from netlister.volts.values import Band, Values


class Element(NamedTuple):
    """A resistance between two nodes while `when` holds.

    `what`: rail, bond, joiner, feed, wire, bus, component, plug, blade, contact, lead, reverser or unit. `owner`: the
    piece, joint, contact … that it belongs to. `entry`: its entry in the layout, where that
    has no name of its own.
    """

    a: int
    b: int
    ohm: Band
    what: str
    owner: str
    when: When = ()
    entry: Entry | None = None


class NetworkRail(NamedTuple):
    """A rail of a piece as it lies in the network.

    Plain track: `points` are its places from `a` in m, in order, and their nodes. Other pieces: each end joins the
    middle by half the length of the piece (`ends`: end to node).
    """

    middle: int
    ends: dict[str, int]
    points: tuple[tuple[Metres, int], ...]


class RailBit(NamedTuple):
    """A bit of rail under the wheels, from `start` to `stop` in m along a route.

    It lies between the nodes `i` and `j`, which are `ohm` apart: from the share `first` of the way from i to j to the
    share `last`.
    """

    start: Metres
    stop: Metres
    i: int
    j: int
    ohm: Band
    first: float
    last: float


class RailSpot(NamedTuple):
    """A place on a rail: `share` of the way from node `i` to node `j`, which are `ohm` apart (0: at i)."""

    i: int
    j: int
    share: float
    ohm: Band


@dataclass(slots=True)
class Network:
    """A layout as resistances.

    Nodes 0 … `earths`-1 are the poles of the supplies: they are held, and resistances are measured from them. `names`:
    that of each node. `variables`: how many values each variable has: of the circuit its positions, then two for each
    automatic device, which chooses for itself. `nodes`: from nodes of the circuit to these. `rails`: by piece and rail.
    `lengthless`: pieces without a length. `taps`: by bus, letter of the pole and place in m along the bus.
    """

    circuit: Circuit
    values: Values
    names: list[str]
    earths: int
    variables: list[int]
    elements: list[Element] = field(default_factory=list)
    nodes: dict[int, int] = field(default_factory=dict)
    rails: dict[tuple[str, str], NetworkRail] = field(default_factory=dict)
    lengthless: list[str] = field(default_factory=list)
    taps: dict[tuple[str, str, float], int] = field(default_factory=dict)

    @property
    def layout(self) -> Layout:
        """The layout."""
        return self.circuit.layout

    def parts(self, piece: Piece, route: Route) -> tuple[Metres, list[RailBit], list[RailBit]]:
        """The length of a route in m, and what lies under its left and its right wheels."""
        if piece.kind.plain:
            sides = (route.left[0], route.right[0])
            left, right = (self._plain(piece.name, rail) for rail in sides if rail is not None)
            return piece.length or NO_LENGTH, left, right
        found = stretches(self.layout, piece, route)
        length = found.length if found.stated else NO_LENGTH
        return (
            length,
            self._others(piece.name, route, found.left, length),
            self._others(piece.name, route, found.right, length),
        )

    def spots(self, piece: str, route: str, at: float) -> tuple[RailSpot, RailSpot]:
        """Where a pair of wheels stands at a place in m along a route: on the left and on the right rail."""
        found = self.layout.pieces[piece]
        (chosen,) = [r for r in found.kind.routes if r.name == route]
        _, left, right = self.parts(found, chosen)
        return spot_of(left, at), spot_of(right, at)

    def _plain(self, piece: str, rail: str) -> list[RailBit]:
        points = self.rails[piece, rail].points
        per_metre = self.values.rail()
        if len(points) == 1:
            place, node = points[0]
            return [RailBit(place, place, node, node, NOTHING, 0.0, 0.0)]
        return [RailBit(a, b, i, j, per_metre.times(b - a), 0.0, 1.0) for (a, i), (b, j) in pairwise(points)]

    def _others(
        self, piece: str, route: Route, under: Iterable[tuple[str | None, Metres, Metres]], length: Metres
    ) -> list[RailBit]:
        """The bits of rail under one side of a piece that is not plain: to the middle of each rail, and on from it."""
        found = []
        half = Metres(length / 2)
        ohm = self.values.rail().times(half) if half else NOTHING
        for name, start, stop in under:
            if name is None:
                continue
            rail = self.rails[piece, name]
            if not half:
                found.append(RailBit(NO_LENGTH, NO_LENGTH, rail.middle, rail.middle, NOTHING, 0.0, 0.0))
                continue
            first, last = (rail.ends.get(end, rail.middle) for end in route.ends)
            if start < half:
                to = min(stop, half)
                found.append(
                    RailBit(start, to, first, rail.middle, _across(first, rail.middle, ohm), start / half, to / half)
                )
            if stop > half:
                begin = max(start, half)
                shares = (begin - half) / half, (stop - half) / half
                found.append(RailBit(begin, stop, rail.middle, last, _across(rail.middle, last, ohm), *shares))
        return found


def spot_of(parts: list[RailBit], at: float) -> RailSpot:
    """The spot of the part nearest to a place in m along a route."""
    part = min(parts, key=lambda p: max(p.start - at, at - p.stop, 0.0))
    way = part.stop - part.start
    share = part.first + (part.last - part.first) * (min(max(at - part.start, 0.0), way) / way if way else 0.0)
    return RailSpot(part.i, part.j, share, part.ohm)


def _across(i: int, j: int, ohm: Band) -> Band:
    return NOTHING if i == j else ohm
