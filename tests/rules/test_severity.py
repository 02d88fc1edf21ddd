"""How bad findings are, by the reasons that the reference of the layout file gives."""

from __future__ import annotations

import pytest

import netlister

HEAD = "format: netlister/1\nsupplies: {main: {type: %s, voltage: 14 V}}\n"
SIDING = """track:
  line: {length: 1 m}
  siding: {length: 1 m}
  T1: {kind: %s, hand: right}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: siding}
feeds:
  - {to: line}
"""


def severities(text):
    return {(f.rule, f.subject): f.severity.label for f in netlister.check_text(text).findings}


@pytest.mark.parametrize(("supply", "expected"), [("dcc", "warning"), ("dc", "note")])
@pytest.mark.parametrize("kind", ["live-frog", "insulated-frog"])
def test_a_siding_fed_through_the_blades(kind, supply, expected):
    assert severities(HEAD % supply + SIDING % kind) == {("dead-track", "siding"): expected}


@pytest.mark.parametrize(("supply", "expected"), [("dcc", "warning"), ("dc", "note")])
def test_a_section_behind_an_open_hand_switch(supply, expected):
    text = (
        HEAD % supply
        + """track: {line: {length: 1 m}, end: {length: 1 m}}
switches: {S1: {positions: [on, off], contacts: {c: {common: end.left, on: line.left}}}}
joints: [{from: line, to: end, insulate: left}]
feeds: [{to: line}]
"""
    )
    assert severities(text) == {("dead-track", "end"): expected}


ROADS = """track: {lead: {}, T1: {kind: insulated-frog, hand: left, jumpers: true}, r1: {}, r2: {}}
switches: {S1: {type: rotary, positions: [p1, p2], contacts: {w: {common: main.A, p1: r1.left, p2: r2.left}}}}
joints: [{from: lead, to: T1.toe}, {from: T1.through, to: r1, insulate: left}, {from: T1.diverging, to: r2, insulate: left}]
feeds: [{to: lead}]
"""


@pytest.mark.parametrize(("supply", "expected"), [("dcc", "warning"), ("dc", "note")])
def test_a_selector_of_roads(supply, expected):
    """No throw is left out; the one that a road hangs on is open while the switch stands at another."""
    assert severities(HEAD % supply + ROADS) == {("dead-track", "r1"): expected, ("dead-track", "r2"): expected}


def test_a_throw_on_the_wrong_strip_is_no_open_contact():
    """At `rev` the contact is closed, to a strip that nothing feeds."""
    text = (
        HEAD % "dc"
        + """track: {line: {}, near: {}}
switches: {S1: {positions: [fwd, rev], contacts: {l: {common: line.left, fwd: main.A, rev: main.A}, r: {common: line.right, fwd: main.B, rev: TB9}}}}
wires: [{from: TB9, to: TB8}]
joints: [{from: near, to: line, insulate: both}]
feeds: [{to: near}]
"""
    )
    assert severities(text)["dead-track", "line"] == "error"


@pytest.mark.parametrize(("supply", "expected"), [("dcc", "warning"), ("dc", "note")])
def test_track_beyond_a_second_turnout_kept_dead_by_the_first(supply, expected):
    text = (
        HEAD % supply
        + """track:
  line: {length: 1 m}
  store: {length: 1 m}
  T1: {kind: insulated-frog, hand: left}
  T2: {kind: insulated-frog, hand: left, jumpers: true}
joints:
  - {from: line, to: T1.toe}
  - {from: T1.diverging, to: T2.toe}
  - {from: T2.through, to: store}
feeds: [{to: line}]
"""
    )
    assert severities(text) == {("dead-track", "T2"): expected, ("dead-track", "store"): expected}


@pytest.mark.parametrize("supply", ["dcc", "dc"])
def test_dead_in_every_position_is_an_error(supply):
    text = HEAD % supply + SIDING.replace("to: siding}", "to: siding, insulate: both}") % "live-frog"
    found = severities(text)
    assert found["dead-track", "siding"] == "error"
    assert found["floating-net", "siding.left"] == "error"


@pytest.mark.parametrize("supply", ["dcc", "dc"])
def test_a_frog_dead_on_one_route_that_a_train_comes_onto_from_live_track_is_an_error(supply):
    text = (
        HEAD % supply
        + SIDING.replace("to: siding}", "to: siding, insulate: vee}").replace("{to: line}", "{to: [line, siding]}")
        % "live-frog-bonded"
        + "machines: {M1: {throws: [T1], contacts: {f: {common: T1.frog, through: T1.stock-right}}}}\n"
    )
    assert severities(text) == {("dead-track", "T1"): "error"}


@pytest.mark.parametrize(("option", "expected"), [("", "warning"), (", frog: dead", "note")])
def test_an_isolated_frog_without_a_wire_is_no_worse_than_its_floating_net(option, expected):
    text = HEAD % "dcc" + (SIDING % "isolated-metal-frog").replace("hand: right", f"hand: right{option}")
    assert severities(text) == {("floating-net", "T1.frog"): expected, ("dead-track", "T1"): expected}
