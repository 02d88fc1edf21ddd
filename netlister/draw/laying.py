"""All of a layout laid out on a drawing: where each piece lies, and what cannot lie as it was written."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.bent import bent
from netlister.draw.fold import folded
from netlister.draw.placing import GAUGE, Drawn, Placed, bounds, components, shifted, upon_another
from netlister.draw.scale import to_scale

if TYPE_CHECKING:
    from netlister.draw.geometry import Miss
    from netlister.layout.model import Layout

BETWEEN = 46.0


class Drawing(NamedTuple):
    """All of a layout laid out: its connected components, stacked.

    `misses`, `upon`: what as written does not close, and pieces that would lie upon each other. `crossing`: pieces that
    cross on the drawing though they are not joined there. `spread`: closing errors that were spread, and how.
    """

    parts: tuple[Drawn, ...]
    misses: tuple[Miss, ...]
    upon: tuple[tuple[str, str], ...] = ()
    crossing: tuple[tuple[str, str], ...] = ()
    spread: tuple[str, ...] = ()

    @property
    def placed(self) -> dict[str, Placed]:
        """Every piece on the drawing."""
        return {name: one for part in self.parts for name, one in part.placed.items()}


def laid_out(layout: Layout, *, fold: bool = True) -> Drawing:
    """Lay out all of a layout; parts that are not connected stand below each other, long ones in strips."""
    parts: list[Drawn] = []
    misses: list[Miss] = []
    upon: list[tuple[str, str]] = []
    spread: list[str] = []
    below = 0.0
    for names in components(layout):
        true, missed, crossed, said = to_scale(layout, names)
        misses += missed
        spread += said
        upon += crossed
        drawn = true or bent(layout, names)
        kept = folded(layout, drawn.placed) if fold else drawn.placed
        left, low, _, high = bounds(kept.values())
        shift = (-left, below - high)
        parts.append(Drawn({n: shifted(p, shift) for n, p in kept.items()}, drawn.true))
        below += low - high - BETWEEN - 2 * GAUGE
    placed = {name: one for part in parts if not part.true for name, one in part.placed.items()}
    return Drawing(tuple(parts), tuple(misses), tuple(upon), tuple(sorted(upon_another(layout, placed))), tuple(spread))


def misfit(miss: Miss) -> str:
    """What there is to say of ends that do not meet."""
    return f"{miss.joint.name}: laid as written the ends are {miss.gap:.0f} mm and {miss.angle:.0f} deg apart"


def remarks(drawing: Drawing) -> list[str]:
    """What there is to say of a layout that cannot be laid as written, a line each."""
    crossed = [f"{a} and {b}: laid as written one would lie upon the other" for a, b in drawing.upon]
    bent = [f"{a} and {b} cross on the drawing, but do not touch" for a, b in drawing.crossing]
    return [misfit(miss) for miss in drawing.misses] + list(drawing.spread) + crossed + bent
