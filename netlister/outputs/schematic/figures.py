"""Figures: a piece of track with all that is wired to it, as one connected drawing.

From left to right: the poles, what leads from them (feeds, joiners, contacts), a channel with one upright for each net,
and the piece. Every pin runs straight to the upright of its net; wires that cross without a dot are not joined. Labels
stand only where a net goes on on another sheet, or where nothing else says its name. Rows of the left column are even,
those of the right one odd, so that no two pins of a channel are level.
"""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil
from typing import TYPE_CHECKING, NamedTuple

from netlister.outputs.netlist_draft import TRACK
from netlister.outputs.schematic.drawing import DrawnWire, NetLabel, SheetDrawing, WireText, put
from netlister.outputs.schematic.shapes import LEFT, RIGHT, facing, symbol_of

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from netlister.outputs.netlist_draft import NetlistPart
    from netlister.outputs.schematic.shapes import TrackRoutes

STEP = 2
"""Between uprights."""
APART = 6
"""Between the rows of parts with two pins, with room for their texts."""
SOURCES = frozenset({"supply", "bus"})
"""Parts that stand by themselves, at the poles."""
LAST = ("contact", "reverser", "unit")


class Tap(NamedTuple):
    """What is to be led to an upright beside the figure: its net, and the place that it is led from."""

    net: str
    x: int
    y: int


@dataclass(slots=True)
class Figure:
    """A drawing about the left pins of its left column, at x = 0, and what it wants from the uprights beside it."""

    drawing: SheetDrawing = field(default_factory=SheetDrawing)
    taps: list[Tap] = field(default_factory=list)


def groups(listed: Iterable[NetlistPart], poles: Collection[str]) -> list[list[NetlistPart]]:
    """The parts with pins of each figure.

    A piece of track and what lies on its rails, where pieces with blades choose first, and what hangs on that; then
    what is connected otherwise.
    """
    listed = [part for part in listed if part.pins]
    pieces = sorted((p for p in listed if p.library == TRACK), key=lambda p: not p.reference.startswith("Y"))
    of: dict[str, int] = {}
    head: dict[str, int] = {}
    for number, piece in enumerate(pieces):
        of[piece.reference] = number
        for _, net in piece.pins:
            head.setdefault(net, number)
    rest = [part for part in listed if part.library != TRACK]
    on: dict[str, list[NetlistPart]] = defaultdict(list)
    for part in rest:
        for _, net in part.pins:
            if net not in poles:
                on[net].append(part)
    waiting = deque(sorted((n, net) for net, n in head.items()))
    left = iter(rest)
    fresh = len(pieces)
    while True:
        while waiting:
            number, net = waiting.popleft()
            for part in on[net]:
                if part.reference not in of:
                    of[part.reference] = number
                    more = [other for _, other in part.pins if other not in poles and other not in head]
                    head.update(dict.fromkeys(more, number))
                    waiting += [(number, other) for other in more]
        first = next((part for part in left if part.reference not in of), None)
        if first is None:
            break
        of[first.reference] = fresh
        for _, net in first.pins:
            if net not in poles and net not in head:
                head[net] = fresh
                waiting.append((fresh, net))
        fresh += 1
    found: dict[int, list[NetlistPart]] = defaultdict(list)
    for part in listed:
        found[of[part.reference]].append(part)
    return [*found.values()]


class _Channel:
    """The pins of nets between two columns, by net, and the uprights that join them."""

    def __init__(self) -> None:
        self.pins: dict[str, list[tuple[int, int]]] = defaultdict(list)
        self.x: dict[str, int] = {}

    def uprights(self, drawing: SheetDrawing) -> None:
        """Lead every pin to the upright of its net."""
        for net, pins in self.pins.items():
            if net not in self.x:
                continue
            x = self.x[net]
            rows = sorted({y for _, y in pins})
            drawing.wires += [DrawnWire(net, px, y, x, y) for px, y in pins if px != x]
            drawing.wires += [
                DrawnWire(net, x, a, x, b) for a, b in pairwise(rows)
            ]  # editors join wires at their ends alone
            drawing.dots += [(net, x, y) for y in rows[1:-1]]


class FigureNets(NamedTuple):
    """How nets go on from a figure: `wired` ones, the poles among them, to an upright beside it, `named` by a label."""

    wired: Collection[str]
    named: Collection[str]
    poles: Collection[str]


def figure(
    listed: list[NetlistPart], nets: FigureNets, ways: Mapping[str, TrackRoutes], boxes: list[NetlistPart]
) -> Figure:
    """The figure of a group. `ways`: of pieces of track by reference; `boxes`: parts without pins of it."""
    return _FigureBuilder(listed, nets, ways, boxes).made


class _FigureBuilder:
    def __init__(
        self, listed: list[NetlistPart], nets: FigureNets, ways: Mapping[str, TrackRoutes], boxes: list[NetlistPart]
    ) -> None:
        self.made = Figure()
        self.wired, self.named, self.poles = nets
        self.ways = ways
        self.pieces = [part for part in listed if part.library == TRACK]
        self.rails = {net: n for n, (_, net) in enumerate(pin for p in self.pieces for pin in p.pins)}
        self.count = Counter(net for part in listed for _, net in part.pins)
        self.told = {
            net
            for part in listed
            for _, net in part.pins
            if part.library == TRACK or any(word in part.kind for word in LAST)
        }
        self.left, self.right = _Channel(), _Channel()
        self.labelled: set[str] = set()
        others = [part for part in listed if part.library != TRACK]
        low = self._left_column(sorted(others, key=self._order))
        self._right_column(boxes)
        self._around(low)
        self.left.uprights(self.made.drawing)
        self.right.uprights(self.made.drawing)

    def _order(self, part: NetlistPart) -> tuple[bool, int]:
        last = any(word in part.kind for word in LAST)
        return last, min((self.rails.get(net, len(self.rails)) for _, net in part.pins), default=0)

    def _score(self, net: str) -> int:
        """How much a net belongs into the channel on the right."""
        if net in self.poles:
            return 0
        return 3 if net in self.rails else 2 if self.count[net] > 1 else 1

    def _named(self, net: str) -> bool:
        """Whether the name of a net must stand there: it goes on elsewhere, or nothing else says it."""
        return net in self.named or (net not in self.wired and (self.count[net] == 1 or net not in self.told))

    def _left_column(self, others: list[NetlistPart]) -> int:
        """Parts below one another; their pins go to the channels. The first free row."""
        y = 0
        drawing = self.made.drawing
        for part in others:
            nets = dict(part.pins)
            symbol = facing(symbol_of(part), {name: self._score(net) for name, net in part.pins})
            _, top, _, bottom = symbol.box
            at: float = min([pin.x for pin in symbol.pins if pin.side == LEFT], default=symbol.box[0])
            y += -(-ceil(-top - 1.2) // 2) * 2
            placed = put(drawing, part, symbol, -ceil(at), y)
            for pin in symbol.pins:
                place = placed.x + pin.x, placed.y + pin.y
                net = nets[pin.name]
                if pin.side == LEFT and net in self.poles:
                    self.made.taps.append(Tap(net, *place))
                else:
                    (self.left if pin.side == LEFT else self.right).pins[net].append(place)
            y += -(-(ceil(bottom - 1.2) + APART) // 2) * 2
        return y

    def _right_column(self, boxes: list[NetlistPart]) -> None:
        """The channel's uprights, names of nets that go on, and the piece."""
        drawing = self.made.drawing
        edge = max([ceil(box[2]) for box in drawing.boxes()] or [0])
        for net in [*self.rails, *self.left.pins]:
            if net in self.rails or (net in self.wired and self._named(net)):
                self.right.pins[net] += []
        nets = sorted(self.right.pins, key=lambda net: (self.rails.get(net, len(self.rails)), net))
        self.right.x = {net: edge + STEP * (n + 1) for n, net in enumerate(nets)}
        column = edge + STEP * (len(nets) + 2)
        y = -1
        for net in nets:
            if self._named(net):
                self.labelled.add(net)
                self.right.pins[net].append((column, y))
                drawing.labels.append(NetLabel(net, column, y, RIGHT))
                y += 2
        y += 6
        for piece in self.pieces:
            symbol = symbol_of(piece, self.ways.get(piece.reference, ()))
            placed = put(drawing, piece, symbol, column, y)
            for pin in symbol.pins:
                self.right.pins[dict(piece.pins)[pin.name]].append((placed.x + pin.x, placed.y + pin.y))
            y += -(-(ceil(symbol.box[3]) + APART) // 2) * 2
        for part in boxes:
            symbol = symbol_of(part)
            put(drawing, part, symbol, column, y)
            y += -(-(ceil(symbol.box[3]) + APART) // 2) * 2

    def _around(self, low: int) -> None:
        """Nets with a pin that faces left, and those that go on beside the figure: led round below, or named."""
        drawing = self.made.drawing
        low = max(low, ceil(drawing.box()[3])) // 2 * 2 + 2
        joined = [net for net in self.left.pins if net in self.right.pins or len(self.left.pins[net]) > 1]
        edge = -STEP * (len(joined) + 1)
        for n, net in enumerate(joined):
            self.left.x[net] = -STEP * (n + 1)
            if net in self.right.pins:
                row = low + STEP * n
                self.left.pins[net].append((self.left.x[net], row))
                self.right.pins[net].append((self.left.x[net], row))
        low += STEP * len(joined)
        for net, pins in self.left.pins.items():
            x, y = pins[0]
            begin = self.left.x.get(net, x)
            if net in self.wired:
                self.made.taps.append(Tap(net, begin, y))
                drawing.notes.append(WireText(net, edge, y))
            elif self._named(net) and net not in self.labelled:
                drawing.wires.append(DrawnWire(net, begin, y, edge, y))
                drawing.labels.append(NetLabel(net, edge, y, LEFT))
            else:
                continue
            if net in self.left.x and (net, begin, y) not in drawing.dots:
                drawing.dots.append((net, begin, y))
        for net in self.right.pins:
            if net in self.wired and net not in self.left.pins:
                self.right.pins[net].append((edge, low))
                self.made.taps.append(Tap(net, edge, low))
                low += STEP
