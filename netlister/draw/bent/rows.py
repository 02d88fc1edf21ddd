"""Rows: which legs and chains share one, how far each reaches, and how high it lies."""

from __future__ import annotations

from math import pi

from netlister.draw.bent.columns import ColumnPlan
from netlister.draw.bent.parts import ROUND, ROW, Chain, Group, Junction, TrackRow, beyond_of

CELL = 400.0
"""The width is divided into cells of this size, so that each row is compared only with rows near it."""


class RowPlan(ColumnPlan):
    """Junctions and chains on rows."""

    def _walk(self) -> None:
        """Give every group and every chain its row."""
        start = self.order[0]
        row = self.root = TrackRow()
        self.rows.append(row)
        main = max(start.groups, key=lambda g: (len(g.ports), alone_there(start, g), -start.groups.index(g)))
        pending: list[Group] = []
        self._enter(start, main, row)
        self._along(main, row, pending)
        while pending or any(g.row is None for n in self.order for g in n.groups):
            if not pending:
                group = next(g for n in self.order for g in n.groups if g.row is None)
                beside = next((g.row for g in group.junction.groups if g.row), None)
                fresh = self._beside(group, beside)
                self._enter(group.junction, group, fresh)
                self._along(group, fresh, pending)
                continue
            self._branch(pending)

    def _enter(self, junction: Junction, group: Group, row: TrackRow) -> None:
        """Put a group of a junction's ends on a row."""
        group.row = row
        junction.placed = True
        row.pad = max(row.pad, junction.pit and 13.0)

    def _along(self, group: Group, row: TrackRow, pending: list[Group]) -> None:
        """Follow a row from a group to both sides, then note the legs that leave it."""
        members = [group]
        queue = [(p, group.junction) for p in group.ports]
        while queue:
            port, _junction = queue.pop(0)
            chain = port.chain
            if chain is None or chain.rows is not None:
                continue
            if chain.kind != "straight":
                continue
            chain.rows = (row, row)
            row.slim = row.slim and not chain.pieces
            other = beyond_of(port)
            if other is None:
                continue
            junction, arrival = other
            if arrival.group.row is None:
                fresh = not junction.placed
                self._enter(junction, arrival.group, row)
                members.append(arrival.group)
                if fresh or len(arrival.group.ports) > 1:
                    queue += [(p, junction) for p in arrival.group.ports if p is not arrival]
            # else the chain arrives at a row of its own by a ramp
        legs: list[tuple[float, float, Group]] = []
        for member in members:
            junction = member.junction
            for leg in junction.groups:
                if leg.row is None:
                    right = any(junction.side(p) > 0 for p in leg.ports)
                    through = right and any(junction.side(p) < 0 for p in leg.ports)
                    legs.append((2.0 if through else 0.0 if right else 1.0, junction.x if right else -junction.x, leg))
        # what comes later lies further in: of legs to the right those of junctions further right, and so to the left
        pending[:0] = [leg for *_, leg in sorted(legs, key=lambda e: e[:2])]

    def _branch(self, pending: list[Group]) -> None:
        """Give the next leg that waits a row of its own, beside the nearest of its junction."""
        group = pending.pop(0)
        if group.row is not None:
            return
        near = next((g.row for g in self._by_distance(group) if g.row), None)
        row = self._beside(group, near)
        self._enter(group.junction, group, row)
        self._along(group, row, pending)

    @staticmethod
    def _by_distance(group: Group) -> list[Group]:
        """The groups of a junction, the nearest to one of them first."""
        order = group.junction.ordered()
        mine = order.index(group)
        return sorted(order, key=lambda g: abs(order.index(g) - mine))

    def _beside(self, group: Group, near: TrackRow | None) -> TrackRow:
        """A new row for a group, just above or below a row that its junction is on."""
        row = TrackRow()
        if near is None:
            self.rows.append(row)
            return row
        order = group.junction.ordered()
        base = next(g for g in order if g.row is near)
        above = order.index(group) < order.index(base)
        place = self.rows.index(near)
        self.rows.insert(place if above else place + 1, row)
        return row

    # -- extents and heights

    def _extents(self) -> None:
        """How far each row reaches to the left and to the right."""
        for row in self.rows:
            row.start, row.stop = float("inf"), float("-inf")
        for junction in self.order:
            for group in junction.groups:
                assert group.row
                widen(group.row, junction.x - junction.reach(-1) - 4, junction.x + junction.reach(1) + 4)
        for chain in self.chains:
            if chain.kind != "straight" or not chain.rows:
                continue
            one, two = chain.junctions
            assert one
            assert chain.first
            side = one.side(chain.first)
            a = one.pose(chain.first).x
            b = (
                two.pose(chain.last).x
                if two and chain.last
                else a + side * (self._ramp(chain.first, chain) + chain.need)
            )
            for row in chain.rows:
                widen(row, min(a, b), max(a, b))
        self._turn_extents()
        self._back_extents()

    def _turn_extents(self) -> None:
        """Where loops turn round: beyond all that lies on the rows between their two, inner loops first."""
        number = {id(row): i for i, row in enumerate(self.rows)}

        def span(c: Chain) -> int:
            a, b = self._turn_rows(c)
            return abs(number[id(a)] - number[id(b)])

        for chain in sorted(self.turns, key=span):
            one, two = chain.junctions
            assert one
            assert two
            assert chain.first
            assert chain.last
            side = one.side(chain.first)
            a, b = self._turn_rows(chain)
            low, high = sorted((number[id(a)], number[id(b)]))
            own = max(side * n.pose(p).x + self._ramp(p, chain) for n, p in ((one, chain.first), (two, chain.last)))
            start = min(n.pose(p).x * side for n, p in ((one, chain.first), (two, chain.last)))
            bow = min(abs(a.y - b.y) / 2 or ROUND, ROUND)
            reach = max(own + 10, own + (chain.need - pi * bow) / 2, start + 60)
            for row in self.rows[low : high + 1]:
                edge = row.stop if side > 0 else -row.start
                if row not in (a, b) or row.stop > row.start:
                    reach = max(reach, edge + (10 if row in (a, b) else 40))
            chain.turn_at = side * reach
            for row in self.rows[low : high + 1]:
                if row in (a, b):
                    widen(row, *sorted((side * start, side * (reach + bow + 16))))
            chain.rows = (a, b)

    def _turn_rows(self, chain: Chain) -> tuple[TrackRow, TrackRow]:
        """The two rows that a loop joins; they hold names then."""
        assert chain.first
        assert chain.last
        a, b = chain.first.group.row, chain.last.group.row
        assert a
        assert b
        a.slim = b.slim = False
        return a, b

    def _back_extents(self) -> None:
        """Chains that lead back over the top go round everything, each outside the one before."""
        low = min(r.start for r in self.rows)
        high = max(r.stop for r in self.rows)
        for number, chain in enumerate(self.backs):
            assert chain.over
            assert chain.first
            assert chain.last
            room = (number + 1) * 44.0
            chain.turn_at = room
            for port in (chain.first, chain.last):
                junction = port.group.junction
                row = port.group.row
                assert row
                if junction.side(port) > 0:
                    widen(row, junction.x, high + room + ROUND)
                else:
                    widen(row, low - room - ROUND, junction.x)
            widen(chain.over, low - room - ROUND, high + room + ROUND)
        self.low, self.high = low, high

    def _heights(self) -> None:
        """From the first row up and down, as close as rows may come."""
        base = self.rows.index(self.root)
        self.root.y = 0.0
        turns = {frozenset(map(id, self._turn_rows(chain))) for chain in self.turns}
        over = {id(chain.over) for chain in self.backs}
        for step, order in ((1, range(base - 1, -1, -1)), (-1, range(base + 1, len(self.rows)))):
            placed: dict[int, list[TrackRow]] = {}
            _note(placed, self.root)
            for row in (self.rows[k] for k in order):
                beside = {id(o): o for cell in _cells(row) for o in placed.get(cell, ()) if overlap(row, o)}
                row.y = step * max((step * o.y + _gap(row, o, turns, over) for o in beside.values()), default=0.0)
                _note(placed, row)


def _gap(one: TrackRow, two: TrackRow, turns: set[frozenset[int]], over: set[int]) -> float:
    """How far two rows must be apart; `turns`: pairs of rows that a loop joins, `over`: rows over the top."""
    gap = ROW * 0.72 if one.slim or two.slim else ROW
    if frozenset((id(one), id(two))) in turns:
        gap = 2 * ROUND
    if id(one) in over or id(two) in over:
        gap = max(gap, 2 * ROUND * 0.8)
    return gap + one.pad + two.pad


def _cells(row: TrackRow) -> range:
    """The parts of the width, so many units each, that a row takes some of."""
    if row.stop < row.start:
        return range(0)
    return range(int((row.start - 24) // CELL), int((row.stop + 24) // CELL) + 1)


def _note(placed: dict[int, list[TrackRow]], row: TrackRow) -> None:
    """Note a row in the cells that it takes some of."""
    for cell in _cells(row):
        placed.setdefault(cell, []).append(row)


def alone_there(junction: Junction, group: Group) -> bool:
    """Whether an end of a group is the only one on its side of the junction."""
    return any(sum(p.right == own.right for p in junction.ports.values()) == 1 for own in group.ports)


def widen(row: TrackRow, start: float, stop: float) -> None:
    """Let a row reach at least from `start` to `stop`."""
    row.start, row.stop = min(row.start, start), max(row.stop, stop)


def overlap(one: TrackRow, two: TrackRow) -> bool:
    """Whether two rows have some of the width in common, or nearly so."""
    return one.start < two.stop + 24 and two.start < one.stop + 24
