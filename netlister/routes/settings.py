"""In which states a route through a piece is set, and with it its ends; what continues a rail over plain track."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from netlister.circuit.build import setting_when, values_of
from netlister.layout.terminal import Terminal
from netlister.poles.diagram import ALWAYS, NEVER

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Mapping

    from netlister.kinds.model import Route
    from netlister.layout.model import Joint, Piece
    from netlister.poles.diagram import Function
    from netlister.poles.reach import Poles

T = TypeVar("T")

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


class Reads:
    """Notes what is read, while `now` is a set; see `Settings` and `rules.analysis.Analysis` for the keys."""

    __slots__ = ("now",)

    def __init__(self) -> None:
        self.now: set[Hashable] | None = None


class Settings:
    """Routes and ends of a layout as functions of the state.

    `reads` notes ("piece", name) for a piece and ("end", piece, end) for the joint at an end, where these are read.
    """

    def __init__(self, poles: Poles, reads: Reads | None = None) -> None:
        self.poles = poles
        self.layout = poles.circuit.layout
        self.reads = reads or Reads()
        self._conditions: dict[tuple[str, tuple[tuple[str, str], ...]], Function] = {}
        self._known: dict[tuple[str, ...], tuple[Any, set[Hashable] | None]] = {}
        self._beyond: dict[EndOf, Side] | None = None

    def after(self, poles: Poles, gone: Iterable[Joint], came: Iterable[Joint], *, as_before: bool) -> Settings:
        """The settings of the layout after a change; `as_before`: no joints and no pieces are changed."""
        made = Settings(poles, self.reads)
        if as_before:
            made._conditions, made._known, made._beyond = self._conditions, self._known, self._beyond
            return made
        beyond = dict(self.beyond)
        for joint in gone:
            for end in (joint.start, joint.end):
                beyond.pop(end, None)
        for joint in came:
            beyond[joint.start] = Side(joint, *joint.end, first=True)
            beyond[joint.end] = Side(joint, *joint.start, first=False)
        made._beyond = beyond
        return made

    def _once(self, key: tuple[str, ...], work: Callable[[], T]) -> T:
        """What is worked out only once, and read anew each time."""
        reads = self.reads
        found = self._known.get(key)
        if found is None or (found[1] is None and reads.now is not None):
            outer = reads.now
            own: set[Hashable] | None = None if outer is None else set()
            reads.now = own
            try:
                found = self._known[key] = work(), own
            finally:
                reads.now = outer
                if outer is not None and own is not None:
                    outer |= own
        elif reads.now is not None and found[1]:
            reads.now |= found[1]
        value: T = found[0]
        return value

    def piece(self, name: str) -> Piece:
        """The piece of a name."""
        if self.reads.now is not None:
            self.reads.now.add(("piece", name))
        return self.layout.pieces[name]

    def side(self, piece: str, end: str) -> Side | None:
        """What an end is joined to."""
        if self.reads.now is not None:
            self.reads.now.add(("end", piece, end))
        return self.beyond.get((piece, end))

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

    def route(self, piece: Piece, route: Route) -> Function:
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

    def end(self, piece: Piece, end: str) -> Function:
        """The states in which an end of a piece is on a set route."""
        if piece.kind.plain:
            return ALWAYS
        return self._once((piece.name, end), lambda: self._find_end(piece, end))

    def _find_end(self, piece: Piece, end: str) -> Function:
        found = NEVER
        for route in piece.kind.routes:
            if end in route.ends:
                found = self.poles.diagrams.either(found, self.route(piece, route))
        return found

    def _track(self, piece: Piece, route: Route) -> Function:
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
                there = self.piece(arrival[0])
                if there.kind.bladed:
                    result = diagrams.both(result, self.end(there, arrival[1]))
        return result

    def over_plain_track(self, piece: str, end: str) -> EndOf | None:
        """The end of the first piece that is no plain track, met from an end over joints and plain track."""
        start = (piece, end)
        while True:
            side = self.side(piece, end)
            if side is None:
                return None
            kind = self.piece(side.piece).kind
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
        return self._once((piece, end, rail), lambda: self._find_legs(piece, end, rail))

    def _find_legs(self, piece: str, end: str, rail: str) -> tuple[Leg, ...]:
        start = (piece, end)
        while True:
            side = self.side(piece, end)
            if side is None:
                return ()
            across = metal_across(self.piece(piece), end, rail, side)
            if across is None:
                return ()
            kind = self.piece(side.piece).kind
            if not kind.plain:
                changing = kind.bladed and kind.is_changing(across)
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

    def unset(self, legs: tuple[Leg, ...]) -> Function:
        """The states in which one of the legs is not set."""
        diagrams = self.poles.diagrams
        return diagrams.any_of([diagrams.negate(self.end(self.piece(p), e)) for p, e in legs])


def other_end(ends: Mapping[str, object], end: str) -> str:
    """The other end of a piece with two."""
    first, second = ends
    return second if end == first else first


def metal_across(piece: Piece, end: str, rail: str, side: Side) -> str | None:
    """The rail that a rail of a piece meets by a metal joiner at one of its ends, or None."""
    at = piece.kind.ends[end]
    if rail not in (at.left, at.right):
        return None
    terminal = piece.terminal(rail)
    for a, b, insulated in side.joint.pairs:
        mine, theirs = (a, b) if side.first else (b, a)
        if mine == terminal and not insulated:
            return Terminal.of(theirs).own
    return None
