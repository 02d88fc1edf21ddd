"""Where everything stands on a sheet: supplies left, rails right, contacts between; nothing overlaps.

Every pin ends in a label with the name of its net. Feeds, and the leads of contacts to poles, stand in front of the pin
that they feed and are wired to it. All places are in steps of the grid, so that wires meet pins exactly.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from netlister.outputs.schematic.shapes import GRID, LEFT, RIGHT, symbol_of, text_steps

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.outputs.netlist_parts import Part
    from netlister.outputs.schematic.shapes import DrawnSymbol, ShapePin
    from netlister.outputs.schematic.sheets import PartsSheet

PAPERS = (("A4", 297, 210), ("A3", 420, 297), ("A2", 594, 420), ("A1", 841, 594), ("A0", 1189, 841))
"""Name, width and height in mm, by ISO 216, on their long side."""
EDGE = 12
"""Steps left free at the edges of a sheet; at the bottom room for its title as well."""
FOOT = 30
GAP = 3
COLUMN_GAP = 6
FRONT = frozenset({"feed", "lead"})
BANDS = ({"supply", "bus"}, {"contact", "automatic reverser", "following reverser", "frog unit", "lead"})

Bounds = tuple[float, float, float, float]


class PartText(NamedTuple):
    """A text of a part: the field that it shows, where it begins, and whether that is its middle."""

    name: str
    text: str
    x: float
    y: float
    centred: bool


class PlacedPart(NamedTuple):
    """A part on a sheet."""

    part: Part
    symbol: DrawnSymbol
    x: int
    y: int
    texts: tuple[PartText, ...]


class Label(NamedTuple):
    """The name of a net; its text runs to the left or right of the place where it is joined to a wire."""

    net: str
    x: int
    y: int
    side: int


class Wire(NamedTuple):
    """A straight wire of a net."""

    net: str
    x1: int
    y1: int
    x2: int
    y2: int


@dataclass(slots=True)
class SheetDrawing:
    """What stands on a sheet, or a part of it that is moved as a whole."""

    placed: list[PlacedPart] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    wires: list[Wire] = field(default_factory=list)
    dots: list[tuple[str, int, int]] = field(default_factory=list)

    def box(self) -> Bounds:
        """Left, top, right and bottom of everything."""
        boxes = [
            *self.boxes(),
            *((min(w.x1, w.x2), min(w.y1, w.y2), max(w.x1, w.x2), max(w.y1, w.y2)) for w in self.wires),
        ]
        return (
            min(b[0] for b in boxes),
            min(b[1] for b in boxes),
            max(b[2] for b in boxes),
            max(b[3] for b in boxes),
        )

    def boxes(self) -> list[Bounds]:
        """The box of each part, of each of their texts and of each label."""
        return [*(box for p in self.placed for box in part_boxes(p)), *(label_box(label) for label in self.labels)]

    def take(self, other: SheetDrawing, dx: int, dy: int) -> None:
        """Add another drawing, moved."""
        for p in other.placed:
            texts = tuple(t._replace(x=t.x + dx, y=t.y + dy) for t in p.texts)
            self.placed.append(p._replace(x=p.x + dx, y=p.y + dy, texts=texts))
        self.labels += [label._replace(x=label.x + dx, y=label.y + dy) for label in other.labels]
        self.wires += [w._replace(x1=w.x1 + dx, y1=w.y1 + dy, x2=w.x2 + dx, y2=w.y2 + dy) for w in other.wires]
        self.dots += [(net, x + dx, y + dy) for net, x, y in other.dots]


class Page(NamedTuple):
    """A sheet with its paper, in mm, and what stands on it."""

    name: str
    paper: str
    width: float
    height: float
    drawing: SheetDrawing


def part_boxes(p: PlacedPart) -> list[Bounds]:
    """The box of a part with its pins, then one for each of its texts."""
    left, top, right, bottom = p.symbol.box
    xs = [left, right, *(pin.x for pin in p.symbol.pins)]
    found = [(p.x + min(xs), p.y + top, p.x + max(xs), p.y + bottom)]
    for t in p.texts:
        wide = text_steps(t.text)
        begin = t.x - wide / 2 if t.centred else t.x
        found.append((begin, t.y - 0.6, begin + wide, t.y + 0.6))
    return found


def label_steps(net: str) -> int:
    """The length of a label with its ends."""
    return text_steps(net) + 3


def label_box(label: Label) -> Bounds:
    """The box of a label."""
    other = label.x + label.side * label_steps(label.net)
    return min(label.x, other), label.y - 0.95, max(label.x, other), label.y + 0.95


# ---- one part and what stands in front of it


def _put(drawing: SheetDrawing, part: Part, x: int, y: int) -> PlacedPart:
    symbol = symbol_of(part)
    left, top, _, bottom = symbol.box
    texts: list[PartText] = []
    if symbol.named:
        name = dict(part.fields).get("Name", "")
        texts.append(PartText("Reference", part.reference, x + left, y + top - 1, centred=False))
        if name:
            texts.append(
                PartText("Name", name, x + left + text_steps(part.reference) + 1.5, y + top - 1, centred=False)
            )
        texts.append(PartText("Value", part.value, x + left, y + bottom + 1, centred=False))
    else:
        texts.append(PartText("Reference", part.reference, x, y - 2, centred=True))
        if part.value not in {part.kind, ""}:
            texts.append(PartText("Value", part.value, x, y + 2, centred=True))
    placed = PlacedPart(part, symbol, x, y, tuple(texts))
    drawing.placed.append(placed)
    return placed


def _label(drawing: SheetDrawing, placed: PlacedPart, pin: ShapePin, net: str) -> None:
    """A short wire from a pin, and the name of its net."""
    x, y = placed.x + pin.x, placed.y + pin.y
    drawing.wires.append(Wire(net, x, y, x + pin.side, y))
    drawing.labels.append(Label(net, x + pin.side, y, pin.side))


def _alone(part: Part) -> SheetDrawing:
    """A part with a label at every pin."""
    drawing = SheetDrawing()
    placed = _put(drawing, part, 0, 0)
    nets = dict(part.pins)
    for pin in placed.symbol.pins:
        _label(drawing, placed, pin, nets[pin.name])
    return drawing


def _fed(part: Part, front: dict[str, list[Part]]) -> SheetDrawing:
    """A part with what feeds its pins on the left in front of them; takes these out of `front`."""
    drawing = SheetDrawing()
    placed = _put(drawing, part, 0, 0)
    nets = dict(part.pins)
    fed = [(pin, front[nets[pin.name]].pop(0)) for pin in placed.symbol.pins
           if pin.side == LEFT and front.get(nets[pin.name])]  # fmt: skip
    room = max([label_steps(nets[pin.name]) for pin, _ in fed] or [0])
    taken = set()
    for pin, feed in fed:
        taken.add(pin.name)
        net = nets[pin.name]
        y = pin.y
        before = _put(drawing, feed, pin.x - room - 8, y)
        first, second = before.symbol.pins
        _label(drawing, before, first, dict(feed.pins)[first.name])
        start = before.x + second.x
        branch = start + 2
        drawing.wires += [
            Wire(net, start, y, branch, y),
            Wire(net, branch, y, pin.x, y),
            Wire(net, branch, y - 2, branch, y),
        ]
        drawing.dots.append((net, branch, y))
        drawing.labels.append(Label(net, branch, y - 2, RIGHT))
    for pin in placed.symbol.pins:
        if pin.name not in taken:
            _label(drawing, placed, pin, nets[pin.name])
    return drawing


# ---- a sheet


def arrange(sheet: PartsSheet) -> Page:
    """Put a sheet's parts on the smallest paper that holds them."""
    bands = _bands(sheet.parts)
    for paper, width, height in PAPERS:
        drawing = _columns(bands, (height / GRID) - 2 * EDGE - FOOT)
        right = drawing.box()[2]
        if right + EDGE <= width / GRID and drawing.box()[3] + EDGE + FOOT <= height / GRID:
            return Page(sheet.name, paper, width, height, drawing)
    side = 841 / GRID - 2 * EDGE - FOOT
    drawing = _columns(bands, side)
    box = drawing.box()
    return Page(sheet.name, "User", ceil((box[2] + EDGE) * GRID), ceil((box[3] + EDGE + FOOT) * GRID), drawing)


def _bands(listed: Iterable[Part]) -> list[list[SheetDrawing]]:
    """Blocks from left to right: supplies, other wiring, contacts and gear, track, joints."""
    listed = list(listed)
    front: dict[str, list[Part]] = {}
    for part in listed:
        if part.kind in FRONT:
            front.setdefault(part.pins[1][1], []).append(part)
    bands: list[list[SheetDrawing]] = [[], [], [], [], []]
    for part in listed:
        if part.library == "track":
            bands[3].append(_fed(part, front))
        elif part.kind in BANDS[1] and part.kind not in FRONT:
            bands[2].append(_fed(part, front))
    left = {id(part) for waiting in front.values() for part in waiting}
    for part in listed:
        if part.library == "track" or part.kind in BANDS[1] - FRONT or (part.kind in FRONT and id(part) not in left):
            continue
        band = 0 if part.kind in BANDS[0] else 4 if part.kind.endswith("joiner") else 1
        bands[band].append(_alone(part))
    return bands


def _columns(bands: list[list[SheetDrawing]], height: float) -> SheetDrawing:
    """Stack the blocks of each band in columns no higher than `height` steps, if a single block is not."""
    whole = SheetDrawing()
    x = EDGE
    for band in bands:
        column: list[SheetDrawing] = []
        used = 0.0
        for block in band:
            _, top, _, bottom = block.box()
            need = bottom - top + GAP
            if column and used + need > height:
                x = _stack(whole, column, x)
                column, used = [], 0.0
            column.append(block)
            used += need
        if column:
            x = _stack(whole, column, x)
    return whole


def _stack(whole: SheetDrawing, column: list[SheetDrawing], x: int) -> int:
    """Put a column at x, the pins of its parts below one another. The next column's x."""
    boxes = [block.box() for block in column]
    across = ceil(x - min(left for left, *_ in boxes))
    y = EDGE
    for block, (_, top, _, bottom) in zip(column, boxes, strict=True):
        down = ceil(y - top)
        whole.take(block, across, down)
        y = ceil(bottom + down + GAP)
    return ceil(across + max(right for _, _, right, _ in boxes)) + COLUMN_GAP
