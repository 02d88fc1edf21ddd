"""Track bent to fit: rows from left to right, turnouts in their true proportions, everything else as long as it needs.

Pieces with more than two ends are nodes, what lies between them are chains of plain track. Each node looks right or
left, so that chains leave one to its right and arrive at the next from its left; a chain for which that cannot be so
turns round at the side (a loop), and one that closes a circle leads back over the top. Nodes stand in the order of
their chains from left to right; the rows keep the order in which legs leave their turnouts, so that they do not cross.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from math import cos, pi, sin
from typing import TYPE_CHECKING

from netlister.draw.geometry import gauge_of, shape
from netlister.draw.lines import Line, Point, Pose, arc, curve, joined, length, part
from netlister.draw.placing import GAUGE, Drawn, End, Placed, Way, neighbours, upon_another
from netlister.draw.text import width

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.layout.model import Layout, Piece

    Move = Callable[[], None]

ROW = 64.0
"""Between the centre lines of two rows, so that names and poles fit in between."""

SQUEEZE = 0.6
"""Turnouts are drawn so much shorter than they are, in proportion to the gauge."""

PAD, RAMP, ROUND = 18.0, 34.0, 76.0
PIT = 44.0
LEAST, MOST, PER_MM = 64.0, 170.0, 0.07
NAME_SIZE = 12.0
STUB = 24.0
TRIES, LEAST_TRIES = 4000, 20
"""Moves that are tried to take track off other track: so many for one piece, fewer for each of many, but at least."""


@dataclass(eq=False)
class Port:
    """An end of a node that looks right: where it is beside the node's reference, and where it heads."""

    end: str
    x: float
    y: float
    heading: float
    right: bool
    group: Group = field(init=False)
    chain: Chain | None = None


@dataclass(eq=False)
class Group:
    """Ends of a node that lie on one row."""

    node: Node
    ports: list[Port]
    row: Row | None = None


@dataclass(eq=False)
class Node:
    """A piece with more than two ends."""

    piece: Piece
    ports: dict[str, Port]
    groups: list[Group]  # from top to bottom, of a node that looks right
    routes: dict[str, Line]
    pit: float = 0.0
    looks: int = 0  # 1 right, -1 left
    x: float = 0.0
    least: float = 0.0  # as far left as it may stand
    home: float = 0.0  # where it stands though it could stand further to the left
    placed: bool = False

    def side(self, port: Port) -> int:
        """1 where a port lies on the right of the node as it is drawn, -1 on the left."""
        return self.looks if port.right else -self.looks

    def ordered(self) -> list[Group]:
        """Its groups from top to bottom as it is drawn."""
        return self.groups if self.looks > 0 else self.groups[::-1]

    def reach(self, side: int) -> float:
        """How far it reaches from its reference to one side."""
        xs = [p.x * self.looks for p in self.ports.values()] + [self.pit, -self.pit]
        return max(0.0, *(x * side for x in xs))

    @property
    def y(self) -> float:
        """The height of its reference."""
        level = [g for g in self.groups if g.row and any(abs(p.y) < 1 for p in g.ports)]
        rows = [g.row.y for g in (level or self.groups) if g.row]
        return (min(rows) + max(rows)) / 2

    def pose(self, port: Port) -> Pose:
        """Where a port is, heading out of the node."""
        turn = 0.0 if self.looks > 0 else pi
        return Pose(self.x + port.x * self.looks, self.y + port.y * self.looks, port.heading + turn)


@dataclass(eq=False)
class Row:
    """A row of track: a height, and what of the width it takes."""

    y: float = 0.0
    start: float = 0.0
    stop: float = 0.0
    slim: bool = True  # holds no name
    pad: float = 0.0


@dataclass(eq=False)
class Chain:
    """Plain pieces between two ports, in order from `first`; each with the end that comes first."""

    first: Port | None
    last: Port | None
    pieces: list[End]
    nodes: tuple[Node | None, Node | None]
    kind: str = "straight"  # or "turn" (back to the side that it came from) or "back" (over the top)
    rows: tuple[Row, Row] | None = None
    over: Row | None = None
    turn_at: float = 0.0

    @property
    def need(self) -> float:
        """The least length of its pieces."""
        return (self.widths and sum(self.widths)) or 0.0

    widths: list[float] = field(default_factory=list)


def schematic(layout: Layout, names: list[str]) -> Drawn:
    """Lay out pieces that hang together."""
    return Drawn(_Schematic(layout, names).placed(), true=False)


def alone(layout: Layout, name: str) -> Placed:
    """One piece by itself, its rails a little longer at every end so that its ends stand apart."""
    made = _Schematic(layout, [name], {})
    found = made.placed()[name]
    node = made.nodes.get(name)
    if node is None:
        return found
    legs = {}
    for port in node.ports.values():
        pose = node.pose(port)
        legs[port.end] = [pose.point, pose.beyond(STUB).point]
    ways = {}
    for route in found.piece.kind.routes:
        before, after = (legs.get(e, []) for e in route.ends)
        ways[route.name] = Way(before[::-1], found.ways[route.name].core, after)
    return found._replace(ways=ways, ends={end: leg[-1] for end, leg in legs.items()})


def _room(layout: Layout, piece: Piece) -> float:
    own = piece.length or 0.0
    if len(piece.kind.ends) == 1:
        own = 0.0
    del layout
    return max(LEAST, min(MOST, own * 1000 * PER_MM), width(piece.name, NAME_SIZE) + 26)


class _Schematic:
    def __init__(self, layout: Layout, names: list[str], near: dict[End, End] | None = None) -> None:
        self.layout = layout
        self.names = names
        self.near = neighbours(layout) if near is None else near
        self.scale = GAUGE / gauge_of(layout)
        pieces = layout.pieces
        self.nodes = {n: self._node(pieces[n]) for n in names if len(pieces[n].kind.ends) > 2}
        self.chains = self._chains()
        self.rows: list[Row] = []
        self.settled = False
        self._look()
        self._kinds()

    # -- nodes and chains

    def _node(self, piece: Piece) -> Node:
        made = shape(self.layout, piece, straightened=True)
        ports: dict[str, Port] = {}
        lines: dict[str, Line] = {}
        pit = 0.0
        if "head" in piece.kind.ends and "tail" in piece.kind.ends:
            ports, lines, pit = _pit(piece)
        else:
            sx = self.scale * SQUEEZE
            longest = max(pose.x for pose in made.ends.values())
            sx = min(sx, 260 / longest) if longest else sx
            sy = self.scale if "lead" in piece.kind.dimensions or "point" in piece.kind.dimensions else 0.0
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
                heading = 0.0 if rise else _squeezed(level.x, level.y, SQUEEZE)
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
        groups = _grouped(ports)
        node = Node(piece, ports, [], lines, pit)
        for ends in groups:
            group = Group(node, ends)
            node.groups.append(group)
            for port in ends:
                port.group = group
        return node

    def _chains(self) -> list[Chain]:
        found: list[Chain] = []
        done: set[str] = set()
        for name, node in self.nodes.items():
            for port in node.ports.values():
                if port.chain is None and (name, port.end) in self.near:
                    found.append(self._follow(node, port, done))
        for name in self.names:
            if name not in self.nodes and name not in done:
                found.append(self._alone(name, done))
        return found

    def _follow(self, node: Node, port: Port, done: set[str]) -> Chain:
        pieces: list[End] = []
        end: End | None = self.near[node.piece.name, port.end]
        while end is not None and end[0] not in self.nodes:
            done.add(end[0])
            pieces.append(end)
            end = self._onward(end)
        other = self.nodes[end[0]] if end else None
        last = other.ports.get(end[1]) if other and end else None
        chain = Chain(port, last, pieces, (node, other if last else None))
        port.chain = chain
        if last:
            last.chain = chain
        chain.widths = [_room(self.layout, self.layout.pieces[p]) for p, _ in pieces]
        return chain

    def _onward(self, end: End) -> End | None:
        others = [e for e in self.layout.pieces[end[0]].kind.ends if e != end[1]]
        return self.near.get((end[0], others[0])) if others else None

    def _alone(self, name: str, done: set[str]) -> Chain:
        """A chain without any node, from the end that lies furthest back; a circle from its first piece on."""
        ends = sorted(self.layout.pieces[name].kind.ends.values(), key=lambda e: not e.entering)
        start: End = (name, ends[0].name)
        seen = {name}
        while True:
            before = self.near.get(start)
            if before is None or before[0] in seen:
                break
            seen.add(before[0])
            others = [e for e in self.layout.pieces[before[0]].kind.ends if e != before[1]]
            if not others:
                start = before
                break
            start = (before[0], others[0])
        if len(self.layout.pieces[start[0]].kind.ends) == 1 and start[0] != name:
            first: End | None = (start[0], "")
        else:
            closed = self.near.get(start) is not None and self.near[start][0] in seen
            first = (name, ends[0].name) if closed else start
        pieces: list[End] = []
        while first is not None and first[0] not in done:
            done.add(first[0])
            pieces.append(first)
            if first[1] == "":
                first = self.near.get((first[0], next(iter(self.layout.pieces[first[0]].kind.ends))))
            else:
                first = self._onward(first)
        chain = Chain(None, None, pieces, (None, None))
        chain.kind = "circle" if first is not None and len(pieces) > 0 and first[0] == pieces[0][0] else "straight"
        if pieces and pieces[0][1] == "":
            chain.kind = "straight"
        chain.widths = [_room(self.layout, self.layout.pieces[p]) for p, _ in pieces]
        return chain

    # -- which way nodes look, and in which order they stand

    def _look(self) -> None:
        """The first piece of the file runs from left to right; the rest follows."""
        self.order: list[Node] = []
        if not self.nodes:
            return
        start, looks = self._first()
        start.looks = looks
        queue = [start]
        while queue:
            node = queue.pop(0)
            self.order.append(node)
            for port in node.ports.values():
                other = _other(port)
                if other and other[0].looks == 0:
                    other[0].looks = (1 if other[1].right else -1) * -node.side(port)
                    queue.append(other[0])

    def _first(self) -> tuple[Node, int]:
        name = self.names[0]
        if name in self.nodes:
            return self.nodes[name], 1
        for chain in self.chains:
            for piece, end in chain.pieces:
                if piece == name and chain.first and chain.nodes[0]:
                    forward = self.layout.pieces[piece].kind.ends[end].entering
                    side = 1 if forward else -1
                    return chain.nodes[0], side if chain.first.right else -side
        return next(iter(self.nodes.values())), 1

    def _kinds(self) -> None:
        """Tell the chains apart that turn round or lead back."""
        for chain in self.chains:
            one, two = chain.nodes
            if one and two and chain.first and chain.last and one.side(chain.first) == two.side(chain.last):
                chain.kind = "turn"
        self._back_edges()
        self.turns = [c for c in self.chains if c.kind == "turn"]
        self.backs = [c for c in self.chains if c.kind == "back"]

    def _back_edges(self) -> None:
        colour: dict[int, int] = {}
        for root in self.order:
            if id(root) in colour:
                continue
            colour[id(root)] = 1
            stack = [(root, iter(self._rightward(root)))]
            while stack:
                node, chains = stack[-1]
                for chain, other in chains:
                    state = colour.get(id(other), 0)
                    if state == 1:
                        chain.kind = "back"
                    elif state == 0:
                        colour[id(other)] = 1
                        stack.append((other, iter(self._rightward(other))))
                        break
                else:
                    colour[id(node)] = 2
                    stack.pop()

    def _rightward(self, node: Node) -> list[tuple[Chain, Node]]:
        found = []
        for port in node.ports.values():
            other = _other(port)
            if other and node.side(port) > 0 and port.chain and port.chain.kind == "straight":
                found.append((port.chain, other[0]))
        return found

    def _columns(self) -> None:
        """Places from left to right: each node as far left as its chains from the left allow."""
        arriving: dict[int, int] = {id(n): 0 for n in self.order}
        edges: dict[int, list[tuple[Chain, Node]]] = {}
        for node in self.order:
            edges[id(node)] = self._rightward(node)
            for _, other in edges[id(node)]:
                arriving[id(other)] += 1
            node.x = max(node.least, node.home)
        ready = [n for n in self.order if arriving[id(n)] == 0]
        done = []
        while ready:
            node = ready.pop(0)
            done.append(node)
            for chain, other in edges[id(node)]:
                other.x = max(other.x, node.x + node.reach(1) + self._room(chain, node, other) + other.reach(-1))
                arriving[id(other)] -= 1
                if arriving[id(other)] == 0:
                    ready.append(other)
        for node in reversed(done):  # what has nothing to its left moves to the right, up to its neighbours
            chains = edges[id(node)]
            alone = not any(
                node.side(p) < 0 and p.chain and p.chain.kind == "straight" and _other(p) for p in node.ports.values()
            )
            if alone and chains and not self.settled:
                node.home = node.x = min(o.x - o.reach(-1) - self._room(c, node, o) - node.reach(1) for c, o in chains)

    def _room(self, chain: Chain, one: Node, two: Node) -> float:
        ramps = sum(self._ramp(p, chain) for p in (chain.first, chain.last) if p)
        halo = sum(self._halo(n, s) for n, s in ((one, 1), (two, -1)))
        return chain.need + ramps + halo + (0.0 if chain.pieces and ramps else PAD)

    def _halo(self, node: Node, side: int) -> float:
        """Room beside a node for the loops that turn round there."""
        halo = 0.0
        for port in node.ports.values():
            if port.chain and port.chain.kind == "turn" and node.side(port) == side:
                halo = max(halo, port.chain.need / 2 + 2 * ROUND)
        return halo

    def _ramp(self, port: Port, chain: Chain) -> float:
        """The length in which a leg reaches its row."""
        node, group = port.group.node, port.group
        row = group.row
        target = self._row_of(port, chain)
        if row is None or target is None:
            return RAMP if abs(port.y) > 1 else 0.0
        rise = abs(node.pose(port).y - target.y)
        return 0.0 if rise < 0.5 and abs(sin(port.heading)) < 0.01 else RAMP + 0.75 * rise

    @staticmethod
    def _row_of(port: Port, chain: Chain) -> Row | None:
        if chain.rows is None:
            return port.group.row
        return chain.rows[0] if port is chain.first else chain.rows[1]

    # -- rows

    def _walk(self) -> None:
        """Give every group and every chain its row."""
        start = self.order[0]
        row = self.root = Row()
        self.rows.append(row)
        main = max(start.groups, key=lambda g: (len(g.ports), _alone_there(start, g), -start.groups.index(g)))
        pending: list[Group] = []
        self._enter(start, main, row)
        self._along(main, row, pending)
        while pending or any(g.row is None for n in self.order for g in n.groups):
            if not pending:
                group = next(g for n in self.order for g in n.groups if g.row is None)
                beside = next((g.row for g in group.node.groups if g.row), None)
                fresh = self._beside(group, beside)
                self._enter(group.node, group, fresh)
                self._along(group, fresh, pending)
                continue
            self._branch(pending)

    def _enter(self, node: Node, group: Group, row: Row) -> None:
        group.row = row
        node.placed = True
        row.pad = max(row.pad, node.pit and 13.0)

    def _along(self, group: Group, row: Row, pending: list[Group]) -> None:
        """Follow a row from a group to both sides, then note the legs that leave it."""
        members = [group]
        queue = [(p, group.node) for p in group.ports]
        while queue:
            port, _node = queue.pop(0)
            chain = port.chain
            if chain is None or chain.rows is not None:
                continue
            if chain.kind != "straight":
                continue
            chain.rows = (row, row)
            row.slim = row.slim and not chain.pieces
            other = _other(port)
            if other is None:
                continue
            node, arrival = other
            if arrival.group.row is None:
                fresh = not node.placed
                self._enter(node, arrival.group, row)
                members.append(arrival.group)
                if fresh or len(arrival.group.ports) > 1:
                    queue += [(p, node) for p in arrival.group.ports if p is not arrival]
            # else the chain arrives at a row of its own by a ramp
        legs: list[tuple[float, float, Group]] = []
        for member in members:
            node = member.node
            for leg in node.groups:
                if leg.row is None:
                    right = any(node.side(p) > 0 for p in leg.ports)
                    through = right and any(node.side(p) < 0 for p in leg.ports)
                    legs.append((2.0 if through else 0.0 if right else 1.0, node.x if right else -node.x, leg))
        # what comes later lies further in: of legs to the right those of nodes further to the right, and so to the left
        pending[:0] = [leg for *_, leg in sorted(legs, key=lambda e: e[:2])]

    def _branch(self, pending: list[Group]) -> None:
        group = pending.pop(0)
        if group.row is not None:
            return
        near = next((g.row for g in self._by_distance(group) if g.row), None)
        row = self._beside(group, near)
        self._enter(group.node, group, row)
        self._along(group, row, pending)

    @staticmethod
    def _by_distance(group: Group) -> list[Group]:
        order = group.node.ordered()
        mine = order.index(group)
        return sorted(order, key=lambda g: abs(order.index(g) - mine))

    def _beside(self, group: Group, near: Row | None) -> Row:
        """A new row for a group, just above or below a row that its node is on."""
        row = Row()
        if near is None:
            self.rows.append(row)
            return row
        order = group.node.ordered()
        base = next(g for g in order if g.row is near)
        above = order.index(group) < order.index(base)
        place = self.rows.index(near)
        self.rows.insert(place if above else place + 1, row)
        return row

    # -- extents and heights

    def _extents(self) -> None:
        for row in self.rows:
            row.start, row.stop = float("inf"), float("-inf")
        for node in self.order:
            for group in node.groups:
                assert group.row
                _widen(group.row, node.x - node.reach(-1) - 4, node.x + node.reach(1) + 4)
        for chain in self.chains:
            if chain.kind != "straight" or not chain.rows:
                continue
            one, two = chain.nodes
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
                _widen(row, min(a, b), max(a, b))
        self._turn_extents()
        self._back_extents()

    def _turn_extents(self) -> None:
        def span(c: Chain) -> int:
            a, b = self._turn_rows(c)
            return abs(self.rows.index(a) - self.rows.index(b))

        for chain in sorted(self.turns, key=span):
            one, two = chain.nodes
            assert one
            assert two
            assert chain.first
            assert chain.last
            side = one.side(chain.first)
            a, b = self._turn_rows(chain)
            low, high = sorted((self.rows.index(a), self.rows.index(b)))
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
                    _widen(row, *sorted((side * start, side * (reach + bow + 16))))
            chain.rows = (a, b)

    def _turn_rows(self, chain: Chain) -> tuple[Row, Row]:
        assert chain.first
        assert chain.last
        a, b = chain.first.group.row, chain.last.group.row
        assert a
        assert b
        a.slim = b.slim = False
        return a, b

    def _back_extents(self) -> None:
        low = min(r.start for r in self.rows)
        high = max(r.stop for r in self.rows)
        for number, chain in enumerate(self.backs):
            assert chain.over
            assert chain.first
            assert chain.last
            room = (number + 1) * 44.0
            chain.turn_at = room
            for port in (chain.first, chain.last):
                node = port.group.node
                row = port.group.row
                assert row
                if node.side(port) > 0:
                    _widen(row, node.x, high + room + ROUND)
                else:
                    _widen(row, low - room - ROUND, node.x)
            _widen(chain.over, low - room - ROUND, high + room + ROUND)
        self.low, self.high = low, high

    def _heights(self) -> None:
        """From the first row up and down, as close as rows may come."""
        base = self.rows.index(self.root)
        self.root.y = 0.0
        for step, order in ((1, range(base - 1, -1, -1)), (-1, range(base + 1, len(self.rows)))):
            for k in order:
                row = self.rows[k]
                between = self.rows[k + 1 : base + 1] if step > 0 else self.rows[base:k]
                needs = [step * o.y + self._gap(row, o) for o in between if _overlap(row, o)]
                row.y = step * max(needs, default=0.0)

    def _gap(self, one: Row, two: Row) -> float:
        gap = ROW if not (one.slim and two.slim) else ROW * 0.75
        if one.slim or two.slim:
            gap = ROW * 0.72
        for chain in self.turns:
            if set(self._turn_rows(chain)) == {one, two}:
                gap = 2 * ROUND
        for chain in self.backs:
            if chain.over in (one, two):
                gap = max(gap, 2 * ROUND * 0.8)
        return gap + one.pad + two.pad

    # -- lines

    def placed(self) -> dict[str, Placed]:
        """Lay everything out: columns, rows, columns again with the room that the rows ask for."""
        if not self.nodes:
            return self._plain()
        self._columns()
        self._walk()
        for chain in self.backs:
            chain.over = Row(slim=False)
            self.rows.insert(0, chain.over)
        for chain in self.chains:
            if chain.rows is None and chain.kind == "straight":
                assert chain.first
                assert chain.first.group.row
                row = chain.first.group.row
                chain.rows = (row, row)
                row.slim = row.slim and not chain.pieces
        found = self._mended(self._lines())
        return {name: found[name] for name in self.names if name in found}

    def _mended(self, found: dict[str, Placed]) -> dict[str, Placed]:
        """Move nodes to the right, or rows past each other, where that takes track off other track."""
        self.settled = True
        tries = max(LEAST_TRIES, TRIES // len(self.names))
        bad = upon_another(self.layout, found)
        while bad and tries > 0:
            best: tuple[int, Move, Move] | None = None
            for one, two in sorted(bad)[:4]:
                for move, back in self._moves(found, one, two):
                    move()
                    left = len(upon_another(self.layout, self._lines()))
                    back()
                    tries -= 1
                    if left < len(bad) and (best is None or left < best[0]):
                        best = (left, move, back)
                if best:
                    break
            if best is None:
                break
            best[1]()
            found = self._lines()
            bad = upon_another(self.layout, found)
        return self._lines()

    def _moves(self, found: dict[str, Placed], one: str, two: str) -> Iterator[tuple[Move, Move]]:
        """What may take two pieces apart, each with what undoes it."""
        for node, least in self._pushes(found, one, two):
            yield partial(setattr, node, "least", least), partial(setattr, node, "least", node.least)
        order = self.rows
        for mine, other in ((one, two), (two, one)):
            for row in self._rows_of(mine):
                for past in self._rows_of(other):
                    moved = [r for r in order if r is not row]
                    place = moved.index(past) + (order.index(row) < order.index(past)) if row is not past else -1
                    moved[max(place, 0) : max(place, 0)] = [row]
                    if place >= 0 and moved != order and self._allowed(moved):
                        yield partial(setattr, self, "rows", moved), partial(setattr, self, "rows", order)

    def _rows_of(self, name: str) -> list[Row]:
        if name in self.nodes:
            return [g.row for g in self.nodes[name].groups if g.row]
        return [r for c in self.chains if any(p == name for p, _ in c.pieces) for r in c.rows or ()]

    def _allowed(self, rows: list[Row]) -> bool:
        """Whether the legs of every node keep their order from top to bottom."""
        number = {id(r): i for i, r in enumerate(rows)}
        for node in self.order:
            places = [number[id(g.row)] for g in node.ordered() if g.row]
            if places != sorted(places):
                return False
        return True

    def _pushes(self, found: dict[str, Placed], one: str, two: str) -> list[tuple[Node, float]]:
        """Nodes that may be moved so that two pieces come apart, each with where it would stand."""
        pushes = []
        for mine, other in ((one, two), (two, one)):
            start, _ = _span_of(found[mine])
            _, stop = _span_of(found[other])
            for node in self._nodes_of(mine):
                pushes.append((node, node.x + stop - start + 30))
        return pushes

    def _nodes_of(self, name: str) -> list[Node]:
        if name in self.nodes:
            return [self.nodes[name]]
        for chain in self.chains:
            if any(piece == name for piece, _ in chain.pieces):
                return [n for n in chain.nodes if n]
        return []

    def _lines(self) -> dict[str, Placed]:
        """Columns, rows and lines as nodes may stand now."""
        for _ in range(4):
            self._columns()
            self._extents()
            self._heights()
        self._extents()
        found: dict[str, Placed] = {}
        legs: dict[End, Line] = {}
        for chain in self.chains:
            self._lay(chain, found, legs)
        for name, node in self.nodes.items():
            found[name] = self._node_placed(name, node, legs)
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
            mine = part(line, a, b)
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
            found[name] = Placed(piece, {route: Way([], mine if forward else mine[::-1], [])}, places)

    def _lay(self, chain: Chain, found: dict[str, Placed], legs: dict[End, Line]) -> None:
        one, two = chain.nodes
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
        legs[names] = part(whole, 0, half)
        legs[two.piece.name, chain.last.end] = part(whole, half, 2 * half)[::-1]

    def _crowded(self, chain: Chain) -> bool:
        """Whether other rows lie between the two that a chain without pieces joins."""
        assert chain.first
        assert chain.last
        a, b = chain.first.group.row, chain.last.group.row
        if a is None or b is None:
            return True
        low, high = sorted((self.rows.index(a), self.rows.index(b)))
        return any(
            r is not (chain.rows or (None,))[0] and (_overlap(r, a) or _overlap(r, b))
            for r in self.rows[low + 1 : high]
        )

    def _leg(self, node: Node, port: Port, chain: Chain) -> Line:
        """From a port to its row."""
        pose = node.pose(port)
        row = port.group.row if chain.over else self._row_of(port, chain)
        assert row
        side = node.side(port)
        run = self._ramp(port, chain)
        if run < 1:
            return [pose.point, (pose.x + side * 1.0, row.y)]
        stop = Pose(pose.x + side * run, row.y, 0.0 if side > 0 else pi)
        return curve(pose, stop, 0.45)

    def _middle(self, chain: Chain, a: Line, b: Line | None, start: Pose) -> Line:
        assert chain.first
        one = chain.nodes[0]
        assert one
        side = one.side(chain.first)
        if b is None:
            return [a[-1], (a[-1][0] + side * chain.need, a[-1][1])]
        del start
        if chain.kind == "turn":
            return _bow(a[-1], b[-1], chain.turn_at, side)
        if chain.kind == "back":
            assert chain.over
            top = chain.over.y
            ends = (a[-1], b[-1]) if side > 0 else (b[-1], a[-1])
            right, left = self.high + chain.turn_at, self.low - chain.turn_at
            middle = (right + left) / 2
            line = joined(_bow(ends[0], (middle, top), right, 1), _bow((middle, top), ends[1], left, -1))
            return line if side > 0 else line[::-1]
        return [a[-1], b[-1]]

    def _node_placed(self, name: str, node: Node, legs: dict[End, Line]) -> Placed:
        turn = 1 if node.looks > 0 else -1
        ways = {}
        for route in node.piece.kind.routes:
            core = [(node.x + x * turn, node.y + y * turn) for x, y in node.routes[route.name]]
            before, after = (legs.get((name, e), []) for e in route.ends)
            ways[route.name] = Way(before[::-1], core, after)
        ends: dict[str, Point] = {}
        for port in node.ports.values():
            leg = legs.get((name, port.end))
            ends[port.end] = leg[-1] if leg else node.pose(port).point
        pit = ((node.x, node.y), node.pit) if node.pit else None
        return Placed(node.piece, ways, ends, pit)


def _alone_there(node: Node, group: Group) -> bool:
    """Whether an end of a group is the only one on its side of the node."""
    return any(sum(p.right == own.right for p in node.ports.values()) == 1 for own in group.ports)


def _span_of(one: Placed) -> tuple[float, float]:
    """How far a piece reaches to the left and to the right."""
    xs = [p[0] for w in one.ways.values() for line in w for p in line]
    return min(xs), max(xs)


def _squeezed(x: float, y: float, by: float) -> float:
    """A heading after its direction has been squeezed along x."""
    from math import atan2

    return atan2(y, x * by)


def _pit(piece: Piece) -> tuple[dict[str, Port], dict[str, Line], float]:
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


def _grouped(ports: dict[str, Port]) -> list[list[Port]]:
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


def _other(port: Port) -> tuple[Node, Port] | None:
    """What the chain of a port leads to."""
    chain = port.chain
    if chain is None or chain.last is None or chain.first is None:
        return None
    end = chain.last if port is chain.first else chain.first
    return (end.group.node, end)


def _widen(row: Row, start: float, stop: float) -> None:
    row.start, row.stop = min(row.start, start), max(row.stop, stop)


def _overlap(one: Row, two: Row) -> bool:
    return one.start < two.stop + 24 and two.start < one.stop + 24


def _bow(a: Point, b: Point, at: float, side: int) -> Line:
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
