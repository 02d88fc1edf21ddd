"""Each card rewired from its own tables alone, as printed, gives the circuit of its piece.

The circuit of a piece: what its rails are joined to by its own metal, by wires, contacts, components and plugs, up to a
pole, a rail of another piece, or a free junction that always carries a pole.
"""

from __future__ import annotations

import os
import re
import xml.etree.ElementTree as ET
from collections import defaultdict
from random import Random

import pytest

from netlister.circuit.build import build
from netlister.circuit.model import holds
from netlister.layout.read import read_layout
from netlister.papers.card import Cards
from netlister.source import Source
from tests.draw.support import EXAMPLES, circuit, example
from tests.papers.rebuild import halves, position_of
from tests.papers.test_schedule import states
from tests.papers.variants import KINDS, variants, wired
from tests.properties.gear import random_gear
from tests.properties.layouts import dump, random_layout

LONG = bool(os.environ.get("NETLISTER_LONG"))
SEEDS, STEP, STATES = (120, 1, 12) if LONG else (24, 2, 4)

SVG = "{http://www.w3.org/2000/svg}"


def printed(svg):
    """The rows of the tables of a card by table, checked against the text that is printed."""
    found = defaultdict(list)
    for row in ET.fromstring(svg).iter(f"{SVG}g"):
        if row.get("class") == "row":
            text = "".join(t.text or "" for t in row.iter(f"{SVG}text"))
            assert text.replace(" ", "") == row.get("data-row").replace(" | ", "").replace(" ", "")
            found[row.get("data-of")].append(row.get("data-row").split(" | "))
    return found


def terminal(cell):
    """A terminal without what is said of its place."""
    return re.sub(r" (\(|\[|[\d.e+-]+ mm from ).*$", "", cell)


def reach(near, start, ends):
    """The ends that a terminal is joined to, going through none of them."""
    seen, stack, found = {start}, [start], set()
    while stack:
        for other in near[stack.pop()]:
            if other not in seen:
                seen.add(other)
                if other in ends:
                    found.add(other)
                else:
                    stack.append(other)
    return found


def graph(pairs):
    near = defaultdict(set)
    for a, b in pairs:
        near[a].add(b)
        near[b].add(a)
    return near


class Whole:
    """The circuit of a layout, ready to be asked for that of a piece."""

    def __init__(self, made):
        self.made = made
        layout = made.layout
        self.poles = {p.name for p in made.poles} | {o for r in layout.reversers.values() for o in r.outputs}
        self.rails = {made.names[n] for n in made.rails}
        own = {
            f"{c.owner}.{c.name}.{p}" for c in layout.contacts for p in ("common", *(place for place, _ in c.throws))
        }
        near = graph(
            (made.names[c.a], made.names[c.b])
            for c in made.conductors
            if not c.when and c.what in {"feed", "wire", "component", "plug"}
        )
        carrying, stack = set(), list(self.poles)
        while stack:
            for other in near[stack.pop()]:
                if other not in carrying and other not in self.poles | self.rails:
                    carrying.add(other)
                    stack.append(other)
        self.strips = {n for n in carrying if n not in own}

    def of(self, piece, state):
        """Per rail of a piece what it is joined to in a state."""
        made = self.made
        pairs = []
        for c in made.conductors:
            foreign = c.what == "joiner" or (c.what in {"bond", "blade"} and c.owner != piece)
            if not foreign and holds(c.when, state):
                pairs.append((made.names[c.a], made.names[c.b]))
        own = {n for n in self.rails if n.startswith(f"{piece}.")}
        ends = self.poles | (self.rails - own) | self.strips
        near = graph(pairs)
        return {rail: reach(near, rail, ends) | (joined(near, rail, ends) & own) for rail in own}, ends


def joined(near, start, ends):
    """Everything that a terminal is joined to without going through an end."""
    seen, stack = {start}, [start]
    while stack:
        here = stack.pop()
        if here in ends:
            continue
        for other in near[here]:
            if other not in seen:
                seen.add(other)
                stack.append(other)
    return seen


def rewired(made, piece, tables, state, ends):
    """The same from the tables of the card alone. Only the names of poles are looked up in the layout."""
    layout = made.layout
    canonical = {}
    for source in (*layout.supplies.values(), *layout.buses.values()):
        canonical |= {f"{source.name}.{letter}": pole for letter, pole in zip("AB", source.poles, strict=True)}
    pairs = []
    for name, *both, _colour, _size, _length, _tap in tables["wires"]:
        one, other = (terminal(cell) for cell in both)
        if name.startswith("P."):
            half = int(name[-1])
            one, other = (
                halves(layout, made, state, t, half) if "(half" in cell else t
                for t, cell in zip((one, other), both, strict=True)
            )
        pairs.append((canonical.get(one, one), canonical.get(other, other)))
    for place, own, when, *_ in tables["contact"]:
        if place == "common" and when == "always":
            continue
        variable, _, positions = when.partition(" at ")
        if position_of(layout, made, state, variable) in positions.split(" or "):
            pairs.append((own.rpartition(".")[0] + ".common", own))
    for a, b, when in tables["metal"]:
        for choice in when.split("; "):
            conditions = [c.split(" at ") for c in choice.split(" and ")] if choice != "always" else []
            if all(position_of(layout, made, state, bar) == at for bar, at in conditions):
                pairs.append((a, b))
    for _, kind, a, b, _ in tables["components"]:
        if kind not in {"load", "capacitor"}:
            pairs.append((a, b))
    own = {f"{piece}.{rail}" for rail in layout.pieces[piece].kind.rails}
    near = graph(pairs)
    return {rail: reach(near, rail, ends) | (joined(near, rail, ends) & own) for rail in own}


def differences(made, most=10):
    whole, cards = Whole(made), Cards(made)
    for name in cards.known:
        if name not in made.layout.pieces:
            continue
        tables = printed(cards.whole(name))
        for state in states(made)[:most]:
            wanted, ends = whole.of(name, state)
            found = rewired(made, name, tables, state, ends)
            if wanted != found:
                yield name, state, wanted, found
                break


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_card_of_every_example_rewired(name):
    assert list(differences(example(name), 40 if name != "every-piece" else 6)) == []


@pytest.mark.parametrize("make", [random_layout, random_gear])
@pytest.mark.parametrize("seed", range(SEEDS))
def test_and_of_random_layouts(make, seed):
    assert list(differences(build(read_layout(Source("layout.yaml", dump(make(Random(seed)))))))) == []


STRIPS = """
buses:
  west: {supply: main, colours: {A: BN, B: BU}, breaker: 2 A}
  east: {supply: main, colours: {A: RD, B: BK}, breaker: 2 A}
track:
  a: {length: 1 m}
  b: {length: 1 m}
  c: {length: 1 m}
  T1: {kind: live-frog, hand: right, jumpers: true, links: cut}
  T2: {kind: live-frog, hand: right, jumpers: true, closure-rails: cut}
  T3: {kind: insulated-frog, hand: left, jumpers: true}
machines:
  M1: {throws: [T1], contacts: {frog: {common: TB1.1, through: TB1.2, diverging: TB1.3}}}
  M2: {throws: [T2], contacts: {frog: {common: P1X.1, through: east.B, diverging: east.A}}}
wires:
  - {from: TB1.1, to: TB2.1, colour: GN, wire: 0.5 mm2, length: 300 mm}
  - {from: TB2.1, to: T1.frog, id: frog-1}
  - {from: west.B, to: TB1.2}
  - {from: west.A, to: TB1.3}
plugs: {J1: {pins: {1: [P1X.1, T2.frog]}}}
joints:
  - {from: a, to: T1.toe}
  - {from: T1.through, to: b, insulate: both}
  - {from: T1.diverging, to: T3.toe, insulate: both}
  - {from: b, to: T2.toe, insulate: both}
  - {from: T2.through, to: c, insulate: both}
feeds:
  - {to: [a, T1], from: west}
  - {to: [b, T2, T3, c], from: east, tap: 1 m, wire: 0.5 mm2, length: 200 mm}
"""


def test_altered_pieces_over_strips_and_plugs_in_two_districts():
    made = circuit(STRIPS)
    assert list(differences(made, 64)) == []
    cards = Cards(made)
    one, two = printed(cards.whole("T1")), printed(cards.whole("T2"))
    assert {row[0] for row in one["wires"]} >= {"frog-1", "W.TB1.1/TB2.1", "C.M1.frog.common", "W.west.B/TB1.2"}
    assert next([r[0], r[3]] for r in one["wires"] if r[0] == "C.M1.frog.common") == ["C.M1.frog.common", "GN green"]
    colours = {row[3] for row in two["wires"]}
    assert {"RD red", "BK black"} <= colours
    assert not {"BN brown", "BU blue"} & colours  # those of the other district
    assert "BN brown" in {row[3] for row in one["wires"]}
    assert not {"RD red", "BK black"} & {row[3] for row in one["wires"]}
    feed = next(row for row in two["wires"] if row[0] == "F.T2.stock-left")
    assert feed == ["F.T2.stock-left", "T2.stock-left", "east.A", "RD red", "0.5 mm2", "200 mm", "1000 mm"]


def test_a_card_with_one_wire_too_few_is_noticed():
    """The comparison can fail: without any one of the wires that its frog needs it does."""
    made = circuit(STRIPS)
    whole, tables = Whole(made), printed(Cards(made).whole("T1"))
    for left_out in ("frog-1", "W.TB1.1/TB2.1", "C.M1.frog.common", "C.M1.frog.through"):
        fewer = defaultdict(list, tables)
        fewer["wires"] = [row for row in tables["wires"] if row[0] != left_out]
        found = []
        for state in states(made):
            wanted, ends = whole.of("T1", state)
            found.append(wanted != rewired(made, "T1", fewer, state, ends))
        assert any(found)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_with_every_hand_and_option_wired_at_random(kind):
    """Contacts, strips, plugs, units, parts in a wire, districts, reversers: right or wrong, the card says what is."""
    for number, (hand, options) in enumerate(variants(kind)[::STEP]):
        made = wired(kind, hand, options, number)
        assert list(differences(made, STATES)) == [], (hand, options, number)
