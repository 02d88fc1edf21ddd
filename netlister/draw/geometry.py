"""The true geometry of the track: the centre lines of each piece, and where pieces lie if they are laid as written.

Lengths in mm, angles in radians. A piece lies with its first entering end at the origin, forward
along x, y to its left.
"""

from __future__ import annotations

from math import atan, cos, degrees, hypot, pi, radians, remainder, sin, tan
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.lines import Line, Pose, arc, curve, joined
from netlister.kinds.frog import frog_angle
from netlister.kinds.measure import size, total
from netlister.lengths import Millimetres, in_mm

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.layout.model import Joint, Layout, Piece

DEFAULT_NUMBER = 6.0
"""The frog that the default dimensions of the kinds are of."""

PLAIN_GAUGE = Millimetres(9.0)
"""mm; the track gauge that the default dimensions of the kinds are for."""

DEFAULT_LENGTH = Millimetres(900.0)
CLOSE, SQUARE = 0.5, 0.5
"""mm and degrees by which ends may miss each other: joiners take that up."""

CROSSING = {"a1", "a2", "b1", "b2"}


class PieceShape(NamedTuple):
    """A piece in its own coordinates.

    `routes`: per route its centre line, from the route's first end to its second. `ends`: per end its place, and its
    heading out of the piece. `stated`: whether the layout says how it lies. `pit`: of a turntable how far its middle is
    from the origin along x, and the radius of its bridge.
    """

    routes: dict[str, Line]
    ends: dict[str, Pose]
    stated: bool
    pit: tuple[float, float] | None = None


class Miss(NamedTuple):
    """Two ends that do not meet if all pieces are laid as written: by so many mm and degrees."""

    joint: Joint
    gap: float
    angle: float


class LaidOut(NamedTuple):
    """Pieces laid end to end: the pose of each in the plane, and what does not close."""

    poses: dict[str, Pose]
    misses: tuple[Miss, ...]


def gauge_of(layout: Layout) -> Millimetres:
    """The track gauge; where none is written, that of the kinds' dimensions."""
    return in_mm(layout.gauge) or PLAIN_GAUGE


def shape(layout: Layout, piece: Piece, *, straightened: bool = False) -> PieceShape:
    """The geometry of a piece. `straightened`: a turnout both of whose legs curve is drawn as if one were straight."""
    ends = set(piece.kind.ends)
    if len(ends) <= 2:
        return _line(layout, piece)
    sizes = piece.kind.dimensions
    if "spacing" in sizes and ends == CROSSING:
        return _scissors(layout, piece)
    if ends == CROSSING and "point" in sizes:
        return _crossing(layout, piece)
    if {"head", "tail"} <= ends:
        return _turntable(layout, piece)
    if "lead" in sizes and sum(e.entering for e in piece.kind.ends.values()) == 1:
        return _turnout(layout, piece, straightened=straightened)
    return _anchored(layout, piece)


def _size(layout: Layout, piece: Piece, name: str) -> Millimetres:
    number = piece.said.frog_number or 0.0
    return in_mm(size(piece.kind.dimensions[name], number, layout.gauge))


def _length(layout: Layout, piece: Piece, route: int = 0) -> Millimetres:
    """How long a route is, by the kind."""
    number = piece.said.frog_number or 0.0
    if piece.kind.routes and piece.kind.routes[route].length:
        gauge = layout.gauge
        return in_mm(total(piece.kind.routes[route].length, piece.kind.dimensions, number, gauge))
    return _size(layout, piece, "length") if "length" in piece.kind.dimensions else DEFAULT_LENGTH


def _angle(layout: Layout, piece: Piece) -> float:
    del layout
    return radians(frog_angle(piece.said.frog_number or DEFAULT_NUMBER))


def turn_of(piece: Piece) -> float:
    """By how much a piece of plain track turns, in radians to the left."""
    turn = piece.said.angle
    if piece.said.radius is None or turn is None:
        return 0.0
    return turn if piece.written.get("turn") == "left" else -turn


def _line(layout: Layout, piece: Piece) -> PieceShape:
    if piece.said.radius is not None:
        turn = turn_of(piece)
        whole = in_mm(piece.said.radius * abs(turn))
    else:
        turn = 0.0
        whole = _length(layout, piece) if piece.length is None else in_mm(piece.length)
    start = Pose(0.0, 0.0, 0.0)
    line = arc(start, whole, turn)
    last = start.beyond(whole, turn)
    names = sorted(piece.kind.ends.values(), key=lambda e: not e.entering)
    ends = {names[0].name: start.turned()}
    for end in names[1:]:
        ends[end.name] = last
    stated = piece.said.radius is not None or piece.length is not None or piece.kind.name != "rail-section"
    return PieceShape({r.name: line for r in piece.kind.routes} or {"": line}, ends, stated)


def _turnout(layout: Layout, piece: Piece, *, straightened: bool) -> PieceShape:
    """The toe at the origin; the legs by lead, frog angle and gauge (see `_leg`), or by their radii."""
    kind, theta = piece.kind, _angle(layout, piece)
    whole, lead = _length(layout, piece), _size(layout, piece, "lead")
    stretch = in_mm(piece.length) / whole if piece.length and whole else 1.0
    gauge = gauge_of(layout)
    toe = next(e.name for e in kind.ends.values() if e.entering)
    curved = dict(kind.options).get("curved") == "true" and not straightened
    lines: dict[str, Line] = {}
    ends = {toe: Pose(0.0, 0.0, pi)}
    sides = _sides(piece)
    for number, route in enumerate(kind.routes):
        end = route.ends[1]
        run = _length(layout, piece, number)
        if curved and f"radius-{end}" in kind.dimensions:
            turn = run / _size(layout, piece, f"radius-{end}") * (1 if kind.hand == "left" else -1)
            line, last = arc(Pose(0, 0, 0), run, turn), Pose(0, 0, 0).beyond(run, turn)
        else:
            line, last = _leg(sides[end], run, theta, lead, gauge)
        lines[route.name] = [(x * stretch, y) for x, y in line]
        ends[end] = Pose(last.x * stretch, last.y, last.heading)
    return PieceShape(lines, ends, stated=True)


def _sides(piece: Piece) -> dict[str, float]:
    """Per leg which way it turns and how much of the frog's angle: 1 left, 0 straight, -1 right; a wye's legs half."""
    legs = [e.name for e in piece.kind.ends.values() if not e.entering]
    heights = {leg: piece.kind.draw.get(leg, (1.0, 0.0))[1] for leg in legs}
    if piece.kind.hand == "wye":
        return {"left": 0.5, "right": -0.5}
    if piece.kind.hand:
        return {"through": 0.0, "diverging": 1.0 if piece.kind.hand == "left" else -1.0}
    return {leg: float((y > 0) - (y < 0)) for leg, y in heights.items()}


def _leg(side: float, run: float, theta: float, lead: float, gauge: float) -> tuple[Line, Pose]:
    """A leg of a turnout: an arc from the toe, then straight through the frog.

    The straight part crosses the other leg's rail at the frog: `gauge` beside the straight leg, `lead` from the toe.
    The arc is the one tangent to both that begins at the toe.
    """
    start = Pose(0.0, 0.0, 0.0)
    if not side:
        return [(0.0, 0.0), (run, 0.0)], start.beyond(run)
    angle, aside = theta * abs(side), gauge * abs(side)
    bend = lead - aside / tan(angle)
    if bend < lead / 20:
        bend = lead / 4
        angle = atan(aside / (lead - bend))
    radius = bend / tan(angle / 2)
    bent = radius * angle
    turn = angle if side > 0 else -angle
    middle = start.beyond(bent, turn)
    last = middle.beyond(max(run - bent, run / 20))
    return joined(arc(start, bent, turn), [middle.point, last.point]), last


def _crossing(layout: Layout, piece: Piece) -> PieceShape:
    """Two straight tracks that cross in the middle at the frog's angle; the slip roads are smooth curves."""
    half = (in_mm(piece.length) if piece.length else _length(layout, piece)) / 2
    lean = _angle(layout, piece) / 2
    ends = {}
    for name, x, y in (("a1", -1, 1), ("a2", -1, -1), ("b1", 1, -1), ("b2", 1, 1)):
        heading = lean * y * x if x > 0 else pi + lean * y * x
        ends[name] = Pose(half * cos(lean) * (1 + x), half * sin(lean) * y, heading)
    lines = {}
    for route in piece.kind.routes:
        one, two = (ends[e] for e in route.ends)
        direct = {*route.ends} in ({"a1", "b1"}, {"a2", "b2"})
        lines[route.name] = [one.point, two.point] if direct else curve(one.turned(), two)
    return PieceShape(lines, ends, stated=True)


def _scissors(layout: Layout, piece: Piece) -> PieceShape:
    """Two parallel tracks and both diagonals between them."""
    spacing = _size(layout, piece, "spacing")
    whole = in_mm(piece.length) if piece.length else _length(layout, piece)
    theta = _angle(layout, piece)
    lead = _size(layout, piece, "lead") - _size(layout, piece, "point")
    ends = {
        name: Pose(whole if right else 0.0, spacing / 2 * up, 0.0 if right else pi)
        for name, right, up in (("a1", False, 1), ("a2", False, -1), ("b1", True, -1), ("b2", True, 1))
    }
    lines = {}
    for route in piece.kind.routes:
        one, two = (ends[e] for e in route.ends)
        if abs(one.y - two.y) < spacing / 2:
            lines[route.name] = [one.point, two.point]
            continue
        sign = 1 if two.y > one.y else -1
        bend = lead / tan(theta / 2) * theta
        first = arc(Pose(one.x, one.y, 0.0), bend, theta * sign)
        last: Line = [(whole - x, -y) for x, y in reversed(first)]
        lines[route.name] = joined(first, last)
    return PieceShape(lines, ends, stated=True)


def _turntable(layout: Layout, piece: Piece) -> PieceShape:
    """A pit with its tracks around it as the kind says; a route leads over the edge and across the bridge."""
    bridge, edge = _size(layout, piece, "bridge"), _size(layout, piece, "edge")
    radius = bridge / 2
    middle = radius + edge
    ends: dict[str, Pose] = {}
    for name in piece.kind.ends:
        x, y = piece.kind.draw.get(name, (0.5, 0.0))
        if name not in {"head", "tail"}:
            far = hypot(x - 0.5, y) or 1.0
            ux, uy = (x - 0.5) / far, y / far
            heading = atan(uy / ux) if abs(ux) > 1e-9 else pi / 2 * (1 if uy > 0 else -1)
            heading += pi if ux < -1e-9 else 0.0
            ends[name] = Pose(middle + middle * ux, middle * uy, heading)
    lines = {}
    for route in piece.kind.routes:
        out = ends[route.ends[0]]
        lines[route.name] = [out.point, out.beyond(-edge - bridge).point]
    return PieceShape(lines, ends, stated=True, pit=(middle, radius))


def _anchored(layout: Layout, piece: Piece) -> PieceShape:
    """From the anchors of the kind alone: all ends level, smooth curves between them."""
    whole = in_mm(piece.length) if piece.length else _length(layout, piece)
    ends = {}
    for name, end in piece.kind.ends.items():
        x, y = piece.kind.draw.get(name, (0.0 if end.entering else 1.0, 0.0))
        ends[name] = Pose(x * whole, y * min(whole, 300.0), pi if end.entering else 0.0)
    lines = {}
    for route in piece.kind.routes:
        one, two = (ends[e] for e in route.ends)
        lines[route.name] = [one.point, two.point] if one.y == two.y else curve(one.turned(), two)
    return PieceShape(lines, ends, stated=True)


# -- laid end to end


def laid(shape_: PieceShape, end: str, where: Pose) -> Pose:
    """Where a piece lies if one of its ends comes to lie at a pose (heading out of the piece)."""
    own = shape_.ends[end]
    turn = where.heading - own.heading
    x = where.x - own.x * cos(turn) + own.y * sin(turn)
    y = where.y - own.x * sin(turn) - own.y * cos(turn)
    return Pose(x, y, turn)


def moved(line: Line, by: Pose) -> Line:
    """A line of a piece that lies at a pose."""
    c, s = cos(by.heading), sin(by.heading)
    return [(by.x + x * c - y * s, by.y + x * s + y * c) for x, y in line]


def end_at(shape_: PieceShape, end: str, by: Pose) -> Pose:
    """Where an end of a piece lies, heading out of the piece."""
    own = shape_.ends[end]
    ((x, y),) = moved([own.point], by)
    return Pose(x, y, own.heading + by.heading)


def lay_out(layout: Layout, names: Iterable[str], shapes: dict[str, PieceShape]) -> LaidOut:
    """Lay connected pieces as written, the first one forward along x, and measure what does not close."""
    order = list(names)
    inside = set(order)
    near: dict[str, list[Joint]] = {name: [] for name in order}
    for joint in layout.joints:
        if joint.start[0] in inside and joint.end[0] in inside:
            near[joint.start[0]].append(joint)
            if joint.end[0] != joint.start[0]:
                near[joint.end[0]].append(joint)
    poses = {order[0]: Pose(0.0, 0.0, 0.0)}
    used: set[int] = set()
    queue = [order[0]]
    while queue:
        here = queue.pop(0)
        for joint in near[here]:
            for one, two in ((joint.start, joint.end), (joint.end, joint.start)):
                if one[0] == here and two[0] not in poses and _has(shapes, one) and _has(shapes, two):
                    out = end_at(shapes[here], one[1], poses[here])
                    poses[two[0]] = laid(shapes[two[0]], two[1], out.turned())
                    used.add(id(joint))
                    queue.append(two[0])
    misses = []
    for joint in layout.joints:
        if joint.start[0] in inside and id(joint) not in used:
            miss = _miss(joint, shapes, poses)
            if miss and (miss.gap > CLOSE or miss.angle > SQUARE):
                misses.append(miss)
    return LaidOut(poses, tuple(misses))


def _has(shapes: dict[str, PieceShape], end: tuple[str, str]) -> bool:
    return end[1] in shapes[end[0]].ends


def _miss(joint: Joint, shapes: dict[str, PieceShape], poses: dict[str, Pose]) -> Miss | None:
    if any(e[0] not in poses or not _has(shapes, e) for e in (joint.start, joint.end)):
        return None
    one, two = (end_at(shapes[p], e, poses[p]) for p, e in (joint.start, joint.end))
    angle = abs(degrees(remainder(one.heading - two.heading - pi, 2 * pi)))
    return Miss(joint, hypot(one.x - two.x, one.y - two.y), angle)
