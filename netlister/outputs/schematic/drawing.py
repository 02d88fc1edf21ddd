"""What stands on a sheet: parts with their texts, wires, dots and labels. All places are in steps of the grid."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

from netlister.outputs.schematic.shapes import text_steps

if TYPE_CHECKING:
    from collections.abc import Iterable

    from netlister.outputs.netlist_draft import NetlistPart
    from netlister.outputs.schematic.shapes import DrawnSymbol

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

    part: NetlistPart
    symbol: DrawnSymbol
    x: int
    y: int
    texts: tuple[PartText, ...]


class NetLabel(NamedTuple):
    """The name of a net; its text runs to the left or right of the place where it is joined to a wire."""

    net: str
    x: int
    y: int
    side: int


class WireText(NamedTuple):
    """The name of a net in plain text above its wire, which joins nothing; it ends at this place."""

    text: str
    x: int
    y: int


class DrawnWire(NamedTuple):
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
    labels: list[NetLabel] = field(default_factory=list)
    notes: list[WireText] = field(default_factory=list)
    wires: list[DrawnWire] = field(default_factory=list)
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
        """The box of each part, of each of their texts, of each label and of each note."""
        return [
            *(box for p in self.placed for box in part_boxes(p)),
            *(label_box(label) for label in self.labels),
            *(note_box(note) for note in self.notes),
        ]

    def take(self, other: SheetDrawing, dx: int, dy: int) -> None:
        """Add another drawing, moved."""
        for p in other.placed:
            texts = tuple(t._replace(x=t.x + dx, y=t.y + dy) for t in p.texts)
            self.placed.append(p._replace(x=p.x + dx, y=p.y + dy, texts=texts))
        self.labels += [label._replace(x=label.x + dx, y=label.y + dy) for label in other.labels]
        self.notes += [note._replace(x=note.x + dx, y=note.y + dy) for note in other.notes]
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


def label_box(label: NetLabel) -> Bounds:
    """The box of a label."""
    other = label.x + label.side * label_steps(label.net)
    return min(label.x, other), label.y - 0.95, max(label.x, other), label.y + 0.95


ABOVE = 1.1
"""How far the middle of a note is above its wire, in steps."""


def note_box(note: WireText) -> Bounds:
    """The box of a note."""
    return note.x - text_steps(note.text), note.y - ABOVE - 0.6, note.x, note.y - ABOVE + 0.6


def put(drawing: SheetDrawing, part: NetlistPart, symbol: DrawnSymbol, x: int, y: int) -> PlacedPart:
    """Put a part there, with its texts around it."""
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


MAY_BE_OPEN = frozenset({"contact", "automatic reverser", "following reverser", "reverser"})


def open_nets(parts: Iterable[NetlistPart]) -> set[str]:
    """The nets of pins that are left open, as the throw of a switch may be, and the output of a device."""
    pins = [(net, part.kind) for part in parts for _, net in part.pins]
    count = Counter(net for net, _ in pins)
    return {net for net, kind in pins if count[net] == 1 and kind in MAY_BE_OPEN}
