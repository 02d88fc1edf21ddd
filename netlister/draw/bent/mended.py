"""Track is moved off other track: junctions to the right, rows past each other."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from netlister.draw.bent.lines import RowLines
from netlister.draw.placing import Placed, upon_another

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from netlister.draw.bent.parts import Junction, TrackRow

    Move = Callable[[], None]

TRIES, LEAST_TRIES, LARGE = 4000, 20, 200
"""Moves that are tried to take track off other track: TRIES divided by the number of pieces, but LEAST_TRIES at least
where the pieces are no more than LARGE."""


class ClearPlan(RowLines):
    """A bent plan whose track does not lie on other track, as far as moves can be found."""

    def _settled(self, found: dict[str, Placed]) -> dict[str, Placed]:
        """Move junctions to the right, or rows past each other, where that takes track off other track."""
        self.settled = True
        tries = max(LEAST_TRIES if len(self.names) <= LARGE else 0, TRIES // len(self.names))
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
        for junction, least in self._pushes(found, one, two):
            yield partial(setattr, junction, "least", least), partial(setattr, junction, "least", junction.least)
        order = self.rows
        for mine, other in ((one, two), (two, one)):
            for row in self._rows_of(mine):
                for past in self._rows_of(other):
                    moved = [r for r in order if r is not row]
                    place = moved.index(past) + (order.index(row) < order.index(past)) if row is not past else -1
                    moved[max(place, 0) : max(place, 0)] = [row]
                    if place >= 0 and moved != order and self._allowed(moved):
                        yield partial(setattr, self, "rows", moved), partial(setattr, self, "rows", order)

    def _rows_of(self, name: str) -> list[TrackRow]:
        if name in self.junctions:
            return [g.row for g in self.junctions[name].groups if g.row]
        return [r for c in self.chains if any(p == name for p, _ in c.pieces) for r in c.rows or ()]

    def _allowed(self, rows: list[TrackRow]) -> bool:
        """Whether the legs of every junction keep their order from top to bottom."""
        number = {id(r): i for i, r in enumerate(rows)}
        for junction in self.order:
            places = [number[id(g.row)] for g in junction.ordered() if g.row]
            if places != sorted(places):
                return False
        return True

    def _pushes(self, found: dict[str, Placed], one: str, two: str) -> list[tuple[Junction, float]]:
        """Junctions that may be moved so that two pieces come apart, each with where it would stand."""
        pushes = []
        for mine, other in ((one, two), (two, one)):
            start, _ = span_of(found[mine])
            _, stop = span_of(found[other])
            for junction in self._junctions_of(mine):
                pushes.append((junction, junction.x + stop - start + 30))
        return pushes

    def _junctions_of(self, name: str) -> list[Junction]:
        if name in self.junctions:
            return [self.junctions[name]]
        for chain in self.chains:
            if any(piece == name for piece, _ in chain.pieces):
                return [n for n in chain.junctions if n]
        return []


def span_of(one: Placed) -> tuple[float, float]:
    """How far a piece reaches to the left and to the right."""
    xs = [p[0] for w in one.ways.values() for line in w for p in line]
    return min(xs), max(xs)
