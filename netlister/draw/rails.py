"""The rails of a piece on the drawing: which rail lies where, blades as they stand, where frogs are."""

from __future__ import annotations

from math import cos, hypot, sin
from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when
from netlister.circuit.model import holds
from netlister.draw.lines import Line, Point, Pose, at, joined, length, meeting, offset, part
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


class Run(NamedTuple):
    """A length of one rail on the drawing; `rail` is None where nothing conducts (a plastic frog)."""

    rail: str | None
    line: Line


def is_set(circuit: Circuit, piece: str, route: Route, state: State) -> bool:
    """Whether the tie bars of a piece stand for a route."""
    return holds(setting_when(circuit, piece, route.when), state)


def runs(circuit: Circuit, placed: Placed, state: State, gauge: float) -> list[Run]:
    """The rails of a piece in a state, in order."""
    piece = placed.piece
    if not piece.kind.routes:
        line = placed.ways[""].core
        return [
            Run(rail, offset(line, side * gauge / 2)) for rail, side in zip(piece.kind.rails, (1, -1), strict=False)
        ]
    found: list[Run] = []
    seen: set[tuple[str | None, tuple[tuple[int, int], ...]]] = set()
    moving = _moving(circuit, placed, state)
    for route in piece.kind.routes:
        for run in _of_route(circuit, placed, route, state, gauge, moving):
            key = (run.rail, tuple((round(x), round(y)) for x, y in run.line))
            if key not in seen and length(run.line) > 0.2:
                seen.add(key)
                found.append(run)
    return found


def _moving(circuit: Circuit, placed: Placed, state: State) -> set[str] | None:
    """Of a piece whose rails move from track to track: the rails that stand elsewhere now; else None."""
    kind = placed.piece.kind
    if not kind.gaps:
        return None
    here = next((r for r in kind.routes if is_set(circuit, placed.piece.name, r, state)), None)
    return {rail for rail in (*here.left, *here.right) if rail} if here else set()


def _of_route(
    circuit: Circuit, placed: Placed, route: Route, state: State, gauge: float, moving: set[str] | None
) -> Iterator[Run]:
    piece = placed.piece
    way = placed.ways[route.name]
    whole = joined(way.before, way.core, way.after)
    lead, core = length(way.before) if way.before else 0.0, length(way.core)
    if way.before:
        lead += hypot(way.core[0][0] - way.before[-1][0], way.core[0][1] - way.before[-1][1])
    measured = stretches(circuit.layout, piece, route)
    here = is_set(circuit, piece.name, route, state)
    full = length(whole)
    for side, found in ((1, measured.left), (-1, measured.right)):
        first, last = _blade_ends(placed, route, side) if piece.kind.bars and not here else (False, False)
        for number, stretch in enumerate(found):
            if moving is not None and not here and stretch.rail in moving:
                continue
            a, b = _span(stretch, measured.length, number, len(found), lead, core, full)
            if moving is not None and not here and number and stretch.rail:
                a = max(a, lead + core * 0.45)
            a, b = max(a, lead if first else 0.0), min(b, lead + core if last else full)
            if b - a < 0.05:
                continue
            line = part(whole, a, b)
            yield Run(stretch.rail, _beside(line, a, side, gauge, (lead, lead + core), (first, last)))


def _span(
    stretch: Stretch, measured: float, number: int, count: int, lead: float, core: float, full: float
) -> tuple[float, float]:
    """Where a stretch lies on the drawn line; the first and the last reach to its ends."""
    size = measured or 1.0
    a = 0.0 if number == 0 else lead + core * stretch.start / size
    b = full if number == count - 1 else lead + core * stretch.stop / size
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


def _beside(
    line: Line, start: float, side: int, gauge: float, core: tuple[float, float], blades: tuple[bool, bool]
) -> Line:
    """A rail beside a centre line; an open blade is moved inwards where it is a blade."""
    if not any(blades):
        return offset(line, side * gauge / 2)
    fine: Line = []
    size = length(line)
    count = max(2, round(size / 3))
    fine = [at(line, size * i / count).point for i in range(count + 1)]
    bent = (core[1] - core[0]) * BLADE
    sides = []
    for i in range(len(fine)):
        along = start + size * i / count
        inward = 0.0
        if blades[0]:
            inward = max(inward, 1 - abs(along - core[0]) / bent)
        if blades[1]:
            inward = max(inward, 1 - abs(core[1] - along) / bent)
        sides.append(side * gauge * (0.5 - OPEN * inward))
    return offset(fine, sides)


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
