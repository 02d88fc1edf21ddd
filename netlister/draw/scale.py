"""Track to scale, laid as the layout says."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.geometry import gauge_of, moved, reckon, shape
from netlister.draw.lines import Line, length
from netlister.draw.placing import GAUGE, Drawn, Placed, Way, curved, upon_another

if TYPE_CHECKING:
    from netlister.draw.geometry import Miss, Shape
    from netlister.layout.model import Layout

WIDEST = 2400.0
"""As wide as a drawing to scale may be; a larger one would be mostly empty paper."""

SMALLEST = 40.0


class Tried(NamedTuple):
    """Track to scale, or None; the joints that do not meet, and the pieces that would lie upon each other."""

    drawn: Drawn | None
    misses: tuple[Miss, ...]
    upon: tuple[tuple[str, str], ...]


def to_scale(layout: Layout, names: list[str]) -> Tried:
    """Lay out pieces that hang together to scale, if they can be seen so; else what stands against it as written.

    Only where at least one curve is written, every length is, all ends meet, no track lies upon another, and all of it
    is large enough to see.
    """
    shapes = {n: shape(layout, layout.pieces[n]) for n in names}
    found = reckon(layout, names, shapes)
    if found.misses or len(found.poses) < len(names):
        return Tried(None, found.misses, ())
    if not all(s.stated for s in shapes.values()) or not any(curved(layout.pieces[n]) for n in names):
        return Tried(None, (), ())
    scale = _scale(layout, names, shapes)
    placed = {}
    for name in names:
        piece, made, pose = layout.pieces[name], shapes[name], found.poses[name]
        ways = {r: Way([], _scaled(moved(line, pose), scale), []) for r, line in made.routes.items()}
        ends = {e: _scaled(moved([end.point], pose), scale)[0] for e, end in made.ends.items()}
        pit = None
        if made.pit:
            (middle,) = _scaled(moved([(made.pit[0], 0.0)], pose), scale)
            pit = (middle, made.pit[1] * scale)
        placed[name] = Placed(piece, ways, ends, pit)
    points = [p for one in placed.values() for way in one.ways.values() for p in way.core]
    wide = max(p[0] for p in points) - min(p[0] for p in points)
    high = max(p[1] for p in points) - min(p[1] for p in points)
    too_small = any(length(w.core) < SMALLEST for one in placed.values() for w in one.ways.values() if w.core)
    upon = tuple(sorted(upon_another(layout, placed, GAUGE * 1.5)))
    if upon or max(wide, high) > WIDEST or too_small:
        return Tried(None, (), upon)
    return Tried(Drawn(placed, true=True), (), ())


def _scale(layout: Layout, names: list[str], shapes: dict[str, Shape]) -> float:
    """Drawn units per mm: so that turnouts fit the drawn gauge, and without turnouts so that it is a good picture."""
    scale = GAUGE / gauge_of(layout)
    if any(len(layout.pieces[n].kind.ends) > 2 for n in names):
        return scale
    whole = sum(length(line) for n in names for line in shapes[n].routes.values())
    return min(scale, max(2400 / whole, 0.2)) if whole else scale


def _scaled(line: Line, by: float) -> Line:
    return [(x * by, y * by) for x, y in line]
