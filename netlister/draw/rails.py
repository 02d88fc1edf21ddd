"""The rails of a piece on the drawing: which rail lies where, blades as they stand, where frogs are."""

from __future__ import annotations

from itertools import pairwise
from math import atan2, cos, hypot, sin
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when
from netlister.circuit.model import holds
from netlister.draw.lines import Line, Point, Pose, at, evenly, joined, length, meeting, offset, part_of_line
from netlister.layout.stretches import Stretch, Stretches, stretches

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit, State
    from netlister.draw.placing import Placed
    from netlister.kinds.model import Route
    from netlister.layout.model import Piece

OPEN = 0.34
"""How far an open blade stands from its stock rail, in gauges."""

BLADE = 0.4
"""The part of a route in which its blade comes back to its place."""

NEAR = 5.0

STEP, UPON, ALONG = 3.0, 1.4, 0.12
"""Two rails lie upon each other where they are so near and so nearly parallel, looked at in such steps."""

PLATE = 0.3
"""Where a rail begins that has no blade, as a share of its route: flanges run over a plate before it."""

LEAST, MOST = 9.0, 30.0
"""How long the metal or plastic of a frog may be drawn."""


Frog = tuple["Point", frozenset[str]]
"""Where a frog is, and the two routes that cross there."""


class RailRun(NamedTuple):
    """A length of one rail on the drawing; `rail` is None where nothing conducts (a plastic frog)."""

    rail: str | None
    line: Line


def is_set(circuit: Circuit, piece: str, route: Route, state: State) -> bool:
    """Whether the tie bars of a piece stand for a route."""
    return holds(setting_when(circuit, piece, route.when), state)


class _DrawnPiece(NamedTuple):
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


class _RouteExtent(NamedTuple):
    """Where on a drawn line its route begins and ends, and how long all of it is."""

    start: float
    stop: float
    whole: float


def rail_runs(
    circuit: Circuit, placed: Placed, state: State, gauge: float, points: list[Frog] | None = None
) -> list[RailRun]:
    """The rails of a piece in a state, in order. `points`: its frogs, where they are worked out already."""
    piece = placed.piece
    if not piece.kind.routes:
        line = placed.ways[""].core
        return [
            RailRun(rail, offset(line, side * gauge / 2)) for rail, side in zip(piece.kind.rails, (1, -1), strict=False)
        ]
    found: list[RailRun] = []
    standing = _DrawnPiece(circuit, placed, state, gauge)
    moving = standing.moving()
    crossings = frogs(placed, gauge) if points is None else points
    drawn: dict[str | None, list[Pose]] = {}
    for route in sorted(piece.kind.routes, key=lambda route: not standing.is_set(route)):
        for run in _of_route(standing, route, moving, crossings):
            if length(run.line) > 0.2:
                known = drawn.setdefault(run.rail, [])
                fresh = list(_fresh(run.line, known))
                for line in fresh:
                    known += _poses(line)
                found += [RailRun(run.rail, line) for line in fresh]
    return found


def _poses(line: Line) -> list[Pose]:
    """Places along a line, near enough to each other that none that lies upon it is missed."""
    points = evenly(line, max(1, round(length(line) / STEP)))
    return [
        Pose(*points[k], atan2(b[1] - a[1], b[0] - a[0]))
        for k, (a, b) in enumerate(zip([points[0], *points[:-1]], [*points[1:], points[-1]], strict=True))
    ]


def _fresh(line: Line, drawn: list[Pose]) -> Iterator[Line]:
    """The parts of a line that do not lie upon what is drawn already: dashes over dashes would look like no dashes."""
    if not drawn:
        yield line
        return
    whole = length(line)
    poses = _poses(line)
    free = [not any(_upon(pose, other) for other in drawn) for pose in poses]
    step = whole / (len(poses) - 1)
    begin = None
    for place, here in enumerate([*free, False]):
        if here and begin is None:
            begin = place
        elif not here and begin is not None:
            a, b = max(begin - 1, 0) * step, min(place, len(poses) - 1) * step
            begin = None
            if b - a > 2 * STEP or b - a >= whole - step:
                yield part_of_line(line, a, b)


def _upon(pose: Pose, other: Pose) -> bool:
    return (
        abs(pose.x - other.x) + abs(pose.y - other.y) < 1.5 * STEP
        and hypot(pose.x - other.x, pose.y - other.y) < STEP
        and abs(_across(pose, other)) < UPON
        and abs(sin(pose.heading - other.heading)) < ALONG
    )


def _across(pose: Pose, other: Pose) -> float:
    """How far a place lies beside the line through another."""
    return (pose.y - other.y) * cos(other.heading) - (pose.x - other.x) * sin(other.heading)


def _of_route(standing: _DrawnPiece, route: Route, moving: set[str] | None, points: list[Frog]) -> Iterator[RailRun]:
    placed = standing.placed
    piece = placed.piece
    way = placed.ways[route.name]
    whole = joined(way.before, way.core, way.after)
    lead = length(joined(way.before, way.core[:1])) if way.before else 0.0
    extent = _RouteExtent(lead, lead + length(way.core), length(whole))
    measured = stretches(standing.circuit.layout, piece, route)
    here = standing.is_set(route)
    away = moving if moving is not None and not here else None
    for side, found in ((1, measured.left), (-1, measured.right)):
        first, last = _blade_ends(placed, route, side) if piece.kind.bars else (False, False)
        plate = first and not _has_blade(piece, route, found[0])
        first, last = first and not here and not plate, last and not here
        along = [_along(whole, spot, side * standing.gauge / 2) for spot, names in points if route.name in names]
        crossed = sorted(a for a in along if a is not None)
        size = extent.stop - extent.start
        for number, (stretch, span) in enumerate(
            zip(found, _spans(piece, found, measured, (extent, crossed)), strict=True)
        ):
            if away is not None and stretch.rail in away:
                continue
            least = extent.start if first else 0.0
            if away is not None and number and stretch.rail:
                least = extent.start + size * 0.45
            if plate and (number or len(found) == 1):
                least = extent.start + size * PLATE
            a, b = max(span[0], least), min(span[1], extent.stop if last else extent.whole)
            if b - a < 0.05:
                continue
            blade = first and (len(piece.kind.routes) > 1 or number > 0), last
            yield RailRun(stretch.rail, _beside(part_of_line(whole, a, b), a, side * standing.gauge, extent, blade))


def _along(line: Line, spot: Point, by: float) -> float | None:
    """How far along a centre line the rail beside it, `by` to its left, comes to a spot; None where it does not."""
    whole = length(line)
    steps = max(1, round(whole))
    points = offset(evenly(line, steps), by)
    far, place = min((hypot(x - spot[0], y - spot[1]), k) for k, (x, y) in enumerate(points))
    return whole * place / steps if far < NEAR else None


def _spans(
    piece: Piece, found: tuple[Stretch, ...], measured: Stretches, on_line: tuple[_RouteExtent, list[float]]
) -> list[tuple[float, float]]:
    """Where stretches lie on the drawn line: frogs at the places where its rail crosses others, as they are drawn.

    The drawing is squeezed and bent, so that what is measured along the piece would lie beside its frogs.
    """
    extent, crossed = on_line
    scale = (extent.stop - extent.start) / (measured.length or 1.0)
    places = [0.0, *(extent.start + stretch.start * scale for stretch in found[1:]), extent.whole]
    short = [k for k in range(1, len(found) - 1) if _is_of_frog(piece, found[k])]
    if short and len(short) == len(crossed):
        for k, spot in zip(short, crossed, strict=True):
            half = min(max((places[k + 1] - places[k]) / 2, LEAST / 2), MOST / 2)
            places[k], places[k + 1] = spot - half, spot + half
    return [(a, max(a, b)) for a, b in pairwise(places)]


def _is_of_frog(piece: Piece, stretch: Stretch) -> bool:
    return stretch.rail is None or piece.kind.is_frog(stretch.rail)


def _has_blade(piece: Piece, route: Route, begins: Stretch) -> bool:
    """Whether a rail of a route begins with a blade: on a turnout with one blade the other side is a fixed plate."""
    blades = piece.kind.blades
    own = [b for b in blades if b.stock == begins.rail or b.open == begins.rail]
    return not blades or bool(own) or "toe" not in route.ends


def _blade_ends(placed: Placed, route: Route, side: int) -> tuple[bool, bool]:
    """Whether a rail of a route is a blade at its first end and at its second: another route leaves on that side."""
    routes = placed.piece.kind.routes
    if len(routes) == 1:
        rails = route.left if side > 0 else route.right
        return any(b.open in rails for b in placed.piece.kind.blades), False
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


def _beside(line: Line, start: float, by: float, extent: _RouteExtent, blades: tuple[bool, bool]) -> Line:
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


def frogs(placed: Placed, gauge: float) -> list[Frog]:
    """Where the left rail of one route crosses the right rail of another, with the routes."""
    found: list[Frog] = []
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
