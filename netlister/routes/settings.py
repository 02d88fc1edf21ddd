"""In which states a route through a piece is set, and with it its ends; what continues a rail over plain track."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from netlister.circuit.build import setting_when, values_of
from netlister.poles.diagram import ALWAYS, NEVER

if TYPE_CHECKING:
    from collections.abc import Mapping

    from netlister.kinds.model import Route
    from netlister.layout.model import Joint, Piece
    from netlister.poles.reach import Poles

EndOf = tuple[str, str]
"""A piece and an end of it."""

Leg = tuple[str, str]
"""A piece with blades and an end of it whose rail changes pole with the blades."""


class Side(NamedTuple):
    """What an end is joined to: the joint, the piece and end beyond it, and whether it is its first end."""

    joint: Joint
    piece: str
    end: str
    first: bool


class Settings:
    """Routes and ends of a layout as functions of the state."""

    def __init__(self, poles: Poles) -> None:
        self.poles = poles
        self.layout = poles.circuit.layout
        self._conditions: dict[tuple[str, tuple[tuple[str, str], ...]], int] = {}
        self._ends: dict[EndOf, int] = {}
        self._beyond: dict[EndOf, Side] | None = None
        self._legs: dict[tuple[str, str, str], tuple[Leg, ...]] = {}

    @property
    def beyond(self) -> dict[EndOf, Side]:
        """What each joined end is joined to."""
        if self._beyond is None:
            found: dict[EndOf, Side] = {}
            for joint in self.layout.joints:
                found[joint.start] = Side(joint, *joint.end, first=True)
                found[joint.end] = Side(joint, *joint.start, first=False)
            self._beyond = found
        return self._beyond

    def route(self, piece: Piece, route: Route) -> int:
        """The states in which a route through a piece is set."""
        if piece.kind.crossing:
            return self._track(piece, route)
        if not route.when:
            return ALWAYS
        key = (piece.name, route.when)
        found = self._conditions.get(key)
        if found is None:
            when = setting_when(self.poles.circuit, piece.name, route.when)
            found = self._conditions[key] = self.poles.condition(when)
        return found

    def end(self, piece: Piece, end: str) -> int:
        """The states in which an end of a piece is on a set route."""
        if piece.kind.plain:
            return ALWAYS
        key = (piece.name, end)
        found = self._ends.get(key)
        if found is None:
            found = NEVER
            for route in piece.kind.routes:
                if end in route.ends:
                    found = self.poles.diagrams.either(found, self.route(piece, route))
            self._ends[key] = found
        return found

    def _track(self, piece: Piece, route: Route) -> int:
        """A track of a crossing without blades: as `set` says, else unless a turnout is set against it."""
        cubes = piece.sets.get(route.name)
        diagrams = self.poles.diagrams
        if cubes is not None:
            circuit = self.poles.circuit
            return diagrams.any_of([diagrams.cube(values_of(circuit, cube)) for cube in cubes])
        result = ALWAYS
        for end in route.ends:
            arrival = self.over_plain_track(piece.name, end)
            if arrival is not None:
                there = self.layout.pieces[arrival[0]]
                if there.kind.bladed:
                    result = diagrams.both(result, self.end(there, arrival[1]))
        return result

    def over_plain_track(self, piece: str, end: str) -> EndOf | None:
        """The end of the first piece that is no plain track, met from an end over joints and plain track."""
        start = (piece, end)
        while True:
            side = self.beyond.get((piece, end))
            if side is None:
                return None
            kind = self.layout.pieces[side.piece].kind
            if not kind.plain:
                return side.piece, side.end
            piece, end = side.piece, other_end(kind.ends, side.end)
            if (piece, end) == start:
                return None

    def legs(self, piece: str, end: str, rail: str) -> tuple[Leg, ...]:
        """The legs whose changing rail the rail of a piece continues beyond one of its ends.

        By metal joiners and over plain track alone. A changing rail is one named `frog…` or `closure-…`, at an end
        of a piece with blades.
        """
        key = (piece, end, rail)
        found = self._legs.get(key)
        if found is None:
            found = self._legs[key] = self._find_legs(piece, end, rail)
        return found

    def _find_legs(self, piece: str, end: str, rail: str) -> tuple[Leg, ...]:
        start = (piece, end)
        pieces = self.layout.pieces
        while True:
            side = self.beyond.get((piece, end))
            if side is None:
                return ()
            across = metal_across(pieces[piece], end, rail, side)
            if across is None:
                return ()
            kind = pieces[side.piece].kind
            if not kind.plain:
                changing = kind.bladed and is_changing(across)
                return ((side.piece, side.end),) if changing else ()
            piece, end, rail = side.piece, other_end(kind.ends, side.end), across
            if (piece, end) == start:
                return ()

    def legs_of_piece(self, piece: Piece) -> tuple[Leg, ...]:
        """The legs whose changing rail some rail of the piece continues, beyond any of its ends."""
        found: list[Leg] = []
        for end in piece.kind.ends.values():
            for rail in (end.left, end.right):
                found += self.legs(piece.name, end.name, rail)
        return tuple(dict.fromkeys(found))

    def unset(self, legs: tuple[Leg, ...]) -> int:
        """The states in which one of the legs is not set."""
        diagrams = self.poles.diagrams
        return diagrams.any_of([diagrams.negate(self.end(self.layout.pieces[p], e)) for p, e in legs])


def is_changing(rail: str) -> bool:
    """Whether a rail, by its name, changes pole with the blades."""
    return rail.startswith(("frog", "closure-"))


def other_end(ends: Mapping[str, object], end: str) -> str:
    """The other end of a piece with two."""
    first, second = ends
    return second if end == first else first


def metal_across(piece: Piece, end: str, rail: str, side: Side) -> str | None:
    """The rail that a rail of a piece meets by a metal joiner at one of its ends, or None."""
    at = piece.kind.ends[end]
    if rail not in (at.left, at.right):
        return None
    terminal = f"{piece.name}.{rail}"
    for a, b, insulated in side.joint.pairs:
        mine, theirs = (a, b) if side.first else (b, a)
        if mine == terminal and not insulated:
            return theirs.split(".", 1)[1]
    return None
