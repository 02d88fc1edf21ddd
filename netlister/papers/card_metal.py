"""The metal of a piece on its card in one position: rails as altered, cuts, blades, where wires meet rails."""

from __future__ import annotations

from functools import cached_property
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.lines import Pose, at, length, part_of_line
from netlister.draw.placing import GAUGE, dots
from netlister.draw.rails import RailRun, beside, rail_runs
from netlister.kinds.model import Role

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from netlister.circuit.model import Circuit, State
    from netlister.draw.lines import Line, Point
    from netlister.draw.placing import Placed
    from netlister.draw.rails import Frog

TOUCH = 0.6
"""So near to each other rails end that meet at a gap."""

CUT = 0.42
"""Where along the run from the tip of a blade to the end of the V rail the cut is drawn."""


JUMPER = 0.2
"""Where along that run a jumper is drawn."""


class Strip(NamedTuple):
    """A length of metal or plastic: its rail, or None where it is none, its line, and whether it is a loose blade.

    A loose blade is metal that nothing in the piece joins to a rail: cut from the frog, with no jumper, and open.
    """

    rail: str | None
    line: Line
    loose: bool = False


class Metal:
    """What lies where in one state."""

    def __init__(self, circuit: Circuit, placed: Placed, state: State, points: list[Frog]) -> None:
        self.piece = placed.piece
        self.frogs = points
        options = dict(self.piece.kind.options)
        self.cut = options.get("links") == "cut" or options.get("closure-rails") == "cut"
        self.jumpers = options.get("jumpers") == "true"
        self.runs = rail_runs(circuit, placed, state, GAUGE, points)

    @cached_property
    def strips(self) -> list[Strip]:
        """Every run in its parts: a blade before a cut closure rail is no part of the frog any more."""
        return [strip for run in self.runs for strip in self._as_cut(run)]

    def _as_cut(self, run: RailRun) -> Iterator[Strip]:
        if run not in self.closures:
            yield Strip(run.rail, run.line)
            return
        share, whole = CUT * length(run.line), length(run.line)
        stock = self.stock(run)
        touches = self.jumpers or self._away(run.line[0], stock) < TOUCH + 0.5
        yield Strip(stock if touches else None, part_of_line(run.line, 0, share - 1.5), not touches)
        yield Strip(run.rail, part_of_line(run.line, share + 1.5, whole))

    def _away(self, spot: Point, rail: str) -> float:
        """How far a point is from a rail."""
        points = [p for run in self.runs if run.rail == rail for p in dots(run.line, 0.5)]
        return min(hypot(x - spot[0], y - spot[1]) for x, y in points)

    @cached_property
    def closures(self) -> list[RailRun]:
        """Runs of the frog that reach from the blades over a closure rail that was cut, or whose link was."""
        return [run for run in self.runs if self.reaches(run) and self._from_blade(run)]

    def reaches(self, run: RailRun) -> bool:
        """Whether a run is of a frog that was cut from its blades."""
        return self.cut and run.rail == "frog" and len(self.piece.kind.bars) == 1 and length(run.line) > GAUGE

    def _from_blade(self, run: RailRun) -> bool:
        """Whether a run begins at a blade and not beyond the frog."""
        spots = [spot for spot, _ in self.frogs]
        first, last = run.line[0], run.line[-1]
        return bool(spots) and all(abs(last[0] - first[0]) > GAUGE and first[0] < x - GAUGE / 2 for x, _ in spots)

    def blades(self) -> list[RailRun]:
        """Runs that begin with a blade."""
        changes = self.piece.kind.is_changing
        return [r for r in self.runs if r.rail and self._from_blade(r) and changes(r.rail)]

    def stock(self, run: RailRun) -> str:
        """The stock rail beside a blade: the nearest where the blade begins."""
        x, y = at(run.line, length(run.line) * 0.1).point
        distance: dict[str, float] = {}
        for other in self.runs:
            if other.rail and self.piece.kind.roles[other.rail] is Role.STOCK:
                near = min((px - x) ** 2 + (py - y) ** 2 for px, py in dots(other.line, 1.0))
                distance[other.rail] = min(near, distance.get(other.rail, near))
        return min(distance, key=lambda rail: distance[rail])

    def altered(self) -> Iterator[Pose]:
        """Where closure rails are cut and where jumpers begin."""
        yield from (at(run.line, length(run.line) * CUT) for run in self.closures)
        if self.jumpers:
            yield from (at(run.line, length(run.line) * JUMPER) for run in self.blades())

    def nearest(self, rail: str, spot: Point) -> Point:
        """The point of a rail that is nearest to a point."""
        points = [p for run in self.runs if run.rail == rail for p in dots(run.line, 0.5)]
        return min(points, key=lambda p: (p[0] - spot[0]) ** 2 + (p[1] - spot[1]) ** 2)

    def inner_gaps(self) -> Iterator[Pose]:
        """Where two rails of the piece itself end at each other and nothing in it joins them but a wheel."""
        kind = self.piece.kind
        if kind.gaps:  # a table's rails end at the roads, not inside it
            return
        joins = {frozenset(pair) for pair in kind.bonds} | {frozenset(made.rails) for made in kind.made}
        for one in self.strips:
            for two in self.strips:
                if one.rail and two.rail and one.rail != two.rail and frozenset((one.rail, two.rail)) not in joins:
                    end = at(one.line, length(one.line))
                    if hypot(end.x - two.line[0][0], end.y - two.line[0][1]) < TOUCH:
                        yield end


# -- where wires meet rails

APART = 14.0
"""So far from each other, and from the ends of the piece, wires are drawn."""

CLEAR = 8.0
"""A rail so far away is out of the way of a wire."""

STEM = 8.0
"""How far the end of a wire is from its rail."""

UPON = 1.0
STEPS = 60
"""So many places along a line are looked at."""


class _LineIndex:
    """Points of all lines of one state, each with the number of its line, by where they are."""

    def __init__(self, metal: Metal) -> None:
        self.strips = metal.strips
        self.cells: dict[tuple[int, int], list[tuple[float, float, int]]] = {}
        for k, strip in enumerate(self.strips):
            for x, y in dots(strip.line, 1.5):
                self.cells.setdefault((int(x // CLEAR), int(y // CLEAR)), []).append((x, y, k))

    def near(self, spot: Point) -> list[tuple[float, int]]:
        """The lines that come as near to a point as CLEAR: how near, and the number of the line."""
        i, j = int(spot[0] // CLEAR), int(spot[1] // CLEAR)
        cells = (self.cells.get((i + a, j + b), ()) for a in (-1, 0, 1) for b in (-1, 0, 1))
        return [(hypot(x - spot[0], y - spot[1]), k) for cell in cells for x, y, k in cell]

    def away(self, spot: Point) -> tuple[set[str | None], float]:
        """The rails that a point lies upon, and how far it is from every other line, at most CLEAR."""
        far = self.near(spot)
        upon = {k for distance, k in far if distance < UPON}
        return {self.strips[k].rail for k in upon}, min((d for d, k in far if k not in upon), default=CLEAR)


def wire_place(metals: Sequence[Metal], rail: str, taken: Sequence[Point], keep: Sequence[Point]) -> Pose | None:
    """Where a wire meets a rail: in every state at the same place, upon this rail alone, away from blades and frogs.

    What is outside lies to the left of the pose. `taken`: where other wires are; `keep`: what else is to be kept clear.
    """
    lines = [_LineIndex(metal) for metal in metals]
    best: tuple[float, float, Pose] | None = None
    for strip in lines[0].strips:
        if strip.rail != rail:
            continue
        whole = length(strip.line)
        for step in range(1, STEPS):
            pose = at(strip.line, whole * step / STEPS)
            found = [one.away(pose.point) for one in lines]
            if any(upon != {rail} for upon, _ in found):
                continue
            near = min((hypot(pose.x - x, pose.y - y) for x, y in (*taken, *keep)), default=APART)
            free = min(CLEAR, *(away for _, away in found)) + min(APART, near)
            score = (round(free, 1), -abs(step / STEPS - 0.4))
            if best is None or score > best[:2]:
                best = (*score, pose)
    if best is None:
        return None
    pose = best[2]
    return max((pose, pose.turned()), key=lambda one: _room(lines, one))


def _room(lines: Sequence[_LineIndex], pose: Pose) -> float:
    """How far the end of a wire to the left of a pose is from every line."""
    spots = [beside(pose, STEM * share) for share in (0.75, 1.0, 1.4)]
    return round(min((d for one in lines for spot in spots for d, _ in one.near(spot)), default=CLEAR), 1)
