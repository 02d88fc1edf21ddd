"""Lines as lists of points: lengths, parts, offsets and smooth joins. Any unit; x to the right, y to the left of it."""

from __future__ import annotations

from bisect import bisect_left
from itertools import pairwise
from math import atan2, ceil, cos, hypot, pi, sin
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterable

Point = tuple[float, float]
Line = list[Point]

STEP = pi / 90
"""Arcs are drawn by chords of two degrees."""

TINY = 1e-9


class Pose(NamedTuple):
    """A place and a heading in radians, counter-clockwise from the x axis."""

    x: float
    y: float
    heading: float

    def beyond(self, length: float, turn: float = 0.0) -> Pose:
        """The pose at the end of an arc from here: `length` along it while it turns by `turn` to the left."""
        if abs(turn) < TINY:
            return Pose(self.x + length * cos(self.heading), self.y + length * sin(self.heading), self.heading)
        radius = length / turn
        last = self.heading + turn
        x = self.x + radius * (sin(last) - sin(self.heading))
        y = self.y - radius * (cos(last) - cos(self.heading))
        return Pose(x, y, last)

    def turned(self) -> Pose:
        """The same place, looking back."""
        return Pose(self.x, self.y, self.heading + pi)

    @property
    def point(self) -> Point:
        """Its place."""
        return (self.x, self.y)


def arc(start: Pose, length: float, turn: float) -> Line:
    """An arc from a pose, its ends exact; a straight line where `turn` is 0."""
    count = max(1, ceil(abs(turn) / STEP))
    return [start.beyond(length * i / count, turn * i / count).point for i in range(count + 1)]


def curve(start: Pose, stop: Pose, tension: float = 0.4) -> Line:
    """A smooth line from one pose to another, tangent to both (a cubic Bézier curve)."""
    far = hypot(stop.x - start.x, stop.y - start.y)
    if far < TINY:
        return [start.point]
    reach = far * tension
    b = start.beyond(reach).point
    c = stop.beyond(-reach).point
    a, d = start.point, stop.point
    count = max(8, min(40, ceil(far / 6)))
    line = []
    for i in range(count + 1):
        t = i / count
        u = 1 - t
        w = (u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t)
        line.append(tuple(w[0] * a[k] + w[1] * b[k] + w[2] * c[k] + w[3] * d[k] for k in (0, 1)))
    return [(p[0], p[1]) for p in line]


def joined(*lines: Line) -> Line:
    """Lines one after the other; points that coincide are kept once."""
    found: Line = []
    for line in lines:
        for point in line:
            if not found or hypot(point[0] - found[-1][0], point[1] - found[-1][1]) > TINY:
                found.append(point)
    return found


def places(line: Line) -> list[float]:
    """How far along a line each of its points is."""
    found = [0.0]
    for a, b in pairwise(line):
        found.append(found[-1] + hypot(b[0] - a[0], b[1] - a[1]))
    return found


def length(line: Line) -> float:
    """How long a line is."""
    return places(line)[-1]


def at(line: Line, along: float) -> Pose:
    """The pose a distance along a line."""
    return _at(line, places(line), along)


def shares(line: Line, parts: Iterable[float]) -> list[Pose]:
    """The poses at shares of the length of a line."""
    marks = places(line)
    return [_at(line, marks, marks[-1] * share) for share in parts]


def evenly(line: Line, count: int) -> Line:
    """Points on a line from its start to its end, `count` steps of the same length."""
    marks = places(line)
    if len(line) < 2 or marks[-1] == 0:
        return [line[0]] * (count + 1)
    found, k, step = [], 1, marks[-1] / count
    for i in range(count + 1):
        along = step * i
        while marks[k] < along and k < len(line) - 1:
            k += 1
        (ax, ay), (bx, by) = line[k - 1], line[k]
        whole = marks[k] - marks[k - 1] or 1.0
        t = (along - marks[k - 1]) / whole
        found.append((ax + (bx - ax) * t, ay + (by - ay) * t))
    return found


def _at(line: Line, marks: list[float], along: float) -> Pose:
    k = min(max(bisect_left(marks, along), 1), len(line) - 1) if len(line) > 1 else 0
    if k == 0:
        return Pose(*line[0], 0.0)
    a, b = line[k - 1], line[k]
    whole = marks[k] - marks[k - 1] or 1.0
    t = (along - marks[k - 1]) / whole
    return Pose(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t, atan2(b[1] - a[1], b[0] - a[0]))


def part_of_line(line: Line, start: float, stop: float) -> Line:
    """The part of a line between two distances along it."""
    marks = places(line)
    inner = [p for p, m in zip(line, marks, strict=True) if start + TINY < m < stop - TINY]
    return [at(line, start).point, *inner, at(line, stop).point]


def offset(line: Line, by: float | list[float]) -> Line:
    """A line beside another, `by` to its left (a number, or one for each point)."""
    if len(line) < 2:
        return list(line)
    sides = by if isinstance(by, list) else [by] * len(line)
    found = []
    for k, (x, y) in enumerate(line):
        a, b = line[max(k - 1, 0)], line[min(k + 1, len(line) - 1)]
        far = hypot(b[0] - a[0], b[1] - a[1]) or 1.0
        found.append((x - (b[1] - a[1]) / far * sides[k], y + (b[0] - a[0]) / far * sides[k]))
    return found


def meeting(one: Line, two: Line) -> Point | None:
    """The first place along `one` where two lines cross, or None."""
    for a, b in pairwise(one):
        for c, d in pairwise(two):
            rx, ry, sx, sy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
            cross = rx * sy - ry * sx
            if abs(cross) < TINY:
                continue
            t = ((c[0] - a[0]) * sy - (c[1] - a[1]) * sx) / cross
            u = ((c[0] - a[0]) * ry - (c[1] - a[1]) * rx) / cross
            if -TINY <= t <= 1 + TINY and -TINY <= u <= 1 + TINY:
                return (a[0] + rx * t, a[1] + ry * t)
    return None
