"""What the trains of one supply do to those of another through wires and rails that carry both currents."""

from __future__ import annotations

from itertools import permutations
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.volts.drop import Drop, Survey

MOST = 200
"""No more places of one supply than this are tried."""


class Disturbance(NamedTuple):
    """A train of supply `by` on `source` that draws `amps` changes the voltage of one of supply `of` on `piece`."""

    by: str
    of: str
    source: str
    piece: str
    amps: float
    volts: float
    share: float


def disturbances(survey: Survey) -> Iterator[Disturbance]:
    """The greatest disturbance of each supply by each other one that shares a pole with it."""
    places: dict[str, list[tuple[Drop, tuple[int, ...]]]] = {}
    for drop in survey.pieces().values():
        if drop is not None:
            nodes = _nodes(survey, drop)
            if nodes:
                places.setdefault(drop.supply, []).append((drop, nodes))
    supplies = survey.layout.supplies
    for by, of in permutations(supplies, 2):
        amps = survey.current(by)
        if amps and set(supplies[by].poles) & set(supplies[of].poles) and supplies[of].voltage:
            found = _worst(survey, places.get(by, [])[:MOST], places.get(of, []))
            if found is not None:
                ohm, source, piece = found
                yield Disturbance(by, of, source, piece, amps, ohm * amps, ohm * amps / supplies[of].voltage)


def _worst(
    survey: Survey, sources: list[tuple[Drop, tuple[int, ...]]], others: list[tuple[Drop, tuple[int, ...]]]
) -> tuple[float, str, str] | None:
    """The greatest resistance that places of two supplies share, and those places."""
    solver = survey.solver
    best: tuple[float, str, str] | None = None
    for drop, nodes in sources:
        for here in nodes:
            column = solver.column(here)
            for other, there in others:
                shared = max(
                    (float(column[solver.place[n]]) for n in there if solver.part[n] == solver.part[here]), default=0.0
                )
                if shared > 0 and (best is None or shared > best[0]):
                    best = shared, drop.piece, other.piece
    return best


def _nodes(survey: Survey, drop: Drop) -> tuple[int, ...]:
    """The nodes next to a place that are always fed."""
    solver = survey.solver
    found = []
    for spot in survey.network.spots(drop.piece, drop.route, drop.at):
        node = solver.root[spot.j if spot.share > 0.5 else spot.i]  # noqa: PLR2004 - the nearer end
        if solver.place[node] >= 0:
            found.append(node)
    return tuple(found)
