"""Right layouts of many constructions, written by hand, to put mistakes into."""

from __future__ import annotations

HEAD = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}\n"

STUB = (
    HEAD
    + """\
track:
  approach: {length: 600 mm}
  branch: {length: 900 mm}
  siding: {length: 450 mm}
  T1: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
joints:
  - {from: approach, to: T1.toe}
  - {from: T1.through, to: branch, insulate: vee}
  - {from: T1.diverging, to: siding, insulate: both}
feeds:
  - {to: approach}
  - {to: branch}
  - {to: siding}
"""
)

CROSSOVER = (
    HEAD
    + """\
track:
  nw: {length: 1 m}
  ne: {length: 1 m}
  sw: {length: 1 m}
  se: {length: 1 m}
  T1: {kind: live-frog, hand: right}
  T2: {kind: live-frog, hand: right}
machines:
  M1:
    throws: [T1, T2]
    contacts:
      f1: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}
      f2: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}
joints:
  - {from: nw, to: T1.toe}
  - {from: T1.through, to: ne, insulate: vee}
  - {from: se, to: T2.toe}
  - {from: T2.through, to: sw, insulate: vee}
  - {from: T1.diverging, to: T2.diverging, insulate: both}
feeds:
  - {to: [nw, ne], A: left, B: right}
  - {to: [se, sw], A: right, B: left}
"""
)

BONDED = CROSSOVER.replace("kind: live-frog,", "kind: live-frog-bonded,")

PASSING = (
    HEAD
    + """\
track:
  west: {length: 1 m}
  pass: {length: 1500 mm}
  loop: {length: 1500 mm}
  east: {length: 1 m}
  T1: {kind: live-frog, hand: left}
  T2: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
  M2: {throws: [T2], contacts: {frog: {common: T2.frog, through: T2.stock-right, diverging: T2.stock-left}}}
joints:
  - {from: west, to: T1.toe}
  - {from: T1.through, to: pass, insulate: vee}
  - {from: T1.diverging, to: loop, insulate: vee}
  - {from: pass, to: T2.through, insulate: vee}
  - {from: loop, to: T2.diverging, insulate: vee}
  - {from: T2.toe, to: east.a}
feeds:
  - {to: [west, pass, loop, east]}
"""
)

SLIP = (
    HEAD
    + """\
track:
  nw: {length: 800 mm}
  sw: {length: 800 mm}
  ne: {length: 800 mm}
  se: {length: 800 mm}
  X1: {kind: double-slip-live}
machines:
  MA: {throws: [X1.a], contacts: {frog-b: {common: X1.frog-b, b1: X1.side-left, b2: X1.side-right}}}
  MB: {throws: [X1.b], contacts: {frog-a: {common: X1.frog-a, a1: X1.side-right, a2: X1.side-left}}}
joints:
  - {from: nw, to: X1.a1, insulate: both}
  - {from: sw, to: X1.a2, insulate: both}
  - {from: X1.b1, to: ne, insulate: both}
  - {from: X1.b2, to: se, insulate: both}
feeds:
  - {to: [nw, sw, ne, se]}
  - {to: X1, A: side-left, B: side-right}
"""
)

THREE_WAY = (
    HEAD
    + """\
track:
  lead: {length: 800 mm}
  north: {length: 800 mm}
  middle: {length: 800 mm}
  south: {length: 800 mm}
  W1: {kind: three-way-live}
machines:
  ML:
    throws: [W1.left]
    contacts:
      fl: {common: W1.frog-left, left: W1.stock-right, straight: W1.stock-left}
      fc: {common: W1.frog-centre, left: W1.stock-right, straight: W1.stock-left}
  MR: {throws: [W1.right], contacts: {fr: {common: W1.frog-right, straight: W1.stock-right, right: W1.stock-left}}}
joints:
  - {from: lead, to: W1.toe}
  - {from: W1.left, to: north, insulate: both}
  - {from: W1.centre, to: middle, insulate: both}
  - {from: W1.right, to: south, insulate: both}
feeds:
  - {to: [lead, north, middle, south]}
never:
  - {ML: left, MR: right}
"""
)

LOOP = (
    HEAD
    + """\
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
)

TRIANGLE = (
    HEAD
    + """\
track:
  west: {length: 1 m}
  east: {length: 1 m}
  tail: {length: 1200 mm}
  arm-w: {length: 700 mm}
  arm-e: {length: 700 mm}
  base: {length: 900 mm}
  TW: {kind: insulated-frog, hand: left, jumpers: true}
  TE: {kind: insulated-frog, hand: right, jumpers: true}
  TS: {kind: insulated-frog, hand: wye, jumpers: true}
reversers:
  R1: {from: main, mode: automatic}
joints:
  - {from: west, to: TW.toe}
  - {from: TW.through, to: base}
  - {from: base, to: TE.through}
  - {from: TE.toe, to: east.a}
  - {from: TW.diverging, to: arm-w}
  - {from: arm-w, to: TS.left, insulate: both}
  - {from: TE.diverging, to: arm-e}
  - {from: arm-e, to: TS.right, insulate: both}
  - {from: tail, to: TS.toe}
feeds:
  - {to: [west, base], A: left, B: right}
  - {to: tail, from: R1}
"""
)

DISTRICTS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 5 A}}
buses:
  town: {supply: main, breaker: 3 A}
  hill: {supply: main, breaker: 2 A}
track:
  station: {length: 1 m}
  bay: {length: 1 m}
  goods: {length: 1 m}
  ramp: {length: 1 m}
  summit: {length: 1 m}
  T1: {kind: live-frog, hand: left}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-left, diverging: T1.stock-right}}}
joints:
  - {from: station, to: T1.toe}
  - {from: T1.through, to: bay, insulate: both}
  - {from: T1.diverging, to: goods, insulate: both}
  - {from: bay, to: ramp, insulate: both}
  - {from: ramp, to: summit}
feeds:
  - {to: station, from: town}
  - {to: bay, from: town}
  - {to: goods, from: town}
  - {to: ramp, from: hill}
"""

BOARDS = """\
format: netlister/1
supplies: {main: {type: dcc, voltage: 15 V, trip: 3 A}}
track:
  staging: {length: 1 m}
  liftout: {length: 700 mm}
  far: {length: 1 m}
  siding: {length: 1 m}
  T1: {kind: live-frog, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
plugs:
  J1: {pins: {1: [main.A, TB.1], 2: [main.B, TB.2], 3: [main.A, TC.1], 4: [main.B, TC.2]}}
wires:
  - {from: TB.1, to: liftout.left}
  - {from: TB.2, to: liftout.right}
  - {from: TC.1, to: far.left}
  - {from: TC.2, to: far.right}
joints:
  - {from: staging, to: liftout, insulate: both}
  - {from: liftout, to: T1.toe}
  - {from: T1.through, to: far, insulate: both}
  - {from: T1.diverging, to: siding, insulate: both}
feeds:
  - {to: [staging, siding]}
"""

TURNTABLE = (
    HEAD
    + """\
track:
  lead: {length: 1 m}
  shed: {length: 300 mm}
  TT: {kind: turntable, roads: 2}
reversers:
  ring: {from: main, follows: TT, straight: [s1, s2]}
joints:
  - {from: lead.b, to: TT.s1}
  - {from: TT.s2, to: shed.a}
feeds:
  - {to: lead, A: left, B: right}
  - {to: shed, A: right, B: left}
  - {to: TT, from: ring, A: bridge-left, B: bridge-right}
"""
)

CABS = """\
format: netlister/1
supplies:
  cab1: {type: dc, voltage: 12 V, trip: 1 A}
  cab2: {type: dc, voltage: 12 V, trip: 1 A, common: cab1.B}
track: {west: {length: 1 m}, middle: {length: 1 m}, east: {length: 1 m}}
switches:
  S1: {positions: [cab1, off, cab2], contacts: {rail: {common: middle.left, cab1: cab1.A, cab2: cab2.A}}}
joints:
  - {from: west, to: middle, insulate: left}
  - {from: middle, to: east, insulate: left}
feeds:
  - {to: west, from: cab1}
  - {to: east, from: cab2, A: left}
expect:
  - {track: middle, is: dead, when: {S1: off}}
"""

SWITCHED = """\
format: netlister/1
supplies: {cab: {type: dc, voltage: 12 V, trip: 1 A}}
track:
  line: {length: 1 m}
  shed: {length: 400 mm}
  dock: {length: 400 mm}
  T1: {kind: live-frog-bonded, hand: right}
machines:
  M1: {throws: [T1], contacts: {frog: {common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}}}
switches:
  S1: {positions: [on, off], contacts: {rail: {common: shed.left, on: line.left}}}
  S2: {positions: [on, off], contacts: {rail: {common: dock.left, on: line.left}}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: shed, insulate: both}
  - {from: T1.diverging, to: dock, insulate: both}
feeds:
  - {to: line}
  - {to: [shed, dock], B: right}
expect:
  - {track: shed, is: dead, when: {S1: off}}
  - {track: dock, is: dead, when: {S2: off}}
"""

JUMPERS = (
    HEAD
    + """\
track:
  a: {length: 1 m}
  b: {length: 1 m}
  c: {length: 1 m}
  T1: {kind: insulated-frog, hand: right, jumpers: true}
joints:
  - {from: a, to: T1.toe}
  - {from: T1.through, to: b}
  - {from: T1.diverging, to: c}
feeds:
  - {to: a}
expect:
  - {track: [b, c], is: live}
"""
)

RIGHT = {
    "stub": STUB, "crossover": CROSSOVER, "bonded crossover": BONDED, "passing loop": PASSING, "slip": SLIP,
    "three-way": THREE_WAY, "loop": LOOP, "triangle": TRIANGLE, "districts": DISTRICTS, "boards": BOARDS, "turntable": TURNTABLE,
    "cabs": CABS, "switched": SWITCHED, "jumpers": JUMPERS,
}  # fmt: skip
"""Every one of them by what it is."""
