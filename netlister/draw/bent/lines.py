"""Lines: the track of each piece, along its row, down its leg, round its turn."""

from __future__ import annotations

from math import pi

from netlister.draw.bent.fans import Fans
from netlister.draw.bent.parts import ROUND, Chain, Junction, Port, TrackRow
from netlister.draw.bent.rows import overlap
from netlister.draw.lines import Line, Point, Pose, arc, curve, joined, length, part_of_line
from netlister.draw.placing import DrawnWay, PieceEnd, Placed


class RowLines(Fans):
    """Pieces laid along rows."""

    def placed(self) -> dict[str, Placed]:
        """Lay everything out: columns, rows, columns again with the room that the rows ask for."""
        if not self.junctions:
            return self._plain()
        self._columns()
        self._walk()
        for chain in self.backs:
            chain.over = TrackRow(slim=False)
            self.rows.insert(0, chain.over)
        for chain in self.chains:
            if chain.rows is None and chain.kind == "straight":
                assert chain.first
                assert chain.first.group.row
                row = chain.first.group.row
                chain.rows = (row, row)
                row.slim = row.slim and not chain.pieces
        self._unfan()
        found = self._settled(self._lines())
        return {name: found[name] for name in self.names if name in found}

    def _settled(self, found: dict[str, Placed]) -> dict[str, Placed]:
        """What is done once all is laid for the first time."""
        return found

    def _lines(self) -> dict[str, Placed]:
        """Columns, rows and lines as junctions may stand now."""
        self._stand()
        found: dict[str, Placed] = {}
        legs: dict[PieceEnd, Line] = {}
        for chain in self.chains:
            self._lay(chain, found, legs)
        for name, junction in self.junctions.items():
            found[name] = self._junction_placed(name, junction, legs)
        return found

    def _plain(self) -> dict[str, Placed]:
        found: dict[str, Placed] = {}
        for chain in self.chains:
            need = chain.need
            if chain.kind == "circle":
                need = max(need, 8 * ROUND)
                run = (need - 2 * pi * ROUND) / 2
                first = [(0.0, 0.0), (run, 0.0)] if run > 0 else [(0.0, 0.0)]
                run = max(run, 0.0)
                bend = arc(Pose(run, 0, 0), pi * ROUND, pi)
                back = arc(Pose(0, 2 * ROUND, pi), pi * ROUND, pi)
                line = joined(first, bend, [(0.0, 2 * ROUND)], back)
            else:
                line = [(0.0, 0.0), (need, 0.0)]
            self._cut(chain, line, found)
        return found

    def _cut(self, chain: Chain, line: Line, found: dict[str, Placed]) -> None:
        """Share a line among the pieces of a chain."""
        whole, need, done = length(line), chain.need, 0.0
        for (name, end), own in zip(chain.pieces, chain.widths, strict=True):
            a, b = whole * done / need, whole * (done + own) / need
            done += own
            piece = self.layout.pieces[name]
            mine = part_of_line(line, a, b)
            ends = list(piece.kind.ends)
            others = [e for e in ends if e != end]
            if len(ends) == 1:
                route, forward = "", end != ""
            else:
                route, forward = piece.kind.routes[0].name if piece.kind.routes else "", True
                if piece.kind.routes:
                    forward = piece.kind.routes[0].ends[0] == end
            places = {end or others[0]: mine[0] if end else mine[-1]}
            if end and others:
                places[others[0]] = mine[-1]
            found[name] = Placed(piece, {route: DrawnWay([], mine if forward else mine[::-1], [])}, places)

    def _lay(self, chain: Chain, found: dict[str, Placed], legs: dict[PieceEnd, Line]) -> None:
        one, two = chain.junctions
        assert one
        assert chain.first
        assert chain.rows or chain.over
        start = one.pose(chain.first)
        line_a, line_b = self._leg(one, chain.first, chain), None
        if two and chain.last:
            line_b = self._leg(two, chain.last, chain)
        middle = self._middle(chain, line_a, line_b, start)
        names = (one.piece.name, chain.first.end)
        if chain.pieces:
            legs[names] = line_a
            if two and chain.last and line_b:
                legs[two.piece.name, chain.last.end] = line_b
            self._cut(chain, middle, found)
            return
        if not (two and chain.last and line_b):
            return
        direct = (
            chain.kind == "straight" and abs(line_a[-1][0] - line_b[-1][0]) + abs(line_a[-1][1] - line_b[-1][1]) > 0
        )
        whole = joined(line_a, middle, line_b[::-1])
        if direct:
            other = two.pose(chain.last)
            far = abs(other.y - start.y)
            if far > 1 and not self._crowded(chain):
                whole = curve(start, other.turned(), 0.45)
        half = length(whole) / 2
        legs[names] = part_of_line(whole, 0, half)
        legs[two.piece.name, chain.last.end] = part_of_line(whole, half, 2 * half)[::-1]

    def _crowded(self, chain: Chain) -> bool:
        """Whether other rows lie between the two that a chain without pieces joins."""
        assert chain.first
        assert chain.last
        a, b = chain.first.group.row, chain.last.group.row
        if a is None or b is None:
            return True
        low, high = sorted((self.rows.index(a), self.rows.index(b)))
        return any(
            r is not (chain.rows or (None,))[0] and (overlap(r, a) or overlap(r, b)) for r in self.rows[low + 1 : high]
        )

    def _leg(self, junction: Junction, port: Port, chain: Chain) -> Line:
        """From a port to its row."""
        pose = junction.pose(port)
        row = port.group.row if chain.over else self._row_of(port, chain)
        assert row
        side = junction.side(port)
        run = self._ramp(port, chain)
        if run < 1:
            return [pose.point, (pose.x + side * 1.0, row.y)]
        stop = Pose(pose.x + side * run, row.y, 0.0 if side > 0 else pi)
        return curve(pose, stop, 0.45)

    def _middle(self, chain: Chain, a: Line, b: Line | None, start: Pose) -> Line:
        assert chain.first
        one = chain.junctions[0]
        assert one
        side = one.side(chain.first)
        if b is None:
            return [a[-1], (a[-1][0] + side * chain.need, a[-1][1])]
        del start
        if chain.kind == "turn":
            return bow(a[-1], b[-1], chain.turn_at, side)
        if chain.kind == "back":
            assert chain.over
            top = chain.over.y
            ends = (a[-1], b[-1]) if side > 0 else (b[-1], a[-1])
            right, left = self.high + chain.turn_at, self.low - chain.turn_at
            middle = (right + left) / 2
            line = joined(bow(ends[0], (middle, top), right, 1), bow((middle, top), ends[1], left, -1))
            return line if side > 0 else line[::-1]
        return [a[-1], b[-1]]

    def _junction_placed(self, name: str, junction: Junction, legs: dict[PieceEnd, Line]) -> Placed:
        turn = 1 if junction.looks > 0 else -1
        ways = {}
        for route in junction.piece.kind.routes:
            core = [(junction.x + x * turn, junction.y + y * turn) for x, y in junction.routes[route.name]]
            before, after = (legs.get((name, e), []) for e in route.ends)
            ways[route.name] = DrawnWay(before[::-1], core, after)
        ends: dict[str, Point] = {}
        for port in junction.ports.values():
            leg = legs.get((name, port.end))
            ends[port.end] = leg[-1] if leg else junction.pose(port).point
        pit = ((junction.x, junction.y), junction.pit) if junction.pit else None
        return Placed(junction.piece, ways, ends, pit)


def bow(a: Point, b: Point, at: float, side: int) -> Line:
    """From one row round to another, turning back at `at`."""
    rise = b[1] - a[1]
    radius = min(abs(rise) / 2, ROUND)
    up = 1 if rise > 0 else -1
    sign = up * side  # to the left or to the right
    heading = 0.0 if side > 0 else pi
    first = arc(Pose(at, a[1], heading), radius * pi / 2, sign * pi / 2)
    corner = Pose(at + side * radius, b[1] - up * radius, heading + sign * pi / 2)
    last = arc(corner, radius * pi / 2, sign * pi / 2)
    return joined([a, (at, a[1])], first, last, [b])
