"""The schematic in KiCad's file format (version 20230121): S-expressions, one file per sheet and one that holds them.

A net is a set of pins, wires and global labels; every label is global, so that a net is the same on all sheets. The
symbols are in the files themselves. Identifiers are made from names, so that the same layout gives the same bytes.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from netlister.outputs.expressions import string
from netlister.outputs.schematic.place import arrange
from netlister.outputs.schematic.shapes import GRID, LEFT, Arc, Circle, Line
from netlister.outputs.schematic.sheets import sheets

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.outputs.netlist_parts import Part
    from netlister.outputs.schematic.place import Page, Placed
    from netlister.outputs.schematic.shapes import Pin, Shape, Symbol

LIBRARY = "netlister"
SIZE = 1.27


def kicad_schematic(circuit: Circuit, stem: str, *, one: bool | None = None) -> dict[str, str]:
    """The files of a schematic: name to text, that of the whole first.

    `stem`: the name of the whole without its ending, and of its project; sheets are called `stem-1` and so on. `one`:
    a single sheet; left out: where there are few parts.
    """
    pages = [arrange(sheet) for sheet in sheets(circuit, one=one)]
    title = circuit.layout.title or circuit.layout.name
    if len(pages) == 1:
        return {f"{stem}.kicad_sch": _Sheet(pages[0], title, circuit, stem).text("/")}
    root = _id("root", circuit.layout.name)
    files = {f"{stem}.kicad_sch": ""}
    entries = []
    for number, page in enumerate(pages, 1):
        name = f"{stem}-{number}.kicad_sch"
        entries.append((page.name, name, _id("sheet", page.name)))
        files[name] = _Sheet(page, title, circuit, stem).text(f"/{root}/{entries[-1][2]}")
    files[f"{stem}.kicad_sch"] = _root(root, title, entries, stem)
    return files


def net_text(net: str) -> str:
    """The name of a net as a label must have it: two signs have a meaning of their own there (from memory)."""
    return "".join({"{": "{brace}", "/": "{slash}"}.get(c, c) for c in net)


def _id(*names: str) -> str:
    return str(uuid5(NAMESPACE_URL, "netlister:" + "\0".join(names)))


def _mm(steps: float) -> str:
    return f"{round(steps * GRID, 4):g}"


def _effects(size: float = SIZE, justify: str = "", *, hide: bool = False) -> str:
    said = f" (justify {justify})" if justify else ""
    return f"(effects (font (size {size:g} {size:g})){said}{' hide' if hide else ''})"


def _head(identity: str, paper: str, title: str, note: str) -> Iterator[str]:
    yield f"(kicad_sch (version 20230121) (generator netlister) (uuid {identity})"
    yield f"  (paper {paper})"
    yield f"  (title_block (title {string(title)}) (comment 1 {string(note)}))"


def _root(identity: str, title: str, entries: list[tuple[str, str, str]], project: str) -> str:
    """The file that holds the sheets: a box for each, in columns."""
    rows = 8
    wide = max(297, 2 * EDGE_MM + 80 * -(-len(entries) // rows))
    paper = '"A4"' if wide == 297 else f'"User" {wide} 210'  # noqa: PLR2004 - A4 by ISO 216
    lines = [*_head(identity, paper, title, "Every net has the same name on all sheets."), "  (lib_symbols)"]
    for number, (name, file, sheet) in enumerate(entries):
        x = round((EDGE_MM + 80 * (number // rows)) / GRID) * GRID
        y = round((EDGE_MM + 20 * (number % rows)) / GRID) * GRID
        lines += [
            f"  (sheet (at {x:g} {y:g}) (size 63.5 10.16) (stroke (width 0.15) (type solid))",
            f"    (fill (color 0 0 0 0.0)) (uuid {sheet})",
            f'    (property "Sheetname" {string(name)} (at {x:g} {y - 0.7:g} 0) {_effects(justify="left bottom")})',
            f'    (property "Sheetfile" {string(file)} (at {x:g} {y + 10.8:g} 0) {_effects(justify="left top")})',
            f'    (instances (project {string(project)} (path "/{identity}" (page "{number + 2}")))))',
        ]
    lines += ['  (sheet_instances (path "/" (page "1")))', ")", ""]
    return "\n".join(lines)


EDGE_MM = 20


class _Sheet:
    def __init__(self, page: Page, title: str, circuit: Circuit, project: str) -> None:
        self.page = page
        self.title = title
        self.project = string(project)
        self.identity = _id("page", circuit.layout.name, page.name)
        self.symbols: dict[str, tuple[str, Symbol, Part]] = {}
        names: set[str] = set()
        for placed in page.drawing.placed:
            key = placed.symbol.key
            if key not in self.symbols:
                name = base = re.sub(r"[^A-Za-z0-9_-]+", "_", key)[:60]
                number = 1
                while name in names:
                    number += 1
                    name = f"{base}_{number}"
                names.add(name)
                self.symbols[key] = (name, placed.symbol, placed.part)

    def text(self, path: str) -> str:
        """The file. `path`: that of the sheet in the whole."""
        page = self.page
        paper = f'"{page.paper}"' if page.paper != "User" else f'"User" {page.width:g} {page.height:g}'
        lines = list(_head(self.identity, paper, self.title, page.name))
        lines.append("  (lib_symbols")
        for name, symbol, part in self.symbols.values():
            lines += self.symbol(name, symbol, part)
        lines.append("  )")
        for net, x, y in page.drawing.dots:
            identity = _id(self.identity, "dot", net, f"{x} {y}")
            lines.append(f"  (junction (at {_mm(x)} {_mm(y)}) (diameter 0) (color 0 0 0 0) (uuid {identity}))")
        for w in page.drawing.wires:
            ends = f"(xy {_mm(w.x1)} {_mm(w.y1)}) (xy {_mm(w.x2)} {_mm(w.y2)})"
            identity = _id(self.identity, "wire", f"{w}")
            lines.append(f"  (wire (pts {ends}) (stroke (width 0) (type default)) (uuid {identity}))")
        for label in page.drawing.labels:
            turn, justify = (180, "right") if label.side == LEFT else (0, "left")
            identity = _id(self.identity, "label", f"{label}")
            said = string(net_text(label.net))
            lines.append(
                f"  (global_label {said} (shape passive) (at {_mm(label.x)} {_mm(label.y)} {turn}) (fields_autoplaced)"
                f" {_effects(justify=justify)} (uuid {identity}))"
            )
        if path == "/":
            path = f"/{self.identity}"
            tail = ['  (sheet_instances (path "/" (page "1")))']
        else:
            tail = []
        for placed in page.drawing.placed:
            lines += self.instance(placed, path)
        return "\n".join([*lines, *tail, ")", ""])

    # -- symbols

    def symbol(self, name: str, symbol: Symbol, part: Part) -> Iterator[str]:
        """A symbol; y runs upwards in it."""
        hidden = "" if symbol.named else " hide"
        yield f"    (symbol {string(f'{LIBRARY}:{name}')} (pin_numbers hide) (pin_names (offset 0.4){hidden})"
        yield "      (in_bom yes) (on_board no)"
        letter = part.reference.rstrip("0123456789")
        for key, value in (("Reference", letter), ("Value", part.kind), ("Footprint", ""), ("Datasheet", "")):
            yield f"      (property {string(key)} {string(value)} (at 0 0 0) {_effects(hide=key in HIDDEN)})"
        yield f"      (symbol {string(f'{name}_0_1')}"
        for shape in symbol.shapes:
            yield f"        {_shape(shape)}"
        yield "      )"
        yield f"      (symbol {string(f'{name}_1_1')}"
        for pin in symbol.pins:
            yield f"        {_pin(pin)}"
        yield "      )"
        yield "    )"

    def instance(self, placed: Placed, path: str) -> Iterator[str]:
        """A part."""
        part = placed.part
        name = self.symbols[placed.symbol.key][0]
        identity = _id(self.identity, "part", part.reference)
        at = f"{_mm(placed.x)} {_mm(placed.y)}"
        yield f"  (symbol (lib_id {string(f'{LIBRARY}:{name}')}) (at {at} 0) (unit 1)"
        yield f"    (in_bom yes) (on_board no) (dnp no) (uuid {identity})"
        shown = {t.name: t for t in placed.texts}
        fields = {"Reference": part.reference, "Value": part.value or part.kind, "Footprint": "", "Datasheet": ""}
        fields |= dict(part.fields)
        for key, value in fields.items():
            t = shown.get(key)
            where = f"{_mm(t.x)} {_mm(t.y)} 0" if t else f"{at} 0"
            effects = _effects(justify="" if t and t.centred else "left", hide=t is None)
            yield f"    (property {string(key)} {string(value)} (at {where}) {effects})"
        for pin in placed.symbol.pins:
            yield f"    (pin {string(pin.name)} (uuid {_id(identity, pin.name)}))"
        reference = string(part.reference)
        yield f'    (instances (project {self.project} (path "{path}" (reference {reference}) (unit 1)))))'


HIDDEN = frozenset({"Footprint", "Datasheet"})


def _pin(pin: Pin) -> str:
    turn = 0 if pin.side == LEFT else 180
    name, effects = string(net_text(pin.name)), _effects()
    return (
        f"(pin passive line (at {_mm(pin.x)} {_mm(-pin.y)} {turn}) (length {_mm(pin.length)}) "
        f"(name {name} {effects}) (number {string(pin.name)} {effects}))"
    )


def _shape(shape: Shape) -> str:
    fill = "(fill (type outline))" if getattr(shape, "filled", False) else "(fill (type none))"
    weight = shape.weight if isinstance(shape, Line) else 0.2
    stroke = f"(stroke (width {weight:g}) (type default))"
    if isinstance(shape, Circle):
        return f"(circle (center {_mm(shape.x)} {_mm(-shape.y)}) (radius {_mm(shape.radius)}) {stroke} {fill})"
    if isinstance(shape, Arc):
        points = ((shape.x, -shape.radius), (shape.x - shape.radius, 0.0), (shape.x, shape.radius))
        start, mid, end = (f"{_mm(x)} {_mm(-(shape.y + y))}" for x, y in points)
        return f"(arc (start {start}) (mid {mid}) (end {end}) {stroke} {fill})"
    points = " ".join(f"(xy {_mm(x)} {_mm(-y)})" for x, y in shape.points)  # type: ignore[assignment]
    return f"(polyline (pts {points}) {stroke} {fill})"
