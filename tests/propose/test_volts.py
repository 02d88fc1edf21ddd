"""Feeders for volts: held against the rules on volts, and each of them against leaving it out."""

from __future__ import annotations

import pytest

from netlister.check import check
from netlister.edits.gear import ThickenWire
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
        solved = Solved(resistors.of(state, dict.fromkeys(plain.get("reversers", {}), "A")), resistors.real_poles)
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


LINE = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}}
buses: {main: {supply: main, wire: 2.5 mm2, length: 4 m}}
rail: 100 mohm/m
track: {line: {length: 3 m}, far: {length: 6 m}}
joints: [{from: line, to: far, insulate: both}]
"""
HALF = Wire("0.5 mm2", parse_wire("0.5 mm2")[1], parse_wire("0.5 mm2")[0], 0.25)


def test_feeders_that_help_only_two_at_once_are_found():
    """After one feeder in the balance both sides of it must be shortened; one more alone gains next to nothing."""
    found = propose(read(LINE), Source("layout.yaml", LINE), volts=True, wire=HALF)
    assert found.right, [f.message for f in found.left]
    assert worst_share(found.text) <= 0.05 * (1 + 1e-6)
    more = [c.feed for c, _ in found.design.changes if isinstance(c, AddFeed) and c.feed.at is not None]
    assert len({(feed.piece, feed.at) for feed in more}) == len(more)


def test_a_bus_that_is_too_thin_is_made_thicker():
    text = LINE.replace("2.5 mm2", "0.2 mm2")
    assert any(f.rule == "wire-load" for f in check(read(text), select=RULES, causes=False).findings)
    found = propose(read(text), Source("layout.yaml", text), volts=True, wire=HALF)
    assert found.right, [f.message for f in found.left]
    assert "0.2 mm2" not in found.text
    assert worst_share(found.text) <= 0.05 * (1 + 1e-6)


THIN = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}}
buses: {main: {supply: main, wire: 2.5 mm2, length: 6 m}}
rail: 76 mohm/m
track:
  line: {length: 400 mm}
  quay: {length: 300 mm}
joints:
  - {from: line, to: quay}
feeds:
  - {to: [line, quay], tap: 1 m, wire: SIZE, length: LENGTH}   # was at hand
"""


@pytest.mark.parametrize(("size", "length"), [("0.05 mm2", "500 mm"), ("0.75 mm2", "9 m"), ("AWG 28", "1 m")])
def test_a_thin_feed_that_is_there_is_made_thicker_before_any_is_added(size, length):
    """No wire more is the least there can be; the next thinner size would not do, by a plain solution of the network."""
    text = THIN.replace("SIZE", size).replace("LENGTH", length)
    found = propose(read(text), Source("layout.yaml", text), volts=True, wire=HALF)
    assert found.right, [f.message for f in found.left]
    assert found.cost == found.bound == 0
    assert worst_share(found.text) <= 0.05 * (1 + 1e-6)
    made = next(c.wire.text for c, _ in found.design.changes if isinstance(c, ThickenWire))
    assert found.text == text.replace(size, made)
    sizes = ["0.5 mm2", "0.75 mm2", "1 mm2", "1.5 mm2", "2.5 mm2", "4 mm2", "6 mm2"]
    thinner = text.replace(size, [size, *sizes][sizes.index(made)])
    alone = {f.rule for f in check(read(thinner), select=RULES, causes=False).findings}
    assert "wire-load" in alone or worst_share(thinner) > 0.05


def test_a_feed_too_thin_where_more_feeders_are_needed_is_made_thicker_too():
    text = LINE + "feeds:\n  - {to: line, tap: 0 m, wire: 0.05 mm2, length: 3 m}\n"
    found = propose(read(text), Source("layout.yaml", text), volts=True, wire=HALF)
    assert found.right, [f.message for f in found.left]
    assert "0.05 mm2" not in found.text
    assert worst_share(found.text) <= 0.05 * (1 + 1e-6)
