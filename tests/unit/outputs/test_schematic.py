"""The schematic read back from its files: the pins that wires and labels join are those of the netlist."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from itertools import combinations
from pathlib import Path
from random import Random

import pytest
import sexpdata

import netlister
from netlister.circuit.build import build
from netlister.outputs.netlist_parts import parts
from netlister.outputs.schematic.drawing import part_boxes
from netlister.outputs.schematic.kicad import kicad_schematic
from netlister.outputs.schematic.picture import CLASSES, _classes, picture
from netlister.outputs.schematic.place import READABLE, arrange, pages
from netlister.outputs.schematic.sheets import FEWEST, sheets
from tests.properties.layouts import dump, random_layout

LIBRARY = Path(__file__).parents[3] / "parts" / "netlister.kicad_sym"
EXAMPLES = sorted((Path(__file__).parents[3] / "examples").glob("*/layout.yaml"))
HOSTILE = [
    "a) (wire",
    '"',
    "\\",
    '\\"',
    "${HOME}",
    "a/b",
    "~{x}",
    "<script>",
    "&amp;",
    "a[1]",
    "漢字漢字",
    "é",
    "(",
    "'",
]


def hostile():
    quoted = ["'" + n.replace("'", "''") + "'" for n in HOSTILE]
    track = "".join(f"  {n}: {{length: 1 m}}\n" for n in quoted)
    return (
        'format: netlister/1\ntitle: "a\\n\\") (lib_symbols"\nsupplies: {m: {type: dcc, voltage: 12 V}}\n'
        f"track:\n{track}feeds: [{{to: [{', '.join(quoted)}]}}]\n"
    )


def circuits():
    for path in EXAMPLES:
        yield path.parent.name, build(netlister.read_file(str(path)))
    for seed in range(25):
        yield f"seed {seed}", build(netlister.read_text(dump(random_layout(Random(seed)))))
    yield "hostile", build(netlister.read_text(hostile()))


CIRCUITS = dict(circuits())


# ---- reading, from the format alone


def name(item):
    return item[0].value() if isinstance(item, list) and item and isinstance(item[0], sexpdata.Symbol) else ""


def all_of(tree, what):
    return [item for item in tree if name(item) == what]


def one_of(tree, what):
    (found,) = all_of(tree, what)
    return found


def near(x, y):
    return round(x * 100), round(y * 100)


def unescaped(text):
    return text.replace("{slash}", "/").replace("{brace}", "{")


def pins_of(tree):
    """Per symbol of the file its pins: number to place; y runs upwards in a symbol."""
    found = {}
    for symbol in all_of(one_of(tree, "lib_symbols"), "symbol"):
        pins = {}
        for unit in all_of(symbol, "symbol"):
            for pin in all_of(unit, "pin"):
                pins[one_of(pin, "number")[1]] = one_of(pin, "at")[1:3]
        found[symbol[1]] = pins
    return found


def on(place, wire):
    (x1, y1), (x2, y2) = wire
    x, y = place
    return min(x1, x2) <= x <= max(x1, x2) and min(y1, y2) <= y <= max(y1, y2) and (x1 == x2 or y1 == y2)


def groups_of(tree):
    """The pins and labels that touch one another: wires at their ends, labels anywhere on a wire."""
    known = pins_of(tree)
    pins, values = [], {}
    for symbol in all_of(tree, "symbol"):
        x, y, turn = one_of(symbol, "at")[1:4]
        assert turn == 0
        fields = {p[1]: p[2] for p in all_of(symbol, "property")}
        places = known[(all_of(symbol, "lib_name") or all_of(symbol, "lib_id"))[0][1]]
        assert {p[1] for p in all_of(symbol, "pin")} == set(places)
        values[fields["Reference"]] = fields["Value"]
        pins += [(near(x + px, y - py), (fields["Reference"], number)) for number, (px, py) in places.items()]
    wires = [tuple(near(*xy[1:3]) for xy in one_of(w, "pts")[1:]) for w in all_of(tree, "wire")]
    labels = [(near(*one_of(g, "at")[1:3]), unescaped(g[1])) for g in all_of(tree, "global_label")]
    head = {}

    def find(place):
        head.setdefault(place, place)
        while head[place] != place:
            place = head[place]
        return place

    for a, b in wires:
        head[find(a)] = find(b)
    ends = {end for wire in wires for end in wire}
    for place in [place for place, _ in labels] + [near(*one_of(j, "at")[1:3]) for j in all_of(tree, "junction")]:
        for wire in wires:
            if on(place, wire):
                head[find(place)] = find(wire[0])
    groups = defaultdict(lambda: (set(), set(), set()))
    for place, pin in pins:
        assert place in ends, f"{pin} hangs in the air"
        groups[find(place)][0].add(pin)
    for place, label in labels:
        groups[find(place)][1].add(label)
    for mark in all_of(tree, "no_connect"):
        place = near(*one_of(mark, "at")[1:3])
        assert place in ends, "a mark in the air"
        groups[find(place)][2].add(place)
    return groups.values(), values


def nets_of(files):
    """The pins of each net of a schematic: labels are the same on all sheets; the sets of pins without a label."""
    nets, values, silent = defaultdict(set), {}, []
    for text in files.values():
        tree = sexpdata.loads(text)
        groups, more = groups_of(tree)
        assert not values.keys() & more.keys()
        values |= more
        for pins, labels, left_open in groups:
            assert len(labels) <= 1, (pins, labels)
            assert not (labels and left_open), labels
            assert bool(left_open) == (len(pins) == 1 and not labels), "an open pin has a name or a mark"
            assert all(pin[0][0] in "QSK" for pin in pins if left_open), pins
            if labels:
                nets[labels.pop()] |= pins
            else:
                silent.append(pins)
    return dict(nets), values, silent


def files_of(circuit, one):
    files = kicad_schematic(circuit, "out", one=one)
    tree = sexpdata.loads(files["out.kicad_sch"])
    listed = [p[2] for s in all_of(tree, "sheet") for p in all_of(s, "property") if p[1] == "Sheet file"]
    assert sorted(["out.kicad_sch", *listed]) == sorted(files)
    return files


@pytest.mark.parametrize("one", [True, False])
@pytest.mark.parametrize("which", CIRCUITS)
def test_read_back_it_is_the_netlist(which, one):
    circuit = CIRCUITS[which]
    nets, values, silent = nets_of(files_of(circuit, one))
    wanted = defaultdict(set)
    for part in parts(circuit):
        for pin, net in part.pins:
            wanted[net].add((part.reference, pin))
    assert {net: pins for net, pins in wanted.items() if net in nets} == nets
    rest = [pins for net, pins in wanted.items() if net not in nets]
    assert sorted(map(sorted, silent)) == sorted(map(sorted, rest))
    assert values == {part.reference: part.value for part in parts(circuit)}


def cross(a, b):
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


@pytest.mark.parametrize("one", [True, False])
@pytest.mark.parametrize("which", CIRCUITS)
def test_nothing_overlaps_and_all_is_on_the_paper(which, one):
    for sheet in sheets(CIRCUITS[which], one=one):
        page = arrange(sheet)
        assert {p.part.reference for p in page.drawing.placed} == {p.reference for p in sheet.parts}
        boxes = sorted(page.drawing.boxes())
        for n, a in enumerate(boxes):
            for b in boxes[n + 1 :]:
                if b[0] >= a[2]:
                    break
                assert not cross(a, b), (sheet.name, a, b)
        left, top, right, bottom = page.drawing.box()
        assert left > 0
        assert top > 0
        assert right * 1.27 < page.width
        assert bottom * 1.27 < page.height


@pytest.mark.parametrize("which", [*(p.parent.name for p in EXAMPLES), "hostile"])
def test_wires_cross_no_part_and_no_foreign_wire(which):
    for page in pages(CIRCUITS[which]):
        drawing = page.drawing
        bodies = []
        for p in drawing.placed:
            left, top, right, bottom = p.symbol.box
            bodies.append((p.x + left, p.y + top, p.x + right, p.y + bottom))
        lines = [(min(w.x1, w.x2), min(w.y1, w.y2), max(w.x1, w.x2), max(w.y1, w.y2)) for w in drawing.wires]
        ends = {part_boxes(p)[0] for p in drawing.placed}  # wires touch a part where its pins end
        texts = [box for box in drawing.boxes() if box not in ends]
        for line, wire in zip(lines, drawing.wires, strict=True):
            assert not any(cross(line, body) for body in bodies), (page.name, wire)
            assert not any(cross(line, text) for text in texts), (page.name, wire)
        for (a, one), (b, two) in combinations(zip(lines, drawing.wires, strict=True), 2):
            touch = a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]
            assert not touch or one.net == two.net or plain_crossing(a, b), (page.name, one, two)
        for net, x, y in drawing.dots:
            assert {
                w.net for a, w in zip(lines, drawing.wires, strict=True) if a[0] <= x <= a[2] and a[1] <= y <= a[3]
            } == {net}


def plain_crossing(a, b):
    """Whether two lines cross inside both of them, one upright and one level; there the editor joins nothing."""
    up, level = sorted((a, b), key=lambda line: line[0] != line[2])
    return up[0] == up[2] and level[1] == level[3] and level[0] < up[0] < level[2] and up[1] < level[1] < up[3]


@pytest.mark.parametrize("which", [p.parent.name for p in EXAMPLES])
def test_labels_stand_only_between_sheets_and_sheets_are_of_a_readable_size(which):
    """A label on a sheet is a pole's own, or of a net of other sheets, or names a junction: never a rail of it alone."""
    drawn = pages(CIRCUITS[which])
    on = defaultdict(set)
    rails = defaultdict(set)
    for number, page in enumerate(drawn):
        for placed in page.drawing.placed:
            for _, net in placed.part.pins:
                on[net].add(number)
                if placed.part.library == "track":
                    rails[net].add(number)
    poles = {pole.name for pole in CIRCUITS[which].poles}
    for number, page in enumerate(drawn):
        assert page.paper in READABLE, page.name
        names = [label.net for label in page.drawing.labels]
        for net in names:
            assert net in poles or net not in rails or len(on[net]) > 1, (page.name, net)
            assert names.count(net) == 1 or number not in rails[net], (page.name, net)


@pytest.mark.parametrize("which", ["every-piece", "peat-railway", "ferry"])
def test_a_switch_stands_with_its_rail_and_no_piece_has_a_sheet_for_itself(which):
    circuit = CIRCUITS[which]
    found = sheets(circuit, one=False)
    of = {part.reference: sheet.name for sheet in found for part in sheet.parts}
    rails = {net: part.reference for s in found for part in s.parts if part.library == "track" for _, net in part.pins}
    for sheet in found:
        for part in sheet.parts:
            fields = dict(part.fields)
            if part.kind == "contact" and fields["Moved by"] not in {*circuit.layout.machines, *circuit.layout.pieces}:
                on = {of[rails[net]] for _, net in part.pins if net in rails}
                assert sheet.name == (on.pop() if len(on) == 1 else "switches"), part.reference
        if sheet.name.endswith(tuple("23456789")) and ", " in sheet.name:
            assert len(sheet.parts) > FEWEST, sheet.name


def test_labels_stand_only_where_a_net_goes_on():
    """In a figure every rail of a piece runs to its joiners, feeds and contact by wires."""
    (sheet,) = sheets(CIRCUITS["one-frog"], one=True)
    drawing = arrange(sheet).drawing
    names = [label.net for label in drawing.labels]
    frogs = {net for part in sheet.parts if part.reference.startswith("Y") for _, net in part.pins}
    assert frogs
    assert not frogs & {*names}
    poles = [net for net in names if net in sheet.poles]
    assert len(poles) == len(set(poles)) == 2


@pytest.mark.parametrize("which", ["one-frog", "terminus", "every-piece", "two-cabs", "hostile"])
def test_kiutils_reads_it(which, tmp_path):
    from kiutils.schematic import Schematic

    circuit = CIRCUITS[which]
    read = {}
    for file, text in kicad_schematic(circuit, "out").items():
        (tmp_path / file).write_text(text, encoding="utf-8")
        read[file] = Schematic.from_file(str(tmp_path / file), encoding="utf-8")
    symbols = [s for sheet in read.values() for s in sheet.schematicSymbols]
    assert len(symbols) == len(parts(circuit))
    for sheet in read.values():
        known = {s.libId for s in sheet.libSymbols}
        assert {s.libName or s.libId for s in sheet.schematicSymbols} <= known
    labels = {unescaped(g.text) for sheet in read.values() for g in sheet.globalLabels}
    if which != "hostile":  # its reader leaves escapes in
        pins = [(net, part.kind) for part in parts(circuit) for _, net in part.pins]
        nets = [net for net, _ in pins]
        assert labels <= {*nets}
        alone = {net: kind for net, kind in pins if nets.count(net) == 1}
        assert {net for net, kind in alone.items() if kind != "contact" and "reverser" not in kind} <= labels
        assert sum(len(sheet.noConnects) for sheet in read.values()) == len({*alone} - labels)


def test_identifiers_are_distinct_and_the_same_each_time():
    circuit = CIRCUITS["terminus"]
    files = kicad_schematic(circuit, "out")
    assert files == kicad_schematic(circuit, "out")
    found = re.findall(r"\(uuid ([0-9a-f-]{36})\)", "".join(files.values()))
    assert len(found) == len(set(found))


def test_supplies_stand_left_of_all_and_contacts_left_of_the_rails_that_they_feed():
    (sheet,) = sheets(CIRCUITS["two-cabs"], one=True)
    placed = [p for p in arrange(sheet).drawing.placed if p.part.pins]
    sources = [p.x for p in placed if p.part.kind in {"supply", "bus"}]
    assert max(sources) < min(p.x for p in placed if p.part.kind not in {"supply", "bus"})
    rails = {net: p.x for p in placed if p.part.library == "track" for _, net in p.part.pins}
    fed = [(p.x, rails[net]) for p in placed if p.part.kind == "contact" for _, net in p.part.pins if net in rails]
    assert fed
    assert all(contact < rail for contact, rail in fed)


WORDS = """
kicad_sch kicad_symbol_lib version generator uuid paper title_block title comment lib_symbols symbol in_bom
on_board pin_numbers pin_names offset property id at effects font size justify hide arc circle polyline pts xy
center radius start mid end stroke width type color fill pin length name number junction diameter wire
global_label shape fields_autoplaced no_connect text lib_id lib_name unit sheet sheet_instances
symbol_instances path page reference value footprint passive line none outline default solid yes left right
top bottom netlister
"""
"""The words of our files. Version 6.0.11 of the editor, whose reader refuses any word that it does not know, opened the
schematics of all examples, on one sheet and on many, and exported netlists in which `check` finds what it finds in the
layouts; so did version 9. A word that is new here is to be tried there first."""


def words_of(tree):
    for item in tree:
        if isinstance(item, list):
            yield from words_of(item)
        elif isinstance(item, sexpdata.Symbol):
            yield item.value()


@pytest.mark.parametrize("which", [*(p.parent.name for p in EXAMPLES), "hostile", "library"])
def test_no_word_is_newer_than_version_6(which):
    files = {"": LIBRARY.read_text(encoding="utf-8")} if which == "library" else kicad_schematic(CIRCUITS[which], "out")
    for text in files.values():
        tree = sexpdata.loads(text)
        found = {w for w in words_of(tree) if not re.fullmatch(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", w)}
        assert found <= set(WORDS.split())
        assert one_of(tree, "version")[1] == (20211014 if which == "library" else 20211123)


SHORTED = """
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V}}
track: {approach: {length: 1 m}, siding: {length: 1 m}, T1: {kind: live-frog, hand: right}}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints: [{from: approach, to: T1.toe}, {from: T1.diverging, to: siding}]
feeds: [{to: [approach, siding], A: left, B: right}]
"""


def test_nets_that_are_shorted_in_some_positions_are_drawn_so():
    """The siding's left rail is the frog, which is pole B while the turnout lies through: not `always pole A`."""
    circuit = build(netlister.read_text(SHORTED))
    text = picture(circuit)
    assert "two poles in some positions: a short" in text
    colour = CLASSES["shorted"][0]
    (drawing,) = (page.drawing for page in pages(circuit))
    shorted = {w.net for w in drawing.wires if _classes(circuit)[w.net] == CLASSES["shorted"]}
    assert shorted == {"siding.left", "siding.right", "T1.frog", "T1.stock-right", "approach.right"}
    assert text.count(f'stroke="{colour}" stroke-width="0.35"') == sum(w.net in shorted for w in drawing.wires)
    assert "a short" not in picture(CIRCUITS["one-frog"])


@pytest.mark.parametrize("which", CIRCUITS)
def test_the_picture_is_well_formed_and_names_every_part(which):
    circuit = CIRCUITS[which]
    root = ET.fromstring(picture(circuit))
    said = {"".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")}
    for part in parts(circuit):
        assert part.reference in said
        assert {pin for pin, _ in part.pins if part.library == "track"} <= said
    assert not list(root.iter("{http://www.w3.org/2000/svg}script"))
