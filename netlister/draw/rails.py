"""The rails of a piece on the drawing: which rail lies where, blades as they stand, where frogs are."""

from __future__ import annotations

from math import cos, hypot, sin
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when
from netlister.circuit.model import holds
from netlister.draw.lines import Line, Point, Pose, at, evenly, joined, length, meeting, offset, part
from netlister.layout.stretches import Stretch, stretches

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit, State
    from netlister.draw.placing import Placed
    from netlister.kinds.model import Route

OPEN = 0.34
"""How far an open blade stands from its stock rail, in gauges."""

BLADE = 0.4
"""The part of a route in which its blade comes back to its place."""

NEAR = 5.0


class RailRun(NamedTuple):
    """A length of one rail on the drawing; `rail` is None where nothing conducts (a plastic frog)."""

    rail: str | None
    line: Line


def is_set(circuit: Circuit, piece: str, route: Route, state: State) -> bool:
    """Whether the tie bars of a piece stand for a route."""
    return holds(setting_when(circuit, piece, route.when), state)


class _Standing(NamedTuple):
    """A piece in a state, to be drawn with a gauge."""

    circuit: Circuit
    placed: Placed
    state: State
    gauge: float

    def is_set(self, route: Route) -> bool:
        """Whether a route is set."""
        return is_set(self.circuit, self.placed.piece.name, route, self.state)

    def moving(self) -> set[str] | None:
        """Of a piece whose rails move from track to track: the rails of the route that is set; else None."""
        kind = self.placed.piece.kind
        if not kind.gaps:
            return None
        here = next((r for r in kind.routes if self.is_set(r)), None)
        return {rail for rail in (*here.left, *here.right) if rail} if here else set()


class _Extent(NamedTuple):
    """Where on a drawn line its route begins and ends, and how long all of it is."""

    start: float
    stop: float
    whole: float


def runs(circuit: Circuit, placed: Placed, state: State, gauge: float) -> list[RailRun]:
    """The rails of a piece in a state, in order."""
    piece = placed.piece
    if not piece.kind.routes:
        line = placed.ways[""].core
        return [
            RailRun(rail, offset(line, side * gauge / 2)) for rail, side in zip(piece.kind.rails, (1, -1), strict=False)
        ]
    found: list[RailRun] = []
    seen: set[tuple[str | None, tuple[tuple[int, int], ...]]] = set()
    standing = _Standing(circuit, placed, state, gauge)
    moving = standing.moving()
    for route in piece.kind.routes:
        for run in _of_route(standing, route, moving):
            key = (run.rail, tuple((round(x), round(y)) for x, y in run.line))
            if key not in seen and length(run.line) > 0.2:
                seen.add(key)
                found.append(run)
    return found


def _of_route(standing: _Standing, route: Route, moving: set[str] | None) -> Iterator[RailRun]:
    placed = standing.placed
    piece = placed.piece
    way = placed.ways[route.name]
    whole = joined(way.before, way.core, way.after)
    lead = length(joined(way.before, way.core[:1])) if way.before else 0.0
    extent = _Extent(lead, lead + length(way.core), length(whole))
    measured = stretches(standing.circuit.layout, piece, route)
    here = standing.is_set(route)
    away = moving if moving is not None and not here else None
    for side, found in ((1, measured.left), (-1, measured.right)):
        first, last = _blade_ends(placed, route, side) if piece.kind.bars and not here else (False, False)
        for number, stretch in enumerate(found):
            if away is not None and stretch.rail in away:
                continue
            a, b = _span(stretch, measured.length, (number == 0, number == len(found) - 1), extent)
            if away is not None and number and stretch.rail:
                a = max(a, extent.start + (extent.stop - extent.start) * 0.45)
            a, b = max(a, extent.start if first else 0.0), min(b, extent.stop if last else extent.whole)
            if b - a < 0.05:
                continue
            yield RailRun(stretch.rail, _beside(part(whole, a, b), a, side * standing.gauge, extent, (first, last)))


def _span(stretch: Stretch, measured: float, ends: tuple[bool, bool], extent: _Extent) -> tuple[float, float]:
    """Where a stretch lies on the drawn line; the first and the last (`ends`) reach to its ends."""
    scale = (extent.stop - extent.start) / (measured or 1.0)
    a = 0.0 if ends[0] else extent.start + stretch.start * scale
    b = extent.whole if ends[1] else extent.start + stretch.stop * scale
    return a, b


def _blade_ends(placed: Placed, route: Route, side: int) -> tuple[bool, bool]:
    """Whether a rail of a route is a blade at its first end and at its second: another route leaves on that side."""
    routes = placed.piece.kind.routes
    if len(routes) == 1:
        rails = route.left if side > 0 else route.right
        return len(rails) > 1, False
    first = last = False
    line = placed.ways[route.name].core
    for other in routes:
        if other is route or placed.piece.kind.gaps:
            continue
        theirs = placed.ways[other.name].core
        if other.ends[0] == route.ends[0] and _side_of(line[0], line[-1], theirs[-1]) * side > 0:
            first = True
        if other.ends[1] == route.ends[1] and _side_of(line[0], line[-1], theirs[0]) * side > 0:
            last = True
    return first, last


def _side_of(a: Point, b: Point, p: Point) -> float:
    cross = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    return cross if abs(cross) > 1e-6 else 0.0


def _beside(line: Line, start: float, by: float, extent: _Extent, blades: tuple[bool, bool]) -> Line:
    """A rail beside a centre line, half of `by` to its left; an open blade is moved inwards where it is a blade."""
    if not any(blades):
        return offset(line, by / 2)
    size = length(line)
    count = max(2, round(size / 3))
    bent = (extent.stop - extent.start) * BLADE
    sides = []
    for i in range(count + 1):
        along = start + size * i / count
        inward = max(0.0, 1 - (along - extent.start) / bent if blades[0] else 0.0)
        inward = max(inward, 1 - (extent.stop - along) / bent if blades[1] else 0.0)
        sides.append(by * (0.5 - OPEN * min(inward, 1.0)))
    return offset(evenly(line, count), sides)


def frogs(placed: Placed, gauge: float) -> list[tuple[Point, frozenset[str]]]:
    """Where the left rail of one route crosses the right rail of another, with the routes."""
    found: list[tuple[Point, frozenset[str]]] = []
    if placed.piece.kind.gaps:
        return found
    lines = {name: joined(w.before, w.core, w.after) for name, w in placed.ways.items()}
    names = [r.name for r in placed.piece.kind.routes]
    for i, one in enumerate(names):
        for two in names[i + 1 :]:
            for a, b in ((1, -1), (-1, 1)):
                point = meeting(offset(lines[one], a * gauge / 2), offset(lines[two], b * gauge / 2))
                if point and all(hypot(point[0] - q[0], point[1] - q[1]) > NEAR for q, _ in found):
                    found.append((point, frozenset((one, two))))
    return found


def end_pose(placed: Placed, end: str) -> Pose:
    """Where an end lies, heading forward along the piece."""
    for route in placed.piece.kind.routes:
        way = placed.ways[route.name]
        line = joined(way.before, way.core, way.after)
        if end == route.ends[0]:
            return Pose(*line[0], at(line, 0.01).heading)
        if end == route.ends[1]:
            return Pose(*line[-1], at(line, length(line)).heading)
    line = placed.ways[""].core if "" in placed.ways else [placed.ends[end]]
    return Pose(*line[0], at(line, 0.01).heading)


def beside(pose: Pose, by: float) -> Point:
    """A point beside a pose, `by` to its left."""
    return (pose.x - by * sin(pose.heading), pose.y + by * cos(pose.heading))
