"""What entries come to: names resolved, quantities in SI units, positions as values of variables."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from netlister.layout.read import read_layout
from netlister.source import Source
from tests.unit.layout.support import added, added_faults, faults, read

if TYPE_CHECKING:
    from netlister.layout.model import Layout

START = "format: netlister/1\n"
MAIN = START + "supplies: {main: {type: dcc, voltage: 15 V}}\n"


# -- supplies and buses


def test_common_goes_to_the_root_of_the_chain() -> None:
    layout = read(
        START
        + """\
supplies:
  c3: {type: dc, voltage: 12 V, common: c2.B}
  c1: {type: dc, voltage: 12 V, positive: A}
  c2: {type: dc, voltage: 12 V, common: c1.B}
track: {a: }
buses: {west: {supply: c3}}
wires: [{from: west.B, to: c2.B}, {from: c3.A, to: west.A}]
"""
    )
    assert {n: s.poles for n, s in layout.supplies.items()} == {
        "c3": ("c3.A", "c1.B"),
        "c1": ("c1.A", "c1.B"),
        "c2": ("c2.A", "c1.B"),
    }
    assert [s.positive for s in layout.supplies.values()] == ["B", "A", "B"]
    assert layout.supplies["c3"].common == "c2.B"
    assert layout.buses["west"].poles == ("c3.A", "c1.B")
    assert [link.ends for link in layout.links] == [("c1.B", "c1.B"), ("c3.A", "c3.A")]
    assert [(b.name, b.implicit) for b in layout.buses.values()] == [("west", False), ("c1", True), ("c2", True)]


def test_commons_of_both_letters_are_no_circle() -> None:
    layout = read(
        START + "supplies: {p: {type: dc, voltage: 1 V, common: q.B}, q: {type: dc, voltage: 1 V, common: p.A}}\n"
        "track: {a: }\n"
    )
    assert [s.poles for s in layout.supplies.values()] == [("p.A", "q.B"), ("p.A", "q.B")]


SUPPLIES: list[tuple[str, list[str]]] = [
    ("{main: }", ["2:12 'main' has no type; add 'type: dc' or 'type: dcc'",
                  "2:12 'main' has no voltage; add it, as in 'voltage: 15 V'"]),
    ("{main: {typ: dc, voltage: 12}}", ["2:19 a supply takes no 'typ'; did you mean 'type'?",
                                        "2:37 'voltage': '12' has no unit; write it in V or mV, as in '15 V'"]),
    ("{main: {type: ac, voltage: 15 V}}", ["2:25 'type' cannot be 'ac'; write 'dc' or 'dcc'"]),
    ("{main: {type: dcc, voltage: 15 V, positive: A}}",
     ["2:55 'positive' is for a supply of type dc; on dcc neither pole is; leave it out"]),
    ("{p: {type: dc, voltage: 1 V, common: q.B}, q: {type: dc, voltage: 1 V, common: r.B}, "
     "r: {type: dc, voltage: 1 V, common: q.B}}",
     ["2:90 these commons run in a circle: 'q.B' to 'r.B' to 'q.B'; leave 'common' out at one of them"]),
    ("{p: {type: dc, voltage: 1 V, common: p.B}}",
     ["2:48 'p' is tied to itself; name a pole of another supply or leave 'common' out"]),
    ("{cab1: {type: dc, voltage: 1 V, common: cab2.A}, cab3: {type: dc, voltage: 1 V}}",
     ["2:51 there is no pole 'cab2.A' of a supply; did you mean 'cab3.A'?"]),
    ("{p: {type: dc, voltage: 1 V, common: q}, q: {type: dc, voltage: 1 V}}",
     ["2:48 'q' is no pole; write 'q.A' or 'q.B'"]),
    ("{p: {type: dc, voltage: 1 V, common: a.A}}",
     ["2:48 'common' is tied to a pole of another supply; 'a' is none"]),
    ("{p: {type: dc, voltage: 1 V, trip: 3}}", ["2:46 'trip': '3' has no unit; write it in A or mA, as in '3 A'"]),
]  # fmt: skip


@pytest.mark.parametrize(("text", "expected"), SUPPLIES)
def test_supply_faults(text: str, expected: list[str]) -> None:
    assert faults(f"{START}supplies: {text}\ntrack: {{a: }}\n") == expected


def test_zero_is_allowed_everywhere() -> None:
    layout = read(
        START
        + """\
supplies: {main: {type: dcc, voltage: 0 V, trip: 0 A, resistance: 0 ohm}}
buses: {main: {length: 0 m, wire: 0 mohm/m}}
track: {a: {length: 0 mm}, b: {radius: 0 mm, angle: 0 deg}}
feeds: [{to: a, at: 0 m, tap: 0 m, length: 0 m}]
joiner: 0 ohm
rail: 0 mohm/m
limits: {drop: 0 %, joiners: 0}
"""
    )
    assert layout.supplies["main"].trip == 0
    assert layout.pieces["b"].length == 0
    assert layout.constants == {"joiner": 0.0, "rail": 0.0}


def test_branches_in_any_order() -> None:
    layout = read(
        MAIN
        + """\
buses:
  far: {from: near, at: 2 ft, wire: AWG 18}
  near: {from: west, at: 4 m, length: 3 m}
  west: {supply: main, form: ring, length: 10 m}
track: {a: }
feeds: [{to: a, from: far}]
"""
    )
    far = layout.buses["far"]
    assert (far.parent, far.supply, far.poles) == ("near", "main", ("main.A", "main.B"))
    assert far.at == pytest.approx(0.6096)
    assert layout.buses["west"].form == "ring"
    assert list(layout.buses) == ["far", "near", "west"]


def test_a_branch_of_an_ideal_bus() -> None:
    layout = read(MAIN + "buses: {spur: {from: main}}\ntrack: {a: }\nfeeds: [{to: a, from: spur}]\n")
    assert [(b.name, b.implicit, b.parent) for b in layout.buses.values()] == [
        ("spur", False, "main"),
        ("main", True, ""),
    ]


def test_a_supply_with_a_bus_of_another_name_is_still_a_source() -> None:
    layout = read(MAIN + "buses: {ring: {supply: main}}\ntrack: {a: }\nfeeds: [{to: a}, {to: a, from: main}]\n")
    assert [feed.source for feed in layout.feeds] == ["ring", "main"]
    assert layout.feeds[0].wires == layout.feeds[1].wires
    assert list(layout.buses) == ["ring"]


# -- pieces and joints


def test_options_and_dead_frogs() -> None:
    layout = added(
        "  c: {kind: insulated-frog, hand: wye, jumpers: true, frog-number: 6, frog: dead}\n"
        "  d: {kind: live-frog, hand: left, length: 9 in}"
    )
    piece = layout.pieces["c"]
    assert piece.written == {"hand": "wye", "jumpers": "true", "frog-number": "6", "frog": "dead"}
    assert piece.dead_frog
    assert not layout.pieces["d"].dead_frog
    assert layout.pieces["d"].length == pytest.approx(0.2286)
    assert (piece.kind.hand, piece.kind.options) == ("wye", (("jumpers", "true"),))
    assert layout.pieces["X1"].bars == ("X1.a", "X1.b")
    assert layout.pieces["T1"].bars == ("T1",)
    assert layout.pieces["D1"].bars == ()


def test_kinds_are_shared() -> None:
    layout = added("  c: {kind: live-frog, hand: right, length: 1 m}\n  d: {kind: rail-section}")
    assert layout.pieces["c"].kind is layout.pieces["T1"].kind
    assert layout.pieces["d"].kind is layout.pieces["a"].kind


def pairs(layout: Layout) -> list[tuple[tuple[str, str, bool], tuple[str, str, bool]]]:
    return [joint.pairs for joint in layout.joints]


JOINTS: list[tuple[str, tuple[tuple[str, str, bool], tuple[str, str, bool]]]] = [
    ("{from: a, to: b}", (("a.left", "b.left", False), ("a.right", "b.right", False))),
    ("{from: a.b, to: b.b, insulate: left}", (("a.left", "b.right", True), ("a.right", "b.left", False))),
    ("{from: a.a, to: b.a, insulate: right}", (("a.left", "b.right", False), ("a.right", "b.left", True))),
    ("{from: a.a, to: b.b, insulate: both}", (("a.left", "b.left", True), ("a.right", "b.right", True))),
    (
        "{from: T1.diverging, to: T2.through, insulate: vee}",
        # hand right: diverging is (frog, stock-right); hand left: through is (frog, stock-right); both leave: crossed
        (("T1.frog", "T2.stock-right", True), ("T1.stock-right", "T2.frog", True)),
    ),
    ("{from: D1.b1, to: a, insulate: vee}", (("D1.frog-b", "a.left", True), ("D1.outer-right", "a.right", False))),
    ("{from: a, to: T1.diverging, insulate: vee}", (("a.left", "T1.stock-right", False), ("a.right", "T1.frog", True))),
]


@pytest.mark.parametrize(("joint", "expected"), JOINTS)
def test_rails_that_meet(joint: str, expected: tuple[object, object]) -> None:
    assert pairs(added(f"joints: [{joint}]")) == [expected]


def test_names_of_joints() -> None:
    layout = added("joints: [{from: a, to: T1.toe, id: J1}, {from: T1.through, to: b}]")
    assert [joint.name for joint in layout.joints] == ["J1", "T1.through/b"]
    assert [(joint.start, joint.end) for joint in layout.joints] == [
        (("a", "b"), ("T1", "toe")),
        (("T1", "through"), ("b", "a")),
    ]


def test_sets_of_a_crossing() -> None:
    layout = added(
        "  D2: {kind: diamond-insulated, set: {1: {T1: through, M2: diverging}, 2: }}\n"
        "machines: {M2: {throws: [T2]}, M1: {throws: [{T1: diverging}]}}"
    )
    assert layout.pieces["D2"].sets == {"1": ((("M1", "diverging"), ("M2", "diverging")),), "2": ((),)}


# -- feeds


FEEDS: list[tuple[str, tuple[tuple[str, str], ...]]] = [
    ("{to: a}", (("main.A", "a.left"), ("main.B", "a.right"))),
    ("{to: a, A: right, B: left}", (("main.A", "a.right"), ("main.B", "a.left"))),
    ("{to: a, B: left}", (("main.B", "a.left"),)),
    ("{to: T1}", (("main.A", "T1.stock-left"), ("main.B", "T1.stock-right"))),
    ("{to: T1.diverging}", (("main.A", "T1.frog"), ("main.B", "T1.stock-right"))),
    ("{to: T1, A: frog}", (("main.A", "T1.frog"),)),
    ("{to: D1.b2, A: left}", (("main.A", "D1.outer-left"),)),
    ("{to: D1, A: frog-a, B: frog-b}", (("main.A", "D1.frog-a"), ("main.B", "D1.frog-b"))),
    ("{to: X1, B: side-right}", (("main.B", "X1.side-right"),)),
]


@pytest.mark.parametrize(("feed", "expected"), FEEDS)
def test_rails_fed(feed: str, expected: tuple[tuple[str, str], ...]) -> None:
    (found,) = added(f"feeds: [{feed}]").feeds
    assert found.wires == expected


def test_a_feed_of_several_pieces() -> None:
    feeds = added("feeds: [{to: [a, T1.toe], id: F1, wire: 20 mohm/m, length: 2 ft}]").feeds
    assert [(f.name, f.piece, f.span.column) for f in feeds] == [("F1", "a", 9), ("F1", "T1", 9)]
    assert feeds[0].wire.ohm_per_m == pytest.approx(0.02)
    assert feeds[0].wire.length == pytest.approx(0.6096)
    assert feeds[0].wire.area_mm2 is None


def test_the_place_of_a_feed() -> None:
    feeds = added("feeds: [{to: a, at: 250 mm}, {to: a.a}, {to: a.b}, {to: T1.through}]").feeds
    assert [feed.at for feed in feeds] == [0.25, None, 1.0, None]


# -- what moves


def test_a_machine_that_throws_one_turnout_the_other_way() -> None:
    layout = added(
        "machines: {M1: {throws: [T1, {T2: diverging}, X1.a]}}\nnever: [{T2: through}, {X1.a: b2, M1: through}]"
    )
    assert {bar: (b.variable, b.positions) for bar, b in layout.bars.items()} == {
        "T1": ("M1", ("through", "diverging")),
        "T2": ("M1", ("diverging", "through")),
        "X1.a": ("M1", ("b1", "b2")),
        "X1.b": ("X1.b", ("a1", "a2")),
    }
    assert [cube for cube, _ in layout.never] == [
        (("M1", "diverging"),),
        (("M1", "diverging"), ("M1", "through")),
    ]
    assert [(v.name, v.kind) for v in layout.variables.values()] == [("M1", "machine"), ("X1.b", "turnout")]


def test_a_machine_whose_first_turnout_is_named_the_other_way() -> None:
    layout = added("machines: {M1: {throws: [{T1: diverging}, T2]}}")
    assert layout.variables["M1"].positions == ("through", "diverging")
    assert layout.bars["T1"].positions == ("diverging", "through")
    assert layout.bars["T2"].positions == ("through", "diverging")


def test_contacts_of_a_lever_follow_the_machine() -> None:
    layout = added(
        "  W: {kind: live-frog, hand: wye, contacts: {lever: {common: W.frog, left: W.stock-right, "
        "right: W.lever.left, action: make-before-break}}}\n"
        "machines: {M1: {throws: [T1, {W: right}]}}"
    )
    (contact,) = layout.contacts
    assert (contact.owner, contact.name, contact.variable) == ("W", "lever", "M1")
    assert contact.throws == (("left", "W.stock-right"), ("right", "W.lever.left"))
    assert contact.values == ((1,), (0,))
    assert contact.action == "make-before-break"


def test_relays_in_a_chain_and_in_any_order() -> None:
    layout = added(
        """\
switches:
  K2: {follows: K1, positions: [x, y, x]}
  K1: {follows: S1, contacts: {c: {common: a.left, in: main.A}}}
  S1: {positions: [in, off, out]}
  K3: {follows: T1, positions: [idle, pulled]}
reversers:
  R1: {from: main, follows: K2, straight: [x]}
  R2: {from: main, follows: T2, straight: diverging}
expect:
  - {track: [a, b], is: dead, when: {K2: x, K3: pulled}}
never:
  - {K1: off}"""
    )
    assert [(v.name, v.kind) for v in layout.variables.values()] == [
        *((bar, "turnout") for bar in ("T1", "T2", "X1.a", "X1.b")),
        ("S1", "switch"),
    ]
    (contact,) = layout.contacts
    assert contact.throws == (("in", "main.A"), ("off", None), ("out", None))
    assert (contact.variable, contact.values) == ("S1", ((0,), (1,), (2,)))
    first, second = layout.reversers.values()
    assert (first.variable, first.straight, first.automatic) == ("S1", (0, 2), False)
    assert (second.variable, second.straight) == ("T2", (1,))
    assert [e.when for e in layout.expectations] == [
        (("S1", "in"), ("T1", "diverging")),
        (("S1", "out"), ("T1", "diverging")),
    ]
    assert layout.never[0][0] == (("S1", "off"),)


def test_contacts_of_a_relay_that_repeats_a_position() -> None:
    layout = added(
        "switches: {S1: {positions: [p, q, r]}, K: {follows: S1, positions: [x, y, x], "
        "contacts: {c: {common: a.left, x: main.A}}}}"
    )
    (contact,) = layout.contacts
    assert contact.throws == (("x", "main.A"), ("y", None))
    assert contact.values == ((0, 2), (1,))


# -- the rest


def test_gear_and_wires() -> None:
    layout = added(
        """\
machines: {M1: {throws: [T1], contacts: {f: {}}}}
components:
  F1: {kind: fuse, from: main.A, to: TB.1, rating: 500 mA}
  D: {kind: diode, from: TB.1, to: T1.through.left}
  L: {kind: resistor, from: TB.1, to: a.b.right, rating: 5 W, resistance: 1 kohm}
plugs:
  P1: {pins: {1: [a.left, b.left], 2: [a.right, M1.f.common]}, optional: true}
  P2: {pins: {1: [b.right, M1.f.diverging]}}
frog-units: {U1: {feeds: T2.through.left}}
wires:
  - {from: T1.toe.right, to: M1.f.through, wire: AWG 22, length: 30 cm, colour: GNYE, id: W1}"""
    )
    assert {n: (c.kind, c.ends, c.rating, c.resistance) for n, c in layout.components.items()} == {
        "F1": ("fuse", ("main.A", "TB.1"), 0.5, None),
        "D": ("diode", ("TB.1", "T1.stock-left"), None, None),
        "L": ("resistor", ("TB.1", "a.right"), 5.0, 1000.0),
    }
    assert [(p.plug, p.pin, p.ends, p.variable) for p in layout.pins] == [
        ("P1", "1", ("a.left", "b.left"), "P1"),
        ("P1", "2", ("a.right", "M1.f.common"), "P1"),
        ("P2", "1", ("b.right", "M1.f.diverging"), None),
    ]
    assert layout.variables["P1"].positions == ("in", "out")
    assert (layout.units["U1"].frog, layout.units["U1"].inputs) == ("T2.frog", ("main.A", "main.B"))
    (link,) = layout.links
    assert (link.name, link.ends, link.colour) == ("W1", ("T1.stock-right", "M1.f.through"), "GNYE")
    assert link.wire.length == pytest.approx(0.3)
    assert layout.notices == []


def test_trains_limits_constants_boards() -> None:
    layout = added(
        """\
joints: [{from: a, to: b, id: J1}]
trains:
  express: {length: 2 m, current: 0.8 A, axles: [0 mm, 30 mm, 60 mm], left: [1, 3], conducting: [2], wheel: 2.5 mm, parked: J1}
  bare: {axles: [30 mm, 60 mm]}
  none: {parked: J1}
limits: {drop: 5 %, trip-margin: 1.5, joiners: 2}
gauge: 16.5 mm
rail: code-100
joiner: 5 mohm
contact: 20 mohm
blade: 50 mohm
notes: some text
boards: {west: [a, T1, main], east: b, spare: }
"""
    )
    express, bare, none = layout.trains.values()
    assert (express.length, express.current) == (2.0, 0.8)
    assert express.wheel == pytest.approx(0.0025)
    assert express.axles == pytest.approx((0.0, 0.03, 0.06))
    assert (express.left, express.right, express.conducting) == ((1, 3), (1, 2, 3), (2,))
    assert bare.axles == pytest.approx((0.0, 0.03, 0.06))
    assert (none.axles, none.left, none.parked) == ((), (), "J1")
    assert layout.limits == {"drop": pytest.approx(0.05), "trip-margin": 1.5, "joiners": 2.0}
    assert layout.constants == pytest.approx({"gauge": 0.0165, "joiner": 0.005, "contact": 0.02, "blade": 0.05})
    assert (layout.rail, layout.notes) == ("code-100", "some text")
    assert layout.boards == {"west": ("a", "T1", "main"), "east": ("b",), "spare": ()}


def test_a_rail_given_by_its_resistance() -> None:
    assert added("rail: 57 mohm/m").constants["rail"] == pytest.approx(0.057)


def test_a_joint_without_id_is_named_by_its_ends() -> None:
    layout = added("joints: [{from: a, to: T1.toe}]\ntrains: {r: {parked: a/T1.toe}}")
    assert layout.trains["r"].parked == "a/T1.toe"


def test_angles_are_radians() -> None:
    layout = added("  c: {radius: 1 m, angle: 180 deg}")
    assert layout.pieces["c"].length == pytest.approx(math.pi)


def test_allows_are_kept() -> None:
    layout = read_layout(Source("f", MAIN + "track: {a: }  # netlister: allow floating-net: not wired yet\n"))
    assert [(a.rule, a.reason, a.span.line) for a in layout.allows] == [("floating-net", "not wired yet", 3)]


# -- warnings


NOTICES: list[tuple[str, list[str]]] = [
    (
        "wires: [{from: a.left, to: TB1.3}, {from: b.left, to: TB1.4}]",
        [
            "lone-junction TB1.3 10:28 the junction 'TB1.3' is named only here, so what is wired to it goes nowhere | "
            "write the same name at the other end of the wire; did you mean 'TB1.4'?",
            "lone-junction TB1.4 10:55 the junction 'TB1.4' is named only here, so what is wired to it goes nowhere | "
            "write the same name at the other end of the wire; did you mean 'TB1.3'?",
        ],
    ),
    (
        "machines: {M12: {throws: [T1], contacts: {f: {common: M21.f.common}}}}",
        [
            "lone-junction M21.f.common 10:55 the junction 'M21.f.common' is named only here, so what is wired to it "
            "goes nowhere | write the same name at the other end of the wire; did you mean 'M12.f.common'?",
        ],
    ),
    ("wires: [{from: a.left, to: TB1}, {from: TB1, to: b.left}]", []),
    (
        "joints: [{from: a, to: b, insulate: vee}]",
        [
            "nothing-insulated a/b 10:10 'insulate: vee' insulates nothing here: no rail named frog… or closure-… "
            "meets at this joint, so both rails have metal joiners | "
            "write 'insulate: left', 'right' or 'both', or leave it out"
        ],
    ),
    ("joints: [{from: a, to: T1.through, insulate: vee}]", []),
    (
        "buses: {w: {length: 3 m}}\nfeeds: [{to: [a, b]}, {to: a, id: F}, {to: a, tap: 0 m}]",
        [
            "feed-without-tap w/a, b 11:9 the feed of a, b does not say where it is tapped from the bus 'w' | "
            "add 'tap' with the length of bus from its supply to the feed ('tap: 0 m' at the supply)",
            "feed-without-tap F 11:23 the feed of a does not say where it is tapped from the bus 'w' | "
            "add 'tap' with the length of bus from its supply to the feed ('tap: 0 m' at the supply)",
        ],
    ),
    ("buses: {w: {wire: AWG 14}}\nfeeds: [{to: a}]", []),
    ("reversers: {R1: {mode: automatic}}\nfeeds: [{to: a, from: R1}, {to: b}]", []),
]


@pytest.mark.parametrize(("text", "expected"), NOTICES)
def test_notices(text: str, expected: list[str]) -> None:
    found = [f"{n.rule} {n.subject} {n.span.line}:{n.span.column} {n.message} | {n.fix}" for n in added(text).notices]
    assert found == expected


def test_reverser_on_dc() -> None:
    layout = read(
        START
        + "supplies: {cab: {type: dc, voltage: 12 V}}\ntrack: {a: }\nreversers: {R1: {from: cab, mode: automatic}}\n"
    )
    (notice,) = layout.notices
    assert (notice.rule, notice.subject, str(notice.span)) == ("reverser-on-dc", "R1", "layout.yaml:4:13")
    assert notice.message == ("the automatic reverser 'R1' is fed by direct current: it would send the train back")


def test_a_following_reverser_on_dc_is_right() -> None:
    layout = read(
        START + "supplies: {cab: {type: dc, voltage: 12 V}}\n"
        "track: {T: {kind: live-frog, hand: wye}}\nreversers: {R1: {follows: T, straight: [left]}}\n"
    )
    assert layout.notices == []


# -- names


NAMES: list[tuple[str, list[str]]] = [
    (
        "machines: {M1: {throws: [T1]}}\nswitches: {M1: {positions: [x, y]}}",
        ["11:12 the name 'M1' is taken: a machine has it in line 10; choose another name"],
    ),
    (
        "buses: {main: {supply: other}, other: {supply: main}}",
        ["10:24 'other' is a bus, not a supply"],
    ),
    ("trains: {a: }", ["10:10 the name 'a' is taken: a piece of track has it in line 4; choose another name"]),
    ("boards: {'': [a]}", ["10:10 the name of a board is empty; write one"]),
    (
        'plugs: {"x\\ny": {pins: {}}}',
        ["10:9 the name 'x y' has characters that do not print; write 'x-y'"],
    ),
    (
        "wires: [{from: main, to: a.left}]",
        ["10:16 'main' is a supply, not one of its terminals; write 'main.A' or 'main.B'"],
    ),
    (
        "plugs: {P: {pins: {1: [a.left, b.left]}}}\nwires: [{from: P.1, to: a.left}]",
        ["11:16 'P' is a plug and has no terminals; name a rail, a pole or a contact's terminal"],
    ),
]


@pytest.mark.parametrize(("text", "expected"), NAMES)
def test_name_faults(text: str, expected: list[str]) -> None:
    assert added_faults(text) == expected


def test_a_bus_may_not_have_another_supplys_name() -> None:
    text = START + (
        "supplies: {p: {type: dc, voltage: 1 V}, q: {type: dc, voltage: 1 V}}\nbuses: {p: {supply: q}}\ntrack: {a: }\n"
    )
    assert faults(text) == ["3:9 'p' is a supply, and this is a bus of 'q'; choose another name"]


def test_sections_in_any_order() -> None:
    layout = read(
        """\
feeds: [{to: a}]
joints: [{from: a, to: T1.toe}]
machines: {M1: {throws: [T1], contacts: {f: {common: T1.frog, through: main.A}}}}
track: {T1: {kind: live-frog, hand: right}, a: }
buses: {main: {length: 1 m}}
supplies: {main: {type: dcc, voltage: 15 V}}
format: netlister/1
"""
    )
    assert len(layout.feeds) == len(layout.joints) == len(layout.contacts) == 1
    assert not layout.buses["main"].implicit
