"""Which rails keep one pole, which change it, and which must be alike: the track as a graph of directions.

Every route of a piece has a left rail and a right one of opposite poles. So one number says all of it: 0 where pole A
is on the left (seen forward along the piece), 1 where it is on the right. A joint of pieces that face each other
carries the number over turned round. A circle that turns it round is a reversing loop.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from netlister.layout.terminal import named

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.kinds.model import Kind
    from netlister.layout.model import Layout, Piece

TrackNode = tuple[str, str, str]
"""A route, an end or a rail of a piece: the piece, "route", "end" or "rail", its name."""


class Parity:
    """Sets of nodes, with the number between any two of a set: 0 if they are alike, 1 if opposite (union-find)."""

    def __init__(self) -> None:
        self.up: dict[object, tuple[object, int]] = {}

    def find(self, node: object) -> tuple[object, int]:
        """The head of the set of a node, and the number from it to the node."""
        path = []
        turn = 0
        while (above := self.up.get(node)) is not None:
            path.append((node, turn))
            node, turn = above[0], turn ^ above[1]
        for passed, before in path:
            self.up[passed] = (node, turn ^ before)
        return node, turn

    def join(self, a: object, b: object, turned: int) -> bool:
        """Join two nodes; False where they are joined already with the other number."""
        (x, p), (y, q) = self.find(a), self.find(b)
        if x == y:
            return (p ^ q) == turned
        self.up[x] = (y, p ^ q ^ turned)
        return True


def changing(kind: Kind) -> frozenset[str]:
    """The rails of a kind that run under left wheels on one route and under right ones on another."""
    left = {rail for route in kind.routes for rail in route.left if rail}
    right = {rail for route in kind.routes for rail in route.right if rail}
    both = left & right
    left_only = left - both
    right_only = right - both
    while True:  # what a bond joins to them changes with them
        more = {rail for bond in kind.bonds if both.intersection(bond) for rail in bond}
        if more <= both or (more & left_only and more & right_only):  # built so that its rails are joined
            return frozenset(both)
        both |= more


@dataclass(slots=True)
class Track:
    """The track of a layout. `frogs`: terminals of rails that change their pole."""

    layout: Layout
    frogs: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        for piece in self.layout.pieces.values():
            self.frogs.update(piece.terminal(rail) for rail in changing(piece.kind))

    def turns(self, piece: str) -> bool:
        """Whether rails of a piece that are no frogs change sides: a bridge that is turned."""
        kind = self.layout.pieces[piece].kind
        return any(named(piece, rail) in self.frogs and not kind.is_changing(rail) for rail in kind.rails)

    def gaps(self) -> list[int]:
        """The joints at the ends of bridges that turn end for end: a gap, where the bridge may have any poles."""
        return [
            number
            for number, joint in enumerate(self.layout.joints)
            if any(
                self.turns(name) and end in self.layout.pieces[name].kind.gaps for name, end in (joint.start, joint.end)
            )
        ]

    def parity(self, free: Iterable[int] = ()) -> tuple[Parity, list[int]]:
        """All directions, without the joints `free`; and the joints that contradict the others."""
        parity = Parity()
        for a, b, turned in self._inside():
            parity.join(a, b, turned)
        left_out = set(free)
        wrong = []
        for number in range(len(self.layout.joints)):
            if number not in left_out and not parity.join(*self.joint(number)):
                wrong.append(number)
        return parity, wrong

    def _inside(self) -> Iterator[tuple[TrackNode, TrackNode, int]]:
        """What each piece joins: a route with its ends, and with the rails under it that keep their pole."""
        met = {end for joint in self.layout.joints for end in (joint.start, joint.end)}
        for piece in self.layout.pieces.values():
            loose = {e for e in piece.kind.gaps if (piece.name, e) not in met} if self.turns(piece.name) else set()
            for route in piece.kind.routes:
                here = (piece.name, "route", route.name)
                for end in route.ends:
                    if end in loose:  # the end of a bridge that leads nowhere says nothing of the tracks at the pit
                        continue
                    yield here, (piece.name, "end", end), self._turned(piece, route.name, end)
                for rails, side in ((route.left, 0), (route.right, 1)):
                    for rail in rails:
                        if rail and piece.terminal(rail) not in self.frogs:
                            yield here, (piece.name, "rail", rail), side

    def _turned(self, piece: Piece, route_name: str, end_name: str) -> int:
        """Whether the left rail at an end of a route is the route's right one: of a bridge that was turned."""
        kind = piece.kind
        route = next(route for route in kind.routes if route.name == route_name)
        end = kind.ends[end_name]
        return int(end.left in route.right and end.left not in route.left)

    def circle(self, free: Iterable[int] = ()) -> set[int]:
        """The joints of one circle that comes back turned round; none where there is none."""
        free = set(free)
        _, wrong = self.parity(free)
        if not wrong:
            return set()
        beside: dict[TrackNode, list[tuple[TrackNode, int]]] = {}
        for a, b, _ in self._inside():
            beside.setdefault(a, []).append((b, -1))
            beside.setdefault(b, []).append((a, -1))
        for number in range(len(self.layout.joints)):
            if number not in free and number not in wrong:
                a, b, _ = self.joint(number)
                beside.setdefault(a, []).append((b, number))
                beside.setdefault(b, []).append((a, number))
        start, goal, _ = self.joint(wrong[0])
        came: dict[TrackNode, tuple[TrackNode, int]] = {start: (start, -1)}
        queue = deque([start])
        while queue and goal not in came:
            here = queue.popleft()
            for other, number in beside.get(here, ()):
                if other not in came:
                    came[other] = (here, number)
                    queue.append(other)
        found, here = {wrong[0]}, goal
        while here in came and here != start:
            here, number = came[here]
            found.add(number)
        return found - {-1}

    def circles(self, free: Iterable[int] = ()) -> Iterator[set[int]]:
        """Circles that come back turned round, one after the other, none with a joint of another."""
        taken = set(free)
        while circle := self.circle(taken) - taken:
            yield circle
            taken |= circle

    def joint(self, number: int) -> tuple[TrackNode, TrackNode, int]:
        """The two ends of a joint as nodes, and whether the pieces face each other there."""
        joint = self.layout.joints[number]
        (p, a), (q, b) = joint.start, joint.end
        facing = self.layout.pieces[p].kind.ends[a].entering == self.layout.pieces[q].kind.ends[b].entering
        return (p, "end", a), (q, "end", b), int(facing)

    def sides(self, parity: Parity) -> Iterator[tuple[str, object, int]]:
        """Per rail that keeps its pole: the terminal, the head of its set, and 0 if as the head's left, or 1."""
        for piece in self.layout.pieces.values():
            told = set()
            for route in piece.kind.routes:
                head, turn = parity.find((piece.name, "route", route.name))
                for rails, side in ((route.left, 0), (route.right, 1)):
                    for rail in rails:
                        if rail and rail not in told and piece.terminal(rail) not in self.frogs:
                            told.add(rail)
                            yield piece.terminal(rail), head, turn ^ side
            if not piece.kind.routes:
                for end in piece.kind.ends.values():
                    head, turn = parity.find((piece.name, "end", end.name))
                    for rail, side in ((end.left, 0), (end.right, 1)):
                        yield piece.terminal(rail), head, turn ^ side

    def stretches(self) -> list[tuple[list[str], list[int]]]:
        """Rows of plain pieces (two ends, one route), each with the joints at its two ends."""
        joints: dict[str, list[int]] = {}
        for number, joint in enumerate(self.layout.joints):
            joints.setdefault(joint.start[0], []).append(number)
            joints.setdefault(joint.end[0], []).append(number)
        plain = {p.name for p in self.layout.pieces.values() if len(p.kind.ends) == 2 and len(p.kind.routes) == 1}  # noqa: PLR2004
        seen: set[str] = set()
        found = []
        for name in self.layout.pieces:
            if name not in plain or name in seen:
                continue
            row, edge, stack = [], [], [name]
            seen.add(name)
            while stack:
                here = stack.pop()
                row.append(here)
                for number in joints.get(here, []):
                    joint = self.layout.joints[number]
                    other = joint.end[0] if joint.start[0] == here else joint.start[0]
                    if other not in plain:
                        edge.append(number)
                    elif other not in seen:
                        seen.add(other)
                        stack.append(other)
            found.append((row, edge))
        return found
