"""Feeders for volts: held against the rules on volts, and each of them against leaving it out."""

from __future__ import annotations

from netlister.check import check
from netlister.edits.model import AddFeed, apply
from netlister.layout.model import Wire
from netlister.layout.read import read_layout
from netlister.propose.search import propose
from netlister.propose.volts import RULES
from netlister.quantity import parse_wire
from netlister.source import Source
from tests.properties.reference import load
from tests.volts.compare import loops
from tests.volts.reference import Resistors, Solved

LONG = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}}
buses: {main: {supply: main, wire: 1.5 mm2, length: 6 m}}
rail: 206 mohm/m
track:
  west: {length: 2 m}
  T1: {kind: live-frog, hand: left}
  quay: {length: 2 m}
  yard: {length: 600 mm}
joints:
  - {from: west, to: T1.toe}
  - {from: T1.through, to: quay}
  - {from: T1.diverging, to: yard}
"""


def read(text):
    return read_layout(Source("layout.yaml", text))


def worst_share(text):
    """The greatest share of 15 V lost at 3 A, by a plain dense solution of every state, at eight places a piece."""
    plain = load(text)
    bare = Resistors(plain)
    splits = {
        piece: {bare.length(piece) * i / 7 for i in range(8)} for piece in bare.layout.pieces
        if bare.layout.is_section(piece)
    }  # fmt: skip
    resistors = Resistors(plain, splits)
    worst = 0.0
    for state in resistors.layout.states:
        solved = Solved(resistors.of(state, {}), resistors.real_poles)
        for piece in resistors.layout.pieces:
            for _, loop in loops(resistors, solved, piece, state):
                worst = max(worst, loop * 3 / 15)
    return worst


def test_feeders_are_added_until_volts_and_breakers_hold():
    area, ohm = parse_wire("0.5 mm2")
    wire = Wire("0.5 mm2", ohm, area, 0.25)
    plain = propose(read(LONG), Source("layout.yaml", LONG), aim="no-blades", wire=wire)
    assert plain.right
    assert worst_share(plain.text) > 0.05
    found = propose(read(LONG), Source("layout.yaml", LONG), volts=True, wire=wire)
    assert found.right
    assert found.bound < found.cost
    assert not check(read(found.text), select=RULES).findings
    assert 0.03 < worst_share(found.text) <= 0.05 * (1 + 1e-6)
    more = [c for c, _ in found.design.changes if isinstance(c, AddFeed) and c.feed.at is not None]
    assert more
    for one in more:  # each is needed
        rest = tuple(change for change, _ in found.design.changes if change is not one)
        assert check(apply(rest, read(LONG)), select=RULES, causes=False).findings


def test_what_no_feeder_mends_is_said_and_not_called_right():
    """A supply whose own resistance keeps a short below its trip current: no wire helps."""
    text = LONG.replace("50 mohm", "5 ohm")
    found = propose(read(text), Source("layout.yaml", text), volts=True)
    assert not found.right
    assert any(f.rule == "weak-short" for f in found.left)
