"""Loops of track that do not quite close: the error is spread over joints and straight track, as in laying it.

Pieces lie on a tree of joints; each joint beside the tree closes a loop and gives three equations (along, across,
heading). The smallest deviations that close them all, each weighed by what it may well be, are a least-norm problem
whose matrix is as large as there are loops. It is solved again where the pieces then lie, until nothing is left.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import cos, degrees, hypot, pi, radians, remainder, sin
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.geometry import CLOSE, SQUARE, Miss, PieceShape, end_at, laid
from netlister.draw.lines import Pose, arc, curve, length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.layout.model import Joint, Layout

# common practice, no published source: what a joiner takes up unseen, and by how much straight track is bent or cut
GAP, KINK = 0.3, radians(0.3)
"""mm and radians that a joint may well be off by."""

BEND, STRETCH, PER = radians(4.0), 2.0, 900.0
"""By how much straight track of the length `PER` (mm) may well bend (radians) and be longer or shorter (mm)."""

MOST_GAP, MOST_KINK, MOST_BEND, MOST_STRETCH = 1.5, radians(1.5), radians(12.0), 12.0
"""Where more than this is needed the loop is a misfit."""

MOST_LOOPS, ROUNDS = 250, 8
SHORTEST, LONGEST = 0.7, 1.4
"""Between its ends a misfit may be laid so much shorter and longer than it is."""

Deviation = tuple[str, str, str]
"""What deviates: "joint" or "piece", its name, and what of it: x, y, turn or stretch, bend."""


class Closed(NamedTuple):
    """Pieces laid so that all joints close.

    `shapes`: of pieces that were bent. `said`: what was spread, a line each. `misfits`: what was bent to fit.
    """

    poses: dict[str, Pose]
    shapes: dict[str, PieceShape]
    said: tuple[str, ...]
    misfits: tuple[Miss, ...]


@dataclass
class _LayingTree:
    """Pieces in the order in which they are laid, each by a joint from one laid before."""

    order: list[tuple[str, Joint | None, str, tuple[str, str]]] = field(default_factory=list)
    entry: dict[str, str] = field(default_factory=dict)
    parent: dict[str, tuple[str, str]] = field(default_factory=dict)
    over: dict[str, str] = field(default_factory=dict)
    rest: list[Joint] = field(default_factory=list)


def closed(layout: Layout, names: list[str], shapes: dict[str, PieceShape]) -> Closed | None:
    """Lay connected pieces so that every loop closes, or None where that cannot be done without bending most of it."""
    tree = _tree(layout, names, shapes)
    if len(tree.order) < len(names) or len(tree.rest) > MOST_LOOPS:
        return None
    loops, misfits = list(tree.rest), []
    while True:
        solved = _solved(layout, tree, shapes, loops)
        if solved is not None:
            break
        poses = _laid(tree, shapes, {})
        worst = max(loops, key=lambda j: _size(_residual(j, shapes, poses)), default=None)
        if worst is None:
            return None
        loops.remove(worst)
        misfits.append(worst)
    return _finished(layout, tree, shapes, solved, misfits)


def _tree(layout: Layout, names: list[str], shapes: dict[str, PieceShape]) -> _LayingTree:
    near: dict[str, list[Joint]] = {name: [] for name in names}
    for joint in layout.joints:
        if all(p in near and e in shapes[p].ends for p, e in (joint.start, joint.end)):
            near[joint.start[0]].append(joint)
            near[joint.end[0]].append(joint)
    tree = _LayingTree()
    tree.order.append((names[0], None, "", ("", "")))
    seen, used = {names[0]}, set()
    for here, *_ in tree.order:  # grows while it is read: breadth first
        for joint in near[here]:
            for one, two in ((joint.start, joint.end), (joint.end, joint.start)):
                if one[0] == here and two[0] not in seen:
                    seen.add(two[0])
                    used.add(id(joint))
                    tree.entry[two[0]], tree.parent[two[0]], tree.over[two[0]] = two[1], one, joint.name
                    tree.order.append((two[0], joint, two[1], one))
    tree.rest = [j for j in dict.fromkeys(j for n in names for j in near[n]) if id(j) not in used]
    return tree


def _flexible(layout: Layout, name: str) -> bool:
    """Whether a piece is straight track, which can be bent a little and cut to length."""
    piece = layout.pieces[name]
    return len(piece.kind.ends) == 2 and piece.kind.plain and piece.said.radius is None


def _bent(shape: PieceShape, found: dict[Deviation, float], name: str) -> PieceShape:
    stretch, bend = found.get(("piece", name, "stretch"), 0.0), found.get(("piece", name, "bend"), 0.0)
    if not stretch and not bend:
        return shape
    (route, line), *_ = shape.routes.items()
    whole = length(line) + stretch
    start = Pose(0.0, 0.0, 0.0)
    last = start.beyond(whole, bend)
    ends = {e: start.turned() if pose.x == 0 and pose.y == 0 else last for e, pose in shape.ends.items()}
    return shape._replace(routes={route: arc(start, whole, bend)}, ends=ends)


def _laid(tree: _LayingTree, shapes: dict[str, PieceShape], found: dict[Deviation, float]) -> dict[str, Pose]:
    poses = {tree.order[0][0]: Pose(0.0, 0.0, 0.0)}
    for name, _, end, before in tree.order[1:]:
        out = end_at(shapes[before[0]], before[1], poses[before[0]])
        over = tree.over[name]
        x, y, turn = (found.get(("joint", over, what), 0.0) for what in ("x", "y", "turn"))
        poses[name] = laid(shapes[name], end, Pose(out.x + x, out.y + y, out.heading + turn + pi))
    return poses


def _residual(joint: Joint, shapes: dict[str, PieceShape], poses: dict[str, Pose]) -> tuple[float, float, float]:
    one, two = (end_at(shapes[p], e, poses[p]) for p, e in (joint.start, joint.end))
    return two.x - one.x, two.y - one.y, remainder(two.heading - one.heading - pi, 2 * pi)


def _size(miss: tuple[float, float, float]) -> float:
    return hypot(miss[0], miss[1]) + degrees(abs(miss[2])) * 5


def _branch(tree: _LayingTree, end: tuple[str, str]) -> list[tuple[str, str]]:
    """From the end of a joint back to the first piece: pieces, each with the end by which its track is left."""
    found = [end]
    while end[0] in tree.parent:
        end = tree.parent[end[0]]
        found.append(end)
    return found


def _effects(
    layout: Layout, tree: _LayingTree, shapes: dict[str, PieceShape], poses: dict[str, Pose], joint: Joint
) -> Iterator[tuple[Deviation, tuple[float, float, float]]]:
    """What moves the ends of a joint apart, and by how much of x, y and heading for one unit."""
    for sign, end in ((-1.0, joint.start), (1.0, joint.end)):
        spot = end_at(shapes[end[0]], end[1], poses[end[0]])
        for name, leave in _branch(tree, end):
            entry = tree.entry.get(name, "")
            ends = shapes[name].ends
            if leave != (entry or _origin(shapes[name])) and _flexible(layout, name):
                out = end_at(shapes[name], leave, poses[name])
                other = next(e for e in ends if e != leave)
                start = end_at(shapes[name], other, poses[name])
                mid = ((out.x + start.x) / 2, (out.y + start.y) / 2)
                way = 1.0 if other == _origin(shapes[name]) else -1.0
                yield ("piece", name, "stretch"), (sign * cos(out.heading), sign * sin(out.heading), 0.0)
                yield ("piece", name, "bend"), _turned(sign * way, spot, mid)
            if entry:
                at = end_at(shapes[name], entry, poses[name]).point
                over = tree.over[name]
                yield ("joint", over, "x"), (sign, 0.0, 0.0)
                yield ("joint", over, "y"), (0.0, sign, 0.0)
                yield ("joint", over, "turn"), _turned(sign, spot, at)
    own = joint.name
    yield ("joint", own, "x"), (1.0, 0.0, 0.0)
    yield ("joint", own, "y"), (0.0, 1.0, 0.0)
    yield ("joint", own, "turn"), (0.0, 0.0, 1.0)


def _turned(sign: float, spot: Pose, around: tuple[float, float]) -> tuple[float, float, float]:
    return (-sign * (spot.y - around[1]), sign * (spot.x - around[0]), sign)


def _origin(shape: PieceShape) -> str:
    return next((e for e, pose in shape.ends.items() if pose.x == 0 and pose.y == 0), "")


def _solved(
    layout: Layout, tree: _LayingTree, shapes: dict[str, PieceShape], loops: list[Joint]
) -> tuple[dict[str, Pose], dict[str, PieceShape], dict[Deviation, float]] | None:
    """Deviations that close the loops, or None where they would be larger than track allows."""
    import numpy as np

    found: dict[Deviation, float] = {}
    if not loops:
        return _laid(tree, shapes, {}), shapes, found
    for _ in range(ROUNDS):
        bent = {n: _bent(s, found, n) for n, s in shapes.items()}
        poses = _laid(tree, bent, found)
        effects = [dict(_added(_effects(layout, tree, bent, poses, joint))) for joint in loops]
        elements = list(dict.fromkeys(e for effect in effects for e in effect))
        number = {e: i for i, e in enumerate(elements)}
        matrix, wanted = np.zeros((3 * len(loops), len(elements))), np.zeros(3 * len(loops))
        for k, (joint, effect) in enumerate(zip(loops, effects, strict=True)):
            for element, by in effect.items():
                matrix[3 * k : 3 * k + 3, number[element]] = by
            miss = list(_residual(joint, bent, poses))
            for i, what in enumerate(("x", "y", "turn")):  # what the joint itself takes up is no miss
                miss[i] += found.get(("joint", joint.name, what), 0.0)
            wanted[3 * k : 3 * k + 3] = miss
        if not np.all(np.isfinite(wanted)):
            return None
        have = np.array([found.get(e, 0.0) for e in elements])
        weight = np.array([_usual(shapes, e) ** 2 for e in elements])
        # the least weighed deviations, counted from none: matrix (new - have) = -wanted
        right = matrix @ have - wanted
        solved, *_ = np.linalg.lstsq((matrix * weight) @ matrix.T, right, rcond=1e-12)
        new = weight * (matrix.T @ solved)
        done = float(np.max(np.abs(matrix @ new - right), initial=0.0)) < 1e-6
        step = float(np.max(np.abs(new - have), initial=0.0))
        found = dict(zip(elements, map(float, new), strict=True))
        if any(abs(v) > 3 * _most(shapes, e) for e, v in found.items()):
            return None
        if done and step < 1e-4:
            break
    if any(abs(v) > _most(shapes, e) for e, v in found.items()):
        return None
    bent = {n: _bent(s, found, n) for n, s in shapes.items()}
    poses = _laid(tree, bent, found)
    for joint in loops:
        x, y, turn = _residual(joint, bent, poses)
        if hypot(x, y) > 2 * MOST_GAP or abs(turn) > 2 * MOST_KINK:
            return None
    return poses, bent, found


def _added(
    effects: Iterator[tuple[Deviation, tuple[float, float, float]]],
) -> Iterator[tuple[Deviation, tuple[float, float, float]]]:
    """Effects of one element on both ends of a joint, added up; what moves both alike falls out."""
    total: dict[Deviation, tuple[float, float, float]] = {}
    for element, by in effects:
        have = total.get(element, (0.0, 0.0, 0.0))
        total[element] = (have[0] + by[0], have[1] + by[1], have[2] + by[2])
    yield from total.items()


def _usual(shapes: dict[str, PieceShape], element: Deviation) -> float:
    what, name, which = element
    if what == "joint":
        return KINK if which == "turn" else GAP
    share = float((length(next(iter(shapes[name].routes.values()))) / PER) ** 0.5)
    return (BEND if which == "bend" else STRETCH) * share


def _most(shapes: dict[str, PieceShape], element: Deviation) -> float:
    what, name, which = element
    if what == "joint":
        return MOST_KINK if which == "turn" else MOST_GAP
    share = length(next(iter(shapes[name].routes.values()))) / PER
    return MOST_BEND * max(share, 0.2) if which == "bend" else max(MOST_STRETCH * share, 2.0)


def _finished(
    layout: Layout,
    tree: _LayingTree,
    shapes: dict[str, PieceShape],
    solved: tuple[dict[str, Pose], dict[str, PieceShape], dict[Deviation, float]],
    misfits: list[Joint],
) -> Closed | None:
    poses, bent, found = solved
    plain, start = _laid(tree, shapes, {}), dict(bent)
    misses = []
    for joint in misfits:
        x, y, turn = _residual(joint, shapes, plain)
        misses.append(Miss(joint, hypot(x, y), degrees(abs(turn))))
        if not _bend_to_fit(layout, tree, start, poses, joint):
            return None
    said = []
    loops = [j for j in tree.rest if j not in misfits]
    errors = [(m, j) for j in loops for m in [_residual(j, shapes, plain)]]
    errors = [(m, j) for m, j in errors if hypot(m[0], m[1]) > CLOSE or degrees(abs(m[2])) > SQUARE]
    if errors:
        joints = {n for w, n, _ in found if w == "joint"}
        straight = {n for w, n, _ in found if w == "piece"}
        gap = max(hypot(found[w, n, "x"], found[w, n, "y"]) for w, n, k in found if w == "joint" and k == "x")
        kink = max((abs(v) for (w, _, k), v in found.items() if w == "joint" and k == "turn"), default=0.0)
        bend = max((abs(v) for (w, _, k), v in found.items() if w == "piece" and k == "bend"), default=0.0)
        cut = max((abs(v) for (w, _, k), v in found.items() if w == "piece" and k == "stretch"), default=0.0)
        for (x, y, turn), joint in errors:
            said.append(f"{joint.name}: {hypot(x, y):.1f} mm and {degrees(abs(turn)):.1f} deg do not close as written")
        flex = f" and {len(straight)} straight piece{'s' * (len(straight) != 1)}" if straight else ""
        most = f"at most {gap:.1f} mm and {degrees(kink):.1f} deg at a joint"
        more = f", {degrees(bend):.1f} deg and {cut:.1f} mm in a straight piece" if straight else ""
        said.append(f"this is spread over {len(joints)} joint{'s' * (len(joints) != 1)}{flex}: {most}{more}")
    return Closed(poses, start, tuple(said), tuple(misses))


def _bend_to_fit(
    layout: Layout, tree: _LayingTree, shapes: dict[str, PieceShape], poses: dict[str, Pose], joint: Joint
) -> bool:
    """Lay one straight piece at a joint from where its other end lies to the joint, as a smooth curve."""
    for mine, other in ((joint.start, joint.end), (joint.end, joint.start)):
        held = {end for one, end in tree.parent.values() if one == mine[0]}
        if not _flexible(layout, mine[0]) or mine[1] in held:
            continue
        shape, pose = shapes[mine[0]], poses[mine[0]]
        far = next(e for e in shape.ends if e != mine[1])
        start, goal = end_at(shape, far, pose).turned(), end_at(shapes[other[0]], other[1], poses[other[0]]).turned()
        (route, line), *_ = shape.routes.items()
        whole = length(line)
        made = curve(start, goal, 0.4)
        if not SHORTEST * whole <= length(made) <= LONGEST * whole:
            continue
        first = _origin(shape) == far
        shapes[mine[0]] = shape._replace(
            routes={route: made if first else made[::-1]}, ends={far: start.turned(), mine[1]: goal}
        )
        poses[mine[0]] = Pose(0.0, 0.0, 0.0)
        return True
    return False
