"""Labels that never collide: each takes the nearest free place beside what it names."""

from __future__ import annotations

from itertools import islice
from math import hypot
from typing import TYPE_CHECKING, NamedTuple

from netlister.draw.text import width

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from netlister.draw.lines import Point

CELL = 24.0
RISE, FALL = 0.98, 0.3
"""How far letters reach above and below their line, in sizes."""

MARGIN = 1.0
RINGS = 60
ENOUGH = RINGS * 8 + 400
"""Places that are looked at where one was found, in case a later one is better."""

CLOSE_BY = 10
"""Candidates that count as close to a point."""

CLOSE_FAR = 9.0
FAR = 26.0
"""From here on a line leads from a label to what it names."""

NEARER = 1.5
"""A name stands by so much nearer to its own rail than to any other."""

CROSSED = 3
"""How much worse it is that a line to what is named crosses another name than that a name lies over track."""

MARKED, OWN = 4.5, 7.0
"""A line so near to a mark is taken to lead to it; a mark so near to what is named is its own."""

STEP = 2.0
"""How far the points of such a line are apart."""

INK = 3.0
ALONG = 8
"""A line may cross track, on so many of its points; on more it runs along a rail and seems to name that."""


class Box(NamedTuple):
    """A rectangle; y points up."""

    left: float
    low: float
    right: float
    high: float

    def meets(self, other: Box) -> bool:
        """Whether two rectangles overlap."""
        return self.left < other.right and other.left < self.right and self.low < other.high and other.low < self.high

    def away(self, spot: Point) -> float:
        """How far a point is from it."""
        return hypot(max(self.left - spot[0], 0, spot[0] - self.right), max(self.low - spot[1], 0, spot[1] - self.high))

    def grown(self, by: float) -> Box:
        """Larger on every side."""
        return Box(self.left - by, self.low - by, self.right + by, self.high + by)


class Label(NamedTuple):
    """A text to place: what it says and names, its size, the point it belongs to and how far that is to be kept clear.

    `symbol`: the width of a symbol in front of the text. `others`: further points that it may stand at instead.
    `rail`: the rail that it names, which must then be the nearest to it, or a line leads to it.
    """

    text: str
    names: str
    kind: str
    size: float
    point: Point
    clear: float
    symbol: float = 0.0
    others: tuple[Point, ...] = ()
    rail: str = ""

    @property
    def wide(self) -> float:
        """How wide it is."""
        return width(self.text, self.size) + self.symbol

    def box(self, x: float, y: float) -> Box:
        """Its rectangle if its line begins at a point."""
        return Box(x, y - FALL * self.size, x + self.wide, y + RISE * self.size)


class Put(NamedTuple):
    """A label at its place; `lead`: where a line to what it names begins, or None."""

    label: Label
    x: float
    y: float
    lead: Point | None


class Paper:
    """What has been drawn: track by points, labels by rectangles."""

    def __init__(self) -> None:
        self.points: dict[tuple[int, int], list[Point]] = {}
        self.boxes: dict[tuple[int, int], list[Box]] = {}
        self.rails: dict[str, list[Point]] = {}
        self.marks: list[Point] = []
        self.inked: set[tuple[int, int]] = set()

    def mark(self, spot: Point) -> None:
        """Note a mark that no line to something else should cross."""
        self.marks.append(spot)

    def _marked(self, label: Label, lead: Point) -> int:
        """How many marks of something else a line to what is named crosses."""
        others = [m for m in self.marks if hypot(m[0] - label.point[0], m[1] - label.point[1]) > OWN]
        return sum(_off(label.point, lead, mark) < MARKED for mark in others)

    def _along(self, label: Label, lead: Point) -> int:
        """On how many points more than crossings take a line to what is named lies on track."""
        away = islice(_between(label.point, lead), int(OWN / STEP), None)
        on = sum((int(x // INK), int(y // INK)) in self.inked for x, y in away)
        return max(on - ALONG, 0)

    def track(self, points: Iterable[Point], rail: str = "") -> None:
        """Note points that are drawn over, and of which rail."""
        for x, y in points:
            self.inked.add((int(x // INK), int(y // INK)))
            self.points.setdefault((int(x // CELL), int(y // CELL)), []).append((x, y))
            if rail:
                self.rails.setdefault(rail, []).append((x, y))

    def misread(self, label: Label, box: Box) -> bool:
        """Whether a label would stand nearer to another rail than to its own."""
        if not label.rail:
            return False
        own = min((box.away(spot) for spot in self.rails.get(label.rail, ())), default=0.0) + NEARER
        wide = box.grown(own)
        return any(
            wide.left < x < wide.right and wide.low < y < wide.high and box.away((x, y)) < own
            for other, spots in self.rails.items()
            if other != label.rail
            for x, y in spots
        )

    def take(self, box: Box) -> None:
        """Note a rectangle that is taken."""
        for cell in _cells(box):
            self.boxes.setdefault(cell, []).append(box)

    def free(self, box: Box) -> bool:
        """Whether no label lies there."""
        return not any(other.meets(box) for cell in _cells(box) for other in self.boxes.get(cell, ()))

    def covered(self, x: float, y: float) -> bool:
        """Whether a label lies over a point."""
        there = self.boxes.get((int(x // CELL), int(y // CELL)), ())
        return any(box.left < x < box.right and box.low < y < box.high for box in there)

    def hits(self, box: Box) -> int:
        """How many points of track lie there."""
        return sum(
            box.left <= x <= box.right and box.low <= y <= box.high
            for cell in set(_cells(box))
            for x, y in self.points.get(cell, ())
        )

    def put(self, label: Label) -> Put:
        """Place a label where no other is, best where no track is, as near as can be."""
        spots = (label.point, *label.others)
        for spot in spots if label.others else ():
            near = label._replace(point=spot, others=())
            for x, y, _ in islice(_candidates(near), CLOSE_BY):
                box = label.box(x, y).grown(MARGIN)
                if self.free(box) and not self.hits(box) and not self.misread(label, box):
                    self.take(box)
                    return Put(near, x, y, None)
        best: tuple[int, int, Put] | None = None
        for spot in spots if label.rail else spots[:1]:
            tried = self._nearest(label._replace(point=spot))
            if best is None or tried[:2] < best[:2]:
                best = tried
            if best[0] == 0:
                break
        assert best is not None
        put = best[2]
        self.take(put.label.box(put.x, put.y).grown(MARGIN))
        if put.lead:
            self.track(_between(put.label.point, put.lead))
        return put

    def _nearest(self, label: Label) -> tuple[int, int, Put]:
        """The place for a label around its own point: what it lies over, how many steps away, the place."""
        best: tuple[int, int, Put] | None = None
        for place, (x, y, far) in enumerate(_candidates(label)):
            if best is not None and place >= ENOUGH:
                break
            box = label.box(x, y)
            if not self.free(box.grown(MARGIN)):
                continue
            hits = self.hits(box.grown(MARGIN))
            if best is not None and hits >= best[0]:
                continue
            lead = None
            close = CLOSE_FAR if label.others else FAR
            if far > close + label.clear or self.misread(label, box):
                high = box.low if box.low > label.point[1] else box.high
                lead = (min(max(label.point[0], box.left), box.right), high)
            if label.rail and lead:
                hits += CROSSED * (self._marked(label, lead) + self._along(label, lead))
                for x_on, y_on in _between(label.point, lead):
                    if best is not None and hits >= best[0]:
                        break
                    hits += CROSSED * self.covered(x_on, y_on)
            if best is None or hits < best[0]:
                best = (hits, place, Put(label, x, y, lead))
            if hits == 0:
                break
        assert best is not None
        return best


def _off(a: Point, b: Point, spot: Point) -> float:
    """How far a point is from a straight line between two others."""
    x, y, far = b[0] - a[0], b[1] - a[1], (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2
    share = min(max(((spot[0] - a[0]) * x + (spot[1] - a[1]) * y) / far, 0.0), 1.0) if far else 0.0
    return hypot(a[0] + x * share - spot[0], a[1] + y * share - spot[1])


def _between(a: Point, b: Point) -> Iterator[Point]:
    """Points along a straight line."""
    steps = max(int(max(abs(a[0] - b[0]), abs(a[1] - b[1])) / STEP), 1)
    for k in range(steps + 1):
        yield a[0] + (b[0] - a[0]) * k / steps, a[1] + (b[1] - a[1]) * k / steps


def _candidates(label: Label) -> Iterator[tuple[float, float, float]]:
    """Places around a point, the nearest first: above, below, then to the sides and further away."""
    px, py = label.point
    half = label.wide / 2
    for ring in range(RINGS):
        out = label.clear + ring * 5.0
        above, below = py + out + FALL * label.size, py - out - RISE * label.size
        middle = py - 0.34 * label.size
        for shift in (0.0, -1.0, 1.0):
            reach = half * shift + ring * 6.0 * shift
            yield px - half + reach, above, out
            yield px - half + reach, below, out
        yield px + out, middle, out
        yield px - out - label.wide, middle, out
    far = 0
    while True:  # there is always a place somewhere below
        far += 1
        yield px - half, py - label.clear - RINGS * 5.0 - far * 8.0, RINGS * 5.0 + far * 8.0


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    for i in range(int(box.left // CELL), int(box.right // CELL) + 1):
        for j in range(int(box.low // CELL), int(box.high // CELL) + 1):
            yield (i, j)
