"""The schematic in KiCad's file format: S-expressions, one file per sheet and one that holds them.

It is written in the form that version 6 of the editor wrote, which later ones read, too. A part is an instance of the
symbol of our library that its kind has there, so that a netlist that the editor exports is one that `check` reads; it
is drawn as its pins need, by a variant of that symbol that is in the file.

A net is a set of pins, wires and global labels; every label is global, so that a net is the same on all sheets. The
symbols are in the files themselves. Identifiers are made from names, so that the same layout gives the same bytes.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING
from uuid import NAMESPACE_URL, uuid5

from netlister.expressions import string
from netlister.outputs.netlist_draft import TRACK
from netlister.outputs.schematic.drawing import open_nets
from netlister.outputs.schematic.place import pages
from netlister.outputs.schematic.shapes import GRID, LEFT
from netlister.outputs.schematic.written import body_text, effects_text, mm_of, net_text, property_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from netlister.circuit.model import Circuit
    from netlister.outputs.netlist_draft import NetlistPart
    from netlister.outputs.schematic.drawing import DrawnWire, NetLabel, Page, PlacedPart
    from netlister.outputs.schematic.shapes import DrawnSymbol

VERSION = "20211123"
"""The version of the format that this is written in."""

LIBRARY = "netlister"


def kicad_schematic(circuit: Circuit, stem: str, *, one: bool | None = None) -> dict[str, str]:
    """The files of a schematic: name to text, that of the whole first.

    `stem`: the name of the whole without its ending, and of its project; sheets are called `stem-1` and so on. `one`:
    a single sheet; left out: where that is of a readable size.
    """
    drawn = pages(circuit, one=one)
    title = circuit.layout.title or circuit.layout.name
    left_open = open_nets(placed.part for page in drawn for placed in page.drawing.placed)
    made = [_SheetWriter(page, title, circuit, left_open) for page in drawn]
    if len(made) == 1:
        return {f"{stem}.kicad_sch": made[0].text([*_tail([""]), *_numbered(made[0].numbers(""))])}
    root = _id("root", circuit.layout.name)
    files = {f"{stem}.kicad_sch": ""}
    entries = []
    numbers: list[str] = []
    for number, sheet in enumerate(made, 1):
        name = f"{stem}-{number}.kicad_sch"
        entries.append((sheet.page.name, name, _id("sheet", sheet.page.name)))
        files[name] = sheet.text([])
        numbers += sheet.numbers(f"/{entries[-1][2]}")
    files[f"{stem}.kicad_sch"] = _root(root, title, entries, numbers)
    return files


def _id(*names: str) -> str:
    return str(uuid5(NAMESPACE_URL, "netlister:" + "\0".join(names)))


def _fields(name: str, value: DrawnWire | NetLabel) -> str:
    """Everything that a wire or label is, as text. Identities are made of it: it stays as it is, so that these stay."""
    said = ", ".join(f"{field}={own!r}" for field, own in zip(value._fields, value, strict=True))
    return f"{name}({said})"


def _head(identity: str, paper: str, title: str, note: str) -> Iterator[str]:
    yield f"(kicad_sch (version {VERSION}) (generator netlister)"
    yield f"  (uuid {identity})"
    yield f"  (paper {paper})"
    yield f"  (title_block (title {string(title)}) (comment 1 {string(note)}))"


def _tail(sheets_of: list[str]) -> Iterator[str]:
    """The page numbers of sheets, each by its path from the root."""
    yield "  (sheet_instances"
    yield from (f'    (path "{path or "/"}" (page "{number}"))' for number, path in enumerate(sheets_of, 1))
    yield "  )"


def _numbered(numbers: list[str]) -> Iterator[str]:
    """The references of parts, which stand in the file of the whole."""
    yield from ("  (symbol_instances", *numbers, "  )")


def _root(identity: str, title: str, entries: list[tuple[str, str, str]], numbers: list[str]) -> str:
    """The file that holds the sheets: a box for each, in columns."""
    rows = 8
    above, below = effects_text(justify="left bottom"), effects_text(justify="left top")
    wide = max(297, 2 * EDGE_MM + 80 * -(-len(entries) // rows))
    paper = '"A4"' if wide == 297 else f'"User" {wide} 210'  # noqa: PLR2004 - A4 by ISO 216
    lines = [*_head(identity, paper, title, "Every net has the same name on all sheets."), "  (lib_symbols)"]
    for number, (name, file, sheet) in enumerate(entries):
        x = round((EDGE_MM + 80 * (number // rows)) / GRID) * GRID
        y = round((EDGE_MM + 20 * (number % rows)) / GRID) * GRID
        lines += [
            f"  (sheet (at {x:g} {y:g}) (size 63.5 10.16) (stroke (width 0.15) (type solid) (color 0 0 0 0))",
            f"    (fill (color 0 0 0 0.0)) (uuid {sheet})",
            f"    {property_text(0, 'Sheet name', name, f'{x:g} {y - 0.7:g} 0', above)}",
            f"    {property_text(1, 'Sheet file', file, f'{x:g} {y + 10.8:g} 0', below)})",
        ]
    lines += [*_tail(["", *(f"/{sheet}" for _, _, sheet in entries)]), *_numbered(numbers), ")", ""]
    return "\n".join(lines)


EDGE_MM = 20


class _SheetWriter:
    def __init__(self, page: Page, title: str, circuit: Circuit, left_open: set[str]) -> None:
        self.page = page
        self.left_open = left_open
        self.title = title
        self.identity = _id("page", circuit.layout.name, page.name)
        self.symbols: dict[str, tuple[str, DrawnSymbol, NetlistPart]] = {}
        count: dict[str, int] = defaultdict(int)
        for placed in page.drawing.placed:
            key = placed.symbol.key
            if key not in self.symbols:
                of = library_symbol(placed.part)
                name = f"{of}_{count[of]}" if count[of] else f"{LIBRARY}:{of}"
                count[of] += 1
                self.symbols[key] = (name, placed.symbol, placed.part)

    def text(self, tail: list[str]) -> str:
        """The file. `tail`: what stands at its end."""
        page = self.page
        paper = f'"{page.paper}"' if page.paper != "User" else f'"User" {page.width:g} {page.height:g}'
        lines = list(_head(self.identity, paper, self.title, page.name))
        lines.append("  (lib_symbols")
        for name, symbol, part in self.symbols.values():
            lines += self.symbol(name, symbol, part)
        lines.append("  )")
        for net, x, y in page.drawing.dots:
            identity = _id(self.identity, "dot", net, f"{x} {y}")
            lines.append(f"  (junction (at {mm_of(x)} {mm_of(y)}) (diameter 0) (color 0 0 0 0) (uuid {identity}))")
        # wires and labels are told apart by all that they are, the names of their types among it
        for w in page.drawing.wires:
            ends = f"(xy {mm_of(w.x1)} {mm_of(w.y1)}) (xy {mm_of(w.x2)} {mm_of(w.y2)})"
            identity = _id(self.identity, "wire", _fields("Wire", w))
            lines.append(f"  (wire (pts {ends}) (stroke (width 0) (type default) (color 0 0 0 0)) (uuid {identity}))")
        for label in page.drawing.labels:
            turn, justify = (180, "right") if label.side == LEFT else (0, "left")
            identity = _id(self.identity, "label", _fields("Label", label))
            if label.net in self.left_open:
                at = f"{mm_of(label.x)} {mm_of(label.y)}"
                lines.append(f"  (no_connect (at {at}) (uuid {identity}))")
                continue
            said, at = string(net_text(label.net)), f"{mm_of(label.x)} {mm_of(label.y)}"
            lines.append(
                f"  (global_label {said} (shape passive) (at {at} {turn}) (fields_autoplaced)"
                f" {effects_text(justify=justify)} (uuid {identity}))"
            )
        for note in page.drawing.notes:
            at = f"{mm_of(note.x)} {mm_of(note.y)}"
            said = f"(text {string(net_text(note.text))} (at {at} 0) {effects_text(justify='right bottom')}"
            lines.append(f"  {said} (uuid {_id(self.identity, 'note', f'{note}')}))")
        for placed in page.drawing.placed:
            lines += self.instance(placed)
        return "\n".join([*lines, *tail, ")", ""])

    # -- symbols

    def symbol(self, name: str, symbol: DrawnSymbol, part: NetlistPart) -> Iterator[str]:
        """A symbol; y runs upwards in it."""
        hidden = "" if symbol.named else " hide"
        yield f"    (symbol {string(name)} (pin_numbers hide) (pin_names (offset 0.4){hidden})"
        yield "      (in_bom yes) (on_board yes)"
        letter = part.reference.rstrip("0123456789")
        unit = name.partition(":")[2] or name
        usual = (("Reference", letter), ("Value", part.kind), ("Footprint", ""), ("Datasheet", ""))
        for number, (key, value) in enumerate(usual):
            effects = effects_text(hide=key in HIDDEN)
            yield f"      {property_text(number, key, value, '0 0 0', effects)}"
        yield from (f"      {line}" for line in body_text(unit, symbol.shapes, symbol.pins))
        yield "    )"

    def instance(self, placed: PlacedPart) -> Iterator[str]:
        """A part."""
        part = placed.part
        identity = self._part_id(part)
        at = f"{mm_of(placed.x)} {mm_of(placed.y)}"
        of = f"{LIBRARY}:{library_symbol(part)}"
        name = self.symbols[placed.symbol.key][0]
        variant = "" if name == of else f"(lib_name {string(name)}) "
        yield f"  (symbol {variant}(lib_id {string(of)}) (at {at} 0) (unit 1)"
        yield f"    (in_bom yes) (on_board yes) (uuid {identity})"
        shown = {t.name: t for t in placed.texts}
        fields = {"Reference": part.reference, "Value": part.value or part.kind, "Footprint": "", "Datasheet": ""}
        fields |= dict(part.fields)
        for number, (key, value) in enumerate(fields.items()):
            t = shown.get(key)
            where = f"{mm_of(t.x)} {mm_of(t.y)} 0" if t else f"{at} 0"
            effects = effects_text(justify="" if t and t.centred else "left", hide=t is None)
            yield f"    {property_text(number, key, value, where, effects)}"
        for pin in placed.symbol.pins:
            yield f"    (pin {string(pin.name)} (uuid {_id(identity, pin.name)}))"
        yield "  )"

    def numbers(self, path: str) -> list[str]:
        """The references of its parts; `path`: that of the sheet in the whole."""
        return [
            f'    (path "{path}/{self._part_id(part)}" (reference {string(part.reference)}) (unit 1)'
            f' (value {string(part.value or part.kind)}) (footprint ""))'
            for part in (placed.part for placed in self.page.drawing.placed)
        ]

    def _part_id(self, part: NetlistPart) -> str:
        return _id(self.identity, "part", part.reference)


def library_symbol(part: NetlistPart) -> str:
    """The name of the symbol of a part in our library: pieces of track by their kind, all else without spaces."""
    return part.kind if part.library == TRACK else part.kind.replace(" ", "-")


HIDDEN = frozenset({"Footprint", "Datasheet"})
