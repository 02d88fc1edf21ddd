"""Whole layouts, read right: the examples of the format, and what each of their entries comes to."""

from __future__ import annotations

import pytest

from tests.unit.layout.support import read

SIDING = """\
format: netlister/1
title: Goods siding off a branch
supplies:
  main: {type: dcc, voltage: 15 V, trip: 3 A, resistance: 50 mohm}
buses:
  main: {supply: main, wire: 2.5 mm2, length: 6 m, colours: {A: BN, B: BU}}
track:
  approach: {length: 600 mm}                 # kind: rail-section is the default
  branch:   {length: 900 mm}
  siding:   {length: 450 mm}
  T1:       {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints:
  - {from: approach,     to: T1.toe}
  - {from: T1.through,   to: branch, insulate: vee}
  - {from: T1.diverging, to: siding, insulate: vee}
feeds:
  - {to: [approach, siding], A: left, B: right}
  - {to: branch, A: left, B: right, at: 450 mm, tap: 2 m, wire: 0.5 mm2, length: 250 mm}
"""

CROSSOVER = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  north-west: {length: 800 mm}
  north-east: {length: 800 mm}
  south-west: {length: 800 mm}
  south-east: {length: 800 mm}
  T1: {kind: live-frog, hand: right}         # toe to the west, on the north track
  T2: {kind: live-frog, hand: right}         # toe to the east, on the south track
machines:
  M1: {throws: [T1, T2], contacts: {f1: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}, f2: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}}}
joints:
  - {from: north-west, to: T1.toe}
  - {from: T1.through, to: north-east, insulate: vee}
  - {from: south-east, to: T2.toe}           # south-east runs from its a in the east to its b in the west
  - {from: T2.through, to: south-west, insulate: vee}
  - {from: T1.diverging, to: T2.diverging, insulate: both}
feeds:
  - {to: [north-west, north-east], A: left, B: right}
  - {to: [south-east, south-west], A: right, B: left}    # seen the other way round: the same rail, north, has pole A
"""

LOOP = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  line: {length: 2 m}
  loop: {radius: 450 mm, angle: 300 deg, turn: left}
  T1: {kind: live-frog-bonded, hand: wye}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, left: T1.stock-right, right: T1.stock-left}}}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.right, to: loop, insulate: both}
  - {from: loop, to: T1.left, insulate: both}
feeds:
  - {to: line}
  - {to: loop, from: R1}
"""

CABS = """\
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}
track:
  west: {length: 1 m}
  middle: {length: 1 m}
  east: {length: 1 m}
switches:
  S1: {positions: [cab1, off, cab2], contacts: {rail: {common: middle.left, cab1: cab1.A, cab2: cab2.A}}}
joints:
  - {from: west, to: middle, insulate: left}
  - {from: middle, to: east, insulate: left}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}          # the right rail is common all along
expect:
  - {track: middle, is: dead, when: {S1: off}}
"""


def test_siding() -> None:
    layout = read(SIDING)
    assert layout.title == "Goods siding off a branch"
    supply = layout.supplies["main"]
    assert (supply.type, supply.voltage, supply.trip, supply.resistance) == ("dcc", 15.0, 3.0, 0.05)
    bus = layout.buses["main"]
    assert (bus.supply, bus.poles, bus.wire.area_mm2, bus.wire.length) == ("main", ("main.A", "main.B"), 2.5, 6.0)
    assert bus.colours == (("A", "BN"), ("B", "BU"))
    assert not bus.implicit
    assert [(v.name, v.kind, v.positions) for v in layout.variables.values()] == [
        ("M1", "machine", ("through", "diverging"))
    ]
    assert {name: piece.length for name, piece in layout.pieces.items()} == {
        "approach": 0.6,
        "branch": 0.9,
        "siding": 0.45,
        "T1": None,
    }
    assert [(joint.name, *joint.pairs) for joint in layout.joints] == [
        (
            "approach/T1.toe",
            ("approach.left", "T1.stock-left", False),
            ("approach.right", "T1.stock-right", False),
        ),
        ("T1.through/branch", ("T1.stock-left", "branch.left", False), ("T1.frog", "branch.right", True)),
        ("T1.diverging/siding", ("T1.frog", "siding.left", True), ("T1.stock-right", "siding.right", False)),
    ]
    assert [(f.piece, f.wires, f.at, f.tap, f.wire.text, f.wire.length) for f in layout.feeds] == [
        ("approach", (("main.A", "approach.left"), ("main.B", "approach.right")), None, None, "", None),
        ("siding", (("main.A", "siding.left"), ("main.B", "siding.right")), None, None, "", None),
        ("branch", (("main.A", "branch.left"), ("main.B", "branch.right")), 0.45, 2.0, "0.5 mm2", 0.25),
    ]
    (contact,) = layout.contacts
    assert (contact.owner, contact.name, contact.common) == ("M1", "frog", "T1.frog")
    assert contact.throws == (("through", "T1.stock-right"), ("diverging", "T1.stock-left"))
    assert (contact.values, contact.variable, contact.action) == (((0,), (1,)), "M1", "break-before-make")
    assert [str(span) for span in contact.throw_spans] == ["layout.yaml:13:66", "layout.yaml:13:93"]
    assert [(n.rule, str(n.span)) for n in layout.notices] == [("feed-without-tap", "layout.yaml:19:5")]


def test_crossover_turns_one_track_round() -> None:
    layout = read(CROSSOVER)
    middle = layout.joints[-1]
    assert middle.pairs == (("T1.frog", "T2.stock-right", True), ("T1.stock-right", "T2.frog", True))
    assert layout.machines == {"M1": ("T1", "T2")}
    assert list(layout.variables) == ["M1"]
    assert layout.feeds[2].wires == (("main.A", "south-east.right"), ("main.B", "south-east.left"))
    assert layout.buses["main"].implicit
    assert layout.notices == []


def test_loop() -> None:
    layout = read(LOOP)
    reverser = layout.reversers["R1"]
    assert reverser.automatic
    assert (reverser.inputs, reverser.outputs) == (("main.A", "main.B"), ("R1.A", "R1.B"))
    assert layout.feeds[1].wires == (("R1.A", "loop.left"), ("R1.B", "loop.right"))
    # the arc: 450 mm x 300 deg x pi / 180
    assert layout.pieces["loop"].length == pytest.approx(2.356194490192345)
    assert layout.pieces["loop"].written == {"radius": "450 mm", "angle": "300 deg", "turn": "left"}
    # two leaving ends face each other: left meets right
    assert layout.joints[2].pairs == (("loop.left", "T1.frog", True), ("loop.right", "T1.stock-left", True))


def test_cabs() -> None:
    layout = read(CABS)
    assert layout.supplies["cab2"].poles == ("cab2.A", "cab1.B")
    assert [bus.poles for bus in layout.buses.values()] == [("cab1.A", "cab1.B"), ("cab2.A", "cab1.B")]
    (contact,) = layout.contacts
    assert contact.throws == (("cab1", "cab1.A"), ("off", None), ("cab2", "cab2.A"))
    assert layout.feeds[1].wires == (("cab2.A", "east.left"),)
    assert layout.variables["S1"].positions == ("cab1", "off", "cab2")
    (expectation,) = layout.expectations
    assert (expectation.pieces, expectation.live, expectation.when) == (("middle",), False, (("S1", "off"),))
