"""Track bent to fit: rows from left to right, turnouts in their true proportions, everything else as long as it needs.

Pieces with more than two ends are junctions, what lies between them are chains of plain track. Each looks right
or left, so that chains leave one to its right and arrive at the next from its left; a chain for which that cannot be so
turns round at the side (a loop), and one that closes a circle leads back over the top. Junctions stand in the order of
their chains from left to right; the rows keep the order in which legs leave their turnouts, so that they do not cross.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.draw.bent.mended import ClearPlan
from netlister.draw.bent.parts import STUB
from netlister.draw.placing import Drawn, DrawnWay, Placed

if TYPE_CHECKING:
    from netlister.layout.model import Layout


def bent(layout: Layout, names: list[str]) -> Drawn:
    """Lay out connected pieces."""
    return Drawn(ClearPlan(layout, names).placed(), true=False)


def single_piece(layout: Layout, name: str) -> Placed:
    """One piece by itself, its rails a little longer at every end so that its ends stand apart."""
    made = ClearPlan(layout, [name], {})
    found = made.placed()[name]
    junction = made.junctions.get(name)
    if junction is None:
        return found
    legs = {}
    for port in junction.ports.values():
        pose = junction.pose(port)
        legs[port.end] = [pose.point, pose.beyond(STUB).point]
    ways = {}
    for route in found.piece.kind.routes:
        before, after = (legs.get(e, []) for e in route.ends)
        ways[route.name] = DrawnWay(before[::-1], found.ways[route.name].core, after)
    return found._replace(ways=ways, ends={end: leg[-1] for end, leg in legs.items()})
