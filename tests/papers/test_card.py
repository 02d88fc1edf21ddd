"""Wiring cards: poles in each position, from above and from below, as altered; nothing cut off, nothing too small."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections import Counter
from random import Random

import pytest
from click.testing import CliRunner

from netlister.circuit.build import build
from netlister.circuit.states import rail_poles
from netlister.cli.main import group
from netlister.draw.text import width
from netlister.layout.read import read_layout
from netlister.papers.card import CardError, Cards, card_sheets, card_svg, cards
from netlister.papers.card_drawing import positions
from netlister.papers.local_poles import LocalPoles
from netlister.papers.sheets import BODY, GAP, Flow, Head, broken, fitted
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
        "b: a1, a: b1",
        "b: a1, a: b2",
        "b: a2, a: b1",
        "b: a2, a: b2",
    ]
    assert [p.said for p in positions(made, pieces["D2"])] == ["track 1: K2 at first", "track 2: K2 at second"]
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
    with pytest.raises(CardError, match="is a machine"):
        card_sheets(made, "M1")


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
