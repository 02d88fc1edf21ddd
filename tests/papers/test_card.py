"""Wiring cards: poles in each position, from above and from below, as altered; nothing cut off, nothing too small."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from itertools import pairwise
from random import Random

import pytest
from click.testing import CliRunner

from netlister.check import check
from netlister.circuit.build import build
from netlister.circuit.states import rail_poles
from netlister.cli.main import group
from netlister.draw.placing import GAUGE, dots
from netlister.draw.rails import rail_runs
from netlister.draw.text import width
from netlister.layout.read import read_layout
from netlister.papers import materials, steps
from netlister.papers.altered import altered
from netlister.papers.card import CardError, Cards, card_sheets, card_svg, cards
from netlister.papers.card_drawing import CardDrawing
from netlister.papers.card_piece import OfPiece
from netlister.papers.local_poles import LocalPoles
from netlister.papers.positions import positions
from netlister.papers.sheets import BODY, GAP, LINE, LOW, Flow, Head, broken, fitted
from netlister.source import Source
from tests.draw.support import EXAMPLES, ROOT, circuit, example
from tests.papers.rebuild import NEEDS_PDF
from tests.papers.test_schedule import states
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout

SVG = "{http://www.w3.org/2000/svg}"
POINT = 25.4 / 72 * 4
"""A point in the units of a sheet, of which four are a millimetre."""


def texts(svg):
    return [t.text or "" for t in ET.fromstring(svg).iter(f"{SVG}text")]


def words(svg):
    return " ".join(texts(svg))


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_card_of_every_example(name):
    made = Cards(example(name))
    for one in made.known:
        for sheet in made.sheets(one):
            root = ET.fromstring(sheet)
            assert (root.get("width"), root.get("height")) == ("210mm", "148mm")  # A5 by ISO 216
            drawn = {t for g in root.iter(f"{SVG}g") if g.get("class") in {"above", "below"} for t in g.iter()}
            for text in root.iter(f"{SVG}text"):
                if text not in drawn:  # 9 points at least, but for what is drawn to explain
                    assert float(text.get("font-size")) >= 9 * POINT
            for text in root.findall(f"{SVG}text"):
                assert 0 <= float(text.get("x")) <= 840
                assert 0 <= float(text.get("y")) <= 592
            assert not re.search(r"<script|\son\w+=|url\(|href", sheet)
        said = words(made.whole(one))
        for word in ("Caution", "unplugged", "licensed", "Solder", "sheet 1 of"):
            assert word in said


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_poles_of_a_card_are_those_of_the_state(name):
    """From above and from below, in every position, each rail by its pole; a blade before a cut by its stock rail's."""
    made = example(name)
    letters = {p.name: f"pole-{p.letter}" for p in made.poles}
    sheets = Cards(made)
    for one in sheets.known:
        piece = made.layout.pieces.get(one)
        if piece is None:
            continue
        shown = positions(made, piece)
        root = ET.fromstring(sheets.whole(one))
        for side in ("above", "below"):
            groups = [g for g in root.iter(f"{SVG}g") if g.get("class") == side]
            assert len(groups) == len(shown)
            for group_, position in zip(groups, shown, strict=True):
                poles = rail_poles(made, position.state)
                drawn = set()
                for path in group_.iter(f"{SVG}path"):
                    if path.get("data-rail"):
                        drawn.add(path.get("data-rail"))
                        has = poles[path.get("data-rail")]
                        wanted = (
                            "pole-none"
                            if not has
                            else "pole-both"
                            if len(has) > 1
                            else letters.get(has[0], "pole-unit")
                        )
                        assert wanted in path.get("class").split()
                if piece.kind.routes and not piece.kind.gaps and piece.kind.name != "catch-turnout":
                    # the stock rails of a catch turnout end where it begins, so nothing of them is in the drawing
                    assert drawn == {f"{one}.{rail}" for rail in piece.kind.rails}


def drawn_points(data, flip):
    """Points along the straight parts of a path, not more than a unit apart."""
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", data)]
    corners = [(x, y * flip) for x, y in zip(numbers[::2], numbers[1::2], strict=True)]
    for (ax, ay), (bx, by) in pairwise(corners):
        steps = max(int(((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5), 1)
        for k in range(steps + 1):
            yield ax + (bx - ax) * k / steps, ay + (by - ay) * k / steps


def clashes(sheet):
    """Texts of the drawings of a sheet that lie over a rail, over the bars of a joint, or over another text."""
    for group_ in ET.fromstring(sheet).iter(f"{SVG}g"):
        if group_.get("class") not in {"above", "below"}:
            continue
        flip = -1 if group_[0].get("transform") else 1
        lines = []
        for path in group_[0].iter(f"{SVG}path"):
            if path.get("data-rail"):  # half of the width of its line, by the style sheet
                lines.append((2.75 if "pole-both" in path.get("class") else 1.3, path))
        lines += [
            (0.8, path)
            for joint in group_[0].iter(f"{SVG}g")
            if joint.get("class") == "joint"
            for path in joint.iter(f"{SVG}path")
            if path.get("class") == "bar"
        ]
        spots = [(half, list(drawn_points(path.get("d"), flip))) for half, path in lines]
        boxes = []
        for text in group_.findall(f"{SVG}text"):
            size, x, y = (float(text.get(key)) for key in ("font-size", "x", "y"))
            box = (x, y - 0.74 * size, x + 0.9 * width(text.text, size), y + 0.05 * size)  # its capitals
            if any(
                box[0] - half < px < box[2] + half and box[1] - half < py < box[3] + half
                for half, points in spots
                for px, py in points
            ):
                yield text.text
            if any(box[0] < b[2] and b[0] < box[2] and box[1] < b[3] and b[1] < box[3] for b in boxes):
                yield text.text
            boxes.append(box)


@pytest.mark.parametrize("name", EXAMPLES)
def test_no_name_lies_over_a_rail_a_joint_or_another_name(name):
    made = Cards(example(name))
    for one in made.known:
        if one in made.layout.pieces:
            for sheet in made.sheets(one):
                assert list(clashes(sheet)) == [], one


def test_from_below_is_the_mirror_image():
    """The same lines, y turned round, and the text not."""
    root = ET.fromstring(card_svg(example("ferry"), "T1"))
    above, below = ([g for g in root.iter(f"{SVG}g") if g.get("class") == side] for side in ("above", "below"))
    for one, other in zip(above, below, strict=True):
        assert [p.get("d") for p in one[0].iter(f"{SVG}path")] == [p.get("d") for p in other[0].iter(f"{SVG}path")]
        assert (one[0].get("transform"), other[0].get("transform")) == (None, "scale(1 -1)")
        assert not list(other[0].iter(f"{SVG}text"))
    said = words(card_svg(example("ferry"), "T1"))
    assert "FROM ABOVE: through" in said
    assert "FROM BELOW, mirrored: diverging" in said
    assert "The toe end is on the left, towards approach." in said


def test_a_turnout_tells_its_wires():
    said = words(card_svg(example("ferry"), "T1"))
    for one in ("Contact M1.frog", "M1.frog.through", "T1.stock-left", "T1.frog", "main-west.left", "goods.right"):
        assert one in said


def test_colours_of_wires_are_those_of_iec_60757():
    """IEC 60757: BN brown, WH white."""
    said = words(card_svg(example("terminus"), "T2"))
    assert "BN brown" in said
    assert "WH white" in said


ALTERED = """
track:
  a: {length: 1 m}
  b: {length: 1 m}
  c: {length: 1 m}
  T1: {kind: live-frog, hand: right%s}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints:
  - {from: a, to: T1.toe}
  - {from: T1.through, to: b, insulate: vee}
  - {from: T1.diverging, to: c, insulate: vee}
feeds: [{to: [a, b, c]}]
"""


@pytest.mark.parametrize(
    ("options", "altered"),
    [(", jumpers: true, links: cut", True), (", jumpers: true, closure-rails: cut", True), ("", False)],
)
def test_the_text_fits_the_piece_and_not_its_kind(options, altered):
    """With jumpers fitted and links cut the frog beeps to nothing before its contact is wired, else to one stock rail."""
    svg = card_svg(circuit(ALTERED % options), "T1")
    said = words(svg)
    assert ("T1.stock-left never beeps to T1.frog" in said) is altered
    assert ("T1.stock-left T1.frog T1 at diverging" in said or "M1 at" in said) is True
    assert ("jumper" in texts(svg)) is altered
    assert ("cut" in texts(svg)) is altered
    assert ("from the closed blade" in said) is not altered
    assert "contact M1.frog" in said


def drawn_parts(options):
    """Per drawing of a card how many lines each rail has."""
    root = ET.fromstring(card_svg(circuit(ALTERED % options), "T1"))
    groups = [g for g in root.iter(f"{SVG}g") if g.get("class") in {"above", "below"}]
    return groups, [Counter(p.get("data-rail") for p in g.iter(f"{SVG}path") if p.get("data-rail")) for g in groups]


def test_a_blade_before_its_cut_is_drawn_with_its_stock_rail():
    groups, altered = drawn_parts(", jumpers: true, links: cut")
    _, plain = drawn_parts("")
    for group_, mine, whole in zip(groups, altered, plain, strict=True):
        assert mine["T1.stock-left"] == whole["T1.stock-left"] + 1
        assert mine["T1.stock-right"] == whole["T1.stock-right"] + 1
        assert mine["T1.frog"] == whole["T1.frog"]
        assert len([g for g in group_.iter(f"{SVG}g") if g.get("class") == "cut-closure"]) == 2
        assert len([p for p in group_.iter(f"{SVG}path") if "jumper" in (p.get("class") or "")]) == 2


def test_a_contact_the_wrong_way_round_is_said_on_the_card():
    wrong = ALTERED.replace(
        "through: T1.stock-right, diverging: T1.stock-left", "through: T1.stock-left, diverging: T1.stock-right"
    )
    said = words(card_svg(circuit(wrong % ", jumpers: true, links: cut"), "T1"))
    assert "does NOT get it at through, diverging" in said
    short = words(card_svg(circuit(wrong % ""), "T1"))
    assert "A SHORT. Do not switch on" in short
    right = words(card_svg(circuit(ALTERED % ""), "T1"))
    assert "NOT get" not in right
    assert "SHORT" not in right


def test_positions_of_a_slip_and_of_a_crossing():
    made = example("every-piece")
    pieces = made.layout.pieces
    assert [p.said for p in positions(made, pieces["X1"])] == [
        "a1 to b1, tie bar b at a1 and tie bar a at b1",
        "a1 to b2, tie bar b at a1 and tie bar a at b2",
        "a2 to b1, tie bar b at a2 and tie bar a at b1",
        "a2 to b2, tie bar b at a2 and tie bar a at b2",
    ]
    assert [p.said for p in positions(made, pieces["D2"])] == ["track 1, K2 at first", "track 2, K2 at second"]
    assert len(positions(made, pieces["D1"])) == 1
    assert len(positions(made, pieces["TT"])) == 10  # five stalls, each both ways round


def test_what_one_machine_throws_is_drawn_only_as_it_can_stand():
    slip = """
track:
  X1: {kind: double-slip-live}
machines:
  M1: {throws: [X1.a, X1.b], contacts: {fa: {common: X1.frog-a}}}
feeds: [{to: X1, A: side-left, B: side-right}]
"""
    made = circuit(slip)
    assert len(positions(made, made.layout.pieces["X1"])) == 2  # of the four settings the two that one machine makes


REVERSER = """
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 200 deg, turn: left}
  more: {radius: 450 mm, angle: 100 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, %s}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: %s}
  - {from: loop, to: more}
  - {from: more, to: T1.left, insulate: both}
feeds: [{to: line}, {to: loop, from: R1}]
"""


def test_a_reverser_that_follows_tells_when_it_crosses():
    said = texts(card_svg(circuit(REVERSER % ("follows: M1, straight: [left]", "both")), "R1"))
    assert "straight: M1 at left" in said
    assert "crossed: M1 at right" in said


def test_the_card_of_a_reverser_does_not_contradict_its_joints():
    """What is metal is called metal in the text and in the table; joints inside its section are not its ends."""
    right = words(card_svg(circuit(REVERSER % ("mode: automatic", "both")), "R1"))
    assert "Pieces: loop, more." in right
    assert "METAL" not in right
    assert "is metal" not in right
    half = words(card_svg(circuit(REVERSER % ("mode: automatic", "left")), "R1"))
    assert "METAL" in half
    assert "At T1.right/loop one rail is metal as the layout is written" in half
    none = words(card_svg(circuit(REVERSER % ("mode: automatic", "none")), "R1"))
    assert "fewer than two insulated ends" in none


def test_cards_of_gear():
    made = example("ferry")
    known = cards(made.layout)
    assert {"J1", "TE", "PB1", "town", "R1", "T1"} <= set(known)
    plug = words(card_svg(made, "J1"))
    for one in ("Half 1", "Half 2", "J1.2 (half 1)", "TE.2", "ferry.B"):
        assert one in plug
    assert "PB1.coil.down" in words(card_svg(made, "PB1"))
    assert "W.TE.2/ quay.right" in words(card_svg(made, "TE")) or "W.TE.2/quay.right" in words(card_svg(made, "TE"))
    bus = words(card_svg(made, "town"))
    assert "district" in bus
    assert "F.goods.right" in bus


def test_nothing_is_cut_off():
    long = "W." + "abcdefghij" * 12 + ".frog"
    assert "".join(broken(long, 12.8, 100)) == long
    assert max(len(line) for line in broken(long, 12.8, 100)) < 20


def test_what_has_no_card_is_said():
    made = example("ferry")
    with pytest.raises(CardError, match="plain track"):
        card_svg(made, "quay")
    with pytest.raises(CardError, match="did you mean 'T1'"):
        card_svg(made, "t1")
    assert "M1.signal.common" in card_svg(made, "M1")  # a contact that is on no other card
    with pytest.raises(CardError, match="is a machine"):
        card_sheets(example("crossover"), "M1")


CROSSING = """
track:
  a: {length: 1 m}
  b: {length: 1 m}
  c: {length: 1 m}
  d: {length: 1 m}
  D1: {kind: diamond-live}
switches:
  K1:
    positions: [one, two]
    contacts:
      fa: {common: D1.frog-a, one: D1.outer-right, two: D1.outer-left}
      fb: {common: D1.frog-b, one: D1.outer-left, two: D1.outer-right}
joints:
  - {from: a, to: D1.a1, insulate: both}
  - {from: b, to: D1.a2, insulate: both}
  - {from: D1.b1, to: c, insulate: both}
  - {from: D1.b2, to: d, insulate: both}
feeds:
  - {to: [a, b, c, d], A: left, B: right}
  - {to: D1, A: outer-left, B: outer-right}
"""


def test_a_crossing_stands_in_every_position_of_what_changes_its_frogs():
    """By hand: K1 at one puts frog-a on outer-right, which is B, and frog-b on outer-left; at two the other way."""
    made = circuit(CROSSING)
    said = words(card_svg(made, "D1"))
    assert "always" not in said.partition("Test 2")[2]
    for one in (
        "FROM ABOVE: K1 at one", "FROM BELOW, mirrored: K1 at two", "K1 at one: D1.frog-a beeps to main.B alone",
        "K1 at two: D1.frog-a beeps to main.A alone", "K1 at two: D1.frog-b beeps to main.B alone",
    ):  # fmt: skip
        assert one in said
    rows = [row[2] for table in steps.steps(Cards(made)) for row in table.rows if row[2].startswith("D1, K1")]
    assert rows == [
        "D1, K1 at one, beeps: outer-left main.A, outer-right main.B, frog-a main.B, frog-b main.A",
        "D1, K1 at two, beeps: outer-left main.A, outer-right main.B, frog-a main.A, frog-b main.B",
    ]
    fixed = circuit(
        CROSSING.replace("diamond-live", "diamond-insulated").partition("switches:")[0] + "feeds: [{to: a}]\n"
    )
    assert [p.said for p in positions(fixed, fixed.layout.pieces["D1"])] == ["always"]


def test_a_crossing_of_more_positions_than_are_drawn_says_so():
    """Two switches in a row for each frog: 16 positions, of which a card has 8."""
    rows = []
    for frog, one, two in (("a", "right", "left"), ("b", "left", "right")):
        last = f"one: D1.outer-{one}, two: D1.outer-{two}"
        rows += [
            f"  P{frog}: {{positions: [one, two], contacts: {{c: {{common: D1.frog-{frog}, "
            f"one: Q{frog}.c.common, two: D1.outer-{two}}}}}}}",
            f"  Q{frog}: {{positions: [one, two], contacts: {{c: {{{last}}}}}}}",
        ]
    before, _, rest = CROSSING.partition("switches:\n")
    more = "\n".join([before + "switches:", *rows, "joints:" + rest.partition("joints:")[2]])
    made = circuit(more)
    assert len(positions(made, made.layout.pieces["D1"])) == 8
    said = words(card_svg(made, "D1"))
    assert "ONLY 8 OF 16 POSITIONS" in said
    assert "not every position is on this card" in said
    assert "in every position:" not in said
    assert any("ONLY 8 OF 16" in row[2] for table in steps.steps(Cards(made)) for row in table.rows)
    assert "ONLY" not in words(card_svg(circuit(CROSSING), "D1"))


def test_a_crossing_whose_tracks_are_set_is_in_the_order_of_work():
    rows = [row[2] for table in steps.steps(Cards(example("junction"))) for row in table.rows]
    assert [row.partition(": outer")[0] for row in rows if ": outer-left main" in row] == [
        "D1, track 1, M1 at diverging, with M2 at diverging, beeps",  # with M2 at through it is ruled out
        "D1, track 2, M2 at through, beeps",
    ]


PARTS = """
track: {a: {length: 1 m}, T3: {kind: isolated-metal-frog, hand: left}}
frog-units: {U3: {feeds: T3.frog}}
components:
  F1: {kind: %s, from: main.A, to: a.left, rating: %s}
joints: [{from: a, to: T3.toe}]
feeds: [{to: a, B: right}]
"""


@pytest.mark.parametrize(
    ("kind", "rating", "heading", "across"),
    [
        ("breaker", "2 A", "Circuit-breaker in a wire 2 A", "Closed, F1.from beeps to F1.to"),
        ("fuse", "500 mA", "Fuse in a wire 0.5 A", "Never put in a larger one."),
        ("diode", "3 A", "Diode, conducts from 1 to 2 3 A", "The ring on it is at F1.to."),
        ("resistor", "5 W", "Resistor in series in a wire 5 W", "It gets hot"),
        ("capacitor", "25 V", "Capacitor; nothing conducts 25 V", "It can hold charge"),
    ],
)
def test_cards_of_parts_in_a_wire(kind, rating, heading, across):
    made = circuit(PARTS % (kind, rating))
    assert {"F1", "U3", "T3"} <= set(cards(made.layout))
    said = words(card_svg(made, "F1"))
    for one in (heading, "main.A beeps to F1.from", "F1.to beeps to a.left", across):
        assert one in said
    unit = words(card_svg(made, "U3"))
    for one in ("Frog unit", "feeds T3.frog, fed from main", "U3.frog beeps to T3.frog", "on the card of T3"):
        assert one in unit
    listed = [row for table in materials.materials(made.layout, Cards(made).lines) for row in table.rows]
    unit_of = {"500 mA": "0.5 A"}.get(rating, rating)
    assert ("1", f"{kind}, {unit_of}", "F1") in listed


def test_the_table_of_a_contact_stands_on_one_sheet_with_its_symbol():
    for sheet in Cards(example("every-piece")).sheets("S1"):
        drawn = [g.get("data-contact") for g in ET.fromstring(sheet).iter(f"{SVG}g") if g.get("class") == "contact"]
        rows = [g.get("data-row") for g in ET.fromstring(sheet).iter(f"{SVG}g") if g.get("data-of") == "contact"]
        assert len(rows) == 3 * len(drawn)
        for name in drawn:
            assert sum(f"| {name}." in row for row in rows) == 3


def test_what_feeds_a_frog_wrongly_is_not_said_to_give_it_what_it_needs():
    """In this example the contact is wired the wrong way round."""
    said = list(OfPiece(Cards(example("sawmill-lever")), "T1").reasons())
    assert said[0].endswith("What feeds it as the layout is written is contact T1.frog.")
    assert said[1] == "So it does NOT get it at through, diverging: run 'netlister check' first."


def test_outputs_of_an_automatic_reverser_are_said_to_be_its_own():
    assert "A and B of rails that bridge feeds are its own outputs" in words(card_svg(example("every-piece"), "TT"))
    assert "its own outputs" not in words(card_svg(example("every-piece"), "H1"))


@pytest.mark.parametrize("name", EXAMPLES)
def test_cards_of_a_wiring_without_errors_find_no_fault_with_it(name):
    made = example(name)
    found = {finding.severity.label for finding in check(made.layout, causes=False).findings}
    if "error" in found:
        return
    sheets = Cards(made)
    for one in sheets.known:
        said = words(sheets.whole(one))
        for fault in (
            "does NOT get",
            "SHORT",
            "fewer than two insulated",
            "one rail is metal",
            *["? no colour"] * ("warning" not in found),
        ):
            assert fault not in said, one


def test_a_turntable_on_a_reverser_of_its_own():
    """Its roads are not of the section, its bridge needs no joiner, and the reverser sets its rails at every road."""
    made = Cards(example("every-piece"))
    said = words(made.whole("bridge"))
    assert "Pieces: TT. Its rails end at the gaps around TT, where no joiner is." in said
    assert "fewer than two insulated ends" not in said
    assert not any("NOT" in line for line in OfPiece(made, "TT").reasons())
    text = (ROOT / "examples" / "every-piece" / "layout.yaml").read_text()
    feed = "{to: TT, from: bridge, A: bridge-left, B: bridge-right}"
    assert feed in text
    fixed = build(read_layout(Source("layout.yaml", text.replace(feed, feed.replace("from: bridge", "from: shed")))))
    assert any("does NOT get it at s2" in line for line in OfPiece(Cards(fixed), "TT").reasons())


def test_a_large_table_is_drawn_once_at_each_track_and_read_in_every_position():
    roads = "".join(f"  r{k}: {{length: 300 mm}}\n" for k in range(1, 15))
    joints = "".join(f"  - {{from: r{k}, to: TT.s{k}}}\n" for k in range(1, 15))
    made = Cards(
        circuit(f"""
track:
  TT: {{kind: turntable, roads: 14}}
{roads}joints:
{joints}reversers: {{RV: {{from: main, mode: automatic}}}}
feeds: [{{to: [{", ".join(f"r{k}" for k in range(1, 15))}]}}, {{to: TT, from: RV, A: bridge-left, B: bridge-right}}]
""")
    )
    said = words(made.whole("TT"))
    for k in range(1, 15):
        assert f"FROM ABOVE: s{k}" in said
        assert f"FROM BELOW, mirrored: s{k}" in said
    assert "FROM ABOVE: s3-turned" not in said
    assert "14 of 28 positions; those with the bridge the other way round are in test 2" in said
    assert len(OfPiece(made, "TT").positions) == 28
    assert [said.count(f"s{k}: r{k}") for k in (1, 2, 9, 14)] == [28, 2, 2, 2]  # the first, and that at which it stands
    assert "bridge-left needs at each of its 28 positions the pole of the rail that it meets there." in said
    few = words(Cards(example("every-piece")).whole("TT"))
    assert "FROM ABOVE: s3-turned" in few


def test_the_legend_says_every_mark_that_is_drawn():
    said = words(card_svg(example("peat-railway-faulty"), "T3"))
    for one in ("frog", "plastic: no rail that conducts"):
        assert one in said
    assert "insulated joiner" not in said
    assert "insulated joiner" in words(card_svg(example("ferry"), "T1"))


@NEEDS_PDF
def test_cards_as_files(tmp_path):
    path = str(ROOT / "examples" / "ferry" / "layout.yaml")
    folder = tmp_path / "cards"
    done = CliRunner().invoke(group, ["card", path, "T1", "R1", "-o", str(folder)])
    assert done.exit_code == 0, done.output
    names = sorted(p.name for p in folder.iterdir())
    assert names[0] == "R1-1.svg"
    assert "T1-2.svg" in names
    book = tmp_path / "cards.pdf"
    done = CliRunner().invoke(group, ["card", path, "-o", str(book), "--board", "west"])
    assert done.exit_code == 0, done.output
    first = book.read_bytes()
    assert first.startswith(b"%PDF")
    CliRunner().invoke(group, ["card", path, "-o", str(book), "--board", "west"])
    assert book.read_bytes() == first


@pytest.mark.parametrize("make", [random_layout, random_gear])
@pytest.mark.parametrize("seed", range(30))
def test_poles_around_one_piece_are_those_of_the_whole(make, seed):
    made = build(read_layout(Source("layout.yaml", dump(make(Random(seed))))))
    local = LocalPoles(made)
    for state in states(made)[:8]:
        whole = rail_poles(made, state)
        for piece in made.layout.pieces:
            for terminal, poles in local.of(piece, state).items():
                assert poles == whole[terminal]


def test_no_pole_through_diodes_that_face_each_other():
    """By hand: both diodes conduct towards X.1, so nothing from 'a' reaches the stock rail of T1."""
    made = circuit(
        "track:\n  a: {length: 1 m}\n  T1: {kind: live-frog, hand: right}\n"
        "components:\n  D1: {kind: diode, from: a.left, to: X.1}\n  D2: {kind: diode, from: T1.stock-left, to: X.1}\n"
        "joints: [{from: a, to: T1.toe, insulate: left}]\nfeeds: [{to: a}]\n"
    )
    assert LocalPoles(made).of("T1", (0,)) == {"T1.stock-left": [], "T1.stock-right": ["main.B"], "T1.frog": ["main.B"]}


def test_sheets_of_tables():
    """Columns are as wide as their text where there is room, nothing overlaps, and a table that goes on says of what."""
    heads = ("wire", "goes to", "size")
    rows = [("C.M1.frog.diverging", "to-summit.left 600 mm from its end a", "0.5 mm2")] * 60
    columns = fitted(heads, rows, 400.0)
    assert sum(columns) == pytest.approx(400.0)
    assert columns[2] >= width("0.5 mm2", BODY) + GAP  # what is short stays in one line
    assert fitted(("a", "b"), [("x", "a name that is longer than half of the room")], 120.0)[0] < 40
    flow = Flow(Head("T1", "Turnout", "thrown by M1", "file 1", "DO NOT BUILD"))
    flow.heading("Wires")
    flow.table("wires", heads, rows)
    bodies = flow.bodies()
    assert len(bodies) > 1
    assert all("Wires (continued)" in body for body in bodies[1:])
    assert all(body.count(">DO NOT BUILD<") == 1 for body in bodies)
    assert sum(body.count("data-of") for body in bodies) == 60
    for left in range(1, 8):  # whatever is above it, no heading stands alone at the foot of a sheet
        flow = Flow(Head("T1", "Turnout", "thrown by M1", "file 1"))
        flow.y = LOW - left * LINE
        flow.heading("Joints")
        flow.table("joints", ("rail", "meets"), [("a.left", "b.left")])
        assert all("data-of" in body for body in flow.bodies() if ">Joints<" in body)


def rows_of(name):
    return [row[2] for table in steps.steps(Cards(example(name))) for row in table.rows]


def test_a_frog_on_the_wrong_pole_is_no_line_to_tick_as_if_it_were_right():
    """`sawmill-lever` has its contact the wrong way round; `sawmill` is the same layout, right."""
    for name, wrong in (("sawmill-lever", True), ("sawmill", False), ("terminus", False), ("every-piece", False)):
        assert any("WRONG" in row for row in rows_of(name)) == wrong
    assert "WRONG, it needs that of stock-right" in words(card_svg(example("sawmill-lever"), "T1"))
    assert "WRONG" not in words(card_svg(example("sawmill"), "T1"))


def test_what_is_never_set_is_said_where_it_matters():
    made = Cards(example("every-piece"))
    said = "NEVER MS1 at diverging together with MS2 at diverging"
    assert any(said in remark for remark in steps.remarks(made))
    assert said in words(made.whole("S1"))
    assert "NEVER" not in words(made.whole("X1"))


def test_rails_that_move_past_each_other_get_no_joiner():
    made = Cards(example("every-piece"))
    rows = rows_of("every-piece")
    assert any(row.startswith("west2/TR.a1: a gap, no joiner") for row in rows)
    insulated = sum(row.count(" | ") for row in rows if "INSULATED" in row)
    assert f"{insulated}" == next(
        r[0] for t in materials.materials(made.layout, made.lines) for r in t.rows if r[1] == "insulated rail joiner"
    )
    assert "gap, no joiner" in words(made.whole("TR"))
    assert "INSULATED" not in words(made.whole("TR"))


def test_supplies_are_tested_against_each_other_and_breakers_are_fitted():
    assert any("no two of" in row and "lights.A" in row for row in rows_of("ferry-districts"))
    assert any(row.startswith("town: its breaker of 3 A goes in here") for row in rows_of("ferry-districts"))
    assert "two supplies are never joined" in words(Cards(example("ferry-districts")).whole("town"))
    assert not any("no two of" in row for row in rows_of("one-frog"))


NEVER = """
track:
  a: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: right}
joints: [{from: a, to: T1.toe}]
feeds: [{to: [a, T2], A: left, B: right}]
never: [{T1: diverging, T2: through}]
"""


def test_no_card_shows_a_position_that_is_ruled_out():
    """T1 stands at diverging only while T2 does: the card of T1 says so, and no state on any card breaks the rule."""
    made = circuit(NEVER)
    said = [p.said for p in positions(made, made.layout.pieces["T1"])]
    assert said == ["through", "diverging, with T2 at diverging"]
    for name in ("T1", "T2"):
        for position in positions(made, made.layout.pieces[name]):
            assert not any(all(position.state[v] == x for v, x in cube) for cube in made.never)
    alone = circuit(NEVER.replace("{T1: diverging, T2: through}", "{T1: diverging}"))
    assert [p.said for p in positions(alone, alone.layout.pieces["T1"])] == ["through"]


MISTAKE = """
track:
  a: {length: 1 m}
  T1: {kind: copper-clad-live-frog, hand: right, foil-toe: missed}
joints: [{from: a, to: T1.toe}]
feeds: [{to: a}]
"""


def test_what_was_forgotten_is_no_work_and_what_the_kind_needs_is():
    """Of hand-built track every cut in the foil is work, though the layout names none; a missed one is no work."""
    made = Cards(circuit(MISTAKE))
    work, left = altered(made.layout, made.layout.pieces["T1"])
    assert [said.partition(" (")[0] for said in left] == ["foil-toe: NOT cut"]
    assert {said.partition(" (")[0] for said in work} == {
        f"{name}: cut"
        for name in ("foil-tie-bar", "foil-closure", "foil-frog-left", "foil-frog-right", "gap-left", "gap-right")
    }  # the seven cuts of the kind, by its sheet in parts/, without the one that was missed
    said = words(made.whole("T1"))
    assert "nothing to do, but look whether yours is so" in said
    rows = [row[2] for table in steps.steps(made) for row in table.rows]
    assert any(row.startswith("T1: look, nothing to do") and "foil-toe: NOT cut" in row for row in rows)


@pytest.mark.parametrize(("name", "piece"), [("every-piece", "S1"), ("every-piece", "S2"), ("every-piece", "X1")])
def test_metal_and_plastic_of_a_frog_lie_where_its_rails_cross(name, piece):
    """Every frog that is drawn has, under its mark, the rail or the plastic of that frog and no other."""
    made = example(name)
    of = Cards(made)
    drawing = CardDrawing(made, piece, of.poles)
    shown = positions(made, made.layout.pieces[piece], of.poles)[0]
    found = rail_runs(made, drawing.placed, shown.state, GAUGE)
    assert drawing.frogs
    for (x, y), _ in drawing.frogs:
        near = {run.rail for run in found for px, py in dots(run.line, 0.5) if (px - x) ** 2 + (py - y) ** 2 < 1.5**2}
        assert any(rail is None or rail.startswith("frog") for rail in near), (x, y)
        assert all(rail is None or rail.startswith("frog") for rail in near), (near, x, y)


def test_rails_of_one_name_are_not_drawn_upon_each_other():
    """Dashes over dashes look like no dashes in grey: nowhere do two runs of one rail lie upon each other for long."""
    made = example("every-piece")
    of = Cards(made)
    for piece in ("X1", "X3", "X5", "S1", "S2", "W1"):
        placed = CardDrawing(made, piece, of.poles).placed
        for position in positions(made, made.layout.pieces[piece], of.poles)[:2]:
            found = rail_runs(made, placed, position.state, GAUGE)
            for k, one in enumerate(found):
                for two in found[k + 1 :]:
                    if one.rail == two.rail:
                        mine, others = dots(one.line, 1.0), dots(two.line, 1.0)
                        close = sum(any((x - a) ** 2 + (y - b) ** 2 < 0.3**2 for a, b in others) for x, y in mine)
                        assert close <= 12, (piece, one.rail, close)


SIGNAL = """
track: {a: {length: 1 m}, T1: {kind: live-frog, hand: right}}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}%s}}
joints: [{from: a, to: T1.toe}]
feeds: [{to: a}]
wires: [{from: TB1.1, to: TB2.1}, {from: TB1.2, to: TB2.2}, {from: TB1.3, to: TB2.3}]
"""


def test_a_machine_whose_contact_is_on_no_other_card_has_one_itself():
    made = circuit(SIGNAL % ", signal: {common: TB1.1, through: TB1.2, diverging: TB1.3}")
    assert "M1" in cards(made.layout)
    assert "M1.signal.diverging" in words(card_svg(made, "M1"))
    assert "M1" not in cards(circuit(SIGNAL % "").layout)


def test_a_wire_that_comes_back_to_its_own_terminal_ends_no_card():
    """It joins nothing; a card must be made all the same."""
    said = SIGNAL % "" + "plugs: {J1: {pins: {1: [TB1.1, T1.frog]}}}\n"
    made = circuit(said.replace("{from: TB1.1, to: TB2.1}", "{from: TB1.1, to: TB1.1}, {from: TB1.1, to: TB2.1}"))
    assert "W.TB1.1/TB1.1" in words(card_svg(made, "T1"))


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("insulated-frog, jumpers: true", ["closure-left to stock-left", "closure-right to stock-right"]),
        ("live-frog, jumpers: true, links: cut", ["stock-left to the blade", "stock-right to the blade"]),
        ("live-frog, jumpers: true, closure-rails: cut", ["stock-left to the blade", "stock-right to the blade"]),
        ("live-frog, links: cut", []),
    ],
)
def test_jumpers_say_from_where_to_where(kind, said):
    """On the card and in the order of work; two jumpers a turnout (practice: from each stock rail to its blade)."""
    made = Cards(circuit(f"track: {{a: {{length: 1 m}}, T1: {{kind: {kind}, hand: left}}}}\n"
                         "joints: [{from: a, to: T1.toe}]\nfeeds: [{to: a}]\n"))  # fmt: skip
    rows = [row[2] for table in steps.steps(made) for row in table.rows]
    card = words(made.whole("T1"))
    for one in said:
        assert f"solder a jumper: {one}" in card
        assert sum(f"T1: solder a jumper: {one}" in row for row in rows) == 1
    assert card.count("solder a jumper") == len(said)
