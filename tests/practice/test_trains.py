"""What happens to trains in practice: loops, triangles, turntables, dead lengths, vehicles left across gaps.

Source of every case: common practice, no published source. The outcome is worked out by hand beside each.
"""

from __future__ import annotations

import pytest

import netlister
from tests.properties.reference import Layout, expand, load

TRAIN_RULES = {"reversing-route", "reversing-length", "stall", "parked"}
DCC = "format: netlister/1\nsupplies: {main: {type: dcc, voltage: 15 V}}\n"


def told(text, rules=TRAIN_RULES):
    """Rule and subject with the severity."""
    return {(f.rule, f.subject): f.severity.label for f in netlister.check_text(text).findings if f.rule in rules}


def all_told(text):
    return {f.rule for f in netlister.check_text(text).findings}


def states(text, rule, subject):
    (found,) = [f for f in netlister.check_text(text).findings if (f.rule, f.subject) == (rule, subject)]
    layout = Layout(load(text))
    return {state for entry in found.when for state in expand(dict(entry), layout.states)}


# -- loops

LOOP = (
    DCC
    + """track:
  line: {length: 2 m}
  loop: {length: 1200 mm}
  T1: {kind: KIND, hand: wye}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.left, to: loop, insulate: ENTRY}
  - {from: loop, to: T1.right, insulate: EXIT}
"""
)
TURNOUTS = ["live-frog", "insulated-frog", "insulated-frog, jumpers: true"]


def loop(kind, entry, leave):
    return LOOP.replace("{kind: KIND", f"{{kind: {kind}").replace("ENTRY", entry).replace("EXIT", leave)


@pytest.mark.parametrize("kind", TURNOUTS)
def test_20_a_loop_without_gaps_is_a_short_and_is_told_to_be_a_reversing_route(kind):
    text = loop(kind, "none", "none") + "feeds: [{to: line}]\n"
    assert told(text) == {("reversing-route", "loop"): "warning"}
    assert "pole-short" in all_told(text)
    (found,) = [f for f in netlister.check_text(text).findings if f.rule == "reversing-route"]
    assert found.path == ("T1.left", "loop.a", "loop.b", "T1.right")
    assert found.when == ((),)


@pytest.mark.parametrize("kind", TURNOUTS)
def test_21_one_pair_of_gaps_is_no_cure(kind):
    """No short with the track empty, but the two sides of the gap are opposite poles: the route is as reversing."""
    text = loop(kind, "none", "both") + "feeds: [{to: line}]\n"
    assert told(text) == {("reversing-route", "loop"): "warning"}
    assert "pole-short" not in all_told(text)


REVERSER = "reversers: {R1: {from: main, mode: automatic}}\nfeeds: [{to: line}, {to: loop, from: R1}]\n"


def test_22_a_loop_gapped_at_both_ends_on_a_reverser_is_right():
    text = loop("insulated-frog, jumpers: true", "both", "both") + REVERSER
    assert all_told(text) == set()


@pytest.mark.parametrize(
    ("train", "expected"),
    [
        ("{length: 1199 mm}", None),
        ("{length: 1200 mm}", "warning"),  # as long as the section: both ends are bridged for a moment
        ("{axles: [0 mm, 35 mm, 1165 mm, 1199 mm]}", None),
        ("{axles: [0 mm, 35 mm, 1165 mm, 1210 mm]}", "error"),
        ("{axles: [0 mm, 35 mm, 1165 mm, 1210 mm], left: [1, 2], right: [1, 2]}", None),  # coaches on plastic wheels
        ("{axles: [0 mm, 35 mm, 1165 mm, 1210 mm], left: [1], right: [1], conducting: [4]}", "error"),
        ("{axles: [0 mm, 35 mm, 1165 mm, 1210 mm], left: [1], right: [1], conducting: [3]}", None),
    ],
)
def test_22_all_wheels_that_conduct_count(train, expected):
    text = loop("insulated-frog, jumpers: true", "both", "both") + REVERSER + f"trains: {{goods: {train}}}\n"
    found = told(text, {"reversing-length"})
    assert found == ({("reversing-length", "R1"): expected} if expected else {})


def test_22_gaps_that_are_not_opposite_shorten_the_section():
    """The nearest gaps of the two ends count: 300 mm of the loop carry the line's left rail, so 900 mm are left."""
    text = (
        DCC
        + """track:
  line: {length: 2 m}
  first: {length: 300 mm}
  loop: {length: 900 mm}
  T1: {kind: insulated-frog, hand: wye, jumpers: true}
reversers: {R1: {from: main, mode: automatic}}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.left, to: first, insulate: right}
  - {from: first, to: loop, insulate: left, id: late}
  - {from: loop, to: T1.right, insulate: both, id: far}
feeds: [{to: line}, {to: loop, from: R1}, {to: first, from: R1, B: right}]
trains: {goods: {length: 1000 mm}}
"""
    )
    (found,) = [f for f in netlister.check_text(text).findings if f.rule == "reversing-length"]
    assert "'far' and 'late'" in found.message
    assert "900 mm" in found.message
    assert told(text.replace("1000 mm}}", "899 mm}}"), {"reversing-length"}) == {}


def test_22_two_trains_at_the_two_ends_do_the_same():
    """A triangle's leg on a reverser, its ends at two turnouts: two trains can stand across both ends."""
    text = TRIANGLE.replace("AB", "both").replace("FEED", "stem") + (
        "reversers: {R1: {from: main, mode: automatic}}\n"
        "feeds: [{to: stem}, {to: ab, from: R1}]\n"
        "trains: {up: {length: 400 mm}, down: {length: 300 mm}}\n"
    )
    assert told(text) == {("reversing-length", "R1"): "note"}
    both = {frozenset({("A", "left"), ("B", "right"), ("C", c)}) for c in ("left", "right")}
    assert states(text, "reversing-length", "R1") == both
    assert told(text.replace(", down: {length: 300 mm}", "")) == {}
    assert told(text + "never: [{A: left, B: right}]\n") == {}


def test_36_a_section_behind_a_change_over_switch_is_as_right_as_one_on_a_reverser():
    """On direct current: the loop is switched by hand, and the line by its controller."""
    text = (
        loop("insulated-frog, jumpers: true", "both", "both").replace("dcc", "dc")
        + """switches:
  S1:
    positions: [in, out]
    contacts:
      l: {common: loop.left, in: main.A, out: main.B}
      r: {common: loop.right, in: main.B, out: main.A}
feeds: [{to: line}]
"""
    )
    assert told(text) == {}


# -- triangles

TRIANGLE = (
    DCC
    + """track:
  stem: {length: 1 m}
  ab: {length: 1 m}
  bc: {length: 1 m}
  ca: {length: 1 m}
  tail: {length: 600 mm}
  A: {kind: insulated-frog, hand: wye, jumpers: true}
  B: {kind: insulated-frog, hand: wye, jumpers: true}
  C: {kind: insulated-frog, hand: wye, jumpers: true}
joints:
  - {from: stem, to: A.toe}
  - {from: A.left, to: ab, insulate: AB}
  - {from: ab, to: B.right, insulate: AB}
  - {from: B.left, to: bc}
  - {from: bc, to: C.right}
  - {from: C.left, to: ca}
  - {from: ca, to: A.right}
  - {from: C.toe, to: tail}
"""
)


def test_24_a_triangle_without_gaps():
    text = TRIANGLE.replace("AB", "none") + "feeds: [{to: stem}]\n"
    (found,) = [f for f in netlister.check_text(text).findings if f.rule == "reversing-route"]
    assert "pole-short" in all_told(text)
    assert found.parts == ("A", "B", "C", "ab", "bc", "ca")
    assert "reverser" in found.fix


def test_24_one_leg_gapped_whole_on_a_reverser():
    text = TRIANGLE.replace("AB", "both") + (
        "reversers: {R1: {from: main, mode: automatic}}\nfeeds: [{to: stem}, {to: ab, from: R1}]\n"
    )
    assert all_told(text) == set()


def test_24_one_turnout_and_its_tail_as_the_section():
    """All four rails at the legs of C gapped, C and its tail on the reverser."""
    text = TRIANGLE.replace("AB", "none").replace("C.right}", "C.right, insulate: both}") + (
        "reversers: {R1: {from: main, mode: automatic}}\nfeeds: [{to: stem}, {to: tail, from: R1}]\n"
    )
    text = text.replace("{from: C.left, to: ca}", "{from: C.left, to: ca, insulate: both}")
    assert all_told(text) == set()


# -- not reversing, though it looks so

PASSING = (
    DCC
    + """track:
  west: {length: 1 m}
  east: {length: 1 m}
  one: {length: 1 m}
  two: {length: 1 m}
  T: {kind: insulated-frog, hand: left, jumpers: true}
  U: {kind: insulated-frog, hand: right, jumpers: true}
joints:
  - {from: west, to: T.toe}
  - {from: U.toe, to: east}
  - {from: T.through, to: one}
  - {from: one, to: U.through}
  - {from: T.diverging, to: two}
  - {from: two, to: U.diverging}
feeds: [{to: west}]
"""
)


def test_a_passing_loop_is_no_reversing_route():
    assert all_told(PASSING) == set()


def test_a_figure_of_eight_with_a_plain_crossing_is_no_reversing_route():
    text = (
        DCC
        + """track:
  X1: {kind: diamond-insulated}
  one: {length: 2 m}
  two: {length: 2 m}
joints:
  - {from: X1.b1, to: one}
  - {from: one, to: X1.a2}
  - {from: X1.b2, to: two}
  - {from: two, to: X1.a1}
feeds: [{to: one}]
"""
    )
    assert all_told(text) == set()


def test_a_crossover_between_the_two_sides_of_a_folded_loop_is_a_hidden_one():
    """A dogbone of one closed track, its two sides side by side: a plain oval until a crossover joins them.

    Then each of its two ends is a loop, and each needs a section of its own.
    """
    text = (
        DCC
        + """track:
  near-end: {length: 2 m}
  far-end: {length: 2 m}
  up: {length: 1 m}
  down: {length: 1 m}
  T: {kind: insulated-frog, hand: right, jumpers: true}
  U: {kind: insulated-frog, hand: right, jumpers: true}
joints:
  - {from: up, to: T.toe}
  - {from: T.through, to: far-end}
  - {from: far-end, to: U.toe}
  - {from: U.through, to: down}
  - {from: down, to: near-end}
  - {from: near-end, to: up}
CROSSOVER
feeds: [{to: up}]
"""
    )
    assert all_told(text.replace("CROSSOVER\n", "")) == set()
    found = told(text.replace("CROSSOVER", "  - {from: T.diverging, to: U.diverging}"), {"reversing-route"})
    assert found == {("reversing-route", "far-end"): "warning", ("reversing-route", "down"): "warning"}


# -- turntables

BRIDGE = """
kind: bridge
title: Turntable bridge between two tracks
summary: A bridge that stands either way round.
rails: [west-left, west-right, east-left, east-right, bridge-x, bridge-y]
ends:
  west: {entering: true, left: west-left, right: west-right}
  east: {entering: false, left: east-left, right: east-right}
bars: {"": [facing, turned]}
CONTACTS
routes:
  facing: {ends: [west, east], when: {"": facing}, left: [west-left, bridge-x, east-left], right: [west-right, bridge-y, east-right]}
  turned: {ends: [west, east], when: {"": turned}, left: [west-left, bridge-y, east-left], right: [west-right, bridge-x, east-right]}
"""
RING = "contacts:\n" + "".join(
    f"  - {{when: {{'': {at}}}, join: [west-{side}, {rail}]}}\n"
    for at, x, y in (("facing", "left", "right"), ("turned", "right", "left"))
    for side, rail in ((x, "bridge-x"), (y, "bridge-y"))
)
TABLE = (
    DCC
    + """use: bridge.yaml
track: {shed: {length: 1 m}, yard: {length: 1 m}, W: {kind: bridge}}
joints: [{from: shed, to: W.west}, {from: W.east, to: yard}]
"""
)


def check_table(folder, contacts, gear):
    (folder / "bridge.yaml").write_text(BRIDGE.replace("CONTACTS\n", contacts), encoding="utf-8")
    (folder / "layout.yaml").write_text(TABLE + gear, encoding="utf-8")
    report = netlister.check_file(str(folder / "layout.yaml"))
    return {(f.rule, f.subject): f.when for f in report.findings}


def test_26_a_turntable_bridge_with_fixed_feeds(tmp_path):
    """Right one way round; turned, wheels join two poles at both ends of the bridge."""
    found = check_table(tmp_path, "", "feeds: [{to: [shed, yard]}, {to: W, A: bridge-x, B: bridge-y}]\n")
    turned = ((("W", "turned"),),)
    assert found == {("gap-clash", "W"): turned, ("dead-track", "W"): turned, ("reversing-route", "W"): ((),)}


def test_26_a_turntable_bridge_on_a_reverser(tmp_path):
    gear = "reversers: {R1: {from: main, mode: automatic}}\n"
    gear += "feeds: [{to: [shed, yard]}, {to: W, from: R1, A: bridge-x, B: bridge-y}]\n"
    assert check_table(tmp_path, "", gear) == {}


def test_26_a_turntable_bridge_on_a_split_ring(tmp_path):
    assert check_table(tmp_path, RING, "feeds: [{to: [shed, yard]}]\n") == {}


# -- dead lengths

SIDING = (
    DCC
    + """track:
  line: {length: 1 m}
  road: {length: 1 m}
  spur: {length: 1 m}
  T1: {KIND, hand: right}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: road, insulate: vee}
  - {from: T1.diverging, to: spur, insulate: vee}
feeds: [{to: [line, road, spur]}]
GEAR
trains:
  four-wheel: {axles: [0 mm, 20 mm]}
  six-wheel: {axles: [0 mm, 17 mm, 34 mm], left: [1, 2], right: [2, 3]}
  mixed-engine: {axles: [0 mm, 22 mm, 44 mm, 66 mm]}
  railcar: {axles: [0 mm, 30 mm, 540 mm, 570 mm]}
"""
)


def stops(kind, gear=""):
    text = SIDING.replace("KIND", kind).replace("GEAR", gear)
    return {subject for _, subject in told(text, {"stall"})}


def test_a_plastic_frog_stops_small_engines_and_no_long_ones():
    """26 mm of plastic: 20 mm and 17 mm between the wheels that pick up are too little, 66 mm and 570 mm are not."""
    assert stops("kind: insulated-frog, jumpers: true") == {"four-wheel at T1", "six-wheel at T1"}


def test_a_live_frog_stops_nobody():
    assert stops("kind: live-frog") == set()


def test_a_metal_frog_without_a_wire_is_as_bad_as_plastic_and_with_a_contact_it_is_not():
    assert stops("kind: isolated-metal-frog, frog: dead") == {"four-wheel at T1", "six-wheel at T1"}
    contact = "{common: T1.frog, through: T1.stock-right, diverging: T1.stock-left}"
    assert (
        stops("kind: isolated-metal-frog", f"machines: {{M1: {{throws: [T1], contacts: {{f: {contact}}}}}}}") == set()
    )
    assert stops("kind: isolated-metal-frog", "frog-units: {U1: {feeds: T1.frog}}") == set()


def test_11_a_contact_that_is_open_in_one_position_stalls_there_and_only_there():
    text = SIDING.replace("KIND", "kind: isolated-metal-frog").replace(
        "GEAR", "machines: {M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-right}}}}"
    )
    assert states(text, "stall", "four-wheel at T1") == {frozenset({("M1", "diverging")})}


@pytest.mark.parametrize(("length", "stop"), [("15 mm", True), ("19 mm", True), ("20 mm", False), ("21 mm", False)])
def test_dead_lengths_of_15_mm_and_more_stop_engines_with_few_wheels(length, stop):
    """A piece of dead track as between two systems, meant so; 15 mm stop two wheels 14 mm apart, but not 20 mm."""
    text = (
        DCC
        + f"""gap: 0 mm
track: {{one: {{length: 1 m}}, dead: {{length: 15 mm}}, two: {{length: 1 m}}}}
joints: [{{from: one, to: dead, insulate: both}}, {{from: dead, to: two, insulate: both}}]
feeds: [{{to: [one, two]}}]
expect: [{{track: dead, is: dead}}]
trains: {{engine: {{axles: [0 mm, {"14 mm" if stop else length}]}}}}
"""
    )
    found = told(text, {"stall"})
    assert found == ({("stall", "engine at dead"): "warning"} if stop else {})


def test_the_gaps_at_the_ends_of_a_dead_length_count():
    """15 mm of dead track and half of each of two gaps of 2 mm outside it: 17 mm."""
    text = (
        DCC
        + """gap: 2 mm
track: {one: {length: 1 m}, dead: {length: 15 mm}, two: {length: 1 m}}
joints: [{from: one, to: dead, insulate: both}, {from: dead, to: two, insulate: both}]
feeds: [{to: [one, two]}]
expect: [{track: dead, is: dead}]
trains: {short: {axles: [0 mm, 16 mm]}, long: {axles: [0 mm, 17 mm]}}
"""
    )
    (found,) = [f for f in netlister.check_text(text).findings if f.rule == "stall"]
    assert found.subject in ("short at one/dead", "short at dead/two")  # one wheel on each of the two gaps
    assert "for 1 mm" in found.message


def test_two_dead_lengths_as_far_apart_as_the_wheels_stop_a_long_engine():
    """Plastic frogs of two turnouts toe to heel: 26 mm each, 73.5 mm of rail between them."""
    text = (
        DCC
        + """track:
  line: {length: 1 m}
  T1: {kind: insulated-frog, hand: right, jumpers: true}
  T2: {kind: insulated-frog, hand: right, jumpers: true}
  end: {length: 1 m}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.through, to: T2.toe}
  - {from: T2.through, to: end}
feeds: [{to: line}]
trains:
  hundred: {axles: [0 mm, 100 mm]}
  sixty: {axles: [0 mm, 60 mm]}
"""
    )
    found = told(text, {"stall"})
    assert set(found) == {("stall", "hundred at T1")} or set(found) == {("stall", "hundred at T2")}
    ((_, subject),) = found
    assert states(text, "stall", subject) == {frozenset({("T1", "through"), ("T2", "through")})}


def test_what_is_meant_to_be_dead_now_and_then_stops_nobody():
    """An isolating section at the buffers, and an engine that waits there."""
    text = (
        DCC
        + """track: {platform: {length: 1 m}, buffers: {length: 20 mm}}
switches: {S1: {positions: [on, off], contacts: {c: {common: buffers.left, on: main.A}}}}
joints: [{from: platform, to: buffers, insulate: left}]
feeds: [{to: platform}]
expect: [{track: buffers, is: dead, when: {S1: off}}]
trains: {engine: {axles: [0 mm, 14 mm]}}
"""
    )
    assert all_told(text) == set()


# -- parked

SWITCHED = (
    DCC
    + """track: {platform: {length: 900 mm}, buffers: {length: 300 mm}}
switches: {S1: {positions: [on, off], contacts: {rail: {common: buffers.left, on: main.A}}}}
joints: [{from: platform, to: buffers, insulate: left, id: cut}]
feeds: [{to: platform}]
expect: [{track: buffers, is: dead, when: {S1: off}}]
trains: {coach: {VALUES, parked: cut}}
"""
)


@pytest.mark.parametrize(
    ("values", "joins"),
    [
        ("axles: [0 mm, 90 mm]", True),
        ("length: 120 mm", True),
        ("axles: [0 mm, 90 mm], left: [], right: []", False),
        ("axles: [0 mm, 90 mm], left: [], right: [], conducting: [2]", True),
    ],
)
def test_31_a_vehicle_across_an_isolating_gap_switches_the_section_on_again(values, joins):
    text = SWITCHED.replace("VALUES", values)
    if not joins:
        assert told(text) == {}
        return
    assert told(text) == {("parked", "coach on buffers.left"): "warning"}
    assert states(text, "parked", "coach on buffers.left") == {frozenset({("S1", "off")})}


TWO = """format: netlister/1
supplies:
  north: {type: TYPE, voltage: 15 V}
  south: {type: dcc, voltage: 15 V}
track: {up: {length: 1 m}, down: {length: 1 m}}
joints: [{from: up, to: down, insulate: both, id: border}]
feeds: [{to: up, from: north}, {to: down, from: south}]
trains: {van: {axles: [0 mm, 60 mm], parked: border}}
"""


@pytest.mark.parametrize(("kind", "expected"), [("dcc", "warning"), ("dc", "error")])
def test_31_a_vehicle_across_a_border_between_two_supplies_joins_them(kind, expected):
    assert told(TWO.replace("TYPE", kind)) == {("parked", "van"): expected}


def test_31_across_a_gap_of_a_reversing_section_it_holds_the_reverser():
    text = loop("insulated-frog, jumpers: true", "both", "both").replace("both}\n", "both, id: in}\n", 1) + REVERSER
    text += "trains: {van: {axles: [0 mm, 60 mm], parked: in}}\n"
    assert told(text) == {("parked", "van"): "warning"}
    (found,) = netlister.check_text(text).findings
    assert "'R1' cannot change over" in found.message
