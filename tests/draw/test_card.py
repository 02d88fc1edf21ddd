"""Wiring cards: poles in each position, every wire, all of it on the sheet."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from netlister.draw.card import CardError, card_svg, cards, positions
from netlister.outputs.poles import rail_poles
from tests.draw.support import EXAMPLES, circuit, example

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg):
    return [t.text or "" for t in ET.fromstring(svg).iter(f"{SVG}text")]


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_card_of_every_example(name):
    made = example(name)
    for one in cards(made.layout):
        svg = card_svg(made, one)
        root = ET.fromstring(svg)
        assert (root.get("width"), root.get("height")) == ("210mm", "148mm")  # A5 by ISO 216
        _, _, wide, high = (float(v) for v in root.get("viewBox").split())
        assert wide / high == pytest.approx(210 / 148, rel=1e-3)
        for text in root.findall(f"{SVG}text"):
            assert 0 <= float(text.get("x")) <= wide
            assert 0 <= float(text.get("y")) <= high
        said = " ".join(texts(svg))
        for word in ("Why", "Measure", "Caution", "unplugged", "licensed", "Solder"):
            assert word in said
        assert not re.search(r"<script|\son\w+=|url\(|href", svg)


@pytest.mark.parametrize("name", EXAMPLES)
def test_the_poles_of_a_card_are_those_of_the_state(name):
    made = example(name)
    letters = {p.name: f"pole-{p.letter}" for p in made.poles}
    for one in cards(made.layout):
        piece = made.layout.pieces.get(one)
        if piece is None or piece.kind.gaps:
            continue
        shown = positions(made, piece)[:6]
        root = ET.fromstring(card_svg(made, one))
        groups = [g for g in root.findall(f"{SVG}g") if any("rail" in (p.get("class") or "").split() for p in g)]
        assert len(groups) == len(shown)
        for group, position in zip(groups, shown, strict=True):
            poles = rail_poles(made, position.state)
            for path in group.findall(f"{SVG}path"):
                if path.get("data-rail"):
                    has = poles[path.get("data-rail")]
                    wanted = (
                        "pole-none" if not has else "pole-both" if len(has) > 1 else letters.get(has[0], "pole-unit")
                    )
                    assert wanted in path.get("class").split()


def test_a_turnout_tells_its_wires():
    said = texts(card_svg(example("ferry"), "T1"))
    assert "Contact M1.frog" in said
    assert "through: T1.stock-left" in said
    assert "diverging: T1.stock-right" in said
    assert "common: T1.frog" in said
    assert {"main-west.left", "goods.left", "goods.right"} <= set(said)


def test_colours_of_wires_are_those_of_iec_60757():
    """IEC 60757: BN brown, WH white."""
    said = texts(card_svg(example("terminus"), "T2"))
    assert {"BN brown", "WH white"} <= set(said)


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


def test_a_reverser_that_follows_tells_when_it_crosses():
    text = """
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, follows: M1, straight: [left]}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds: [{to: line}, {to: loop, from: R1}]
"""
    said = texts(card_svg(circuit(text), "R1"))
    assert "straight: M1 at left" in said
    assert "crossed: M1 at right" in said
    assert any("Insulate both rails" in line for line in said)


def test_what_has_no_card_is_said():
    made = example("ferry")
    with pytest.raises(CardError, match="plain track"):
        card_svg(made, "quay")
    with pytest.raises(CardError, match="did you mean 'T1'"):
        card_svg(made, "t1")
