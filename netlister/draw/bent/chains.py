"""Chains of plain track between the junctions, which way junctions look, and in which order they stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from netlister.draw.bent.junctions import junction_of
from netlister.draw.bent.parts import LEAST, MOST, NAME_SIZE, PER_MM, Chain, Junction, Port, TrackRow, beyond_of
from netlister.draw.geometry import gauge_of
from netlister.draw.placing import GAUGE, PieceEnd, neighbours
from netlister.draw.text import width
from netlister.lengths import NO_LENGTH, in_mm

if TYPE_CHECKING:
    from netlister.layout.model import Layout, Piece


def _room(piece: Piece) -> float:
    """The width of a piece on its row: by its length, within limits, and wide enough for its name."""
    own = piece.length or NO_LENGTH
    if len(piece.kind.ends) == 1:
        own = NO_LENGTH
    return max(LEAST, min(MOST, in_mm(own) * PER_MM), width(piece.name, NAME_SIZE) + 26)


class Chains:
    """Connected pieces as junctions and chains."""

    def __init__(self, layout: Layout, names: list[str], near: dict[PieceEnd, PieceEnd] | None = None) -> None:
        self.layout = layout
        self.names = names
        self.near = neighbours(layout) if near is None else near
        self.scale = GAUGE / gauge_of(layout)
        pieces = layout.pieces
        self.junctions = {n: junction_of(layout, pieces[n], self.scale) for n in names if pieces[n].kind.branching}
        self.chains = self._chains()
        self.rows: list[TrackRow] = []
        self.settled = False
        self._look()
        self._kinds()

    # -- junctions and chains
    def _chains(self) -> list[Chain]:
        """All chains: those from the ports of junctions, then those that touch no junction."""
        found: list[Chain] = []
        done: set[str] = set()
        for name, junction in self.junctions.items():
            for port in junction.ports.values():
                if port.chain is None and (name, port.end) in self.near:
                    found.append(self._follow(junction, port, done))
        for name in self.names:
            if name not in self.junctions and name not in done:
                found.append(self._alone(name, done))
        return found

    def _follow(self, junction: Junction, port: Port, done: set[str]) -> Chain:
        """The chain from a port of a junction to the next junction, or to where the track ends."""
        pieces: list[PieceEnd] = []
        end: PieceEnd | None = self.near[junction.piece.name, port.end]
        while end is not None and end[0] not in self.junctions:
            done.add(end[0])
            pieces.append(end)
            end = self._onward(end)
        other = self.junctions[end[0]] if end else None
        last = other.ports.get(end[1]) if other and end else None
        chain = Chain(port, last, pieces, (junction, other if last else None))
        port.chain = chain
        if last:
            last.chain = chain
        chain.widths = [_room(self.layout.pieces[p]) for p, _ in pieces]
        return chain

    def _onward(self, end: PieceEnd) -> PieceEnd | None:
        """The end of the next piece that one comes to over a piece of plain track, entered at an end."""
        others = [e for e in self.layout.pieces[end[0]].kind.ends if e != end[1]]
        return self.near.get((end[0], others[0])) if others else None

    def _alone(self, name: str, done: set[str]) -> Chain:
        """A chain without any junction, from the end that lies furthest back; a circle from its first piece on."""
        ends = sorted(self.layout.pieces[name].kind.ends.values(), key=lambda e: not e.entering)
        start: PieceEnd = (name, ends[0].name)
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
            first: PieceEnd | None = (start[0], "")
        else:
            closed = self.near.get(start) is not None and self.near[start][0] in seen
            first = (name, ends[0].name) if closed else start
        pieces: list[PieceEnd] = []
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
        chain.widths = [_room(self.layout.pieces[p]) for p, _ in pieces]
        return chain

    # -- which way junctions look, and in which order they stand

    def _look(self) -> None:
        """The first piece of the file runs from left to right; the rest follows."""
        self.order: list[Junction] = []
        if not self.junctions:
            return
        start, looks = self._first()
        start.looks = looks
        queue = [start]
        while queue:
            junction = queue.pop(0)
            self.order.append(junction)
            for port in junction.ports.values():
                other = beyond_of(port)
                if other and other[0].looks == 0:
                    other[0].looks = (1 if other[1].right else -1) * -junction.side(port)
                    queue.append(other[0])

    def _first(self) -> tuple[Junction, int]:
        """The junction to begin with, and which way it looks so that the first piece of the file runs to the right."""
        name = self.names[0]
        if name in self.junctions:
            return self.junctions[name], 1
        for chain in self.chains:
            for piece, end in chain.pieces:
                if piece == name and chain.first and chain.junctions[0]:
                    forward = self.layout.pieces[piece].kind.ends[end].entering
                    side = 1 if forward else -1
                    return chain.junctions[0], side if chain.first.right else -side
        return next(iter(self.junctions.values())), 1

    def _kinds(self) -> None:
        """Tell the chains apart that turn round or lead back."""
        for chain in self.chains:
            one, two = chain.junctions
            if one and two and chain.first and chain.last and one.side(chain.first) == two.side(chain.last):
                chain.kind = "turn"
        self._back_edges()
        self.turns = [c for c in self.chains if c.kind == "turn"]
        self.backs = [c for c in self.chains if c.kind == "back"]

    def _back_edges(self) -> None:
        """Mark the chains that would close a circle from left to right, by a search in depth."""
        colour: dict[int, int] = {}  # 1: on the way that is being followed, 2: done
        for root in self.order:
            if id(root) in colour:
                continue
            colour[id(root)] = 1
            stack = [(root, iter(self._rightward(root)))]
            while stack:
                junction, chains = stack[-1]
                for chain, other in chains:
                    state = colour.get(id(other), 0)
                    if state == 1:
                        chain.kind = "back"
                    elif state == 0:
                        colour[id(other)] = 1
                        stack.append((other, iter(self._rightward(other))))
                        break
                else:
                    colour[id(junction)] = 2
                    stack.pop()

    def _rightward(self, junction: Junction) -> list[tuple[Chain, Junction]]:
        """The straight chains that leave a junction to its right, with the junctions that they lead to."""
        found = []
        for port in junction.ports.values():
            other = beyond_of(port)
            if other and junction.side(port) > 0 and port.chain and port.chain.kind == "straight":
                found.append((port.chain, other[0]))
        return found
