"""What both ways to lay out a plan give: for each piece the lines of its routes on the drawing."""

from __future__ import annotations

from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.geometry import turn_of
from netlister.draw.lines import evenly, joined_lines, length

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.draw.lines import Line, Point
    from netlister.layout.model import Joint, Layout, Piece

GAUGE = 12.0
"""Between the two rails of a track on the drawing."""

PieceEnd = tuple[str, str]
"""A piece and one of its ends."""


class DrawnWay(NamedTuple):
    """A route on the drawing, from its first end to its second: the route itself, and what leads to it and from it."""

    before: Line
    core: Line
    after: Line


class Placed(NamedTuple):
    """A piece on the drawing; y points up. `ways`: by route. `ends`: the place of each end."""

    piece: Piece
    ways: dict[str, DrawnWay]
    ends: dict[str, Point]
    pit: tuple[Point, float] | None = None


class Drawn(NamedTuple):
    """Connected pieces, laid out. `true`: to scale, as written; else bent to fit."""

    placed: dict[str, Placed]
    true: bool


def bounds(placed: Iterable[Placed]) -> tuple[float, float, float, float]:
    """The least x, least y, greatest x and greatest y of some pieces."""
    points: list[Point] = []
    for one in placed:
        for way in one.ways.values():
            points += [*way.before, *way.core, *way.after]
        points += one.ends.values()
        if one.pit:
            (x, y), r = one.pit
            points += [(x - r, y - r), (x + r, y + r)]
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def shifted(one: Placed, by: Point) -> Placed:
    """A piece moved without turning it."""

    def go(line: Line) -> Line:
        return [(x + by[0], y + by[1]) for x, y in line]

    ways = {n: type(w)(go(w.before), go(w.core), go(w.after)) for n, w in one.ways.items()}
    ends = {e: (p[0] + by[0], p[1] + by[1]) for e, p in one.ends.items()}
    pit = ((one.pit[0][0] + by[0], one.pit[0][1] + by[1]), one.pit[1]) if one.pit else None
    return Placed(one.piece, ways, ends, pit)


def components(layout: Layout) -> list[list[str]]:
    """The connected components of the pieces, in the order of the file."""
    near: dict[str, list[str]] = {name: [] for name in layout.pieces}
    for joint in layout.joints:
        if not on_a_bridge(layout, joint):
            near[joint.start[0]].append(joint.end[0])
            near[joint.end[0]].append(joint.start[0])
    number = {name: i for i, name in enumerate(layout.pieces)}
    seen: set[str] = set()
    found = []
    for name in layout.pieces:
        if name in seen:
            continue
        group, stack = [], [name]
        seen.add(name)
        while stack:
            here = stack.pop()
            group.append(here)
            for other in near[here]:
                if other not in seen:
                    seen.add(other)
                    stack.append(other)
        found.append(sorted(group, key=number.__getitem__))
    return found


def on_a_bridge(layout: Layout, joint: Joint) -> bool:
    """Whether a joint is at an end of a turntable's bridge: that moves about, so that nothing can be drawn there."""
    return any(end in {"head", "tail"} and end in layout.pieces[p].kind.gaps for p, end in (joint.start, joint.end))


def neighbours(layout: Layout) -> dict[PieceEnd, PieceEnd]:
    """Which end each joined end is joined to."""
    found = {}
    for joint in layout.joints:
        if on_a_bridge(layout, joint):
            continue
        found[joint.start] = joint.end
        found[joint.end] = joint.start
    return found


def curved(piece: Piece) -> bool:
    """Whether the layout says that a piece of plain track is a curve."""
    return abs(turn_of(piece)) > 0


def upon_another(layout: Layout, placed: dict[str, Placed], room: float = GAUGE + 2) -> set[tuple[str, str]]:
    """Pairs of pieces whose track lies on each other: centre lines nearer than `room`, and no joint near by."""
    near: dict[str, set[str]] = {n: {n} for n in placed}
    for joint in layout.joints:
        if joint.start[0] in near and joint.end[0] in near:
            near[joint.start[0]].add(joint.end[0])
            near[joint.end[0]].add(joint.start[0])
    cells: dict[tuple[int, int], list[tuple[Point, str]]] = {}
    for name, one in placed.items():
        seen: set[tuple[int, int]] = set()
        for way in one.ways.values():
            for x, y in dots(joined_lines(*way), GAUGE / 2):
                key = (round(x), round(y))
                if key not in seen:
                    seen.add(key)
                    cells.setdefault((int(x // room), int(y // room)), []).append(((x, y), name))
    found = set()
    for (i, j), here in cells.items():
        around = [e for a in (-1, 0, 1) for b in (-1, 0, 1) for e in cells.get((i + a, j + b), ())]
        for p, name in here:
            for q, other in around:
                if other <= name or (other, name) in found:
                    continue
                if hypot(p[0] - q[0], p[1] - q[1]) < room and not _beside_a_joint(near, placed, name, other, p):
                    found.add((name, other))
    return found


def _beside_a_joint(near: dict[str, set[str]], placed: dict[str, Placed], one: str, two: str, spot: Point) -> bool:
    """Whether a place lies where two pieces meet, or at a third piece that both are joined to, just past its frog."""
    meeting = [p for third in near[one] & near[two] - {one, two} for p in placed[third].ends.values()]
    if two in near[one]:
        meeting += [*placed[one].ends.values(), *placed[two].ends.values()]
    return any(hypot(spot[0] - x, spot[1] - y) < 5 * GAUGE for x, y in meeting)


def dots(line: Line, step: float) -> list[Point]:
    """Points along a line, about a step apart."""
    return evenly(line, max(1, round(length(line) / step)))
