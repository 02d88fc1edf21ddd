"""Drawings on cards, read back as someone with an iron reads them: sides, joiners, gaps, cuts, wires.

Nothing here asks what drew them: lines are parsed out of the SVG and compared with the layout's own entries and with
tables typed by hand.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from itertools import pairwise
from math import hypot

import pytest

from netlister.draw.bent import single_piece
from netlister.draw.placing import GAUGE
from netlister.papers.card import Cards
from netlister.papers.positions import positions
from tests.draw.support import EXAMPLES, circuit, example
from tests.papers.test_card import SVG, drawn_points
from tests.papers.variants import KINDS, variants, wired


def drawings(of, name):
    """Each drawing of a piece: whether it is from below, its rails by terminal as points, and its group."""
    for group in ET.fromstring(of.whole(name)).iter(f"{SVG}g"):
        if group.get("class") in {"above", "below"}:
            below = group.get("class") == "below"
            rails = {}
            for path in group.iter(f"{SVG}path"):
                if path.get("data-rail"):
                    points = drawn_points(path.get("d"), -1 if below else 1)  # as it is seen; y points down
                    rails.setdefault(path.get("data-rail"), []).extend(points)
            yield below, rails, group


def centre(path):
    """The middle of a path of two points, y as in the file."""
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", path.get("d"))]
    return (numbers[0] + numbers[2]) / 2, (numbers[1] + numbers[3]) / 2


def nearest(points, spot):
    return min(points, key=lambda p: hypot(p[0] - spot[0], p[1] - spot[1]))


def faults(made, name):
    """What is drawn on the wrong side, or with another number of joiners than the layout says."""
    piece, placed = made.layout.pieces[name], single_piece(made.layout, name)
    insulated = [
        (end, pair[own].removeprefix(f"{name}."))
        for joint in made.layout.joints
        for own, (owner, end) in enumerate((joint.start, joint.end))
        if owner == name
        for pair in joint.pairs
        if pair[2]
    ]
    for below, rails, group in drawings(Cards(made), name):
        flip = -1 if below else 1
        spots = {end: (x, -y * flip) for end, (x, y) in placed.ends.items()}
        for end, (x, y) in spots.items():
            left, right = (
                nearest(rails[f"{name}.{rail}"], (x, y))
                for rail in (piece.kind.ends[end].left, piece.kind.ends[end].right)
            )
            # left and right are seen looking forward, to the right of the sheet: left is above, from below it is below
            if not (right[1] - left[1]) * flip > GAUGE / 2:
                yield end, "left and right", below
            if any(hypot(px - x, py - y) > GAUGE for px, py in (left, right)):
                yield end, "its rails do not reach it", below
        marks = [
            centre(cut)
            for joint in group.iter(f"{SVG}g")
            if joint.get("class") == "joint"
            for cut in joint.iter(f"{SVG}path")
            if cut.get("class") == "cut"
        ]
        marks = [(x, y * flip) for x, y in marks]
        if len(marks) != len(insulated):
            yield len(marks), "joiners drawn", len(insulated)
        for end, rail in insulated:
            spot = nearest(rails[f"{name}.{rail}"], spots[end])
            if not any(hypot(spot[0] - x, spot[1] - y) < 8 for x, y in marks):
                yield end, rail, "its joiner is not drawn there"


@pytest.mark.parametrize("name", EXAMPLES)
def test_left_is_left_and_joiners_are_on_their_rails(name):
    """From above the left rail of every end is above the right one, from below it is below; joiners are at their rails."""
    made = example(name)
    for piece in made.layout.pieces.values():
        if (piece.kind.bars or len(piece.kind.ends) > 2) and not piece.kind.gaps and piece.kind.name != "catch-turnout":
            assert list(faults(made, piece.name)) == [], piece.name


@pytest.mark.parametrize("kind", [k for k in KINDS if k != "catch-turnout" and not k.startswith(("trav", "turnt"))])
def test_and_of_every_kind_hand_and_option(kind):
    for number, (hand, options) in enumerate(variants(kind)[::3]):
        assert list(faults(wired(kind, hand, options, number), "P")) == [], (hand, options)


# gaps inside a piece: practice, table of constructions (common practice, no published source); a metal frog between gaps
# on all its four rails; bonded blades end before the frog in both closure rails; what is one piece of metal has none
INNER = [
    ("live-frog", {}, 0, 0),
    ("live-frog", {"links": "cut"}, 0, 2),
    ("live-frog", {"closure-rails": "cut"}, 0, 2),
    ("live-frog", {"links": "cut", "jumpers": "true"}, 0, 2),
    ("live-frog", {"closure-rails": "cut", "jumpers": "true"}, 0, 2),
    ("live-frog-bonded", {}, 2, 0),
    ("live-frog-bonded", {"links": "left-in"}, 0, 0),
    ("copper-clad-live-frog", {}, 2, 0),
    ("single-blade-live", {}, 0, 0),
    ("insulated-frog", {}, 0, 0),
    ("insulated-frog", {"jumpers": "true"}, 0, 0),
    ("isolated-metal-frog", {}, 4, 0),
]


@pytest.mark.parametrize("hand", ["left", "right", "wye"])
@pytest.mark.parametrize(("kind", "options", "inner", "cut"), INNER)
def test_nothing_is_drawn_as_cut_that_is_whole(kind, options, inner, cut, hand):
    """A gap that is drawn where none is would be sawn."""
    given = "".join(f", {key}: {value}" for key, value in options.items())
    made = circuit(f"track: {{a: {{length: 1 m}}, T1: {{kind: {kind}, hand: {hand}{given}}}}}\n"
                   "joints: [{from: a, to: T1.toe}]\nfeeds: [{to: a}]\n")  # fmt: skip
    for _, _, group in drawings(Cards(made), "T1"):
        classes = [g.get("class") for g in group.iter(f"{SVG}g")]
        assert (classes.count("inner-gap"), classes.count("cut-closure")) == (inner, cut)


def test_a_blade_cut_from_its_frog_has_not_the_pole_of_the_frog():
    """Links cut, no jumper: the closed blade touches its stock rail, the open one has no pole at all."""
    made = circuit("""
track: {a: {length: 1 m}, T1: {kind: live-frog, hand: right, links: cut}}
machines: {M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}}
joints: [{from: a, to: T1.toe}]
feeds: [{to: a}]
""")
    for _, rails, group in drawings(Cards(made), "T1"):
        loose = [p for p in group.iter(f"{SVG}path") if p.get("class") == "rail pole-none"]
        assert len(loose) == 1
        tip = nearest(rails["T1.stock-left"], (0.0, 0.0))
        assert min(x for x, _ in rails["T1.frog"]) > tip[0] + 3 * GAUGE  # the frog begins beyond the cuts


@pytest.mark.parametrize("name", EXAMPLES)
def test_a_wire_is_drawn_at_one_place_upon_its_rail_alone(name):
    """In every position the same dot, on the rail of the feed, and not where a blade or another rail could be meant."""
    made = example(name)
    of = Cards(made)
    for piece in made.layout.pieces.values():
        feeds = [terminal for feed in made.layout.feeds if feed.piece == piece.name for _, terminal in feed.wires]
        if not feeds or piece.name not in of.known or piece.kind.gaps:
            continue
        seen = {}
        for below, rails, group in drawings(of, piece.name):
            flip = -1 if below else 1
            dots = [
                c for g in group.iter(f"{SVG}g") if g.get("class") == "feed" for c in g if c.get("class") == "solid"
            ]
            squares = [
                c for g in group.iter(f"{SVG}g") if g.get("class") == "feed" for c in g if c.tag.endswith("rect")
            ]
            assert len(dots) + len(squares) == len(feeds)
            spots = [(float(c.get("cx")), float(c.get("cy")) * flip) for c in dots]
            assert seen.setdefault(below, spots) == spots
            for x, y in spots:
                far = {
                    rail: min(hypot(px - x, py - y) for px, py in points) for rail, points in rails.items() if points
                }
                assert min(far, key=far.get) in feeds
                assert sum(distance < 3 for distance in far.values()) == 1
        assert len(positions(made, piece)) * 2 == len(list(drawings(of, piece.name)))


def misled(of, name):
    """Lines from names that pass through the ring of a feed wire or lie along another rail, and what is named in a pit."""
    for below, rails, group in drawings(of, name):
        flip = -1 if below else 1
        rings = [
            (float(c.get("cx")), float(c.get("cy")) * flip)
            for g in group.iter(f"{SVG}g")
            if g.get("class") == "feed"
            for c in g.iter(f"{SVG}circle")
            if c.get("class") == "mark"
        ]
        parts = list(group)
        pits = [
            (float(c.get("cx")), float(c.get("cy")) * flip, float(c.get("r")))
            for c in group.iter(f"{SVG}circle")
            if c.get("class") == "pit"
        ]
        for text in group.iter(f"{SVG}text"):
            x, y, spots = float(text.get("x")), float(text.get("y")), rails.get(text.get("data-for"), ())
            for cx, cy, r in pits:
                if hypot(x - cx, y - cy) < r * 0.7 and all(hypot(px - cx, py - cy) > r - 1 for px, py in spots):
                    yield name, below, text.text, "in the pit"
        for line, text in pairwise(parts):
            if line.get("class") != "lead" or text.get("data-for") not in rails:
                continue
            points = list(drawn_points(line.get("d"), 1))
            if any(hypot(x - rx, y - ry) < 2.4 for x, y in points for rx, ry in rings):
                yield name, below, text.text, "through a feed wire"
            others = [spot for rail, spots in rails.items() if rail != text.get("data-for") for spot in spots]
            on = sum(any(hypot(x - px, y - py) < 1.5 for px, py in others) for x, y in points)
            if on > 24:
                yield name, below, text.text, "along another rail", on


@pytest.mark.parametrize(
    ("layout", "piece"),
    [
        ("terminus", "T13"),
        ("terminus", "T18"),
        ("terminus", "W1"),
        ("every-piece-mistakes", "TT"),
    ],
)
def test_a_line_from_a_name_leads_to_nothing_else(layout, piece):
    """Through the ring of a feed wire it would name the wire's rail; along another rail it would name that.

    And a name in the pit of a turntable, of a rail that ends at its edge, would name the bridge.
    """
    assert list(misled(Cards(example(layout)), piece)) == []
