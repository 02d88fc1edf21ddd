"""The track as a graph that a train moves on: steps over one piece each, with their lengths and gaps.

Lengths are whole nanometres, so that sums, differences and comparisons of places are exact.
"""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from netlister.layout.stretches import stretches
from netlister.lengths import Metres, Nanometres, metres, nanometres
from netlister.quantity import show

if TYPE_CHECKING:
    from netlister.kinds.model import DefaultDimension, Route
    from netlister.layout.model import Joint, Layout, Piece
    from netlister.layout.stretches import Stretch
    from netlister.poles.diagram import Function
    from netlister.routes.settings import EndOf, Settings

GAP = "gap"
"""The dimension of a rail-section that is the default width of an insulated rail joint."""


class Step(NamedTuple):
    """A run over one route of a piece: its number among the routes of the kind, forward along the piece or not."""

    piece: str
    route: int
    forward: bool


class Lying(NamedTuple):
    """What lies under the wheels of one side from `start` to `stop` in nm: a rail, or None where it is dead."""

    rail: str | None
    start: Nanometres
    stop: Nanometres


class Measured(NamedTuple):
    """A step measured: its length in nm, and what lies under the left and the right wheels as the train runs.

    `stated`: whether there is a length at all, from the layout or the kind. `known`: whether the kind says where its
    rails meet; else they share the length in equal parts.
    """

    length: Nanometres
    left: tuple[Lying, ...]
    right: tuple[Lying, ...]
    stated: bool
    known: bool


def gap_width(layout: Layout) -> DefaultDimension | Metres:
    """The width of an insulated rail joint: as the layout says in m, else the default with its source."""
    width = layout.constants.get(GAP)
    if width is not None:
        return Metres(width)
    for piece in layout.pieces.values():
        if piece.kind.plain and GAP in piece.kind.dimensions:
            return piece.kind.dimensions[GAP]
    from netlister.kinds import library

    return library().kind("rail-section").dimensions[GAP]


class TrackGraph:
    """Where a train can go: from each step to the next ones."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        self.layout = settings.layout
        self._from: dict[EndOf, tuple[Step, ...]] = {}
        self._after: dict[Step, tuple[Step, ...]] = {}
        self._measured: dict[tuple[str, int], Measured] = {}
        self._alike: dict[tuple[object, ...], Measured] = {}

    # -- the graph

    def piece(self, step: Step) -> Piece:
        """The piece that a step runs over."""
        return self.layout.pieces[step.piece]

    def route(self, step: Step) -> Route:
        """The route that a step takes."""
        return self.layout.pieces[step.piece].kind.routes[step.route]

    def entry(self, step: Step) -> EndOf:
        """The end at which a step begins."""
        return step.piece, self.route(step).ends[0 if step.forward else 1]

    def exit(self, step: Step) -> EndOf:
        """The end at which a step leaves its piece."""
        return step.piece, self.route(step).ends[1 if step.forward else 0]

    def steps_from(self, end: EndOf) -> tuple[Step, ...]:
        """The steps that begin at an end and run into its piece."""
        found = self._from.get(end)
        if found is None:
            name, at = end
            listed = []
            for number, route in enumerate(self.layout.pieces[name].kind.routes):
                if at in route.ends:
                    listed.append(Step(name, number, route.ends[0] == at))
            found = self._from[end] = tuple(listed)
        return found

    def steps_of(self, piece: str) -> tuple[Step, ...]:
        """Every step over a piece, both ways."""
        count = len(self.layout.pieces[piece].kind.routes)
        return tuple(Step(piece, number, forward) for number in range(count) for forward in (True, False))

    def after(self, step: Step) -> tuple[Step, ...]:
        """The steps that can follow a step without a change of direction."""
        found = self._after.get(step)
        if found is None:
            side = self.settings.beyond.get(self.exit(step))
            found = self._after[step] = () if side is None else self.steps_from((side.piece, side.end))
        return found

    def before(self, step: Step) -> tuple[Step, ...]:
        """The steps that a step can follow without a change of direction."""
        return tuple(back(s) for s in self.after(back(step)))

    def when(self, step: Step) -> Function:
        """The states in which the route of a step is set."""
        return self.settings.route(self.layout.pieces[step.piece], self.route(step))

    # -- measures

    @cached_property
    def gap(self) -> Nanometres:
        """The width of an insulated rail joint in nm."""
        width = gap_width(self.layout)
        return nanometres(width if isinstance(width, float) else width.metres)

    @cached_property
    def insulated(self) -> dict[EndOf, tuple[bool, bool]]:
        """Per joined end whether its left and its right rail are insulated, seen forward along its own piece."""
        found: dict[EndOf, tuple[bool, bool]] = {}
        for joint in self.layout.joints:
            left, right = (pair[2] for pair in joint.pairs)
            found[joint.start] = (left, right)
            found[joint.end] = (right, left) if crossed(self.layout, joint) else (left, right)
        return found

    def measure(self, step: Step) -> Measured:
        """The length of a step and what lies under its wheels, from where it begins."""
        key = (step.piece, step.route)
        ahead = self._measured.get(key)
        if ahead is None:
            ahead = self._measured[key] = self._measure(step)
        return ahead if step.forward else _turned(ahead)

    def length(self, step: Step) -> Nanometres:
        """The length of a step in nm, 0 where it is not known."""
        found = self._measured.get((step.piece, step.route))
        return self.measure(step).length if found is None else found.length

    def _measure(self, step: Step) -> Measured:
        piece = self.piece(step)
        key = (id(piece.kind), step.route, piece.length, piece.said)
        known = self._alike.get(key)
        if known is None:
            known = self._alike[key] = self._measure_anew(step)
        return known

    def _measure_anew(self, step: Step) -> Measured:
        found = stretches(self.layout, self.piece(step), self.route(step))

        def rounded(side: tuple[Stretch, ...]) -> tuple[Lying, ...]:
            return tuple(Lying(s.rail, nanometres(s.start), nanometres(s.stop)) for s in side)

        length = nanometres(found.length)
        return Measured(length, rounded(found.left), rounded(found.right), length > 0, found.known)

    def gaps_at_exit(self, step: Step) -> tuple[bool, bool]:
        """Whether the rails under the left and the right wheels are insulated where a step leaves its piece."""
        left, right = self.insulated.get(self.exit(step), (False, False))
        return (left, right) if step.forward else (right, left)


def back(step: Step) -> Step:
    """The same step the other way."""
    return Step(step.piece, step.route, not step.forward)


def shown_mm(length: Nanometres, digits: int) -> str:
    """A length in whole nanometres as text in mm, rounded to so many significant digits."""
    return show(metres(length), "mm", digits)


def crossed(layout: Layout, joint: Joint) -> bool:
    """Whether the two pieces at a joint face each other or turn their backs, so that left meets right."""
    one, other = (layout.pieces[piece].kind.ends[end].entering for piece, end in (joint.start, joint.end))
    return one == other


def _turned(ahead: Measured) -> Measured:
    length = ahead.length

    def turn(side: tuple[Lying, ...]) -> tuple[Lying, ...]:
        return tuple(Lying(s.rail, length - s.stop, length - s.start) for s in reversed(side))

    return ahead._replace(left=turn(ahead.right), right=turn(ahead.left))
