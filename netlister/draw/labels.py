"""Labels that never collide: each takes the nearest free place beside what it names."""

from __future__ import annotations

from itertools import islice
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
CLOSE_BY = 10
"""Candidates that count as close to a point."""

CLOSE_FAR = 9.0
FAR = 26.0
"""From here on a line leads from a label to what it names."""


class Box(NamedTuple):
    """A rectangle; y points up."""

    left: float
    low: float
    right: float
    high: float

    def meets(self, other: Box) -> bool:
        """Whether two rectangles overlap."""
        return self.left < other.right and other.left < self.right and self.low < other.high and other.low < self.high

    def grown(self, by: float) -> Box:
        """Larger on every side."""
        return Box(self.left - by, self.low - by, self.right + by, self.high + by)


class Label(NamedTuple):
    """A text to place: what it says and names, its size, the point it belongs to and how far that is to be kept clear.

    `symbol`: the width of a symbol in front of the text. `others`: further points that it may stand at instead.
    """

    text: str
    names: str
    kind: str
    size: float
    point: Point
    clear: float
    symbol: float = 0.0
    others: tuple[Point, ...] = ()

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

    def track(self, points: Iterable[Point]) -> None:
        """Note points that are drawn over."""
        for x, y in points:
            self.points.setdefault((int(x // CELL), int(y // CELL)), []).append((x, y))

    def take(self, box: Box) -> None:
        """Note a rectangle that is taken."""
        for cell in _cells(box):
            self.boxes.setdefault(cell, []).append(box)

    def free(self, box: Box) -> bool:
        """Whether no label lies there."""
        return not any(other.meets(box) for cell in _cells(box) for other in self.boxes.get(cell, ()))

    def hits(self, box: Box) -> int:
        """How many points of track lie there."""
        return sum(
            box.left <= x <= box.right and box.low <= y <= box.high
            for cell in set(_cells(box))
            for x, y in self.points.get(cell, ())
        )

    def put(self, label: Label) -> Put:
        """Place a label where no other is, best where no track is, as near as can be."""
        for spot in (label.point, *label.others) if label.others else ():
            near = label._replace(point=spot, others=())
            for x, y, _ in islice(_candidates(near), CLOSE_BY):
                box = label.box(x, y).grown(MARGIN)
                if self.free(box) and not self.hits(box):
                    self.take(box)
                    return Put(near, x, y, None)
        best: tuple[int, float, float, float] | None = None
        for x, y, far in _candidates(label):
            box = label.box(x, y).grown(MARGIN)
            if not self.free(box):
                continue
            hits = self.hits(box)
            if best is None or hits < best[0]:
                best = (hits, x, y, far)
            if hits == 0:
                break
        assert best is not None
        _, x, y, far = best
        box = label.box(x, y)
        self.take(box.grown(MARGIN))
        lead = None
        if far > (CLOSE_FAR if label.others else FAR) + label.clear:
            lead = (min(max(label.point[0], box.left), box.right), box.low if box.low > label.point[1] else box.high)
        return Put(label, x, y, lead)


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
