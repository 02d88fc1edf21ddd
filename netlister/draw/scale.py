"""Track to scale, laid as the layout says."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.closing import closed
from netlister.draw.geometry import gauge_of, lay_out, moved, shape
from netlister.draw.lines import Line, length
from netlister.draw.placing import GAUGE, Drawn, DrawnWay, Placed, curved, upon_another

if TYPE_CHECKING:
    from netlister.draw.geometry import Miss, PieceShape
    from netlister.layout.model import Layout

SMALLEST = 14.0
"""The shortest piece that can still be seen, with the marks at its ends."""


class Tried(NamedTuple):
    """Track to scale, or None.

    `misses`: the joints that do not meet. `upon`: pieces that would lie upon each other. `said`: what was spread.
    """

    drawn: Drawn | None
    misses: tuple[Miss, ...]
    upon: tuple[tuple[str, str], ...]
    said: tuple[str, ...] = ()


def to_scale(layout: Layout, names: list[str]) -> Tried:
    """Lay out connected pieces to scale, if they can be seen so; else what stands against it as written.

    Only where at least one curve is written, every length is, no track lies upon another, and all of it is large enough
    to see. What does not quite close is spread; what misfits is bent, and only that.
    """
    shapes = {n: shape(layout, layout.pieces[n]) for n in names}
    found = lay_out(layout, names, shapes)
    if len(found.poses) < len(names):
        return Tried(None, found.misses, ())
    if not all(s.stated for s in shapes.values()) or not any(curved(layout.pieces[n]) for n in names):
        return Tried(None, found.misses, ())
    poses = found.poses
    said: tuple[str, ...] = ()
    misses: tuple[Miss, ...] = ()
    if found.misses:
        tried = closed(layout, names, shapes)
        if tried is None:
            return Tried(None, found.misses, ())
        poses, shapes, said, misses = tried
    scale = _scale(layout, names, shapes)
    placed = {}
    for name in names:
        piece, made, pose = layout.pieces[name], shapes[name], poses[name]
        ways = {r: DrawnWay([], _scaled(moved(line, pose), scale), []) for r, line in made.routes.items()}
        ends = {e: _scaled(moved([end.point], pose), scale)[0] for e, end in made.ends.items()}
        pit = None
        if made.pit:
            (middle,) = _scaled(moved([(made.pit[0], 0.0)], pose), scale)
            pit = (middle, made.pit[1] * scale)
        placed[name] = Placed(piece, ways, ends, pit)
    too_small = any(length(w.core) < SMALLEST for one in placed.values() for w in one.ways.values() if w.core)
    upon = tuple(sorted(upon_another(layout, placed, GAUGE * 1.5)))
    if upon or too_small:
        return Tried(None, found.misses, upon)
    return Tried(Drawn(placed, true=True), misses, (), said)


def _scale(layout: Layout, names: list[str], shapes: dict[str, PieceShape]) -> float:
    """Drawn units per mm: so that turnouts fit the drawn gauge, and without turnouts so that it is a good picture."""
    scale = GAUGE / gauge_of(layout)
    if any(layout.pieces[n].kind.branching for n in names):
        return scale
    whole = sum(length(line) for n in names for line in shapes[n].routes.values())
    return min(scale, max(2400 / whole, 0.2)) if whole else scale


def _scaled(line: Line, by: float) -> Line:
    return [(x * by, y * by) for x, y in line]
