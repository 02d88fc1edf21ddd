"""Junctions: pieces with more than two ends, in their own proportions."""

from __future__ import annotations

from math import atan2, cos, pi, sin
from typing import TYPE_CHECKING

from netlister.draw.bent.parts import PIT, ROW, SQUEEZE, Group, Junction, Port
from netlister.draw.geometry import shape
from netlister.draw.lines import Line, Pose, curve
from netlister.draw.placing import GAUGE

if TYPE_CHECKING:
    from netlister.layout.model import Layout, Piece


def junction_of(layout: Layout, piece: Piece, scale: float) -> Junction:
    """A piece as a junction of a bent plan; `scale`: drawn units per mm."""
    made = shape(layout, piece, straightened=True)
    ports: dict[str, Port] = {}
    lines: dict[str, Line] = {}
    pit = 0.0
    if "head" in piece.kind.ends and "tail" in piece.kind.ends:
        ports, lines, pit = pit_of(piece)
    else:
        sx = scale * SQUEEZE
        longest = max(pose.x for pose in made.ends.values())
        sx = min(sx, 260 / longest) if longest else sx
        sy = scale if "lead" in piece.kind.dimensions or "point" in piece.kind.dimensions else 0.0
        rise = {}
        if not sy:  # anchors only: a row for each end
            heights = sorted({pose.y for pose in made.ends.values()})
            rise = {h: (i - (len(heights) - 1) / 2) * ROW for i, h in enumerate(heights)}
        elif "spacing" in piece.kind.dimensions:
            rise = {pose.y: ROW / 2 * (1 if pose.y > 0 else -1) for pose in made.ends.values()}
        for name, pose in made.ends.items():
            right = not piece.kind.ends[name].entering
            y = rise[pose.y] if rise else pose.y * sy
            level = Pose(0, 0, pose.heading).beyond(1.0)
            heading = 0.0 if rise else squeezed(level.x, level.y, SQUEEZE)
            if rise and not right:
                heading = pi
            ports[name] = Port(name, pose.x * sx, y, heading, right)
        for name, line in made.routes.items():
            route = next(r for r in piece.kind.routes if r.name == name)
            one, two = (ports[e] for e in route.ends)
            if rise and one.y != two.y:
                start = Pose(one.x, one.y, one.heading + pi)
                lines[name] = curve(start, Pose(two.x, two.y, two.heading), 0.42)
            elif rise:
                lines[name] = [(one.x, one.y), (two.x, two.y)]
            else:
                lines[name] = [(x * sx, y * sy) for x, y in line]
    groups = grouped(ports)
    junction = Junction(piece, ports, [], lines, pit)
    for ends in groups:
        group = Group(junction, ends)
        junction.groups.append(group)
        for port in ends:
            port.group = group
    return junction


def squeezed(x: float, y: float, by: float) -> float:
    """A heading after its direction has been squeezed along x."""
    return atan2(y, x * by)


def pit_of(piece: Piece) -> tuple[dict[str, Port], dict[str, Line], float]:
    """A turntable with its first track on one side and all others fanned out on the other."""
    stalls = [e for e in piece.kind.ends if e not in {"head", "tail"}]
    ports, lines = {}, {}
    radius = max(PIT, 7.5 * (len(stalls) - 1))
    for number, stall in enumerate(stalls):
        if number == 0:
            angle = pi
        else:
            others = len(stalls) - 1
            angle = (0.5 - (number - 0.5) / others) * pi * min(0.88, 0.25 + 0.12 * others)
        edge = radius + 5
        ports[stall] = Port(stall, edge * cos(angle), edge * sin(angle) if number else 0.0, angle, number > 0)
    for route in piece.kind.routes:
        port = ports[route.ends[0]]
        out = Pose(port.x, port.y, port.heading)
        lines[route.name] = [out.point, out.beyond(-5 - 2 * radius).point]
    return ports, lines, radius


def grouped(ports: dict[str, Port]) -> list[list[Port]]:
    """Ports by row, from top to bottom: one on the left and one on the right share one if they are level."""
    groups: list[list[Port]] = []
    for port in sorted(ports.values(), key=lambda p: -p.y):
        for group in groups:
            if len(group) == 1 and group[0].right != port.right and abs(group[0].y - port.y) < GAUGE * 0.3:
                group.append(port)
                break
        else:
            groups.append([port])
    return groups
