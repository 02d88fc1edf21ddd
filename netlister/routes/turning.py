"""Routes on which a train comes back onto its own track with left and right exchanged, found from the track alone.

The track as a signed graph (F. Harary, "On the notion of balance of a signed graph", 1953): a node is what a train can
reach inside a piece with changes of direction, an edge is a joint, odd where left meets right. A cycle with an odd
number of odd joints exchanges left and right; there is none exactly if every node can be given one of two directions.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, NamedTuple

from netlister.poles.diagram import ALWAYS
from netlister.routes.track import crossed

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.kinds.model import Route
    from netlister.layout.model import Joint, Layout, Piece
    from netlister.routes.settings import EndOf
    from netlister.routes.track import TrackGraph

TrackPart = tuple[str, int]
"""A piece and the number of one of its parts between which no train can change inside it."""


class JointEdge(NamedTuple):
    """A joint between two nodes, from end to end; `odd` where left meets right."""

    joint: Joint
    one: TrackPart
    other: TrackPart
    odd: bool


class Cycle(NamedTuple):
    """A cycle of track: its joints in order, each with whether it is run from its `start` to its `end`."""

    edges: tuple[tuple[JointEdge, bool], ...]

    def places(self) -> tuple[str, ...]:
        """The ends passed in order, as `piece.end`."""
        found = []
        for edge, forward in self.edges:
            joint = edge.joint
            found += [".".join(e) for e in ((joint.start, joint.end) if forward else (joint.end, joint.start))]
        return tuple(found)

    def nodes(self) -> tuple[TrackPart, ...]:
        """The nodes in order, each before the joint of the same number."""
        return tuple(edge.one if forward else edge.other for edge, forward in self.edges)


def may_turn(layout: Layout) -> bool:
    """Whether there may be an odd cycle: so where each piece is one node, and every joint can be taken.

    Quick, and with little memory; where it says no there is none.
    """
    number = {name: n for n, name in enumerate(layout.pieces)}
    head, size = list(range(len(number))), [1] * len(number)
    odd = [False] * len(number)  # whether a node is turned against its head

    def root(node: int) -> tuple[int, bool]:
        turned = False
        while head[node] != node:
            turned ^= odd[node]
            node = head[node]
        return node, turned

    for joint in layout.joints:
        (one, a), (other, b) = root(number[joint.start[0]]), root(number[joint.end[0]])
        unlike = a ^ b ^ crossed(layout, joint)
        if one == other:
            if unlike:
                return True
            continue
        if size[one] > size[other]:
            one, other = other, one
        head[one], odd[one] = other, unlike
        size[other] += size[one]
    return False


class Graph:
    """The signed graph of a track, of routes and joints that a train can take in some state that `never` leaves."""

    def __init__(self, track: TrackGraph) -> None:
        self.track = track
        self.nodes: list[TrackPart] = []
        self.ends: dict[TrackPart, list[str]] = {}
        self.of: dict[EndOf, TrackPart] = {}
        for _, piece in sorted(track.layout.pieces.items()):  # by name, so that the order of entries changes nothing
            self._parts(piece)
        joints = sorted(track.layout.joints, key=lambda joint: sorted((joint.start, joint.end)))
        self.edges = [edge for joint in joints if (edge := self._edge(joint)) is not None]

    def _parts(self, piece: Piece) -> None:
        """The parts of a piece: ends that routes join."""
        parts: list[set[str]] = []
        for route in possible_routes(self.track, piece):
            joined = set(route.ends)
            apart = []
            for part in parts:
                if part & joined:
                    joined |= part
                else:
                    apart.append(part)
            parts = [*apart, joined]
        for number, part in enumerate(parts):
            node = (piece.name, number)
            self.nodes.append(node)
            self.ends[node] = [end for end in piece.kind.ends if end in part]
            for end in part:
                self.of[piece.name, end] = node

    def _edge(self, joint: Joint) -> JointEdge | None:
        one, other = self.of.get(joint.start), self.of.get(joint.end)
        if one is None or other is None:
            return None
        settings, pieces = self.track.settings, self.track.layout.pieces
        if not (pieces[one[0]].kind.plain or pieces[other[0]].kind.plain):
            ends = [settings.end(pieces[piece], end) for piece, end in (joint.start, joint.end)]
            if not settings.poles.possible(settings.poles.diagrams.both(*ends)):
                return None
        return JointEdge(joint, one, other, crossed(self.track.layout, joint))

    def odd_cycles(self, without: Iterable[TrackPart] = (), cut: Iterable[str] = ()) -> list[Cycle]:
        """Odd cycles that share no node, none of them where there is none at all; shortest first.

        `without`: nodes left out; `cut`: joints left out, by name.
        """
        left_out, apart = set(without), set(cut)
        near: dict[TrackPart, list[tuple[JointEdge, bool]]] = {node: [] for node in self.nodes if node not in left_out}
        for edge in self.edges:
            if edge.one in near and edge.other in near and edge.joint.name not in apart:
                near[edge.one].append((edge, True))
                near[edge.other].append((edge, False))
        came: dict[TrackPart, tuple[JointEdge, bool] | None] = {}
        odd: dict[TrackPart, bool] = {}
        closing: list[JointEdge] = []
        for root in near:
            if root not in came:
                came[root], odd[root] = None, False
                queue = deque([root])
                while queue:
                    here = queue.popleft()
                    for edge, forward in near[here]:
                        there = edge.other if forward else edge.one
                        if there not in came:
                            came[there], odd[there] = (edge, forward), odd[here] != edge.odd
                            queue.append(there)
                        elif forward and odd[there] != (odd[here] != edge.odd):
                            closing.append(edge)
        cycles = sorted((_cycle(came, edge) for edge in closing), key=lambda c: (len(c.edges), c.places()))
        found: list[Cycle] = []
        used: set[TrackPart] = set()
        for cycle in cycles:
            nodes = set(cycle.nodes())
            if not nodes & used:
                used |= nodes
                found.append(cycle)
        return found


def _cycle(came: dict[TrackPart, tuple[JointEdge, bool] | None], closing: JointEdge) -> Cycle:
    """The cycle of a joint with the tree's paths from both its nodes to where they meet."""

    def up(node: TrackPart) -> list[tuple[TrackPart, tuple[JointEdge, bool] | None]]:
        listed = []
        while True:
            way = came[node]
            listed.append((node, way))
            if way is None:
                return listed
            edge, forward = way
            node = edge.one if forward else edge.other

    first, second = up(closing.one), up(closing.other)
    on_second = {node: number for number, (node, _) in enumerate(second)}
    meet = next(number for number, (node, _) in enumerate(first) if node in on_second)
    down = [way for _, way in reversed(first[:meet]) if way is not None]
    back = [way for _, way in second[: on_second[first[meet][0]]] if way is not None]
    return Cycle((*down, (closing, True), *((edge, not forward) for edge, forward in back)))


def possible_routes(track: TrackGraph, piece: Piece) -> list[Route]:
    """The routes of a piece that are set in some state that `never` leaves."""
    found = []
    for route in piece.kind.routes:
        when = track.settings.route(piece, route)
        if when == ALWAYS or track.settings.poles.possible(when):
            found.append(route)
    return found


def turning_rails(track: TrackGraph, piece: Piece) -> tuple[str, ...]:
    """The rails of a piece that turn a train round inside it, as the bridge of a turntable does.

    On two routes between the same ends they lie under the left wheels on one and under the right wheels on the other.
    """
    sides: dict[tuple[str, str], tuple[set[str | None], set[str | None]]] = {}
    for route in possible_routes(track, piece) if not piece.kind.plain else ():
        left, right = sides.setdefault(route.ends, (set(), set()))
        left.update(route.left)
        right.update(route.right)
    found = {rail for left, right in sides.values() for rail in left & right if rail is not None}
    return tuple(rail for rail in piece.kind.rails if rail in found)
