"""The schematic as a picture (SVG), all sheets one below the other."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

from netlister.outputs.schematic.drawing import ABOVE, label_box, open_nets
from netlister.outputs.schematic.place import pages
from netlister.outputs.schematic.shapes import GRID, LEFT, Arc, Circle
from netlister.poles.diagram import ALWAYS, NEVER
from netlister.poles.diodes import poles_of
from netlister.poles.hubs import UnprovedError
from netlister.svg import attribute, opening

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.circuit.numbers import Net
    from netlister.outputs.schematic.drawing import PlacedPart, SheetDrawing
    from netlister.outputs.schematic.shapes import Shape
    from netlister.poles.reach import Poles

INK, PAPER, TAG = "#1a1a1a", "#ffffff", "#f2f2f2"
MARGIN, HEADING = 8.0, 14.0
FONT = 1.9
"""Of all texts, in mm."""
CROSS = "1.524 1.524m-1.524 0l1.524 -1.524"
"""A mark, from its upper left corner, where a pin is left open."""
CLASSES = {
    "A": ("#0072B2", "", "always pole A"),
    "B": ("#D55E00", "2.4 1", "always pole B"),
    "sometimes": ("#009E73", "3 0.8 0.6 0.8", "a pole by contacts, or none"),
    "both": ("#CC79A7", "0.5 0.5", "two poles, always: a short"),
    "shorted": ("#CC79A7", "1.6 0.5", "two poles in some positions: a short"),
}
"""Colour (Okabe and Ito) and dashes in mm of the nets of a pole; never colour alone."""


def picture(circuit: Circuit, *, one: bool | None = None) -> str:
    """The schematic of a circuit as SVG. `one`: a single sheet; left out: where that is of a readable size."""
    return "\n".join(_SchematicPicture(circuit, one).lines()) + "\n"


class _SchematicPicture:
    def __init__(self, circuit: Circuit, one: bool | None) -> None:  # noqa: FBT001
        self.title = circuit.layout.title or circuit.layout.name
        self.pages = [(page.name, page.drawing) for page in pages(circuit, one=one)]
        self.classes = _classes(circuit)
        self.left_open = open_nets(placed.part for _, drawing in self.pages for placed in drawing.placed)
        boxes = [drawing.box() for _, drawing in self.pages]
        self.width = max(max((b[2] - b[0]) * GRID for b in boxes) + 2 * MARGIN, 150.0)
        self.tops = []
        y = 20.0
        self.heading = HEADING if len(self.pages) > 1 else 4.0
        for box in boxes:
            self.tops.append(y)
            y += self.heading + (box[3] - box[1]) * GRID + MARGIN
        self.height = y

    def lines(self) -> Iterator[str]:
        """The lines of the file."""
        title = attribute(f"Schematic: {self.title}")
        yield opening(
            f"0 0 {self.width:.1f} {self.height:.1f}",
            (f"{self.width:.1f}mm", f"{self.height:.1f}mm"),
            f'font-family="sans-serif" font-size="{FONT}" fill="none" stroke-width="0.2" role="img" '
            'aria-labelledby="title desc"',
        )
        yield f'<title id="title">{title}</title>'
        names = "; ".join(name for name, _ in self.pages)
        yield f'<desc id="desc">{attribute(f"Parts with their pins, and the nets that join them, on: {names}")}</desc>'
        yield f'<rect width="{self.width:.1f}" height="{self.height:.1f}" fill="{PAPER}"/>'
        yield f'<text x="{MARGIN}" y="8" font-size="4" fill="{INK}">{title}</text>'
        yield from self.legend()
        for (name, drawing), top in zip(self.pages, self.tops, strict=True):
            left, up, _, _ = drawing.box()
            if len(self.pages) > 1:
                yield f'<path d="M{MARGIN} {top + 1:.2f}H{self.width - MARGIN:.2f}" stroke="{INK}" stroke-width="0.3"/>'
                yield f'<text x="{MARGIN}" y="{top + 6:.2f}" font-size="3.2" fill="{INK}">{attribute(name)}</text>'
            yield f'<g transform="translate({MARGIN - left * GRID:.2f} {top + self.heading - up * GRID:.2f})">'
            yield from self.sheet(drawing)
            yield "</g>"
        yield "</svg>"

    def legend(self) -> Iterator[str]:
        """What the lines of nets mean."""
        x = MARGIN
        used = {*self.classes.values(), *list(CLASSES.values())[:3]}
        for colour, dashes, said in [c for c in CLASSES.values() if c in used]:
            yield f'<path d="M{x:.2f} 13.4h9" stroke="{colour}" stroke-width="0.5"{_dashed(dashes)}/>'
            yield f'<text x="{x + 10.5:.2f}" y="14" fill="{INK}">{said}</text>'
            x += 16 + len(said) * 1.1

    def sheet(self, drawing: SheetDrawing) -> Iterator[str]:
        """Wires, parts and labels of a sheet."""
        for w in drawing.wires:
            ends = f"M{_mm(w.x1)} {_mm(w.y1)}L{_mm(w.x2)} {_mm(w.y2)}"
            colour, dashes, _ = self.classes[w.net]
            yield f'<path d="{ends}" stroke="{colour}" stroke-width="0.35"{_dashed(dashes)}/>'
        for net, x, y in drawing.dots:
            yield f'<circle cx="{_mm(x)}" cy="{_mm(y)}" r="0.55" fill="{self.classes[net][0]}"/>'
        for placed in drawing.placed:
            yield from _part(placed)
        for label in drawing.labels:
            if label.net in self.left_open:
                begin = f"{_mm(label.x - 0.6)} {_mm(label.y - 0.6)}"
                yield f'<path d="M{begin}l{CROSS}" stroke="{INK}" stroke-width="0.3"/>'
                continue
            left, top, right, bottom = label_box(label)
            colour, dashes, _ = self.classes[label.net]
            yield (
                f'<rect x="{_mm(left)}" y="{_mm(top)}" width="{_mm(right - left)}" height="{_mm(bottom - top)}" '
                f'rx="1.2" fill="{TAG}" stroke="{colour}"{_dashed(dashes)}/>'
            )
            anchor = "end" if label.side == LEFT else "start"
            yield _text(label.x + 1.5 * label.side, label.y, label.net, anchor)
        for note in drawing.notes:
            yield _text(note.x, note.y - ABOVE, note.text, "end")


def _classes(circuit: Circuit) -> dict[str, tuple[str, str, str]]:
    """The style of each net."""
    from netlister.outputs.netlist_nets import net_names

    poles = poles_of(circuit)
    known: dict[Net, str] = {}
    found = {}
    for node, name in enumerate(net_names(circuit)):
        net = poles.nets.of[node]
        if net not in known:
            known[net] = _class_of(circuit, poles, net)
        if node < len(circuit.poles) or name not in found:
            found[name] = CLASSES[known[net]]
    return found


def _class_of(circuit: Circuit, poles: Poles, net: Net) -> str:
    """Which of the classes a net is of, over every state."""
    try:
        has = poles.has(net)
    except UnprovedError:
        return "sometimes"
    both = [poles.diagrams.both(f, g) for (_, f), (_, g) in combinations(has, 2)]
    if ALWAYS in both:
        return "both"
    if any(function != NEVER for function in both):
        return "shorted"
    if len(has) != 1 or has[0][1] != ALWAYS or has[0][0] >= len(circuit.poles):  # a unit chooses for itself
        return "sometimes"
    return circuit.poles[has[0][0]].letter


def _part(placed: PlacedPart) -> Iterator[str]:
    part = placed.part
    yield f'<g transform="translate({_mm(placed.x)} {_mm(placed.y)})" stroke="{INK}">'
    yield f"<title>{attribute(f'{part.reference}: {part.tag}')}</title>"
    for pin in placed.symbol.pins:
        yield f'<path d="M{_mm(pin.x)} {_mm(pin.y)}h{_mm(-pin.side * pin.length)}"/>'
        if placed.symbol.named:
            x = pin.x - pin.side * (pin.length + 0.5)
            yield _text(x, pin.y, pin.name, "start" if pin.side == LEFT else "end")
    for shape in placed.symbol.shapes:
        yield _shape(shape)
    yield "</g>"
    for t in placed.texts:
        weight = ' font-weight="bold"' if t.name == "Reference" else ""
        yield _text(t.x, t.y, t.text, "middle" if t.centred else "start", weight)


def _shape(shape: Shape) -> str:
    fill = f' fill="{INK}"' if getattr(shape, "filled", False) else ""
    if isinstance(shape, Circle):
        return f'<circle cx="{_mm(shape.x)}" cy="{_mm(shape.y)}" r="{_mm(shape.radius)}"{fill}/>'
    if isinstance(shape, Arc):
        x, y, r = _mm(shape.x), _mm(shape.y - shape.radius), _mm(shape.radius)
        return f'<path d="M{x} {y}a{r} {r} 0 0 0 0 {_mm(2 * shape.radius)}"/>'
    path = "L".join(f"{_mm(x)} {_mm(y)}" for x, y in shape.points)
    return f'<path d="M{path}" stroke-width="{shape.weight:g}"{fill}/>'


def _text(x: float, y: float, text: str, anchor: str, more: str = "") -> str:
    return (
        f'<text x="{_mm(x)}" y="{_mm(y + 0.5)}" text-anchor="{anchor}" fill="{INK}" stroke="none"{more}>'
        f"{attribute(text)}</text>"
    )


def _dashed(dashes: str) -> str:
    return f' stroke-dasharray="{dashes}"' if dashes else ""


def _mm(steps: float) -> str:
    return f"{round(steps * GRID, 3):g}"
