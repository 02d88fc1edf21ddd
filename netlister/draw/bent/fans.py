"""Fans of legs that would grow ever deeper along a row are ended: the row is drawn out until the legs before are done.

A leg lies below all legs that leave its row before it and reach beyond it, so that a line of sidings, each longer than
the way to the next, would become a stair as deep as the line is long.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.draw.bent.parts import ROW, beyond_of
from netlister.draw.bent.rows import RowPlan

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.draw.bent.parts import Chain, Group, Junction, Port

DEEPEST = 5
"""Rows of legs one below another; with more the row is drawn out."""

FEW = 24
"""A row with no more legs than these is left as it is."""

MOST_HANGING = 24
"""A leg that more junctions hang from than this is no siding, and is left as it is."""

APART = 30.0
"""Between the end of one leg and the beginning of the next on the same height."""

ROUNDS = 4
"""Rows are drawn out no more often than this."""


class Fans(RowPlan):
    """Rows with no more legs one below another than can be followed."""

    def _stand(self) -> None:
        """Columns, extents and heights, until they agree."""
        for _ in range(4):
            self._columns()
            self._extents()
            self._heights()
        self._extents()

    def _unfan(self) -> None:
        """Draw rows out where too many legs lie one below another; before rows have heights, so that legs are short."""
        for _ in range(ROUNDS):
            self._columns()
            self._extents()
            if not sum([self._drawn_out(members, side) for (_, _, side), members in self._fans()]):
                return

    def _fans(self) -> Iterator[tuple[tuple[int, bool, int], list[tuple[Junction, float, int]]]]:
        """Legs by the row that they leave, whether they lie above it, and to which side they run.

        Each as its junction, how far all that hangs from it reaches beyond the junction, and on how many rows.
        """
        found: dict[tuple[int, bool, int], list[tuple[Junction, float, int]]] = {}
        for junction in self.order:
            order = junction.ordered()
            main = max(order, key=lambda g: len(g.ports))
            for group in order:
                if group is main or len(group.ports) > 1 or main.row is None or group.row is None:
                    continue
                hanging = _hanging(junction, group.ports[0])
                if hanging is None:
                    continue
                side = junction.side(group.ports[0])
                key = (id(main.row), order.index(group) < order.index(main), side)
                found.setdefault(key, []).append((junction, *_reach(junction, group, hanging, side)))
        for key, members in found.items():
            yield key, sorted(members, key=lambda m: m[0].x * key[2])

    def _drawn_out(self, members: list[tuple[Junction, float, int]], side: int) -> bool:
        """Draw out the chain before each leg that would lie too deep; whether any was."""
        if len(members) <= FEW:
            return False
        depth, done, moved = 0, float("-inf"), 0.0
        changed = False
        for junction, reach, rows in members:
            here = junction.x * side + moved
            if here - junction.reach(-side) - APART >= done:
                depth = 0
            elif depth + rows > DEEPEST:
                chain = _chain_before(junction, side)
                if chain is not None:
                    wanted = done + APART + 10 + junction.reach(-side) - here
                    chain.slack += wanted
                    moved += wanted
                    here += wanted
                    depth, changed = 0, True
            depth += rows
            done = max(done, here + reach)
        return changed


def _hanging(junction: Junction, port: Port) -> list[Junction] | None:
    """The junctions that hang from a leg, or None where they are many or joined to its own in another way as well."""
    found: list[Junction] = []
    seen = {id(junction)}
    ends = [port]
    while ends:
        end = ends.pop()
        if end.chain and end.chain.kind != "straight":
            return None
        other = beyond_of(end)
        if other is None:
            continue
        there, arrival = other
        if id(there) in seen or len(found) >= MOST_HANGING:
            return None
        seen.add(id(there))
        found.append(there)
        ends += [p for p in there.ports.values() if p is not arrival]
    return found


def _reach(junction: Junction, leg: Group, hanging: list[Junction], side: int) -> tuple[float, int]:
    """How far a leg and all that hangs from it reach beyond a junction, and on how many rows."""
    rows = {id(leg.row): leg.row} | {id(g.row): g.row for one in hanging for g in one.groups}
    edge = max((row.stop if side > 0 else -row.start) for row in rows.values() if row)
    return edge - junction.x * side + 0.75 * DEEPEST * ROW, len(rows)


def _chain_before(junction: Junction, side: int) -> Chain | None:
    """The chain by which a junction is reached on its row from the side that its legs run away from."""
    main = max(junction.groups, key=lambda g: len(g.ports))
    for port in main.ports:
        if junction.side(port) == -side and port.chain and port.chain.kind == "straight":
            return port.chain if beyond_of(port) else None
    return None
